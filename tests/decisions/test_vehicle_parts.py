import numpy as np
import pytest

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.costs import AccessGroup, PartCosts
from wornby.decisions.vehicle_parts import DEGRADED, RUNNING, SOUND, VehiclePart

N = 40_000
GROUP = AccessGroup("front subframe down", access_hours=4.0, follow_on_cost_net=55.0)


def pipe(
    condition: str,
    *,
    delay: float | None = 0.5,
    detection: float = 0.8,
    age: float = 14.0,
    safety: bool = False,
) -> VehiclePart:
    life = WeibullDraws(np.full(N, 4.2), np.full(N, 16.0), "years")
    return VehiclePart(
        costs=PartCosts("pipe", 0.9, 130.0, 420.0, safety),
        group=GROUP,
        age_years=np.full(N, age),
        life=life,
        renewed_life=life,
        condition=condition,
        delay_years=None if delay is None else np.full(N, delay),
        detection=detection,
    )


def first_failures(part: VehiclePart, seed: int) -> np.ndarray:
    """Years to the first failure on each path, from the luck that the sheet is priced with."""
    return part.from_here().left(part.luck(np.random.default_rng(seed)))


@pytest.mark.parametrize("condition", [RUNNING, SOUND, DEGRADED])
@pytest.mark.parametrize("years", [0.3, 1.0, 3.0])
def test_the_chance_told_is_the_one_priced(condition: str, years: float) -> None:
    # against our own simulation: 40,000 paths, 4 standard errors
    part = pipe(condition)
    simulated = (first_failures(part, 3) < years).mean()
    assert part.chance_within(years).mean() == pytest.approx(simulated, abs=4 * 0.5 / np.sqrt(N))


def test_a_degraded_part_fails_within_months_and_a_sound_one_later_than_unseen() -> None:
    # common practice, no source: a degraded finding leads the failure by months
    running, sound, degraded = (
        pipe(condition).chance_within(0.5).mean() for condition in (RUNNING, SOUND, DEGRADED)
    )
    assert degraded == pytest.approx(1 - np.exp(-1), rel=1e-12)
    assert sound < 0.8 * running < running < degraded


def test_a_look_that_hardly_sees_hardly_reassures() -> None:
    # common practice, no source: a look from above says little of the hidden end
    running, from_above, undertray_off = (
        pipe(condition, detection=seen).chance_within(0.5).mean()
        for condition, seen in ((RUNNING, 0.0), (SOUND, 0.1), (SOUND, 0.9))
    )
    assert from_above > 0.93 * running
    assert undertray_off < 0.7 * running


def test_without_a_known_delay_a_finding_changes_nothing_of_the_curve() -> None:
    told = [pipe(c, delay=None).chance_within(2.0).mean() for c in (RUNNING, SOUND, DEGRADED)]
    assert told[0] == told[1] == told[2]


def test_what_cannot_be_is_named() -> None:
    with pytest.raises(ValueError, match="pipe: 'broken', wanted running, sound or degraded"):
        pipe("broken")
    with pytest.raises(ValueError, match="pipe: an age of -1"):
        pipe(RUNNING, age=-1.0)
    with pytest.raises(ValueError, match="detection is 2, wanted 0 to 1"):
        pipe(SOUND, detection=2)
