"""One component's life as an analyst asks for it: on a scale, of a version, under a rule."""

from dataclasses import dataclass

import polars as pl

from wornby.curves.components import ComponentCurve, curve_of
from wornby.curves.profile import scale_interval, shape_interval
from wornby.errors import EstimateError
from wornby.histories.counts import count_episodes
from wornby.histories.observation import RULES, ObservationRule
from wornby.histories.watching import episodes
from wornby.records.catalogue import SCALES
from wornby.reports.amounts import estimate_text, marked, shape_text, with_unit
from wornby.reports.answer import Answer
from wornby.reports.life_answers import BOUNDS, b10_life, chance_next
from wornby.reports.workshop import Workshop, pace_of

ALL_VERSIONS = "all versions"
IN_FORCE = "the rule in force"
ORIGINS = ("original", "renewed")


@dataclass(frozen=True, slots=True)
class AskedLife:
    """Which life is asked for; the words are those of the records and of the rules."""

    component: str
    scale: str
    version: str = ALL_VERSIONS
    rule: str = IN_FORCE
    origin: str = "original"


def versions_seen(workshop: Workshop) -> tuple[str, ...]:
    """Every version with a watched part, all of them together first."""
    seen = workshop.episodes.table["version"].drop_nulls().unique().sort().to_list()
    return (ALL_VERSIONS, *seen)


def rules_to_ask(workshop: Workshop) -> dict[str, ObservationRule]:
    """The observation rules by name, the one in force first."""
    return {IN_FORCE: workshop.episodes.rule, **RULES}


def asked_curve(workshop: Workshop, asked: AskedLife) -> ComponentCurve:
    """The curve through the episodes that are asked for."""
    rules = rules_to_ask(workshop)
    for what, word, known in (
        ("component", asked.component, tuple(workshop.catalogue.components)),
        ("scale", asked.scale, SCALES),
        ("version", asked.version, versions_seen(workshop)),
        ("rule", asked.rule, tuple(rules)),
        ("origin", asked.origin, ORIGINS),
    ):
        if word not in known:
            raise ValueError(f"no {what} {word!r}; there are {', '.join(known)}")
    in_force = asked.rule == IN_FORCE
    rule = rules[asked.rule]
    watched = workshop.episodes if in_force else episodes(workshop.histories, rule)
    lives = watched.table.filter(component=asked.component, origin=asked.origin)
    if asked.version != ALL_VERSIONS:
        lives = lives.filter(version=asked.version)
    counts = count_episodes(
        lives,
        unit=workshop.catalogue.units[asked.scale],
        what=f"{asked.component} ({asked.origin}, {asked.version})",
        rule=rule.sentence(),
    )
    if not counts.n_lives:
        raise EstimateError(f"{counts.what}: none was watched under this rule")
    return curve_of(asked.component, counts, origin=asked.origin, confidence=workshop.confidence)


def asked_life_answer(workshop: Workshop, asked: AskedLife, curve: ComponentCurve) -> Answer:
    """The numbers of the curve: watched, failed, B10 life, chance from then on, shape and scale."""
    confidence = workshop.confidence
    b10 = b10_life(curve, confidence=confidence)
    horizon = 1.0 if curve.by_age else pace_of(workshop).per_year
    chance = chance_next(curve, age=b10.value, horizon=horizon, confidence=confidence)
    told = [
        ("watched", f"{curve.counts.n_lives:.0f}", None),
        ("failed", f"{curve.counts.n_failures:.0f}", None),
        ("B10 life", marked(with_unit(b10), b10.note), b10),
        ("chance within 12 months of it", marked(estimate_text(chance), chance.note), chance),
    ]
    if curve.weibull is not None:
        shape = shape_interval(curve.weibull, confidence=confidence)
        scale = scale_interval(curve.weibull, confidence=confidence)
        told += [("shape", shape_text(shape), shape), ("scale", with_unit(scale), scale)]
    people = [(name, text) for name, text, _ in told]
    return Answer(
        f"{asked.component}, {asked.origin}, {asked.version}",
        pl.DataFrame(people, schema=["what", "by the records"], orient="row"),
        pl.DataFrame(
            [
                {"what": name, **{part: getattr(estimate, part, None) for part in BOUNDS}}
                for name, _, estimate in told
            ],
            infer_schema_length=None,
        ),
        (f"{asked.rule}: {curve.counts.rule}.", *([curve.reason] if curve.reason else [])),
    )
