"""The limits of a club's disclosure.toml: read, defaulted, or refused in one line."""

from pathlib import Path

import pytest

from wornby.errors import RecordError
from wornby.survey.thresholds import Thresholds, read_club_name, read_thresholds


def written(folder: Path, text: str) -> Path:
    (folder / "disclosure.toml").write_text(text)
    return folder


def test_without_a_file_ten_answers_and_five_in_a_cell(tmp_path: Path) -> None:
    limits = read_thresholds(tmp_path)
    assert (limits.minimum_base, limits.minimum_cell, limits.protection) == (10, 5, 4)


def test_what_a_file_leaves_out_is_as_without_it(tmp_path: Path) -> None:
    folder = written(tmp_path, "[disclosure]\nminimum_base = 20\n")
    assert read_thresholds(folder) == Thresholds(minimum_base=20)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("minimum_base = 20", r"wanted \[disclosure\], \[club\] or both, found minimum_base"),
        ("[disclosures]", r"wanted \[disclosure\], \[club\] or both, found disclosures"),
        ("", r"wanted \[disclosure\], \[club\] or both, found nothing"),
        ("[disclosure]\nminimum_cells = 4", "minimum_cells: not known; it may say minimum_base"),
        ("[disclosure]\nminimum_cell = 4.5", "minimum_cell = 4.5: wanted a whole number"),
        ("[disclosure]\nminimum_cell = true", "minimum_cell = True: wanted a whole number"),
        ('[disclosure]\nminimum_cell = "five"', "minimum_cell = 'five': wanted a whole number"),
        ("[disclosure]\nminimum_cell = 2", "minimum_cell = 2: wanted 3 or more, or one of two"),
        ("[disclosure]\nminimum_base = 4", "minimum_base = 4: wanted 5 or more, no less than"),
        ("[disclosure]\nprotection = 0", "protection = 0: wanted 1 or more"),
        ("[disclosure\n", "not readable as TOML"),
    ],
)
def test_nonsense_is_refused_by_its_name(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(RecordError, match=said) as refused:
        read_thresholds(written(tmp_path, text))
    assert str(refused.value).startswith("disclosure.toml: ")


def test_a_club_is_called_as_its_file_says(tmp_path: Path) -> None:
    assert read_club_name(tmp_path) == ""
    folder = written(tmp_path, "[disclosure]\nminimum_base = 20\n")
    assert read_club_name(folder) == ""
    written(tmp_path, '[club]\nname = "Merrow Circle"\n')
    assert read_club_name(folder) == "Merrow Circle"
    assert read_thresholds(folder) == Thresholds()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[club]", r"\[club\]: wanted name = \"...\", found nothing"),
        ("[club]\nname = 7", "found name = 7"),
        ('[club]\nname = " "', "found name = ' '"),
        ('[club]\nname = "a"\ntown = "b"', "found name = 'a', town = 'b'"),
        ('club = "Merrow Circle"', r"wanted \[disclosure\], \[club\] or both, found club"),
    ],
)
def test_a_club_s_name_that_is_none_is_refused(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(RecordError, match=said):
        read_club_name(written(tmp_path, text))
