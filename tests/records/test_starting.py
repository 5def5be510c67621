"""A folder that is started: what is written, what is guessed, and that nothing is overwritten."""

import re
from datetime import date
from pathlib import Path

import polars as pl
import pytest

from wornby.errors import RecordError
from wornby.records.catalogue_file import read_catalogue
from wornby.records.layout import read_layout
from wornby.records.layout_writing import layout_text, toml_text
from wornby.records.loading import rows_of_tables
from wornby.records.proposal import columns_named, proposed_layout
from wornby.records.reading import read_records
from wornby.records.starting import Started, start_folder
from wornby.records.value_guesses import order_of_dates

DEMO = Path(__file__).parents[2] / "data_demo"
TODAY = date(2026, 11, 27)


def started(folder: Path) -> Started:
    return start_folder(folder, today=TODAY, pseudonym_key="test")


def lines_file(folder: Path, header: str, *rows: str, name: str = "lines.csv") -> None:
    folder.mkdir(exist_ok=True)
    (folder / name).write_text("\n".join([header, *rows]) + "\n")


def test_a_new_folder_has_a_catalogue_a_layout_and_blank_tables_that_it_maps(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "vans"
    names = {path.name for path in started(folder).written}
    assert names == {
        "workshop.toml", "layout.toml", "README.md", "vehicles.csv", "job_lines.csv",
        "inspections.csv",
    }  # fmt: skip
    layouts = read_layout(folder / "layout.toml")
    assert {rows for _, _, rows in rows_of_tables(folder, layouts)} == {0}
    for layout in layouts:
        header = (folder / layout.path).read_text().strip().split(",")
        assert [name for (name,) in layout.columns.values()] == header
    assert read_catalogue(folder / "workshop.toml").records_until == TODAY


def test_money_distances_and_days_are_as_the_job_lines_have_them(tmp_path: Path) -> None:
    header = "Invoice;Date;Registration;Odometer;Description;Price €"
    days = ("13.02.2019", "14.03.2020", "15.04.2021")
    rows = [f"{n};{day};AB 12;8{n}.000 km;water pump;120,50" for n, day in enumerate(days)]
    lines_file(tmp_path / "eu", header, *rows)
    american = "Invoice,Date,Registration,Mileage,Description,Price"
    days = ("02/13/2019", "03/14/2020", "04/15/2021")
    rows = [f"{n},{day},AB 12,8{n}000,water pump,$120.50" for n, day in enumerate(days)]
    lines_file(tmp_path / "us", american, *rows)
    lines_file(tmp_path / "uk", american, "1,13/02/2019,AB 12,80000,water pump,120.50")
    told = {}
    for place in ("eu", "us", "uk"):
        started(tmp_path / place)
        catalogue = read_catalogue(tmp_path / place / "workshop.toml")
        told[place] = (catalogue.currency, catalogue.distances_in, catalogue.date_format)
    assert told == {
        "eu": ("EUR", "kilometres", "day month year"),
        "us": ("USD", "miles", "month day year"),
        "uk": ("GBP", "miles", "day month year"),
    }


def test_a_part_named_beside_another_stays_in_the_catalogue(tmp_path: Path) -> None:
    """One word of the other would call its line another part's, were the line not cut at "and"."""
    lines_file(
        tmp_path,
        "Invoice,Date,Registration,Mileage,Description,First registered",
        "1,13/02/2019,AB 12,80000,Renewed timing belt and tensioner,2010",
        "2,14/03/2020,AB 12,90000,Replaced coolant pipe + brake pipe,2010",
        "3,14/04/2020,AB 12,91000,Alternator belt tensioner noisy,2010",
    )
    started(tmp_path)
    named = set(read_catalogue(tmp_path / "workshop.toml").components)
    assert {"timing belt", "belt tensioner", "coolant pipe", "brake pipe"} <= named
    assert "clutch" not in named
    sightings = read_records(tmp_path).sightings
    assert {"timing belt", "belt tensioner"} <= set(sightings["component"])


def test_the_starting_catalogue_has_all_that_a_part_needs(tmp_path: Path) -> None:
    """The fields are those that an owner is asked for; the words are common practice, no source."""
    started(tmp_path)
    catalogue = read_catalogue(tmp_path / "workshop.toml")
    assert len(catalogue.components) >= 30
    for component in catalogue.components.values():
        assert component.look_for
        assert component.part_price_net
        assert any(look.chance(component.name) for look in catalogue.looks.values()) or (
            component.name == "timing belt"  # seen with its cover off only
        )
    cautious = {name for c in catalogue.components.values() for name in c.cautions}
    assert cautious == {
        "hot coolant", "raised vehicle", "brakes", "steering", "fuel", "restraint",
    }  # fmt: skip
    engines = {look.engine for look in catalogue.looks.values()}
    assert engines == {"cold", "hot"}
    assert {"on the ground", "on the ramp"} <= set(catalogue.looks)
    text = (tmp_path / "workshop.toml").read_text()
    prices = re.findall(r"(?m)^part_price_net = {.*$", text)
    assert prices
    assert all(line.endswith("# put your own") for line in prices)


def test_letters_from_the_starting_catalogue_say_that_its_prices_are_invented(
    tmp_path: Path,
) -> None:
    started(tmp_path)
    note = read_catalogue(tmp_path / "workshop.toml").note
    assert "Prices, hours and chances are still invented ones" in note


def test_safety_parts_of_brakes_steering_fuel_and_restraint_are_marked(tmp_path: Path) -> None:
    started(tmp_path)
    for component in read_catalogue(tmp_path / "workshop.toml").components.values():
        if {"brakes", "steering", "fuel", "restraint"} & set(component.cautions):
            assert component.safety, component.name


def test_a_folder_with_a_layout_is_refused_and_stays_as_it_was(tmp_path: Path) -> None:
    (tmp_path / "layout.toml").write_text("mine")
    with pytest.raises(RecordError, match=r"layout\.toml is there already, and start overwrites"):
        started(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["layout.toml"]
    assert (tmp_path / "layout.toml").read_text() == "mine"


def test_a_catalogue_or_readme_that_is_there_is_kept(tmp_path: Path) -> None:
    (tmp_path / "workshop.toml").write_text("mine")
    made = started(tmp_path)
    assert [path.name for path in made.kept] == ["workshop.toml"]
    assert (tmp_path / "workshop.toml").read_text() == "mine"


def test_a_table_that_nobody_understands_is_not_overwritten(tmp_path: Path) -> None:
    lines_file(tmp_path, "colour,size", "red,4", name="job_lines.csv")
    with pytest.raises(RecordError, match=r"job_lines.csv: is there already.*mend its headers"):
        started(tmp_path)
    assert (tmp_path / "job_lines.csv").read_text() == "colour,size\nred,4\n"
    assert not (tmp_path / "layout.toml").exists()


def test_a_file_is_no_folder(tmp_path: Path) -> None:
    (tmp_path / "vans").write_text("")
    with pytest.raises(RecordError, match="is a file; give a folder"):
        started(tmp_path / "vans")


def test_the_layout_proposed_for_the_demo_reads_it_as_its_own_does(tmp_path: Path) -> None:
    for path in (*DEMO.glob("*.csv"), *DEMO.glob("*.xlsx"), DEMO / "workshop.toml"):
        (tmp_path / path.name).write_bytes(path.read_bytes())
    started(tmp_path)
    proposed, own = read_records(tmp_path), read_records(DEMO)
    assert proposed.lines.drop("vehicle").equals(own.lines.drop("vehicle"))
    assert proposed.sightings.height == own.sightings.height
    assert [(x.n_read, x.n_accepted) for x in proposed.ledgers] == [
        (x.n_read, x.n_accepted) for x in own.ledgers
    ]


def test_headers_are_known_however_they_are_spelt() -> None:
    header = (
        "VEHICLE REG",
        "Date first registered",
        "Invoice Date",
        "Mileage (miles)",
        "Work done",
    )
    assert columns_named(header) == {
        "vehicle": "VEHICLE REG",
        "first_registered": "Date first registered",
        "date": "Invoice Date",
        "odometer": "Mileage (miles)",
        "text": "Work done",
    }


def test_a_title_above_the_header_and_a_second_sheet_are_seen_through(tmp_path: Path) -> None:
    import xlsxwriter

    with xlsxwriter.Workbook(tmp_path / "book.xlsx") as book:
        first, second = book.add_worksheet("Lines"), book.add_worksheet("Vans")
        first.write(0, 0, "Invoices 2019 to 2024")
        first.write_row(2, 0, ["Reg", "Date", "Description"])
        first.write_row(3, 0, ["QQ1 AAA", "2019-03-25", "water pump renewed"])
        second.write_row(0, 0, ["Reg", "Year of registration"])
        second.write_row(1, 0, ["QQ1 AAA", "2005"])
    guesses = {guess.table: guess for guess in proposed_layout(tmp_path).guesses}
    assert guesses["job_lines"].sheet == "Lines"
    assert guesses["vehicles"].sheet == "Vans"
    assert guesses["vehicles"].settings["dates"] == "year"
    started(tmp_path)
    records = read_records(tmp_path)
    assert records.vehicles["first_registered"].to_list() == [date(2005, 7, 1)]
    assert records.sightings["component"].to_list() == ["water pump"]


@pytest.mark.parametrize(
    ("cells", "order"),
    [
        (["25/03/2015", "1/4/2015"], "day first"),
        (["03/25/2015", "4/1/2015"], "month first"),
        (["2015-03-25", "2015-04-01"], "year first"),
        (["2015", "2016"], "year"),
        (["2015-03", "2016-11"], "year and month"),
    ],
)
def test_the_order_of_dates_is_told_by_the_cells(cells: list[str], order: str) -> None:
    assert order_of_dates(cells)[0] == order


def test_a_date_order_that_nothing_decides_is_said_to_be_a_guess() -> None:
    order, reason = order_of_dates(["03/04/2015", "05/06/2015"])
    assert order == "day first"
    assert "as many the month first" in reason


def test_hostile_headers_stay_inside_their_quotes(tmp_path: Path) -> None:
    lines_file(tmp_path, 'Reg,Date,Description,"x""]\n[evil]\ny\\"', "QQ1,2019-03-25,oil,z")
    proposal = proposed_layout(tmp_path)
    (tmp_path / "layout.toml").write_text(layout_text(proposal.guesses))
    (layout,) = read_layout(tmp_path / "layout.toml")
    assert layout.table == "job_lines"


def test_a_text_comes_back_from_toml_as_it_went_in() -> None:
    import tomllib

    for text in ('a "b" \\ c', "tab\tline\nend\x7f", "ünïcode", "\x00"):
        assert tomllib.loads(f"x = {toml_text(text)}")["x"] == text


def test_registrations_without_a_list_of_vehicles_are_listed_to_be_filled(tmp_path: Path) -> None:
    lines_file(
        tmp_path, "Reg,Date,Description",
        "QQ1 AAA,2019-03-25,oil", "QQ2 BBB,2019-03-26,oil", "QQ2 BBB,2019-04-26,oil",
    )  # fmt: skip
    started(tmp_path)
    listed = pl.read_csv(tmp_path / "vehicles.csv", infer_schema=False)
    assert listed["Registration"].to_list() == ["QQ2 BBB", "QQ1 AAA"]
    (tmp_path / "vehicles.csv").write_text(
        "Registration,First registered,Version\nQQ2 BBB,2007,\nQQ1 AAA,14/05/2009,long\n"
    )
    known = {
        row["version"]: row["first_registered"]
        for row in read_records(tmp_path).vehicles.to_dicts()
    }
    assert known == {"unknown": date(2007, 7, 1), "long": date(2009, 5, 14)}


def test_parts_that_no_line_names_stand_behind_a_sign(tmp_path: Path) -> None:
    lines_file(
        tmp_path, "Reg,Date,Description,First reg", "QQ1,2019-03-25,water pump renewed,2005-01-31"
    )
    started(tmp_path)
    catalogue = read_catalogue(tmp_path / "workshop.toml")
    assert list(catalogue.components) == ["water pump"]
    assert '# name = "seat belt"' in (tmp_path / "workshop.toml").read_text()


def test_vehicles_told_of_on_job_lines_count_once_each_and_contradictions_are_set_aside(
    tmp_path: Path,
) -> None:
    lines_file(
        tmp_path, "Reg,First reg,Date,Description",
        "QQ1 AAA,31/01/2005,25/03/2015,oil service",
        "qq1-aaa,,26/03/2015,oil service",
        "QQ2 BBB,31/01/2005,25/03/2015,oil service",
        "QQ2 BBB,28/02/2006,25/04/2015,oil service",
        "QQ3 CCC,,25/03/2015,oil service",
        ",,25/03/2015,oil service",
    )  # fmt: skip
    started(tmp_path)
    records = read_records(tmp_path)
    vehicles, jobs = records.ledgers[:2]
    assert (vehicles.n_read, vehicles.n_accepted) == (4, 1)
    assert vehicles.set_aside == {"one registration, two vehicles": 2, "no first registration": 1}
    assert (jobs.n_read, jobs.n_accepted) == (6, 2)
    assert jobs.rejected == {"no vehicle": 1}
