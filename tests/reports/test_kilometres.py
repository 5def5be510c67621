"""A workshop that reckons in kilometres: the same lives in its own unit, and no mile said."""

import re
from dataclasses import replace
from datetime import date
from pathlib import Path
from shutil import copytree, ignore_patterns

import polars as pl
import pytest

import wornby
from wornby.errors import RecordError
from wornby.records.catalogue_file import read_catalogue
from wornby.records.conventions import day_text, month_text
from wornby.reports.answer import Answer
from wornby.reports.club import open_club
from wornby.reports.workshop import Workshop, pace_of, workshop_of

DEMO = Path(__file__).parents[2] / "data_demo"
KM = 1.609344
"""International yard and pound agreement, 1959: a mile is 1,609.344 metres."""
ENOUGH = 20


@pytest.fixture(scope="module")
def metric(demo: Workshop) -> Workshop:
    """The demo workshop, had it written distances_in = "kilometres"."""
    catalogue = replace(demo.catalogue, distances_in="kilometres", date_format="year-month-day")
    return workshop_of(
        replace(demo.records, catalogue=catalogue), confidence=demo.confidence, seed=demo.seed
    )


def by_distance(answer: Answer, unit: str) -> pl.DataFrame:
    return answer.frame.filter(pl.col("unit") == unit).sort("component")


def test_a_life_in_kilometres_is_the_life_in_miles(demo: Workshop, metric: Workshop) -> None:
    ours = by_distance(wornby.life_answer(metric), "kilometres")
    theirs = by_distance(wornby.life_answer(demo), "miles")
    assert ours["component"].to_list() == theirs["component"].to_list()
    assert ours.height == 4
    fitted = ours["failures"] >= ENOUGH
    for name in ("b10_value", "b10_lower", "b10_upper"):
        ratio = (ours[name] / theirs[name]).filter(fitted)
        assert ratio.to_list() == pytest.approx([KM] * ratio.len(), rel=1e-4)
    chance = ("chance_12_months_value", "chance_12_months_lower", "chance_12_months_upper")
    for name in chance:
        assert ours[name].to_list() == pytest.approx(theirs[name].to_list(), rel=1e-3)


def test_lives_by_age_and_what_is_advised_stay_as_they_are(
    demo: Workshop, metric: Workshop
) -> None:
    ours, theirs = (by_distance(wornby.life_answer(one), "years") for one in (metric, demo))
    assert ours.equals(theirs)
    paces = [pace_of(one).miles_per_year for one in (demo, metric)]
    assert paces[0] == paces[1]
    advised, as_was = (wornby.renewal_age_answer(one).frame for one in (metric, demo))
    assert advised["renew_at_years"].to_list() == pytest.approx(
        as_was["renew_at_years"].to_list(), rel=0.02
    )


ANSWERS = (
    "life_answer", "weibull_answer", "renewed_life_answer", "scale_answer", "distance_doubt_answer",
    "pace_answer", "interval_answer", "band_answer", "ending_answer", "effect_answer",
    "version_answer", "rule_answer", "renewal_age_answer", "policy_answer", "stock_answer",
)  # fmt: skip


@pytest.mark.parametrize("name", ANSWERS)
def test_no_answer_speaks_of_miles(metric: Workshop, name: str) -> None:
    answer = getattr(wornby, name)(metric)
    told = [repr(answer), answer.as_json(), answer._repr_html_()]
    assert not [text for text in told if re.search(r"(?i)\bmiles?\b|_mi\b", text)]


def test_an_odometer_is_read_as_the_workshop_reckons(demo: Workshop, metric: Workshop) -> None:
    asked = {"age_years": 14.0, "registration": None, "horizon_years": 3.0}
    ours, theirs = (
        wornby.vehicle_asked_about(one, odometer=shown, **asked)
        for one, shown in ((metric, 168_981.12), (demo, 105_000.0))
    )
    assert ours.pace.miles_per_year == pytest.approx(theirs.pace.miles_per_year)
    assert "does 12,100 kilometres a year" in ours.sentence()
    assert "does 7,500 miles a year" in theirs.sentence()


def test_a_club_may_ask_in_kilometres(tmp_path: Path) -> None:
    copytree(DEMO, tmp_path, dirs_exist_ok=True, ignore=ignore_patterns(".*", "truth"))
    told = (DEMO / "workshop.toml").read_text(encoding="utf-8")
    metric = told.replace('distances_in = "miles"', 'distances_in = "kilometres"')
    (tmp_path / "workshop.toml").write_text(metric, encoding="utf-8")
    shares = [
        wornby.club_share_answer(
            open_club(folder, confidence=0.9, seed=1), age_years=12.0, distance=far
        )
        for folder, far in ((tmp_path, 160_934.4), (DEMO, 100_000.0))
    ]
    ours, theirs = (one.frame.filter(pl.col("unit") != "years") for one in shares)
    assert set(ours["unit"]) == {"kilometres"}
    assert "160,934.4 kilometres" in repr(shares[0])
    assert "mile" not in repr(shares[0])
    for name in ("weibull_value", "weibull_lower", "weibull_upper"):
        assert ours[name].to_list() == pytest.approx(theirs[name].to_list(), abs=0.011)


@pytest.mark.parametrize(
    ("wanted", "day", "month"),
    [
        ("day month year", "5 March 2024", "March 2024"),
        ("month day year", "March 5, 2024", "March 2024"),
        ("day/month/year", "05/03/2024", "03/2024"),
        ("month/day/year", "03/05/2024", "03/2024"),
        ("year-month-day", "2024-03-05", "2024-03"),
    ],
)
def test_days_are_written_as_the_workshop_writes_them(wanted: str, day: str, month: str) -> None:
    assert day_text(date(2024, 3, 5), wanted) == day
    assert month_text(date(2024, 3, 5), wanted) == month


def test_what_comes_month_by_month_is_dated_as_the_workshop_writes(metric: Workshop) -> None:
    months = wornby.month_answer(metric)
    assert months.people["month from"][0] == "2025-01-01"
    assert "in the month from 2025-01-01" in wornby.draw_demand(months).alt


@pytest.mark.parametrize(
    ("name", "wrong", "said"),
    [
        ("distances_in", "furlongs", "use miles or kilometres"),
        ("date_format", "dd.mm.yy", "use day month year or month day year"),
    ],
)
def test_a_unit_or_format_that_is_none_is_refused_by_name(
    tmp_path: Path, name: str, wrong: str, said: str
) -> None:
    told = (DEMO / "workshop.toml").read_text(encoding="utf-8")
    path = tmp_path / "workshop.toml"
    path.write_text(re.sub(rf"(?m)^{name} = .*$", f'{name} = "{wrong}"', told), "utf-8")
    with pytest.raises(RecordError, match=rf"\[workshop\]: {name} = '{wrong}'; {said}"):
        read_catalogue(path)
