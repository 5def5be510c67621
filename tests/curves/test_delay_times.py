"""The delay time against integrals done by brute force, and on worlds whose truth is known."""

from itertools import pairwise

import numpy as np
import polars as pl
import pytest
from scipy.integrate import quad

from wornby.curves.delay_times import DelayTime, _spans, delay_time, log_likelihood
from wornby.errors import EstimateError
from wornby.histories.counts import DAYS_PER_YEAR
from wornby.tables import LOOKED_AT

SHAPE, SCALE, MEAN, DETECTION = 3.0, 12.0, 0.7, 0.4


def parts(*rows: tuple[int, int, list[int], int | None, bool]) -> pl.DataFrame:
    columns = ["entry_days", "exit_days", "look_days", "degraded_days", "failed"]
    table = pl.DataFrame(rows, schema=columns, orient="row")
    return LOOKED_AT.shape(
        table.with_columns(vehicle=pl.lit("v"), position=pl.lit(""), weight=pl.lit(1.0))
    )


def by_hand(entry: int, exit_: int, looks: list[int], degraded: int | None, failed: bool) -> float:
    """Integrate over the day the defect came, look by look."""
    at_entry, end = entry / DAYS_PER_YEAR, exit_ / DAYS_PER_YEAR

    def defect(u: float) -> float:
        hazard = (u / SCALE) ** SHAPE
        return float(SHAPE / SCALE * (u / SCALE) ** (SHAPE - 1) * np.exp(-hazard))

    def missed(u: float, until: int) -> float:
        return (1 - DETECTION) ** sum(u <= look / DAYS_PER_YEAR for look in looks if look <= until)

    saw_nothing = degraded is None and not failed
    last = exit_ if saw_nothing else exit_ - 1
    edges = sorted({0.0, end, *(d / DAYS_PER_YEAR for d in looks if d < exit_)})
    shown = sum(
        quad(lambda u: defect(u) * missed(u, last) * np.exp(-(end - u) / MEAN), a, b)[0]
        for a, b in pairwise(edges)
    )
    own = shown / MEAN if failed else shown
    if saw_nothing:
        own += np.exp(-((end / SCALE) ** SHAPE))
    first = quad(lambda u: defect(u) * np.exp(-(at_entry - u) / MEAN), 0, at_entry)[0]
    kept = 1 - DETECTION if entry in looks else 1.0
    return float(np.log(own) - np.log(np.exp(-((at_entry / SCALE) ** SHAPE)) + kept * first))


@pytest.mark.parametrize(
    "row",
    [
        (2000, 3900, [2000, 2400, 2800, 3300, 3700], None, True),
        (2000, 3700, [2000, 2400, 2800, 3300, 3700], 3700, False),
        (2000, 3700, [2000, 2400, 2800, 3300, 3700], None, False),
        (1500, 3000, [2400], None, False),
        (0, 4000, [], None, True),
        (0, 2600, [2600], None, True),
    ],
)
def test_the_likelihood_is_the_integral_over_the_day_the_defect_came(
    row: tuple[int, int, list[int], int | None, bool],
) -> None:
    # computed by scipy's adaptive quadrature, piece by piece
    ours = log_likelihood(_spans(parts(row), DETECTION), np.log([SHAPE, SCALE, MEAN]))
    assert ours == pytest.approx(by_hand(*row), abs=1e-6)


def looked_after(n: int, *, mean: float, detection: float, seed: int) -> pl.DataFrame:
    """Parts of one workshop: Weibull lives, a last stretch in which they show, yearly looks."""
    rng = np.random.default_rng(seed)
    rows = []
    for entry in rng.uniform(2, 12, n):
        life = 16 * rng.weibull(4.0)
        shows = life - min(rng.exponential(mean), life)
        if life <= entry:
            continue
        looks, seen, now, stop = [], None, entry, entry + rng.exponential(6)
        while now < min(life, stop) and seen is None:
            looks.append(round(now * DAYS_PER_YEAR))
            seen = looks[-1] if shows <= now and rng.random() < detection else None
            now += rng.uniform(0.8, 1.2)
        end = looks[-1] if seen is not None else round(min(life, stop) * DAYS_PER_YEAR)
        if end > looks[0]:
            rows.append((looks[0], end, looks, seen, seen is None and life <= stop))
    return parts(*rows)


def fitted(n: int, *, mean: float, detection: float, stated: float, seed: int) -> DelayTime:
    looked = looked_after(n, mean=mean, detection=detection, seed=seed)
    rng = np.random.default_rng(seed)
    return delay_time(looked, detection=stated, what="pipe", n=1000, rng=rng)


def test_the_true_delay_lies_within_its_limits_about_as_often_as_said() -> None:
    told = [
        fitted(600, mean=0.5, detection=0.5, stated=0.5, seed=s).mean(confidence=0.9)
        for s in range(8)
    ]
    within = sum(t.lower < 0.5 < t.upper for t in told if t.lower and t.upper)
    # 8 worlds at 90 %: fewer than 5 within would come once in 200 (binomial, by hand)
    assert within >= 5
    assert np.mean([np.log((t.value or 0) / 0.5) for t in told]) == pytest.approx(0, abs=0.15)


def test_more_vehicles_leave_less_open() -> None:
    few, many = (
        fitted(n, mean=0.5, detection=0.5, stated=0.5, seed=3).mean(confidence=0.9)
        for n in (150, 1200)
    )
    assert (few.upper or 0) / (few.lower or 1) > 1.5 * (many.upper or 0) / (many.lower or 1)


def test_looks_taken_for_better_than_they_are_make_the_delay_too_short() -> None:
    right, too_good = (
        np.median(fitted(1000, mean=0.8, detection=0.3, stated=r, seed=5).mean_years)
        for r in (0.3, 0.9)
    )
    assert too_good < 0.7 * right


def test_a_degraded_finding_leads_the_failure_by_months() -> None:
    # common practice, no source: reservoirs crack and discolour before they leak
    delay = fitted(600, mean=0.5, detection=0.5, stated=0.5, seed=8).mean(confidence=0.9)
    assert (delay.lower or 0) > 2 / 12


def test_without_a_degraded_finding_no_delay_is_told() -> None:
    with pytest.raises(EstimateError, match="pump: none of 1 was found degraded"):
        delay_time(
            parts((0, 4000, [], None, True)),
            detection=0.5,
            what="pump",
            n=10,
            rng=np.random.default_rng(1),
        )


def test_a_look_that_sees_nothing_is_no_look() -> None:
    with pytest.raises(ValueError, match="detection is 0, wanted above 0"):
        delay_time(
            parts((0, 4000, [], 4000, False)),
            detection=0,
            what="pump",
            n=10,
            rng=np.random.default_rng(1),
        )
