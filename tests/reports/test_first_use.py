"""A first evening with wornby, as README tells it: from one spreadsheet to a report.

The spreadsheet is made from the demo's job lines, all invented.
"""

import json
import os
import pty
import re
import subprocess
import sys
import termios
from pathlib import Path

import polars as pl
import pytest
from drawn import workshop_folder

from wornby.cli import main
from wornby.examples import EXAMPLES
from wornby.records.reading import read_records

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "data_demo"
HEAVY = (
    "polars", "pandas", "numpy", "scipy", "matplotlib", "lifelines", "rapidfuzz", "argcomplete",
    "tqdm",
)  # fmt: skip


def invoices(*, with_first_registered: bool) -> pl.DataFrame:
    """Reg, date, mileage, description, hours, net: what one sheet of invoices has."""
    lines = pl.read_csv(DEMO / "job_lines_2019_2024.csv", infer_schema=False)
    listed = pl.read_csv(DEMO / "vehicles.csv", infer_schema=False)
    plain = pl.col("reg").str.to_uppercase().str.replace_all(r"\W", "")
    dated = lines.with_columns(plain=plain).join(
        listed.select(
            pl.col("First registered").alias("First reg"),
            plain=pl.col("Registration").str.replace_all(r"\W", ""),
        ),
        on="plain",
        how="left",
        maintain_order="left",
    )
    sheet = dated.select(
        "First reg", Reg="reg", Date="date", Mileage="odometer", Description="description",
        Hours="hours", Net="net",
    )  # fmt: skip
    return sheet if with_first_registered else sheet.drop("First reg")


def test_one_spreadsheet_of_invoices_leads_to_a_report(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    whole = invoices(with_first_registered=True)
    some = whole["Reg"].unique().sort().gather_every(6)  # a small workshop, whose report comes soon
    whole.filter(pl.col("Reg").is_in(some.implode())).write_excel(tmp_path / "invoices.xlsx")
    assert main(["start", str(tmp_path)]) == 0
    assert "one vehicle on one day is taken for one job" in capsys.readouterr().out
    assert main(["read", str(tmp_path), "--json"]) == 0
    answers = {a["title"]: a for a in json.loads(capsys.readouterr().out)}
    (lines, named, *_) = answers["Your workshop: what the job lines tell"]["rows"]
    assert lines["lines"] > 1_000
    assert named["lines"] > 0.4 * lines["lines"]
    edits = answers["The edits that would help most"]["rows"]
    assert len(edits) == 3
    assert all(edit["rows_gained"] > 0 for edit in edits)
    assert (
        main(["report", "owner", str(tmp_path), "--to", str(tmp_path / "reports"), "--json"]) == 0
    )
    said = capsys.readouterr()
    written = [Path(row["path"]) for row in json.loads(said.out)[0]["rows"]]
    page = (tmp_path / "reports" / "owner.html").read_text()
    assert tmp_path / "reports" / "owner.html" in written
    assert "first visit, taken as original" in page
    assert not re.search(r"\b[A-Z]{3} ?\d{5}\b", page), "a registration stands on the page"
    assert said.err == ""


def test_without_first_registrations_the_vehicles_are_listed_for_the_user(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    invoices(with_first_registered=False).write_excel(tmp_path / "invoices.xlsx")
    assert main(["start", str(tmp_path)]) == 0
    assert "Write first registrations into vehicles.csv" in capsys.readouterr().out
    listed = pl.read_csv(tmp_path / "vehicles.csv", infer_schema=False)
    assert listed.height > 250
    assert main(["report", "owner", str(tmp_path), "--to", str(tmp_path / "reports")]) == 1
    assert "no job line serves for lives yet: `wornby read` says why" in capsys.readouterr().err
    listed.with_columns(pl.lit("2008").alias("First registered")).write_csv(
        tmp_path / "vehicles.csv"
    )
    records = read_records(tmp_path)
    assert records.vehicles.height > 250
    assert records.sightings.height > 1_500


def test_a_fresh_folder_is_read_with_what_to_fill(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = str(tmp_path / "vans")
    assert main(["start", folder]) == 0
    capsys.readouterr()
    assert main(["read", folder]) == 0
    said = capsys.readouterr()
    assert "Nothing to read yet" in said.out
    assert "one row a vehicle: registration, first registration" in said.out
    assert said.err == ""
    assert main(["life", folder]) == 1
    assert "vehicles.csv: has a header but no rows" in capsys.readouterr().err
    assert main(["start", folder]) == 1
    assert "start overwrites nothing" in capsys.readouterr().err


def test_start_says_what_it_wrote_and_guessed_as_json(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "lines.csv").write_text("Reg,Date,Work done,First reg\nQQ1,2015-03-25,oil,2005\n")
    assert main(["start", str(tmp_path), "--json"]) == 0
    written, guessed = json.loads(capsys.readouterr().out)
    assert {row["file"] for row in written["rows"]} >= {"layout.toml", "workshop.toml"}
    told = {(row["table"], row["what"]): row["guess"] for row in guessed["rows"]}
    assert told["job_lines", "text"] == "Work done"
    assert told["vehicles", "from_job_lines"] == "True"


@pytest.mark.parametrize("command", list(EXAMPLES))
def test_each_command_has_its_own_examples_and_speaks_json(
    command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as left:
        main([command, "--help"])
    assert left.value.code == 0
    said = capsys.readouterr().out
    assert "--json" in said
    _, _, examples = said.partition("examples:")
    others = [name for name in EXAMPLES if name != command and f"wornby {name} " in examples]
    assert f"wornby {command}" in examples
    assert not others


def test_help_tells_the_exit_codes_and_words_that_are_none_have_their_own(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with pytest.raises(SystemExit):
        main(["--help"])
    assert "2    no such command or option" in capsys.readouterr().out
    with pytest.raises(SystemExit) as left:
        main(["mend", "everything"])
    assert left.value.code == 2


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_a_shell_gets_its_script(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completion", shell]) == 0
    assert "wornby" in capsys.readouterr().out


def run(*words: str) -> "subprocess.CompletedProcess[str]":
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "analysis")}
    return subprocess.run(
        [sys.executable, *words], capture_output=True, text=True, check=False, env=environment
    )


def test_the_tab_key_completes_words(tmp_path: Path) -> None:
    """The protocol is argcomplete's: what stands on file descriptor 8, here a file."""
    found = tmp_path / "found"
    asked = {
        "_ARGCOMPLETE": "1",
        "_ARGCOMPLETE_STDOUT_FILENAME": str(found),
        "_ARGCOMPLETE_IFS": "\n",
        "COMP_LINE": "wornby re",
        "COMP_POINT": "9",
        "PYTHONPATH": str(ROOT / "analysis"),
    }
    subprocess.run(
        [sys.executable, "-m", "wornby.cli"], env={**os.environ, **asked}, check=False, timeout=60
    )
    assert {"read", "renew", "report"} == {word.strip() for word in found.read_text().splitlines()}


def test_help_and_import_load_nothing_heavy() -> None:
    """So that both are quick: tests/bench times them."""
    for words in (("-c", "import wornby"), ("-m", "wornby.cli", "--help")):
        told = run("-X", "importtime", *words)
        assert told.returncode == 0
        loaded = {
            line.rpartition("|")[2].strip().partition(".")[0] for line in told.stderr.splitlines()
        }
        assert not loaded & set(HEAVY), words


def small_folder(folder: Path) -> Path:
    return workshop_folder(
        folder,
        jobs="""
        date       | vehicle | text
        2013-01-01 | V1      | oil service
        2018-03-01 | V1      | thermostat renewed, seized
        """,
        looks="""
        vehicle | date       | component  | condition | origin
        V1      | 2013-01-01 | thermostat | sound     | original
        """,
    )


def on_a_terminal(*words: str) -> tuple[str, str]:
    """What a command prints, and what the terminal on its error stream sees."""
    ours, theirs = pty.openpty()
    termios.tcsetwinsize(ours, (24, 80))
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "analysis"), "TERM": "xterm"}
    with subprocess.Popen(
        [sys.executable, "-m", "wornby.cli", *words], stdout=subprocess.PIPE, stderr=theirs,
        env=environment, text=True,
    ) as process:  # fmt: skip
        printed, _ = process.communicate(timeout=120)
    os.close(theirs)
    seen = b""
    try:
        while piece := os.read(ours, 4096):
            seen += piece
    except OSError:  # the other end is closed: all has been read
        pass
    os.close(ours)
    return printed, seen.decode()


def test_a_bar_is_seen_on_a_terminal_only_and_never_among_the_answers(tmp_path: Path) -> None:
    folder = str(small_folder(tmp_path))
    printed, seen = on_a_terminal("life", folder)
    assert "reading the records" in seen
    assert "curves" in seen
    assert "curves" not in printed
    assert "thermostat" in printed
    _, silent = on_a_terminal("life", folder, "--json")
    assert silent == ""
    piped = run("-m", "wornby.cli", "life", folder)
    assert (piped.returncode, piped.stderr) == (0, "")
