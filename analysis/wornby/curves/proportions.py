"""A share of so many: limits that stay honest when it is small, or when nothing was seen."""

from dataclasses import dataclass

import numpy as np
from scipy.stats import beta

from wornby.curves.bands import check_confidence, normal_root
from wornby.curves.uncertainty import Estimate


@dataclass(frozen=True, slots=True)
class Share:
    """`seen` out of `total`, with its limits by three methods.

    ValueError: more seen than there are, or none to see.

    >>> share = Share(0, 20)
    >>> round(share.exact(confidence=0.95).upper, 4), round(share.highest(confidence=0.95), 4)
    (0.1684, 0.1391)
    """

    seen: float
    total: float

    def __post_init__(self) -> None:
        """Refuse more seen than there are."""
        if not 0 <= self.seen <= self.total or self.total <= 0:
            raise ValueError(f"{self.seen} of {self.total}: wanted 0 to the total, above 0")

    def wilson(self, *, confidence: float) -> Estimate:
        """Score limits (Wilson 1927): near the stated confidence on average."""
        check_confidence(confidence)
        root, n, share = normal_root(confidence), self.total, self.seen / self.total
        middle = (share + root**2 / (2 * n)) / (1 + root**2 / n)
        reach = root / (1 + root**2 / n) * np.sqrt(share * (1 - share) / n + root**2 / (4 * n**2))
        lower, upper = max(0.0, float(middle - reach)), min(1.0, float(middle + reach))
        return Estimate(share, lower, upper, confidence, "share")

    def exact(self, *, confidence: float) -> Estimate:
        """Binomial limits (Clopper & Pearson 1934): never below the stated confidence."""
        check_confidence(confidence)
        tail, missed = (1 - confidence) / 2, self.total - self.seen
        lower = beta.ppf(tail, self.seen, missed + 1) if self.seen else 0.0
        upper = beta.ppf(1 - tail, self.seen + 1, missed) if missed else 1.0
        return Estimate(self.seen / self.total, float(lower), float(upper), confidence, "share")

    def wald(self, *, confidence: float) -> Estimate:
        """Normal limits, shown for contrast only: too short when the share is small."""
        check_confidence(confidence)
        share = self.seen / self.total
        reach = normal_root(confidence) * np.sqrt(share * (1 - share) / self.total)
        return Estimate(share, float(share - reach), float(share + reach), confidence, "share")

    def highest(self, *, confidence: float) -> float:
        """One-sided exact upper limit: 1 - (1 - confidence)^(1/n) when none was seen."""
        check_confidence(confidence)
        missed = self.total - self.seen
        return float(beta.ppf(confidence, self.seen + 1, missed)) if missed else 1.0


def rule_of_three(total: float) -> float:
    """About the 95 % upper limit of a share of which none was seen (Hanley & Lippman-Hand 1983).

    ValueError: a total of nought or less.

    >>> rule_of_three(30)
    0.1
    """
    if not total > 0:
        raise ValueError(f"none of {total}: wanted a total above 0")
    return 3 / total
