"""Answers from few failures: what the prior for the shape adds, beside a shape that is given."""

from typing import Any

import polars as pl

from wornby.curves.components import ComponentCurve
from wornby.curves.given_shape import weibayes
from wornby.curves.shape_prior import ShapePrior
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.reports.amounts import PER_CENT, estimate_text, shape_text, with_unit
from wornby.reports.answer import Answer
from wornby.reports.life_answers import BOUNDS
from wornby.reports.workshop import RENEWAL_GRADE, Workshop


def few_failures_answer(workshop: Workshop) -> Answer:
    """Renewed parts with too few failures for a fit: by the prior, and by the originals' shape.

    Weibayes takes the shape that the original parts of the component show (IEC 61649:2008); its
    limits are chi-square ones, and a single bound where none failed.
    """
    few = [c for c in workshop.renewed.get(RENEWAL_GRADE, {}).values() if c.weibull is None]
    if not few:
        raise EstimateError(f"every renewed {RENEWAL_GRADE} part has failures enough for a fit")
    rows = [_row(workshop, curve) for curve in few]
    return Answer(
        f"Renewed {RENEWAL_GRADE} parts of which few have failed",
        pl.DataFrame([people for _, people in rows], infer_schema_length=None),
        pl.DataFrame([row for row, _ in rows], infer_schema_length=None),
        (
            _prior_told(few[0].posterior.prior),
            "Weibayes takes the shape of the original parts as known, so its intervals are too "
            "narrow by what is not known of it, and wrong where renewed parts wear otherwise.",
            f"Intervals at {workshop.confidence:.0%}, every part by itself: credible ones with the "
            "prior, chi-square ones at the originals' shape; “or more” is one-sided.",
        ),
    )


def _prior_told(prior: ShapePrior) -> str:
    low, high = prior.median / prior.factor, prior.median * prior.factor
    return (
        f"The prior for the shape: {prior.median:g} in the middle, 95{PER_CENT} of it between "
        f"{low:g} and {high:g} ({prior.basis})."
    )


def _row(workshop: Workshop, curve: ComponentCurve) -> tuple[dict[str, Any], dict[str, str]]:
    confidence, original = workshop.confidence, workshop.original.get(curve.component)
    shape = curve.posterior.shape(confidence=confidence)
    life = curve.posterior.b_life(0.1, confidence=confidence)
    given = None if original is None or original.weibull is None else original.weibull.shape
    by_shape = _given(curve, given, confidence)
    row = {"component": curve.component, "failures": curve.counts.n_failures, "given_shape": given}
    for name, told in (("shape", shape), ("b10", life), ("weibayes_b10", by_shape)):
        row |= {f"{name}_{part}": getattr(told, part) for part in BOUNDS}
    return row, {
        "component": curve.component,
        "watched": f"{curve.counts.n_lives:.0f}",
        "failed": f"{curve.counts.n_failures:g}",
        "shape, prior in it": shape_text(shape),
        "B10 life, prior in it": with_unit(life),
        "shape of the originals": "none fitted" if given is None else f"{given:.2f}",
        "B10 life at that shape": estimate_text(by_shape),
    }


def _given(curve: ComponentCurve, shape: float | None, confidence: float) -> Estimate:
    unit = curve.counts.unit
    if shape is None:
        return Estimate(None, None, None, confidence, unit, "no shape to take")
    try:
        return weibayes(curve.counts, shape=shape).b_life(0.1, confidence=confidence)
    except EstimateError as error:
        return Estimate(None, None, None, confidence, unit, str(error))
