"""Check values: each with its source and how far it may be called published.

The values are in curve_checks.json. Where the status there says "R only" the source named is
that of the data or the method, and the number was computed with R.
"""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from .competing_checks import COMPETING
from .curve_data import CHECKS
from .few_failure_checks import FEW_FAILURES
from .recurrence_checks import RECURRENCE
from .step_checks import STEPS
from .survey_checks import SURVEY
from .weibull_checks import WEIBULL

COMPUTED: dict[str, Callable[[Any], Any]] = (
    WEIBULL | STEPS | FEW_FAILURES | RECURRENCE | COMPETING | SURVEY
)


def flat(value: Any) -> NDArray[np.float64]:
    """Numbers of a nested list, in order; "Inf" is infinite."""
    if isinstance(value, list | tuple | np.ndarray):
        return np.concatenate([flat(part) for part in value]) if len(value) else np.empty(0)
    return np.array([float(value)])


def named(check_id: str) -> str:
    """The check with its status, as the test is called."""
    return f"{check_id} ({CHECKS[check_id]['status']})"


@pytest.mark.parametrize("check_id", CHECKS, ids=named)
def test_agrees_with_the_check_value(check_id: str) -> None:
    check = CHECKS[check_id]
    found, wanted = flat(COMPUTED[check_id](check.get("at"))), flat(check["value"])
    kind, size = check["tolerance"]["type"], check["tolerance"]["value"]
    reach = {"rel": size, "abs": 0.0} if kind == "relative" else {"rel": 0.0, "abs": size}
    assert found == pytest.approx(wanted, **reach)


def test_every_check_is_computed() -> None:
    assert set(COMPUTED) == set(CHECKS)
    assert len(CHECKS) == 141
