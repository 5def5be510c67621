"""Findings in words, written from the results, so that text and table cannot disagree."""

import html
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

import polars as pl

from wornby.errors import EstimateError, RecordError
from wornby.records.catalogue import Component
from wornby.records.conventions import month_text
from wornby.reports.amounts import amount, between, money, percent
from wornby.reports.answer import ALL, INERT_IN_JUPYTER, Answer
from wornby.reports.shown_text import LONGEST_SENTENCE, shown
from wornby.reports.workshop import Workshop

Told = TypeVar("Told")
MOST_NAMED = 3
WORTH_IT = 0.01
"""A saving of less than one per cent of the cost is none: what is close to it may be left."""
SURE = 0.05
CAUTION_WORDS = {
    "hot coolant": "Hot coolant is under pressure and scalds: open no cap until the engine is "
    "cold, and judge coolant and its leaks cold.",
    "raised vehicle": "A raised vehicle stands on stands or a lift rated for it, never on a jack "
    "alone; what holds up the engine or gearbox must hold before a mount is undone.",
    "brakes": "Brakes, steering and fuel are safety work: by a qualified person, to the maker's "
    "instructions and the local rules, tested before the vehicle leaves.",
    "steering": "Steering and suspension hold the vehicle on the road: a spring under load is "
    "undone only in a compressor made for it, and wheels are aligned before the vehicle leaves.",
    "fuel": "Fuel burns and its vapour explodes: work cold, in moving air, without flame or spark, "
    "and let the pressure off first.",
    "restraint": "Seat belts and air bags fail or fire when wrongly handled: by a qualified "
    "person, to the maker's instructions.",
}
SAFETY_CAUTION = (
    "A safety part found degraded is never left: the vehicle stays off the road until a qualified "
    "person has renewed it."
)
NEVER_CERTIFIED = (
    "they never certify a vehicle safe, and local codes, the maker's instructions and the "
    "judgement of whoever inspects the vehicle come first."
)
DISCLAIMER = (
    "These are estimates from past jobs. They advise which parts to look at and what work to "
    f"offer; {NEVER_CERTIFIED}"
)


@dataclass(frozen=True, slots=True)
class Sentences:
    """A list of sentences, as text or as a page shows them."""

    sentences: tuple[str, ...]
    style: str = "findings"

    def __repr__(self) -> str:
        """One sentence a line."""
        return "\n".join(f"- {sentence}" for sentence in self.texts())

    def texts(self) -> list[str]:
        """The sentences as a reader gets them: inert and of bearable length."""
        return [shown(sentence, longest=LONGEST_SENTENCE) for sentence in self.sentences]

    def _repr_html_(self) -> str:
        items = "".join(f"<li>{html.escape(sentence)}</li>" for sentence in self.texts())
        return f'<ul class="{self.style} {INERT_IN_JUPYTER}">{items}</ul>'


def where_stated(ask: Callable[..., Told], *told: Any, **options: Any) -> Told | Sentences:
    """The answer, or in one sentence what the records or workshop.toml do not state for it.

    A report goes on without what a workshop has no use for: no shelf, no looks.
    """
    try:
        return ask(*told, **options)
    except (EstimateError, RecordError) as missing:
        return Sentences((f"Left out: {missing}.",))


def owner_findings(
    workshop: Workshop,
    *,
    prices: Answer,
    expected: Answer,
    ages: Answer,
    lives: Answer,
    grades: Answer,
) -> Sentences:
    """What an owner acts on, most urgent first."""
    return Sentences(
        (
            _opening(workshop),
            *_prices(prices.frame, workshop.catalogue.currency),
            *_renewals(ages.frame),
            _expected(expected.frame),
            *_earliest(lives.frame),
            *_grades(grades.frame),
        )
    )


def analyst_findings(workshop: Workshop, *, lives: Answer, rules: Answer) -> Sentences:
    """What an analyst wants to know first: the base, the rule and what the bias would be."""
    table, rule = workshop.episodes.table, workshop.episodes.rule
    failed, n = float(table.filter("failed")["weight"].sum()), float(table["weight"].sum())
    return Sentences(
        (
            f"{n:,.0f} episodes of {table['vehicle'].n_unique():,} vehicles; {failed:,.0f} of "
            f"them had {rule.failed}. The rule: {rule.sentence()}.",
            _fitted(lives.frame),
            *_bias(rules.frame),
        )
    )


def _opening(workshop: Workshop) -> str:
    records = workshop.records
    days = records.visits.select(first=pl.col("date").min(), last=pl.col("date").max()).row(0)
    first, last = (month_text(day, records.catalogue.date_format) for day in days)
    return (
        f"{records.catalogue.name}: {records.lines.height:,} job lines on "
        f"{records.visits['vehicle'].n_unique():,} vehicles, {first} to {last}. "
        f"{records.catalogue.note}"
    ).strip()


def _prices(frame: pl.DataFrame, currency: str) -> list[str]:
    offered = frame.filter(pl.col("verdict").str.starts_with("offer"))
    told = [
        f"{row['job']} (asked {money(row['present_price_net'], currency)}, floor "
        f"{money(row['floor_price_net'], currency)}, cost in 9 jobs of 10 "
        f"{money(row['cost_lower_net'], currency)} to {money(row['cost_upper_net'], currency)})"
        for row in offered.sort("year_profit_now_net", descending=True).head(MOST_NAMED).to_dicts()
    ]
    low = offered.filter(pl.col("present_price_net") < pl.col("floor_price_net"))["job"].to_list()
    below = (
        f" Asked below their floor: {', '.join(low)}." if low else " None is asked below its floor."
    )
    named = f"; those that earn most: {'; '.join(told)}." + below if told else "."
    return [f"{offered.height} of {frame.height} jobs can be offered at a fixed price{named}"]


def _renewals(frame: pl.DataFrame) -> list[str]:
    saves = pl.col("renew_at_years").is_finite() & (pl.col("saving_share") >= WORTH_IT)
    by_money = frame.filter(~pl.col("safety"))
    pays = by_money.filter(saves)
    told = [
        f"{row['component']} at {row['renew_at_years']:.0f} years (saves "
        f"{percent(row['saving_share'])} of its cost, {percent(row['saving_lower_share'])} to "
        f"{percent(row['saving_upper_share'])})"
        for row in pays.sort("saving_share", descending=True).head(MOST_NAMED).to_dicts()
    ]
    if not told:
        return ["No part is worth renewing by itself before it fails."]
    return [
        f"{pays.height} of {by_money.height} parts are worth renewing by themselves before they "
        f"fail, most of all {'; '.join(told)}. The others are cheaper left until they fail or "
        "until their access is open, by the card of what to renew while a job is open; safety "
        "parts go by inspection, not by money."
    ]


def _expected(frame: pl.DataFrame) -> str:
    known = frame.filter(pl.col("expected_failures").is_not_null())
    total, *_ = known.filter(pl.col("component") == ALL).to_dicts()
    ordered = known.filter(pl.col("component") != ALL).sort("expected_failures", descending=True)
    told = [
        f"{row['component']} {row['expected_failures']:.0f} ({row['lower']} to {row['upper']})"
        for row in ordered.head(MOST_NAMED).to_dicts()
    ]
    return (
        f"Expect {total['expected_failures']:.0f} ({total['lower']} to {total['upper']}) failures "
        f"in the next 12 months from the vehicles in the book, most of all {', '.join(told)}; new "
        "customers come on top."
    )


def _earliest(frame: pl.DataFrame) -> list[str]:
    seen = frame.filter(
        (pl.col("unit") == "years")
        & pl.col("b10_value").is_not_null()
        & ~pl.col("note").str.contains("extrapolated")
        & (pl.col("b10_lower") > pl.col("b10_value") / 2)
    )
    told = [
        f"{row['component']} {amount(row['b10_value'], 'years')} years "
        f"({between(row['b10_lower'], row['b10_upper'], 'years')}; {row['failures']} failures)"
        for row in seen.sort("b10_value").head(MOST_NAMED).to_dicts()
    ]
    if not told:
        return []
    left = " The others are told under how long parts last." if seen.height < frame.height else ""
    return [
        "First to go, of the parts that wear by age and whose early failures the records saw, by "
        f"the age at which one original in ten has: {', '.join(told)}.{left}"
    ]


def _grades(frame: pl.DataFrame) -> list[str]:
    """Where aftermarket parts fail more than the others beyond doubt, and where most surely."""
    copies = frame.filter(
        (pl.col("grade") == "aftermarket")
        & (pl.col("p_value") < SURE)
        & (pl.col("failures_per_100_years") > pl.col("others_per_100_years"))
    )
    worst = copies.sort("p_value").head(1).to_dicts()
    if not worst:
        return ["No part grade can be told from another by these records."]
    row = worst[0]
    return [
        f"Aftermarket parts fail sooner than the others on {copies['component'].n_unique()} of "
        f"{frame['component'].n_unique()} components, most surely the {row['component']}: "
        f"{row['failures_per_100_years']:.0f} failures in 100 years of service, against "
        f"{row['others_per_100_years']:.0f} of the other grades; within two years of fitting "
        f"{percent(row['early_share_value'])} had failed "
        f"({between(row['early_share_lower'], row['early_share_upper'], 'share')})."
    ]


def _fitted(frame: pl.DataFrame) -> str:
    fitted = frame.filter(pl.col("shape").is_not_null())
    few = frame.height - fitted.height
    wearing = fitted.filter(pl.col("shape") > 1).height
    rest = f"; {few} from the posterior because few have failed" if few else ""
    return (
        f"Weibull curves by maximum likelihood for {fitted.height} of {frame.height} components "
        f"(shape above 1, that is wearing out, in {wearing}){rest}."
    )


def _bias(rules: pl.DataFrame) -> list[str]:
    """How far the naive rule is off, on the components where both rules give a value."""
    ratios = rules["naive_ratio"].drop_nulls()
    if ratios.is_empty():
        return []
    low, middle, high = (float(ratios.quantile(q) or 0.0) for q in (0.0, 0.5, 1.0))
    return [
        f"Watched naively, from new to the close of records with every renewal a failure, B10 "
        f"lives would be {middle:.2f} times those of the rule in force in the median "
        f"(from {low:.2f} to {high:.2f} between components)."
    ]


def cautions_for(components: Sequence[Component]) -> tuple[str, ...]:
    """The cautions that these components carry, each once; a safety part always carries one."""
    carried = {name for component in components for name in component.cautions}
    if "steering" in carried:
        carried.add("brakes")
    said = tuple(text for name, text in CAUTION_WORDS.items() if name in carried)
    return (*said, *([SAFETY_CAUTION] if any(c.safety for c in components) else []))


def cautions(workshop: Workshop) -> Sentences:
    """The cautions of all components, and what these figures cannot do."""
    told = cautions_for(list(workshop.catalogue.components.values()))
    return Sentences((*told, DISCLAIMER), style="caution")
