"""The demo's known truth, recovered from its records through every stage.

The truth is the generator's own (data_demo/truth), which no stage reads.
"""

from pathlib import Path

import polars as pl
import pytest

from wornby.curves.parametric import weibull
from wornby.curves.profile import scale_interval, shape_interval
from wornby.histories.counts import count_episodes
from wornby.histories.fitments import histories
from wornby.histories.observation import WORKSHOP
from wornby.histories.watching import Episodes, episodes
from wornby.records.reading import Records, read_records

DEMO = Path(__file__).parents[1] / "data_demo"
LIVES = pl.read_csv(DEMO / "truth" / "lives.csv").filter(pl.col("origin") == "original")
ENOUGH = 20
LINE = ["file", "row", "component"]


@pytest.fixture(scope="module")
def records() -> Records:
    """The demo's records."""
    return read_records(DEMO)


@pytest.fixture(scope="module")
def watched(records: Records) -> Episodes:
    """Its episodes under the default rule."""
    return episodes(histories(records), WORKSHOP)


@pytest.fixture(scope="module")
def labels(records: Records) -> pl.DataFrame:
    """What each accepted line says, as the generator wrote it."""
    told = pl.read_csv(DEMO / "truth" / "labels.csv", infer_schema_length=None)
    return told.filter(pl.col("component").is_not_null()).join(
        records.problems, on=["file", "row"], how="anti"
    )


@pytest.mark.parametrize("truth", LIVES.to_dicts(), ids=lambda truth: truth["component"])
def test_shape_and_scale_lie_within_their_99_percent_intervals(
    watched: Episodes, truth: dict[str, float | str]
) -> None:
    lives = watched.table.filter(
        (pl.col("component") == truth["component"]) & (pl.col("origin") == "original")
    )
    counts = count_episodes(
        lives, unit="years" if truth["scale"] == "age" else "miles", what="", rule=""
    )
    if counts.n_failures < ENOUGH:
        assert truth["component"] in {"heater valve", "timing belt"}
        return
    curve = weibull(counts)
    for interval, known in (
        (shape_interval(curve, confidence=0.99), truth["shape"]),
        (scale_interval(curve, confidence=0.99), truth["scale_value"]),
    ):
        assert interval.lower is not None
        assert interval.upper is not None
        assert interval.lower <= float(known) <= interval.upper


def test_components_are_named_with_precision_and_recall_above_97_percent(
    records: Records, labels: pl.DataFrame
) -> None:
    named = records.mentions.select(LINE).unique()
    right = named.join(labels.select(LINE).unique(), on=LINE, how="semi").height
    assert right / named.height > 0.97
    assert right / labels.select(LINE).n_unique() > 0.97


def test_actions_reasons_and_grades_are_right_on_97_percent_of_the_named_lines(
    records: Records, labels: pl.DataFrame
) -> None:
    told = records.mentions.with_columns(pl.col("seen").fill_null("none")).unique(LINE)
    both = told.join(labels.unique(LINE), on=LINE, suffix="_true")
    assert both.select((pl.col("seen") == pl.col("action")).mean()).item() > 0.97
    renewed = both.filter((pl.col("seen") == "renewed") & (pl.col("action") == "renewed"))
    assert renewed.select((pl.col("grade") == pl.col("grade_true")).mean()).item() > 0.97
    assert renewed.select((pl.col("reason") == pl.col("reason_true")).mean()).item() > 0.97


def test_the_ledgers_balance_from_the_files_to_the_episodes(
    records: Records, watched: Episodes
) -> None:
    lines = sum(
        len((DEMO / name).read_bytes().splitlines()) - 1
        for name in ("job_lines_2013_2018.csv", "job_lines_2019_2024.csv")
    )
    jobs = next(ledger for ledger in records.ledgers if ledger.what == "job lines")
    assert jobs.n_read == lines
    assert watched.table["weight"].sum() == pytest.approx(watched.ledger.n_accepted)
    for ledger in (*records.ledgers, watched.ledger):
        gone = sum(ledger.set_aside.values()) + sum(ledger.rejected.values())
        assert ledger.n_read == ledger.n_accepted + gone
