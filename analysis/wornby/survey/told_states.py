"""Whether a part is still the original, why and with what it was renewed, as people write it."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from wornby.survey.told_when import plain_text

DONE = r"renewed|replaced|changed|swapped|new one|new"
STATES: tuple[tuple[str, str, int | None], ...] = (
    (
        r"(i )?(do not|don't|dont|can't|cant|cannot) (know|remember|recall|say)|not sure|unsure"
        r"|unknown|no idea|\?+|n/?[ka]|dk|possibly|maybe",
        "don't know",
        None,
    ),
    (
        r"not fitted|not applicable|none fitted|(my|the) (van|vehicle) has none|does not have",
        "not fitted",
        None,
    ),
    (
        r"(still )?(the )?original|still original( one)?|never|never (renewed|replaced|changed)"
        r"|not (yet )?(renewed|replaced|changed)|as built|factory( fitted)?|as new|first one",
        "original",
        0,
    ),
    (rf"once|({DONE}),? (once|1x|1 time|one time)|second one", "renewed", 1),
    (rf"twice|({DONE}),? (twice|2x|2 times|two times)", "renewed", 2),
    (rf"(({DONE}),? )?(3|three) times|(({DONE}),? )?thrice", "renewed", 3),
    (
        rf"(({DONE}),? )?(more than once|twice or more|(more than )?two times or more)",
        "renewed",
        2,
    ),
    (
        rf"(({DONE}),? )?(several times|many times|(3|three) (times )?or more( times)?"
        r"|more than twice)",
        "renewed",
        3,
    ),
    (
        rf"({DONE})|(has|have) been ({DONE})|not original|no longer original"
        rf"|({DONE}) once or more|once or more",
        "renewed",
        None,
    ),
)
"""Ways of writing a state, the state, and how often it was renewed where that is said.

Yes and no are none of them: which is which hangs on the question. [file.words.state] says.
"""

REASONS = (
    (
        r"fail\w*|failure|brok\w+|leak\w*|seized|burst|split|snapped|cracked|worn( out)?|noisy"
        r"|noise|not working|stopped working|it failed|corroded|rust\w*|perished",
        "failure",
    ),
    (
        r"precaution\w*|as a precaution|prevent\w+|while in there|with other work|due|service"
        r"|scheduled|at a service|upgrade\w*|recall",
        "precaution",
    ),
)
"""Ways of writing why; whatever else is written is no reason that is known."""


GRADES_TOLD = (
    (r"(the )?(genuine|maker'?s( own)?|dealer'?s?)( part)?", "genuine"),
    (r"original[- ]equipment|oem?|oe quality", "original-equipment"),
    (r"after[- ]?market|pattern|copy|copies|budget|third[- ]party|a/m", "aftermarket"),
    (r"used|second[- ]?hand|from a breaker'?s?", "used"),
    (r"recon\w*|re-?built|remanufactured|exchange|overhauled", "reconditioned"),
)
"""Ways of writing a part's grade."""
SHARING = (
    (r"y(es)?|true|1|ok(ay)?|sure|of course|happy to( share)?|(i )?agree|fine|please do", "yes"),
    (r"no?|false|0|no,? thanks?( you)?|(i('d| would) )?rather not|prefer not( to)?|not happy"
     r"|private|please (do not|don't)", "no"),
)  # fmt: skip
"""Ways of writing whether an answer may be shown by itself."""
BETWEEN_CHOICES = r"[;,/|&\n]| and | or | \+ "


@dataclass(frozen=True, slots=True)
class State:
    """What a cell says: the state, how often renewed (None: not said), and what else it holds."""

    state: str
    times: int | None
    rest: str = ""


def read_state(text: str) -> State | None:
    """Original, renewed, don't know or not fitted; None where it says none of them.

    What follows the word "renewed" is handed back, since many write the year there.

    >>> read_state("Still original"), read_state("renewed about 2019").rest
    (State(state='original', times=0, rest=''), 'about 2019')
    """
    plain = plain_text(text) or text.strip()
    for pattern, state, times in STATES:
        if re.fullmatch(pattern, plain):
            return State(state, times)
    done = rf"(?:(?:{DONE})(?: (?P<once>once))?|(?P<only>once))"
    if found := re.fullmatch(rf"{done}[ ,:(-]+(?P<rest>.+?)\)?", plain):
        return State("renewed", 1 if found["once"] or found["only"] else None, found["rest"])
    return None


def read_reason(text: str) -> str:
    """Failure or precaution; unknown where it is neither, or both.

    >>> read_reason("Leaking"), read_reason("as a precaution"), read_reason("who knows")
    ('failure', 'precaution', 'unknown')
    """
    return _one_of(text, REASONS)


def read_grade(text: str) -> str:
    """The grade of a part as owners write it; unknown where it is none, or several.

    >>> read_grade("OEM"), read_grade("Pattern part"), read_grade("genuine; used")
    ('original-equipment', 'aftermarket', 'unknown')
    """
    return _one_of(re.sub(r"(?i)\s+parts?\b", "", text), GRADES_TOLD)


def read_share(text: str) -> str | None:
    """Whether an answer may be shown by itself, yes or no; None where neither is said.

    >>> read_share("Yes, of course"), read_share("I'd rather not"), read_share("ask me")
    ('yes', 'no', None)
    """
    plain = plain_text(text)
    said = {meant for pattern, meant in SHARING if re.fullmatch(pattern, plain)}
    first = plain.split(",")[0]
    said = said or {meant for pattern, meant in SHARING if re.fullmatch(pattern, first)}
    return said.pop() if len(said) == 1 else None


def _one_of(text: str, ways: Sequence[tuple[str, str]]) -> str:
    """What the choices ticked in a cell all mean; unknown where they mean several things or none.

    Where one of several is not understood, the others count.
    """
    pieces = [plain_text(piece) for piece in re.split(BETWEEN_CHOICES, text)]
    said = {
        meant
        for piece in (plain_text(text), *pieces)
        for pattern, meant in ways
        if re.fullmatch(pattern, piece)
    }
    return said.pop() if len(said) == 1 else "unknown"
