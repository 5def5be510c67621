"""Bounds of a renewal on the scale on which its component wears, age or distance."""

from dataclasses import dataclass

import polars as pl

from wornby.survey.survey_rules import PACES, SurveyRule


@dataclass(frozen=True, slots=True)
class _Bounds:
    """A lower and an upper bound, each an expression."""

    low: pl.Expr
    high: pl.Expr

    def where(self, holds: pl.Expr, otherwise: "_Bounds") -> "_Bounds":
        """These bounds where it holds, the others elsewhere."""
        return _Bounds(
            pl.when(holds).then(self.low).otherwise(otherwise.low),
            pl.when(holds).then(self.high).otherwise(otherwise.high),
        )

    def within(self, top: "_Bounds") -> "_Bounds":
        """No less than nought, no more than the top where that is known; nothing of nothing."""
        low, high = (
            pl.when(one.is_not_null()).then(pl.min_horizontal(one, most).clip(lower_bound=0))
            for one, most in ((self.low, top.low), (self.high, top.high))
        )
        return _Bounds(low, high)


def scale_bounds(bounded: pl.DataFrame, rule: SurveyRule) -> pl.DataFrame:
    """Bounds in years or miles, as `scale` says of each component; takes `renewal_bounds`.

    low to high holds the renewal, empty where it is not dated; by_low to by_high the age or
    distance by which it was, whatever the date: at the answer, or when the vehicle was bought
    where it was before that. total_low, total_high: how far the vehicle was at the answer;
    bought_at_low, bought_at_high: when it was bought. What was told on the other scale is
    carried over at the vehicle's own pace, with the rule's allowance.
    """
    far = pl.col("scale") == "distance"
    age, miles = _total("age"), _Bounds(pl.col("odometer_mi"), pl.col("odometer_mi"))
    slack = PACES[rule.paces]
    dated, paced = pl.col("since_low").is_not_null(), pl.col("told_mi_low").is_not_null()
    when = _age("since").within(age)
    by = _age("by").within(age)
    told = _Bounds(pl.col("told_mi_low"), pl.col("told_mi_high")).within(miles)

    in_age = when.where(dated, _carried(told, miles, age, slack))
    in_miles = told.where(paced, _carried(when, age, miles, slack))
    renewed = in_miles.where(far, in_age)
    only_by = (pl.col("open_low") & ~(far & paced)) | ~(dated | paced)
    by_miles = miles.where(~dated, _carried(by, age, miles, slack))
    by_told = by_miles.where(far, by)
    bought = _carried(_age("bought").within(age), age, miles, 0.0).where(
        far, _age("bought").within(age)
    )
    total = miles.where(far, age)
    limit = by_told.where(only_by, total)
    return bounded.with_columns(
        low=pl.when(~only_by).then(renewed.low),
        high=pl.when(~only_by).then(renewed.high),
        by_low=limit.low,
        by_high=limit.high,
        total_low=total.low,
        total_high=total.high,
        bought_at_low=bought.low,
        bought_at_high=bought.high,
    )


def _total(name: str) -> _Bounds:
    return _Bounds(pl.col(f"{name}_low"), pl.col(f"{name}_high"))


def _age(name: str) -> _Bounds:
    """The vehicle's age then: at the least where it was registered last, and the other way."""
    return _Bounds(
        pl.col(f"{name}_low") - pl.col("registered_high"),
        pl.col(f"{name}_high") - pl.col("registered_low"),
    )


def _carried(told: _Bounds, of: _Bounds, to: _Bounds, slack: float) -> _Bounds:
    """The share of one total carried over to another, give or take; nothing of no total."""
    low, high = (
        pl.when(whole > 0).then(part / whole)
        for part, whole in ((told.low, of.low), (told.high, of.high))
    )
    # a vehicle that may have been new at the answer may have had all of its life before it
    least = pl.when(of.high > 0).then(low.fill_null(0.0))
    return _Bounds(least * (1 - slack) * to.low, high * (1 + slack) * to.high).within(to)
