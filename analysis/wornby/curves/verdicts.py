"""Which curve fits: rivals by AIC, a test of the Weibull, and a verdict on a stated scale."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from wornby.curves.contrasts import holm
from wornby.curves.goodness_of_fit import TWO_PARAMETER, p_value
from wornby.curves.parametric import check_enough
from wornby.curves.rival_table import rivals
from wornby.errors import EstimateError
from wornby.histories.counts import Counts

WEIBULL_NAME = "Weibull"
FAR_BEHIND = 4.0
"""A curve whose AIC is so much higher has considerably less support (Burnham & Anderson 2002,
section 2.6: 4 to 7)."""
FEWEST_SETS = 399


@dataclass(frozen=True, eq=False, slots=True)
class Fit:
    """One component's rivals and the test of its Weibull.

    `table` is that of `rivals`. `p_values` has the curves that were tested; `held` is the
    Weibull's p-value held to account for the tests of the other components. `verdict` is empty
    where `reason` says why there is none.
    """

    counts: Counts
    table: pl.DataFrame
    p_values: Mapping[str, float]
    held: float | None
    verdict: str
    reason: str

    @property
    def weibull_fits(self) -> bool | None:
        """Whether the Weibull stands; None without a verdict."""
        return self.verdict.startswith(f"{WEIBULL_NAME} fits") if self.verdict else None


def sets_for(n_components: int, level: float) -> int:
    """How many simulated sets: so many that the least p-value stays below the strictest level."""
    return max(FEWEST_SETS, int(np.ceil(2 * n_components / level)) - 1)


def fit_verdicts(
    counts: Mapping[str, Counts],
    *,
    level: float,
    n: int,
    rng_of: Callable[[str], np.random.Generator],
    rejected_only: bool = False,
) -> dict[str, Fit]:
    """A verdict for each component; the Weibull's tests are held to account together (Holm 1979).

    - "Weibull fits": not rejected at `level`, and no two-parameter curve is far ahead by AIC.
    - "Weibull fits, but X is ahead": not rejected, and X is more than `FAR_BEHIND` better.
    - "another two-parameter curve fits better: X": rejected, where X is not.
    - "no two-parameter curve fits": Weibull, lognormal and log-logistic are all rejected.

    With `rejected_only` rivals are sought only where the Weibull is rejected, of two parameters
    then, and no verdict says that one is ahead; p-values are the same.
    One that cannot be judged has a `reason` in place of a verdict.

    >>> from wornby.curves.bearings import BEARINGS
    >>> found = fit_verdicts(
    ...     {"bearing": BEARINGS}, level=0.05, n=39, rng_of=lambda name: np.random.default_rng(1)
    ... )
    >>> found["bearing"].verdict, found["bearing"].table["curve"][0]
    ('Weibull fits', 'gamma')
    """
    found = {
        name: _tested(one, n=n, rng=rng_of(name), alone=rejected_only)
        for name, one in counts.items()
    }
    tested = [name for name, fit in found.items() if not fit.reason]
    held = holm([found[name].p_values[WEIBULL_NAME] for name in tested])
    for name, p in zip(tested, held, strict=True):
        found[name] = _judged(found[name], p, level=level, n=n, rng=rng_of(f"{name}, others"))
    return found


def p_values_of(
    counts: Counts, names: Iterable[str], *, n: int, rng: np.random.Generator
) -> dict[str, float]:
    """The p-value of each named curve that can be tested against Kaplan-Meier.

    EstimateError: failures within bounds, or no curve.
    """
    families = {name: TWO_PARAMETER[name] for name in names if name in TWO_PARAMETER}
    return {name: p_value(family, counts, rng=rng, n=n)[1] for name, family in families.items()}


def _tested(counts: Counts, *, n: int, rng: np.random.Generator, alone: bool) -> Fit:
    """The Weibull's p-value, or why there is none, with its rivals unless it stands alone."""
    table = pl.DataFrame()
    try:
        if alone:
            check_enough(counts)
            p_values = p_values_of(counts, [WEIBULL_NAME], n=n, rng=rng)
            return Fit(counts, table, p_values, None, "", "")
        table, curves = rivals(counts)
        p_values = p_values_of(counts, {WEIBULL_NAME} & set(curves), n=n, rng=rng)
    except EstimateError as error:
        return Fit(counts, table, {}, None, "", str(error))
    reason = "" if p_values else table.filter(curve=WEIBULL_NAME)["reason"].item()
    return Fit(counts, table, p_values, None, "", reason)


def _judged(fit: Fit, held: float, *, level: float, n: int, rng: np.random.Generator) -> Fit:
    """The verdict; the other curves are tested only where the Weibull is rejected."""
    if held > level and fit.table.is_empty():
        return replace(fit, held=held, verdict=f"{WEIBULL_NAME} fits")
    table = rivals(fit.counts, only_two=True)[0] if fit.table.is_empty() else fit.table
    two = table.filter(pl.col("parameters") == 2)
    if held > level:
        behind = two.filter(curve=WEIBULL_NAME)["aic"].item() - two["aic"][0]
        ahead = f", but {two['curve'][0]} is ahead" if behind > FAR_BEHIND else ""
        return replace(fit, held=held, verdict=f"{WEIBULL_NAME} fits{ahead}")
    others = [name for name in two["curve"].to_list() if name != WEIBULL_NAME]
    more = p_values_of(fit.counts, others, n=n, rng=rng)
    standing = [name for name in others if more.get(name, 0.0) > level]
    verdict = (
        f"another two-parameter curve fits better: {standing[0]}"
        if standing
        else "no two-parameter curve fits"
    )
    return replace(fit, p_values={**fit.p_values, **more}, held=held, verdict=verdict)
