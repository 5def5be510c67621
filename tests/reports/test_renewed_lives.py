"""How a renewed part is taken to live where few like it have failed."""

import numpy as np
import pytest
from studies.lived_on import lived_on

from wornby.reports.workshop import (
    LEAST_MEDIAN_YEARS,
    N_DRAWS,
    RENEWAL_GRADE,
    Workshop,
    life_curve,
    life_in_years,
)
from wornby.reports.yearly_pace import Pace


@pytest.fixture(scope="module")
def few_records() -> Workshop:
    """A simulated workshop that has seen forty vehicles."""
    return lived_on(40, np.random.default_rng(6)).workshop


def test_renewed_parts_that_have_not_failed_speak_for_those_to_come(few_records: Workshop) -> None:
    """Taken to live as the original did, they are watched with the originals, on one curve."""
    borrowed = 0
    for name, original in few_records.original.items():
        curve, note = life_curve(few_records, name, origin="renewed", grade=RENEWAL_GRADE)
        renewed = few_records.renewed[RENEWAL_GRADE].get(name)
        if "as the original" in note and renewed is not None:
            borrowed += 1
            assert curve.counts.n_lives == original.counts.n_lives + renewed.counts.n_lives
            assert curve.counts.n_failures >= original.counts.n_failures
    assert borrowed > 5


def test_no_curve_is_believed_by_which_half_of_new_parts_fail_within_a_month(
    few_records: Workshop,
) -> None:
    """Without it one part in the mean fails thousands of times before the horizon."""
    left_out = 0
    for component in few_records.catalogue.components.values():
        draws, _ = life_in_years(
            few_records,
            component,
            origin="renewed",
            grade=RENEWAL_GRADE,
            pace=Pace(8_000.0, "miles"),
        )
        medians = draws.scale * np.log(2.0) ** (1 / draws.shape)
        assert medians.min() >= LEAST_MEDIAN_YEARS
        assert draws.shape.size == N_DRAWS
        left_out += np.unique(draws.scale).size < N_DRAWS
    assert left_out > 0
