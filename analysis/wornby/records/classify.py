"""From job lines to what was done to each component, and why."""

import polars as pl

from wornby.records.catalogue import Catalogue
from wornby.records.wording import EVERY_PLACE, grade_flag, position_flag, read_texts, words_pattern

REASON_WORDS = {
    "failing": "failure",
    "degraded": "degraded finding",
    "preventive": "preventive renewal",
}
"""A text's reasons, the gravest first: "leaking and corroded" is a failure."""


def mentions(lines: pl.DataFrame, catalogue: Catalogue) -> pl.DataFrame:
    """One row for each job line, component it names and position, by text or part number.

    Takes accepted job lines with file and row. `seen` is renewed, failed, degraded, sound or
    null (only named); a part line that names a component is a renewal. `reason` is looked for
    in the line, then in the job's other lines on the component, and then, where just one
    renewed component of the job has none, in the job's lines that name no component.
    """
    of_components, whole = read_texts(lines["text"], catalogue)
    kept = lines.select(
        "file",
        "row",
        "job",
        "vehicle",
        "date",
        "odometer_mi",
        "kind",
        "text",
        "part_number",
        "quantity",
    )
    by_text = kept.join(of_components, on="text", how="inner")
    by_number = _named_by_part_number(kept, of_components, whole, catalogue)
    named = pl.concat([by_text, by_number.select(by_text.columns)])
    read = named.select(
        "file", "row", "job", "vehicle", "date", "odometer_mi", "component", "quantity",
        position=_positions(catalogue),
        seen=_seen(),
        own_reason=_reason(),
        grade=_grade(catalogue),
    )  # fmt: skip
    return _with_reasons(read, kept, whole)


def _named_by_part_number(
    lines: pl.DataFrame, of_components: pl.DataFrame, whole: pl.DataFrame, catalogue: Catalogue
) -> pl.DataFrame:
    """Lines whose part number names a component that their text does not."""
    numbers = lines.filter(pl.col("part_number").is_not_null()).with_columns(
        plain=pl.col("part_number").str.to_lowercase()
    )
    found = [
        numbers.filter(pl.col("plain").str.contains(words_pattern(c.part_codes))).with_columns(
            component=pl.lit(name)
        )
        for name, c in catalogue.components.items()
    ]
    told = of_components.select("text", "component")
    new = pl.concat(found).join(told, on=["text", "component"], how="anti", nulls_equal=True)
    flags = [name for name in whole.columns if name != "text"]
    said = new.join(whole, on="text", how="left", nulls_equal=True)
    return said.with_columns(pl.col(flags).fill_null(False))


def _seen() -> pl.Expr:
    fitted = (pl.col("kind") == "part") & (pl.col("quantity").fill_null(1.0) > 0)
    return (
        pl.when(pl.col("renewed") | (fitted & ~pl.col("sound")))
        .then(pl.lit("renewed"))
        .when(pl.col("failing"))
        .then(pl.lit("failed"))
        .when(pl.col("degraded"))
        .then(pl.lit("degraded"))
        .when(pl.col("sound"))
        .then(pl.lit("sound"))
    )


def _reason() -> pl.Expr:
    return pl.coalesce(
        pl.when(pl.col(flag)).then(pl.lit(reason)) for flag, reason in REASON_WORDS.items()
    )


def _grade(catalogue: Catalogue) -> pl.Expr:
    """The grade by the part number's beginning, else by the text's words, else unknown."""
    number = pl.col("part_number").str.to_uppercase()
    by_number = [
        pl.when(number.str.starts_with(start.upper())).then(pl.lit(grade))
        for grade, starts in catalogue.words.grade_of_part_number.items()
        for start in starts
    ]
    by_text = [pl.when(pl.col(grade_flag(g))).then(pl.lit(g)) for g in catalogue.words.grades]
    return pl.coalesce([*by_number, *by_text, pl.lit("unknown")])


def _positions(catalogue: Catalogue) -> pl.Expr:
    """The places a line speaks of: one empty name where there is one place, null if not said."""
    chosen = pl.lit([""], pl.List(pl.String))
    for name, component in catalogue.components.items():
        if component.positions:
            this = pl.col("component") == name
            chosen = (
                pl.when(this).then(_places_said(component.positions, catalogue)).otherwise(chosen)
            )
    return chosen


def _places_said(places: tuple[str, ...], catalogue: Catalogue) -> pl.Expr:
    words = catalogue.words.positions
    said = [
        pl.when(pl.col(position_flag(place))).then(pl.lit(place))
        for place in places
        if place in words
    ]
    every = pl.col("quantity").fill_null(1.0) >= len(places)
    if EVERY_PLACE in words:
        every = every | pl.col(position_flag(EVERY_PLACE))
    some = pl.concat_list(said).list.drop_nulls() if said else pl.lit([], pl.List(pl.String))
    return pl.when(every).then(pl.lit(list(places))).when(some.list.len() > 0).then(some)


JOB = ["job", "vehicle", "date"]


def _with_reasons(read: pl.DataFrame, lines: pl.DataFrame, whole: pl.DataFrame) -> pl.DataFrame:
    """Each mention, one row a position, with the gravest reason that its job gives for it."""
    order = {reason: n for n, reason in enumerate(REASON_WORDS.values())}
    told = read.explode("position", empty_as_null=True, keep_nulls=True).with_columns(
        gravity=pl.col("own_reason").replace_strict(order, default=None, return_dtype=pl.Int8)
    )
    here = [*JOB, "component", "position"]
    of_place = told.group_by(here).agg(
        pl.col("gravity").min(), renewed=(pl.col("seen") == "renewed").fill_null(False).any()
    )
    no_place = told.filter(pl.col("position").is_null()).group_by([*JOB, "component"])
    anywhere = told.group_by([*JOB, "component"]).agg(anywhere=pl.col("gravity").min())
    known = (
        of_place.join(
            no_place.agg(unplaced=pl.col("gravity").min()), on=[*JOB, "component"], how="left"
        )
        .join(anywhere, on=[*JOB, "component"], how="left")
        .join(_complaints(read, lines, whole, order), on=JOB, how="left")
        .with_columns(gravest=pl.coalesce("gravity", "unplaced"))
    )
    lost = pl.col("position").is_null()
    gravest = pl.when(lost).then("anywhere").otherwise("gravest")
    lacking = pl.col("renewed") & gravest.is_null()
    alone = pl.col("component").filter(lacking).n_unique().over(JOB) == 1
    reason = pl.when(lacking & alone).then("complaint").otherwise(gravest)
    names = {n: reason for reason, n in order.items()}
    resolved = known.select(
        *here, reason=reason.replace_strict(names, default="unknown", return_dtype=pl.String)
    )
    joined = told.join(resolved, on=here, how="left", nulls_equal=True, maintain_order="left")
    return joined.drop("own_reason", "gravity")


def _complaints(
    read: pl.DataFrame, lines: pl.DataFrame, whole: pl.DataFrame, order: dict[str, int]
) -> pl.DataFrame:
    """The gravest reason among a job's lines that name no component and renew nothing else."""
    silent = lines.join(read.select("file", "row"), on=["file", "row"], how="anti")
    complaint = whole.filter(pl.any_horizontal(*REASON_WORDS) & ~pl.col("renewed"))
    said = silent.join(complaint.with_columns(reason=_reason()), on="text")
    gravity = pl.col("reason").replace_strict(order, return_dtype=pl.Int8)
    return said.group_by(JOB).agg(complaint=gravity.min())


def sightings_of_jobs(mentioned: pl.DataFrame) -> pl.DataFrame:
    """What each job did or found, once for each position: its lines merged.

    A renewal told on a labour line and on a part line is one renewal; a position said on one
    line holds for the job; a known grade goes before an unknown one.
    """
    rank = {"renewed": 0, "failed": 1, "degraded": 2, "sound": 3}
    keys = [*JOB, "component"]
    told = mentioned.filter(pl.col("seen").is_not_null())
    placed = told.filter(
        pl.col("position").is_not_null() | pl.col("position").is_null().all().over(keys)
    )
    return placed.group_by([*keys, "position"], maintain_order=True).agg(
        pl.col("odometer_mi").max(),
        seen=pl.col("seen").sort_by(pl.col("seen").replace_strict(rank)).first(),
        reason=pl.col("reason").first(),
        grade=pl.col("grade").filter(pl.col("grade") != "unknown").first().fill_null("unknown"),
        origin=pl.lit("unknown"),
        quantity=pl.col("quantity").max(),
    )
