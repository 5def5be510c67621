"""If those without trouble are less ready to answer: how far a finding moves, and what no
readiness can undo.

Weights mend which model years and versions answered. Whether an owner whose part failed answers
sooner than one whose part did not, no answer tells; so the finding is made again for each
readiness that could be, and beside it stand bounds that assume nothing of those who kept silent
(Manski 1989; Horowitz & Manski 1998).
"""

from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.optimize import brentq

from wornby.curves.parametric import weibull
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.counts import YEARS
from wornby.survey.design_intervals import weighted_lives, weighted_weibull
from wornby.survey.lives import SurveyLives
from wornby.survey.replicates import drawn_counts, reraked
from wornby.survey.weighted import WeightedSurvey
from wornby.survey.weighting import Array

TIMES_LESS_READY = (1 / 5, 1 / 3, 1 / 2, 1.0, 2.0, 3.0, 5.0)
"""How many times less ready to answer those without trouble may be; below 1: readier."""
FURTHEST = 50.0
"""A finding that no readiness so many times less, or more, undoes is called safe from it."""


@dataclass(frozen=True, slots=True)
class SilentBounds:
    """What the share is at least and at most, whatever those who kept silent would have said.

    Of `asked` vehicles old enough, `said_failed` are told to have failed by the age or distance,
    `said_working` to have worked beyond it; of the others nothing is taken.
    """

    asked: float
    said_failed: int
    said_working: int

    @property
    def least(self) -> float:
        """The share if all others still worked."""
        return self.said_failed / self.asked

    @property
    def most(self) -> float:
        """The share if all others had failed."""
        return 1 - self.said_working / self.asked


@dataclass(frozen=True, eq=False, slots=True)
class Readiness:
    """One component's share failed by an age or distance, for each readiness to answer.

    `table` has times_less_ready, share, lower, upper; the finding is about `asked` members or
    vehicles. `tips_at` is how many times less ready
    those without trouble would have to be for the share to come down to `conclusion`, or to
    rise to it (below 1: readier); None where none was stated, or nothing up to `FURTHEST` does.
    `bounds` is None where no vehicle is old enough.
    """

    component: str
    by: float
    unit: str
    asked: float
    table: pl.DataFrame
    conclusion: float | None
    tips_at: float | None
    bounds: SilentBounds | None


def readiness(
    lives: SurveyLives,
    component: str,
    *,
    weighted: WeightedSurvey,
    by: float,
    asked: float,
    conclusion: float | None,
    confidence: float,
    rng: np.random.Generator,
    n: int,
) -> Readiness:
    """Make a component's finding again for each readiness, each with its design's interval.

    Two findings from generators in one state have the same replicates. `by` is in the component's
    unit; `asked` is how many members, or vehicles, the finding is
    about; `conclusion` is the share that would change what is said. EstimateError: no curve, or
    fewer asked than answered. ValueError: a conclusion that is no share.
    """
    if conclusion is not None and not 0 < conclusion < 1:
        raise ValueError(f"conclusion {conclusion:g}: wanted a share between 0 and 1")
    # the same replicates for each readiness, so that only the readiness moves the finding
    drawn = drawn_counts(weighted, rng=rng, n=n)

    def found(times: float) -> Estimate:
        each = stands_for(lives, component, weighted=weighted, times_less_ready=times)
        weights = reraked(weighted, each * drawn)
        of = weighted_lives(lives, component, weighted=weighted, weights=weights)
        return weighted_weibull(of).share_failed(by, confidence=confidence)

    told = {times: found(times) for times in TIMES_LESS_READY}
    of_component = lives.lives.filter(component=component)
    rows = [(times, e.value, e.lower, e.upper) for times, e in told.items()]
    return Readiness(
        component=component,
        by=by,
        unit=str(of_component["unit"][0]),
        asked=asked,
        table=pl.DataFrame(
            rows, schema=["times_less_ready", "share", "lower", "upper"], orient="row"
        ),
        conclusion=conclusion,
        tips_at=None
        if conclusion is None
        else tipping_point(lives, component, weighted=weighted, by=by, conclusion=conclusion),
        bounds=silent_bounds(lives, component, weighted=weighted, by=by, asked=asked),
    )


def stands_for(
    lives: SurveyLives, component: str, *, weighted: WeightedSurvey, times_less_ready: float
) -> Array:
    """For how many each answer stands: one where the part was renewed, more where it was not.

    Who does not know is taken to have had no trouble worth remembering. ValueError: a readiness
    that is none.
    """
    if not 0 < times_less_ready < np.inf:
        raise ValueError(f"{times_less_ready:g} times less ready: wanted above 0")
    had = lives.lives.filter(pl.col("component") == component, pl.col("upper").is_finite())
    trouble = weighted.answers["respondent"].is_in(had["respondent"].to_list()).to_numpy()
    return np.where(trouble, 1.0, times_less_ready)


def tipping_point(
    lives: SurveyLives,
    component: str,
    *,
    weighted: WeightedSurvey,
    by: float,
    conclusion: float,
) -> float | None:
    """How many times less ready those without trouble must be for the share to be the conclusion.

    The share falls as they are taken to be less ready, since each of them then stands for more.
    None where it is not met up to `FURTHEST` times, either way.
    """

    def above(log_times: float) -> float:
        factors = stands_for(
            lives, component, weighted=weighted, times_less_ready=float(np.exp(log_times))
        )
        weights = reraked(weighted, factors[None, :])
        of = weighted_lives(lives, component, weighted=weighted, weights=weights)
        return float(1 - weibull(of.counts).survival(by)) - conclusion

    reach = float(np.log(FURTHEST))
    if above(-reach) * above(reach) >= 0:
        return None
    return float(np.exp(brentq(above, -reach, reach, xtol=1e-4)))


def silent_bounds(
    lives: SurveyLives, component: str, *, weighted: WeightedSurvey, by: float, asked: float
) -> SilentBounds | None:
    """Bounds on the share failed that assume nothing of those who kept silent, or do not know.

    By an age, of the vehicles whose model year makes them old enough, as many of those asked as
    of the register, None where there are none; by a distance of all, since nobody tells the
    odometers of the silent. EstimateError: fewer asked than answered.
    """
    check_asked(weighted, asked)
    known = lives.lives.filter(component=component)
    old_enough = pl.lit(True)
    if known["unit"][0] == YEARS:
        old_enough = pl.col("model_year") <= weighted.calendar_year - by
    road = weighted.on_the_road
    there, old = (
        float(frame["on_the_road"].to_numpy().sum()) for frame in (road, road.filter(old_enough))
    )
    answered = weighted.answers.filter(old_enough).select("respondent")
    if not old or answered.is_empty():
        return None
    told = known.join(answered, on="respondent", how="semi")
    return SilentBounds(
        asked=max(asked * old / there, float(answered.height)),
        said_failed=int((told["upper"] <= by).sum()),
        said_working=int((told["lower"] >= by).sum()),
    )


def check_asked(weighted: WeightedSurvey, asked: float) -> None:
    """Refuse by EstimateError fewer asked than answered."""
    if asked < weighted.answers.height:
        raise EstimateError(
            f"{weighted.answers.height} answered of {asked:,.0f} asked: wanted no more than asked"
        )
