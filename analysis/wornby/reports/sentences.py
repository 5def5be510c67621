"""Findings in words, written from the results, so that text and table cannot disagree."""

from collections.abc import Sequence
from dataclasses import dataclass

from wornby.records.catalogue import Component
from wornby.reports.answer import CAUTIONS, INERT_IN_JUPYTER, Answer, Caution, with_code
from wornby.reports.shown_text import LONGEST_SENTENCE, shown
from wornby.reports.workshop import Workshop

MOST_NAMED = 3
WORTH_IT = 0.01
"""A saving of less than one per cent of the cost is none: what is close to it may be left."""
SURE = 0.05
CAUTION_WORDS = {
    about: Caution(about, text)
    for about, text in {
        "hot coolant": "Hot coolant is under pressure and scalds: open no cap until the engine is "
        "cold, and judge coolant and its leaks cold.",
        "raised vehicle": "A raised vehicle stands on stands or a lift rated for it, never on a "
        "jack alone; what holds up the engine or gearbox must hold before a mount is undone.",
        "brakes": "Brakes, steering and fuel are safety work: by a qualified person, to the "
        "maker's instructions and the local rules, tested before the vehicle leaves.",
        "steering": "Steering and suspension hold the vehicle on the road: a spring under load is "
        "undone only in a compressor made for it, and wheels are aligned before the vehicle "
        "leaves.",
        "fuel": "Fuel burns and its vapour explodes: work cold, in moving air, without flame or "
        "spark, and let the pressure off first.",
        "restraint": "Seat belts and air bags fail or fire when wrongly handled: by a qualified "
        "person, to the maker's instructions.",
    }.items()
}
SAFETY_CAUTION = Caution(
    "safety parts",
    "A safety part found degraded is never left: the vehicle stays off the road until a qualified "
    "person has renewed it.",
)
NEVER_CERTIFIED = (
    "they never certify a vehicle safe, and local codes, the maker's instructions and the "
    "judgement of whoever inspects the vehicle come first."
)
DISCLAIMER = Caution(
    "what these figures cannot do",
    "These are estimates from past jobs. They advise which parts to look at and what work to "
    f"offer; {NEVER_CERTIFIED}",
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

    def about(self) -> frozenset[str]:
        """What cautions among them are about."""
        return frozenset(one.about for one in self.sentences if isinstance(one, Caution))

    def _repr_html_(self) -> str:
        if not self.sentences:
            return ""
        items = "".join(f"<li>{with_code(sentence)}</li>" for sentence in self.texts())
        place = f' id="{CAUTIONS}"' if self.about() else ""
        return f'<ul{place} class="{self.style} {INERT_IN_JUPYTER}">{items}</ul>'


@dataclass(frozen=True, eq=False, slots=True)
class InBrief:
    """An answer told in sentences; its table is in the files beside the page."""

    sentences: Sentences
    answer: Answer

    def __repr__(self) -> str:
        """The sentences."""
        return repr(self.sentences)

    def _repr_html_(self) -> str:
        return self.sentences._repr_html_()


def cautions_for(components: Sequence[Component]) -> tuple[Caution, ...]:
    """The cautions that these components carry, each once; a safety part always carries one."""
    carried = {one for component in components for one in _carried(component)}
    return tuple(one for one in (*CAUTION_WORDS.values(), SAFETY_CAUTION) if one in carried)


def _carried(component: Component) -> list[Caution]:
    names = {*component.cautions, *(["brakes"] if "steering" in component.cautions else [])}
    return [CAUTION_WORDS[name] for name in names] + [SAFETY_CAUTION] * component.safety


def cautions(workshop: Workshop) -> Sentences:
    """The cautions of all components, each with those it holds for, and what figures cannot do."""
    components = list(workshop.catalogue.components.values())
    told = [
        Caution(
            one.about, f"{one} For: {', '.join(c.name for c in components if one in _carried(c))}."
        )
        for one in cautions_for(components)
    ]
    return Sentences((*told, DISCLAIMER), style="caution")
