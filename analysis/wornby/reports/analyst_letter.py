"""What the analyst's letter says first, from the answers that it shows."""

import numpy as np
import polars as pl

from wornby.curves.reach import EXTRAPOLATED
from wornby.reports.answer import Answer
from wornby.reports.left_out import told_by
from wornby.reports.sentences import Sentences
from wornby.reports.workshop import Workshop


def analyst_findings(
    workshop: Workshop, *, lives: Answer | Sentences, rules: Answer | Sentences
) -> Sentences:
    """What an analyst wants to know first: the base, the rule and what the bias would be."""
    table, rule = workshop.episodes.table, workshop.episodes.rule
    failed, n = float(table.filter("failed")["weight"].sum()), float(table["weight"].sum())
    return Sentences(
        (
            f"{n:,.0f} episodes of {table['vehicle'].n_unique():,} vehicles; {failed:,.0f} of "
            f"them had {rule.failed}. The rule: {rule.sentence()}.",
            *told_by(lives, _fitted),
            *told_by(rules, lambda frame: _bias(frame, told_by(lives, _extrapolated))),
        )
    )


def _fitted(frame: pl.DataFrame) -> list[str]:
    fitted = frame.filter(pl.col("shape").is_not_null())
    few = frame.height - fitted.height
    wearing = fitted.filter(pl.col("shape") > 1).height
    rest = f"; {few} from the posterior because few have failed" if few else ""
    return [
        f"Weibull curves by maximum likelihood for {fitted.height} of {frame.height} components "
        f"(shape above 1, that is wearing out, in {wearing}){rest}."
    ]


def _extrapolated(lives: pl.DataFrame) -> list[str]:
    """The components whose B10 life leans on the curve's form."""
    return lives.filter(pl.col("note").str.contains(EXTRAPOLATED))["component"].to_list()


def _bias(rules: pl.DataFrame, extrapolated: list[str]) -> list[str]:
    """How far the naive rule is off, on the components where both rules give a value."""
    known = rules.drop_nulls("naive_ratio")
    if known.is_empty():
        return []
    ratios = known["naive_ratio"].to_numpy()
    n = known.filter(
        pl.col("component").is_in(extrapolated)
        | pl.col("naive_ratio_note").str.contains(EXTRAPOLATED)
    ).height
    rest = f"; {n} of the {known.height} ratios rest on an extrapolated life" if n else ""
    return [
        f"Watched naively, from new to the close of records with every renewal a failure, B10 "
        f"lives would be {np.median(ratios):.2f} times those of the rule in force in the median "
        f"(from {ratios.min():.2f} to {ratios.max():.2f} between components{rest})."
    ]
