"""No published thing holds a respondent's row, name, odometer or free text, at whatever depth."""

import base64
import re
import zlib
from pathlib import Path
from shutil import copyfile

import polars as pl
import pytest
from survey.personal import assert_nothing_personal, given_away, personal

from wornby.cli import main
from wornby.commands.survey import SURVEY_ANSWERS

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "data_demo"
PUBLISHED = sorted(
    path for path in [*ROOT.glob("reports/**/*"), *ROOT.glob("notebooks/*.ipynb")] if path.is_file()
)
ASKED = ("respondent", "model_year", "version", "odometer_mi", "water pump", "rear main seal")
FORMS: dict[str, list[list[str]]] = {"respondent": [[], ["--json"]], "component": [[], ["--json"]]}
WHO = ["Ann Otter", "Bob Heron", "m-7713"]


def demo_secrets() -> set[str]:
    """What the demo's survey holds of single respondents."""
    sheet = pl.read_csv(DEMO / "survey.csv", infer_schema=False)
    return personal(sheet, respondent="respondent", odometer="odometer_mi")


@pytest.mark.parametrize("path", PUBLISHED, ids=lambda path: path.name)
def test_no_report_or_notebook_holds_a_respondent(path: Path) -> None:
    assert_nothing_personal([path], demo_secrets())


def marked_club(folder: Path) -> set[str]:
    """The demo's survey, each respondent named, with an odometer and a remark of the own."""
    sheet = pl.read_csv(DEMO / "survey.csv", infer_schema=False).with_row_index("n")
    n = pl.col("n").cast(pl.String)
    kept = [name for name in sheet.columns if name.split(",")[0] in ASKED]
    marked = (
        sheet.select("n", *kept)
        .with_columns(
            respondent=pl.lit("Wren Otter ") + n,
            odometer_mi=(pl.col("odometer_mi").cast(pl.Int64) + 1 + pl.col("n") % 997).cast(
                pl.String
            ),
            **{
                "water pump, when": pl.when(pl.col("n") % 9 == 0)
                .then(pl.lit("when Wren fitted it by Otter Quay ") + n)
                .otherwise("water pump, when")
            },
        )
        .drop("n")
    )
    for path in DEMO.iterdir():
        if path.is_file():
            copyfile(path, folder / path.name)
    marked.write_csv(folder / "survey.csv")
    return personal(marked, respondent="respondent", odometer="odometer_mi")


@pytest.mark.parametrize("by", SURVEY_ANSWERS)
def test_no_answer_on_a_survey_holds_a_respondent(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, by: str
) -> None:
    """As text and as JSON, of a club whose members can be told apart by every cell."""
    secrets = marked_club(tmp_path)
    for form in FORMS.get(by, [["--json"]]):
        assert main(["survey", str(tmp_path), "--by", by, *form]) == 0
        said = capsys.readouterr().out
        assert not given_away(said.encode(), secrets)
        if form and by != "respondent":
            numbers = re.findall(r": (\d+\.\d+)(?:e[+-]\d+)?,?\n", said)
            assert all(float(n) == float(f"{float(n):.3g}") for n in numbers), numbers
        for word in ("Wren", "Otter", "Quay", "not understood"):
            assert word not in said


def test_the_search_finds_what_is_hidden_in_a_page() -> None:
    """In an alternative text, in embedded JSON, in a picture's own text, escaped or packed."""
    secrets = set(WHO)
    picture = b"\x89PNG\r\n" + b"zTXtComment\0\0" + zlib.compress(b"drawn for Bob Heron")
    hidden = {
        b"<img alt='the van of Ann Otter'>": "Ann Otter",
        b'<script type="application/json">{"rows": [["m-7713", 2]]}</script>': "m-7713",
        b"<p>Ann&#32;Otter</p>": "Ann Otter",
        b'{"metadata": {"who": "Ann\\u0020Otter"}}': "Ann Otter",
        b"<img src='data:image/png;base64," + base64.b64encode(picture) + b"'>": "Bob Heron",
        b"%PDF-1.7 stream\n" + zlib.compress(b"(Bob Heron)") + b"\nendstream": "Bob Heron",
    }
    for page, who in hidden.items():
        assert given_away(page, secrets) == {who}, page
    assert not given_away(b"<p>Ann and Otter; m-77130; Bob's heron</p>", secrets)


def test_what_is_personal_in_a_sheet() -> None:
    sheet = pl.DataFrame(
        {
            "who": WHO,
            "miles": ["84,213 mi", "90000", None],
            "pump": ["renewed", "by my brother in Kent, 2019", ""],
        }
    )
    found = personal(sheet, respondent="who", odometer="miles")
    assert {*WHO, "84213", "84,213", "by my brother in Kent, 2019"} <= found
    assert not {"renewed", "90000"} & found
