"""The commands as an owner types them, on the demo and on folders that are wrong."""

import json
from pathlib import Path
from shutil import copy

import pytest
from drawn import workshop_folder

from wornby.cli import main

DEMO = Path(__file__).parents[2] / "data_demo"


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (["read"], "Where every row went"),
        (["life"], "by then one in ten has failed or been renewed as degraded"),
        (["life", "--by", "grade"], "against the others"),
        (["life", "--by", "rule"], "the naive one is"),
        (["life", "--by", "renewed"], "no failure yet: a bound, not an estimate"),
        (["life", "--by", "recurrence"], "how many a vehicle gathers"),
        (["renew"], "run to failure"),
        (
            ["renew", "--group", "dash out", "--age", "14", "--failed", "heater matrix"],
            "renew while open once the part has done",
        ),
        (
            [
                "renew",
                "--group",
                "dash out",
                "--age",
                "9",
                "--degraded",
                "heater valve",
                "--sound",
                "heater matrix",
                "--discount",
                "0.04",
                "--exact",
            ],
            "exact, best at later openings",
        ),
        (["renew", "--by", "card"], "its twin has failed"),
        (["vehicle", "--age", "14", "--odometer", "105000"], "Order of work"),
        (["inspect"], "shows before it fails, months"),
        (["life", "--by", "cost"], "dearest part worth paying for"),
        (["price"], "profit next year as asked"),
        (["price", "--by", "version"], "past jobs (of other versions)"),
        (["price", "--by", "found"], "safety part: renewed if found degraded"),
        (["price", "--by", "record"], "would change the decision on"),
        (["price", "--job", "thermostat by itself"], "floor, found work charged by itself"),
        (["expect"], "each of the last 3 years"),
    ],
)
def test_each_command_answers_in_a_table(
    capsys: pytest.CaptureFixture[str], arguments: list[str], expected: str
) -> None:
    command, *options = arguments
    assert main([command, str(DEMO), *options]) == 0
    assert expected in capsys.readouterr().out


def test_json_has_the_typed_table_and_its_notes(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["life", str(DEMO), "--json"]) == 0
    (answer,) = json.loads(capsys.readouterr().out)
    pump = next(row for row in answer["rows"] if row["component"] == "water pump")
    assert pump["unit"] == "years"
    assert pump["b10_lower"] < pump["b10_value"] < pump["b10_upper"]
    assert any("watched from" in note for note in answer["notes"])


@pytest.mark.parametrize("command", ["read", "life", "renew", "price", "expect"])
def test_a_folder_that_is_not_there_is_said_in_one_line(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, command: str
) -> None:
    assert main([command, str(tmp_path / "nowhere")]) == 1
    said = capsys.readouterr().err
    assert said.startswith("wornby: ")
    assert "no such file" in said
    assert said.count("\n") == 1


def test_a_component_without_failure_gets_a_bound_not_a_blank(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    folder = workshop_folder(
        tmp_path,
        jobs="""
        date       | vehicle | odometer | text
        2013-01-01 | V1      | 80000    | oil service
        2020-01-01 | V1      | 95000    | oil service
        """,
        looks="""
        vehicle | date       | component  | condition | origin
        V1      | 2013-01-01 | water pump | sound     | original
        """,
    )
    assert main(["life", str(folder)]) == 0
    said = capsys.readouterr().out
    assert "water pump" in said
    assert "years or more" in said
    assert "no failure yet: a bound, not an estimate" in said


def test_a_decision_without_prices_says_what_to_add(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    jobs = "date | vehicle | odometer | text\n2020-06-01 | V1 | 80000 | oil service"
    folder = workshop_folder(tmp_path, jobs=jobs)
    assert main(["renew", str(folder)]) == 1
    assert "workshop.toml: no [money]" in capsys.readouterr().err


def test_an_unknown_access_group_is_named_with_those_there_are(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["renew", str(DEMO), "--group", "roof off", "--age", "14"]) == 1
    assert "no access group 'roof off'; workshop.toml has gearbox out" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--age", "14"], "--age goes with --group"),
        (["--group", "dash out", "--age", "14", "--renewed", "heater valve"], "COMPONENT=YEARS"),
        (["--group", "dash out", "--age", "14", "--renewed", "belt=2"], "no component 'belt'"),
        (
            ["--group", "dash out", "--age", "14", "--distance-per-year", "0"],
            "year 0: wanted above 0, in miles",
        ),
        (["--group", "dash out", "--age", "-1"], "age -1: wanted"),
        (["--group", "dash out", "--age", "14", "--horizon", "0"], "horizon in years 0"),
        (["--group", "dash out", "--age", "14", "--failed", "flux"], "flux named failed"),
        (["--group", "dash out", "--age", "14", "--degraded", "flux"], "flux named failed"),
        (["--group", "dash out", "--age", "14", "--sound", "flux"], "flux named failed"),
        (
            ["--group", "dash out", "--age", "14", "--discount", "-1"],
            "discount_rate_per_year is -1",
        ),
        (["--group", "front subframe down", "--age", "14", "--exact"], "wanted at most 4"),
        (["--by", "card", "--group", "dash out", "--age", "14"], "--by card asks of all"),
        (["--by", "card", "--failed", "thermostat"], "--failed goes with --group"),
        (["--by", "card", "--horizon", "0"], "horizon in years 0"),
        (["--seed", "-1"], "--seed -1: wanted 0 or more"),
        (["--confidence", "90"], "--confidence 90.0: wanted between 0 and 1"),
    ],
)
def test_options_that_cannot_be_are_refused(
    capsys: pytest.CaptureFixture[str], options: list[str], said: str
) -> None:
    assert main(["renew", str(DEMO), *options]) == 1
    assert said in capsys.readouterr().err


@pytest.mark.parametrize(
    ("was", "now", "said"),
    [
        ("own_hours = 0.7", "own_hours = -0.7", "own_hours = -0.7: wanted a number from 0 up"),
        ("{genuine = 165.0,", "{genuine = -1.0,", "genuine = -1.0: wanted a number from 0 up"),
        ("failure_consequence_net = 110.0", "failure_consequence_net = -5", "wanted a number"),
        ('access_group = "dash out"', 'access_group = "roof off"', "no access group 'roof off'"),
        ('reveals = ["brake pipe above the axle"]', 'reveals = ["flux"]', "no component 'flux'"),
        ('caution = "brakes, raised vehicle"', 'caution = "ghosts"', "caution = 'ghosts'; use hot"),
        ('look_for = "knock over small bumps"', "shared_wear = 1.0", "shared_wear = 1.0: wanted"),
        ('look_for = "knock over small bumps"', "shared_wear = -1.0", "wanted a number from 0"),
    ],
)
def test_a_catalogue_that_cannot_be_is_refused_in_one_line(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, was: str, now: str, said: str
) -> None:
    for file in DEMO.iterdir():
        if file.is_file():
            copy(file, tmp_path)
    catalogue = tmp_path / "workshop.toml"
    text = catalogue.read_text(encoding="utf-8")
    assert was in text
    catalogue.write_text(text.replace(was, now, 1), encoding="utf-8")
    assert main(["renew", str(tmp_path), "--group", "dash out", "--age", "14"]) == 1
    error = capsys.readouterr().err
    assert said in error
    assert "workshop.toml" in error
    assert error.count("\n") == 1


def test_a_group_whose_components_were_never_watched_is_refused(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    for file in DEMO.iterdir():
        if file.is_file():
            copy(file, tmp_path)
    catalogue = tmp_path / "workshop.toml"
    text = catalogue.read_text(encoding="utf-8")
    roof = """
[[access_group]]
name = "roof off"
access_hours = 2.0

[[component]]
name = "roof seal"
access_group = "roof off"
words = ["roof seal*"]
own_hours = 1.0
part_price_net = {genuine = 10.0}
failure_consequence_net = 0.0
"""
    catalogue.write_text(text + roof, encoding="utf-8")
    assert main(["renew", str(tmp_path), "--group", "roof off", "--age", "14"]) == 1
    said = capsys.readouterr().err
    assert "roof off: no component has a curve: roof seal: no original fitment" in said


@pytest.mark.parametrize("share", ["0", "1", "-2"])
def test_a_share_that_no_look_can_catch_is_refused(
    capsys: pytest.CaptureFixture[str], share: str
) -> None:
    assert main(["inspect", str(DEMO), "--share", share]) == 1
    assert "wanted between 0 and 1" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ([], "no age in years and no registration"),
        (["--age", "-1"], "age -1: wanted from 0 to 100"),
        (["--age", "14", "--horizon", "0"], "horizon in years 0"),
        (["--age", "14", "--degraded", "flux"], "no component 'flux'"),
        (["--age", "14", "--registration", "AB12"], "are known of a registration"),
        (["--registration", "AB12"], "no such vehicle in the records"),
    ],
)
def test_a_vehicle_that_cannot_be_is_refused_and_never_named(
    capsys: pytest.CaptureFixture[str], options: list[str], said: str
) -> None:
    assert main(["vehicle", str(DEMO), *options]) == 1
    error = capsys.readouterr().err
    assert said in error
    assert "AB12" not in error


def test_a_file_is_not_a_folder(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["read", str(DEMO / "vehicles.csv")]) == 1
    assert "wornby reads a folder" in capsys.readouterr().err


def test_a_group_needs_the_vehicles_age(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["renew", str(DEMO), "--group", "dash out"]) == 1
    assert "--group needs --age" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--job", "turbo"], "no fixed-price job 'turbo'; workshop.toml has: clutch slave"),
        (["--job", "thermostat by itself", "--by", "found"], "--by found asks of all jobs"),
    ],
)
def test_a_price_that_cannot_be_asked_is_refused(
    capsys: pytest.CaptureFixture[str], options: list[str], said: str
) -> None:
    assert main(["price", str(DEMO), *options]) == 1
    assert said in capsys.readouterr().err
