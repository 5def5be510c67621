"""Files that have not changed are not read again; what is kept never changes an answer."""

import hashlib
import os
import stat
from pathlib import Path

import polars as pl
import pytest
from drawn import LAYOUT, workshop_folder
from polars.testing import assert_frame_equal

from wornby.records.kept_tables import KEPT_IN, LEAST_BYTES, TAG
from wornby.records.reading import Records, read_records

JOBS = "date | vehicle | odometer | text | quantity | price\n2015-03-01 | V1 | 61000 | oil | 1 | 9"
MONTHS = ("2015-01", "2015-02", "2015-03")
PADDING = "x" * 200


def write_month(folder: Path, month: str, *, pump: bool = False) -> None:
    """A month of job lines, large enough to be kept."""
    rows = [
        f"{month}-{n} {n % 28},{month}-{n % 28 + 1:02},V1,{60_000 + n},labour,"
        f"{'water pump renewed' if pump and n == 3 else f'oil service {n} {PADDING}'},,1,{n}"
        for n in range(300)
    ]
    header = "job,date,vehicle,odometer,kind,text,part_number,quantity,price"
    (folder / f"lines_{month}.csv").write_text("\n".join([header, *rows]) + "\n")
    assert (folder / f"lines_{month}.csv").stat().st_size > LEAST_BYTES


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    workshop_folder(tmp_path, jobs=JOBS)
    for month in MONTHS:
        write_month(tmp_path, month)
    layout = LAYOUT.replace('"job_lines.csv"', '"lines_*.csv"')
    (tmp_path / "layout.toml").write_text(layout)
    return tmp_path


def kept(folder: Path) -> dict[str, tuple[int, str]]:
    """What is kept: each file's number on the disk and the digest of its content."""
    return {
        path.name: (path.stat().st_ino, hashlib.sha256(path.read_bytes()).hexdigest())
        for path in (folder / KEPT_IN).glob("*.parquet")
    }


def same(one: Records, other: Records) -> None:
    for name in ("vehicles", "lines", "sightings", "visits", "readings", "problems", "mentions"):
        assert_frame_equal(getattr(one, name), getattr(other, name))
    assert one.ledgers == other.ledgers


def test_a_second_reading_uses_what_was_kept_and_says_the_same(folder: Path) -> None:
    first = read_records(folder)
    before = kept(folder)
    assert len(before) == len(MONTHS)
    same(read_records(folder), first)
    assert kept(folder) == before


def test_what_is_kept_is_what_is_used(folder: Path) -> None:
    """A kept table that is whole but was made of other lines shows through: nothing was read."""
    read_records(folder)
    (one, *_) = sorted((folder / KEPT_IN).glob("*.parquet"))
    raw = one.read_bytes()
    table = pl.read_parquet(raw[32:]).head(100)
    table.write_parquet(one)
    body = one.read_bytes()
    one.write_bytes(hashlib.sha256(body).digest() + body)
    assert read_records(folder).ledgers[1].n_read == 700


def test_changing_one_file_reads_that_one_again(folder: Path) -> None:
    read_records(folder)
    before = kept(folder)
    write_month(folder, "2015-02", pump=True)
    records = read_records(folder)
    after = kept(folder)
    assert len(after) == len(MONTHS)
    assert len(before.items() & after.items()) == len(MONTHS) - 1
    assert records.sightings["component"].to_list() == ["water pump"]


def test_a_month_that_is_gone_is_gone_from_what_is_kept(folder: Path) -> None:
    read_records(folder)
    (folder / "lines_2015-03.csv").unlink()
    assert read_records(folder).ledgers[1].n_read == 600
    assert len(kept(folder)) == 2


@pytest.mark.parametrize("change", ["layout", "catalogue"])
def test_another_layout_or_catalogue_reads_everything_again(folder: Path, change: str) -> None:
    read_records(folder)
    before = kept(folder)
    path = folder / ("layout.toml" if change == "layout" else "workshop.toml")
    old, new = {
        "layout": ('table = "job_lines"', 'table = "job_lines"\nmissing = ["n/a"]'),
        "catalogue": ('left = ["n/s", "left"]', 'left = ["n/s", "left", "port"]'),
    }[change]
    path.write_text(path.read_text().replace(old, new))
    read_records(folder)
    assert not before.keys() & kept(folder).keys()
    assert len(kept(folder)) == len(MONTHS)


@pytest.mark.parametrize("harm", ["cut", "flipped", "empty", "text"])
def test_a_kept_table_that_is_not_whole_is_passed_over(folder: Path, harm: str) -> None:
    first = read_records(folder)
    for path in (folder / KEPT_IN).glob("*.parquet"):
        raw = path.read_bytes()
        half = len(raw) // 2
        flipped = raw[:half] + bytes([raw[half] ^ 0x10]) + raw[half + 1 :]
        harmed = {"cut": raw[:half], "flipped": flipped, "empty": b"", "text": b"PAR1"}
        path.write_bytes(harmed[harm])
    same(read_records(folder), first)


def test_all_of_it_may_be_deleted(folder: Path) -> None:
    first = read_records(folder)
    for path in (folder / KEPT_IN).iterdir():
        path.unlink()
    same(read_records(folder), first)
    for path in (folder / KEPT_IN).iterdir():
        path.unlink()
    (folder / KEPT_IN).rmdir()
    same(read_records(folder), first)


def test_only_its_owner_may_read_it_and_others_pass_it_by(folder: Path) -> None:
    read_records(folder)
    place = folder / KEPT_IN
    assert stat.S_IMODE(place.stat().st_mode) == 0o700
    for path in place.glob("*.parquet"):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert (place / ".gitignore").read_text() == "*\n"
    assert (place / "CACHEDIR.TAG").read_text() == TAG
    assert {path.suffix for path in place.iterdir()} == {".parquet", "", ".TAG"}


def test_the_tag_is_the_published_one() -> None:
    """The Cache Directory Tagging Specification: the MD5 of ".IsCacheDirectory"."""
    assert hashlib.md5(b".IsCacheDirectory").hexdigest() in TAG


def test_a_folder_that_cannot_be_written_to_is_read_all_the_same(folder: Path) -> None:
    (folder / KEPT_IN).write_text("a file where the folder should be")
    assert read_records(folder).ledgers[1].n_read == 900
    assert (folder / KEPT_IN).is_file()


def test_small_files_leave_nothing_behind(tmp_path: Path) -> None:
    read_records(workshop_folder(tmp_path, jobs=JOBS))
    assert not (tmp_path / KEPT_IN).exists()
    assert os.listdir(tmp_path)
