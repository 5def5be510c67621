"""Survey and population tables read: every row accepted, set aside or rejected, with its reason."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import polars as pl

from wornby.errors import RecordError
from wornby.ledger import Ledger, ledger_from
from wornby.records.catalogue import Catalogue
from wornby.records.catalogue_file import read_catalogue
from wornby.records.judging import judge
from wornby.records.layout import read_layout
from wornby.records.repeats import mark_repeated
from wornby.records.wording import words_pattern
from wornby.survey.answer_rules import (
    ANSWER_RULES,
    ODOMETER_MENDED,
    ODOMETER_RULES,
    POPULATION_RULES,
    SHARE_RULES,
    YEAR_MENDED,
    mended,
)
from wornby.survey.told_components import ComponentAnswers, component_answers
from wornby.survey.told_dates import TOLD_DATES, survey_dates
from wornby.survey.typed_answers import asks_to_share, typed_table, with_single_counts
from wornby.tables import POPULATION, SURVEY

JUDGED = ("fate", "reason", "blame", "mend")
PROBLEMS = ("file", "row", "fate", "reason", "column", "value", "mend")


@dataclass(frozen=True, eq=False, slots=True)
class Survey:
    """A club's survey and the vehicles on the road, and where every row of both went.

    `answers` has one row a respondent, odometers that cannot be read left empty. Respondents
    become running numbers at the door, whatever the club calls them; even so neither this table
    nor `problems`, which lists each row not accepted, is for anyone beyond the club's own desk.
    `share` says whether an answer may be shown by itself; of one that may not, `problems` does
    not say what was written. `population` has no row where the layout names none.
    `dates` says of each respondent when the answer was given, the vehicle first registered and
    bought: columns ending in _low and _high, in days since 1970, empty where not told.
    `components` holds the answers on components, None where the layout names none; `units`
    says in what the life of each is told, as workshop.toml has it, where there is one: years, or
    miles or kilometres where it wears by distance.
    """

    answers: pl.DataFrame = field(repr=False)
    population: pl.DataFrame
    problems: pl.DataFrame = field(repr=False)
    ledgers: tuple[Ledger, ...]
    dates: pl.DataFrame = field(repr=False)
    components: ComponentAnswers | None
    units: Mapping[str, str]


def holds_survey(folder: Path) -> bool:
    """Whether the folder's layout names a survey."""
    return any(layout.table == SURVEY.name for layout in read_layout(folder / "layout.toml"))


def holds_population(folder: Path) -> bool:
    """Whether the folder's layout names a table of the vehicles on the road."""
    return any(layout.table == POPULATION.name for layout in read_layout(folder / "layout.toml"))


def read_population(folder: Path) -> pl.DataFrame:
    """The vehicles on the road alone, as `tables.POPULATION`; rows that cannot be are left out."""
    if not holds_population(folder):
        raise RecordError("layout.toml: no [[file]] with table = 'population'; add one")
    typed = typed_table(folder, read_layout(folder / "layout.toml"), POPULATION)
    vehicles = judge(with_single_counts(typed), POPULATION_RULES)
    _need_some(vehicles, POPULATION.name)
    return POPULATION.shape(_accepted(vehicles))


def read_survey(folder: Path) -> Survey:
    """Read the folder's survey, and its population if it has one, by its layout.toml."""
    layouts = read_layout(folder / "layout.toml")
    if not holds_survey(folder):
        raise RecordError("layout.toml: no [[file]] with table = 'survey'; add one")
    sheets = mark_repeated(typed_table(folder, layouts, SURVEY), ("file", "known_as"))
    answers = mended(judge(sheets, ANSWER_RULES), "model_year", YEAR_MENDED)
    _need_some(answers, SURVEY.name)
    odometers = mended(judge(_used(answers), ODOMETER_RULES), "odometer_mi", ODOMETER_MENDED)
    numbered = odometers.with_columns(number=_running_number())
    dates = survey_dates(numbered.drop(JUDGED))
    catalogue = _catalogue(folder)
    known = {} if catalogue is None else catalogue.components
    names = {words_pattern(one.words): name for name, one in known.items()}
    said = component_answers(folder, layouts, numbered, names=names)
    also = [] if said is None else [said]
    judged = {"survey answers": answers, "survey odometers": odometers}
    if any(numbered[column].count() for column in TOLD_DATES):
        judged["survey dates"] = dates
    if asks_to_share(layouts):
        judged["happy to share"] = judge(_used(answers), SHARE_RULES)
    vehicles = judge(with_single_counts(typed_table(folder, layouts, POPULATION)), POPULATION_RULES)
    if vehicles.height:
        _need_some(vehicles, POPULATION.name)
        judged["vehicles on the road"] = vehicles
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
        units={} if catalogue is None else catalogue.component_units,
    )


def _used(answers: pl.DataFrame) -> pl.DataFrame:
    """The answers that are used, to be judged anew."""
    return _accepted(answers).drop(JUDGED)


def _readable(odometers: pl.DataFrame) -> pl.DataFrame:
    """The survey's table, odometers that cannot be read left empty."""
    kept = pl.when(pl.col("fate") == "accepted").then("odometer_mi").alias("odometer_mi")
    return SURVEY.shape(odometers.with_columns(kept, respondent="number")).drop(TOLD_DATES)


def _catalogue(folder: Path) -> Catalogue | None:
    """What workshop.toml says; none without that file."""
    path = folder / "workshop.toml"
    return read_catalogue(path) if path.is_file() else None


def _accepted(judged: pl.DataFrame) -> pl.DataFrame:
    return judged.filter(pl.col("fate") == "accepted")


def _running_number() -> pl.Expr:
    return pl.int_range(1, pl.len() + 1).cast(pl.String)


def _need_some(judged: pl.DataFrame, table: str) -> None:
    if judged.is_empty():
        raise RecordError(
            f"{table}: its file has a header but no rows; fill it, or export it again"
        )
    if _accepted(judged).is_empty():
        raise RecordError(
            f"{judged['file'][0]}: none of {judged.height} rows can be used, the first because of "
            f"{judged['reason'][0]!r}: {judged['mend'][0]}"
        )


def _problems(judged: pl.DataFrame) -> pl.DataFrame:
    """The rows not accepted: where, why, what was found and what mends it; never who.

    What was written by who does not want to be shown stays out.
    """
    names = [name.removesuffix("_written") for name in judged.columns if name.endswith("_written")]
    values = [
        pl.when((pl.col("blame") == name) & pl.col("may_show")).then(pl.col(f"{name}_written"))
        for name in names
        if name != "respondent"
    ]
    odd = judged.filter(pl.col("fate") != "accepted")
    return odd.with_columns(column=pl.col("blame"), value=pl.coalesce(values)).select(PROBLEMS)
