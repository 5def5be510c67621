"""Whether remembered years and distances heap on round ones more than chance would have it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.stats import binomtest

SURE = 0.01
"""Heaping is taken as there when so few tests of unheaped answers would find as much."""
ROUND_YEARS = 5
ROUND_DISTANCES = ((5_000, 1_000), (10_000, 5_000))
"""Rounds of distances, and the steps among which they are looked for."""


@dataclass(frozen=True, slots=True)
class Heaping:
    """How often round numbers were named, against how often they would be by chance.

    `index` is 100 where they are named as often as others, and more where they heap
    (Whipple's index); `p_value` is that of a binomial test against heaping, one-sided.
    """

    what: str
    round_to: int
    named: int
    round_ones: int
    index: float | None
    p_value: float

    @property
    def found(self) -> bool:
        """Whether answers at round numbers must be taken as rounded."""
        return self.p_value < SURE


def heaping(
    what: str, named: Sequence[int], *, round_to: int, step: int, latest: int | None = None
) -> Heaping:
    """Test numbers named in whole steps for heaping on multiples of `round_to`.

    Each multiple is weighed against the steps nearest to it, half a round either side, so that
    a rise or fall over the years does not count as heaping; rounds that reach beyond `latest`
    are left out. A round of two steps has no middle: there, multiples are weighed against all.

    >>> told = heaping("years", [2010] * 9 + [2009, 2011, 2012], round_to=5, step=1)
    >>> told.index, told.found
    (375.0, True)
    """
    numbers: NDArray[np.int64] = np.asarray(named, dtype=np.int64)
    numbers = numbers[numbers % step == 0]
    steps = round_to // step
    nearest = round_to * np.floor_divide(numbers + round_to // 2, round_to)
    if latest is not None:
        numbers = numbers[nearest + step * (steps // 2) <= latest]
    n, hits = int(numbers.size), int((numbers % round_to == 0).sum())
    p_value = binomtest(hits, n, 1 / steps, alternative="greater").pvalue if n else 1.0
    index = 100 * hits * steps / n if n else None
    return Heaping(what, round_to, n, hits, index, float(p_value))


def survey_heaping(renewals: pl.DataFrame, *, latest: int) -> tuple[Heaping, ...]:
    """The tests of all years and distances named, those said with "about" by themselves.

    `renewals` has the columns of `component_answers.RENEWAL`; `latest` is the year of the answers.
    """
    tests = []
    for about, said in ((False, "told plainly"), (True, 'told with "about"')):
        years = renewals.filter(about=about)["named"].drop_nulls().to_list()
        tests.append(heaping(f"years {said}", years, round_to=ROUND_YEARS, step=1, latest=latest))
        miles = renewals.filter(distance_about=about)["distance_named"].drop_nulls().to_list()
        for round_to, step in ROUND_DISTANCES:
            tests.append(heaping(f"distances {said}", miles, round_to=round_to, step=step))
    return tuple(tests)


def heaped_half(tests: Sequence[Heaping], *, distance: bool) -> pl.Expr:
    """Half of the round to which a named year or distance may have been heaped; 0 where none.

    In years, or in the unit in which the distance was named.
    """
    prefix, what = ("distance_", "distances") if distance else ("", "years")
    named, about = pl.col(f"{prefix}named"), pl.col(f"{prefix}about")
    halves = [
        pl.when((about == ("about" in test.what)) & (named % test.round_to == 0))
        .then(pl.lit(float(test.round_to // 2)))
        .otherwise(0.0)
        for test in tests
        if test.found and test.what.startswith(what)
    ]
    return pl.max_horizontal(*halves, pl.lit(0.0))
