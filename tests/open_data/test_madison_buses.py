"""Real buses, real engine replacements, through wornby's own loaders.

Data: Madison Metropolitan Bus Company, 1974-1985; J. Rust, Econometrica 55 (1987), by way of
the public repository OpenSourceEconomics/zurcher-data. A replacement is the foreman's decision,
not always a failure. Scale: distance by the odometer that the record of the replacement states.
"""

import polars as pl
import pytest
from open_data.where import open_folder

from wornby.curves.nonparametric import kaplan_meier
from wornby.curves.parametric import weibull
from wornby.curves.profile import b_life
from wornby.histories.counts import Counts, count_episodes
from wornby.histories.fitments import histories
from wornby.histories.observation import OPERATOR
from wornby.histories.watching import Episodes, episodes
from wornby.records.reading import Records, read_records


@pytest.fixture(scope="module")
def buses(tmp_path_factory: pytest.TempPathFactory) -> tuple[Records, Episodes]:
    """The records, and the episodes under the operator's rule."""
    records = read_records(open_folder("madison_buses", tmp_path_factory.mktemp("buses")))
    return records, episodes(histories(records), OPERATOR)


def on_distance(made: Episodes) -> Counts:
    """Lives of the engines of Rust's groups 1-8; four buses are outside his groups."""
    grouped = made.table.filter(pl.col("version") != "0")
    return count_episodes(grouped, unit="miles", what="engine", rule=made.rule.sentence())


def test_every_row_is_accounted_for(buses: tuple[Records, Episodes]) -> None:
    records, made = buses
    vehicles, jobs, readings = records.ledgers
    assert (vehicles.n_read, vehicles.n_accepted) == (166, 166)
    assert jobs.n_read == 166 + 166 + 15_964
    assert jobs.set_aside == {"belongs to another table": 2 * 166 - 124}
    assert (readings.n_accepted, readings.set_aside) == (15_964, {})
    assert made.ledger.n_read == 166 + 124


def test_odometer_at_replacement_is_that_of_table_iia(buses: tuple[Records, Episodes]) -> None:
    """Means and standard deviations by group, printed in the source repository's README and
    said there to replicate Rust (1987), table IIa: distance since the last replacement.
    """
    _, made = buses
    printed = {
        "3": (27, 199_733, 37_459),
        "4": (33, 257_336, 65_477),
        "5": (11, 245_290, 60_257),
        "6": (7, 150_785, 61_006),
        "7": (27, 208_962, 48_980),
        "8": (19, 186_700, 43_956),
    }
    told = (
        made.table.filter("failed")
        .group_by("version")
        .agg(n=pl.len(), mean=pl.col("exit_mi").mean(), std_dev=pl.col("exit_mi").std())
    )
    found = {r["version"]: (r["n"], int(r["mean"]), int(r["std_dev"])) for r in told.to_dicts()}
    assert found == printed


def test_lives_with_delayed_entry_are_those_of_r(buses: tuple[Records, Episodes]) -> None:
    """R's survival package on the same data (computed, not published)."""
    counts = on_distance(buses[1])
    curve, km = weibull(counts), kaplan_meier(counts, confidence=0.95)
    assert curve.scale == pytest.approx(263_250, abs=0.5)
    assert curve.shape == pytest.approx(3.793, abs=5e-4)
    assert float(km.survival(200_000)) == pytest.approx(0.6743, abs=5e-5)
    assert km.median.value == 234_800


def test_lives_as_if_watched_from_new_are_those_of_r(buses: tuple[Records, Episodes]) -> None:
    """R's survival package, delayed entry ignored (computed, not published)."""
    counts = on_distance(buses[1])
    naive = Counts(
        counts.table.with_columns(entry=pl.lit(0.0)), counts.unit, counts.what, "from new"
    )
    curve, km = weibull(naive), kaplan_meier(naive, confidence=0.95)
    assert curve.scale == pytest.approx(265_678, abs=1)
    assert curve.shape == pytest.approx(3.935, abs=5e-4)
    assert float(km.survival(200_000)) == pytest.approx(0.6922, abs=5e-5)
    assert km.median.value == 235_400


def test_lifelines_agrees_with_delayed_entry(buses: tuple[Records, Episodes]) -> None:
    from lifelines import WeibullFitter

    counts = on_distance(buses[1])
    entry, lower, upper, count = counts.columns()
    fitter = WeibullFitter().fit(lower, lower == upper, entry=entry, weights=count)
    curve = weibull(counts)
    assert curve.scale == pytest.approx(fitter.lambda_, rel=1e-4)
    assert curve.shape == pytest.approx(fitter.rho_, rel=1e-4)


def test_b10_life_comes_with_its_interval(buses: tuple[Records, Episodes]) -> None:
    b10 = b_life(weibull(on_distance(buses[1])), 0.10, confidence=0.90)
    assert b10.value is not None
    assert b10.lower is not None
    assert b10.upper is not None
    assert 130_000 < b10.lower < b10.value < b10.upper < 160_000
