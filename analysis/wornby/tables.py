"""The shape of each stage's table: its columns, their types, units and meaning.

A column's name ends in its unit where it has a choice of one. Nothing else in the project
says what a table holds.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import polars as pl


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its type and what it means to a practitioner."""

    dtype: pl.DataType | type[pl.DataType]
    meaning: str
    required: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """A named table whose frames have exactly these columns, in this order."""

    name: str
    columns: Mapping[str, Column]

    def schema(self) -> pl.Schema:
        """Names and types, as polars wants them."""
        return pl.Schema({name: column.dtype for name, column in self.columns.items()})

    def shape(self, frame: pl.DataFrame) -> pl.DataFrame:
        """The frame with just this table's columns and types; all must be there."""
        if missing := [name for name in self.columns if name not in frame.columns]:
            raise AssertionError(f"{self.name}: no column {', '.join(missing)}")
        return frame.select(pl.col(name).cast(dtype) for name, dtype in self.schema().items())

    def empty(self) -> pl.DataFrame:
        """A frame of this shape without rows."""
        return pl.DataFrame(schema=self.schema())

    def words(self) -> pl.DataFrame:
        """The table described: column, type, meaning."""
        rows = [(name, str(c.dtype), c.meaning) for name, c in self.columns.items()]
        return pl.DataFrame(rows, schema=["column", "type", "meaning"], orient="row")


# 1 Records ------------------------------------------------------------------------------------

VEHICLES = Table(
    "vehicles",
    {
        "vehicle": Column(pl.String, "registration in the export, a pseudonym after it", True),
        "version": Column(pl.String, "short, long, high-roof: what the trade calls the version"),
        "first_registered": Column(pl.Date, "a vehicle's age is counted from this day", True),
    },
)

JOB_LINES = Table(
    "job_lines",
    {
        "job": Column(pl.String, "the job's number in the export", True),
        "vehicle": Column(pl.String, "which vehicle", True),
        "date": Column(pl.Date, "day of the job", True),
        "odometer_mi": Column(pl.Float64, "distance shown at the visit"),
        "kind": Column(pl.String, "labour, part, consumable, sublet or other"),
        "text": Column(pl.String, "what the workshop wrote", True),
        "part_number": Column(pl.String, "as on the invoice"),
        "quantity": Column(pl.Float64, "how many"),
        "labour_hours": Column(pl.Float64, "hours booked on the line"),
        "price_net": Column(pl.Float64, "charged for the line, before tax"),
        "cost_net": Column(pl.Float64, "paid by the workshop for the line, before tax"),
    },
)

INSPECTIONS = Table(
    "inspections",
    {
        "vehicle": Column(pl.String, "which vehicle", True),
        "date": Column(pl.Date, "day of the look", True),
        "odometer_mi": Column(pl.Float64, "distance shown"),
        "component": Column(pl.String, "as named in workshop.toml", True),
        "position": Column(pl.String, "which of several, where there are several"),
        "condition": Column(pl.String, "sound, degraded or failed", True),
        "origin": Column(pl.String, "original, renewed or unknown: judged by eye"),
    },
)

READINGS = Table(
    "readings",
    {
        "vehicle": Column(pl.String, "which vehicle", True),
        "date": Column(pl.Date, "day of the reading", True),
        "odometer_mi": Column(pl.Float64, "distance shown", True),
    },
)

LIVES = Table(
    "lives",
    {
        "component": Column(pl.String, "a kind of part", True),
        "unit": Column(pl.String, "what ages are counted in: hours, miles, months", True),
        "entry": Column(pl.Float64, "age at which watching began; empty: from new"),
        "lower": Column(pl.Float64, "last age known to be working", True),
        "upper": Column(pl.Float64, "age by which it had failed; empty: in service"),
        "ending": Column(pl.String, "failure or in service", True),
        "count": Column(pl.Int64, "how many lives share the row; empty: one"),
    },
)

SURVEY = Table(
    "survey",
    {
        "respondent": Column(pl.String, "whose answer: a running number once read", True),
        "model_year": Column(pl.Int32, "model year of the vehicle", True),
        "version": Column(pl.String, "what the trade calls the version, in small letters", True),
        "odometer_mi": Column(pl.Float64, "distance shown on the day of the answer"),
        "answered": Column(pl.String, "day of the answer"),
        "first_registered": Column(pl.String, "day, month or year; empty: by the model year"),
        "bought": Column(pl.String, "day, month or year from which the owner knows the vehicle"),
        "share": Column(pl.String, "whether the answer may be shown by itself: yes or no"),
    },
)

COMPONENT_ANSWERS = Table(
    "component_answers",
    {
        "respondent": Column(pl.String, "whose answer: as in the survey", True),
        "component": Column(pl.String, "which component, or several", True),
        "state": Column(pl.String, "original, renewed (once or more) or don't know", True),
        "when": Column(pl.String, "when or at what distance it was renewed, as told"),
        "distance": Column(pl.String, "odometer at which it was renewed, where asked by itself"),
        "again": Column(pl.String, "when it was renewed a second time, as told"),
        "reason": Column(pl.String, "why it was renewed: failure or precaution"),
        "grade": Column(pl.String, "grade of the part that was fitted"),
    },
)

POPULATION = Table(
    "population",
    {
        "model_year": Column(pl.Int32, "model year of the vehicles", True),
        "version": Column(pl.String, "what the trade calls the version, in small letters", True),
        "calendar_year": Column(pl.Int32, "year in which they were counted", True),
        "on_the_road": Column(pl.Float64, "how many were on the road", True),
    },
)

INPUT_TABLES = {
    t.name: t
    for t in (
        VEHICLES, JOB_LINES, INSPECTIONS, READINGS, LIVES, SURVEY, COMPONENT_ANSWERS, POPULATION,
    )
}  # fmt: skip

LINES = Table(
    "lines",
    {
        "job": Column(pl.String, "the job's number"),
        "vehicle": Column(pl.String, "pseudonym"),
        "date": Column(pl.Date, "day of the job"),
        "kind": Column(pl.String, "labour, part, consumable, sublet or other"),
        "components": Column(pl.List(pl.String), "components the line names"),
        "follow_on": Column(pl.String, "follow-on work the line names; empty: none"),
        "quantity": Column(pl.Float64, "how many"),
        "labour_hours": Column(pl.Float64, "hours booked on the line"),
        "price_net": Column(pl.Float64, "charged for the line, before tax"),
        "cost_net": Column(pl.Float64, "paid by the workshop for the line, before tax"),
    },
)

SIGHTINGS = Table(
    "sightings",
    {
        "vehicle": Column(pl.String, "pseudonym"),
        "date": Column(pl.Date, "day of the visit"),
        "odometer_mi": Column(pl.Float64, "distance shown, where it agrees with other visits"),
        "job": Column(pl.String, "job number; empty for an inspection"),
        "component": Column(pl.String, "as named in workshop.toml"),
        "position": Column(pl.String, "place; empty where the component has one place only"),
        "seen": Column(pl.String, "renewed, sound, degraded or failed"),
        "reason": Column(
            pl.String, "why renewed: failure, degraded finding, preventive renewal, unknown"
        ),
        "grade": Column(pl.String, "grade of the part fitted; unknown where not said"),
        "origin": Column(pl.String, "part found: original, renewed or unknown"),
        "quantity": Column(pl.Float64, "how many were fitted"),
    },
)

# 2 Histories ----------------------------------------------------------------------------------

EPISODES = Table(
    "episodes",
    {
        "vehicle": Column(pl.String, "pseudonym"),
        "version": Column(pl.String, "version of the vehicle"),
        "component": Column(pl.String, "as named in workshop.toml"),
        "position": Column(pl.String, "place; empty where there is one place only"),
        "origin": Column(pl.String, "original or renewed"),
        "grade": Column(pl.String, "grade of the part; genuine for an original fitment"),
        "entered_on": Column(pl.Date, "day from which the fitment was watched"),
        "exited_on": Column(pl.Date, "day the watch ended"),
        "entry_days": Column(pl.Int32, "age of the fitment when watching began"),
        "exit_days": Column(pl.Int32, "age of the fitment when watching ended"),
        "sound_days": Column(
            pl.Int32, "age when last known to work: the exit's, where the day it failed is known"
        ),
        "entry_mi": Column(pl.Float64, "distance on the fitment when watching began"),
        "exit_mi": Column(pl.Float64, "distance on the fitment when watching ended"),
        "sound_mi": Column(pl.Float64, "distance on the fitment when last known to work"),
        "distance_carried": Column(
            pl.Boolean, "the exit's distance was carried on beyond the last reading"
        ),
        "ending": Column(
            pl.String,
            "failure, degraded finding, preventive renewal, renewal unexplained, "
            "renewed elsewhere, lost from sight, in service",
        ),
        "failed": Column(pl.Boolean, "whether the ending ends a life under the observation rule"),
        "weight": Column(pl.Float64, "how much of a fitment the row is: 1, or a share of several"),
    },
)

LOOKED_AT = Table(
    "looked at",
    {
        "vehicle": Column(pl.String, "pseudonym"),
        "position": Column(pl.String, "place; empty where there is one place only"),
        "entry_days": Column(pl.Int32, "age of the part when watching began"),
        "exit_days": Column(
            pl.Int32, "its age when watching ended, or it was first found degraded"
        ),
        "look_days": Column(pl.List(pl.Int32), "ages at which it was looked at, in order"),
        "degraded_days": Column(
            pl.Int32, "the exit, where it was found degraded then; empty: never"
        ),
        "failed": Column(pl.Boolean, "whether it failed at the exit"),
        "weight": Column(pl.Float64, "how much of a part the row is"),
    },
)

COUNTS = Table(
    "counts",
    {
        "entry": Column(pl.Float64, "age or distance at which watching began; 0: from new"),
        "lower": Column(pl.Float64, "last age or distance known to be working"),
        "upper": Column(pl.Float64, "by when it had failed; lower: exactly then; inf: in service"),
        "count": Column(pl.Float64, "how many lives share the row"),
    },
)
