"""What the owner's letter says in short, from the answers that it shows."""

from functools import partial

import polars as pl

from wornby.curves.components import ENOUGH_FAILURES
from wornby.errors import EstimateError
from wornby.records.conventions import month_text
from wornby.reports.amounts import amount, between, money, percent
from wornby.reports.answer import ALL, Answer
from wornby.reports.forecasts import YEARS_BACK
from wornby.reports.left_out import told_by
from wornby.reports.sentences import MOST_NAMED, SURE, WORTH_IT, Sentences
from wornby.reports.workshop import Workshop, pace_of


def owner_findings(
    workshop: Workshop,
    *,
    prices: Answer | Sentences,
    expected: Answer | Sentences,
    ages: Answer | Sentences,
    lives: Answer | Sentences,
    grades: Answer | Sentences,
    card: Answer | Sentences,
    stock: Answer | Sentences,
) -> Sentences:
    """What an owner acts on, most urgent first; of an answer that was left out nothing."""
    return Sentences(
        (
            _opening(workshop),
            *told_by(prices, partial(_prices, currency=workshop.catalogue.currency)),
            *told_by(card, partial(_while_open, workshop=workshop)),
            *told_by(ages, _renewals),
            *told_by(expected, _expected),
            *told_by(stock, partial(_stock, currency=workshop.catalogue.currency)),
            *told_by(lives, _earliest),
            *told_by(grades, _grades),
        )
    )


def _opening(workshop: Workshop) -> str:
    records = workshop.records
    if records.visits.is_empty():
        raise EstimateError(
            "no job line serves for lives yet: `wornby read` says why, most often that no vehicle "
            "has its first registration"
        )
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


def _while_open(frame: pl.DataFrame, workshop: Workshop) -> list[str]:
    """The parts that are renewed youngest while their access is open, by the card."""
    known = [
        name
        for name, curve in workshop.original.items()
        if curve.counts.n_failures >= ENOUGH_FAILURES
    ]
    by_money = frame.filter(~pl.col("safety"), pl.col("component").is_in(known))
    pays = by_money.filter("pays_while_open").sort("break_even_age_years")
    told = [
        f"{row['component']} from {row['says']} ({row['access']}; "
        f"{_failed(workshop.original[row['component']].counts.n_failures)})"
        for row in pays.to_dicts()
    ]
    if not told:
        return ["No part is known to be worth renewing while its access is open anyway."]
    return [
        f"{_of(pays.height, by_money.height, 'part')} worth renewing while the access is open "
        f"anyway, once old enough{_not_counted(frame, by_money)}, first of all "
        f"{'; '.join(told[:MOST_NAMED])}. These are ages of the part, to the nearest half year or "
        f"thousand {pace_of(workshop).unit}; no range can be given."
    ]


def _failed(n: float) -> str:
    return "rests on 1 failure" if n == 1 else f"rests on {n:,.0f} failures"


def _of(n: int, total: int, thing: str) -> str:
    """How many of a thing, with its verb: "1 of 6 parts is", "4 of 6 parts are"."""
    return f"{n} of {total} {thing}{'' if total == 1 else 's'} {'is' if n == 1 else 'are'}"


def _renewals(frame: pl.DataFrame) -> list[str]:
    saves = pl.col("renew_at_years").is_finite() & (pl.col("saving_share") >= WORTH_IT)
    by_money = frame.filter(~pl.col("safety"), pl.col("failures") >= ENOUGH_FAILURES)
    pays = by_money.filter(saves)
    told = [
        f"{row['component']} at {row['renew_at_years']:.1f} years (saves "
        f"{percent(row['saving_share'])} of its cost, {percent(row['saving_lower_share'])} to "
        f"{percent(row['saving_upper_share'])})"
        for row in pays.sort("saving_share", descending=True).head(MOST_NAMED).to_dicts()
    ]
    if not told:
        return ["No part is known to be worth renewing by itself before it fails."]
    return [
        f"{_of(pays.height, by_money.height, 'part')} worth renewing by {_selves(pays.height)} "
        f"fail{_not_counted(frame, by_money)}, most of all {'; '.join(told)}. The others are "
        "cheaper left until they fail or until their access is open, by the card of what to renew "
        "while a job is open."
    ]


def _not_counted(frame: pl.DataFrame, counted: pl.DataFrame) -> str:
    """Why fewer parts are counted than there are, in brackets."""
    safety = frame.filter("safety").height
    few = frame.height - counted.height - safety
    why = (
        f"the safety part{' goes' if safety == 1 else 's go'} by inspection" if safety else "",
        f"of {few} {'other' if safety else 'more'} too few have failed to say" if few else "",
    )
    said = "; ".join(text for text in why if text)
    return f" ({said})" if said else ""


def _selves(n: int) -> str:
    return "itself before it" if n == 1 else "themselves before they"


def _expected(frame: pl.DataFrame) -> list[str]:
    known = frame.filter(pl.col("expected_failures").is_not_null())
    total = next(iter(known.filter(pl.col("component") == ALL).to_dicts()), None)
    if total is None:
        return []
    ordered = known.filter(pl.col("component") != ALL).sort("expected_failures", descending=True)
    told = [
        f"{row['component']} {row['expected_failures']:.0f} ({row['lower']} to {row['upper']})"
        for row in ordered.head(MOST_NAMED).to_dicts()
    ]
    return [
        f"Expect {total['expected_failures']:.0f} ({total['lower']} to {total['upper']}) failures "
        f"in the next 12 months from the vehicles in the book, most of all {', '.join(told)}; new "
        "customers come on top."
    ]


def _stock(frame: pl.DataFrame, currency: str) -> list[str]:
    """What the shelf of least cost holds and spares, and the parts that it takes most of."""
    total = frame.filter(component=ALL).to_dicts()[0]
    kept = frame.filter((pl.col("component") != ALL) & (pl.col("least_cost") > 0))
    told = [
        f"{row['component']}, {row['grade']}, {row['least_cost']} ({row['asked_for_lower']} to "
        f"{row['asked_for_upper']} asked for in an order's {_days(row['lead_time_days'])}; "
        f"{row['fitted_of_late']:,} fitted in {YEARS_BACK} years)"
        for row in kept.sort(["least_cost", "demand_per_year"], descending=True)
        .head(MOST_NAMED)
        .to_dicts()
    ]
    without = money(total["none_cost_per_year_net"], currency)
    if not told:
        return [f"No part is worth keeping on the shelf: jobs that wait cost {without} a year."]
    n = total["least_cost"]
    return [
        f"Keep {n} {'part' if n == 1 else 'parts'} on the shelf, worth "
        f"{money(total['money_in_stock_net'], currency)}: with the jobs that still wait "
        f"{'it costs' if n == 1 else 'they cost'} "
        f"{money(total['least_cost_per_year_net'], currency)} a year, against {without} with none. "
        f"Most of all {'; '.join(told)}.{_better_kept(kept, currency)}"
    ]


def _better_kept(kept: pl.DataFrame, currency: str) -> str:
    """How many of the parts kept are of grades that fail sooner than others."""
    worse = kept.filter("fails_sooner")
    n = worse["least_cost"].sum()
    if not n:
        return ""
    worth = money(float(worse["money_in_stock_net"].sum()), currency)
    return (
        f" {n} of them, worth {worth}, {'is of a grade' if n == 1 else 'are of grades'} that "
        f"{'fails' if n == 1 else 'fail'} sooner than the others: keep another in "
        f"{'its' if n == 1 else 'their'} place."
    )


def _days(days: float) -> str:
    return "1 day" if days == 1 else f"{days:g} days"


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
        & (pl.col("p_value_held") < SURE)
        & (pl.col("failures_per_100_years") > pl.col("others_per_100_years"))
    )
    worst = copies.sort("p_value_held").head(1).to_dicts()
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
