import numpy as np
import pytest
from numpy.typing import NDArray

from wornby.curves.importance import importance_draws
from wornby.errors import EstimateError

Floats = NDArray[np.float64]


def test_a_gaussian_is_drawn_with_its_own_mean_and_spread() -> None:
    mean, spread = np.array([1.0, -2.0]), np.array([[1.0, 0.6], [0.6, 0.5]])
    inverse = np.linalg.inv(spread)

    def gaussian(at: Floats) -> float:
        return float(-(at - mean) @ inverse @ (at - mean) / 2)

    drawn = importance_draws(gaussian, mean, n_proposals=8000, n=8000, rng=np.random.default_rng(2))
    assert drawn.mean(axis=0) == pytest.approx(mean, abs=0.05)
    assert np.cov(drawn.T) == pytest.approx(spread, abs=0.06)


def test_a_density_far_from_its_mode_is_refused() -> None:
    def needle(at: Floats) -> float:
        return float(-5e5 * (at @ at) if np.abs(at).max() < 0.001 else -1e4 * np.abs(at).max())

    with pytest.raises(EstimateError, match="proposals count"):
        importance_draws(needle, np.zeros(2), n_proposals=300, n=10, rng=np.random.default_rng(2))
