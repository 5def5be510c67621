"""What the answers on renewal say, on the demo."""

import json
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from wornby.cli import main
from wornby.decisions.opening_rates import chance_openings
from wornby.decisions.policy_costs import WHEN_OPEN
from wornby.reports.decision_figures import draw_cost_rate
from wornby.reports.policy_answers import policy_answer
from wornby.reports.renewal_answers import flat_words, renewal_age_answer, renewal_ages
from wornby.reports.sentences import cautions_for
from wornby.reports.workshop import Workshop

DEMO = str(Path(__file__).parents[2] / "data_demo")


def row(frame: pl.DataFrame, component: str) -> dict[str, Any]:
    return frame.row(by_predicate=pl.col("component") == component, named=True)


def test_the_flat_region_is_said_in_words(demo: Workshop) -> None:
    advice = renewal_ages(demo).told["timing belt"].advice
    assert flat_words(advice).startswith("anything between 7 and 11 years costs within 5")
    told = row(renewal_age_answer(demo).people, "timing belt")
    assert told["how exact"] == flat_words(advice)


def test_a_part_that_is_left_still_says_how_sure_that_is(demo: Workshop) -> None:
    answer = renewal_age_answer(demo)
    seal, belt = (row(answer.frame, name) for name in ("rear main seal", "timing belt"))
    assert seal["saving_share"] == 0
    assert seal["probability_early_is_right"] == pytest.approx(0, abs=0.1)
    assert belt["probability_early_is_right"] == pytest.approx(1, abs=0.02)
    assert row(answer.people, "rear main seal")["renew at"] == "run to failure"


def test_policies_stand_beside_each_other_with_leaving_priced(demo: Workshop) -> None:
    policy, age = policy_answer(demo), renewal_age_answer(demo)
    carried = set(cautions_for(list(demo.catalogue.components.values())))
    assert carried <= set(policy.notes)
    assert carried <= set(age.notes)
    frame, alone = policy.frame, age.frame
    assert frame["left_per_year_net"].equals(alone["run_to_failure_per_year_net"])
    assert frame["alone_per_year_net"].equals(alone["cost_per_year_net"])
    for key in ("alone", "when_open", "by_calendar"):
        assert (frame[f"{key}_per_year_net"] <= frame["left_per_year_net"] * 1.02).all()
    assert (frame["by_calendar_per_year_net"] >= frame["alone_per_year_net"] * 0.99).all()
    assert frame["probability_cheapest"].is_between(0, 1).all()


def test_behind_a_dear_access_a_part_is_renewed_when_open_and_not_alone(demo: Workshop) -> None:
    """Common practice, no source: nobody takes the gearbox out for a sound seal."""
    seal = row(policy_answer(demo).frame, "rear main seal")
    assert seal["alone_saving_share"] == 0
    assert seal["cheapest"] == WHEN_OPEN
    resistor = row(policy_answer(demo).frame, "blower resistor")
    assert resistor["alone_saving_share"] == 0
    assert resistor["when_open_saving_share"] < seal["when_open_saving_share"] / 3


def test_openings_for_others_are_those_the_records_show(demo: Workshop) -> None:
    told = chance_openings(demo.records, "rear main seal")
    assert told is not None
    group = ["clutch slave cylinder", "gearbox mount", "gear linkage bush"]
    renewed = demo.records.sightings.filter(
        pl.col("component").is_in(group) & (pl.col("seen") == "renewed")
    )
    assert 0 < told.n <= renewed.select("vehicle", "date").n_unique()
    low, high = told.interval(0.9)
    assert low < told.per_year < high


def test_a_safety_part_goes_by_inspection_whatever_the_policies_cost(demo: Workshop) -> None:
    answer = policy_answer(demo)
    assert "by inspection" in str(row(answer.people, "brake pipe above the axle"))
    assert any("Brakes" in note for note in answer.notes)


def test_the_picture_says_which_ages_cost_nearly_the_same(demo: Workshop) -> None:
    drawings = draw_cost_rate(demo)
    words = repr(drawings)
    best = row(renewal_age_answer(demo).people, "timing belt")["renew at"]
    assert f"timing belt: least at {best}, £" in words
    assert "anything between 7 and 11 years" in words
    assert "no age costs less than leaving it: " in drawings.legend
    assert "rear main seal" in drawings.legend


def test_policies_are_asked_for_by_name(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["renew", DEMO, "--by", "policy", "--json"]) == 0
    (answer,) = json.loads(capsys.readouterr().out)
    belt = next(r for r in answer["rows"] if r["component"] == "timing belt")
    assert belt["when_open_per_year_net"] < belt["alone_per_year_net"] < belt["left_per_year_net"]
    assert main(["renew", DEMO, "--by", "policy", "--group", "dash out", "--age", "14"]) == 1
    assert "--by policy asks of all components" in capsys.readouterr().err
