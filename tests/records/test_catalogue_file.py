"""What workshop.toml and layout.toml get wrong is said in one line: where, what, what to do."""

from pathlib import Path

import pytest
from drawn import LAYOUT, WORKSHOP

from wornby.errors import RecordError
from wornby.records.catalogue_file import read_catalogue
from wornby.records.layout import read_layout

PUMP = 'name = "water pump"\n'
MONEY = """
[money]
labour_price_per_hour = 70.0
labour_cost_per_hour = 40.0
tax_rate = 0.20
target_margin = 0.25
job_loss_risk = 0.1
year_loss_risk = 0.05
"""


def said_of(tmp_path: Path, old: str, new: str) -> str:
    """The error that a workshop.toml with one thing changed gives."""
    assert old in WORKSHOP + MONEY
    (tmp_path / "workshop.toml").write_text((WORKSHOP + MONEY).replace(old, new, 1))
    with pytest.raises(RecordError) as caught:
        read_catalogue(tmp_path / "workshop.toml")
    return str(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (
            'words = ["water pump*", "coolant pump"]',
            'words = "pump"',
            "words = 'pump': wanted a list",
        ),
        ('words = ["water pump*", "coolant pump"]', "words = [3]", "words = 3: wanted a text"),
        ('words = ["water pump*", "coolant pump"]', 'words = [""]', "words is empty"),
        ("tax_rate = 0.20", "tax_rate = 20", "tax_rate = 20: wanted a share from 0 to 1"),
        ("tax_rate = 0.20", 'tax_rate = "20%"', "tax_rate = '20%': wanted a number"),
        ("target_margin = 0.25\n", "", "[money]: no 'target_margin'; add it"),
        ("labour_cost_per_hour = 40.0", "labour_cost_per_hour = -1", "wanted a number from 0 up"),
        (PUMP, PUMP + 'caution = "rasied vehicle"\n', "use hot coolant, raised vehicle, brakes"),
        (PUMP, PUMP + 'safety = "no"\n', "safety = 'no': wanted true or false"),
        (PUMP, PUMP + "positions = 3\n", "positions = 3: wanted a list in square brackets"),
        (PUMP, PUMP + 'positions = ["front"]\n', "no position in [words.positions] 'front'"),
        (PUMP, PUMP + "part_price_net = 118\n", "wanted names and values in braces"),
        (PUMP, PUMP + "part_price_net = {genuin = 1}\n", "no part grade 'genuin'"),
        (PUMP, PUMP + "own_hours = true\n", "own_hours = True: wanted a number"),
        (PUMP, PUMP + 'colour = "red"\n', "unknown key 'colour'"),
        (
            "records_until = 2020-12-31",
            'records_until = "31/12/2020"',
            "wanted a date without quotes",
        ),
        ('currency = "GBP"', 'currency = "GBP"\nbook_monts = 3', "unknown key 'book_monts'"),
        ('currency = "GBP"', 'currency = "GBP"\nbook_months = 0', "wanted 1 or more"),
        ("access_hours = 3.5", 'access_hours = "two"', "access_hours = 'two': wanted a number"),
        ("[[component]]", "[component]", "not readable as TOML"),
    ],
)
def test_a_wrong_entry_is_named(tmp_path: Path, old: str, new: str, expected: str) -> None:
    said = said_of(tmp_path, old, new)
    assert said.startswith("workshop.toml")
    assert expected in said


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ('dates = "year first"', 'dates = "banana"', "use day first, month first"),
        ('dates = "year first"', 'dates = "days since banana"', "or 'days since 2000-01-31'"),
        ('dates = "year first"', "", "no 'dates'; add it"),
        ('path = "job_lines.csv"', 'path = "job_lines.csv"\nencoding = "windows"', "use 'utf-8'"),
        ('path = "job_lines.csv"', 'path = "job_lines.csv"\nseparator = ";;"', "one character"),
        ('path = "job_lines.csv"', 'path = "job_lines.csv"\nseparator = 59', "wanted a text"),
        ('path = "job_lines.csv"', 'path = "job_lines.csv"\nprices = "brutto"', "use net or gross"),
        ('text = "text"', 'words = "text"', "job_lines has no column 'words'"),
        ('text = "text"', "", "no column or constant for text; add it"),
        ('table = "job_lines"', 'table = "jobs"', "use vehicles or job_lines"),
    ],
)
def test_a_wrong_layout_is_named(tmp_path: Path, old: str, new: str, expected: str) -> None:
    head, jobs = LAYOUT.rsplit("[[file]]", 1)
    assert old in jobs
    (tmp_path / "layout.toml").write_text(head + "[[file]]" + jobs.replace(old, new, 1))
    with pytest.raises(RecordError) as caught:
        read_layout(tmp_path / "layout.toml")
    assert str(caught.value).startswith("layout.toml: [[file]] number 2")
    assert expected in str(caught.value)
