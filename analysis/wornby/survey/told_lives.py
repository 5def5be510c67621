"""Each answer's lives: of its original part, and of later ones where all dates are known."""

import polars as pl

from wornby.records.judging import Rule
from wornby.survey.life_bounds import IMPOSSIBLE
from wornby.survey.survey_rules import DATED, LIFE_ENDS, ONE_SIDED, WATCHED_FROM, SurveyRule

ANSWER = ("respondent", "component")
ENDLESS = pl.lit(float("inf"))
SHORTEST = 1e-3
"""A life of less, in years or miles, is none: some hours, some feet."""
MEND_DATE = "mend the date, or the vehicle's first registration or odometer"

LIFE_RULES = (
    Rule(
        "set aside",
        "day of the answer not known",
        "answered",
        pl.col("answered_low").is_null(),
        "write the day of the answer",
    ),
    Rule(
        "set aside",
        "vehicle newer than the answer",
        "model_year",
        pl.col("age_high") <= SHORTEST,
        "mend the model year, or the day of the answer",
    ),
    *(Rule("set aside", why, "when", pl.col("impossible") == why, MEND_DATE) for why in IMPOSSIBLE),
    Rule(
        "set aside",
        "no odometer, and it wears by distance",
        "odometer_mi",
        pl.col("total_high").is_null(),
        "write the odometer",
    ),
    Rule(
        "set aside",
        "no weight: none of its kind on the road",
        "version",
        pl.col("weight").is_null(),
        "mend the year or the version, or add it to the population",
    ),
    Rule(
        "set aside",
        "bought when not told",
        "bought",
        pl.col("entry").is_null(),
        "write when the vehicle was bought",
    ),
    Rule(
        "set aside",
        "not said to have failed, and renewed at a time unknown",
        "when",
        pl.col("worked_until").is_null(),
        "nothing: it says nothing of a failure",
    ),
    Rule(
        "set aside",
        "ended before watching began",
        "bought",
        (pl.col("upper") <= pl.col("entry") + SHORTEST) & (pl.col("entry") > 0),
        "nothing: it was renewed before the vehicle was bought",
    ),
    Rule(
        "set aside",
        "no time watched",
        "when",
        (pl.col("upper") <= pl.col("entry") + SHORTEST)
        | ((pl.col("worked_until") <= pl.col("entry") + SHORTEST) & pl.col("upper").is_infinite()),
        MEND_DATE,
    ),
)
"""Why an answer that was understood says nothing of a life."""


def original_lives(bounded: pl.DataFrame, rule: SurveyRule) -> pl.DataFrame:
    """One row an answer: entry, lower and upper of its original part's life, to be judged.

    Takes `scale_bounds`, a row a renewal. `worked_until` is what the lower bound was before
    watching began; empty where nothing is known.
    """
    answers = _summed(bounded)
    middle = ONE_SIDED[rule.one_sided]
    certain = _dates_known(latest=DATED[rule.dated])
    ends = pl.col("why").is_in(list(LIFE_ENDS[rule.life_ends]))
    original = pl.col("state") == "original"
    by = (
        pl.when(_first_told(latest=DATED[rule.dated]))
        .then(_between("by_high", "by_low", middle))
        .otherwise(_between("total_high", "total_low", middle))
    )
    worked_until = (
        pl.when(original)
        .then(_between("total_low", "total_high", middle))
        .when(certain)
        .then("low")
        .when(ends)
        .then(0.0)
    )
    upper = pl.when(original | ~ends).then(ENDLESS).when(certain).then("high").otherwise(by)
    bought = _between("bought_at_high", "bought_at_low", middle)
    entry = bought if WATCHED_FROM[rule.watched_from] else pl.lit(0.0)
    lives = answers.with_columns(entry=entry, worked_until=worked_until, upper=upper)
    return lives.with_columns(lower=pl.max_horizontal("worked_until", "entry"))


def later_lives(bounded: pl.DataFrame, rule: SurveyRule) -> pl.DataFrame:
    """One row a part renewed since, where the answer dates every renewal: lower and upper.

    Each is known from when it was fitted, in the bounds of that; the last is in service still.
    Answers that date the latest of several say nothing here: parts still in service are then
    those that lasted.
    """
    far = pl.col("scale") == "distance"
    dated = pl.col("since_low").is_not_null()
    place = {
        end: pl.when(far)
        .then(end)
        .when(dated)
        .then(f"since_{end}")
        .otherwise(pl.col(f"registered_{end}") + pl.col(end))
        for end in ("low", "high")
    }
    answer_at = {
        end: pl.when(far).then("odometer_mi").otherwise(f"answered_{end}")
        for end in ("low", "high")
    }
    complete = _summed(bounded).filter(_dates_known(latest=True), pl.col("impossible").is_null())
    rows = (
        bounded.join(complete.select(ANSWER), on=ANSWER)
        .with_columns(fitted_low=place["low"], fitted_high=place["high"])
        .sort(*ANSWER, "fitted_low", "fitted_high")
    )
    after = {end: pl.col(f"fitted_{end}").shift(-1).over(ANSWER) for end in ("low", "high")}
    last = after["low"].is_null()
    ends = pl.col("why").is_in(list(LIFE_ENDS[rule.life_ends]))
    least = pl.coalesce(after["low"], answer_at["low"]) - pl.col("fitted_high")
    most = pl.coalesce(after["high"], answer_at["high"]) - pl.col("fitted_low")
    middle = least + ONE_SIDED[rule.one_sided] * (most - least)
    lives = rows.with_columns(
        entry=pl.lit(0.0),
        lower=pl.when(last).then(middle).otherwise(least).clip(lower_bound=0.0),
        upper=pl.when(last | ~ends).then(ENDLESS).otherwise(most),
    )
    return lives.filter(
        pl.when(pl.col("upper").is_infinite()).then("lower").otherwise("upper") > SHORTEST
    )


def _summed(bounded: pl.DataFrame) -> pl.DataFrame:
    """One row an answer: the bounds of its first renewal, and how many it dates."""
    of_vehicle = ("scale", "unit", "state", "why", "answered_low", "age_high", "total_low",
                  "total_high", "bought_at_low", "bought_at_high")  # fmt: skip
    return bounded.group_by(ANSWER, maintain_order=True).agg(
        *(pl.col(name).first() for name in of_vehicle),
        pl.col("times", "weight").max(),
        pl.col("impossible").drop_nulls().first(),
        pl.col("low", "high", "by_low", "by_high").min(),
        dates=pl.col("low").count(),
        rows=pl.len(),
    )


def _dates_known(*, latest: bool) -> pl.Expr:
    """Whether the first renewal is dated: all are, or the one date is not taken as the latest."""
    all_dated = (pl.col("dates") == pl.col("rows")) & (pl.col("dates") > 0)
    return all_dated & _first_told(latest=latest)


def _first_told(*, latest: bool) -> pl.Expr:
    """Whether what is told is told of the first renewal, not perhaps of a later one."""
    if not latest:
        return pl.lit(True)
    alone = (pl.col("rows") == 1) & pl.col("times").is_null()
    short = (pl.col("rows") < pl.col("times")).fill_null(False)
    return ~(alone | short)


def _between(start: str, end: str, share: float) -> pl.Expr:
    """So far from one bound to the other."""
    return pl.col(start) + share * (pl.col(end) - pl.col(start))
