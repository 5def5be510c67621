"""A candidate job of workshop.toml at today's costs. Common practice, no source."""

from dataclasses import replace
from pathlib import Path

import pytest

from wornby.decisions.price_question import book_hours, planned_job
from wornby.decisions.stated_costs import part_costs
from wornby.errors import RecordError
from wornby.records.catalogue import CandidateJob, Catalogue, CompanionPart
from wornby.records.catalogue_file import read_catalogue

DEMO = Path(__file__).parents[2] / "data_demo" / "workshop.toml"
PIPES = CandidateJob("both pipes", ("coolant transfer pipe",), "genuine", 12, 890.0)
CLIP = CompanionPart("pipe clip", part_price_net=5.0, part_cost_net=2.0)


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return read_catalogue(DEMO)


def with_clips(catalogue: Catalogue) -> Catalogue:
    """A clip belongs to each coolant transfer pipe."""
    pipe = replace(catalogue.component("coolant transfer pipe"), companion_parts=("pipe clip",))
    return replace(
        catalogue,
        components={**catalogue.components, pipe.name: pipe},
        companion_parts={**catalogue.companion_parts, CLIP.name: CLIP},
    )


def test_a_job_takes_its_access_once_and_each_place_by_itself(catalogue: Catalogue) -> None:
    # by hand from workshop.toml: 4.0 h subframe, two pipes of 0.9 h and 99.00
    planned = planned_job(catalogue, PIPES)
    assert planned.book_hours == pytest.approx(4.0 + 2 * 0.9)
    assert planned.parts_cost_net == 2 * 99.0
    assert planned.most_hours == pytest.approx(2.5 * 5.8)


def test_a_subframe_entails_an_alignment_and_cooling_work_a_bleed(catalogue: Catalogue) -> None:
    # alignment sublet at 55, bleeding 0.5 h at 41 and 18 of coolant, each once
    assert planned_job(catalogue, PIPES).follow_on_cost_net == pytest.approx(55 + 0.5 * 41 + 18)


def test_a_companion_part_is_priced_with_each_part_it_belongs_to(catalogue: Catalogue) -> None:
    """A new cap belongs with a new reservoir; here a clip with each of two pipes."""
    clipped = with_clips(catalogue)
    bare = planned_job(catalogue, PIPES).parts_cost_net
    assert planned_job(clipped, PIPES).parts_cost_net == bare + 2 * 2.0
    of_the_job = replace(PIPES, companion_parts=("pipe clip",))
    assert planned_job(clipped, of_the_job).parts_cost_net == bare + 3 * 2.0


def test_a_companion_part_is_in_what_an_owner_pays_for_a_renewal(catalogue: Catalogue) -> None:
    before, after = (
        part_costs(c, "coolant transfer pipe", grade="genuine").part_price_net
        for c in (catalogue, with_clips(catalogue))
    )
    assert after == before + 5.0


def test_jobs_called_off_are_borne_by_those_done(catalogue: Catalogue) -> None:
    planned = planned_job(catalogue, PIPES)
    assert (planned.cancelled_share, planned.cancellation_cost_net) == (0.04, 25.0)


def test_a_version_weighs_the_others_as_the_workshop_says(catalogue: Catalogue) -> None:
    planned = planned_job(catalogue, PIPES, version="long")
    assert (planned.version, planned.other_version_weight) == ("long", 0.3)


def test_what_a_price_needs_and_is_not_stated_is_named(catalogue: Catalogue) -> None:
    with pytest.raises(RecordError, match=r"'coolant transfer pipe': no part_cost_net for 'used'"):
        planned_job(catalogue, replace(PIPES, grade="used"))
    pipe = replace(catalogue.component("coolant transfer pipe"), own_hours=None)
    without = replace(catalogue, components={**catalogue.components, pipe.name: pipe})
    with pytest.raises(RecordError, match=r"'coolant transfer pipe': no own_hours; add it"):
        book_hours(without, PIPES)
    with pytest.raises(RecordError, match=r"no \[fixed_price\]"):
        planned_job(replace(catalogue, price_rules=None), PIPES)
