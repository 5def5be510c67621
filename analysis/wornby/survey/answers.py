"""Survey and population tables read: every row accepted, set aside or rejected, with its reason."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import polars as pl

from wornby.errors import RecordError
from wornby.ledger import Ledger, ledger_from
from wornby.records.catalogue import Component
from wornby.records.catalogue_file import read_catalogue
from wornby.records.judging import OUT_OF_PLACE, REPEATED, Rule, judge
from wornby.records.layout import FileLayout, read_layout
from wornby.records.loading import load_text
from wornby.records.repeats import mark_repeated
from wornby.records.values import EARLIEST_YEAR, read_miles, read_number
from wornby.records.wording import words_pattern
from wornby.survey.told_components import ComponentAnswers, component_answers
from wornby.survey.told_dates import TOLD_DATES, survey_dates
from wornby.tables import POPULATION, SURVEY, Table

PROBLEMS = ("file", "row", "fate", "reason", "column", "value", "mend")


def _year_rule(column: str, what: str) -> Rule:
    year = pl.col(column)
    odd = year.is_null() | (year % 1 != 0) | (year < EARLIEST_YEAR) | (year >= 10_000)
    return Rule(
        "rejected", f"no {what}", column, odd.fill_null(True), "write a year in four digits"
    )


NO_VERSION = Rule(
    "rejected", "no version", "version", pl.col("version").is_null(), "write the version"
)
ANSWER_RULES = (
    *OUT_OF_PLACE,
    Rule(
        "rejected",
        "no respondent",
        "respondent",
        pl.col("respondent").is_null(),
        'number the answers, or write respondent = "row" in layout.toml',
    ),
    Rule(
        "set aside",
        "respondent answered twice",
        "respondent",
        pl.col("repeated"),
        "remove the answer that does not hold; the first one is used",
    ),
    _year_rule("model_year", "model year"),
    NO_VERSION,
)
ODOMETER_RULES = (
    Rule(
        "set aside",
        "no odometer",
        "odometer_mi",
        pl.col("odometer_mi_written").is_null(),
        "nothing: the rest of the answer is used",
    ),
    Rule(
        "set aside",
        "unreadable odometer",
        "odometer_mi",
        pl.col("odometer_mi").is_null() | (pl.col("odometer_mi") < 0),
        "write a number; the rest of the answer is used",
    ),
)
POPULATION_RULES = (
    *OUT_OF_PLACE,
    _year_rule("model_year", "model year"),
    NO_VERSION,
    _year_rule("calendar_year", "calendar year"),
    Rule(
        "rejected",
        "no number on the road",
        "on_the_road",
        pl.col("on_the_road").is_null() | (pl.col("on_the_road") < 0),
        "write how many were on the road",
    ),
    REPEATED,
    Rule(
        "rejected",
        "two numbers for the same vehicles",
        "on_the_road",
        pl.col("ambiguous"),
        "keep the right number; until then none is used",
    ),
)


@dataclass(frozen=True, eq=False, slots=True)
class Survey:
    """A club's survey and the vehicles on the road, and where every row of both went.

    `answers` has one row a respondent, odometers that cannot be read left empty. Respondents
    become running numbers at the door, whatever the club calls them; even so neither this table
    nor `problems`, which lists each row not accepted, is for anyone beyond the club's own desk.
    `dates` says of each respondent when the answer was given, the vehicle first registered and
    bought: columns ending in _low and _high, in days since 1970, empty where not told.
    `components` holds the answers on components, None where the layout names none; `scales`
    says which of them wear by distance and which by age, as workshop.toml has it, where there
    is one.
    """

    answers: pl.DataFrame = field(repr=False)
    population: pl.DataFrame
    problems: pl.DataFrame = field(repr=False)
    ledgers: tuple[Ledger, ...]
    dates: pl.DataFrame = field(repr=False)
    components: ComponentAnswers | None
    scales: Mapping[str, str]


def holds_survey(folder: Path) -> bool:
    """Whether the folder's layout names a survey."""
    return any(layout.table == SURVEY.name for layout in read_layout(folder / "layout.toml"))


def holds_population(folder: Path) -> bool:
    """Whether the folder's layout names a table of the vehicles on the road."""
    return any(layout.table == POPULATION.name for layout in read_layout(folder / "layout.toml"))


def read_population(folder: Path) -> pl.DataFrame:
    """The vehicles on the road alone, as `tables.POPULATION`; rows that cannot be are left out."""
    typed = _typed(folder, read_layout(folder / "layout.toml"), POPULATION)
    vehicles = judge(_one_number_a_cell(typed), POPULATION_RULES)
    _need_some(vehicles)
    return POPULATION.shape(_accepted(vehicles))


def read_survey(folder: Path) -> Survey:
    """Read the folder's survey and population by its layout.toml."""
    layouts = read_layout(folder / "layout.toml")
    sheets = mark_repeated(_typed(folder, layouts, SURVEY), ("file", "respondent"))
    answers = judge(sheets, ANSWER_RULES)
    odometers = judge(_accepted(answers).drop("fate", "reason", "blame", "mend"), ODOMETER_RULES)
    vehicles = judge(_one_number_a_cell(_typed(folder, layouts, POPULATION)), POPULATION_RULES)
    _need_some(answers)
    _need_some(vehicles)
    numbered = odometers.with_columns(number=_running_number())
    dates = survey_dates(numbered.drop("fate", "reason", "blame", "mend"))
    judged = {"survey answers": answers, "survey odometers": odometers}
    if any(numbered[column].count() for column in TOLD_DATES):
        judged["survey dates"] = dates
    judged["vehicles on the road"] = vehicles
    known = _components(folder)
    names = {words_pattern(one.words): name for name, one in known.items()}
    said = component_answers(folder, layouts, numbered, names=names)
    also = [] if said is None else [said]
    return Survey(
        answers=_readable(numbered),
        population=POPULATION.shape(_accepted(vehicles)),
        problems=pl.concat([*map(_problems, judged.values()), *(parts.problems for parts in also)]),
        ledgers=(
            *(ledger_from(what, frame) for what, frame in judged.items()),
            *(parts.ledger for parts in also),
        ),
        dates=dates.select("number", r"^.*_(low|high)$").rename({"number": "respondent"}),
        components=said,
        scales={name: one.scale for name, one in known.items()},
    )


def _readable(odometers: pl.DataFrame) -> pl.DataFrame:
    """The survey's table, odometers that cannot be read left empty."""
    kept = pl.when(pl.col("fate") == "accepted").then("odometer_mi").alias("odometer_mi")
    return SURVEY.shape(odometers.with_columns(kept, respondent="number")).drop(TOLD_DATES)


def _components(folder: Path) -> Mapping[str, Component]:
    """The components of workshop.toml; none without that file."""
    path = folder / "workshop.toml"
    return read_catalogue(path).components if path.is_file() else {}


def _typed(folder: Path, layouts: tuple[FileLayout, ...], table: Table) -> pl.DataFrame:
    """All files of one table with its columns typed, and beside each what was written."""
    of_table = [layout for layout in layouts if layout.table == table.name]
    if not of_table:
        raise RecordError(f"layout.toml: no [[file]] with table = {table.name!r}; add one")
    return pl.concat(_typed_file(load_text(folder, layout), layout, table) for layout in of_table)


def _typed_file(text: pl.DataFrame, layout: FileLayout, table: Table) -> pl.DataFrame:
    columns: dict[str, pl.Expr] = {}
    for name, column in table.columns.items():
        source = "odometer" if name == "odometer_mi" else name
        written = pl.col(source) if source in text.columns else pl.lit(None, pl.String)
        worded = written.replace(dict(layout.words.get(source, {})))
        read = read_miles if name == "odometer_mi" else read_number
        is_text = column.dtype == pl.String
        columns[name] = worded if is_text else read(f"{name}_written", layout)
        text = text.with_columns(written.alias(f"{name}_written"))
    columns["version"] = columns["version"].str.to_lowercase()
    order = pl.lit(layout.dates).alias("order")
    return text.select("file", "row", "out_of_place", order, pl.col("^.*_written$"), **columns)


def _one_number_a_cell(vehicles: pl.DataFrame) -> pl.DataFrame:
    """Say of each row whether it is repeated, or another gives its cell another number."""
    cell = ("model_year", "version", "calendar_year")
    marked = mark_repeated(vehicles, (*cell, "on_the_road"))
    first = marked.filter(~pl.col("repeated"))
    twice = first.filter(first.select(cell).is_duplicated()).select(cell).unique()
    return marked.join(
        twice.with_columns(ambiguous=pl.lit(True)), on=cell, how="left", maintain_order="left"
    ).with_columns(pl.col("ambiguous").fill_null(False))


def _accepted(judged: pl.DataFrame) -> pl.DataFrame:
    return judged.filter(pl.col("fate") == "accepted")


def _running_number() -> pl.Expr:
    return pl.int_range(1, pl.len() + 1).cast(pl.String)


def _need_some(judged: pl.DataFrame) -> None:
    if _accepted(judged).is_empty():
        raise RecordError(
            f"{judged['file'][0]}: none of {judged.height} rows can be used, the first because of "
            f"{judged['reason'][0]!r}: {judged['mend'][0]}"
        )


def _problems(judged: pl.DataFrame) -> pl.DataFrame:
    """The rows not accepted: where, why, what was found and what mends it; never who."""
    names = [name.removesuffix("_written") for name in judged.columns if name.endswith("_written")]
    values = [
        pl.when(pl.col("blame") == name).then(pl.col(f"{name}_written"))
        for name in names
        if name != "respondent"
    ]
    odd = judged.filter(pl.col("fate") != "accepted")
    return odd.with_columns(column=pl.col("blame"), value=pl.coalesce(values)).select(PROBLEMS)
