"""Findings in words, written from the results, so that text and table cannot disagree."""

import html
from collections.abc import Sequence
from dataclasses import dataclass

from wornby.records.catalogue import Component
from wornby.reports.answer import INERT_IN_JUPYTER
from wornby.reports.shown_text import LONGEST_SENTENCE, shown
from wornby.reports.workshop import Workshop

MOST_NAMED = 3
WORTH_IT = 0.01
"""A saving of less than one per cent of the cost is none: what is close to it may be left."""
SURE = 0.05
CAUTION_WORDS = {
    "hot coolant": "Hot coolant is under pressure and scalds: open no cap until the engine is "
    "cold, and judge coolant and its leaks cold.",
    "raised vehicle": "A raised vehicle stands on stands or a lift rated for it, never on a jack "
    "alone; what holds up the engine or gearbox must hold before a mount is undone.",
    "brakes": "Brakes, steering and fuel are safety work: by a qualified person, to the maker's "
    "instructions and the local rules, tested before the vehicle leaves.",
    "steering": "Steering and suspension hold the vehicle on the road: a spring under load is "
    "undone only in a compressor made for it, and wheels are aligned before the vehicle leaves.",
    "fuel": "Fuel burns and its vapour explodes: work cold, in moving air, without flame or spark, "
    "and let the pressure off first.",
    "restraint": "Seat belts and air bags fail or fire when wrongly handled: by a qualified "
    "person, to the maker's instructions.",
}
SAFETY_CAUTION = (
    "A safety part found degraded is never left: the vehicle stays off the road until a qualified "
    "person has renewed it."
)
NEVER_CERTIFIED = (
    "they never certify a vehicle safe, and local codes, the maker's instructions and the "
    "judgement of whoever inspects the vehicle come first."
)
DISCLAIMER = (
    "These are estimates from past jobs. They advise which parts to look at and what work to "
    f"offer; {NEVER_CERTIFIED}"
)


@dataclass(frozen=True, slots=True)
class Sentences:
    """A list of sentences, as text or as a page shows them."""

    sentences: tuple[str, ...]
    style: str = "findings"

    def __repr__(self) -> str:
        """One sentence a line."""
        return "\n".join(f"- {sentence}" for sentence in self.texts())

    def texts(self) -> list[str]:
        """The sentences as a reader gets them: inert and of bearable length."""
        return [shown(sentence, longest=LONGEST_SENTENCE) for sentence in self.sentences]

    def _repr_html_(self) -> str:
        if not self.sentences:
            return ""
        items = "".join(f"<li>{html.escape(sentence)}</li>" for sentence in self.texts())
        return f'<ul class="{self.style} {INERT_IN_JUPYTER}">{items}</ul>'


def cautions_for(components: Sequence[Component]) -> tuple[str, ...]:
    """The cautions that these components carry, each once; a safety part always carries one."""
    carried = {name for component in components for name in component.cautions}
    if "steering" in carried:
        carried.add("brakes")
    said = tuple(text for name, text in CAUTION_WORDS.items() if name in carried)
    return (*said, *([SAFETY_CAUTION] if any(c.safety for c in components) else []))


def cautions(workshop: Workshop) -> Sentences:
    """The cautions of all components, and what these figures cannot do."""
    told = cautions_for(list(workshop.catalogue.components.values()))
    return Sentences((*told, DISCLAIMER), style="caution")
