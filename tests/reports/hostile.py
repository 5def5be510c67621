"""The demo with hostile text in every field that a workshop can write into."""

import json
import re
import tomllib
from datetime import date
from pathlib import Path
from typing import Any

import polars as pl

from wornby.reports.answer import Answer
from wornby.reports.figures import Drawing, in_our_style, panel_alone, svg_text, titled
from wornby.reports.notebook_run import Piece, Prose, Shown
from wornby.reports.pages import html_page
from wornby.reports.sentences import Sentences

DEMO = Path(__file__).parents[2] / "data_demo"
TEXTS = {
    "script": "<script>window.harmed=1</script>",
    "image": '<img src=x onerror="window.harmed=1">',
    "end of table": "</td></table></figure>\"'>&amp;",
    "formula =": '=HYPERLINK("there","here")',
    "formula +": "+1+1",
    "formula -": "-2+3",
    "formula @": "@SUM(1)",
    "LaTeX": r"$\frac{1}{2}$ \(x\) $$\undefined$$ $5 and $6",
    "Markdown": "**bold** [link](javascript:window.harmed=1) `code` # head",
    "typesetting": '#import "x": y; #eval("1+1") *b* _e_ $ x $ // no',
    "right to left": "pump\u202egnp.exe\u202c\u200f\u2067",
    "control": "beep\x07\x1b[2J\x00\x9b bell",
    "100 kB": "x" * 100_000,
}
"""One of each kind."""
HOSTILE_VERSIONS = {
    "short": TEXTS["image"],
    "long": TEXTS["formula ="],
    "high-roof": TEXTS["typesetting"],
}
RESPONDENT = "<b onclick=harm()>member "
KEPT_PARTS = ("water pump", "gear linkage bush", "belt tensioner")
"""Of a survey: enough for every table of the letter."""
KEPT_VEHICLES = 2
"""One vehicle in so many is kept: enough to have curves, few enough to be quick."""


def hostile_names(workshop: dict[str, Any]) -> dict[str, str]:
    """A hostile name for each name in workshop.toml, every kind in turn.

    No name may hold a comma or a plus sign; a full-width one begins a formula as well.
    """
    tables = ("component", "access_group", "follow_on", "companion_part", "fixed_price_job", "look")
    names = [entry["name"] for table in tables for entry in workshop[table]]
    kinds = [text.replace(",", ";").replace("+", "\uff0b") for text in TEXTS.values()]
    return {name: f"{kinds[n % len(kinds)]} {name}" for n, name in enumerate(names)}


def renamed(value: Any, names: dict[str, str]) -> Any:
    """A TOML value with every name in it replaced, as a key, by itself or before a place."""
    match value:
        case dict():
            return {renamed(k, names): renamed(v, names) for k, v in value.items()}
        case list():
            return [renamed(one, names) for one in value]
        case str():
            begin, comma, place = value.rpartition(", ")
            if value not in names and begin in names:
                return f"{names[begin]}{comma}{place}"
            return names.get(value, value)
    return value


def as_toml(value: Any) -> str:
    """A value as TOML writes it; tables inside it in one line."""
    match value:
        case bool():
            return str(value).lower()
        case str():
            return json.dumps(value).replace("\x7f", "\\u007f")
        case date():
            return value.isoformat()
        case list():
            return "[" + ", ".join(map(as_toml, value)) + "]"
        case dict():
            return "{" + ", ".join(f"{as_toml(k)} = {as_toml(v)}" for k, v in value.items()) + "}"
    return str(value)


def hostile_folder(folder: Path) -> Path:
    """A smaller demo whose every name, note and text is hostile; its numbers are the demo's."""
    workshop = tomllib.loads((DEMO / "workshop.toml").read_text(encoding="utf-8"))
    names = hostile_names(workshop)
    told = renamed(workshop, names)
    told["workshop"] |= {
        "name": TEXTS["script"],
        "note": TEXTS["Markdown"] + TEXTS["100 kB"],
        "currency": "<i>=$x$",
    }
    for n, entry in enumerate([*told["component"], *told["look"]]):
        entry["look_for" if "words" in entry else "note"] = list(TEXTS.values())[n % len(TEXTS)]
    folder.mkdir(parents=True, exist_ok=True)
    lines = [f"{json.dumps(key)} = {as_toml(value)}" for key, value in told.items()]
    (folder / "workshop.toml").write_text("\n".join(lines), encoding="utf-8")
    _write_tables(folder, names)
    return folder


def _write_tables(folder: Path, names: dict[str, str]) -> None:
    layout = (DEMO / "layout.toml").read_text(encoding="utf-8").split("[[file]]")
    kept = [part for part in layout if "survey" not in part and "component_answers" not in part]
    text = "[[file]]".join(kept).replace('encoding = "cp1252"', 'encoding = "utf-8"')
    text = text.replace("inspections.xlsx", "inspections.csv")
    begin, looks = text.split('table = "inspections"')
    text = f'{begin}table = "inspections"{looks.replace("day first", "year first", 1)}'
    text = re.sub(r"sheet = .*\n", "", text)
    (folder / "layout.toml").write_text(text, encoding="utf-8")
    vehicles = pl.read_csv(DEMO / "vehicles.csv", infer_schema=False)
    some = vehicles.gather_every(KEPT_VEHICLES).with_columns(
        Body=pl.when(pl.col("Body") == "long").then(pl.lit(TEXTS["formula ="])).otherwise("Body")
    )
    some.write_csv(folder / "vehicles.csv")
    ours = some["Registration"].implode()
    seen = inspections()
    ours_only = seen.filter(pl.col("Reg").is_in(ours)).with_columns(pl.col("Item").replace(names))
    ours_only.write_csv(folder / "inspections.csv")
    for name, reg, words, mark, code in (
        ("job_lines_2013_2018.csv", "Reg no", "Description", ";", "cp1252"),
        ("job_lines_2019_2024.csv", "reg", "description", ",", "utf8"),
    ):
        raw = (DEMO / name).read_text(encoding=code)
        table = pl.read_csv(raw.encode(), separator=mark, infer_schema=False)
        ours_only = table.filter(pl.col(reg).is_in(ours)).with_row_index()
        kinds = list(TEXTS.values())[:-1]
        said = pl.Series([f"{kinds[n % len(kinds)]} " for n in range(ours_only.height)])
        hostile = pl.when(pl.col("index") % 3 == 0).then(said + pl.col(words)).otherwise(words)
        ours_only.with_columns(hostile.alias(words)).drop("index").write_csv(
            folder / name, separator=mark
        )


def inspections() -> pl.DataFrame:
    """The demo's inspections, every cell as text."""
    path, sheet = DEMO / "inspections.xlsx", "Intake and service checks"
    read = pl.read_excel(path, sheet_name=sheet, infer_schema_length=0)
    return read.with_columns(pl.col("Date").str.slice(0, 10))


def pieces_with(text: str) -> list[Piece]:
    """A report that has the text wherever a text of the records can stand."""
    frame = pl.DataFrame({"component": [text], text: [text], "price_net": [1.5]})
    people = frame.with_columns(pl.col("price_net").cast(pl.String))
    with in_our_style():
        panel = panel_alone()
        titled(panel, text)
    return [
        Prose("# A report\n\n## A part"),
        Shown(Answer(text, people, frame, (text,))),
        Shown(Sentences((text,))),
        Shown(Drawing(svg_text(panel.figure), text, text)),  # type: ignore[arg-type]  # a Figure
    ]


def page_of(pieces: list[Piece]) -> str:
    """The page of these pieces."""
    return html_page(pieces, about="test", shows_code=True, beside=["a.pdf", "a.xlsx"])


def hostile_club_folder(folder: Path, workshop: Path) -> Path:
    """The demo's survey with hostile components, versions and respondents; a hostile catalogue.

    `workshop` is a hostile folder, whose workshop.toml the club keeps.
    """
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "workshop.toml").write_bytes((workshop / "workshop.toml").read_bytes())
    parts = (DEMO / "layout.toml").read_text(encoding="utf-8").split("[[file]]")
    asked = [part for part in parts if "survey.csv" in part or "population.csv" in part]
    (folder / "layout.toml").write_text("[[file]]".join(["", *asked]), encoding="utf-8")
    names = hostile_names(tomllib.loads((DEMO / "workshop.toml").read_text(encoding="utf-8")))
    survey = pl.read_csv(DEMO / "survey.csv", infer_schema=False)
    parts_kept = [name for part in KEPT_PARTS for name in (part, f"{part}, when")]
    some = survey.select("respondent", "model_year", "version", "odometer_mi", *parts_kept)
    told = {name: renamed(name, names) for name in parts_kept}
    said = some.with_columns(
        pl.col("version").replace(HOSTILE_VERSIONS),
        respondent=pl.lit(RESPONDENT) + pl.col("respondent"),
    )
    said.rename(told).write_csv(folder / "survey.csv")
    vans = pl.read_csv(DEMO / "population.csv", infer_schema=False)
    vans.with_columns(pl.col("version").replace(HOSTILE_VERSIONS)).write_csv(
        folder / "population.csv"
    )
    return folder
