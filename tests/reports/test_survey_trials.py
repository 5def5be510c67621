"""The trial of a club's answers, as a report tells it."""

from wornby.reports.survey_trials import survey_trial_answer


def test_the_trial_tells_what_held_the_truth_in_each_world() -> None:
    answer = survey_trial_answer()
    assert answer.people.height == answer.frame.height
    assert answer.frame["world"].n_unique() == 2
    plain = answer.people.filter(method="plain percentage")
    assert set(plain["held the truth"]) == {"0\u00a0%"}
    assert any("300 simulated clubs" in note for note in answer.notes)
