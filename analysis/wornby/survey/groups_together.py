"""The groups of model years and versions by which answers are shown, large enough each."""

from dataclasses import dataclass, field

import polars as pl

from wornby.errors import EstimateError
from wornby.survey.cells import crossed, joined_versions, runs
from wornby.survey.thresholds import Thresholds
from wornby.survey.weighted import WeightedSurvey

YEARS = ("model_year_from", "model_year_to")


@dataclass(frozen=True, eq=False, slots=True)
class ShownGroups:
    """Who answered, by the groups that are shown.

    `cells` has model_year_from, model_year_to, version, on_the_road, answered and weight, the
    mean of the cell to one digit after the point: with more, it would tell of smaller groups.
    `members` has each respondent with these groups and `stratum`, a number for those who weigh
    the same; it is not for showing.
    """

    cells: pl.DataFrame
    members: pl.DataFrame = field(repr=False)


def shown_groups(weighted: WeightedSurvey, thresholds: Thresholds) -> ShownGroups:
    """Put the cells of a weighted survey together until each has answers enough to be shown.

    Adjacent model years go together, and versions with few answers. EstimateError where the
    whole survey has fewer answers than a finding needs.
    """
    if weighted.answers.height < thresholds.minimum_base:
        raise EstimateError(
            f"{weighted.answers.height} answers: nothing is shown of fewer than "
            f"{thresholds.minimum_base}"
        )
    cells = _joined(weighted.cells, thresholds)
    mean = (pl.col("weight") * pl.col("answered")).sum() / pl.col("answered").sum()
    summed = cells.group_by(*YEARS, "version").agg(
        pl.col("on_the_road", "answered").sum(), weight=mean.round(1)
    )
    placed = weighted.answers.sort("model_year").join_asof(
        cells.select("joined_from", "model_year_from", "model_year_to")
        .unique()
        .sort("joined_from"),
        left_on="model_year",
        right_on="joined_from",
    )
    names = dict(cells.select("joined_version", "version").unique().iter_rows())
    strata = pl.struct("weight_group", "version_group").rank("dense").cast(pl.Int64) - 1
    return ShownGroups(
        cells=summed.sort("model_year_from", "version"),
        members=placed.select(
            "respondent",
            "weight",
            *YEARS,
            version=pl.col("version_group").replace_strict(names),
            stratum=strata,
        ),
    )


def _joined(cells: pl.DataFrame, thresholds: Thresholds) -> pl.DataFrame:
    """Each cell with the groups that it goes into; its own are joined_from, joined_version."""
    least = thresholds.minimum_cell
    by_version = cells.group_by("version").agg(pl.col("answered").sum()).sort("version")
    names = joined_versions(dict(by_version.iter_rows()), least=least)
    named = cells.rename({"version": "joined_version"}).with_columns(
        version=pl.col("joined_version").replace_strict(names), joined_from="model_year_from"
    )
    answered, there = (
        crossed(named, "joined_from", "version", what) for what in ("answered", "on_the_road")
    )
    numbers = runs(answered, there, least_in_cell=least, least=least)
    steps = named["joined_from"].unique().sort()
    run = pl.col("joined_from").replace_strict(steps, pl.Series(numbers))
    return named.with_columns(
        model_year_from=pl.col("model_year_from").min().over(run),
        model_year_to=pl.col("model_year_to").max().over(run),
    )
