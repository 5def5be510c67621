"""Tables drawn in a test: what a reader sees is what the loader gets."""

from pathlib import Path

import polars as pl

WORKSHOP = """
[workshop]
name = "Test workshop"
currency = "GBP"
records_until = 2020-12-31
pseudonym_key = "test"

[words]
renewed = ["renew*", "replac*", "repl", "fit new", "supply and fit", "supply & fit"]
failure = ["leak*", "seized", "split", "not working"]
degraded = ["corrod*", "nois*", "weep*"]
preventive = ["as a precaution", "while in there"]
sound = ["ok", "good"]
negation = ["no", "not"]
routine = ["oil service"]

[words.positions]
left = ["n/s", "left"]
right = ["o/s", "right"]
all = ["both"]

[words.grades]
genuine = ["genuine"]
aftermarket = ["pattern"]

[words.grade_of_part_number]
genuine = ["MRW"]
aftermarket = ["PAT"]

[[access_group]]
name = "timing cover off"
access_hours = 3.5

[[component]]
name = "water pump"
access_group = "timing cover off"
words = ["water pump*", "coolant pump"]
not_words = ["washer"]
part_codes = ["4103"]

[[component]]
name = "thermostat"
access_group = "timing cover off"
words = ["thermostat*", "stat"]
part_codes = ["4104"]

[[component]]
name = "transfer pipe"
words = ["transfer pipe*"]
positions = ["left", "right"]
"""

LAYOUT = """
[[file]]
table = "vehicles"
path = "vehicles.csv"
dates = "year first"
[file.columns]
vehicle = "vehicle"
first_registered = "first_registered"

[[file]]
table = "job_lines"
path = "job_lines.csv"
dates = "year first"
[file.columns]
job = "job"
date = "date"
vehicle = "vehicle"
odometer = "odometer"
kind = "kind"
text = "text"
part_number = "part_number"
quantity = "quantity"
price = "price"
"""

INSPECTIONS = """
[[file]]
table = "inspections"
path = "inspections.csv"
dates = "year first"
[file.columns]
vehicle = "vehicle"
date = "date"
component = "component"
position = "position"
condition = "condition"
origin = "origin"
"""

JOB_COLUMNS = (
    "job", "date", "vehicle", "odometer", "kind", "text", "part_number", "quantity", "price",
)  # fmt: skip
LOOK_COLUMNS = ("vehicle", "date", "component", "position", "condition", "origin")


def drawn(text: str) -> pl.DataFrame:
    """A frame from a drawn table: columns between bars, blank cells null."""
    lines = [line for line in text.splitlines() if line.strip()]
    header, *rows = [[cell.strip() for cell in line.split("|")] for line in lines]
    columns = {
        name: [row[n] or None if n < len(row) else None for row in rows]
        for n, name in enumerate(header)
    }
    return pl.DataFrame(columns, schema=dict.fromkeys(header, pl.String))


def _full(frame: pl.DataFrame, columns: tuple[str, ...]) -> pl.DataFrame:
    absent = [pl.lit("").alias(name) for name in columns if name not in frame.columns]
    return frame.with_columns(absent).select(columns)


def workshop_folder(
    folder: Path, *, jobs: str, vehicles: str | None = None, looks: str | None = None
) -> Path:
    """Write a small workshop: one vehicle V1 of 2005 unless others are drawn."""
    cars = drawn(vehicles or "vehicle | first_registered\nV1 | 2005-01-01")
    cars.write_csv(folder / "vehicles.csv")
    lines = drawn(jobs)
    if "job" not in lines.columns:
        numbers = lines.select(job=pl.concat_str("date", "vehicle", separator=" "))
        lines = lines.with_columns(numbers)
    _full(lines, JOB_COLUMNS).write_csv(folder / "job_lines.csv")
    layout = LAYOUT
    if looks is not None:
        _full(drawn(looks), LOOK_COLUMNS).write_csv(folder / "inspections.csv")
        layout += INSPECTIONS
    (folder / "layout.toml").write_text(layout)
    (folder / "workshop.toml").write_text(WORKSHOP)
    return folder
