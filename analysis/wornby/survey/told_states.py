"""Whether a part is still the original, as people write it, and why it was renewed."""

import re
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
        rf"({DONE})|(has|have) been ({DONE})|not original|no longer original"
        rf"|({DONE}) (once or more|more than once|several times)|more than once|several times"
        r"|once or more",
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
    """Failure or precaution; unknown where it is neither.

    >>> read_reason("Leaking"), read_reason("as a precaution"), read_reason("who knows")
    ('failure', 'precaution', 'unknown')
    """
    plain = plain_text(text)
    said = [reason for pattern, reason in REASONS if re.fullmatch(pattern, plain)]
    return said[0] if said else "unknown"
