"""Numbers as people read them: few digits, with unit and interval."""

import math

from wornby.curves.reach import EXTRAPOLATED
from wornby.curves.uncertainty import Estimate
from wornby.histories.counts import YEARS
from wornby.records.conventions import CURRENCY_SIGNS, PER_MILE

PER_CENT = "\u00a0%"
"""Number and sign never part at the end of a line."""


def amount(value: float, unit: str) -> str:
    """One number with as many digits as its unit deserves, without the unit.

    >>> amount(6.3412, "years"), amount(84_321.0, "miles")
    ('6.3', '84,300')
    """
    if math.isinf(value):
        return "no limit"
    if unit in ("chance", "share"):
        return percent(value)
    if unit in ("miles", "kilometres", "days", "hours"):
        return f"{_three_digits(value):,.0f}"
    return f"{value:.1f}"


def stated(value: float, unit: str) -> str:
    """An age or distance that somebody chose, with its unit and no digit that they did not give.

    >>> stated(12.0, "years"), stated(12.5, "years"), stated(100_000.0, "miles")
    ('12 years', '12.5 years', '100,000 miles')
    """
    return f"{value:,.10g} {unit}"


def percent(share: float) -> str:
    """A share in per cent; small ones keep a digit, and none is called nothing.

    >>> [percent(x).replace("\\u00a0", " ") for x in (0.1249, 0.004, 0.00001, 0.0)]
    ['12 %', '0.4 %', 'below 0.1 %', '0 %']
    """
    if share <= 0:
        return f"0{PER_CENT}"
    if share < 0.001:
        return f"below 0.1{PER_CENT}"
    return f"{100 * share:.{0 if share >= 0.0095 else 1}f}{PER_CENT}"


def simulated_chance(share: float, *, draws: int) -> str:
    """A share of so many simulated cases in per cent; never seen in them is not impossible.

    >>> simulated_chance(0.0, draws=200).replace("\\u00a0", " ")
    'below 0.5 %'
    """
    return percent(share) if share > 0 else f"below {percent(max(1 / draws, 0.001))}"


def money(value: float, currency: str) -> str:
    """An amount in whole units of the currency.

    >>> money(1234.5, "GBP"), money(-80.0, "GBP")
    ('£1,234', '-£80')
    """
    symbol = CURRENCY_SIGNS.get(currency, f"{currency} ")
    return f"{'-' if value < 0 else ''}{symbol}{abs(value):,.0f}"


def with_tax(net: float, tax_rate: float, currency: str) -> str:
    """An amount to be paid, with its tax first, as whoever cannot reclaim it pays it.

    >>> with_tax(1710.0, 0.2, "GBP"), with_tax(1710.0, 0.0, "GBP")
    ('£2,052 with tax (£1,710 before)', '£1,710')
    """
    if tax_rate == 0:
        return money(net, currency)
    return f"{money(net * (1 + tax_rate), currency)} with tax ({money(net, currency)} before)"


def in_cases(chance: float) -> str:
    """A chance as a count of cases.

    >>> in_cases(0.957), in_cases(0.999), in_cases(0.001)
    ('96 cases of 100', 'more than 99 cases of 100', 'less than 1 case of 100')
    """
    count = round(100 * chance)
    if count >= 100:
        return "more than 99 cases of 100"
    if count <= 0:
        return "less than 1 case of 100"
    return f"{count} {'case' if count == 1 else 'cases'} of 100"


def between(lower: float, upper: float, unit: str) -> str:
    """An interval: "5.7 to 6.9", or what is known of its ends.

    An age or distance of nought is no limit: the likelihood came down to none before it.

    >>> between(0.0, 15.3, "years")
    'no lower limit, up to 15.3'
    """
    if lower <= 0 and unit in (YEARS, *PER_MILE):
        return _no_lower(None if math.isinf(upper) else amount(upper, unit))
    if math.isinf(upper):
        return f"{amount(lower, unit)} or more"
    return f"{amount(lower, unit)} to {amount(upper, unit)}"


def estimate_text(estimate: Estimate) -> str:
    """An estimate with its interval: "6.3 (5.7 to 6.9)"; without a value, its bound alone.

    >>> estimate_text(Estimate(6.34, 5.71, 6.9, 0.9, "years"))
    '6.3 (5.7 to 6.9)'
    """
    if estimate.lower is None or estimate.upper is None:
        return estimate.note or "out of reach"
    bound = between(estimate.lower, estimate.upper, estimate.unit)
    if estimate.value is None:
        return bound if estimate.lower else f"at most {amount(estimate.upper, estimate.unit)}"
    return f"{amount(estimate.value, estimate.unit)} ({bound})"


def with_unit(estimate: Estimate) -> str:
    """An estimate with its interval and unit: "6.3 (5.7 to 6.9) years", "4.3 years or more".

    >>> with_unit(Estimate(None, 4.3, math.inf, 0.9, "years"))
    '4.3 years or more'
    """
    if estimate.lower is None or estimate.upper is None:
        return estimate.note or "out of reach"
    if estimate.value is None and math.isinf(estimate.upper):
        return f"{amount(estimate.lower, estimate.unit)} {estimate.unit} or more"
    return f"{estimate_text(estimate)} {estimate.unit}"


def marked(text: str, note: str) -> str:
    """A text with its mark where the note says that nothing was seen so far out.

    >>> marked("12.1 years", "beyond the last failure at 9 years: extrapolated")
    '12.1 years, extrapolated'
    """
    return f"{text}, {EXTRAPOLATED}" if EXTRAPOLATED in note else text


def joined(*notes: str) -> str:
    """Notes one after the other, each once, the empty left out.

    >>> joined("few failures", "", "few failures", "one version")
    'few failures; one version'
    """
    return "; ".join(dict.fromkeys(note for note in notes if note))


def shape_text(estimate: Estimate) -> str:
    """A Weibull shape with two decimals and its interval."""
    if estimate.value is None or estimate.lower is None or estimate.upper is None:
        return estimate.note or "out of reach"
    ends = f"{estimate.lower:.2f} to {estimate.upper:.2f}"
    if estimate.lower <= 0:
        ends = _no_lower(None if math.isinf(estimate.upper) else f"{estimate.upper:.2f}")
    elif math.isinf(estimate.upper):
        ends = f"{estimate.lower:.2f} or more"
    return f"{estimate.value:.2f} ({ends})"


def _no_lower(upper: str | None) -> str:
    return "no limit either way" if upper is None else f"no lower limit, up to {upper}"


def _three_digits(value: float) -> float:
    """Three significant digits of a large number, whole units of a small one."""
    if value < 1000:
        return round(value)
    return round(value, 2 - math.floor(math.log10(value)))
