"""A survey weighted to the vehicles on the road: for how many each answer speaks."""

from dataclasses import dataclass, field

import polars as pl

from wornby.errors import EstimateError
from wornby.ledger import Ledger, ledger_from
from wornby.records.judging import Rule, judge
from wornby.survey.answers import Survey
from wornby.survey.cells import LEAST_ANSWERS, crossed, grouped
from wornby.survey.weighting import Raked, effective_sample_size, rake

PAIR = ("model_year", "version")
NOT_ON_THE_ROAD = "none of its model year and version on the road"
WEIGHT_RULES = (
    Rule(
        "set aside",
        NOT_ON_THE_ROAD,
        "version",
        pl.col("on_the_road").is_null(),
        "mend the year or the version, or add it to the population",
    ),
)


@dataclass(frozen=True, eq=False, slots=True)
class WeightedSurvey:
    """Answers with a weight each, 1 on average, and the cells in which they may be shown.

    `answers` has the survey's columns, weight, and the weight_group and version_group by whose
    totals it is weighted. `cells` has model_year_from, model_year_to, version, on_the_road,
    answered and weight, the mean of the cell; none has fewer than `LEAST_ANSWERS` answers.
    `raked` says how the weights were come by, `groups` by how many groups of model years and of
    versions; `on_the_road` has the vehicles of each model year and version.
    """

    answers: pl.DataFrame = field(repr=False)
    cells: pl.DataFrame
    calendar_year: int
    effective_sample_size: float
    groups: tuple[int, int]
    raked: Raked = field(repr=False)
    on_the_road: pl.DataFrame = field(repr=False)
    ledger: Ledger


def latest_count(survey: Survey) -> int:
    """The last calendar year for which the vehicles on the road were counted."""
    _need_population(survey.population)
    years: list[int] = survey.population["calendar_year"].to_list()
    return max(years)


def weighted_survey(survey: Survey, *, calendar_year: int) -> WeightedSurvey:
    """Rake the answers to the vehicles on the road in a year, by model year and by version.

    Model years are grouped, and versions joined, no further than needed for `LEAST_ANSWERS` in
    each group and an answer in every cell with vehicles; raking then always settles. An answer
    for a vehicle of which none was on the road is set aside. EstimateError where fewer than
    `LEAST_ANSWERS` are left, or none was counted in that year.
    """
    on_the_road = _counted(survey.population, calendar_year)
    judged = judge(survey.answers.join(on_the_road, on=PAIR, how="left"), WEIGHT_RULES)
    answers = judged.filter(pl.col("fate") == "accepted").select(survey.answers.columns)
    if answers.height < LEAST_ANSWERS:
        raise EstimateError(
            f"{answers.height} answers for vehicles on the road in {calendar_year}: wanted at "
            f"least {LEAST_ANSWERS}"
        )
    by_pair = answers.group_by(PAIR).agg(answered=pl.len())
    counts = on_the_road.join(by_pair, on=PAIR, how="left").with_columns(
        pl.col("answered").fill_null(0).cast(pl.Int64)
    )
    groups, raked = _raked(grouped(counts))
    of_pair = groups.select(*PAIR, "weight", "weight_group", "version_group")
    weighted = answers.join(of_pair, on=PAIR, how="left", maintain_order="left")
    return WeightedSurvey(
        answers=weighted,
        cells=_cells(groups),
        calendar_year=calendar_year,
        effective_sample_size=effective_sample_size(weighted["weight"].to_numpy()),
        groups=(groups["weight_group"].n_unique(), groups["version_group"].n_unique()),
        raked=raked,
        on_the_road=on_the_road,
        ledger=ledger_from("survey answers weighted", judged),
    )


def _need_population(population: pl.DataFrame) -> None:
    if population.is_empty():
        raise EstimateError(
            "no count of vehicles, so answers have no weights: fill a table = 'population' of "
            "layout.toml with how many there are of each model year and version, on the road by a "
            "register or in the club by its list of members"
        )


def _counted(population: pl.DataFrame, calendar_year: int) -> pl.DataFrame:
    """The vehicles on the road in one year; model years and versions without any left out."""
    _need_population(population)
    of_year = population.filter(
        (pl.col("calendar_year") == calendar_year) & (pl.col("on_the_road") > 0)
    )
    if of_year.is_empty():
        years = population["calendar_year"].to_list()
        raise EstimateError(
            f"no vehicle on the road in {calendar_year}: the population has calendar years from "
            f"{min(years)} to {max(years)}"
        )
    return of_year.select(*PAIR, "on_the_road").sort(PAIR)


def _raked(groups: pl.DataFrame) -> tuple[pl.DataFrame, Raked]:
    """Each model year and version with its weight, scaled to 1 over all answers."""
    answered, known = (
        crossed(groups, "weight_group", "version_group", what)
        for what in ("answered", "on_the_road")
    )
    raked = rake(answered, [known.sum(axis=1), known.sum(axis=0)])
    scaled = raked.weights * answered.sum() / known.sum()
    names = sorted(groups["version_group"].unique())
    by_cell = pl.DataFrame(scaled, schema=names).with_row_index("weight_group")
    long = by_cell.unpivot(index="weight_group", variable_name="version_group", value_name="weight")
    keys = ["weight_group", "version_group"]
    told = long.with_columns(pl.col("weight_group").cast(pl.Int64))
    return groups.join(told, on=keys, how="left", maintain_order="left"), raked


def _cells(groups: pl.DataFrame) -> pl.DataFrame:
    """What may be shown: runs of model years by version, each with answers enough."""
    spans = groups.with_columns(
        model_year_from=pl.col("model_year").min().over("shown_group"),
        model_year_to=pl.col("model_year").max().over("shown_group"),
    )
    summed = spans.group_by("model_year_from", "model_year_to", version="version_group").agg(
        pl.col("on_the_road").sum(),
        pl.col("answered").sum(),
        weight=(pl.col("weight") * pl.col("answered")).sum() / pl.col("answered").sum(),
    )
    return summed.sort("model_year_from", "version")
