"""What a text says of the components it names, by the words in workshop.toml.

A text is read clause by clause. A clause that names no component speaks of the one named
before it ("hose leaking, renewed"), or of the first where none was named yet. A component
without an action of its own takes that of its neighbour ("renew pump and thermostat").
"""

import re
from collections.abc import Iterable

import polars as pl

from wornby.records.catalogue import Catalogue, Words

CLAUSE_ENDS = r"[;,+&.:()\[\]]|\s-\s|\band\b|\bthen\b"
EVERY_PLACE = "all"
"""The position word that stands for all of a component's places."""
REASONS = ("failing", "degraded", "preventive")


def words_pattern(words: Iterable[str]) -> str:
    """One regular expression for a list of words; a trailing * stands for any ending.

    A word with a slash of its own does not begin after one: "s/f" is not in "o/s/f".

    >>> bool(re.search(words_pattern(["leak*"]), "hose leaking"))
    True
    """
    longest_first = sorted((word.lower() for word in words), key=len, reverse=True)
    slashed = [_alternative(word) for word in longest_first if "/" in word]
    plain = [_alternative(word) for word in longest_first if "/" not in word]
    parts = [
        rf"(?:^|[^{before}]){'(?:' + '|'.join(some) + ')'}(?:[^a-z0-9]|$)"
        for some, before in ((slashed, "a-z0-9/"), (plain, "a-z0-9"))
        if some
    ]
    return "|".join(parts) or r"[^\s\S]"


def _alternative(word: str) -> str:
    return re.escape(word).replace(r"\*", "[a-z]*").replace(r"\ ", r"\s+")


def read_texts(texts: pl.Series, catalogue: Catalogue) -> tuple[pl.DataFrame, pl.DataFrame]:
    """What each distinct text says: of each component it names, and as a whole.

    The first frame has one row for each text and component, the second one row for each text;
    both have the columns renewed, failing, degraded, preventive, sound, one for each position
    word and one for each grade word.
    """
    clauses = _clauses(texts, catalogue)
    names = [component_flag(name) for name in catalogue.components]
    facts = _facts(clauses["clause"].unique(), catalogue)
    known = clauses.join(facts, on="clause", how="left").sort("text_id", "clause_no")
    flags = [c for c in facts.columns if c not in {"clause", *names}]
    whole = known.group_by("text").agg(pl.col(flags).any())
    about = _by_component_named(known, names, flags)
    each = [
        about.filter(pl.col(component_flag(name))).with_columns(component=pl.lit(name))
        for name in catalogue.components
    ]
    of_components = pl.concat(each).group_by("text", "component").agg(pl.col(flags).any())
    return of_components, whole


def component_flag(name: str) -> str:
    """The column that says whether a clause names this component."""
    return f"names: {name}"


def position_flag(name: str) -> str:
    """The column that says whether a text names this position."""
    return f"position: {name}"


def grade_flag(name: str) -> str:
    """The column that says whether a text names this grade."""
    return f"grade: {name}"


def _clauses(texts: pl.Series, catalogue: Catalogue) -> pl.DataFrame:
    """Each distinct text cut into clauses, in order."""
    distinct = pl.DataFrame({"text": texts.drop_nulls().unique()}).with_row_index("text_id")
    kept_whole = _phrases_with_clause_ends(catalogue)
    plain = pl.col("text").str.to_lowercase().str.replace_all(r"\s+", " ")
    if kept_whole:
        plain = plain.str.replace_many(list(kept_whole), list(kept_whole.values()))
    cut = plain.str.replace_all(CLAUSE_ENDS, "\n").str.split("\n")
    return (
        distinct.with_columns(clause=cut)
        .explode("clause", empty_as_null=True, keep_nulls=True)
        .with_columns(pl.col("clause").str.strip_chars())
        .with_columns(clause_no=pl.int_range(pl.len()).over("text_id"))
    )


def _phrases_with_clause_ends(catalogue: Catalogue) -> dict[str, str]:
    """Phrases of the catalogue that a cut would break, each with its form without the cut."""
    spoken = catalogue.words
    phrases = [
        *spoken.renewed, *spoken.failure, *spoken.degraded, *spoken.preventive, *spoken.sound,
        *(word for c in catalogue.components.values() for word in c.words),
    ]  # fmt: skip
    broken = {p.lower().rstrip("*") for p in phrases if re.search(CLAUSE_ENDS, p.lower())}
    return {p: _uncut(p) for p in sorted(broken)}


def _uncut(phrase: str) -> str:
    return re.sub(r"\s+", " ", re.sub(CLAUSE_ENDS, " ", phrase.lower())).strip()


def _pattern(words: Iterable[str]) -> str:
    return words_pattern([_uncut(w) if re.search(CLAUSE_ENDS, w.lower()) else w for w in words])


def _facts(clauses: pl.Series, catalogue: Catalogue) -> pl.DataFrame:
    """What each distinct clause names and says."""
    clause = pl.col("clause")
    named = {
        component_flag(name): clause.str.contains(_pattern(component.words))
        & ~clause.str.contains(_pattern(component.not_words))
        for name, component in catalogue.components.items()
    }
    words = catalogue.words
    positions = {
        position_flag(n): clause.str.contains(_pattern(w)) for n, w in words.positions.items()
    }
    grades = {grade_flag(n): clause.str.contains(_pattern(w)) for n, w in words.grades.items()}
    frame = pl.DataFrame({"clause": clauses.drop_nulls()})
    return frame.with_columns(**_said(words), **named, **positions, **grades)


def _said(words: Words) -> dict[str, pl.Expr]:
    """What a clause says was done or found, with "no leak" and "no good" turned round."""
    clause = pl.col("clause")
    told = (*words.failure, *words.sound)
    phrases = [w for w in told if set(w.lower().split()) & set(words.negation)]
    rest = clause.str.replace_all(_pattern(phrases), " ")
    negated = rest.str.contains(_pattern(words.negation))
    failing, degraded = (clause.str.contains(_pattern(w)) for w in (words.failure, words.degraded))
    sound = clause.str.contains(_pattern(words.sound))
    plainly = rest.str.contains(_pattern(words.failure))
    certain = failing & ~plainly
    renewed = _pattern(words.renewed)
    return {
        "renewed": clause.str.contains(renewed) & ~negated,
        "begins": clause.str.contains(rf"^\W*(?:to |and )?(?:{renewed})"),
        "failing": certain | (failing & ~negated) | (sound & negated & ~failing & ~degraded),
        "degraded": degraded & ~negated,
        "preventive": clause.str.contains(_pattern(words.preventive)),
        "sound": (sound & ~negated) | (negated & (failing | degraded) & ~certain),
    }


def _by_component_named(known: pl.DataFrame, names: list[str], flags: list[str]) -> pl.DataFrame:
    """Clauses gathered under the component they speak of, actions shared among neighbours."""
    naming = known.with_columns(names_one=pl.any_horizontal(names))
    group = pl.col("names_one").cast(pl.Int32).cum_sum().over("text_id").clip(lower_bound=1)
    grouped = (
        naming.filter(pl.col("names_one").any().over("text_id"))
        .with_columns(group=group)
        .group_by("text_id", "text", "group", maintain_order=True)
        .agg(pl.col(names).any(), pl.col(flags).any())
    )
    return _shared_among_neighbours(grouped)


def _shared_among_neighbours(grouped: pl.DataFrame) -> pl.DataFrame:
    """A component with nothing of its own takes the action, and a renewed one the reason.

    "renew pump and thermostat": the action goes on; "pump, thermostat renewed": it goes back.
    """
    silent = ~pl.any_horizontal("renewed", "failing", "degraded", "sound")
    told = pl.when(~silent)
    before = {
        c: told.then(pl.col(c)).forward_fill().over("text_id")
        for c in ("renewed", "sound", "begins")
    }
    after = {c: told.then(pl.col(c)).backward_fill().over("text_id") for c in ("renewed", "sound")}
    goes_on = before["begins"].fill_null(False) | after["renewed"].is_null()

    def taken(column: str) -> pl.Expr:
        from_neighbour = pl.when(goes_on).then(before[column]).otherwise(after[column])
        return pl.col(column) | (silent & from_neighbour.fill_null(False))

    acted = grouped.with_columns(renewed=taken("renewed"), sound=taken("sound"))
    lacking = pl.col("renewed") & ~pl.any_horizontal(*REASONS)
    given = pl.when(pl.any_horizontal(*REASONS, "sound"))
    following = {
        c: given.then(pl.col(c)).backward_fill().over("text_id").fill_null(False) for c in REASONS
    }
    precaution = given.then(pl.col("preventive")).forward_fill().over("text_id").fill_null(False)
    following["preventive"] = following["preventive"] | precaution
    return acted.with_columns(**{c: pl.col(c) | (lacking & following[c]) for c in REASONS})
