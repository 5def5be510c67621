"""What a club asks its members, worded so that the answers can be analysed."""

from collections.abc import Sequence
from dataclasses import dataclass

from wornby.errors import RecordError
from wornby.records.catalogue import Component

UNSURE = "don't know"
PLACE = "*"
"""Stands for the component's name in a question that is asked of each."""
MOST_COMPONENTS = 12
"""Of more, many give up half-way, those without trouble first (common practice, no source)."""

DAYS = {
    "day first": "Day, month and year as 31/12/2024.",
    "month first": "Month, day and year as 12/31/2024.",
}


@dataclass(frozen=True, slots=True)
class Question:
    """One question: our column for it, its words, how to answer, and the choices if it has some.

    The words are the column's header, in the ready sheet and in a form service's export alike.
    """

    column: str
    words: str
    how: str
    choices: tuple[str, ...] = ()

    def of(self, component: str) -> "Question":
        """The question asked of one component."""
        return Question(self.column, self.words.replace(PLACE, component), self.how, self.choices)


def vehicle_questions(
    versions: Sequence[str], *, unit: str, day_order: str
) -> tuple[Question, ...]:
    """What is asked of each vehicle, once; `unit` is mi or km, `day_order` one of `DAYS`."""
    other = "mi" if unit == "km" else "km"
    return (
        Question(
            "model_year", "Which model year is the vehicle?", "Four digits, one year, as 2007."
        ),
        Question(
            "version",
            "Which version is it?",
            "As it left the factory.",
            tuple(versions),
        ),
        Question(
            "first_registered",
            "When was it first registered?",
            "Month and year as 06/2007; the year alone if you do not know the month.",
        ),
        Question(
            "odometer",
            f"What does the odometer show today ({unit})?",
            f"The whole number, as 84000, not 84. If yours counts otherwise, write {other} after "
            "it. If the instrument was ever changed, the distance of both together.",
        ),
        Question(
            "bought",
            "Since when have you had it?",
            "Month and year as 03/2015; new if you had it from new.",
        ),
        Question("answered", "On which day do you answer?", DAYS[day_order]),
        Question(
            "share",
            "May your answer be shown by itself?",
            "No name is ever shown. If no, your answer is only counted together with others.",
            ("yes", "no"),
        ),
    )


COMPONENT_QUESTIONS = (
    Question(
        "state",
        "The *: is it still the original?",
        "Renewed means another part was fitted, new or used. Repaired in place is still the "
        "original. Do not guess: don't know is an answer that helps.",
        (
            "still original",
            "renewed once",
            "renewed twice",
            "renewed three times or more",
            UNSURE,
            "not fitted",
        ),
    ),
    Question(
        "when",
        "The *: when was it first renewed?",
        "The year, or month and year: 2019, 03/2019, spring 2019. If you are not certain write "
        "about 2019, or the years it may have been, 2018-2020. If it was done before you had the "
        "vehicle and you do not know when: before I had it. Leave it empty if it is original.",
    ),
    Question(
        "distance",
        "The *: what did the odometer show then?",
        "As 85000, about 85000, or 80-90k. Leave it empty if you do not know.",
    ),
    Question(
        "again",
        "The *: if renewed again, when was the last time?",
        "The year, or month and year. Leave it empty if it was renewed once or never.",
    ),
    Question(
        "reason",
        "The *: why was it first renewed?",
        "Failed: it no longer did its job (leaking, seized, broken). Worn: it still worked and "
        "was found worn, noisy or cracked. As a precaution: nothing was wrong with it.",
        ("failed", "worn", "as a precaution", UNSURE),
    ),
    Question(
        "grade",
        "The *: what was fitted then?",
        "Genuine: in the vehicle maker's box. Original-equipment: the same maker's, in its own "
        "box.",
        ("genuine", "original-equipment", "aftermarket", "used", "reconditioned", UNSURE),
    ),
)


def asked_of(components: Sequence[Component], names: Sequence[str]) -> tuple[Component, ...]:
    """The components to ask of: those named, in their order, or all of the catalogue."""
    known = {component.name: component for component in components}
    if unknown := [name for name in names if name not in known]:
        raise ValueError(f"no component {unknown[0]!r}; workshop.toml has {', '.join(known)}")
    if not known:
        raise RecordError("workshop.toml: no [[component]]; add those to ask of")
    return tuple(known[name] for name in dict.fromkeys(names)) or tuple(components)
