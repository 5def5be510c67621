"""Pages that open anywhere, or not at all."""

import json
import re
from itertools import pairwise
from pathlib import Path

import polars as pl
import pytest
from drawn import workshop_folder
from openpyxl import load_workbook
from pypdfium2 import PdfDocument

from wornby.errors import RecordError
from wornby.reports.answer import Answer
from wornby.reports.notebook_run import Code, Piece, Prose, Shown, run_notebook
from wornby.reports.price_answers import price_answer
from wornby.reports.printed_pages import pdf_pages
from wornby.reports.render import render_report
from wornby.reports.sentences import CAUTION_WORDS, DISCLAIMER, SAFETY_CAUTION, Sentences
from wornby.reports.workshop import Workshop

REPOSITORY = Path(__file__).parents[2]
DEMO = REPOSITORY / "data_demo"
MARGIN = 50
"""Points."""
FOOTER = 56
"""Points from the lower edge."""
OVERLAP = 1.5
"""Points that one letter's box may reach into the next one's, as an f does."""


@pytest.fixture(scope="module")
def owner_files(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The owner's report in every form, rendered on the demo."""
    to = tmp_path_factory.mktemp("reports")
    written = render_report("owner", DEMO, to)
    assert {path.name for path in written} == {path.name for path in to.iterdir()}
    return to


@pytest.fixture(scope="module")
def owner_page(owner_files: Path) -> str:
    """The owner's page."""
    return (owner_files / "owner.html").read_text(encoding="utf-8")


def test_the_page_asks_the_network_for_nothing(owner_page: str) -> None:
    assert not re.findall(r"""(?:src|href)=["'](?!data:|#)""", owner_page)
    assert "<script" not in owner_page
    assert len(owner_page) < 3_000_000


def test_every_picture_has_words_and_every_part_a_place_in_the_contents(owner_page: str) -> None:
    pictures = re.findall(r"<img[^>]*>", owner_page)
    assert len(pictures) > 10
    assert all(len(re.findall(r'alt="([^"]+)"', picture)[0]) > 40 for picture in pictures)
    targets = re.findall(r'href="#(part-[^"]+)"', owner_page)
    assert len(targets) == len(re.findall("<h2", owner_page))
    assert all(f'id="{target}"' in owner_page for target in targets)


def test_the_page_carries_its_cautions_and_says_that_the_demo_is_invented(owner_page: str) -> None:
    for words in (
        "never certify a vehicle safe",
        "open no cap",
        "never on a jack alone",
        "Invented",
    ):
        assert words in owner_page.replace("&#x27;", "'")


def test_a_page_tells_each_caution_once_and_its_answers_refer_to_it(owner_page: str) -> None:
    page = owner_page.replace("&#x27;", "'")
    for caution in (*CAUTION_WORDS.values(), SAFETY_CAUTION, DISCLAIMER):
        carried = caution.about not in ("steering", "fuel", "restraint")
        assert page.count(caution) == carried
    assert page.count('id="cautions"') == 1
    assert page.index('id="cautions"') < page.index("Jobs at a fixed price</figcaption>")
    assert page.count("<a href='#cautions'>Cautions</a>: hot coolant") > 8
    assert re.search(r"scalds: [^<]* For: [^<]*water pump", page)


def test_the_first_printed_page_is_full_and_has_the_cautions(owner_files: Path) -> None:
    page = PdfDocument(owner_files / "owner.pdf")[0]
    text = page.get_textpage()
    assert SAFETY_CAUTION in " ".join(text.get_text_range().split())
    bottoms = [text.get_charbox(n)[1] for n in range(text.count_chars())]
    written = [bottom for bottom in bottoms if bottom > FOOTER]
    assert min(written) < page.get_height() / 4


def test_the_rendered_demo_reports_are_what_the_command_makes(owner_page: str) -> None:
    kept = (REPOSITORY / "reports" / "owner.html").read_text(encoding="utf-8")
    assert numbers(kept) == numbers(owner_page)


def numbers(page: str) -> list[str]:
    """The numbers in the page's tables."""
    cells = re.findall(r"<td>(.*?)</td>", page)
    return [number for cell in cells for number in re.findall(r"\d[\d.,]*", cell)]


def test_the_page_does_not_say_where_on_the_machine_the_records_lie(tmp_path: Path) -> None:
    render_report("analyst", DEMO, tmp_path)
    for path in (path for path in tmp_path.rglob("*") if path.is_file()):
        assert str(REPOSITORY).encode() not in path.read_bytes(), path
    assert "data_demo" in (tmp_path / "analyst.html").read_text(encoding="utf-8")


def test_a_report_that_fails_leaves_every_old_file_and_names_the_question(tmp_path: Path) -> None:
    folder = workshop_folder(tmp_path, jobs="date | vehicle | text\n2015-03-01 | V9 | oil")
    to = tmp_path / "pages"
    (to / "owner_tables").mkdir(parents=True)
    old = [to / name for name in ("owner.html", "owner.pdf", "owner.xlsx", "owner_tables/a.csv")]
    for path in old:
        path.write_text("the old report")
    question = "owner report, under 'In short': "
    with pytest.raises(RecordError, match=question + "no job line serves for lives yet") as told:
        render_report("owner", folder, to)
    assert "\n" not in str(told.value)
    assert all(path.read_text() == "the old report" for path in old)
    assert sorted(path.name for path in to.iterdir()) == [
        "owner.html", "owner.pdf", "owner.xlsx", "owner_tables",
    ]  # fmt: skip


def test_an_error_of_our_own_is_named_with_its_kind_and_question(tmp_path: Path) -> None:
    notebook = notebook_file(tmp_path, "## Where is it?", "{}['nowhere']")
    with pytest.raises(
        RecordError, match="small report, under 'Where is it\\?': KeyError: 'nowhere'"
    ):
        run_notebook(notebook, {})


def test_parameters_are_changed_and_shown_and_unknown_ones_refused(tmp_path: Path) -> None:
    notebook = notebook_file(tmp_path, "# Ages", "age_years = 14.0", "age_years + 1")
    pieces = run_notebook(notebook, {"age_years": 9.0})
    assert Code("age_years = 9.0") in pieces
    assert [piece.value for piece in pieces if isinstance(piece, Shown)] == [10.0]
    with pytest.raises(ValueError, match="no parameter 'colour'; there are age_years"):
        run_notebook(notebook, {"colour": "red"})


def notebook_file(folder: Path, words: str, *codes: str) -> Path:
    """A notebook of one cell of words and some of code, the first with the parameters."""
    cells: list[dict[str, object]] = [{"cell_type": "markdown", "metadata": {}, "source": [words]}]
    for n, code in enumerate(codes):
        tags = [] if n else ["parameters"]
        cells.append({"cell_type": "code", "metadata": {"tags": tags}, "source": code})
    path = folder / "small.ipynb"
    path.write_text(json.dumps({"cells": cells}))
    return path


def printed_texts(path: Path) -> list[str]:
    """The text of each page, on one line."""
    pages = PdfDocument(path)
    return [" ".join(page.get_textpage().get_text_range().split()) for page in pages]


def test_the_printed_report_has_numbered_pages_and_every_part(owner_files: Path) -> None:
    pages = printed_texts(owner_files / "owner.pdf")
    assert all(f"{n} of {len(pages)}" in page for n, page in enumerate(pages, start=1))
    for part in ("In short", "Parts to keep on the shelf", "What was set aside"):
        assert part in " ".join(pages)


@pytest.mark.parametrize("lines", range(30, 38))
def test_a_heading_and_its_sentence_stay_with_their_table(tmp_path: Path, lines: int) -> None:
    table = pl.DataFrame({"component": ["hose"]})
    before = [Prose(f"## {n}" if n % 3 else f"line {n}") for n in range(lines)]
    pieces: list[Piece] = [
        *before,
        Prose("## Hoses\n\nHow they last."),
        Shown(Answer("Lives", table, table)),
    ]
    path = tmp_path / "small.pdf"
    path.write_bytes(pdf_pages(pieces, about="hoses", shows_code=False))
    (page,) = [text for text in printed_texts(path) if "How they last." in text]
    assert "Lives component hose" in page


def test_what_a_note_gives_to_type_is_printed_without_its_backticks(tmp_path: Path) -> None:
    table = pl.DataFrame({"component": ["hose"]})
    note = "`wornby life FOLDER` tells more; so does `--json`."
    path = tmp_path / "noted.pdf"
    shown: list[Piece] = [
        Prose("# Hoses"),
        Shown(Answer("Lives", table, table, (note,))),
        Shown(Sentences((note,))),
    ]
    path.write_bytes(pdf_pages(shown, about="hoses", shows_code=False))
    (page,) = printed_texts(path)
    assert page.count("wornby life FOLDER tells more; so does --json.") == 2


def test_a_table_of_many_pages_repeats_its_head_on_each(owner_files: Path) -> None:
    pages = printed_texts(owner_files / "owner.pdf")
    assert sum("dearest part worth paying for" in page for page in pages) > 1


def test_no_letter_of_a_printed_page_leaves_its_margins(owner_files: Path) -> None:
    for page in PdfDocument(owner_files / "owner.pdf"):
        text = page.get_textpage()
        boxes = [text.get_charbox(n) for n in range(text.count_chars())]
        assert min(left for left, *_ in boxes) > MARGIN
        assert max(right for *_, right, _ in boxes) < page.get_width() - MARGIN


def test_no_word_of_a_printed_table_reaches_into_the_next_column(owner_files: Path) -> None:
    """Letters of one line never overlap: a word wider than its column would run over the next."""
    for page in PdfDocument(owner_files / "owner.pdf"):
        text = page.get_textpage()
        lines: dict[float, set[tuple[float, float]]] = {}
        for n in range(text.count_chars()):
            left, bottom, right, _ = text.get_charbox(n, loose=True)
            if right > left:
                lines.setdefault(round(bottom, 1), set()).add((left, right))
        for line in lines.values():
            assert all(a[1] < b[0] + OVERLAP for a, b in pairwise(sorted(line))), page


def test_the_workbook_has_a_typed_sheet_for_each_table_with_units_in_its_head(
    owner_files: Path,
) -> None:
    book = load_workbook(owner_files / "owner.xlsx")
    files = sorted((owner_files / "owner_tables").iterdir())
    assert len(book.sheetnames) == len(files)
    assert all(sheet.freeze_panes == "B2" for sheet in book)
    prices = {cell.value: column for cell, *column in book.worksheets[0].columns}
    assert prices["floor price (GBP before tax)"][0].data_type == "n"
    assert prices["job"][0].data_type == "s"
    assert all(len(str(cell.value)) > 0 for sheet in book for cell in sheet[1])


def test_a_csv_file_has_the_numbers_of_the_table_it_is_named_after(
    owner_files: Path, demo: Workshop
) -> None:
    path = owner_files / "owner_tables" / "01_jobs_at_a_fixed_price.csv"
    kept, answer = pl.read_csv(path), price_answer(demo)
    assert kept["job"].to_list() == answer.frame["job"].to_list()
    assert kept["floor_price_net"].to_list() == pytest.approx(
        answer.frame["floor_price_net"].to_list()
    )
