"""What the analyst's letter says first, on numbers made up for it."""

import polars as pl
import pytest

from wornby.reports.analyst_letter import analyst_findings
from wornby.reports.answer import Answer
from wornby.reports.workshop import Workshop

LEANS = "below the youngest entry at 2 years: extrapolated"


def said(demo: Workshop, ratios: list[float | None], *, lives: list[str], naive: list[str]) -> str:
    """The last sentence, with a component for each ratio and notes on its two lives."""
    names = [f"part {n}" for n in range(len(ratios))]
    empty = pl.DataFrame({"a": [1]})
    own = pl.DataFrame({"component": names, "shape": 2.0, "note": lives})
    rules = pl.DataFrame({"component": names, "naive_ratio": ratios, "naive_ratio_note": naive})
    findings = analyst_findings(
        demo, lives=Answer("l", empty, own), rules=Answer("r", empty, rules)
    )
    return findings.sentences[-1]


@pytest.mark.parametrize(
    ("ratios", "middle"),
    [([1.0, 1.2, 1.4, 2.0], "1.30"), ([2.0, 1.0, 1.4], "1.40"), ([1.0, None, 2.0], "1.50")],
)
def test_the_median_of_an_even_number_lies_between_the_middle_two(
    demo: Workshop, ratios: list[float | None], middle: str
) -> None:
    nothing = [""] * len(ratios)
    told = said(demo, ratios, lives=nothing, naive=nothing)
    assert f"would be {middle} times those" in told
    assert "(from 1.00 to 2.00 between components)" in told


def test_ratios_of_extrapolated_lives_are_counted_once_each(demo: Workshop) -> None:
    told = said(
        demo,
        [1.0, 1.2, 1.4, 2.0],
        lives=["", "only 1 failed earlier: extrapolated", "few failures", LEANS],
        naive=["", "", f"in force: {LEANS}", f"in force: {LEANS}"],
    )
    assert "3 of the 4 ratios rest on an extrapolated life)" in told
