"""Text from records as a reader may safely get it: inert, on one line and of bearable length.

What a workshop typed into a field is never markup, formula or command: pages escape it, figures
draw it letter by letter, spreadsheets store it as text. Here it loses what no escaping reaches:
control characters, and marks that turn the direction of what stands beside it.
"""

import re

LONGEST_CELL = 500
LONGEST_SENTENCE = 2_000
LONGEST_LABEL = 34
ELLIPSIS = "…"
CONTROLS = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029]+")
DIRECTION_MARKS = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
NO_CHARACTER = re.compile("[\ufeff\ufffe\uffff\ud800-\udfff]")
FORMULA_STARTS = tuple("=+-@＝＋－＠")


def shown(text: object, *, longest: int = LONGEST_CELL) -> str:
    """A text on one line, without what could turn or end it, and with an ellipsis if cut.

    >>> shown("seal\\x1b[2J leaks\\u202e")
    'seal [2J leaks'
    >>> shown("hose " * 1000, longest=12)
    'hose hose h…'
    """
    if text is None:
        return ""
    one_line = CONTROLS.sub(" ", str(text))
    plain = NO_CHARACTER.sub("", DIRECTION_MARKS.sub("", one_line))
    return plain if len(plain) <= longest else plain[: longest - 1] + ELLIPSIS


def label(text: object, *, longest: int = LONGEST_LABEL) -> str:
    """A text short enough to stand in a figure.

    >>> label("a component with a name that nobody would paint on a door")
    'a component with a name that nobo…'
    """
    return shown(text, longest=longest)


def not_a_formula(text: str) -> str:
    """A text that no spreadsheet takes for a formula when it opens a file of plain text.

    >>> not_a_formula("=1+1"), not_a_formula("hose"), not_a_formula(" -2")
    ("'=1+1", 'hose', "' -2")
    """
    return f"'{text}" if text.lstrip().startswith(FORMULA_STARTS) else text
