"""A club's versions: told apart only where they differ by more than chance."""

from pathlib import Path

import polars as pl
import pytest
from survey.told import told_survey

from wornby.errors import EstimateError
from wornby.reports.answer import Answer
from wornby.reports.club import Club, open_club
from wornby.reports.club_letter import club_method
from wornby.reports.club_version_answers import club_version_answer
from wornby.reports.sentences import Sentences
from wornby.reports.spreadsheets import exported

DEMO = Path(__file__).parents[2] / "data_demo"
HEAD = "who | year | water pump | water pump, when | thermostat | thermostat, when"


def drawn_club(folder: Path, *, later_by: int, long: int = 40) -> Club:
    """Forty short vans whose pumps last 3 to 6 years, and long ones whose pumps last longer.

    One pump in four is still the original. All thermostats last alike.
    """
    rows, bodies = [], []
    for body, number, later in (("short", 40, 0), ("long", long, later_by)):
        for n in range(number):
            year = 2006 + n % 4
            pump = "original |" if n % 4 == 0 else f"renewed once | {year + 3 + n % 4 + later}"
            stat = "original |" if n % 4 == 1 else f"renewed once | {year + 3 + n % 5}"
            rows.append(f"{body}{n} | {year} | {pump} | {stat}")
            bodies.append(body)
    told_survey(folder, members="\n".join([HEAD, *rows]))
    people = pl.read_csv(folder / "survey.csv", infer_schema=False)
    people.with_columns(pl.Series("body", bodies)).write_csv(folder / "survey.csv")
    vans = [f"{year},{body},2020,100" for year in range(2006, 2010) for body in ("short", "long")]
    (folder / "population.csv").write_text("\n".join(["year,body,counted,vans", *vans]))
    return open_club(folder, confidence=0.90, seed=1)


def test_a_version_that_lasts_longer_is_told_and_no_component_else(tmp_path: Path) -> None:
    answer = club_version_answer(drawn_club(tmp_path, later_by=5))

    assert isinstance(answer, Answer)
    assert answer.people["component"].to_list() == ["water pump"]
    life = {row["version"]: row for row in answer.frame.to_dicts()}
    assert life["short"]["b10_upper"] < life["long"]["b10_lower"]
    assert "enough to compare versions for 2 of 2 components" in answer.notes[0]
    texts = {name for name, kind in exported(answer).schema.items() if kind == pl.String}
    assert texts <= {"component", "version", "unit", "reason"}
    assert "p_value" not in answer.frame.columns


def test_versions_that_last_alike_get_one_sentence_and_no_table(tmp_path: Path) -> None:
    told = club_version_answer(drawn_club(tmp_path, later_by=0))

    assert isinstance(told, Sentences)
    (sentence,) = told.sentences
    assert "no difference between versions that chance would not explain" in sentence
    assert "2 of 2 components" in sentence


def test_the_demo_whose_versions_are_made_alike_tells_no_story() -> None:
    club = open_club(DEMO, confidence=0.90, seed=1)
    told = club_version_answer(club)

    assert isinstance(told, Sentences)
    assert "for 4 of 14 components" in told.sentences[0]
    assert any("Holm 1979" in sentence for sentence in club_method(club).sentences)


def test_one_version_with_answers_enough_is_compared_with_nothing(tmp_path: Path) -> None:
    """Of the long ones nine: fewer than a finding may stand on."""
    with pytest.raises(EstimateError, match="no component has answers enough in two versions"):
        club_version_answer(drawn_club(tmp_path, later_by=5, long=9))
