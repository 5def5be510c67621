"""The folder as written: the same bytes for the same seed, readable, and as the layout says."""

import tomllib
from pathlib import Path

import fastexcel
import polars as pl
import pytest

from wornby.demo.__main__ import main
from wornby.demo.export import NEW_FILE, OLD_FILE
from wornby.demo.writing import write_sheet

DATA_DEMO = Path(__file__).parents[2] / "data_demo"
MOST_BYTES = 2_000_000


def written(folder: Path, *arguments: str) -> dict[str, bytes]:
    main([str(folder), "--vehicles", "40", *arguments])
    files = (path for path in sorted(folder.rglob("*")) if path.is_file())
    return {str(path.relative_to(folder)): path.read_bytes() for path in files}


def test_the_same_seed_writes_the_same_bytes(tmp_path: Path) -> None:
    first = written(tmp_path / "a", "--seed", "11")
    assert first == written(tmp_path / "b", "--seed", "11")
    assert first != written(tmp_path / "c", "--seed", "12")


def test_every_file_has_the_columns_that_the_layout_promises(tmp_path: Path) -> None:
    written(tmp_path, "--seed", "11")
    layout = tomllib.loads((tmp_path / "layout.toml").read_text(encoding="utf-8"))
    for file in layout["file"]:
        path = tmp_path / file["path"]
        if path.suffix == ".xlsx":
            frame = fastexcel.read_excel(path).load_sheet(file["sheet"]).to_polars()
        else:
            text = path.read_bytes().decode(file["encoding"])
            frame = pl.read_csv(text.encode(), separator=file["separator"], infer_schema=False)
        assert frame.height
        assert set(file["columns"].values()) <= set(frame.columns)


def test_kinds_and_conditions_are_those_that_the_layout_translates(tmp_path: Path) -> None:
    written(tmp_path, "--seed", "11")
    layout = tomllib.loads((tmp_path / "layout.toml").read_text(encoding="utf-8"))
    by_path = {file["path"]: file for file in layout["file"]}
    old = pl.read_csv(tmp_path / OLD_FILE, separator=";", encoding="cp1252", infer_schema=False)
    assert set(old["Type"]) <= set(by_path[OLD_FILE]["words"]["kind"])
    looks = by_path["inspections.xlsx"]
    sheet = fastexcel.read_excel(tmp_path / "inspections.xlsx").load_sheet(looks["sheet"])
    frame = sheet.to_polars()
    for ours, theirs in (
        ("condition", "Condition"),
        ("origin", "Original part?"),
        ("position", "Side"),
    ):
        assert set(frame[theirs].drop_nulls()) <= set(looks["words"][ours])


def test_the_old_file_is_in_the_windows_code_page(tmp_path: Path) -> None:
    main([str(tmp_path), "--vehicles", "300", "--seed", "11"])
    old = (tmp_path / OLD_FILE).read_bytes()
    for sign in "£½é":
        assert sign.encode("cp1252") in old
    with pytest.raises(UnicodeDecodeError):
        old.decode("utf-8")
    (tmp_path / NEW_FILE).read_bytes().decode("utf-8")


def test_the_demo_folder_is_what_the_generator_writes(tmp_path: Path) -> None:
    main([str(tmp_path), "--seed", "2027"])
    for path in sorted(p for p in tmp_path.rglob("*") if p.suffix in (".csv", ".toml")):
        assert path.read_bytes() == (DATA_DEMO / path.relative_to(tmp_path)).read_bytes(), path.name
    made, kept = (
        fastexcel.read_excel(folder / "inspections.xlsx").load_sheet(1).to_polars()
        for folder in (tmp_path, DATA_DEMO)
    )
    assert made.equals(kept)


def test_more_inspections_than_a_sheet_holds_are_refused(tmp_path: Path) -> None:
    table = pl.DataFrame({"Reg": pl.repeat("", 1_048_576, eager=True)})
    with pytest.raises(ValueError, match="1048576 rows, but a sheet holds 1048575"):
        write_sheet(table, tmp_path / "inspections.xlsx")


def test_no_demo_file_is_large() -> None:
    sizes = {path.name: path.stat().st_size for path in DATA_DEMO.rglob("*") if path.is_file()}
    assert len(sizes) > 10
    assert max(sizes.values()) < MOST_BYTES
