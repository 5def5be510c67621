"""What the rules could not place, most frequent first, with near matches."""

import re

import numpy as np
import polars as pl

from wornby.records.catalogue import Catalogue
from wornby.records.wording import words_pattern

LOOKED_AT = 5000
CLOSE_ENOUGH = 84.0
EACH_WORD = 60.0
JOINING = ("and", "or", "to", "the", "with", "for")
SHORTEST = 5
LONGEST_RUN = 3


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
    near = _near_matches(counted["text"].head(LOOKED_AT).to_list(), catalogue)
    padded = [*near, *([""] * max(0, counted.height - LOOKED_AT))]
    return counted.with_columns(
        share_of_lines=pl.col("lines") / max(lines.height, 1),
        near_match=pl.Series(padded, dtype=pl.String),
    )


def _near_matches(texts: list[str], catalogue: Catalogue) -> list[str]:
    """For each text the catalogue word that one of its runs of words almost spells, or nothing."""
    vocabulary = {
        word.replace("*", "").lower(): component.name
        for component in catalogue.components.values()
        for word in component.words
        if len(word.replace("*", "")) >= SHORTEST
    }
    runs_of = [_runs(text) for text in texts]
    every = sorted({run for runs in runs_of for run in runs})
    nearest = _nearest_words(every, list(vocabulary)) | _joined_otherwise(every, list(vocabulary))
    excluded = {
        name: re.compile(words_pattern(c.not_words)) for name, c in catalogue.components.items()
    }
    told = []
    for text, runs in zip(texts, runs_of, strict=True):
        found = (
            f"{run} ~ {vocabulary[nearest[run]]}"
            for run in runs
            if run in nearest and not excluded[vocabulary[nearest[run]]].search(text)
        )
        told.append(next(found, ""))
    return told


def _runs(text: str) -> list[str]:
    """Runs of one to three words, the longest first."""
    words = re.sub(r"[^\w/ -]", " ", text).split()
    return [
        " ".join(words[i : i + size])
        for size in range(LONGEST_RUN, 0, -1)
        for i in range(len(words) - size + 1)
    ]


def _nearest_words(runs: list[str], words: list[str]) -> dict[str, str]:
    """The word closest to each run, of as many words, where one is close without being it."""
    from rapidfuzz import fuzz, process

    nearest = {}
    for size in range(1, LONGEST_RUN + 1):
        ours = [run for run in runs if run.count(" ") == size - 1 and len(run) >= SHORTEST]
        theirs = [word for word in words if word.count(" ") == size - 1]
        if not ours or not theirs:
            continue
        alike = process.cdist(ours, theirs, scorer=fuzz.ratio, score_cutoff=CLOSE_ENOUGH)
        best = np.argmax(alike, axis=1)
        for row, column in enumerate(best):
            word = theirs[int(column)]
            if CLOSE_ENOUGH <= alike[row, column] < 100 and _alike_word_by_word(ours[row], word):
                nearest[ours[row]] = word
    return nearest


def _joined_otherwise(runs: list[str], words: list[str]) -> dict[str, str]:
    """The word that a run is but for spaces and hyphens: "waterpump", "thermo stat"."""
    closed = {_closed(word): word for word in words}
    same = {run: closed[_closed(run)] for run in runs if _closed(run) in closed}
    return {run: word for run, word in same.items() if run != word}


def _closed(words: str) -> str:
    return re.sub(r"[\s-]", "", words)


def _alike_word_by_word(run: str, name: str) -> bool:
    """Whether each word is nearly its fellow: "brake pads" is no "brake disc"."""
    from rapidfuzz import fuzz

    words = run.split()
    pairs = zip(words, name.split(), strict=True)
    return words[0] not in JOINING and all(fuzz.ratio(a, b) >= EACH_WORD for a, b in pairs)
