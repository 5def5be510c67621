"""When members answered is told in months, and no early or late answer stands alone in one."""

from pathlib import Path

import pytest
from survey.folders import LAYOUT, club_folder

from wornby.survey.answers import read_survey
from wornby.survey.thresholds import Thresholds
from wornby.survey.when_answered import months_answered

FIVE = Thresholds()


def answered_on(folder: Path, days: dict[str, int], date_format: str = "day month year") -> str:
    """What is told of a survey with so many answers on each day, or without a day."""
    given = [day for day, n in days.items() for _ in range(n)]
    rows = [f"m{n} | 2007 | short | 84000 | {day}" for n, day in enumerate(given)]
    club_folder(folder, answers="\n".join(["who | year | body | miles | given on", *rows]))
    layout = LAYOUT.replace('odometer = "miles"', 'odometer = "miles"\nanswered = "given on"')
    (folder / "layout.toml").write_text(layout)
    return months_answered(read_survey(folder), FIVE, date_format=date_format)


@pytest.mark.parametrize(
    ("days", "told"),
    [
        ({"2024-12-03": 3, "2024-12-30": 2}, "in December 2024"),
        ({"2024-10-03": 5, "2024-11-02": 1, "2024-12-30": 5}, "from October to December 2024"),
        ({"2024-11-03": 5, "2025-01-30": 6}, "from November 2024 to January 2025"),
        ({"2024-10-03": 4, "2024-12-30": 50}, "in 2024"),
        ({"2023-10-03": 5, "2024-12-30": 2, "2024-03-01": 3}, "from 2023 to 2024"),
        ({"2024-12-30": 50, "2025-01-02": 1}, ""),
        ({"2024": 9}, "from January to December 2024"),
        ({"2024-12-30": 6, "": 2}, "in December 2024"),
        ({"": 9}, ""),
    ],
)
def test_the_months_named_hold_answers_enough(
    tmp_path: Path, days: dict[str, int], told: str
) -> None:
    assert answered_on(tmp_path, days) == told


def test_months_are_written_as_the_workshop_writes_them(tmp_path: Path) -> None:
    told = answered_on(tmp_path, {"2024-10-03": 5, "2024-12-30": 5}, "month/day/year")
    assert told == "from 10/2024 to 12/2024"
