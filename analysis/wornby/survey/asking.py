"""A club's questions written: the sheet, the text, and the folder that will read the answers."""

import shutil
from collections.abc import Sequence
from pathlib import Path

import polars as pl

from wornby.errors import RecordError
from wornby.records.catalogue_file import read_catalogue
from wornby.survey.answers import holds_population, holds_survey, read_population, read_survey
from wornby.survey.question_text import GUIDE, questions_layout, questions_text
from wornby.survey.question_workbook import write_workbook
from wornby.survey.questions import COMPONENT_QUESTIONS, asked_of, vehicle_questions
from wornby.tables import POPULATION

WORKBOOK, TEXT = "questions.xlsx", "questions.md"
POPULATION_LAYOUT = """
# How many vehicles there are of each model year and version: answers are weighted to them.
[[file]]
table = "population"
path = "population.csv"
[file.columns]
""" + "".join(f'{name} = "{name}"\n' for name in POPULATION.columns)


def write_questions(folder: Path, to: Path, *, components: Sequence[str] = ()) -> list[Path]:
    """Write the questions of the folder's catalogue, and what reads the answers, into `to`.

    Distances are asked for in the unit, and days in the order, that workshop.toml has. Versions to
    pick from are those of the vehicles on the road, else of an earlier survey. What stands in `to`
    already is never overwritten.
    """
    catalogue = read_catalogue(folder / "workshop.toml")
    parts = asked_of(tuple(catalogue.components.values()), components)
    written = {
        "unit": "km" if catalogue.distances_in == "kilometres" else "mi",
        "day_order": "month first" if catalogue.date_format.startswith("month") else "day first",
    }
    vehicle = vehicle_questions(_versions(folder), **written)
    sheet = [*vehicle, *(q.of(part.name) for part in parts for q in COMPONENT_QUESTIONS)]
    counted = _population(folder)
    names = [WORKBOOK, TEXT, "layout.toml", "workshop.toml", "population.csv"]
    _need_free(to, names)
    to.mkdir(parents=True, exist_ok=True)
    write_workbook(to / WORKBOOK, sheet, guide=GUIDE)
    (to / TEXT).write_text(questions_text(vehicle, parts, club=catalogue.name), encoding="utf-8")
    layout = questions_layout(vehicle, **written) + POPULATION_LAYOUT
    (to / "layout.toml").write_text(layout, encoding="utf-8")
    shutil.copyfile(folder / "workshop.toml", to / "workshop.toml")
    (POPULATION.empty() if counted is None else counted).write_csv(to / "population.csv")
    return [to / name for name in names]


def _need_free(to: Path, names: Sequence[str]) -> None:
    if there := [name for name in names if (to / name).exists()]:
        raise RecordError(
            f"{to / there[0]}: is there already and may hold answers; choose another folder"
        )


def _population(folder: Path) -> pl.DataFrame | None:
    there = (folder / "layout.toml").is_file() and holds_population(folder)
    return read_population(folder) if there else None


def _versions(folder: Path) -> list[str]:
    """The versions that the club knows of; none where it says of none."""
    if (counted := _population(folder)) is not None:
        return sorted(counted["version"].unique())
    if (folder / "layout.toml").is_file() and holds_survey(folder):
        return sorted(read_survey(folder).answers["version"].unique())
    return []
