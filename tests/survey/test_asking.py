"""The ready sheet, filled as members would, is read back with every row accounted for."""

from pathlib import Path
from typing import Any

import openpyxl
import pytest
from survey.folders import LAYOUT
from survey.told import WORKSHOP

from wornby.cli import main
from wornby.errors import RecordError
from wornby.survey.answers import Survey, read_survey
from wornby.survey.asking import write_questions
from wornby.survey.lives import survey_lives
from wornby.survey.questions import COMPONENT_QUESTIONS, vehicle_questions
from wornby.survey.survey_rules import CLUB
from wornby.survey.told_states import read_grade, read_reason, read_share, read_state

DEMO = Path(__file__).parents[2] / "data_demo"
FILLED = (
    # year, version, registered, odometer, bought, answered, share, then six for each of two parts
    (2007, "long", "06/2007", 84000, "03/2012", "31/12/2024", "yes",
     "renewed once", "about 2019", "80-90k", None, "failed", "genuine",
     "still original", None, None, None, None, None),
    (2009, "short", "2009", "91,500", "new", "31/12/2024", "no",
     "renewed twice", "2015", "61000", "spring 2022", "worn", "aftermarket",
     "renewed once", "before I had it", None, None, "don't know", "don't know"),
    (None,) * 19,
    (2008, "long", None, "84k", None, "2024-12-31", None,
     "don't know", None, None, None, None, None,
     "renewed three times or more", "2012", None, "2023 at 140k", "as a precaution", "used"),
    ("2008 or so", "long", None, 70000, None, "31/12/2024", "yes",
     "still original", None, None, None, None, None, None, None, None, None, None, None),
    (2010, "short", "01/2010", 99000, "2016", "31/12/2024", "yes",
     "renewed once", "no idea", "when it broke", None, "it sang", "the dear one",
     "not fitted", None, None, None, None, None),
)  # fmt: skip


def filled(folder: Path, rows: tuple[tuple[Any, ...], ...] = FILLED, name: str = "") -> Path:
    """The written sheet with members' answers typed in, saved as a copy where named."""
    book = openpyxl.load_workbook(folder / "questions.xlsx")
    for r, row in enumerate(rows, start=2):
        for c, cell in enumerate(row, start=1):
            book["Answers"].cell(r, c, cell)
    book.save(folder / (name or "questions.xlsx"))
    return folder


@pytest.fixture
def asked(tmp_path: Path) -> Path:
    """A club's questions on two parts."""
    (tmp_path / "workshop.toml").write_text(WORKSHOP)
    to = tmp_path / "out"
    write_questions(tmp_path, to, components=("water pump", "timing belt"))
    return to


def test_the_filled_sheet_is_read_without_further_work(asked: Path) -> None:
    survey = read_survey(filled(asked))
    fates = {ledger.what: ledger for ledger in survey.ledgers}
    answers = fates["survey answers"]
    assert (answers.n_read, answers.n_accepted) == (6, 4)
    assert (answers.set_aside, answers.rejected) == ({"empty row": 1}, {"no model year": 1})
    assert survey.answers.select("model_year", "version", "odometer_mi", "share").rows() == [
        (2007, "long", 84_000.0, "yes"),
        (2009, "short", 91_500.0, "no"),
        (2008, "long", 84_000.0, None),
        (2010, "short", 99_000.0, "yes"),
    ]
    assert fates["happy to share"].set_aside == {
        "asked not to be shown alone": 1,
        "did not say whether it may be shown alone": 1,
    }
    told = fates["component answers"]
    assert told.n_read == 12
    assert told.set_aside == {
        "empty row": 2,
        "respondent's own answer not used": 2,
        "don't know": 1,
        "not fitted to the vehicle": 1,
    }


def renewals(survey: Survey, respondent: str) -> list[tuple[Any, ...]]:
    """What one respondent told of renewals."""
    assert survey.components is not None
    rows = survey.components.renewals.filter(respondent=respondent, state="renewed")
    return rows.select(
        "component", "times", "why", "grade", "named", "about", "distance_low", "distance_high"
    ).rows()


def test_what_members_tell_of_a_part_is_understood(asked: Path) -> None:
    survey = read_survey(filled(asked))
    assert renewals(survey, "1") == [
        ("water pump", 1, "failure", "genuine", 2019, True, 80_000.0, 90_000.0)
    ]
    assert renewals(survey, "2")[:2] == [
        ("water pump", 2, "failure", "aftermarket", 2015, False, 60_500.0, 61_500.0),
        ("water pump", 2, "failure", "aftermarket", None, False, None, None),
    ]
    assert renewals(survey, "3")[1][:3] == ("timing belt", 3, "precaution")
    assert survey.components is not None
    assert survey.components.unread["column"].to_list() == ["distance"]
    lives = survey_lives(survey, rule=CLUB)
    assert lives.told.select("component", "answers", "renewed").rows() == [
        ("timing belt", 3, 2),
        ("water pump", 4, 3),
    ]


def test_copies_that_come_back_are_read_together_and_the_empty_one_does_no_harm(
    asked: Path,
) -> None:
    filled(asked, FILLED[:1], "questions from the meeting.xlsx")
    filled(asked, FILLED[1:2], "questions (2).xlsx")
    assert read_survey(asked).answers.height == 2


def test_a_forms_export_with_numbered_questions_is_read_by_the_same_layout(asked: Path) -> None:
    book = openpyxl.load_workbook(filled(asked) / "questions.xlsx")
    lines = [
        ["" if cell is None else str(cell) for cell in row]
        for row in book["Answers"].iter_rows(values_only=True)
    ]
    lines[0] = [f"Q{n}. {words}" for n, words in enumerate(lines[0], start=1)]
    quoted = ["\t".join(row) for row in lines]
    (asked / "export.csv").write_text("\n".join(quoted), encoding="utf-16")
    layout = (asked / "layout.toml").read_text()
    (asked / "layout.toml").write_text(layout.replace('"questions*.xlsx"', '"export.csv"'))
    assert renewals(read_survey(asked), "1")[0][0] == "water pump"


def test_every_choice_offered_is_one_that_is_understood() -> None:
    by_column = {
        q.column: q
        for q in (*vehicle_questions((), unit="mi", day_order="day first"), *COMPONENT_QUESTIONS)
    }
    states = [read_state(choice) for choice in by_column["state"].choices]
    assert None not in states
    assert {s.state for s in states if s} == {"original", "renewed", "don't know", "not fitted"}
    assert [s.times for s in states if s] == [0, 1, 2, 3, None, None]
    assert [read_share(c) for c in by_column["share"].choices] == ["yes", "no"]
    assert [read_reason(c) for c in by_column["reason"].choices] == [
        "failure", "failure", "precaution", "unknown",
    ]  # fmt: skip
    grades = by_column["grade"].choices
    assert [read_grade(c) for c in grades] == [*grades[:-1], "unknown"]


def test_the_sheet_offers_lists_keeps_its_header_and_leaves_dates_as_typed(asked: Path) -> None:
    book = openpyxl.load_workbook(asked / "questions.xlsx")
    sheet = book["Answers"]
    assert sheet.freeze_panes == "A2"
    assert sheet.max_column == 7 + 2 * 6
    assert sheet.max_row == 1
    assert book["Lists"].sheet_state == "hidden"
    assert book.active.title == "Answers"
    rules = {str(rule.sqref): rule for rule in sheet.data_validations.dataValidation}
    lists = [rule.formula1 for rule in rules.values() if rule.type == "list"]
    assert len(lists) == 1 + 2 * 3
    (column,) = [c for c in book["Lists"].iter_cols(values_only=True) if "renewed once" in c]
    assert column[:2] == ("still original", "renewed once")
    assert sheet.column_dimensions["A"].min == 1
    assert "How to fill it in" in book.sheetnames


def test_the_demo_club_asks_by_the_command_and_never_overwrites(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    to = tmp_path / "questions"
    asked = ["ask", str(DEMO), "--to", str(to)]
    assert main(asked) == 0
    assert "questions.xlsx" in capsys.readouterr().out
    text = (to / "questions.md").read_text()
    assert "The water pump: is it still the original?" in text
    assert "Please answer even if nothing ever went wrong" in text
    assert (to / "population.csv").is_file()
    assert main(asked) == 1
    assert "is there already and may hold answers" in capsys.readouterr().err
    assert main(["read", str(to)]) == 1
    assert "has a header but no rows; fill it" in capsys.readouterr().err


def test_the_demo_clubs_answers_typed_into_its_sheet_give_the_same_table(tmp_path: Path) -> None:
    """130 answers of the demo, typed into the sheet that wornby writes for it."""
    to = tmp_path / "questions"
    write_questions(DEMO, to)
    answers = (DEMO / "survey.csv").read_text().splitlines()
    import csv

    rows = list(csv.DictReader(answers))
    names = [name for name in rows[0] if name not in SURVEYED and not name.endswith(", when")]
    states = {"original": "still original", "renewed": "renewed", "don't know": "don't know"}
    typed = tuple(
        (int(r["model_year"]), r["version"], None, int(r["odometer_mi"]), None, "31/12/2024", "no",
         *(cell for name in names
           for cell in (states.get(r[name]), r[f"{name}, when"] or None, None, None, None, None)))
        for r in rows
    )  # fmt: skip
    filled(to, typed)
    ours, theirs = read_survey(to), read_survey(DEMO)
    assert ours.answers.drop("share").equals(theirs.answers.drop("share"))
    one, other = (survey_lives(s, rule=CLUB).told for s in (ours, theirs))
    columns = ["component", "answers", "renewed", "original", "unsure"]
    assert one.select(columns).rows() == other.select(columns).rows()


SURVEYED = ("respondent", "model_year", "version", "odometer_mi")


def test_an_unknown_component_is_named_with_those_there_are(tmp_path: Path) -> None:
    (tmp_path / "workshop.toml").write_text(WORKSHOP)
    with pytest.raises(ValueError, match=r"no component 'flux'; workshop.toml has water pump"):
        write_questions(tmp_path, tmp_path / "out", components=("flux",))


def test_a_folder_without_a_catalogue_says_what_it_needs(tmp_path: Path) -> None:
    (tmp_path / "layout.toml").write_text(LAYOUT)
    with pytest.raises(RecordError, match=r"workshop.toml: no such file"):
        write_questions(tmp_path, tmp_path / "out")


def test_a_club_without_a_workshop_reads_its_answers(
    asked: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (asked / "workshop.toml").unlink()
    assert main(["read", str(filled(asked))]) == 0
    said = capsys.readouterr().out
    assert "happy to share" in said
    assert "no model year" in said
    assert "'2008 or so'" in said
    assert "when … broke" not in said
    assert "Answers that were not understood" in said
    assert "What members told of renewals" in said
    assert "2 failed or worn, 1 not said" in said
    assert "1 genuine, 1 aftermarket, 1 not said" in said


def test_members_answer_in_the_clubs_own_unit_and_order_of_days(tmp_path: Path) -> None:
    wanted = 'distances_in = "kilometres"\ndate_format = "month/day/year"\n'
    (tmp_path / "workshop.toml").write_text(
        WORKSHOP.replace("[workshop]\n", f"[workshop]\n{wanted}")
    )
    to = tmp_path / "out"
    write_questions(tmp_path, to, components=("water pump", "timing belt"))
    year, version, first, _, bought, _, *rest = FILLED[0]
    answer = (year, version, first, 160934, bought, "12/31/2024", *rest)
    survey = read_survey(filled(to, (answer,)))
    assert survey.answers["odometer_mi"].to_list() == pytest.approx([100_000.0], abs=1)
    given = survey.dates["answered_low"][0] / 365.25
    assert given == pytest.approx(55.0, abs=0.01), "years from 1970 to the end of 2024"
    assert "today (km)?" in (to / "questions.md").read_text()


def test_vehicles_are_to_be_counted_before_answers_have_weights(
    asked: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    counts = asked / "population.csv"
    assert counts.read_text() == "model_year,version,calendar_year,on_the_road\n"
    filled(asked, FILLED[:1] * 12)
    assert main(["survey", str(asked)]) == 1
    assert "fill a table = 'population' of layout.toml" in capsys.readouterr().err
    counts.write_text(counts.read_text() + "2007,long,2024,300\n")
    assert main(["survey", str(asked)]) == 0
    assert "300" in capsys.readouterr().out
