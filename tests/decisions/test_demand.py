"""Parts and jobs to come, against hand and simulation."""

from pathlib import Path

import numpy as np
import pytest
from drawn import workshop_folder
from scipy import stats

from wornby.decisions.demand import (
    PastRenewals,
    evenly_within,
    jobs_to_come,
    parts_to_fit,
    past_renewals,
    share_of,
)
from wornby.decisions.expected import ExpectedFailures, counted
from wornby.records.reading import read_records

NOTHING = counted(np.ones(1), n_parts=10, confidence=0.9)


def binomial(n: int, chance: float) -> ExpectedFailures:
    return counted(stats.binom.pmf(np.arange(n + 1), n, chance), n_parts=n, confidence=0.9)


def test_what_comes_besides_goes_on_at_its_rate() -> None:
    past = PastRenewals(parts=30, visits=30, besides=12, years=3.0, by_grade={})
    told = parts_to_fit(NOTHING, past, horizon_years=0.5)
    assert told.mean == pytest.approx(12.5 / 3 * 0.5)


def test_failures_and_the_rest_add_up_like_a_simulation_of_both() -> None:
    past = PastRenewals(parts=30, visits=30, besides=12, years=3.0, by_grade={})
    told = parts_to_fit(binomial(40, 0.2), past, horizon_years=1.0)
    rng = np.random.default_rng(1)
    rest = rng.poisson(rng.gamma(12.5, size=100_000) / 3)
    counts = rng.binomial(40, 0.2, 100_000) + rest
    assert told.mean == pytest.approx(counts.mean(), rel=0.01)
    assert [told.lower, told.upper] == pytest.approx(np.quantile(counts, [0.05, 0.95]), abs=1)
    assert told.chances.sum() == pytest.approx(1)


def test_a_share_is_a_beta_binomial_of_the_whole() -> None:
    told = share_of(binomial(40, 0.5), taken=6, others=18)
    rng = np.random.default_rng(2)
    counts = rng.binomial(rng.binomial(40, 0.5, 200_000), rng.beta(6.5, 18.5, 200_000))
    assert told.mean == pytest.approx(20 * 6.5 / 25)
    assert np.arange(len(told.chances)) ** 2 @ told.chances == pytest.approx(
        (counts**2).mean(), rel=0.01
    )


def test_the_shares_of_all_ways_add_up_to_the_whole() -> None:
    """Dirichlet by Jeffreys' prior: a half for each of three ways, by hand."""
    taken = (3, 2, 2)
    told = [share_of(binomial(40, 0.1), taken=n, others=7 - n, ways=3).mean for n in taken]
    assert told == pytest.approx([4 * (n + 0.5) / 8.5 for n in taken])
    assert sum(told) == pytest.approx(4)
    assert share_of(binomial(40, 0.1), taken=7, others=0, ways=1).mean == pytest.approx(4)


def test_a_count_spread_over_a_year_falls_into_a_part_of_it_by_that_share() -> None:
    """A Poisson count thinned is Poisson (from memory: any text on the Poisson process)."""
    year = counted(stats.poisson.pmf(np.arange(60), 12.0), n_parts=60, confidence=0.9)
    told = evenly_within(year, time_share=5 / 365.25).chances
    few = stats.poisson.pmf(np.arange(len(told)), 12.0 * 5 / 365.25)
    assert told == pytest.approx(few, abs=1e-9)
    assert evenly_within(year, time_share=1.0).mean == pytest.approx(12.0)
    with pytest.raises(ValueError, match=r"time_share is 1\.5"):
        evenly_within(year, time_share=1.5)


def test_two_parts_on_one_visit_are_one_job() -> None:
    """Common practice, no source: two pipes of one design are mostly renewed together."""
    parts = binomial(40, 0.25)
    apart = PastRenewals(parts=20, visits=20, besides=0, years=3.0, by_grade={})
    pairs = PastRenewals(parts=200, visits=100, besides=0, years=3.0, by_grade={})
    assert jobs_to_come(parts, apart) is parts
    assert jobs_to_come(parts, pairs).mean == pytest.approx(5, abs=0.02)


def test_past_renewals_tell_failures_of_known_vehicles_from_the_rest(tmp_path: Path) -> None:
    folder = workshop_folder(
        tmp_path,
        jobs="""
        date       | vehicle | odometer | text
        2015-01-01 | V1      | 80000    | water pump leaking, renewed
        2018-06-01 | V1      | 95000    | oil service
        2018-09-01 | V2      | 60000    | water pump leaking, renewed, genuine
        2019-03-01 | V1      | 99000    | water pump leaking, renewed, genuine
        2020-03-01 | V2      | 70000    | water pump renewed as a precaution, pattern
        """,
        vehicles="vehicle | first_registered\nV1 | 2005-01-01\nV2 | 2008-01-01",
    )
    past = past_renewals(read_records(folder), "water pump", years=3)
    # of three fitted since 2018, one failed on a vehicle known before; 2015 is too long ago
    assert (past.parts, past.visits, past.besides, past.years) == (3, 3, 2, 3.0)
    assert past.by_grade == {"aftermarket": 1, "genuine": 2}
