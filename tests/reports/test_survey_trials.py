"""The trial of a club's answers, as a report tells it."""

import polars as pl

from wornby.reports.survey_trials import interval_note, survey_trial_answer


def test_the_trial_tells_what_held_the_truth_in_each_world() -> None:
    answer = survey_trial_answer()
    assert answer.people.height == answer.frame.height
    assert answer.frame["world"].n_unique() == 2
    plain = answer.people.filter(method="plain percentage")
    assert set(plain["held the truth"]) == {"0\u00a0%"}
    assert any("300 simulated clubs" in note for note in answer.notes)
    assert any("Turnbull's of the water pump in 85.0" in note for note in answer.notes)


def test_it_says_plainly_which_interval_held_too_seldom() -> None:
    """By hand: 240 of 300 is 80 % with a standard error of 2.3; 270 of 300 is as wanted."""
    rows = [
        {"world": "fair", "component": "pump", "method": "Weibull", "held": 0.9, "clubs": 300},
        {"world": "fair", "component": "pump", "method": "Turnbull", "held": 0.8, "clubs": 300},
        {"world": "not fair", "component": "pump", "method": "Weibull", "held": 0.1, "clubs": 300},
    ]
    told = interval_note(pl.DataFrame(rows)).replace("\u00a0", " ")
    assert "Turnbull's of the pump in 80.0 % (± 2.3), so that it is too narrow" in told
    assert "Weibull" not in told
    as_wanted = interval_note(pl.DataFrame(rows).with_columns(held=0.9))
    assert "both intervals held" in as_wanted
