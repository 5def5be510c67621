"""Answers on the form of the curves: does the Weibull fit, and what would its rivals say?"""

import math
from functools import lru_cache
from typing import Any

import polars as pl

from wornby.curves.components import ENOUGH_FAILURES, ComponentCurve
from wornby.curves.reach import outside_failures
from wornby.curves.rival_table import rivals
from wornby.curves.verdicts import (
    FAR_BEHIND,
    WEIBULL_NAME,
    Fit,
    fit_verdicts,
    p_values_of,
    sets_for,
)
from wornby.errors import EstimateError
from wornby.histories.counts import Counts
from wornby.progress import each
from wornby.reports.amounts import amount, between, joined, marked, percent, with_unit
from wornby.reports.answer import Answer
from wornby.reports.life_answers import b10_life
from wornby.reports.sentences import SURE
from wornby.reports.version_answers import p_cells
from wornby.reports.workshop import Workshop

LITTLE_POWER = 20
"""With fewer failures the test finds only gross misfits: in our simulations 10 failures gave away
four in five mixtures with a bad batch, but one in ten sets of lognormal lives."""


@lru_cache(maxsize=4)
def fits_of(workshop: Workshop, *, rejected_only: bool = False) -> tuple[dict[str, Fit], int]:
    """A verdict on each original curve with enough failures, and how many sets were simulated.

    Found once for all answers on the same workshop. `rejected_only` is for who asks
    whether the Weibull stands: rivals are sought only where it does not.
    """
    counts = _enough(workshop)
    n = sets_for(len(counts), SURE)
    fits = fit_verdicts(
        counts,
        level=SURE,
        n=n,
        rng_of=lambda name: workshop.rng(f"does {name} fit"),
        rejected_only=rejected_only,
    )
    return fits, n


def _enough(workshop: Workshop) -> dict[str, Counts]:
    """The lives of the components of which enough have failed to tell forms apart."""
    curves = workshop.original
    return {n: c.counts for n, c in curves.items() if c.counts.n_failures >= ENOUGH_FAILURES}


def fit_answer(workshop: Workshop) -> Answer:
    """Does the Weibull fit? Each component's rivals by AIC and BIC, a test, and a verdict."""
    curves = workshop.original
    fits, n = fits_of(workshop)
    rows, people = [], []
    for name in each(list(workshop.catalogue.components), "fits"):
        failures = round(curves[name].counts.n_failures) if name in curves else 0
        fit, reason = fits.get(name), "" if name in fits else _too_few(workshop, name)
        rows.append({"component": name, "failures": failures} | _typed_fit(fit, reason, n))
        people.append({"component": name, "failed": str(failures)} | _people_fit(fit, reason))
    return Answer(
        "Does the Weibull fit?",
        pl.DataFrame(people),
        pl.DataFrame(rows, infer_schema_length=None),
        _fit_notes(n),
    )


def _too_few(workshop: Workshop, component: str) -> str:
    curve = workshop.original.get(component)
    if curve is None:
        return "no original part was watched"
    return f"{curve.counts.n_failures:g} failed: wanted {ENOUGH_FAILURES} to tell forms apart"


def _best(fit: Fit, criterion: str) -> tuple[str, float | None]:
    """The curve with the least AIC or BIC, and how far the Weibull is behind it."""
    ranked = fit.table.drop_nulls(criterion).sort(criterion)
    own = ranked.filter(curve=WEIBULL_NAME)[criterion].to_list()
    return str(ranked["curve"][0]), (own[0] - float(ranked[criterion][0]) if own else None)


def _typed_fit(fit: Fit | None, reason: str, n: int) -> dict[str, Any]:
    known = fit is not None and fit.table.height > 0
    aic, bic = (_best(fit, c) if fit and known else (None, None) for c in ("aic", "bic"))
    p_value = fit.p_values.get(WEIBULL_NAME) if fit else None
    return {
        "verdict": (fit.verdict or None) if fit else None,
        "weibull_fits": fit.weibull_fits if fit else None,
        "p_value": p_value,
        "p_value_held": fit.held if fit else None,
        "simulated_sets": n if p_value is not None else None,
        "best_by_aic": aic[0],
        "weibull_aic_behind": aic[1],
        "best_by_bic": bic[0],
        "weibull_bic_behind": bic[1],
        "note": reason or (fit.reason if fit else ""),
    }


def _people_fit(fit: Fit | None, reason: str) -> dict[str, str]:
    known = fit is not None and fit.table.height > 0
    told = {"aic": "", "bic": ""}
    for criterion in told if fit and known else ():
        name, behind = _best(fit, criterion) if fit else ("", None)
        gap = f" (Weibull {behind:.1f} behind)" if behind else ""
        told[criterion] = f"{name}{gap}"
    p = fit.p_values.get(WEIBULL_NAME) if fit else None
    verdict = (fit.verdict or f"not judged: {fit.reason}") if fit else f"not judged: {reason}"
    few = p is not None and fit is not None and fit.counts.n_failures < LITTLE_POWER
    return {
        "verdict": verdict + (" (few failures: only a gross misfit would show)" if few else ""),
        **p_cells(p, fit.held if fit else None),
        "best by AIC": told["aic"],
        "best by BIC": told["bic"],
    }


def _fit_notes(n: int) -> tuple[str, ...]:
    error = 100 * math.sqrt(SURE * (1 - SURE) / n)
    return (
        f"The p-value is the share of at most {n} data sets, simulated from the fitted Weibull and "
        "watched alike, that lie as far from their own fit as the records from theirs, measured "
        "against Kaplan-Meier (Cramér-von Mises). It is known to about "
        f"{error:.1f} points at {SURE:.0%} (standard error of the simulation).",
        f"Verdict: rejected where the p-value is {SURE:.0%} or less once held to account for all "
        "components tested (Holm 1979). “Weibull fits”: not rejected. “…, but X is ahead”: not "
        f"rejected, yet X, also of two parameters, has an AIC more than {FAR_BEHIND:g} lower. "
        "“Another two-parameter curve fits better”: rejected, where the curve named is not. “No "
        "two-parameter curve fits”: Weibull, lognormal and log-logistic are all rejected; look "
        "for two kinds of failure in one component, or for a batch of bad parts.",
        "To fit is not to be proven: in simulated worlds a bad batch among good parts seldom "
        "passed for Weibull with 15 failures, yet lognormal lives with 100 failures passed three "
        "times in four.",
        "AIC and BIC (its n the number of failures): lower is better, and three-parameter curves "
        "may win. A lead below 2 says next to nothing. The gamma and curves of three parameters "
        "are ranked, not tested.",
    )


def most_doubtful(fits: Answer) -> str:
    """The component whose Weibull fits worst, of those in the answer of `fit_answer`."""
    return str(fits.frame.sort("p_value", nulls_last=True)["component"][0])


def rivals_answer(workshop: Workshop, component: str) -> Answer:
    """All rivals of the Weibull for one component, and what each says of the B10 life."""
    workshop.catalogue.component(component)
    title, curve = f"Rivals of the Weibull: {component}", workshop.original.get(component)
    if curve is None or curve.counts.n_failures < ENOUGH_FAILURES:
        reason = _too_few(workshop, component)
        row = {"component": component, "curve": "none", "note": reason}
        return Answer(title, pl.DataFrame({"curve": ["none"], "note": [reason]}), pl.DataFrame(row))
    n = sets_for(len(_enough(workshop)), SURE)
    frame, untested = _rival_frame(workshop, curve, n=n)
    own = b10_life(curve, confidence=workshop.confidence)
    return Answer(
        title,
        pl.DataFrame([_people_rival(row, frame) for row in frame.to_dicts()]),
        frame,
        (
            _spread(frame, marked(with_unit(own), own.note), workshop.confidence),
            "Evidence: Akaike's weights, which add up to 100\u00a0% over the curves fitted. BIC "
            f"takes {curve.counts.n_failures:g} failures for its number of observations.",
            untested
            or f"p-values of at most {n} simulated data sets each, for the three curves that can "
            "be tested so, the Weibull's the same as in the table of all components; not held to "
            "account for one another.",
        ),
    )


def _rival_frame(workshop: Workshop, curve: ComponentCurve, *, n: int) -> tuple[pl.DataFrame, str]:
    """The rivals with their B10 lives and p-values, and why there are none of the latter.

    The Weibull is tested on the data sets of `fits_of`, so that its p-value is the same.
    """
    counts, untested = curve.counts, ""
    table, curves = rivals(counts)
    p_values: dict[str, float] = {}
    try:
        for names, what in (
            ({WEIBULL_NAME} & set(curves), f"does {curve.component} fit"),
            (set(curves) - {WEIBULL_NAME}, f"rivals of {curve.component}"),
        ):
            rng = workshop.rng(what)
            p_values |= p_values_of(counts, sorted(names), n=n, rng=rng)
    except EstimateError as error:
        untested = f"No p-values: {error}."
    rows = []
    for row in table.to_dicts():
        reason, name = row.pop("reason"), row["curve"]
        b10 = curves[name].b_life(0.10) if name in curves else None
        said = {"b10": b10, "unit": counts.unit, "p_value": p_values.get(name)}
        note = reason if b10 is None else outside_failures(counts, b10)
        rows.append({"component": curve.component, **row, **said, "note": note})
    return pl.DataFrame(rows, infer_schema_length=None), untested


def _people_rival(row: dict[str, Any], frame: pl.DataFrame) -> dict[str, str]:
    if row["aic"] is None:
        names = ("parameters", "AIC", "BIC", "evidence", "B10 life", "p-value")
        return {"curve": row["curve"], **dict.fromkeys(names, ""), "note": row["note"]}
    lead = {name: row[name] - frame[name].min() for name in ("aic", "bic")}
    return {
        "curve": row["curve"],
        "parameters": str(row["parameters"]),
        **{
            name.upper(): f"{row[name]:.1f}" + (f" (+{gap:.1f})" if gap else " (best)")
            for name, gap in lead.items()
        },
        "evidence": percent(row["weight"]),
        "B10 life": "never so many"
        if math.isinf(row["b10"])
        else marked(f"{amount(row['b10'], row['unit'])} {row['unit']}", row["note"]),
        "p-value": "" if row["p_value"] is None else f"{row['p_value']:.3f}",
        "note": row["note"],
    }


def _spread(frame: pl.DataFrame, own: str, confidence: float) -> str:
    """How much the B10 life hangs on the form, beside how much it hangs on chance."""
    near = frame.filter(pl.col("aic") <= pl.col("aic").min() + FAR_BEHIND)
    low, high = (float(near.select(end).item()) for end in (pl.col("b10").min(), pl.max("b10")))
    unit = str(frame["unit"][0])
    told = marked(f"{between(low, high, unit)} {unit}", joined(*near["note"]))
    return (
        f"The {near.height} curves within {FAR_BEHIND:g} of the best AIC put the B10 life at "
        f"{told}; the Weibull by itself, with its {confidence:.0%} "
        f"interval, at {own}."
    )
