"""One workshop, saved as CSV, XLSX and Parquet, in the ways exports differ."""

from pathlib import Path

import polars as pl
import pytest
from drawn import workshop_folder
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from wornby.errors import RecordError
from wornby.records.reading import Records, read_records

JOBS = """
date       | vehicle | odometer | text                | quantity | price
2015-03-01 | V1      | 61000    | water pump renewed  | 1        | 1200.50
2016-03-12 | V1      | 72000    | oil service         | 1        | 60
"""


def lines_of(records: Records) -> list[tuple[object, ...]]:
    """What matters of the lines, whatever they were saved as."""
    told = records.lines.join(records.readings, on=["vehicle", "date"])
    return told.sort("date").select("date", "odometer_mi", "quantity", "price_net").rows()


@pytest.mark.parametrize("form", ["parquet", "xlsx"])
def test_the_form_of_the_file_does_not_matter(tmp_path: Path, form: str) -> None:
    folder = workshop_folder(tmp_path, jobs=JOBS)
    expected = lines_of(read_records(folder))
    table = pl.read_csv(folder / "job_lines.csv", try_parse_dates=True)
    path = folder / f"job_lines.{form}"
    table.write_parquet(path) if form == "parquet" else table.write_excel(path)
    layout = (folder / "layout.toml").read_text().replace("job_lines.csv", path.name)
    (folder / "layout.toml").write_text(layout)
    assert lines_of(read_records(folder)) == expected


def test_a_windows_export_with_semicolons_commas_and_tax(tmp_path: Path) -> None:
    folder = workshop_folder(tmp_path, jobs=JOBS)
    expected = lines_of(read_records(folder))
    text = (
        "job;date;vehicle;odometer;kind;text;part_number;quantity;price\n"
        "1;01/03/2015;v1;98.170 km;;Wasserpumpe: water pump renewed ½;;1;£1.440,60\n"
        "2;12.3.16;V 1;115.873 km;;oil service;;1;72,00\n"
    )
    (folder / "job_lines.csv").write_text(text, encoding="cp1252")
    layout = (folder / "layout.toml").read_text()
    old = 'path = "job_lines.csv"\ndates = "year first"'
    new = (
        'path = "job_lines.csv"\ndates = "day first"\nseparator = ";"\nencoding = "cp1252"\n'
        'decimal_mark = ","\nprices = "gross"'
    )
    (folder / "layout.toml").write_text(layout.replace(old, new))
    rates = "labour_price_per_hour = 70.0\nlabour_cost_per_hour = 40.0\ntax_rate = 0.20\n"
    rates += "target_margin = 0.2\njob_loss_risk = 0.1\nyear_loss_risk = 0.05\n"
    catalogue = (folder / "workshop.toml").read_text()
    (folder / "workshop.toml").write_text(f"{catalogue}\n[money]\n{rates}")
    found = lines_of(read_records(folder))
    for row, wanted in zip(found, expected, strict=True):
        assert row[0] == wanted[0]
        assert row[1:] == pytest.approx(wanted[1:], rel=1e-4)


def test_a_file_in_another_encoding_says_which_was_tried(tmp_path: Path) -> None:
    folder = workshop_folder(tmp_path, jobs=JOBS)
    content = (folder / "job_lines.csv").read_text().replace("oil", "öl")
    (folder / "job_lines.csv").write_bytes(content.encode("cp1252"))
    layout = (folder / "layout.toml").read_text()
    stated = layout.replace('job_lines.csv"', 'job_lines.csv"\nencoding = "utf-8"')
    (folder / "layout.toml").write_text(stated)
    with pytest.raises(RecordError, match=r"job_lines.csv: cannot be read with encoding 'utf-8'"):
        read_records(folder)


CELL = st.text(alphabet=st.characters(codec="utf-8", exclude_characters="\r\n\0"), max_size=12)


MOSTLY_GOOD = "date | vehicle | odometer | text | quantity | price\n" + "\n".join(
    f"201{n}-03-01 | V{n} | 61000 | water pump renewed | 1 | 1200.50" for n in range(7)
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(cells=st.lists(st.lists(CELL, min_size=9, max_size=9), min_size=1, max_size=6))
def test_whatever_the_cells_hold_every_row_is_accounted_for(
    tmp_path: Path, cells: list[list[str]]
) -> None:
    folder = workshop_folder(tmp_path, jobs=MOSTLY_GOOD)
    header = pl.read_csv(folder / "job_lines.csv", infer_schema=False)
    broken = pl.DataFrame(cells, schema=header.schema, orient="row")
    pl.concat([header, broken]).write_csv(folder / "job_lines.csv", quote_style="always")
    records = read_records(folder)
    jobs = records.ledgers[1]
    assert jobs.n_read == 7 + len(cells)
    assert records.problems.filter(pl.col("file") == "job_lines.csv").height == (
        jobs.n_read - jobs.n_accepted
    )


def test_a_file_most_of_whose_dates_are_none_is_refused(tmp_path: Path) -> None:
    folder = workshop_folder(tmp_path, jobs=MOSTLY_GOOD)
    lines = (folder / "job_lines.csv").read_text().replace("-03-01", "-13-01")
    (folder / "job_lines.csv").write_text(lines)
    with pytest.raises(RecordError, match="7 of 7 dates cannot be read as 'year first', first row"):
        read_records(folder)
