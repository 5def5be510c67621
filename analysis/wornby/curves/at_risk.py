"""Who was at risk when: failures and the number watched at each age, under a stated early rule.

At risk over (entry, exit]: a failure counts those with entry < age <= exit. With delayed entry
the first risk sets can be tiny, and one failure among one watched life would end the curve for
good. An early rule says from which age the curve begins; before it, nothing is claimed.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from wornby.curves.log_ages import Array, merged, without_rounding
from wornby.errors import EstimateError
from wornby.histories.counts import Counts


@dataclass(frozen=True, eq=False, slots=True)
class RiskSets:
    """Distinct failure ages with the failures at each and the number at risk."""

    age: Array
    failures: Array
    at_risk: Array


def check_exact(counts: Counts) -> None:
    """Refuse, with an EstimateError, failures known within bounds only and counts without lives."""
    _, lower, upper, _ = counts.columns()
    if not counts.table.height:
        raise EstimateError(f"{counts.what}: no lives to follow")
    if n_bounded := int((np.isfinite(upper) & (upper > lower)).sum()):
        raise EstimateError(
            f"{counts.what}: {n_bounded} failures known only within bounds, wanted exact ages:"
            " use turnbull"
        )


def number_at_risk(counts: Counts, ages: Array) -> Array:
    """How many lives were watched just before each age."""
    entry, lower, _, count = counts.columns()
    entered, left = merged(entry, count), merged(lower, count)
    before_entry = np.append(0.0, np.cumsum(entered[1]))[np.searchsorted(entered[0], ages)]
    before_exit = np.append(0.0, np.cumsum(left[1]))[np.searchsorted(left[0], ages)]
    return without_rounding(before_entry - before_exit, count)


def risk_sets(counts: Counts) -> RiskSets:
    """Failures and the number at risk at every age at which something failed.

    EstimateError as `check_exact`.
    """
    check_exact(counts)
    _, lower, upper, count = counts.columns()
    failed = lower == upper
    age, failures = merged(lower[failed], count[failed])
    left = without_rounding(number_at_risk(counts, age) - failures, count)
    return RiskSets(age, failures, failures + left)


def from_first_watched(_counts: Counts, _sets: RiskSets) -> float:
    """Every failure counts, though the curve may end at an early one."""
    return 0.0


def after_collapse(_counts: Counts, sets: RiskSets) -> float:
    """Where all at risk failed and others followed, the stretch with most failures is kept.

    The curve begins after the collapse before that stretch: at nought where there is none.
    """
    collapsed = sets.failures >= sets.at_risk
    stretch = np.append(0, np.cumsum(collapsed)[:-1])
    fullest = int(np.argmax(np.bincount(stretch, sets.failures))) if sets.age.size else 0
    return float(sets.age[collapsed][fullest - 1]) if fullest else 0.0


def from_number_at_risk(least: int) -> Callable[[Counts, RiskSets], float]:
    """The curve begins where the number at risk first reaches `least`.

    The rule raises EstimateError where so many never were.
    """

    def rule(counts: Counts, _sets: RiskSets) -> float:
        entries = np.unique(counts.columns()[0])
        watched = number_at_risk(counts, np.nextafter(entries, np.inf))
        if not (watched >= least).any():
            raise EstimateError(
                f"{counts.what}: at most {watched.max():g} at risk at once, wanted {least}"
            )
        return float(entries[np.argmax(watched >= least)])

    return rule


EARLY_RULES: dict[str, Callable[[Counts, RiskSets], float]] = {
    "from the first watched": from_first_watched,
    "after a collapse": after_collapse,
    "from five at risk": from_number_at_risk(5),
    "from twenty at risk": from_number_at_risk(20),
}


def beginning(
    counts: Counts, sets: RiskSets, *, early_rule: str, begins_at: float | None
) -> tuple[float, str]:
    """The age at which a curve begins, by choice or by a named early rule, and a note if not 0.

    ValueError: no such rule, or no such age. EstimateError: the rule's number was never at risk.
    """
    if early_rule not in EARLY_RULES:
        raise ValueError(f"early rule {early_rule!r}: wanted one of {', '.join(EARLY_RULES)}")
    if begins_at is not None and not 0 <= begins_at < np.inf:
        raise ValueError(f"the curve begins at {begins_at}: wanted an age of 0 or more")
    begins = EARLY_RULES[early_rule](counts, sets) if begins_at is None else begins_at
    why = early_rule if begins_at is None else "as asked"
    note = f"{why}: survival is given that {begins:g} {counts.unit} were reached" if begins else ""
    return begins, note


def risk_sets_from(sets: RiskSets, begins_at: float) -> RiskSets:
    """The failures after the age at which the curve begins."""
    later = sets.age > begins_at
    return RiskSets(sets.age[later], sets.failures[later], sets.at_risk[later])
