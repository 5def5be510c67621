"""The club's letter: its findings agree with its tables and show no small number."""

import json
import re
from dataclasses import replace
from pathlib import Path

import polars as pl
import pytest

from wornby.errors import EstimateError
from wornby.reports.answer import Answer
from wornby.reports.club import Club, open_club
from wornby.reports.club_answers import (
    club_share_answer,
    club_survey_answer,
    draw_silence,
    look_for_answer,
    silence,
    silence_answer,
)
from wornby.reports.club_letter import club_findings, club_method, press_words
from wornby.reports.sentences import Sentences, cautions_for
from wornby.reports.spreadsheets import exported
from wornby.reports.survey_tables import hiding_note
from wornby.survey.nonresponse import Readiness, silent_bounds

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "data_demo"


@pytest.fixture(scope="module")
def club() -> Club:
    """The demo's club."""
    return open_club(DEMO, confidence=0.90, seed=1)


@pytest.fixture(scope="module")
def shares(club: Club) -> Answer:
    """Its shares renewed by twelve years or 100,000 miles."""
    return club_share_answer(club, age_years=12.0, distance=100_000.0)


@pytest.fixture(scope="module")
def moved(club: Club) -> list[Readiness]:
    """How the shares move with who kept silent, of all vehicles on the road."""
    return silence(club, age_years=12.0, distance=100_000.0)


@pytest.fixture(scope="module")
def moved_of_few(club: Club, moved: list[Readiness]) -> list[Readiness]:
    """The same of 140 members asked, of whom 130 answered: only the bounds are others."""
    return [
        replace(
            one,
            asked=140.0,
            bounds=silent_bounds(
                club.lives, one.component, weighted=club.weighted, by=one.by, asked=140.0
            ),
        )
        for one in moved
    ]


@pytest.fixture(scope="module")
def silent(club: Club, moved: list[Readiness]) -> Answer:
    """The first as a table."""
    return silence_answer(club, moved)


def test_each_component_has_one_sentence_with_its_range_and_base(
    club: Club, shares: Answer
) -> None:
    _, *told = club_findings(club, shares).sentences

    assert len(told) == shares.frame.height
    for sentence in told:
        assert " to " in sentence
        assert re.search(r"; base: worth \d+ answers\.$", sentence)


def test_what_gives_out_soonest_stands_first(club: Club, shares: Answer) -> None:
    _, *told = club_findings(club, shares).sentences
    found = [int(re.findall(r"(\d+)\u00a0%", sentence)[0]) for sentence in told]

    assert found == sorted(found, reverse=True)


def test_the_letter_begins_with_whose_answers_they_are_and_from_when(
    club: Club, shares: Answer
) -> None:
    first = club_findings(club, shares).sentences[0]

    assert first.startswith("Merrow Circle: 130 answers given in December 2024, weighted to")
    assert first.endswith(club.note)
    assert club.note.startswith("Invented")
    unnamed = club_findings(replace(club, name="", answered="", note=""), shares).sentences[0]
    assert unnamed.startswith("The club: 130 answers, weighted to the 6,992 vehicles on the road")


def test_the_press_gets_a_line_to_print_and_no_finding_again(club: Club, shares: Answer) -> None:
    press = " ".join(press_words(club).sentences)

    assert "owners. Merrow Circle: 130 answers given in December 2024" in press
    assert not any(name in press for name in shares.frame["component"])


def test_why_a_number_is_withheld_and_how_it_was_come_by_is_said_once(
    club: Club, shares: Answer, silent: Answer
) -> None:
    said = hiding_note(club.published.thresholds)
    tables = [shares, silent, club_survey_answer(club)]
    method = club_method(club).sentences

    assert method.count(said) == 1
    assert len(method) == len(set(method))
    assert not set(method) & {note for table in tables for note in table.notes}
    for table in tables:
        assert said not in table.notes
        withheld = any("not shown" in column for column in table.people)
        assert any(note.startswith("Not shown:") for note in table.notes) == withheld


def test_bounds_that_rule_out_nothing_are_told_in_one_sentence(silent: Answer) -> None:
    assert not any("silent" in column for column in silent.people.columns)
    assert not {"share_least", "share_most"} & set(exported(silent).columns)
    assert sum("may be nearly anything" in note for note in silent.notes) == 1


def test_bounds_leave_with_a_number_or_a_reason_in_each_row(
    club: Club, moved_of_few: list[Readiness]
) -> None:
    """What the page withholds is empty in the file; there is no number that the page has not."""
    told = silence_answer(club, moved_of_few)
    bounds = dict(told.people.select("component", "whatever the silent would say").iter_rows())
    assert {"not shown"} < set(bounds.values())
    for row in exported(told).to_dicts():
        withheld = bounds[row["component"]] == "not shown"
        assert (row["share_least"] is None) == (row["share_most"] is None) == withheld
        assert bool(row["reason"]) == withheld
    texts = {name for name, kind in exported(told).schema.items() if kind == pl.String}
    assert texts <= {"component", "unit", "reason"}


def test_one_number_has_one_range_in_the_whole_letter(shares: Answer, silent: Answer) -> None:
    as_answered = dict(silent.people.select("component", "as answered").iter_rows())
    assert as_answered == dict(
        shares.people.select("component", "renewed by then (90% interval)").iter_rows()
    )


def test_sentence_and_table_round_alike(club: Club, shares: Answer) -> None:
    sentences = " ".join(club_findings(club, shares).sentences)

    for share in shares.people["renewed by then (90% interval)"]:
        assert any(f" {share} {said}" in sentences for said in ("had been", "of vehicles had had"))
    for life in shares.people["one in ten by"]:
        assert life.startswith("too few") or f"one in ten by {life};" in sentences


def test_what_sits_in_several_places_is_told_of_vehicles_with_at_least_one_renewed(
    club: Club, shares: Answer
) -> None:
    """The question asks when the first was renewed."""
    _, *told = club_findings(club, shares).sentences
    several = {name for name, part in club.catalogue.items() if len(part.positions) > 1}
    said = {s.partition(":")[0].lower() for s in told if "at least one of their two renewed" in s}

    assert said == several & set(shares.frame["component"])
    noted = shares.people.filter(pl.col("note").str.contains("at least one of two"))
    assert set(noted["component"]) == said


def test_a_share_outside_what_the_answers_alone_say_is_marked(club: Club, shares: Answer) -> None:
    _, *told = club_findings(club, shares).sentences
    marked = {s.partition(":")[0].lower() for s in told if "; rests on the curve chosen;" in s}
    outside = shares.frame.filter(
        pl.col("turnbull_value").is_null()
        | ~pl.col("weibull_value").is_between("turnbull_lower", "turnbull_upper")
    )

    assert marked == set(outside["component"]) == {"rear main seal", "thermostat"}
    noted = shares.people.filter(pl.col("note").str.contains("rests on the curve chosen"))
    assert set(noted["component"]) == marked
    assert "is not for print" in " ".join(press_words(club).sentences)


def test_how_many_were_asked_is_said_or_that_nobody_said(club: Club, shares: Answer) -> None:
    """130 of 650 are a fifth."""
    for told in (club_findings, lambda c, _, **m: press_words(c, **m)):
        asked = repr(told(club, shares, members=650.0)).replace("\u00a0", " ")
        assert "650 members were asked; 20 % answered." in asked
        assert "Nobody said how many members were asked." in repr(told(club, shares))
        with pytest.raises(EstimateError, match="wanted no more than asked"):
            told(club, shares, members=100.0)


def test_no_range_is_sold_as_the_truth(club: Club, shares: Answer, silent: Answer) -> None:
    letter = [press_words(club), club_findings(club, shares), club_method(club), shares, silent]
    written = json.loads((ROOT / "notebooks" / "club.ipynb").read_text(encoding="utf-8"))
    sources = ["".join(cell["source"]) for cell in written["cells"]]
    for text in (*map(repr, letter), *sources):
        assert not re.search(r"the true number|nine chances|no member can be", text)
    press = repr(press_words(club))
    assert "Survey of members, not a sample of all owners." in press
    assert "how far chance alone may have moved the number. Who chose to answer" in press
    assert "not the same as failed" in press


def test_words_of_the_trade_of_statistics_stand_in_the_method_alone(
    club: Club, shares: Answer, silent: Answer
) -> None:
    jargon = ("raked", "B10", "without a form", "Turnbull", "Kish", "Manski", "out of reach")
    plain = [club_findings(club, shares), press_words(club), shares, silent]
    assert all(word not in repr(one) for one in plain for word in jargon)
    assert all(word in repr(club_method(club)) for word in ("raked", "B10", "Turnbull", "Kish"))


def test_the_picture_s_caption_names_only_lines_that_are_drawn(
    club: Club, moved: list[Readiness], moved_of_few: list[Readiness]
) -> None:
    """Nobody stated a share; of 6,992 the bounds rule out nothing, of 140 they do."""
    many, few = draw_silence(club, moved), draw_silence(club, moved_of_few)
    assert "dashed" not in many.legend + few.legend
    assert ("dotted" in many.legend, "dotted" in few.legend) == (False, True)
    assert ("Whatever" in repr(many), "Whatever" in repr(few)) == (False, True)


def test_looking_begins_where_one_in_ten_may_have_gone(club: Club, shares: Answer) -> None:
    answer = look_for_answer(club, shares)
    lower = dict(shares.frame.select("component", "b10_lower").iter_rows())

    assert isinstance(answer, Answer)
    for row in answer.frame.to_dicts():
        safety = club.catalogue[row["component"]].safety
        assert row["from"] == (None if safety else lower[row["component"]])
        assert (row["when"] == "any age, at every service") == safety
    assert any("scalds" in note for note in answer.notes)
    assert any("from members' answers" in note for note in answer.notes)
    assert not any("past jobs" in note for note in answer.notes)


def test_an_age_that_every_vehicle_has_passed_is_no_number(club: Club, shares: Answer) -> None:
    """The newest of model year 2014, counted in 2024: ten years old, whatever they are."""
    answer = look_for_answer(club, shares)
    assert isinstance(answer, Answer)
    by_age = answer.frame.filter(unit="years").drop_nulls("from")
    assert set(by_age.filter(pl.col("from") <= 10)["when"]) == {"now"}
    assert set(by_age.filter(pl.col("from") > 10)["when"]) == {"11.1 years"}
    assert any("is older than the age" in note for note in answer.notes)


def test_a_column_that_says_the_same_of_all_is_left_out(club: Club, shares: Answer) -> None:
    young = shares.frame.filter(pl.col("b10_lower") < 10)
    answer = look_for_answer(club, replace(shares, frame=young))
    assert isinstance(answer, Answer)
    assert set(answer.frame["when"]) == {"now", "any age, at every service"}
    unsafe = young.filter(pl.col("component") != "brake pipe above the axle")
    answer = look_for_answer(club, replace(shares, frame=unsafe))
    assert isinstance(answer, Answer)
    assert answer.people.columns == ["component", "look for"]
    assert answer.notes[0].startswith("Now: every vehicle on the road is older")


def test_each_row_of_the_file_has_its_own_component_s_cautions(club: Club, shares: Answer) -> None:
    answer = look_for_answer(club, shares)
    assert isinstance(answer, Answer)
    for row in exported(answer).to_dicts():
        own = cautions_for([club.catalogue[row["component"]]])
        assert row["cautions"] == " ".join(own)
    assert exported(answer)["cautions"].n_unique() > 2


def test_a_club_without_a_catalogue_says_what_is_left_out(club: Club, shares: Answer) -> None:
    bare = Club(
        club.survey,
        club.weighted,
        club.lives,
        club.published,
        catalogue={},
        confidence=club.confidence,
        seed=club.seed,
    )

    left_out = look_for_answer(bare, shares)

    assert isinstance(left_out, Sentences)
    assert "no workshop.toml" in left_out.sentences[0]


def test_the_method_says_what_the_answers_are_worth(club: Club) -> None:
    told = " ".join(club_method(club).sentences)

    assert f"{club.weighted.answers.height:,} answers" in told
    assert f"worth {club.weighted.effective_sample_size:.0f} of equal weight" in told


def test_nothing_in_the_letter_speaks_of_the_command_line(
    club: Club, shares: Answer, silent: Answer
) -> None:
    notes = [*shares.notes, *silent.notes, *club_survey_answer(club).notes]

    for note in (*notes, *club_method(club).sentences):
        assert "--" not in note
        assert "wornby" not in note


def test_a_number_is_not_parted_from_its_unit_nor_within(club: Club, shares: Answer) -> None:
    page = shares.as_html()
    assert "<td><span class='whole'>100,000 miles</span></td>" in page
    assert "(<span class='whole'>33,200</span> to <span class='whole'>71,200</span>) miles" in page
    css = (ROOT / "analysis" / "wornby" / "reports" / "page.css").read_text(encoding="utf-8")
    assert ".whole { white-space: nowrap; }" in css
    for sentence in club_findings(club, shares).sentences[1:]:
        assert re.search("by (12\u00a0years|100,000\u00a0miles) ", sentence)
