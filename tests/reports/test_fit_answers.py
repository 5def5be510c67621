"""What the analyst is told of the form of the curves, and of the scale parts wear by.

The demo's truth is its generator's own (data_demo/truth): every life is Weibull, on age or on
distance.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from wornby.curves.components import ComponentCurve, curve_of
from wornby.errors import EstimateError
from wornby.histories.counts import Counts
from wornby.reports.fit_answers import fit_answer, most_doubtful, rivals_answer
from wornby.reports.fit_figures import draw_probability_plot
from wornby.reports.life_answers import b10_life, life_answer
from wornby.reports.scale_answers import scale_answer
from wornby.reports.workshop import Workshop, open_workshop

DEMO = Path(__file__).parents[2] / "data_demo"
TRUE_SCALE = dict(
    pl.read_csv(DEMO / "truth" / "lives.csv")
    .filter(pl.col("origin") == "original")
    .select("component", "scale")
    .iter_rows()
)


@pytest.fixture(scope="module")
def demo() -> Workshop:
    """The demo, opened."""
    return open_workshop(DEMO, confidence=0.90, seed=1)


def with_curves(demo: Workshop, *curves: ComponentCurve) -> Workshop:
    """The demo as if these were its only original parts watched."""
    return replace(demo, original={curve.component: curve for curve in curves})


def made(component: str, end: np.ndarray, upper: np.ndarray) -> ComponentCurve:
    """A curve of lives watched from new."""
    table = pl.DataFrame({"entry": 0.0, "lower": end, "upper": upper, "count": 1.0})
    counts = Counts(table, "years", component, "as watched")
    return curve_of(component, counts, origin="original", confidence=0.9)


def bad_batch() -> ComponentCurve:
    """Thermostats of which a quarter came from a bad batch."""
    rng = np.random.default_rng(2)
    early = rng.random(300) < 0.25
    life = np.where(early, rng.exponential(1, 300), 12 * rng.weibull(6, 300))
    end = np.minimum(life, 14.0)
    return made("thermostat", end, np.where(life > 14, np.inf, end))


def of(frame: pl.DataFrame, component: str) -> dict[str, object]:
    return frame.row(by_predicate=pl.col("component") == component, named=True)


def test_weibull_lives_are_said_to_be_weibull(demo: Workshop) -> None:
    answer = fit_answer(demo)
    assert answer.frame["component"].to_list() == list(demo.catalogue.components)
    assert answer.people["component"].to_list() == list(demo.catalogue.components)
    failed = [told.people.select("component", "failed") for told in (answer, life_answer(demo))]
    assert failed[0].equals(failed[1]), "parts of a place not said count as a half in both"
    assert answer.frame["weibull_fits"].all()
    assert answer.frame["p_value"].is_between(0, 1).all()
    assert of(answer.people, "heater valve")["verdict"] == (
        "Weibull fits (few failures: only a gross misfit would show)"
    )


def test_a_bad_batch_among_good_parts_fits_no_two_parameter_curve(demo: Workshop) -> None:
    answer = fit_answer(with_curves(demo, bad_batch(), demo.original["water pump"]))
    assert of(answer.people, "thermostat")["verdict"] == "no two-parameter curve fits"
    assert of(answer.people, "water pump")["verdict"] == "Weibull fits"
    assert most_doubtful(answer) == "thermostat"


def test_what_cannot_be_judged_keeps_its_row_and_says_why(demo: Workshop) -> None:
    ends = np.array([4.0, 6.0, 7.0, 8.0, 8.0])
    few = made("thermostat", ends, np.array([4.0, 6.0, 7.0, np.inf, np.inf]))
    looked_at = made("water pump", np.repeat([0.0, 2.0, 4.0], 5), np.repeat([2.0, 4.0, np.inf], 5))
    workshop = with_curves(demo, few, looked_at)
    told = fit_answer(workshop).people
    assert told.height == len(demo.catalogue.components)
    assert of(told, "thermostat")["verdict"] == (
        "not judged: 3 failed: wanted 5 to tell forms apart"
    )
    assert "known only within bounds" in str(of(told, "water pump")["verdict"])
    assert of(told, "water pump")["best by AIC"]
    assert of(told, "timing belt")["verdict"] == "not judged: no original part was watched"
    assert rivals_answer(workshop, "thermostat").people["note"].to_list() == [
        "3 failed: wanted 5 to tell forms apart"
    ]
    assert any("No p-values" in note for note in rivals_answer(workshop, "water pump").notes)


def test_the_same_question_gets_the_same_p_values(demo: Workshop) -> None:
    pumps = with_curves(demo, demo.original["water pump"])
    once, again, other = (fit_answer(replace(pumps, seed=seed)).frame for seed in (1, 1, 2))
    assert once.equals(again)
    assert of(once, "water pump")["p_value"] != of(other, "water pump")["p_value"]


def test_a_component_has_one_p_value_wherever_it_is_told(demo: Workshop) -> None:
    fits, rival = fit_answer(demo), rivals_answer(demo, "water pump")
    own = of(fits.frame, "water pump")["p_value"]
    assert rival.frame.filter(curve="Weibull")["p_value"].item() == own
    assert of(fits.people, "water pump")["p"] == rival.people["p-value"][0] == f"{own:.3f}"
    assert any("58 failures for its number" in note for note in rival.notes)


def test_each_rival_says_its_own_b10_life(demo: Workshop) -> None:
    answer = rivals_answer(demo, "water pump")
    own = b10_life(demo.original["water pump"], confidence=demo.confidence).value
    weibull = answer.frame.filter(curve="Weibull")
    assert weibull["b10"].item() == pytest.approx(own, rel=1e-6)
    near = answer.frame.filter(pl.col("aic") <= pl.col("aic").min() + 4)
    low, high = near["b10"].sort().to_list()[:: near.height - 1]
    assert f"put the B10 life at {low:.1f} to {high:.1f} years" in answer.notes[0]
    assert answer.people.height == answer.frame.height == 7
    with pytest.raises(ValueError, match="no component 'spare wheel'"):
        rivals_answer(demo, "spare wheel")


def test_the_scale_that_parts_wear_by_wins(demo: Workshop) -> None:
    frame = scale_answer(demo).frame
    assert dict(frame.select("component", "better_scale").iter_rows()) == TRUE_SCALE
    assert (frame["support_of_better"] > 0.9).sum() >= 12
    assert "no" not in frame["stated_scale_agrees"].to_list()


def restated(demo: Workshop, component: str, scale: str) -> Workshop:
    """The episodes of one component of the demo, with a scale stated for it."""
    catalogue = demo.catalogue
    table = demo.episodes.table.filter(pl.col("component") == component)
    other = replace(catalogue.component(component), scale=scale)
    changed = replace(catalogue, components={**catalogue.components, component: other})
    records, episodes = (
        replace(demo.records, catalogue=changed),
        replace(demo.episodes, table=table),
    )
    return replace(demo, records=records, episodes=episodes)


def test_a_scale_stated_wrongly_is_named_with_what_to_edit(demo: Workshop) -> None:
    answer = scale_answer(restated(demo, "thermostat", "distance"))
    assert of(answer.people, "thermostat")["do they agree?"] == "no"
    edit = 'under [[component]] name = "thermostat", write scale = "age"'
    assert [note for note in answer.notes if edit in note] == [answer.notes[0]]
    right = scale_answer(restated(demo, "thermostat", "age"))
    assert not any("write scale" in note for note in right.notes)


def test_records_that_cannot_tell_do_not_contradict(demo: Workshop) -> None:
    """Fifteen heater valves failed: too few to tell age from distance."""
    for stated in ("age", "distance"):
        told = of(scale_answer(restated(demo, "heater valve", stated)).people, "heater valve")
        assert told["do they agree?"] == "not contradicted"
        assert "cannot tell" in str(told["records say"])


def test_a_component_without_distances_keeps_its_row(demo: Workshop) -> None:
    one = restated(demo, "thermostat", "age")
    unread = one.episodes.table.with_columns(exit_mi=pl.lit(None, pl.Float64))
    answer = scale_answer(replace(one, episodes=replace(one.episodes, table=unread)))
    assert answer.people.height == len(demo.catalogue.components)
    told = of(answer.people, "thermostat")
    assert told["records say"] == ("no answer: 0 failed at a known age and distance: wanted 5")


def test_dots_lie_within_the_band_where_the_weibull_fits_and_not_where_it_does_not(
    demo: Workshop,
) -> None:
    pump, batch = demo.original["water pump"], bad_batch()
    few = made("heater valve", np.array([4.0, 6.0]), np.array([4.0, np.inf]))
    curves = {curve.component: curve for curve in (pump, batch, few)}
    said = repr(draw_probability_plot(curves, confidence=0.9))
    within = {
        line.split(" on Weibull paper: ")[0].split(". ")[-1]: [
            int(n) for n in line.split(": ")[1].split(" ") if n.isdigit()
        ]
        for line in said.split("band.")
        if "lie within" in line
    }
    within = {name.strip(): told for name, told in within.items()}
    held, n = within["water pump"][:2]
    assert held > 0.9 * n
    held, n = within["thermostat"][:2]
    assert held < 0.7 * n
    assert "heater valve: 1 failed of 2, too few for a line on Weibull paper." in said
    with pytest.raises(EstimateError, match="no component has a curve to draw"):
        draw_probability_plot({}, confidence=0.9)
