"""The demo's survey against what was true of the demo's vans, and a club that remembers well.

The invented owners forget, heap and do not know, and those with trouble answer more; the date
they tell is that of the latest renewal.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from survey.told import told_survey

from wornby.curves.components import curve_of
from wornby.curves.profile import b_life
from wornby.curves.uncertainty import Estimate
from wornby.survey.answers import Survey, read_survey
from wornby.survey.lives import survey_lives
from wornby.survey.survey_rules import CLUB, SurveyRule
from wornby.survey.weighted import weighted_survey

DEMO = Path(__file__).parents[2] / "data_demo"
FIRST = replace(CLUB, dated="the first renewal")


@pytest.fixture(scope="module")
def survey() -> Survey:
    """The demo's survey."""
    return read_survey(DEMO)


def true_b10(units: dict[str, str]) -> dict[str, float]:
    """By when one in ten of the workshop's vans had had either side renewed, for any reason.

    From the fitments as they were, by Kaplan-Meier; distances at each van's own pace.
    """
    truth = DEMO / "truth"
    visits = pl.read_csv(truth / "visits.csv", try_parse_dates=True, infer_schema_length=None)
    last = (
        visits.sort("date")
        .group_by("registration")
        .agg(last=pl.col("date").last(), odometer=pl.col("odometer_mi").last())
    )
    fitments = pl.read_csv(truth / "fitments.csv", try_parse_dates=True).filter("original")
    years = (pl.coalesce("ended_on", "last") - pl.col("fitted_on")).dt.total_days() / 365.25
    whole = (pl.col("last") - pl.col("fitted_on")).dt.total_days() / 365.25
    lives = fitments.join(last, on="registration").with_columns(
        age=years, pace=pl.col("odometer") / whole, ended=pl.col("ended_on").is_not_null()
    )
    first = lives.sort("age").group_by("registration", "component", maintain_order=True).first()
    by = pl.col("component").replace_strict(units, return_dtype=pl.String)
    on_scale = pl.when(by != "years").then(pl.col("age") * pl.col("pace")).otherwise("age")
    found = {}
    for (component,), rows in first.with_columns(at=on_scale).sort("at").group_by("component"):
        at_risk = np.arange(rows.height, 0, -1)
        alive = np.cumprod(1 - rows["ended"].to_numpy() / at_risk)
        found[str(component)] = float(rows["at"][int(np.argmax(alive <= 0.9))])
    return found


def told_b10(survey: Survey, rule: SurveyRule) -> dict[str, Estimate]:
    """The weighted survey's B10 lives with 95 % intervals."""
    weights = weighted_survey(survey, calendar_year=2024).answers
    lives = survey_lives(survey, rule=rule, weights=weights)
    curves = {
        name: curve_of(name, counts, origin="original", confidence=0.95).weibull
        for name, counts in lives.counts.items()
    }
    return {
        name: b_life(fitted, 0.10, confidence=0.95)
        for name, fitted in curves.items()
        if fitted is not None
    }


def n_held(told: dict[str, Estimate], true: dict[str, float]) -> int:
    """In how many components the interval holds the truth."""
    return sum((e.lower or 0) <= true[name] <= (e.upper or 0) for name, e in told.items())


def test_intervals_hold_the_truth_for_most_components(survey: Survey) -> None:
    true = true_b10(dict(survey.units))
    assert n_held(told_b10(survey, CLUB), true) >= 11
    late = n_held(told_b10(survey, FIRST), true)
    assert late < 11, "the latest date taken as the first makes lives long"


def test_heaped_years_are_found_where_the_demo_heaps_them(survey: Survey) -> None:
    """A quarter of the years are said as the nearest that ends in 0 or 5, with "about"."""
    heaps = {test.what: test.found for test in survey_lives(survey, rule=CLUB).heaps}
    assert heaps['years told with "about"']
    assert not heaps["years told plainly"]


def club_of(folder: Path, seed: int, *, size: int) -> Survey:
    """A club whose pumps last as a Weibull of shape 2.6 and scale 15 years says, and the truth
    of it told: renewed in such a year, the state known to all but one in seven."""
    rng = np.random.default_rng(seed)
    year = rng.integers(1998, 2012, size)
    renewed = np.floor(year + rng.random(size) + 15 * rng.weibull(2.6, size)).astype(int)
    unsure = rng.random(size) < 1 / 7
    state = np.where(renewed <= 2020, "renewed once", "original")
    rows = zip(year, np.where(unsure, "don't know", state), renewed, strict=True)
    members = [
        f"m{n} | {of} | {said} | {when if said == 'renewed once' else ''}"
        for n, (of, said, when) in enumerate(rows)
    ]
    header = "who | year | water pump | water pump, when"
    return told_survey(folder, members="\n".join([header, *members]))


def test_a_club_that_remembers_well_gives_the_life_back(tmp_path: Path) -> None:
    """Mean of ten clubs of 400 within 3 % of the true B10 and B50, by the Weibull's formula."""
    ratios = []
    for seed in range(10):
        counts = survey_lives(club_of(tmp_path, seed, size=400), rule=CLUB).counts["water pump"]
        fitted = curve_of("pump", counts, origin="original", confidence=0.9).weibull
        assert fitted is not None
        true = [15 * (-np.log(1 - share)) ** (1 / 2.6) for share in (0.1, 0.5)]
        ratios.append([fitted.b_life(0.1) / true[0], fitted.b_life(0.5) / true[1]])
    assert np.mean(ratios, axis=0) == pytest.approx([1, 1], abs=0.03)


def test_weights_count_for_as_many_answers_as_they_are_worth(survey: Survey) -> None:
    weighted = weighted_survey(survey, calendar_year=2024)
    lives = survey_lives(survey, rule=CLUB, weights=weighted.answers)
    plain = survey_lives(survey, rule=CLUB)
    for name, counts in lives.counts.items():
        assert 0.5 * plain.counts[name].n_lives < counts.n_lives < plain.counts[name].n_lives
