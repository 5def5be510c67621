"""What pictures say, in words and in form, for readers on a phone, in grey or without sight."""

import re
from dataclasses import replace
from itertools import combinations

import numpy as np
import polars as pl
import pytest

from wornby.curves.nonparametric import SurvivalCurve
from wornby.curves.reach import youngest_entry
from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.expected import expected_failures
from wornby.decisions.failures_by_month import monthly_counts, monthly_means
from wornby.errors import EstimateError, RecordError
from wornby.ledger import Ledger
from wornby.reports import figures, life_figures
from wornby.reports.account_figures import draw_account
from wornby.reports.answer import ALL
from wornby.reports.demand_figures import draw_demand
from wornby.reports.expected_answers import expected_answer
from wornby.reports.figures import Drawing, Drawings
from wornby.reports.life_figures import draw_lives
from wornby.reports.month_answers import month_answer, months_in_brief
from wornby.reports.notebook_run import Shown
from wornby.reports.range_figures import draw_ranges
from wornby.reports.rule_answers import sensitivity_answer
from wornby.reports.spreadsheets import tables_of
from wornby.reports.workshop import Workshop

LETTERS = ("FAILURE", "PREVENTIVE", "FITTED", "INK", "QUIET")
AA = 4.5
"""W3C, Web Content Accessibility Guidelines 2.1, success criterion 1.4.3: contrast of text."""


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.1, glossary) of #rrggbb."""
    channels = np.array([int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)])
    linear = np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def contrast(one: str, other: str) -> float:
    """The contrast ratio of WCAG 2.1: 1 for the same, 21 for black on white."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_measure_of_contrast_is_that_of_the_guidelines() -> None:
    """Black on white is 21 : 1 by the definition; #767676 is the lightest grey that reaches 4.5."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") > AA > contrast("#777777", "#ffffff")


@pytest.mark.parametrize("name", LETTERS)
def test_words_in_any_of_our_colours_can_be_read_on_white(name: str) -> None:
    assert contrast(getattr(figures, name), "#ffffff") > AA


def test_a_failure_and_a_preventive_renewal_never_look_alike() -> None:
    colours = {getattr(figures, name) for name in (*LETTERS, "BAND", "GRID")}
    assert len(colours) == len(LETTERS) + 2
    for one, other in combinations(("FAILURE", "BAND", "GRID"), 2):
        assert contrast(getattr(figures, one), getattr(figures, other)) > 1.2


def test_the_page_has_the_colours_of_the_pictures() -> None:
    from wornby.reports.pages import STYLE

    style = STYLE.read_text()
    for name in ("FAILURE", "FITTED", "QUIET"):
        assert getattr(figures, name).lower() in style


def test_each_component_is_a_picture_with_words_of_its_own(demo: Workshop) -> None:
    lives = draw_lives(demo.original, confidence=0.9)
    assert len(lives.drawings) == len(demo.original)
    page = lives._repr_html_()
    assert page.count("<img alt=") == len(demo.original)
    first = youngest_entry(demo.original["water pump"].counts)
    assert f"working by years; nobody was watched before {first:.1f} years; half have" in page
    assert "Small ticks" in lives.legend


def test_the_full_line_begins_where_the_first_came_under_watch(demo: Workshop) -> None:
    """Steps are conditional on that age; from it the fitted line is drawn too."""
    pump = demo.original["water pump"]
    steps = pump.nonparametric
    assert isinstance(steps, SurvivalCurve)
    panel = figures.panel_alone()
    life_figures._steps(panel, steps, begins_at=life_figures._begins(steps))
    ages, shares = (np.asarray(data) for data in panel.lines[0].get_data())
    assert ages[0] == youngest_entry(pump.counts) > 2
    assert shares[0] == 1
    assert "the line begins there" in draw_lives({"x": pump}, confidence=0.9).legend


def test_a_picture_is_no_wider_than_a_phone(demo: Workshop) -> None:
    for drawing in draw_lives(demo.original, confidence=0.9).drawings:
        width = re.findall(r'<svg[^>]*width="([\d.]+)pt"', drawing.svg)[0]
        assert float(width) * 96 / 72 < 390


def test_the_same_picture_is_the_same_bytes(demo: Workshop) -> None:
    one, other = (draw_account(demo.ledgers).svg for _ in range(2))
    assert one == other


def test_the_account_drawn_is_the_account_kept(demo: Workshop) -> None:
    words = draw_account(demo.ledgers).alt
    for ledger in demo.ledgers:
        assert f"of {ledger.n_read:,} rows {ledger.n_accepted:,} used" in words


def test_an_account_without_a_row_is_refused() -> None:
    with pytest.raises(RecordError, match="no file has a row"):
        draw_account([Ledger("vehicles", n_read=0, n_accepted=0)])


def test_twelve_months_much_alike_are_told_in_two_sentences(demo: Workshop) -> None:
    months = month_answer(demo)
    brief, frame = months_in_brief(months), months.frame
    past = frame.select(pl.col("^failures_.*$")).to_numpy()
    (answer,) = tables_of([Shown(brief)])
    assert answer.frame.height == 12
    low, high = frame["lower"].to_numpy().min(), frame["upper"].to_numpy().max()
    assert f"of such months {low} to {high}." in brief.sentences.sentences[0]
    assert f"brought {past.min()} to {past.max()}, " in brief.sentences.sentences[1]
    assert repr(brief) == repr(brief.sentences)


def test_months_to_come_add_up_to_the_year(demo: Workshop) -> None:
    months = month_answer(demo).frame
    year = expected_answer(demo).frame.row(by_predicate=pl.col("component") == ALL, named=True)
    assert months["expected"].sum() == pytest.approx(year["expected_failures"], rel=1e-6)
    assert (months["lower"] < months["expected"]).all()
    assert (months["expected"] < months["upper"]).all()


def test_months_gone_hold_the_failures_of_their_years(demo: Workshop) -> None:
    """A year and twelve months of it are counted by different functions."""
    months = month_answer(demo).frame
    year = expected_answer(demo).people.row(-1, named=True)["each of the last 3 years"]
    counted = [months[f"failures_{n}_years_before"].sum() for n in (3, 2, 1)]
    assert counted == pytest.approx([int(n) for n in year.split(", ")], abs=2)


def test_a_months_count_is_nearly_the_exact_one() -> None:
    """Against the exact distribution of the year's forecast, asked for a twelfth of a year."""
    draws = WeibullDraws(np.full(20, 2.0), np.linspace(9.0, 14.0, 20), "years")
    ages = np.linspace(1.0, 15.0, 300)
    means = monthly_means(draws, ages, months=1, years_ahead=1.0, return_chance=0.8)
    month = monthly_counts(means, confidence=0.9).row(0, named=True)
    exact = expected_failures(draws, ages, horizon_years=1 / 12, return_chance=0.8, confidence=0.9)
    assert month["expected"] == pytest.approx(exact.mean)
    assert (month["lower"], month["upper"]) == (exact.lower, exact.upper)


def test_demand_is_drawn_with_what_came_before_and_its_range(demo: Workshop) -> None:
    months = month_answer(demo)
    drawing = draw_demand(months)
    first = months.frame.row(0, named=True)
    said = f"({first['lower']} to {first['upper']}) in the month from 1 January 2025"
    assert said in drawing.alt
    assert "36 months before the records close" in drawing.alt


def test_ranges_name_every_rule_with_its_interval(demo: Workshop) -> None:
    told = sensitivity_answer(demo, "water pump")
    words = draw_ranges(told, component="water pump").alt
    assert "in force 7.3 (5.9 to 8.4)" in words
    assert all(rule[:30] in words for rule in told.frame["rule"])
    unknown = told.frame.with_columns(b10_value=pl.lit(None, pl.Float64))
    none = replace(told, frame=unknown)
    with pytest.raises(EstimateError, match="no rule gives a B10 life"):
        draw_ranges(none, component="water pump")


def test_panels_share_one_legend_and_a_single_picture_keeps_its_own() -> None:
    pair = Drawings((Drawing("<svg/>", "one"), Drawing("<svg/>", "two")), legend="both")
    assert pair._repr_html_().count("<figcaption>both</figcaption>") == 1
    assert "<figcaption>alone</figcaption>" in Drawing("<svg/>", "one", "alone")._repr_html_()
