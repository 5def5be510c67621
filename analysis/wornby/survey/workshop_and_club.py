"""A workshop's records and a club's answers of the same component: do they tell of one life?"""

from dataclasses import dataclass

import polars as pl

from wornby.curves.parametric import WeibullCurve, weibull
from wornby.errors import EstimateError
from wornby.histories.counts import Counts, count_episodes
from wornby.histories.watching import Episodes
from wornby.survey.lives_alike import one_life

FEWEST_FAILURES = 5.0
"""Renewals that each source must tell of before the two are compared."""


@dataclass(frozen=True, eq=False, slots=True)
class TwoSources:
    """The Weibull of each source, the test whether one fits both, and that one where it does.

    `statistic` is twice the log-likelihood that two curves gain over one, `p_value` that of chi-
    square with two degrees of freedom; empty where `reason` says why they cannot be compared.
    `together` is None unless they were found compatible.
    """

    workshop: WeibullCurve | None
    club: WeibullCurve | None
    statistic: float | None
    p_value: float | None
    together: WeibullCurve | None
    reason: str

    @property
    def compatible(self) -> bool | None:
        """Whether one curve fits both; None where they cannot be compared."""
        return None if self.p_value is None else self.together is not None


def two_sources(workshop: Counts, club: Counts, *, level: float) -> TwoSources:
    """Test for one common Weibull by `one_life`, and fit it where that is not rejected.

    The club's counts come scaled to their effective number. Compatible above
    `level`: a low one pools more. ValueError: units that differ, or a level that is none.

    >>> def lives(ages: list[float]) -> Counts:
    ...     table = pl.DataFrame({"entry": 0.0, "lower": ages, "upper": ages, "count": 1.0})
    ...     return Counts(table, unit="years", what="water pump", rule="as watched")
    >>> early, late = lives([4.0, 5.0, 6.0, 7.0, 9.0]), lives([9.0, 11.0, 12.0, 14.0, 15.0])
    >>> same = two_sources(early, lives([4.5, 5.5, 6.5, 7.5, 8.0]), level=0.1)
    >>> same.compatible, two_sources(early, late, level=0.1).compatible
    (True, False)
    """
    if workshop.unit != club.unit:
        raise ValueError(f"counts in {workshop.unit} and in {club.unit}: wanted one unit")
    if not 0 < level < 1:
        raise ValueError(f"level {level:g}: wanted between 0 and 1")
    told: dict[str, WeibullCurve | None] = {}
    reasons = []
    for name, counts in (("the workshop's records", workshop), ("the club's answers", club)):
        told[name], reason = _fitted(counts, name)
        reasons += [reason] if reason else []
    ours, theirs = told.values()
    if ours is None or theirs is None:
        return TwoSources(ours, theirs, None, None, None, "; ".join(reasons))
    test = one_life([ours, theirs])
    together = test.together if test.p_value > level else None
    return TwoSources(ours, theirs, test.statistic, test.p_value, together, "")


def _fitted(counts: Counts, name: str) -> tuple[WeibullCurve | None, str]:
    if counts.n_failures < FEWEST_FAILURES:
        return None, f"too few renewals in {name}"
    try:
        return weibull(counts), ""
    except EstimateError as error:
        return None, f"{name}: {error}"


def first_of_vehicle(made: Episodes, component: str, *, unit: str, n_places: int) -> Counts:
    """A workshop's lives as an owner would tell of them: until the first of the places is renewed.

    An owner asked of a bush that sits left and right calls it renewed when either was. Vehicles
    count of which every place was watched from its original part; watching begins when the last
    of them was seen, and ends when the first was renewed or lost from sight. EstimateError: none.
    """
    original = made.table.filter(pl.col("component") == component, pl.col("origin") == "original")
    order = ["vehicle", "exit_days", "failed"]
    end = original.sort(order, descending=[False, False, True])
    starts = [pl.col(name).max() for name in ("entry_days", "entry_mi")]
    first = end.group_by("vehicle", maintain_order=True).agg(
        *starts,
        pl.col("failed", "exit_days", "exit_mi", "sound_days", "sound_mi").first(),
        places=pl.col("position").n_unique(),
        weight=pl.lit(1.0),
    )
    begun = pl.col("exit_days") > pl.col("entry_days")
    whole = first.filter((pl.col("places") >= n_places) & begun)
    if whole.is_empty():
        raise EstimateError(f"{component}: no vehicle watched with all its originals")
    what = f"{component} (original, in the workshop)"
    counts = count_episodes(whole, unit=unit, what=what, rule=made.rule.sentence())
    if not counts.table.height:
        raise EstimateError(f"{component}: no {unit} watched")
    return counts
