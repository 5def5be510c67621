"""A club's answers as they may be published: small numbers put together or withheld."""

from collections.abc import Mapping
from dataclasses import dataclass

import polars as pl

from wornby.errors import EstimateError
from wornby.survey.answers import Survey
from wornby.survey.figures_told import COUNTED, STATES, WHOLE_CLUB, ToldFigures, told_figures
from wornby.survey.groups_together import YEARS, ShownGroups, shown_groups
from wornby.survey.lives import SurveyLives
from wornby.survey.thresholds import Thresholds
from wornby.survey.told_components import ComponentAnswers
from wornby.survey.weighted import WeightedSurvey


@dataclass(frozen=True, eq=False, slots=True)
class Publication:
    """All numbers of answers that a club may publish together; empty where one is withheld.

    `cells`: who answered (model_year_from, model_year_to, version, on_the_road, answered).
    `by_component` has component, answers, renewed, original, unsure, base (the lives that these
    make), share (of renewed among those known, weighted), share_rounded_to and lives_shown;
    `by_version` and `by_years` have the first four for groups of the members, on as few as
    `thresholds` lets be shown. Components with fewer answers than a finding needs are left out
    and counted in `left_out`. All are of those who have a weight.

    What is shown, taken together, leaves the least and the most that each small number could be
    `thresholds.protection` apart, even for a reader who knows who answered, what each weighs, and
    how many answers made no life; and apart at all for one who has guessed which are withheld for
    being small.
    That all of a group said one thing is shown where the group is large enough.
    """

    cells: pl.DataFrame
    by_component: pl.DataFrame
    by_version: pl.DataFrame
    by_years: pl.DataFrame
    left_out: int
    thresholds: Thresholds


def publishable_numbers(
    survey: Survey, weighted: WeightedSurvey, lives: SurveyLives, *, thresholds: Thresholds
) -> Publication:
    """What may be published of who answered, and of what they said of each component.

    EstimateError where the whole survey has fewer answers than a finding needs, or asked of no
    component.
    """
    if survey.components is None:
        raise EstimateError("the survey asked of no component: nothing to publish of any")
    groups = shown_groups(weighted, thresholds)
    strata = _strata(groups)
    said = _said(survey.components, groups, lives)
    tables: dict[str, list[pl.DataFrame]] = {"whole": [], "version": [], "years": []}
    left_out = 0
    for (component,), of_one in sorted(said.group_by("component")):
        told = told_figures(of_one, strata, thresholds)
        shown = _shown(told)
        if of_one.height < thresholds.minimum_base or not shown:
            left_out += 1
            continue
        named = _tables(str(component), told, shown, groups)
        named["whole"] = named["whole"].with_columns(
            lives_shown=_lives_shown(of_one, shown, thresholds)
        )
        for name, table in named.items():
            tables[name].append(table)
    return Publication(
        cells=groups.cells,
        by_component=_joined(tables["whole"], "whole"),
        by_version=_joined(tables["version"], "version"),
        by_years=_joined(tables["years"], "years"),
        left_out=left_out,
        thresholds=thresholds,
    )


def _strata(groups: ShownGroups) -> pl.DataFrame:
    """Each stratum: the numbers of its version and of its model years, its weight and members."""
    numbered = groups.members.with_columns(
        number_of_version=pl.col("version").rank("dense").cast(pl.Int64) - 1,
        years=pl.col("model_year_from").rank("dense").cast(pl.Int64) - 1,
    )
    return (
        numbered.group_by("stratum")
        .agg(
            pl.col("number_of_version").first().alias("version"),
            pl.col("years", "weight").first(),
            members=pl.len(),
        )
        .sort("stratum")
    )


def _said(components: ComponentAnswers, groups: ShownGroups, lives: SurveyLives) -> pl.DataFrame:
    """What each respondent said of each component, with the stratum: a row for each answer."""
    answer = ["respondent", "component"]
    told = components.renewals.group_by(answer).agg(
        *((pl.col("state") == state).any().alias(state) for state in STATES[:2])
    )
    state = (
        pl.when("renewed")
        .then(pl.lit("renewed"))
        .when("original")
        .then(pl.lit("original"))
        .otherwise(pl.lit("unsure"))
    )
    with_life = lives.lives.select(*answer, has_life=pl.lit(True)).unique()
    return (
        told.select(*answer, state=state)
        .join(groups.members.select("respondent", "stratum"), on="respondent")
        .join(with_life, on=answer, how="left")
        .with_columns(pl.col("has_life").fill_null(False))
    )


def _shown(told: ToldFigures) -> Mapping[tuple[tuple[str, int], str], int]:
    """The figures that may be shown, by name."""
    figures = zip(told.names, told.figures.values.tolist(), told.withheld, strict=True)
    return {name: round(value) for name, value, withheld in figures if not withheld}


def _lives_shown(
    said: pl.DataFrame, shown: Mapping[tuple[tuple[str, int], str], int], thresholds: Thresholds
) -> bool:
    """Whether what the lives say would give no withheld number of renewals away."""
    ended = said.filter("has_life", state="renewed").height
    none_known = ended == 0 and (WHOLE_CLUB, "renewed") in shown
    return (WHOLE_CLUB, "base") in shown and (none_known or ended >= thresholds.minimum_cell)


def _tables(
    component: str,
    told: ToldFigures,
    shown: Mapping[tuple[tuple[str, int], str], int],
    groups: ShownGroups,
) -> dict[str, pl.DataFrame]:
    """The component's rows of the three tables."""
    versions = groups.cells["version"].unique().sort().to_list()
    spans = groups.cells.select(YEARS).unique().sort(YEARS).rows()
    rows: dict[str, list[tuple[object, ...]]] = {name: [] for name in KEYS}
    for group in dict.fromkeys(group for group, _ in told.names):
        counts = tuple(shown.get((group, what)) for what in COUNTED)
        grouping, n = group
        if grouping == "whole":
            share = told.share
            rounded = (None, None) if share is None else (share.value, share.rounded_to)
            rows["whole"].append((component, *counts, shown.get((group, "base")), *rounded))
        elif grouping == "version":
            rows["version"].append((component, versions[n], *counts))
        else:
            together = told.years[n]
            rows["years"].append(
                (component, spans[together[0]][0], spans[together[-1]][1], *counts)
            )
    return {name: pl.DataFrame(of, schema=_schema(name), orient="row") for name, of in rows.items()}


KEYS: dict[str, dict[str, type[pl.DataType]]] = {
    "whole": {"component": pl.String},
    "version": {"component": pl.String, "version": pl.String},
    "years": {"component": pl.String, **dict.fromkeys(YEARS, pl.Int64)},
}


def _schema(name: str) -> dict[str, type[pl.DataType]]:
    counts = dict.fromkeys(COUNTED, pl.Int64)
    whole = {"base": pl.Int64, "share": pl.Float64, "share_rounded_to": pl.Float64}
    return {**KEYS[name], **counts, **(whole if name == "whole" else {})}


def _joined(tables: list[pl.DataFrame], name: str) -> pl.DataFrame:
    """The rows of all components."""
    if tables:
        return pl.concat(tables)
    also = {"lives_shown": pl.Boolean} if name == "whole" else {}
    return pl.DataFrame(schema={**_schema(name), **also})
