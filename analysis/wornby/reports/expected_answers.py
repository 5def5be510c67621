"""Answers on demand: what failures and jobs to expect from the vehicles in the book."""

from collections.abc import Mapping

import polars as pl

from wornby.decisions.book import MONTHS_AHEAD
from wornby.decisions.expected import ExpectedFailures, combined
from wornby.errors import EstimateError
from wornby.histories.recurring import failures_by_year
from wornby.reports.amounts import percent
from wornby.reports.answer import ALL, Answer
from wornby.reports.forecasts import YEARS_BACK, Forecast, forecast, parts_with_returns
from wornby.reports.sentences import cautions_for
from wornby.reports.workshop import NO_ORIGINALS, Workshop

MONTHS = (3, 6, 12)
COUNTS = {"failures": "expected_failures", "parts": "expected_parts", "jobs": "expected_jobs"}


def expected_answer(workshop: Workshop, *, months: int = MONTHS_AHEAD) -> Answer:
    """Failures and jobs to expect in the months ahead from the vehicles in the book."""
    if months not in MONTHS:
        raise ValueError(f"{months} months: wanted {', '.join(map(str, MONTHS[:-1]))} or 12")
    parts = parts_with_returns(workshop, months)
    before = failures_by_year(workshop.records, workshop.histories, years=YEARS_BACK)
    told, unknown = _forecasts(workshop, months)
    if not told:
        raise EstimateError(f"no component has a curve, so nothing can be expected. {NO_ORIGINALS}")
    told = dict(sorted(told.items(), key=lambda item: -item[1]["failures"].mean))
    before[ALL] = [sum(years) for years in zip(*before.values(), strict=True)]
    told[ALL] = {key: combined([one[key] for one in told.values()]) for key in COUNTS}
    rows = [_typed(name, one, months) for name, one in told.items()]
    rows += [{"component": name, "note": why} for name, why in unknown.items()]
    people = [
        {
            "component": name,
            f"failures, next {months} months": _count(one["failures"]),
            "jobs": _count(one["jobs"]),
            "parts to fit": _count(one["parts"]),
            f"each of the last {YEARS_BACK} years": ", ".join(map(str, before[name])),
            "parts in the book": f"{one['failures'].n_parts:,}",
        }
        for name, one in told.items()
    ]
    return Answer(
        f"Failures and jobs to expect in the next {months} months",
        pl.DataFrame(people),
        pl.DataFrame(rows, infer_schema_length=None),
        (
            *_expected_notes(workshop, parts),
            *(f"Not known: {why}." for why in unknown.values()),
            *cautions_for(list(workshop.catalogue.components.values())),
        ),
    )


def _forecasts(
    workshop: Workshop, months: int
) -> tuple[dict[str, dict[str, ExpectedFailures]], dict[str, str]]:
    """Each component's counts to come, or why there are none."""
    told: dict[str, dict[str, ExpectedFailures]] = {}
    unknown: dict[str, str] = {}
    for component in workshop.catalogue.components.values():
        try:
            one = forecast(workshop, component, horizon_years=months / 12, months=months)
        except EstimateError as error:
            unknown[component.name] = str(error)
        else:
            told[component.name] = _counts(one)
    return told, unknown


def _counts(one: Forecast) -> dict[str, ExpectedFailures]:
    return {"failures": one.failures, "parts": one.parts, "jobs": one.jobs}


def _typed(name: str, one: Mapping[str, ExpectedFailures], months: int) -> dict[str, object]:
    """A row for programs; the interval of the failures keeps its short names."""
    failures = one["failures"]
    row: dict[str, object] = {
        "component": name,
        "parts": failures.n_parts,
        "expected_failures": failures.mean,
        "lower": failures.lower,
        "upper": failures.upper,
        "confidence": failures.confidence,
        "months": months,
    }
    for key, column in COUNTS.items():
        if key != "failures":
            row |= {
                column: one[key].mean,
                f"{key}_lower": one[key].lower,
                f"{key}_upper": one[key].upper,
            }
    return {**row, "note": ""}


def _count(count: ExpectedFailures) -> str:
    return f"{count.mean:.0f} ({count.lower} to {count.upper})"


def _expected_notes(workshop: Workshop, parts: pl.DataFrame) -> tuple[str, ...]:
    returns = parts.unique("vehicle")["return_chance"].mean()
    unknown = parts.filter(pl.col("age_years").is_null()).height
    return (
        f"A failure is counted where the part has {workshop.episodes.rule.failed}. The forecast "
        "is for vehicles in the book now, one failure a part; failures of new customers and second "
        "failures come on top, and are in the failures of past years. A part that is renewed as a "
        "precaution first, as often at its age as so far, can no longer fail. Each interval holds "
        "what the records leave open of the curve and the luck of each vehicle, "
        f"{workshop.confidence:.0%} of the chances.",
        f"Parts to fit are these failures and, at the rate of the last {YEARS_BACK} years, what "
        "was fitted as a precaution, for no stated reason, or on a new customer's first visit. "
        "Jobs are the visits that fit them.",
        f"{percent(float(returns or 0.0))} of vehicles in the book come back, judged by those of "  # type: ignore[arg-type]  # a mean of floats
        "former years by how long they had stayed away. Of "
        f"{parts.height:,} parts {unknown:,} are of unknown age: whether they were renewed before "
        "the first visit, and when, is drawn from the original's curve and from how many of either "
        "kind looks have told.",
    )
