"""Curves side by side with lifelines in one run, as ratios; run by `make bench`.

Each comparison also asserts that the answers agree. lifelines is timed on a part where the whole
would take minutes, and scaled by what its own cost grows with.
"""

from time import perf_counter

import numpy as np
import polars as pl
import pytest
from lifelines import CoxPHFitter, KaplanMeierFitter, WeibullFitter

from wornby.curves.bootstrap import weibull_bootstrap
from wornby.curves.intervals import turnbull
from wornby.curves.marginals import count_ages
from wornby.curves.parametric import weibull
from wornby.curves.proportional_hazards import cox
from wornby.curves.vehicles import counts_by_vehicle
from wornby.histories.counts import Counts


def late_lives(n: int, rng: np.random.Generator) -> pl.DataFrame:
    """Episodes in whole days: shape 2.5, scale 12 years, watched up to six years from an age."""
    entry = rng.integers(0, 8 * 365, n)
    life = np.ceil(12 * 365 * (rng.exponential(size=n) + (entry / 4380) ** 2.5) ** 0.4).astype(int)
    end = np.minimum(np.maximum(life, entry + 1), entry + rng.integers(365, 6 * 365, n))
    return pl.DataFrame(
        {
            "entry_days": entry,
            "sound_days": end,
            "exit_days": end,
            "failed": np.maximum(life, entry + 1) <= end,
            "weight": 1.0,
        }
    )


def test_a_million_episodes() -> None:
    """Bar: 20 times faster, the reduction to counts included."""
    episodes = late_lives(1_000_000, np.random.default_rng(1))
    begun = perf_counter()
    counts = count_ages(episodes, what="seal", rule="as watched")
    curve = weibull(counts)
    ours = perf_counter() - begun
    entry, end = (episodes[c].to_numpy() / 365.25 for c in ("entry_days", "exit_days"))
    begun = perf_counter()
    theirs = WeibullFitter().fit(end, episodes["failed"].to_numpy(), entry=entry)
    lifelines = perf_counter() - begun
    print(f"Weibull, 10^6: {ours:.2f} s, lifelines {lifelines:.1f} s, x {lifelines / ours:.0f}")
    assert curve.shape == pytest.approx(theirs.rho_, rel=1e-4)
    assert curve.scale == pytest.approx(theirs.lambda_, rel=1e-4)
    assert lifelines / ours > 20


def test_a_thousand_refits_of_two_hundred_vehicles() -> None:
    """Bar: 1,000 times faster; lifelines is timed on twenty of the resamples."""
    frame = late_lives(200, np.random.default_rng(2)).select(
        vehicle=pl.int_range(pl.len()),
        entry=pl.col("entry_days") / 365.25,
        lower=pl.col("exit_days") / 365.25,
        upper=pl.when("failed").then(pl.col("exit_days") / 365.25).otherwise(float("inf")),
        count=pl.lit(1.0),
    )
    by = counts_by_vehicle(frame, unit="years", what="seal", rule="as watched")
    times = []
    for _ in range(5):
        begun = perf_counter()
        found = weibull_bootstrap(by, rng=np.random.default_rng(4), n=1000)
        times.append(perf_counter() - begun)
    ours = min(times)
    entry, lower, upper, _ = by.counts.columns()
    weights = by.resampled(np.random.default_rng(4), 1000)[:20]
    begun = perf_counter()
    theirs = [
        WeibullFitter()
        .fit(lower[w > 0], np.isfinite(upper[w > 0]), entry=entry[w > 0], weights=w[w > 0])
        .rho_
        for w in weights
    ]
    lifelines = (perf_counter() - begun) * 50
    print(f"1,000 refits: {ours:.3f} s, lifelines {lifelines:.0f} s, x {lifelines / ours:.0f}")
    assert found.draws.shape[:20] == pytest.approx(np.array(theirs), rel=1e-3)
    assert lifelines / ours > 1000


def looked_at(n: int, rng: np.random.Generator) -> Counts:
    """Distinct continuous intervals, a third of them open."""
    life, stop = 10 * rng.weibull(2, n), rng.uniform(3, 25, n)
    looks = np.concatenate([np.zeros((n, 1)), rng.exponential(1, (n, 80)).cumsum(1)], axis=1)
    last = (looks <= np.minimum(life, stop)[:, None]).sum(1) - 1
    rows = np.arange(n)
    lower, upper = looks[rows, last], looks[rows, last + 1]
    upper = np.where(upper > stop, np.inf, upper)
    table = pl.DataFrame({"entry": 0.0, "lower": lower, "upper": upper, "count": 1.0})
    return Counts(table, unit="years", what="hose", rule="as watched")


def test_turnbull_with_five_and_twenty_thousand_intervals() -> None:
    """Bar: 100 times faster at 5,000, 20,000 in seconds, optimal to 1e-6."""
    counts = looked_at(5000, np.random.default_rng(5))
    begun = perf_counter()
    curve = turnbull(counts)
    ours = perf_counter() - begun
    _, lower, upper, _ = counts.columns()
    begun = perf_counter()
    theirs = KaplanMeierFitter().fit_interval_censoring(lower + 1e-9, upper)
    lifelines = perf_counter() - begun
    print(f"Turnbull, 5,000: {ours:.3f} s, lifelines {lifelines:.1f} s, x {lifelines / ours:.0f}")
    ages = np.linspace(1, 15, 15)
    early, late = curve.survival_early(ages), curve.survival(ages)
    steps = theirs.survival_function_.iloc[:, 0]
    middle = steps.to_numpy()[np.searchsorted(steps.index.to_numpy(), ages, side="right") - 1]
    assert (middle > early - 0.02).all()
    assert (middle < late + 0.02).all()
    assert curve.violation < 1e-6
    assert lifelines / ours > 100

    begun = perf_counter()
    large = turnbull(looked_at(20_000, np.random.default_rng(6)))
    print(f"Turnbull, 20,000: {perf_counter() - begun:.2f} s, violation {large.violation:.1g}")
    assert perf_counter() - begun < 5
    assert large.violation < 1e-6


def test_cox_with_delayed_entry() -> None:
    """lifelines grows with the square of the rows; at 4,000 rows already far slower."""
    rng = np.random.default_rng(7)
    lives = late_lives(4000, rng)
    frame = lives.select(
        vehicle=pl.int_range(pl.len()) // 2,
        entry=pl.col("entry_days").cast(pl.Float64),
        lower=pl.col("exit_days").cast(pl.Float64),
        upper=pl.when("failed").then(pl.col("exit_days").cast(pl.Float64)).otherwise(float("inf")),
        count=pl.lit(1.0),
        use=pl.Series(rng.normal(size=lives.height)),
    )
    begun = perf_counter()
    fit = cox(frame, ["use"], confidence=0.9)
    ours = perf_counter() - begun
    table = frame.select("entry", "lower", "use", failed=pl.col("upper").is_finite().cast(pl.Int64))
    begun = perf_counter()
    theirs = CoxPHFitter().fit(table.to_pandas(), "lower", "failed", entry_col="entry")
    lifelines = perf_counter() - begun
    print(f"Cox, 4,000 rows: {ours:.3f} s, lifelines {lifelines:.2f} s, x {lifelines / ours:.0f}")
    assert fit.table["ratio"][0] == pytest.approx(np.exp(theirs.params_["use"]), rel=1e-4)
    assert lifelines > ours
