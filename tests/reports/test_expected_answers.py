"""Failures, jobs and stock, on the demo and on workshops that lack something."""

import json
import shutil
from dataclasses import replace
from pathlib import Path

import polars as pl
import pytest

from wornby.cli import main
from wornby.decisions.renewed_early import EARLY
from wornby.histories.watching import episodes
from wornby.reports.answer import ALL
from wornby.reports.comparison_answers import grade_answer
from wornby.reports.expected_answers import expected_answer
from wornby.reports.forecasts import forecast
from wornby.reports.stock_answers import stock_answer
from wornby.reports.workshop import Workshop

DEMO = Path(__file__).parents[2] / "data_demo"


def changed(to: Path, old: str, new: str) -> Path:
    folder = shutil.copytree(DEMO, to / "changed", ignore=shutil.ignore_patterns("truth"))
    text = (folder / "workshop.toml").read_text()
    assert old in text
    (folder / "workshop.toml").write_text(text.replace(old, new, 1))
    return folder


def test_more_months_bring_more_failures_jobs_and_parts(demo: Workshop) -> None:
    frames = [expected_answer(demo, months=m).frame.sort("component") for m in (3, 6, 12)]
    for column in ("expected_failures", "expected_jobs", "expected_parts"):
        few, some, many = (frame[column].to_numpy() for frame in frames)
        assert (few < some).all()
        assert (some < many).all()


def test_parts_renewed_as_a_precaution_are_not_expected_to_fail(demo: Workshop) -> None:
    """The same records, had nobody renewed a working part: the belt is renewed when it is due."""
    early = pl.col("ending").is_in(EARLY)
    kept = demo.episodes.table.with_columns(
        ending=pl.when(early).then(pl.lit("in service")).otherwise("ending")
    )
    patient = replace(demo, episodes=replace(demo.episodes, table=kept))
    belt, resistor = (demo.catalogue.component(n) for n in ("timing belt", "blower resistor"))
    less, more = (
        [forecast(w, c, horizon_years=1.0).failures.mean for c in (belt, resistor)]
        for w in (demo, patient)
    )
    assert less[0] < 0.9 * more[0]
    assert 0.9 * more[1] < less[1] <= more[1]


def test_jobs_are_no_more_than_parts_and_no_fewer_than_nothing(demo: Workshop) -> None:
    frame = expected_answer(demo).frame
    assert (frame["expected_jobs"] <= frame["expected_parts"] + 1e-9).all()
    assert (frame["expected_parts"] >= frame["expected_failures"]).all()
    bush = frame.row(by_predicate=pl.col("component") == "anti-roll bar bush", named=True)
    assert bush["expected_jobs"] < bush["expected_parts"]


def test_other_horizons_are_refused(demo: Workshop) -> None:
    with pytest.raises(ValueError, match="4 months: wanted 3, 6 or 12"):
        expected_answer(demo, months=4)


def test_the_stock_keeps_its_service_level_and_prices_keeping_none(demo: Workshop) -> None:
    frame = stock_answer(demo).frame
    parts = frame.filter(pl.col("component") != ALL)
    assert (parts["service_level_in_stock_chance"] >= 0.95).all()
    assert (parts["least_cost_per_year_net"] <= parts["none_cost_per_year_net"] + 1e-9).all()
    assert (
        parts["least_cost_per_year_net"] <= parts["service_level_cost_per_year_net"] + 1e-9
    ).all()
    total = frame.row(by_predicate=pl.col("component") == ALL, named=True)
    assert total["least_cost"] == parts["least_cost"].sum()


def test_the_parts_of_all_grades_used_a_year_are_those_expected(demo: Workshop) -> None:
    used = stock_answer(demo).frame.group_by("component").agg(pl.col("demand_per_year").sum())
    both = expected_answer(demo).frame.join(used, on="component")
    assert both.height == len(demo.catalogue.components) + 1
    assert both["demand_per_year"].to_list() == pytest.approx(both["expected_parts"].to_list())


def test_the_shelf_says_which_of_its_grades_fail_sooner(demo: Workshop) -> None:
    """As the letter's table of grades says; the demo's truth has aftermarket parts fail sooner."""
    stock, grades = stock_answer(demo), grade_answer(demo).people
    verdict = pl.col("against the others").str.starts_with("fails sooner")
    sooner = {f"{row['component']}, {row['grade']}" for row in grades.filter(verdict).to_dicts()}
    kept = stock.frame.with_columns(part=pl.format("{}, {}", "component", "grade"))
    assert set(kept.filter("fails_sooner")["part"]) == sooner & set(kept["part"])
    assert sooner & set(kept["part"])
    told = stock.people.filter(pl.col("part, grade") == "timing belt, aftermarket")["beware"].item()
    assert told == "fails sooner: keep another grade"
    assert kept.filter(part="timing belt, aftermarket")["how_sure"].item() == "beyond doubt"
    assert stock.people["beware"].to_list().count("") == kept.height - kept["fails_sooner"].sum()


def test_the_shelf_is_told_where_grades_cannot_be_compared(demo: Workshop) -> None:
    """Kaplan-Meier takes no failures within bounds, as of a rule that sets them between visits."""
    bounds = replace(demo.episodes.rule, failed_since="the visit before")
    stock = stock_answer(replace(demo, episodes=episodes(demo.histories, bounds)))
    assert not stock.frame["fails_sooner"].any()
    assert any("Not known whether a grade fails sooner" in note for note in stock.notes)


def test_without_a_stock_table_nothing_is_assumed(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    text = (DEMO / "workshop.toml").read_text()
    table = text[text.index("[stock]") : text.index("\n\n", text.index("[stock]"))]
    folder = changed(tmp_path, table, "")
    assert main(["expect", str(folder), "--by", "stock"]) == 1
    assert "workshop.toml: no [stock]; add lead_time_days" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("service_level = 0.95", "service_level = 1.0", "service_level = 1.0: wanted above 0"),
        ("aftermarket = 1}", "aftermarket = 0}", "lead_time_days.aftermarket = 0"),
        ("aftermarket = 1}", "gold = 1}", "no part grade 'gold'"),
        ("stock_out_cost_net = 65.0\n", "", "no 'stock_out_cost_net'; add it"),
    ],
)
def test_what_the_stock_table_gets_wrong_is_named(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, old: str, new: str, said: str
) -> None:
    assert main(["expect", str(changed(tmp_path, old, new)), "--by", "stock"]) == 1
    assert said in capsys.readouterr().err


def test_months_and_stock_are_asked_for_by_name(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["expect", str(DEMO), "--months", "3", "--json"]) == 0
    (answer,) = json.loads(capsys.readouterr().out)
    assert answer["rows"][0]["months"] == 3
    assert main(["expect", str(DEMO), "--by", "month", "--months", "3"]) == 1
    assert "months are the next twelve" in capsys.readouterr().err
    assert main(["expect", str(DEMO), "--by", "month"]) == 0
    assert capsys.readouterr().out.count(" 2025 ") == 12
    assert main(["expect", str(DEMO), "--by", "stock"]) == 0
    assert "a year if none is kept" in capsys.readouterr().out
    assert main(["expect", str(DEMO), "--by", "stock", "--months", "3"]) == 1
    assert "--months goes with --by failure" in capsys.readouterr().err
