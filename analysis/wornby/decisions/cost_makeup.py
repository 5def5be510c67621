"""What a job costs in the mean, part by part, under each draw of what is unknown about it."""

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from wornby.decisions.costs_of_jobs import PlannedJob
from wornby.decisions.job_unknowns import Unknowns, mean_size

Floats = NDArray[np.float64]

LABOUR, PARTS, FOLLOW_ON = "labour", "parts", "follow-on work"
OTHER, FOUND, COMEBACKS = "consumables and sublet work", "found work", "comebacks"
CALLED_OFF = "jobs called off"


def mean_hours(planned: PlannedJob, unknowns: Unknowns) -> Floats:
    """The mean hours of a job: of a lognormal, stopped at `most_hours`."""
    m, s, stop = unknowns.log_mean, unknowns.log_spread, np.log(planned.most_hours)
    below = np.exp(m + s**2 / 2) * ndtr((stop - m - s**2) / s)
    return np.asarray(below + planned.most_hours * ndtr((m - stop) / s))


def mean_cost_parts(planned: PlannedJob, unknowns: Unknowns) -> dict[str, Floats]:
    """The mean cost of a job by what it is for; found work and comebacks by chance times size.

    Each has one mean a draw; the sum of all is what `job_costs` draws around.
    """
    flat = np.ones_like(unknowns.log_mean)
    labour = mean_hours(planned, unknowns) * planned.labour_cost_per_hour
    again = labour + planned.parts_cost_net + planned.follow_on_cost_net
    if unknowns.comeback_sizes[0].size:
        again = flat * mean_size(unknowns.comeback_sizes, 0.0)
    called_off = planned.cancelled_share / (1 - planned.cancelled_share)
    return {
        LABOUR: labour,
        PARTS: flat * planned.parts_cost_net,
        FOLLOW_ON: flat * planned.follow_on_cost_net,
        OTHER: flat * mean_size(unknowns.other_sizes, planned.other_cost_net),
        FOUND: mean_size(unknowns.found_sizes, planned.found_size_net) * unknowns.found_chance,
        COMEBACKS: again * unknowns.comeback_chance,
        CALLED_OFF: flat * called_off * planned.cancellation_cost_net,
    }


def mean_costs(planned: PlannedJob, unknowns: Unknowns) -> Floats:
    """The mean cost of a job under each draw."""
    return np.asarray(np.sum([*mean_cost_parts(planned, unknowns).values()], axis=0))
