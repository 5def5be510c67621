"""Answers for the club's own desk: what members told of renewals, component by component."""

import polars as pl

from wornby.records.catalogue import GRADES
from wornby.reports.answer import Answer
from wornby.survey.told_components import ComponentAnswers

REASONS = {"failure": "failed or worn", "precaution": "as a precaution"}
NOT_SAID = "unknown"


def renewals_told_answer(components: ComponentAnswers) -> Answer:
    """How many told that a part was renewed, when, why, and what was fitted.

    Numbers may be as small as 1: not to be published.
    """
    renewed = components.renewals.filter(pl.col("state") == "renewed")
    told = renewed.group_by("component", "respondent").agg(
        pl.col("why", "grade").first(),
        time=pl.col("kind").is_not_null().any(),
        distance=pl.col("distance_kind").is_not_null().any(),
    )
    frame = (
        told.group_by("component")
        .agg(
            renewed=pl.len(),
            time=pl.col("time").sum(),
            distance=pl.col("distance").sum(),
            **{f"reason_{why}": (pl.col("why") == why).sum() for why in (*REASONS, NOT_SAID)},
            **{f"grade_{one}": (pl.col("grade") == one).sum() for one in (*GRADES, NOT_SAID)},
        )
        .sort("component")
    )
    people = [
        {
            "component": row["component"],
            "renewed": f"{row['renewed']:,}",
            "says when": f"{row['time']:,}",
            "says at what distance": f"{row['distance']:,}",
            "why": _listed(row, "reason", {**REASONS, NOT_SAID: "not said"}),
            "what was fitted": _listed(
                row, "grade", {**{grade: grade for grade in GRADES}, NOT_SAID: "not said"}
            ),
        }
        for row in frame.to_dicts()
    ]
    nothing = pl.DataFrame({"component": ["nobody told of a renewal"]})
    return Answer(
        "What members told of renewals",
        pl.DataFrame(people) if people else nothing,
        frame,
        ("For the club's own desk: small numbers may lead to a member.",),
    )


def _listed(row: dict[str, object], what: str, names: dict[str, str]) -> str:
    """The numbers above nought, each with its name."""
    counts = [(row[f"{what}_{name}"], said) for name, said in names.items()]
    return ", ".join(f"{n} {said}" for n, said in counts if n)
