"""A proposed layout as the text of layout.toml, each guess with what it rests on."""

import json
from collections.abc import Sequence

from wornby.records.proposal import Guess

HEAD = """\
# What each export calls its columns, and how it writes dates, numbers and money.
# One [[file]] for each file and table. `columns` reads: our name = their name.
# wornby proposed what follows from headers and values; mend what is wrong. A column that is not
# there is left out. Then `wornby read` says what was understood.
"""
WHAT = {
    "vehicles": "vehicles, one a row: an age is counted from the first registration",
    "job_lines": "job lines: what was done, when, to which vehicle",
    "inspections": "what was looked at: condition sound, degraded or failed, and whether original",
    "readings": "odometer readings by themselves",
}


def layout_text(guesses: Sequence[Guess]) -> str:
    """The text of layout.toml for these files."""
    return "\n".join([HEAD, *("\n".join(_file(guess)) + "\n" for guess in guesses)])


def toml_text(value: object) -> str:
    """A value as TOML writes it; texts in double quotes, whatever they hold.

    >>> toml_text('Part "no"')
    '"Part \\\\"no\\\\""'
    """
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(toml_text(item) for item in value) + "]"
    # TOML's basic strings escape as JSON's do, and want DEL escaped besides.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _file(guess: Guess) -> list[str]:
    lines = [f"# {WHAT[guess.table]}", "[[file]]", f"table = {toml_text(guess.table)}"]
    lines.append(f"path = {toml_text(guess.path)}")
    if guess.sheet is not None:
        lines.append(f"sheet = {toml_text(guess.sheet)}")
    for key, value in guess.settings.items():
        lines.append(_reasoned(f"{key} = {toml_text(value)}", guess.why.get(key, "")))
    lines.append("[file.columns]")
    for ours, theirs in guess.columns.items():
        named = theirs[0] if len(theirs) == 1 else theirs
        lines.append(_reasoned(f"{ours} = {toml_text(named)}", guess.why.get(ours, "")))
    if guess.left:
        lines.append("# not read: " + ", ".join(toml_text(header) for header in guess.left))
    for ours, words in guess.words.items():
        lines.append(f"[file.words.{ours}]")
        lines += [f"{toml_text(theirs)} = {toml_text(word)}" for theirs, word in words.items()]
    return lines


def _reasoned(line: str, reason: str) -> str:
    return f"{line}  # {reason}" if reason else line
