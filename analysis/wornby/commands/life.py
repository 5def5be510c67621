"""`wornby life`: by what age or distance each component fails."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from wornby.commands.asked import opened, show, show_written

if TYPE_CHECKING:
    from wornby.reports.answer import Answer

SERVICE_YEARS = 5.0
LIFE_ANSWERS = {
    "component": "life_answer",
    "renewed": "renewed_life_answer",
    "few": "few_failures_answer",
    "grade": "grade_answer",
    "version": "version_answer",
    "effect": "effect_answer",
    "rule": "rule_answer",
    "fit": "fit_answer",
    "scale": "scale_answer",
    "odometer": "distance_doubt_answer",
    "pace": "pace_answer",
    "interval": "interval_answer",
    "band": "band_answer",
    "ending": "ending_answer",
    "comeback": "comeback_answer",
    "recurrence": "recurrence_answer",
    "trend": "trend_answer",
}
"""What `wornby life --by` may ask for, and the public name that answers."""
OF_POPULATION = {"population": "population_answer", "reconciliation": "reconciliation_answer"}
"""What needs the number of vehicles on the road besides."""
OF_ONE_COMPONENT = {"rule": "sensitivity_answer", "fit": "rivals_answer"}
"""What is asked in full of the one that --component names; of population, the rates by age."""


def life_options(life: argparse.ArgumentParser) -> None:
    """What `life` may be asked."""
    life.add_argument(
        "--by",
        choices=(*LIFE_ANSWERS, "cost", *OF_POPULATION),
        default="component",
        help="original parts by component, or what else is asked of their lives",
    )
    life.add_argument(
        "--component", help="one component in full, with --by rule, fit or population, or --picture"
    )
    life.add_argument(
        "--picture", type=Path, metavar="FILE.svg", help="draw the component's curve into a file"
    )


def run_life(asked: argparse.Namespace) -> None:
    """Say by what age or distance each component fails."""
    import wornby
    from wornby.records.lives import holds_lives
    from wornby.reports.life_answers import ready_lives_answer

    if holds_lives(asked.folder):
        if asked.by != "component":
            raise ValueError(f"--by {asked.by}: ready-made lives know of components only")
        lives = wornby.read_lives(asked.folder)
        show(asked, [ready_lives_answer(lives.table, confidence=asked.confidence)])
        return
    if asked.picture is not None:
        _draw(asked)
        return
    named = (*OF_ONE_COMPONENT, "population")
    if asked.component is not None and asked.by not in named:
        raise ValueError(f"--component goes with --by {', '.join(named)}")
    if asked.by in OF_POPULATION:
        show(asked, _of_population(asked))
    elif asked.by == "cost":
        show(asked, [wornby.grade_cost_answer(opened(asked), service_years=SERVICE_YEARS)])
    elif asked.component is not None:
        answer = getattr(wornby, OF_ONE_COMPONENT[asked.by])
        show(asked, [answer(opened(asked), asked.component)])
    else:
        show(asked, [getattr(wornby, LIFE_ANSWERS[asked.by])(opened(asked))])


def _draw(asked: argparse.Namespace) -> None:
    """Write the picture of one component's life."""
    import wornby

    if asked.component is None or asked.by != "component" or asked.picture.suffix != ".svg":
        raise ValueError("--picture FILE.svg goes with --component, and with no --by")
    workshop = opened(asked)
    if asked.component not in workshop.original:
        known = ", ".join(workshop.original)
        raise ValueError(f"--component {asked.component}: no such curve; there are {known}")
    curves = {asked.component: workshop.original[asked.component]}
    (drawing,) = wornby.draw_lives(curves, confidence=workshop.confidence).drawings
    asked.picture.write_text(drawing.svg, encoding="utf-8")
    show_written(asked, [asked.picture])


def _of_population(asked: argparse.Namespace) -> list["Answer"]:
    import wornby

    population, workshop = wornby.read_population(asked.folder), opened(asked)
    if asked.component is None:
        return [getattr(wornby, OF_POPULATION[asked.by])(workshop, population)]
    return [
        wornby.population_rate_answer(workshop, population, asked.component, by=by)
        for by in ("age", "calendar year")
    ]
