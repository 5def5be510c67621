"""Limits of a share; published values are in tests/published/."""

import numpy as np
import pytest
from scipy.stats import binom

from wornby.curves.proportions import Share, rule_of_three


def test_exact_limits_never_hold_less_often_than_stated() -> None:
    """Coverage summed over every possible count of 30, at shares across the range."""
    seen = np.arange(31)
    limits = [Share(int(k), 30).exact(confidence=0.9) for k in seen]
    for truth in np.linspace(0.01, 0.99, 50):
        held = [limit.lower <= truth <= limit.upper for limit in limits]
        assert binom.pmf(seen, 30, truth)[held].sum() >= 0.9


def test_all_seen_reaches_one() -> None:
    assert Share(5, 5).exact(confidence=0.9).upper == 1
    assert Share(5, 5).highest(confidence=0.9) == 1
    assert Share(5, 5).wilson(confidence=0.9).upper == pytest.approx(1)


def test_refuses_more_than_all() -> None:
    with pytest.raises(ValueError, match="wanted 0 to the total"):
        Share(6, 5)
    with pytest.raises(ValueError, match="wanted a total above 0"):
        rule_of_three(0)
