"""What an open job's components cost their owner from now to the horizon, by simulation."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wornby.decisions.open_job import Bools, Floats, OpenJob
from wornby.decisions.paths import Paths


@dataclass(frozen=True, eq=False, slots=True)
class LaterPolicy:
    """What is renewed at later openings: the failed part, and neighbours past a threshold age.

    `thresholds` has an axis for the component, one for the part (in place now, renewed), and
    one for the time left in equal steps from 0 to the horizon; infinite: never.
    """

    name: str
    thresholds: Floats

    def renews(self, age: Floats, renewed: Bools, time_left_share: Floats) -> Bools:
        """Which parts the policy renews at an opening: one row an opening."""
        last = self.thresholds.shape[2] - 1
        step = np.rint(time_left_share * last).astype(np.intp)
        component = np.arange(age.shape[1])
        threshold = self.thresholds[component, renewed.astype(np.intp), step[:, None]]
        return np.asarray(age > threshold)


@dataclass(eq=False, slots=True)
class _Running:
    """The rows of a simulation that may still see an opening; one row a bundle and path."""

    row: NDArray[np.intp]
    path: NDArray[np.intp]
    fitted_on: Floats
    fails_on: Floats
    renewed: Bools
    n_failures: NDArray[np.intp]

    def only(self, kept: Bools) -> "_Running":
        return _Running(
            self.row[kept],
            self.path[kept],
            self.fitted_on[kept],
            self.fails_on[kept],
            self.renewed[kept],
            self.n_failures[kept],
        )


def horizon_costs(
    job: OpenJob, paths: Paths, policy: LaterPolicy, *, bundles: Bools, ages: Floats
) -> tuple[Floats, NDArray[np.intp]]:
    """Cost and number of further openings up to the horizon: one row a bundle, one column a path.

    `bundles` says what is renewed now besides the failed part, `ages` how old the parts in
    place are: one row a bundle, one column a component. Where ages differ from path to path,
    `ages` has an axis for the path between the two.
    """
    n_bundles = bundles.shape[0]
    cost = np.repeat(bundles @ job.renewal_costs, paths.n)
    openings = np.zeros(n_bundles * paths.n, dtype=np.intp)
    luck = paths.luck(0)[None]
    new = bundles | (np.array(job.components) == job.failed)
    running = _start(paths, new, ages, luck[0])
    while True:
        opens_on = running.fails_on.min(axis=1)
        within = opens_on < job.horizon_years
        if not within.any():
            return cost.reshape(n_bundles, -1), openings.reshape(n_bundles, -1)
        running, now = running.only(within), opens_on[within]
        openings[running.row] += 1
        if running.n_failures.max() + 1 >= len(luck):
            luck = np.concatenate([luck, paths.luck(len(luck))[None]])
        bill = _open(running, now, job=job, paths=paths, luck=luck, policy=policy)
        cost[running.row] += bill * job.counts_for(now)


def _start(paths: Paths, new: Bools, ages: Floats, fresh: Floats) -> _Running:
    n_bundles, k = new.shape
    path = np.tile(np.arange(paths.n), n_bundles)
    renewed = np.repeat(new, paths.n, axis=0)
    each = ages if ages.ndim == 3 else np.repeat(ages[:, None], paths.n, axis=1)
    age = np.where(renewed, 0.0, each.reshape(-1, k))
    part = path[:, None], np.arange(k), renewed.astype(np.intp)
    luck = np.where(renewed, fresh[path], paths.luck_in_place()[path])
    fails_at = paths.age_at(paths.hazard(age, part) + luck, part)
    return _Running(
        row=np.arange(n_bundles * paths.n),
        path=path,
        fitted_on=-age,
        fails_on=np.maximum(fails_at - age, 0.0),
        renewed=renewed,
        n_failures=np.zeros((n_bundles * paths.n, k), dtype=np.intp),
    )


def _open(
    running: _Running,
    now: Floats,
    *,
    job: OpenJob,
    paths: Paths,
    luck: Floats,
    policy: LaterPolicy,
) -> Floats:
    """Renew the failed part and what the policy adds; the bill of each opening."""
    rows = np.arange(now.size)
    failed = running.fails_on.argmin(axis=1)
    age = now[:, None] - running.fitted_on
    replaced = policy.renews(age, running.renewed, 1 - now / job.horizon_years)
    replaced[rows, failed] = False
    bill = job.failure_costs[failed] + replaced @ job.renewal_costs

    running.n_failures[rows, failed] += 1
    replaced[rows, failed] = True
    row, c = np.nonzero(replaced)
    by_failure = c == failed[row]
    path = running.path[row]
    drawn = luck[running.n_failures[row, c], path, c]
    anew = by_failure | (paths.known[path, c] & ~running.renewed[row, c])
    left = np.where(anew, drawn, _hazard_left(running, age, row, c, paths))

    running.fitted_on[row, c] = now[row]
    running.fails_on[row, c] = now[row] + paths.age_at(left, (path, c, np.ones_like(c)))
    running.renewed[row, c] = True
    return np.asarray(bill)


def _hazard_left(
    running: _Running, age: Floats, row: NDArray[np.intp], c: NDArray[np.intp], paths: Paths
) -> Floats:
    part = running.path[row], c, running.renewed[row, c].astype(np.intp)
    life = running.fails_on[row, c] - running.fitted_on[row, c]
    left = paths.hazard(life, part) - paths.hazard(age[row, c], part)
    return np.asarray(np.maximum(left, 0.0))
