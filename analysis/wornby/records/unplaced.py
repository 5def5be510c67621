"""What the rules could not place, most frequent first, with near matches."""

import difflib
import re

import polars as pl

from wornby.records.catalogue import Catalogue
from wornby.records.wording import words_pattern

SHOWN = 200
CLOSE_ENOUGH = 0.82
SHORTEST = 5


def unplaced_texts(
    lines: pl.DataFrame, mentioned: pl.DataFrame, catalogue: Catalogue
) -> pl.DataFrame:
    """Texts that name no component: columns text, lines, share_of_lines, near_match.

    `near_match` is a catalogue word that a part of the text almost spells; adding the text's
    spelling to that component's words in workshop.toml places it.
    """
    rest = lines.join(mentioned.select("file", "row"), on=["file", "row"], how="anti")
    counted = (
        rest.filter(pl.col("text").is_not_null())
        .group_by(pl.col("text").str.to_lowercase().str.replace_all(r"\d+", "#"))
        .agg(lines=pl.len())
        .sort("lines", "text", descending=[True, False])
    )
    near = [_near_match(text, catalogue) for text in counted["text"].head(SHOWN)]
    padded = [*near, *([""] * max(0, counted.height - SHOWN))]
    return counted.with_columns(
        share_of_lines=pl.col("lines") / max(lines.height, 1),
        near_match=pl.Series(padded, dtype=pl.String),
    )


def _near_match(text: str, catalogue: Catalogue) -> str:
    """The best of the words of components that the text does not exclude."""
    vocabulary = {
        word.replace("*", "").lower(): component.name
        for component in catalogue.components.values()
        if not re.search(words_pattern(component.not_words), text)
        for word in component.words
        if len(word) >= SHORTEST
    }
    words = text.split()
    for size in (3, 2, 1):
        runs = [" ".join(words[i : i + size]) for i in range(len(words) - size + 1)]
        pool = [word for word in vocabulary if len(word.split()) == size]
        for run in (run.strip(",.;:()") for run in runs):
            found = difflib.get_close_matches(run, pool, n=1, cutoff=CLOSE_ENOUGH)
            if found and found[0] != run:
                return f"{run} ~ {vocabulary[found[0]]}"
    return ""
