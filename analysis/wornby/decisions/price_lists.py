"""What was paid in the past at today's costs, by the price list of its day and never by guess."""

import polars as pl

from wornby.records.catalogue import Catalogue

VISIT = ["job", "vehicle", "date"]
ANY_GRADE = "unknown"
"""The grade of a part whose line names none: the grades listed then and today, together."""


def at_todays_costs(
    lines: pl.DataFrame, sightings: pl.DataFrame, catalogue: Catalogue
) -> pl.DataFrame:
    """Job lines as they would cost today, by the [[price_list]] in force on their day.

    A part line that names one component is multiplied by today's cost of that component over the
    list's, in the grade fitted. A labour line without hours gets those that its cost paid for.
    `restated` says of a line whether a list covered it; all others stand as paid.
    """
    named = pl.col("components").fill_null([])
    one_part = (pl.col("kind") == "part") & (named.list.len() == 1)
    told = (
        lines.with_row_index("line")
        .with_columns(component=pl.when(one_part).then(named.list.first()))
        .join(_grades(sightings), on=[*VISIT, "component"], how="left")
        .with_columns(pl.col("grade").fill_null(ANY_GRADE))
        .sort("date", "line")
    )
    priced = told.join_asof(
        _factors(catalogue),
        left_on="date",
        right_on="since",
        by=["component", "grade"],
        check_sortedness=False,
    )
    listed = priced.join_asof(_rates(catalogue), left_on="date", right_on="rate_since")
    hours = pl.col("cost_net") / pl.col("rate")
    return (
        listed.with_columns(
            cost_net=pl.col("cost_net") * pl.col("factor").fill_null(1.0),
            labour_hours=pl.when(pl.col("kind") == "labour")
            .then(pl.coalesce("labour_hours", hours))
            .otherwise("labour_hours"),
            restated=pl.col("factor").is_not_null(),
        )
        .sort("line")
        .select(*lines.columns, "restated")
    )


def _grades(sightings: pl.DataFrame) -> pl.DataFrame:
    """The grade of each component fitted at a visit, where the records tell of one alone."""
    fitted = sightings.filter((pl.col("seen") == "renewed") & pl.col("job").is_not_null())
    grades = fitted.group_by(*VISIT, "component").agg(pl.col("grade").unique())
    return grades.select(
        *VISIT,
        "component",
        grade=pl.when(pl.col("grade").list.len() == 1).then(pl.col("grade").list.first()),
    )


def _factors(catalogue: Catalogue) -> pl.DataFrame:
    """Today's cost over that of each list, by component and grade, and for any grade."""
    then: dict[str, dict[str, float]] = {}
    rows = []
    for prices in catalogue.price_lists:
        for name, costs in prices.part_cost_net.items():
            then.setdefault(name, {}).update(costs)
            today = catalogue.component(name).part_cost_net
            known = {g: (today[g], cost) for g, cost in then[name].items() if g in today}
            factors = {grade: now / before for grade, (now, before) in known.items()}
            if known:
                now, before = (sum(pair[n] for pair in known.values()) for n in (0, 1))
                factors[ANY_GRADE] = now / before
            rows += [(prices.in_force_from, name, grade, f) for grade, f in factors.items()]
    schema = {"since": pl.Date, "component": pl.String, "grade": pl.String, "factor": pl.Float64}
    return pl.DataFrame(rows, schema=schema, orient="row").sort("since")


def _rates(catalogue: Catalogue) -> pl.DataFrame:
    """What an hour of labour cost the workshop, by the day from which it did."""
    rows = [
        (prices.in_force_from, prices.labour_cost_per_hour)
        for prices in catalogue.price_lists
        if prices.labour_cost_per_hour is not None
    ]
    return pl.DataFrame(rows, schema={"rate_since": pl.Date, "rate": pl.Float64}, orient="row")
