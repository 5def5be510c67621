"""The edits that `wornby read` proposes gain the rows that they promise."""

from pathlib import Path

from drawn import workshop_folder

from wornby.records.edits import Edit, helpful_edits
from wornby.records.layout import read_layout
from wornby.records.reading import Records, read_records

LOOKS = """
vehicle | date       | component  | condition | origin
V1      | 2013-01-01 | thermostat | sound     | original
"""


def edits_of(folder: Path) -> tuple[Edit, ...]:
    return helpful_edits(folder, read_records(folder), read_layout(folder / "layout.toml"))


def lines_named(records: Records) -> int:
    return records.mentions.select("file", "row").unique().height


def accepted(records: Records) -> int:
    return next(ledger.n_accepted for ledger in records.ledgers if ledger.what == "job lines")


def insert(path: Path, after: str, line: str) -> None:
    text = path.read_text()
    assert text.count(after) == 1
    path.write_text(text.replace(after, f"{after}\n{line}"))


def test_a_spelling_added_to_a_components_words_places_as_many_lines_as_promised(
    tmp_path: Path,
) -> None:
    folder = workshop_folder(
        tmp_path,
        jobs="""
        date       | vehicle | text
        2015-03-01 | V1      | watr pump leaking
        2016-03-01 | V1      | watr pump renewed
        2017-03-01 | V1      | wter pump renewed
        2018-03-01 | V1      | water pump ok
        """,
        looks=LOOKS,
    )
    before = lines_named(read_records(folder))
    (edit,) = edits_of(folder)
    assert (edit.file, edit.rows) == ("workshop.toml", 3)
    assert '[[component]] name = "water pump"' in edit.under
    path = folder / "workshop.toml"
    old = 'words = ["water pump*", "coolant pump"]'
    assert path.read_text().count(old) == 1
    path.write_text(path.read_text().replace(old, edit.line))
    assert lines_named(read_records(folder)) == before + edit.rows


def test_a_part_that_no_component_has_is_proposed_as_one(tmp_path: Path) -> None:
    folder = workshop_folder(
        tmp_path,
        jobs="""
        date       | vehicle | text
        2015-03-01 | V1      | renew n/s rear silencer
        2016-03-01 | V1      | rear silencer replaced, leaking
        2017-03-01 | V1      | rear silencer noisy
        2018-03-01 | V1      | thermostat ok
        """,
        looks=LOOKS,
    )
    (edit,) = edits_of(folder)
    assert edit.line == '[[component]]\nname = "rear silencer"\nwords = ["rear silencer"]'
    path = folder / "workshop.toml"
    path.write_text(f"{path.read_text()}\n{edit.line}\n")
    assert lines_named(read_records(folder)) == 1 + edit.rows == 4


def test_a_word_joined_otherwise_is_a_spelling_and_no_new_component(tmp_path: Path) -> None:
    folder = workshop_folder(
        tmp_path,
        jobs="""
        date       | vehicle | text
        2015-03-01 | V1      | waterpump renewed
        2016-03-01 | V1      | renew waterpump
        2018-03-01 | V1      | thermostat ok
        """,
        looks=LOOKS,
    )
    (pump,) = edits_of(folder)
    assert (pump.line.endswith('"coolant pump", "waterpump"]'), pump.rows) == (True, 2)
    assert pump.because.startswith("1 spelling that nearly names it;")


def test_a_part_that_no_line_names_in_one_piece_is_not_proposed(tmp_path: Path) -> None:
    """ "Alternator not charging" leaves "alternator charging", which would place no line."""
    jobs = "\n".join(f"201{n}-03-01 | V1 | alternator not charging, recon renewed" for n in (5, 6))
    jobs = f"date | vehicle | text\n{jobs}\n2018-03-01 | V1 | thermostat ok"
    assert not edits_of(workshop_folder(tmp_path, jobs=jobs, looks=LOOKS))


def test_wordings_of_one_part_are_proposed_as_one_component(tmp_path: Path) -> None:
    folder = workshop_folder(
        tmp_path,
        jobs="""
        date       | vehicle | text
        2015-03-01 | V1      | renew front pads
        2016-03-01 | V1      | front brake pads replaced
        2017-03-01 | V1      | front pad renewed
        2018-03-01 | V1      | renew rear pads
        2019-03-01 | V1      | rear pads replaced
        2019-03-02 | V1      | renew front discs pads
        2019-04-01 | V1      | renew front discs
        2019-04-02 | V1      | front discs replaced
        2020-03-01 | V1      | thermostat ok
        """,
        looks=LOOKS,
    )
    front, discs, rear = edits_of(folder)
    assert '"front discs"' in discs.line
    names = '["front brake pads", "front pad", "front pads"]'
    assert front.line == f'[[component]]\nname = "front brake pads"\nwords = {names}'
    assert "3 wordings, as it seems of one part" in front.because
    assert rear.line == '[[component]]\nname = "rear pads"\nwords = ["rear pads"]'
    path = folder / "workshop.toml"
    path.write_text(f"{path.read_text()}\n{front.line}\n{rear.line}\n")
    assert lines_named(read_records(folder)) == 1 + front.rows + rear.rows == 6


def test_an_unknown_kind_is_proposed_for_the_layout(tmp_path: Path) -> None:
    folder = workshop_folder(
        tmp_path,
        jobs="""
        date       | vehicle | kind  | text
        2015-03-01 | V1      | Parts | thermostat
        2016-03-01 | V1      | Parts | thermostat
        2017-03-01 | V1      | part  | thermostat
        """,
        looks=LOOKS,
    )
    before = accepted(read_records(folder))
    (edit,) = edits_of(folder)
    assert (edit.file, edit.line, edit.rows) == ("layout.toml", '"parts" = "part"', 2)
    assert "[file.words.kind] of job_lines.csv" in edit.under
    insert(folder / "layout.toml", 'price = "price"', f"[file.words.kind]\n{edit.line}")
    assert accepted(read_records(folder)) == before + edit.rows


def test_a_close_of_records_before_the_last_lines_is_moved(tmp_path: Path) -> None:
    months = "\n".join(f"2020-{m:02d}-15 | V1 | thermostat ok" for m in range(1, 13))
    later = "\n".join(f"2021-{m:02d}-15 | V1 | thermostat ok" for m in (1, 2, 3))
    folder = workshop_folder(
        tmp_path,
        jobs=f"date | vehicle | text\n{months}\n{later}\n2091-01-01 | V1 | x",
        looks=LOOKS,
    )
    (edit,) = edits_of(folder)
    assert (edit.line, edit.rows) == ("records_until = 2021-03-15", 3)


def test_a_rule_that_waits_for_looks_is_named_where_nobody_notes_any(tmp_path: Path) -> None:
    jobs = "date | vehicle | text\n2015-03-01 | V1 | water pump renewed"
    folder = workshop_folder(tmp_path, jobs=jobs)
    (edit,) = edits_of(folder)
    assert edit.line == 'observation_rule = "first visit, taken as original"'
    insert(folder / "workshop.toml", "[workshop]", edit.line)
    assert read_records(folder).catalogue.observation_rule.startswith("first visit")
    assert not edits_of(folder)


def test_a_column_that_nothing_reads_is_proposed(tmp_path: Path) -> None:
    jobs = "date | vehicle | odometer | text\n2015-03-01 | V1 | 80000 | thermostat ok"
    folder = workshop_folder(tmp_path, jobs=jobs, looks=LOOKS)
    layout = folder / "layout.toml"
    layout.write_text(layout.read_text().replace('odometer = "odometer"\n', ""))
    (edit,) = edits_of(folder)
    assert (edit.line, edit.rows) == ('odometer = "odometer"', 1)
    insert(layout, 'text = "text"', edit.line)
    assert read_records(folder).readings["odometer_mi"].to_list() == [80000.0]


def test_vehicles_that_most_lines_wait_for_are_proposed_as_rows(tmp_path: Path) -> None:
    folder = workshop_folder(
        tmp_path,
        vehicles="vehicle | first_registered\nV1 | 2005-01-01\nV2 |",
        jobs="""
        date       | vehicle | text
        2015-03-01 | V1      | thermostat ok
        2015-03-02 | V2      | thermostat ok
        2015-03-03 | V2      | thermostat renewed
        2015-03-04 | V3      | thermostat ok
        """,
        looks=LOOKS,
    )
    edits = {edit.line: edit for edit in edits_of(folder)}
    assert {line: edit.rows for line, edit in edits.items()} == {
        "V2,YYYY-MM-DD": 2,
        "V3,YYYY-MM-DD": 1,
    }
    table = folder / "vehicles.csv"
    filled = table.read_text().replace("V2,", "V2,2006-02-03") + "V3,2006-02-03\n"
    table.write_text(filled)
    assert accepted(read_records(folder)) == 4
    assert not edits_of(folder)


def test_a_folder_with_nothing_to_mend_gets_no_edit(tmp_path: Path) -> None:
    jobs = "date | vehicle | text\n2015-03-01 | V1 | water pump ok"
    assert not edits_of(workshop_folder(tmp_path, jobs=jobs, looks=LOOKS))
