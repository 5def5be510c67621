"""Findings in words, written from the results, so that text and table cannot disagree."""

import html
from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from wornby.records.catalogue import Component
from wornby.reports.amounts import amount, between, money, percent
from wornby.reports.answer import Answer
from wornby.reports.workshop import Workshop

MOST_NAMED = 3
CAUTIONS = {
    "hot coolant": "Hot coolant is under pressure and scalds: open no cap until the engine is "
    "cold, and judge coolant and its leaks cold.",
    "raised vehicle": "A raised vehicle stands on stands or a lift rated for it, never on a jack "
    "alone; what holds up the engine or gearbox must hold before a mount is undone.",
    "brakes": "Brakes, steering and fuel are safety work: by a qualified person, to the maker's "
    "instructions and the local rules, tested before the vehicle leaves.",
}
DISCLAIMER = (
    "These are estimates from past jobs. They advise which parts to look at and what work to "
    "offer; they never certify a vehicle safe, and local codes, the maker's instructions and the "
    "judgement of whoever inspects the vehicle come first."
)


@dataclass(frozen=True, slots=True)
class Sentences:
    """A list of sentences, as text or as a page shows them."""

    sentences: tuple[str, ...]
    style: str = "findings"

    def __repr__(self) -> str:
        """One sentence a line."""
        return "\n".join(f"- {sentence}" for sentence in self.sentences)

    def _repr_html_(self) -> str:
        items = "".join(f"<li>{html.escape(sentence)}</li>" for sentence in self.sentences)
        return f'<ul class="{self.style}">{items}</ul>'


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
            _earliest(lives.frame),
            *_grades(grades.frame),
        )
    )


def analyst_findings(workshop: Workshop, *, lives: Answer, rules: Answer) -> Sentences:
    """What an analyst wants to know first: the base, the rule and what the bias would be."""
    table = workshop.episodes.table
    failed, n = int(table["failed"].sum()), table.height
    vehicles = table["vehicle"].n_unique()
    return Sentences(
        (
            f"{n:,} episodes of {vehicles:,} vehicles, {failed:,} of them ended by failure or a "
            f"degraded finding; {workshop.episodes.rule.sentence()}.",
            _fitted(lives.frame),
            _bias(rules.frame),
        )
    )


def _opening(workshop: Workshop) -> str:
    records = workshop.records
    days = records.visits.select(
        first=pl.col("date").min().dt.to_string("%B %Y"),
        last=pl.col("date").max().dt.to_string("%B %Y"),
    ).row(0, named=True)
    return (
        f"{records.catalogue.name}: {records.lines.height:,} job lines on "
        f"{records.visits['vehicle'].n_unique():,} vehicles, {days['first']} to {days['last']}. "
        f"{records.catalogue.note}"
    ).strip()


def _prices(frame: pl.DataFrame, currency: str) -> list[str]:
    offered = frame.filter(pl.col("verdict").str.starts_with("offer"))
    n, of = offered.height, frame.height
    if not of:
        return []
    told = [
        f"{row['job']} from {money(row['price_net'], currency)} before tax (cost in 9 jobs of 10 "
        f"{money(row['cost_lower_net'], currency)} to {money(row['cost_upper_net'], currency)})"
        for row in offered.head(MOST_NAMED).to_dicts()
    ]
    named = f": {'; '.join(told)}" if told else ""
    rest = n - len(told)
    more = f"; and {rest} more in the table" if rest > 0 else ""
    return [f"{n} of {of} jobs can be offered at a fixed price{named}{more}."]


def _renewals(frame: pl.DataFrame) -> list[str]:
    pays = frame.filter(pl.col("renew_at_years").is_finite() & (pl.col("saving_share") >= 0.05))
    best = pays.sort("saving_share", descending=True).head(MOST_NAMED).to_dicts()
    told = [
        f"{row['component']} at {row['renew_at_years']:.0f} years (saves "
        f"{percent(row['saving_share'])} of its cost, {percent(row['saving_lower_share'])} to "
        f"{percent(row['saving_upper_share'])})"
        for row in best
    ]
    left = frame.height - pays.height
    if not told:
        return ["No part is worth renewing by itself before it fails."]
    return [
        f"Worth renewing by themselves before they fail: {'; '.join(told)}. "
        f"{left} of {frame.height} parts are better left until they fail, or until their access "
        "is open."
    ]


def _expected(frame: pl.DataFrame) -> str:
    ordered = frame.sort("expected_failures", descending=True)
    told = [
        f"{row['component']} {row['expected_failures']:.0f} ({row['lower']} to {row['upper']})"
        for row in ordered.head(MOST_NAMED).to_dicts()
    ]
    total = float(frame["expected_failures"].sum())
    return (
        f"Expect about {total:.0f} failures in the next 12 months from the vehicles in the book; "
        f"most of all {', '.join(told)}."
    )


def _earliest(frame: pl.DataFrame) -> str:
    by_age = frame.filter((pl.col("unit") == "years") & pl.col("b10_value").is_not_null())
    told = [
        f"{row['component']} {amount(row['b10_value'], 'years')} years "
        f"({between(row['b10_lower'], row['b10_upper'], 'years')}; {row['failures']} failures)"
        for row in by_age.sort("b10_value").head(MOST_NAMED).to_dicts()
    ]
    return (
        f"First to go, by the age at which one original part in ten has failed: {', '.join(told)}."
    )


def _grades(frame: pl.DataFrame) -> list[str]:
    """The component on which the grades differ most surely, by what failed within two years."""
    copies = frame.filter((pl.col("grade") == "aftermarket") & (pl.col("p_value") < 0.01))
    worst = copies.sort("early_share_lower", descending=True).head(1).to_dicts()
    if not worst:
        return ["No part grade can be told from another by these records."]
    row = worst[0]
    makers = frame.filter(
        (pl.col("component") == row["component"]) & (pl.col("grade") == "genuine")
    ).to_dicts()
    against = (
        f", against {percent(makers[0]['early_share_value'])} "
        f"({between(makers[0]['early_share_lower'], makers[0]['early_share_upper'], 'share')}) of "
        "genuine ones"
        if makers
        else ""
    )
    return [
        f"Aftermarket parts differ from the others on {copies['component'].n_unique()} components; "
        f"most surely the {row['component']}: within two years of fitting "
        f"{percent(row['early_share_value'])} had failed "
        f"({between(row['early_share_lower'], row['early_share_upper'], 'share')}){against}."
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


def _bias(rules: pl.DataFrame) -> str:
    """How far the naive rule is off, on the components where both rules give a value."""
    default, *_, naive = rules["rule"].unique(maintain_order=True)
    wide = rules.filter(pl.col("b10_value").is_not_null()).pivot(
        "rule", index="component", values="b10_value"
    )
    ratios = wide.select((pl.col(naive) / pl.col(default)).alias("ratio")).drop_nulls()["ratio"]
    low, middle, high = (float(ratios.quantile(q) or 0.0) for q in (0.0, 0.5, 1.0))
    return (
        f"Watched naively, from new to the close of records with every renewal a failure, B10 "
        f"lives would be {middle:.2f} times the default's in the median ({low:.2f} to {high:.2f})."
    )


def cautions_for(components: Sequence[Component]) -> tuple[str, ...]:
    """The cautions that these components carry, each once."""
    carried = {component.caution for component in components}
    return tuple(text for name, text in CAUTIONS.items() if name in carried)


def cautions(workshop: Workshop) -> Sentences:
    """The cautions of all components, and what these figures cannot do."""
    told = cautions_for(list(workshop.catalogue.components.values()))
    return Sentences((*told, DISCLAIMER), style="caution")
