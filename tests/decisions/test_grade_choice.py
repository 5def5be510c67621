import numpy as np
import pytest
from numpy.typing import ArrayLike, NDArray

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.block import renewal_function
from wornby.decisions.grade_choice import GradeChoice, failures_within, grade_costs


class Weibull:
    def __init__(self, shape: float, scale: float) -> None:
        self.shape, self.scale = shape, scale

    def survival(self, age: ArrayLike) -> NDArray[np.float64]:
        return np.asarray(np.exp(-((np.asarray(age) / self.scale) ** self.shape)))


def life(shape: float, scale: float, *, spread: float = 0.05, seed: int = 1) -> WeibullDraws:
    rng = np.random.default_rng(seed)
    shapes = shape * np.exp(spread * rng.standard_normal(500))
    return WeibullDraws(shapes, scale * np.exp(spread * rng.standard_normal(500)), "years")


def choice(grade: str, price: float, curve: WeibullDraws) -> GradeChoice:
    return GradeChoice(grade, curve, price, fitting_net=400.0 + price, failure_net=800.0 + price)


@pytest.mark.parametrize(("shape", "scale"), [(0.8, 3.0), (1.2, 4.0), (3.0, 2.0), (4.0, 20.0)])
def test_failures_within_agree_with_the_renewal_function(shape: float, scale: float) -> None:
    # our own finer and extrapolated recursion, itself checked against published tables
    one = WeibullDraws(np.array([shape]), np.array([scale]), "years")
    want = renewal_function(Weibull(shape, scale), 5.0)[0]
    assert failures_within(one, 5.0)[0] == pytest.approx(want, rel=2e-3, abs=1e-5)


def test_exponential_lives_fail_at_their_rate() -> None:
    one = WeibullDraws(np.ones(1), np.array([4.0]), "years")
    assert failures_within(one, 10.0)[0] == pytest.approx(2.5, rel=1e-3)


def test_a_cheap_copy_comes_back_within_about_a_year_and_is_the_dear_choice() -> None:
    # common practice, no source: cheap copies are often seen leaking within about a year
    genuine, copy = grade_costs(
        [choice("genuine", 120.0, life(3.0, 14.0)), choice("aftermarket", 40.0, life(1.2, 2.5))],
        service_years=5.0,
        confidence=0.9,
    )
    assert (copy.early[0].lower or 0) > 0.2
    assert (genuine.early[1].upper or 1) < 0.02
    assert copy.dearest_cheaper == 1.0
    assert genuine.cheapest == 1.0


def test_a_dearer_part_that_lives_no_longer_is_never_the_cheaper_choice() -> None:
    same = life(3.0, 14.0)
    dear, cheap = grade_costs(
        [choice("genuine", 120.0, same), choice("aftermarket", 40.0, same)],
        service_years=5.0,
        confidence=0.9,
    )
    assert (dear.grade, cheap.grade) == ("genuine", "aftermarket")
    assert dear.dearest_cheaper is None
    assert cheap.dearest_cheaper == 0.0


def test_little_known_lives_leave_the_choice_open() -> None:
    _, copy = grade_costs(
        [
            choice("genuine", 120.0, life(3.0, 14.0, spread=1.0)),
            choice("aftermarket", 90.0, life(3.0, 13.0, spread=1.0, seed=2)),
        ],
        service_years=5.0,
        confidence=0.9,
    )
    assert 0.2 < (copy.dearest_cheaper or 0) < 0.8


def test_what_cannot_be_is_named() -> None:
    one = choice("genuine", 120.0, life(3.0, 14.0))
    with pytest.raises(ValueError, match="service_years is 0, wanted above 0"):
        grade_costs([one], service_years=0, confidence=0.9)
    with pytest.raises(ValueError, match="wanted one or more, each once"):
        grade_costs([one, one], service_years=5, confidence=0.9)
    with pytest.raises(ValueError, match="genuine: price_net is -1"):
        choice("genuine", -1.0, life(3.0, 14.0))
