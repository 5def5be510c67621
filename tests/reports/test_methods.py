"""The notes on what numbers mean."""

import json

import pytest

from wornby.cli import main
from wornby.reports.methods import explained, meaning_answer, method_answer, method_notes, notes_on


def test_every_note_has_both_lengths_and_a_source() -> None:
    for note in method_notes():
        assert 40 < len(note.owner) < len(note.statistician) + 200, note.number
        assert len(note.statistician) > 100, note.number
        assert note.sources, note.number


def test_no_number_is_explained_twice() -> None:
    numbers = [note.number for note in method_notes()]

    assert len(set(numbers)) == len(numbers)


def test_a_word_finds_its_note_by_name_first_then_by_text() -> None:
    assert [note.number for note in notes_on("floor PRICE")] == ["floor price"]
    assert "few failures" in [note.number for note in notes_on("posterior")]


def test_an_unknown_word_is_named_with_what_there_is() -> None:
    with pytest.raises(ValueError, match="no note on 'turbo'; there are B10 life"):
        notes_on("turbo")


def test_owners_get_the_short_and_statisticians_the_long() -> None:
    assert meaning_answer().people.columns == ["number", "what it means"]
    assert method_answer().people.height == len(method_notes())
    assert "Barlow & Hunter 1960" in explained("renewal age")


def test_the_command_explains(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", "B10"]) == 0
    assert "one part in ten" in capsys.readouterr().out
    assert main(["explain", "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)[0]["rows"]) == len(method_notes())
    assert main(["explain", "turbo"]) == 1
    assert "wornby: no note on 'turbo'" in capsys.readouterr().err
