"""Whether a club's versions differ by more than chance, and the lives of those that do."""

from dataclasses import dataclass, replace

import polars as pl

from wornby.curves.contrasts import holm
from wornby.curves.parametric import WeibullCurve, weibull
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.reports.amounts import percent
from wornby.reports.answer import Answer
from wornby.reports.club import Club
from wornby.reports.sentences import SURE, Sentences
from wornby.reports.survey_share_answers import BOUNDS, TENTH, reach_text, within_reach
from wornby.reports.survey_tables import WITHHELD, why_once, with_few_digits
from wornby.survey.design_intervals import WeightedLives, weighted_lives, weighted_weibull
from wornby.survey.lives_alike import one_life
from wornby.survey.replicates import N_REPLICATES, replicate_weights

FEWEST_RENEWED = 5
"""Of a version, before its life is told: with fewer the curve is its form alone."""


@dataclass(frozen=True, eq=False, slots=True)
class VersionLives:
    """A component's lives by version, where numbers may be published, and a curve of each."""

    lives: dict[str, WeightedLives]
    curves: dict[str, WeibullCurve]


def club_version_answer(club: Club) -> Answer | Sentences:
    """Lives by version of the components whose versions differ by more than chance would have it.

    Each component is tested by `one_life`, all of them held to account together (Holm 1979). Where
    none differs that is said in a sentence: beside each other, ranges of versions that do not
    differ invite a story. EstimateError where no component has two versions to compare.
    """
    compared = _compared(club)
    if not compared:
        raise EstimateError("no component has answers enough in two versions to compare them")
    tests = [one_life(list(of.curves.values())).p_value for of in compared.values()]
    held = dict(zip(compared, holm(tests), strict=True))
    differ = {name: compared[name] for name, p_value in held.items() if p_value < SURE}
    number = f"{len(compared)} of {club.published.by_component.height} components"
    if not differ:
        return Sentences(
            (
                "We found no difference between versions that chance would not explain. Answers "
                f"were enough to compare two versions or more for {number}.",
            )
        )
    return _differing(club, differ, f"Answers were enough to compare versions for {number}.")


def version_method(club: Club) -> tuple[str, ...]:
    """How versions were compared: for a letter to say once, at its end."""
    return (
        "Versions of a component are compared where each has "
        f"{club.published.thresholds.minimum_base} answers and {_fewest_renewed(club)} renewed: "
        "likelihood ratio of one Weibull against one each, answers taken for as many as they are "
        f"worth (Rao & Scott 1984), below {SURE:.0%} with all components counted (Holm 1979).",
    )


def _fewest_renewed(club: Club) -> int:
    return max(FEWEST_RENEWED, club.published.thresholds.minimum_cell)


def _compared(club: Club) -> dict[str, VersionLives]:
    """The components with a curve in two versions or more."""
    weights = replicate_weights(club.weighted, rng=club.rng("versions"), n=N_REPLICATES)
    found: dict[str, VersionLives] = {}
    for told in club.published.by_version.drop_nulls(["renewed", "original"]).to_dicts():
        component, version = told["component"], told["version"]
        if told["renewed"] < _fewest_renewed(club):
            continue
        of_version = club.weighted.answers.filter(version=version).select("respondent")
        lives = club.lives.lives.filter(component=component).join(of_version, on="respondent")
        if lives.height < club.published.thresholds.minimum_base:
            continue
        part = replace(club.lives, lives=lives)
        of = weighted_lives(part, component, weighted=club.weighted, weights=weights)
        try:
            curve = weibull(of.counts)
        except EstimateError:
            continue
        one = found.setdefault(component, VersionLives({}, {}))
        one.lives[version], one.curves[version] = of, curve
    return {name: one for name, one in found.items() if len(one.curves) > 1}


def _differing(club: Club, differ: dict[str, VersionLives], compared: str) -> Answer:
    """When one in ten was renewed, by version, of the components that differ."""
    rows = [
        {
            "component": component,
            "version": version,
            **{f"b10_{part}": getattr(life, part) for part in BOUNDS},
            "unit": life.unit,
            "confidence": club.confidence,
            "reason": life.note,
            "text": reach_text(life),
        }
        for component, one in differ.items()
        for version, of in one.lives.items()
        for life in [_tenth(of, club.confidence)]
    ]
    frame = pl.DataFrame(rows, infer_schema_length=None)
    people = frame.pivot(on="version", index="component", values="text").fill_null(WITHHELD)
    answer = Answer(
        "By when one in ten had been renewed, by version",
        people,
        frame.drop("text"),
        (
            "Only components whose versions differ by more than chance would explain. " + compared,
            "Each version by itself, so the ranges are wide; they hold with "
            f"{percent(club.confidence)} chance, as far as chance alone goes.",
        ),
        a_row_a_cell=True,
    )
    return why_once(with_few_digits(answer), club.published.thresholds)


def _tenth(of: WeightedLives, confidence: float) -> Estimate:
    """The B10 life with the design's interval; too few replicates have a curve: not told."""
    try:
        life = weighted_weibull(of).b_life(TENTH, confidence=confidence)
    except EstimateError as error:
        return Estimate(None, None, None, confidence, of.counts.unit, str(error))
    return within_reach(life, of.counts)
