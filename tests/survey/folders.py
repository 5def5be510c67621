"""Club folders drawn in a test: answers, vehicles on the road, and a layout."""

from pathlib import Path

from drawn import drawn

LAYOUT = """
[[file]]
table = "survey"
path = "survey.csv"
[file.columns]
respondent = "who"
model_year = "year"
version = "body"
odometer = "miles"
[file.words.version]
"LWB" = "long"

[[file]]
table = "population"
path = "population.csv"
[file.columns]
model_year = "year"
version = "body"
calendar_year = "counted"
on_the_road = "vans"
"""
ANSWERS = """
who | year | body  | miles
m1  | 2007 | Short | 84000
m2  | 2007 | LWB   | 91,500 mi
m3  | 2008 | long  |
"""
VANS = """
year | body  | counted | vans
2007 | short | 2024    | 300
2007 | long  | 2024    | 1,200
2008 | long  | 2024    | 80
"""


def club_folder(folder: Path, *, answers: str = ANSWERS, vans: str = VANS) -> Path:
    """Write a small club's survey, without a workshop."""
    drawn(answers).write_csv(folder / "survey.csv")
    drawn(vans).write_csv(folder / "population.csv")
    (folder / "layout.toml").write_text(LAYOUT)
    return folder


def members(*cells: tuple[int, str, int]) -> str:
    """Answers as a drawn table: so many of each model year and version."""
    vans = [(year, body) for year, body, n in cells for _ in range(n)]
    rows = [f"m{n} | {year} | {body} | 80000" for n, (year, body) in enumerate(vans)]
    return "\n".join(["who | year | body | miles", *rows])


def on_the_road(*cells: tuple[int, str, int]) -> str:
    """Vehicles on the road in 2024 as a drawn table."""
    rows = [f"{year} | {body} | 2024 | {n}" for year, body, n in cells]
    return "\n".join(["year | body | counted | vans", *rows])
