"""Lives from answers: each an interval, with what is known of when it began and was watched."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import polars as pl

from wornby.errors import EstimateError
from wornby.histories.counts import YEARS, Counts
from wornby.ledger import Ledger, ledger_from
from wornby.records.conventions import PER_MILE
from wornby.records.judging import judge
from wornby.survey.answers import Survey
from wornby.survey.heaps import Heaping, survey_heaping
from wornby.survey.life_bounds import DAYS_PER_YEAR, renewal_bounds, vehicle_bounds
from wornby.survey.on_scale import scale_bounds
from wornby.survey.survey_rules import SurveyRule
from wornby.survey.told_components import UNSURE
from wornby.survey.told_lives import ANSWER, LIFE_RULES, later_lives, original_lives
from wornby.tables import COUNTS

EPOCH_YEAR = 1970
DIGITS = 6
"""Bounds are counted as alike to so many digits after the point."""


@dataclass(frozen=True, eq=False, slots=True)
class SurveyLives:
    """Lives of original and of renewed parts, by component, as answers tell them.

    `told` counts answers as given (component, answers, renewed, original, unsure) and what they
    made (lives, and later ones of renewed parts); small numbers and all, so that it is for
    `reports` to say which may be shown. `lives` has a row for each
    original part's life: respondent, component, unit, entry, lower, upper, weight. `heaps` are
    the tests by which round years and distances were widened.
    """

    counts: Mapping[str, Counts]
    renewed: Mapping[str, Counts]
    told: pl.DataFrame = field(repr=False)
    lives: pl.DataFrame = field(repr=False)
    heaps: tuple[Heaping, ...]
    rule: SurveyRule
    ledger: Ledger


def survey_lives(
    survey: Survey,
    *,
    rule: SurveyRule,
    weights: pl.DataFrame | None = None,
) -> SurveyLives:
    """Each answer on a component as an interval on the life of its original part.

    Lives are told in the survey's `units`, in years where it has none. `weights` has
    respondent and weight, as `weighted_survey` makes them; those without one are set aside.
    Counts are then scaled to their effective number (Kish 1965), so that intervals are as wide
    as unequal weights make them.

    A vehicle that answers has lasted until then: no life is cut short by that unless a vehicle
    was given up because the part failed, and such vehicles never answer.
    """
    if survey.components is None:
        raise EstimateError("layout.toml names no file with table = 'component_answers'; add one")
    if survey.dates["answered_low"].null_count() == survey.dates.height:
        raise EstimateError(
            "no day of the answers: add `answered` to the survey's columns or constants in "
            "layout.toml"
        )
    renewals = survey.components.renewals
    heaps = survey_heaping(renewals, latest=_latest_year(survey.dates))
    weighted = _weighted(vehicle_bounds(survey.answers, survey.dates, rule), weights)
    known = renewals.filter(pl.col("state") != UNSURE).with_columns(
        unit=pl.col("component").replace_strict(
            dict(survey.units), default=YEARS, return_dtype=pl.String
        )
    )
    by_age = pl.col("unit") == YEARS
    on_scale = known.with_columns(
        scale=pl.when(by_age).then(pl.lit("age")).otherwise(pl.lit("distance"))
    )
    told = on_scale.join(weighted, on="respondent", how="left", maintain_order="left")
    bounded = scale_bounds(renewal_bounds(told, heaps, rule), rule)
    judged = judge(original_lives(bounded, rule), LIFE_RULES)
    lives = _in_its_unit(judged.filter(pl.col("fate") == "accepted"))
    later = _in_its_unit(later_lives(bounded, rule)).join(
        lives.select(ANSWER), on=ANSWER, how="semi"
    )
    return SurveyLives(
        counts=_counts(lives, "original", rule),
        renewed=_counts(later, "renewed", rule),
        told=_told(renewals, lives, later),
        lives=lives.select(*ANSWER, "unit", "entry", "lower", "upper", "weight"),
        heaps=heaps,
        rule=rule,
        ledger=ledger_from("component lives", judged),
    )


def _in_its_unit(lives: pl.DataFrame) -> pl.DataFrame:
    """Lives told on distance in the unit wanted; answers are read in miles."""
    times = pl.col("unit").replace_strict(PER_MILE, default=1.0, return_dtype=pl.Float64)
    return lives.with_columns(pl.col("entry", "lower", "upper") * times)


def _weighted(vehicles: pl.DataFrame, weights: pl.DataFrame | None) -> pl.DataFrame:
    """Each vehicle with its weight: 1 where none are given, none where it has none."""
    if weights is None:
        return vehicles.with_columns(weight=pl.lit(1.0))
    return vehicles.join(weights.select("respondent", "weight"), on="respondent", how="left")


def _latest_year(dates: pl.DataFrame) -> int:
    """The last calendar year that all answers can speak of."""
    last = dates["answered_high"].drop_nulls().to_list()
    return EPOCH_YEAR + int(max(last) // DAYS_PER_YEAR)


def _counts(lives: pl.DataFrame, origin: str, rule: SurveyRule) -> dict[str, Counts]:
    """Counts by component, each scaled to the effective number of its answers."""
    keys = ["entry", "lower", "upper"]
    made = {}
    for (component, unit), rows in sorted(lives.group_by("component", "unit")):
        weight = pl.col("weight")
        effective = weight * weight.sum() / (weight**2).sum()
        table = (
            rows.select(pl.col(keys).round(DIGITS), count=effective)
            .group_by(keys)
            .agg(pl.col("count").sum())
            .sort(keys)
        )
        what = f"{component} ({origin}, as told)"
        made[str(component)] = Counts(
            COUNTS.shape(table), str(unit), what=what, rule=rule.sentence()
        )
    return made


def _told(renewals: pl.DataFrame, lives: pl.DataFrame, later: pl.DataFrame) -> pl.DataFrame:
    """How many said what of each component, and how many lives that makes."""
    said = renewals.group_by(ANSWER).agg(
        *((pl.col("state") == state).any().alias(state) for state in ("renewed", "original"))
    )
    unsure = ~(pl.col("renewed") | pl.col("original"))
    counted = said.group_by("component").agg(
        answers=pl.len(),
        renewed=pl.col("renewed").sum(),
        original=(pl.col("original") & ~pl.col("renewed")).sum(),
        unsure=unsure.sum(),
    )
    made = counted
    for name, rows in (("lives", lives), ("later", later)):
        counted_lives = rows.group_by("component").agg(pl.len().alias(name))
        made = made.join(counted_lives, on="component", how="left")
    return made.with_columns(pl.col("lives", "later").fill_null(0)).sort("component")
