"""From what was told of a renewal to bounds on the age, or the distance, at which it was."""

from collections.abc import Sequence

import polars as pl

from wornby.survey.heaps import Heaping, heaped_half
from wornby.survey.survey_rules import ABOUT, MODEL_YEARS, RECALL, SurveyRule
from wornby.survey.told_spans import COARSEST_STEP

DAYS_PER_YEAR = 365.25
MONTHS_PER_YEAR = 12
REACHING = ("day", "ago", "age")
"""Kinds of span that "about", a heap or a memory may widen."""


def vehicle_bounds(answers: pl.DataFrame, dates: pl.DataFrame, rule: SurveyRule) -> pl.DataFrame:
    """Of each vehicle when it was registered, bought and answered for: years since 1970, as bounds.

    Beside these respondent and odometer_mi, and the age at the answer: age_low, age_high. First
    registration lies in the model year's span where it is not told. What cannot be is left to
    the ledger of lives: the age is then nought or less.
    """
    before, after = MODEL_YEARS[rule.model_years]
    year = (pl.date(pl.col("model_year"), 1, 1) - pl.date(1970, 1, 1)).dt.total_days()
    next_year = (pl.date(pl.col("model_year") + 1, 1, 1) - pl.date(1970, 1, 1)).dt.total_days()
    days = {name: pl.col(name) / DAYS_PER_YEAR for name in dates.columns if name != "respondent"}
    joined = answers.select("respondent", "model_year", "odometer_mi").join(
        dates, on="respondent", how="left", maintain_order="left"
    )
    known = joined.with_columns(**days).with_columns(
        registered_low=pl.coalesce(
            "first_registered_low", year / DAYS_PER_YEAR + before / MONTHS_PER_YEAR
        ),
        registered_high=pl.coalesce(
            "first_registered_high", (next_year - 1) / DAYS_PER_YEAR + after / MONTHS_PER_YEAR
        ),
    )
    return known.select(
        "respondent",
        "odometer_mi",
        *(
            f"{name}_{end}"
            for name in ("answered", "registered", "bought")
            for end in ("low", "high")
        ),
        age_low=(pl.col("answered_low") - pl.col("registered_high")).clip(lower_bound=0),
        age_high=pl.col("answered_high") - pl.col("registered_low"),
    )


def renewal_bounds(
    renewals: pl.DataFrame, tests: Sequence[Heaping], rule: SurveyRule
) -> pl.DataFrame:
    """Add to each renewal, beside its vehicle's bounds, when and how far on it was.

    since_low, since_high: years since 1970; open_low: it is only told by when; by_low, by_high:
    that time; age and distance bounds as told on each scale (empty: not told); what cannot be
    is named in `impossible`.
    """
    timed = renewals.with_columns(_since(tests, rule)).with_columns(
        by_low=pl.when("open_low")
        .then(pl.when(pl.col("kind") == "before bought").then("bought_low").otherwise("since_high"))
        .otherwise("since_low")
        .fill_null(pl.col("answered_low")),
        by_high=pl.col("since_high").fill_null(pl.col("answered_high")),
    )
    distances = timed.with_columns(_distances(tests, rule))
    return distances.with_columns(
        impossible=pl.coalesce(pl.when(why).then(pl.lit(said)) for said, why in IMPOSSIBLE.items()),
        since_low=pl.col("since_low").clip(pl.col("registered_low"), pl.col("answered_high")),
        since_high=pl.col("since_high").clip(pl.col("registered_low"), pl.col("answered_high")),
    )


IMPOSSIBLE = {
    "renewed after the answer": pl.col("since_low") > pl.col("answered_high"),
    "renewed before it was registered": pl.col("since_high") < pl.col("registered_low"),
    "renewed at more than the odometer shows": (
        pl.col("told_mi_low") > pl.col("odometer_mi") + COARSEST_STEP
    ),
}
"""What cannot be: the answer is set aside."""


def _since(tests: Sequence[Heaping], rule: SurveyRule) -> list[pl.Expr]:
    """When it was, in years since 1970, as far either way as the rule and the heaps reach."""
    kind, low, high = pl.col("kind"), pl.col("low"), pl.col("high")
    about = pl.col("precision").replace_strict(
        {named: float(months) for named, months in ABOUT[rule.about].items()},
        default=0.0,
        return_dtype=pl.Float64,
    )
    reach = pl.max_horizontal(
        pl.when("about").then(about).otherwise(float(RECALL[rule.recall])) / MONTHS_PER_YEAR,
        heaped_half(tests, distance=False),
    )
    reach = pl.when(kind.is_in(REACHING)).then(reach).otherwise(0.0)
    open_low = (kind == "before bought") | ((kind == "day") & low.is_null())
    starts = (
        pl.when(open_low)
        .then("registered_low")
        .when(kind == "day")
        .then(low / DAYS_PER_YEAR)
        .when(kind == "ago")
        .then(pl.col("answered_low") - high)
        .when(kind == "age")
        .then(pl.col("registered_low") + low)
    )
    ends = (
        pl.when(kind == "before bought")
        .then(pl.coalesce("bought_high", "answered_high"))
        .when(kind == "day")
        .then(pl.coalesce(high / DAYS_PER_YEAR, "answered_high"))
        .when(kind == "ago")
        .then(pl.col("answered_high") - low)
        .when(kind == "age")
        .then(pl.col("registered_high") + high)
    )
    return [
        open_low.fill_null(False).alias("open_low"),
        pl.when(open_low).then(starts).otherwise(starts - reach).alias("since_low"),
        (ends + reach).alias("since_high"),
    ]


def _distances(tests: Sequence[Heaping], rule: SurveyRule) -> list[pl.Expr]:
    """At what distance it was told to be, in miles, as far either way as rule and heaps reach."""
    low, high = pl.col("distance_low"), pl.col("distance_high")
    about = pl.when("distance_about").then(ABOUT[rule.about]["distance"]).otherwise(0.0)
    miles_each = (low + high) / 2 / pl.col("distance_named")
    heaped = (heaped_half(tests, distance=True) * miles_each).fill_null(0.0)
    starts = pl.min_horizontal(low * (1 - about), (low + high) / 2 - heaped).clip(lower_bound=0)
    ends = pl.max_horizontal(high * (1 + about), (low + high) / 2 + heaped)
    told_low = pl.when(low.is_not_null()).then(starts)
    told_high = pl.when(high.is_not_null()).then(ends)
    one_told = low.is_not_null() | high.is_not_null()
    return [
        pl.when(one_told).then(told_low.fill_null(0.0)).alias("told_mi_low"),
        pl.when(one_told).then(told_high.fill_null(pl.col("odometer_mi"))).alias("told_mi_high"),
    ]
