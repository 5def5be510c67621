"""Putting words together as a busy workshop does: picked, filled in, mistyped, in any case."""

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
import polars as pl

from wornby.demo.places import World, demo_data

WORDING = demo_data("wording.toml")


def pick(
    frame: pl.DataFrame,
    wordings: Mapping[str, Sequence[str]],
    *,
    by: str,
    into: str,
    rng: np.random.Generator,
) -> pl.DataFrame:
    """Add the column `into`: one of the wordings listed for the row's `by`, all equally likely.

    A row whose `by` is not listed gets none.

    >>> rows = pl.DataFrame({"side": ["left", "right"]})
    >>> words = {"left": ["n/s"], "right": ["o/s"]}
    >>> pick(rows, words, by="side", into="word", rng=np.random.default_rng(1))["word"].to_list()
    ['n/s', 'o/s']
    """
    schema: dict[str, pl.DataType | type[pl.DataType]] = {
        by: pl.String,
        "listed": pl.List(pl.String),
    }
    listed = pl.DataFrame([list(wordings), [list(w) for w in wordings.values()]], schema=schema)
    number = (pl.Series(rng.random(frame.height)) * pl.col("listed").list.len()).cast(pl.Int64)
    return (
        frame.join(listed, on=by, how="left", maintain_order="left")
        .with_columns(pl.col("listed").list.get(number).alias(into))
        .drop("listed")
    )


def pick_one(
    frame: pl.DataFrame, wordings: Sequence[str], *, into: str, rng: np.random.Generator
) -> pl.DataFrame:
    """Add the column `into`: one of the wordings for each row, all equally likely."""
    number = rng.integers(len(wordings), size=frame.height)
    return frame.with_columns(pl.Series(into, wordings, pl.String).gather(number))


def of_each_component(what: str) -> dict[str, list[str]]:
    """The wordings of one sort, by component."""
    return {name: words[what] for name, words in WORDING["component"].items() if what in words}


def filled(template: str, names: Iterable[str]) -> pl.Expr:
    """The template column with each {name} replaced by the column of that name."""
    text = pl.col(template)
    for name in names:
        text = text.str.replace(f"{{{name}}}", pl.col(name).fill_null(""), literal=True)
    return text


def named(items: pl.DataFrame, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """Add `name`: the component as somebody wrote it, with its side and grade if they are said.

    Takes component, side (left, right, both, none) and grade_said (empty: not said).
    """
    ones, manys = of_each_component("one"), of_each_component("many")
    words = {f"{c} one": w for c, w in ones.items()} | {f"{c} many": w for c, w in manys.items()}
    many = pl.when(pl.col("side") == "both").then(pl.lit(" many")).otherwise(pl.lit(" one"))
    rows = items.with_columns(in_number=pl.col("component") + many)
    rows = mistyped(pick(rows, words, by="in_number", into="bare", rng=rng), world=world, rng=rng)
    rows = pick(rows, WORDING["grade"], by="grade_said", into="grade_word", rng=rng)
    graded = pl.concat_str("grade_word", "bare", separator=" ", ignore_nulls=True)
    rows = pick(rows, WORDING["side"], by="side", into="pattern", rng=rng)
    rows = rows.with_columns(name=pl.col("pattern").str.replace("{name}", graded, literal=True))
    return rows.drop("in_number", "bare", "grade_word", "pattern")


def mistyped(rows: pl.DataFrame, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """Slip in the column `bare`: half of the slips are letters, half shorthand of one's own."""
    slips = rng.random(rows.height) < world.parameters.dirt.name_mistyped_lines
    odd = slips & (rng.random(rows.height) < 0.5)
    rows = pick(rows, of_each_component("odd"), by="component", into="odd", rng=rng)
    names = rows["bare"].to_list()
    for row in np.nonzero(slips & ~odd)[0]:
        names[row] = slipped(names[row], rng)
    return rows.with_columns(
        bare=pl.when(pl.Series(odd)).then("odd").otherwise(pl.Series(names, dtype=pl.String))
    ).drop("odd")


def slipped(name: str, rng: np.random.Generator) -> str:
    """A name with one slip of the fingers in its longest word; short words are left alone."""
    word = max(name.split(), key=len)
    if len(word) < 6:
        return name
    at = int(rng.integers(1, len(word) - 2))
    swapped = word[:at] + word[at + 1] + word[at] + word[at + 2 :]
    slips = (swapped, word[:at] + word[at + 1 :], word[:at] + word[at] + word[at:])
    return name.replace(word, slips[int(rng.integers(3))], 1)


def in_any_case(rows: pl.DataFrame, rng: np.random.Generator) -> pl.DataFrame:
    """Text as typed: mostly with a capital, some all capitals, some without any."""
    u = pl.Series(rng.random(rows.height))
    text = pl.col("text")
    sentence = text.str.slice(0, 1).str.to_uppercase() + text.str.slice(1)
    typed = (
        pl.when(u < 0.10).then(text.str.to_uppercase()).when(u < 0.30).then(text.str.to_lowercase())
    )
    return rows.with_columns(text=typed.otherwise(sentence))
