"""What could not be understood, most frequent first, so that no text leads to who wrote it."""

import re

import polars as pl

from wornby.survey.cells import LEAST_ANSWERS

ORDINARY = frozenset(
    {
        "about", "at", "before", "after", "in", "since", "the", "a", "year", "years", "month",
        "months", "mile", "miles", "km", "k", "ago", "or", "and", "to", "original", "renewed",
        "replaced", "changed", "failed", "don't", "know", "never", "still", "once", "twice",
        "old", "new", "early", "late", "mid", "spring", "summer", "autumn", "winter",
        "january", "february", "march", "april", "may", "june", "july", "august", "september",
        "october", "november", "december", "jan", "feb", "mar", "apr", "jun", "jul", "aug",
        "sep", "oct", "nov", "dec",
    }
)  # fmt: skip
"""Words shown whoever wrote them: they name no one."""
HIDDEN = "…"
MOST_WORDS = 12


def not_understood(texts: pl.DataFrame) -> pl.DataFrame:
    """Texts by how many answers have them: columns column, text, answers.

    Takes respondent, column and text. Digits become 0, and a word is shown only where it is an
    ordinary one of dates and distances, or `LEAST_ANSWERS` respondents wrote it.

    >>> said = pl.DataFrame(
    ...     {"respondent": ["1", "2"], "column": "when", "text": ["Ann's, 2019", "2 or so"]}
    ... )
    >>> not_understood(said)["text"].to_list()
    ['0 or …', '… 0000']
    """
    split = texts.with_columns(
        word=pl.col("text").str.to_lowercase().str.extract_all(r"[\p{L}\p{N}'’]+")
    )
    words = split.explode("word", empty_as_null=True).drop_nulls("word")
    wrote = words.group_by("word").agg(n=pl.col("respondent").n_unique())
    known = ORDINARY | set(wrote.filter(pl.col("n") >= LEAST_ANSWERS)["word"])
    shown = [_masked(row, known) for row in split["word"].to_list()]
    return (
        split.select("column", text=pl.Series(shown, dtype=pl.String))
        .group_by("column", "text")
        .agg(answers=pl.len())
        .sort("answers", "column", "text", descending=[True, False, False])
    )


def _masked(words: list[str] | None, known: frozenset[str] | set[str]) -> str:
    said = [
        word if word in known and not re.search(r"\d", word) else _digits(word)
        for word in (words or [])
    ]
    return " ".join(said[:MOST_WORDS]) or HIDDEN


def _digits(word: str) -> str:
    """A number as noughts; a word that is none, hidden."""
    return re.sub(r"\d", "0", word) if re.fullmatch(r"\d+k?", word) else HIDDEN
