"""Left and right on the demo: told by its records, stated by its workshop, priced on the ramp."""

import math
from dataclasses import replace

import pytest

from wornby.demo.parameters import TRUE_LIVES
from wornby.reports.ramp import Ramp, RampAdvice, while_open_advice
from wornby.reports.vehicle import told_of, vehicle_asked_about
from wornby.reports.vehicle_answers import sheet_answers
from wornby.reports.wear import places_alike, told_lives
from wornby.reports.while_open_answers import bundle_answer
from wornby.reports.workshop import Workshop
from wornby.reports.yearly_pace import Pace

PIPE, GROUP = "coolant transfer pipe", "front subframe down"


def stating(workshop: Workshop, tau: float | None) -> Workshop:
    """The demo with its workshop stating how alike the pipes wear."""
    components = dict(workshop.catalogue.components)
    components[PIPE] = replace(components[PIPE], shared_wear=tau)
    catalogue = replace(workshop.catalogue, components=components)
    return replace(workshop, records=replace(workshop.records, catalogue=catalogue))


def asked(workshop: Workshop, **found: object) -> RampAdvice:
    ramp = Ramp(7.0, Pace(7500.0, "miles"), 3.0, {})
    options = {"failed": None, "n_paths": 4000, **found}
    return while_open_advice(workshop, GROUP, ramp, **options)  # type: ignore[arg-type]  # named there


def break_even(told: RampAdvice, place: str) -> float:
    rows = told.advice.break_even_ages.to_dicts()
    return float(next(r["break_even_age_years"] for r in rows if r["component"] == place))


def test_the_demos_pipes_wear_as_alike_as_its_world_has_them(demo: Workshop) -> None:
    # the demo ties left and right by a Gaussian copula: Kendall's tau is 2/pi arcsin(correlation)
    # (Kruskal 1958, from memory)
    found = told_lives(demo, demo.catalogue.component(PIPE))
    true = 2 / math.pi * math.asin(TRUE_LIVES[PIPE].side_correlation)
    tau = found.estimate(confidence=0.90)
    assert tau.lower is not None
    assert tau.upper is not None
    assert tau.lower < true < tau.upper
    assert found.n_all < found.n_failed < found.n_vehicles


def test_what_the_workshop_states_goes_before_the_records(demo: Workshop) -> None:
    stated = places_alike(stating(demo, 0.5), demo.catalogue.component(PIPE))
    assert stated is not None
    assert stated.told.count("as the records tell") == 1
    own = stating(demo, 0.5)
    stated = places_alike(own, own.catalogue.component(PIPE))
    assert stated is not None
    assert stated.variance.tolist() == pytest.approx([2.0])
    assert "as workshop.toml states, Kendall's tau 0.5" in stated.told
    apart = stating(demo, 0.0)
    assert places_alike(apart, apart.catalogue.component(PIPE)) is None
    assert places_alike(demo, demo.catalogue.component("water pump")) is None


def test_the_second_pipe_is_renewed_with_the_first(demo: Workshop) -> None:
    # common practice, no source: two pipes of one design on one car are usually in the same
    # state, so the second is renewed with the first
    first = f"{PIPE}, left"
    second = f"{PIPE}, right"
    alike = asked(stating(demo, 0.6), failed=first)
    apart = asked(stating(demo, 0.0), failed=first)
    assert second in alike.advice.best
    assert second not in apart.advice.best
    assert break_even(alike, second) < 0.8 * break_even(apart, second)


def test_a_degraded_first_pipe_raises_the_chance_of_the_second(demo: Workshop) -> None:
    # common practice, no source: a degraded first makes the second suspect
    def second(workshop: Workshop, degraded: frozenset[str]) -> float:
        vehicle = vehicle_asked_about(
            workshop, age_years=9.0, odometer=70_000, registration=None, horizon_years=3.0
        )
        known = told_of(vehicle, workshop.catalogue, renewed={}, degraded=degraded)
        rows = sheet_answers(workshop, known).answers[3].frame.to_dicts()
        return float(next(r["chance"] for r in rows if r["part"] == f"{PIPE}, right"))

    found = frozenset({f"{PIPE}, left"})
    apart = stating(demo, 0.0)
    assert second(demo, found) > 1.5 * second(demo, frozenset())
    assert second(apart, found) == pytest.approx(second(apart, frozenset()), abs=0.05)


def test_a_vehicles_letter_counts_cases_where_the_open_job_has_tau(demo: Workshop) -> None:
    # Kendall's tau is the chance of agreeing less that of disagreeing: (1 + 0.5) / 2 agree
    own = stating(demo, 0.5)
    told = places_alike(own, own.catalogue.component(PIPE))
    assert told is not None
    assert "as the workshop states: of two vehicles" in told.plainly
    assert "in 75 cases of 100" in told.plainly
    vehicle = vehicle_asked_about(
        own, age_years=9.0, odometer=70_000, registration=None, horizon_years=3.0
    )
    work, parts = (sheet_answers(own, vehicle).answers[n] for n in (1, 3))
    assert any(told.plainly in note for note in work.notes)
    taus = dict(parts.frame.select("part", "shared_wear_tau").iter_rows())
    assert taus[f"{PIPE}, left"] == pytest.approx(0.5)
    assert taus["water pump"] == 0


def test_the_answer_says_what_wearing_alike_changes(demo: Workshop) -> None:
    told = asked(demo, degraded=frozenset({f"{PIPE}, left"}), beside_apart=True)
    notes = " ".join(bundle_answer(demo, told).notes)
    assert "wear alike as the records tell: of two vehicles" in notes
    assert "(Kendall's tau" in notes
    assert "If its places lived independently" in notes
    assert f"{PIPE}, right" in notes
    assert bundle_answer(stating(demo, 0.0), asked(stating(demo, 0.0))).notes != ()
