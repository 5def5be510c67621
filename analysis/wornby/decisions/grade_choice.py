"""What a part grade costs a year of service, and whether the dearer part is the cheaper choice."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wornby.curves.uncertainty import Estimate, WeibullDraws
from wornby.decisions.costs import check_amounts
from wornby.decisions.long_run import check_draws

Floats = NDArray[np.float64]

STEPS_PER_YEAR = 24
EARLY_MONTHS = (12, 24)


@dataclass(frozen=True, eq=False, slots=True)
class GradeChoice:
    """One grade that can be fitted: its life after fitting, its price, and what fitting it costs.

    `fitting_net` is the part and all the labour and follow-on work of a planned renewal,
    `failure_net` the same after a failure, with its consequence.
    """

    grade: str
    life: WeibullDraws
    price_net: float
    fitting_net: float
    failure_net: float

    def __post_init__(self) -> None:
        """Refuse a life or an amount that no part has."""
        check_draws(self.life, self.grade)
        check_amounts(
            self.grade,
            price_net=self.price_net,
            fitting_net=self.fitting_net,
            failure_net=self.failure_net,
        )


@dataclass(frozen=True, eq=False, slots=True)
class GradeCost:
    """What a grade costs and risks, with what the records leave open.

    `early` has the chance of failing within each of `EARLY_MONTHS` of fitting; `per_year` is
    net money for each year of service, failures renewed by the same grade. `cheapest` is the
    chance that no other grade costs less; `dearest_cheaper` the chance that the dearest part
    costs less a year than this one, None for the dearest.
    """

    grade: str
    price_net: float
    early: tuple[Estimate, ...]
    per_year: Estimate
    cheapest: float
    dearest_cheaper: float | None


def grade_costs(
    choices: Sequence[GradeChoice], *, service_years: float, confidence: float
) -> list[GradeCost]:
    """Compare grades over so many years of service, the dearest part first.

    Each grade is fitted once and renewed at each failure; a comeback costs what a failure
    costs, whoever pays for it. Grades are independent draw by draw.

    >>> genuine, copy = (
    ...     GradeChoice(grade, WeibullDraws(np.array([shape]), np.array([scale]), "years"),
    ...                 price_net=price, fitting_net=400 + price, failure_net=800 + price)
    ...     for grade, shape, scale, price in [
    ...         ("genuine", 3.0, 14.0, 120.0), ("aftermarket", 1.2, 2.5, 40.0)]
    ... )
    >>> costs = grade_costs([copy, genuine], service_years=5.0, confidence=0.9)
    >>> [(cost.grade, round(cost.per_year.value)) for cost in costs]
    [('genuine', 112), ('aftermarket', 420)]
    """
    if not np.isfinite(service_years) or service_years <= 0:
        raise ValueError(f"part grades: service_years is {service_years}, wanted above 0")
    if not choices or len({c.grade for c in choices}) < len(choices):
        raise ValueError(
            f"part grades: {[c.grade for c in choices]}, wanted one or more, each once"
        )
    ordered = sorted(choices, key=lambda choice: -choice.price_net)
    n = min(choice.life.shape.size for choice in ordered)
    cost = np.array([_cost_per_year(choice, service_years)[:n] for choice in ordered])
    least = cost.argmin(axis=0)
    return [
        GradeCost(
            grade=choice.grade,
            price_net=choice.price_net,
            early=tuple(_failed_by(choice.life, m / 12, confidence) for m in EARLY_MONTHS),
            per_year=_estimate(cost[i], confidence, "net a year"),
            cheapest=float((least == i).mean()),
            dearest_cheaper=float((cost[0] < cost[i]).mean()) if i else None,
        )
        for i, choice in enumerate(ordered)
    ]


def failures_within(life: WeibullDraws, years: float) -> Floats:
    """Failures expected in so many years under each draw, the part renewed at each.

    The renewal function by the midpoint recursion of Xie (1989), all draws together.
    """
    steps = max(24, round(STEPS_PER_YEAR * years))
    grid = np.linspace(0, years, steps + 1)
    failed = 1 - life.survival(grid)
    middle = 1 - life.survival(grid[:-1] + years / steps / 2)
    expected = np.zeros_like(failed)
    rises = np.zeros((life.shape.size, steps))
    for i in range(1, steps + 1):
        carried = (rises[:, : i - 1] * middle[:, i - 1 : 0 : -1]).sum(axis=1)
        due = failed[:, i] + carried - expected[:, i - 1] * middle[:, 0]
        expected[:, i] = due / (1 - middle[:, 0])
        rises[:, i - 1] = expected[:, i] - expected[:, i - 1]
    return np.asarray(expected[:, -1])


def _cost_per_year(choice: GradeChoice, years: float) -> Floats:
    failures = failures_within(choice.life, years)
    return (choice.fitting_net + choice.failure_net * failures) / years


def _failed_by(life: WeibullDraws, years: float, confidence: float) -> Estimate:
    return _estimate(1 - life.survival(years)[:, 0], confidence, "chance")


def _estimate(values: Floats, confidence: float, unit: str) -> Estimate:
    tail = (1 - confidence) / 2
    low, middle, high = np.quantile(values, [tail, 0.5, 1 - tail])
    return Estimate(float(middle), float(low), float(high), confidence, unit)
