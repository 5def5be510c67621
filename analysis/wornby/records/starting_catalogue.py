"""The catalogue that a new folder starts from, cut to what its own lines name."""

import tomllib
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path

import polars as pl

from wornby.records.wording import CLAUSE_ENDS, words_pattern

STARTER = Path(__file__).with_name("starter")
UNNAMED = "# No line names it: take the # away if your vehicles have it."
USES = ('name = "', "renews = ")


def starter_catalogue(texts: Sequence[str], told: Mapping[str, str]) -> str:
    """The text of workshop.toml; what no text names is there behind #, unless none is named.

    `told` fills the places that the template leaves open.
    """
    text = (STARTER / "workshop.toml").read_text(encoding="utf-8")
    for name, value in told.items():
        text = text.replace(f"<<{name}>>", value)
    unnamed = unnamed_components(tomllib.loads(text)["component"], texts)
    return "\n\n".join(_block(block, unnamed) for block in text.split("\n\n"))


def unnamed_components(
    components: Sequence[Mapping[str, object]], texts: Sequence[str]
) -> set[str]:
    """The names of the components that no text names; none where that would be all.

    A text is taken whole and by its clauses: "timing belt and tensioner" names both.
    """
    whole = pl.Series(texts, dtype=pl.String).str.to_lowercase()
    said = pl.concat([whole, whole.str.replace_all(CLAUSE_ENDS, "\n").str.split("\n").explode()])
    names = {str(component["name"]) for component in components}
    unnamed = {str(c["name"]) for c in components if not _named(c, said)}
    return set() if unnamed == names else unnamed


def _named(component: Mapping[str, object], said: pl.Series) -> bool:
    words, not_words = (_list(component.get(key)) for key in ("words", "not_words"))
    found = said.str.contains(words_pattern(words)) & ~said.str.contains(words_pattern(not_words))
    return bool(found.any())


def _list(value: object) -> list[str]:
    return [str(word) for word in value] if isinstance(value, list) else []


def _block(block: str, unnamed: Collection[str]) -> str:
    """One entry of the template, behind # where it needs what no line names."""
    lines = block.split("\n")
    heads = [line for line in lines if line.startswith("[[")]
    head = heads[0] if heads else ""
    names = [name for name in unnamed if any(_uses(line, name) for line in lines)]
    if head in {"[[look]]", "[[access_group]]"}:
        return "\n".join(
            f"# {line}" if any(_lists(line, n) for n in unnamed) else line for line in lines
        )
    if head in ("[[component]]", "[[fixed_price_job]]") and names:
        at = lines.index(head)
        return "\n".join([*lines[:at], UNNAMED, *(f"# {line}" for line in lines[at:])])
    return block


def _uses(line: str, name: str) -> bool:
    return line.startswith(USES) and f'"{name}"' in line


def _lists(line: str, name: str) -> bool:
    return line.startswith((f'"{name}" = ', "reveals = ")) and f'"{name}"' in line
