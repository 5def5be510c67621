"""Hostile text in every field comes out inert: shown or shortened, never obeyed."""

import html
import re
from pathlib import Path

import polars as pl
import pytest
from openpyxl import load_workbook
from pypdfium2 import PdfDocument
from reports.hostile import (
    DEMO,
    HOSTILE_VERSIONS,
    RESPONDENT,
    TEXTS,
    hostile_club_folder,
    hostile_folder,
    hostile_names,
    page_of,
    pieces_with,
)

from wornby.records.layout import read_toml
from wornby.reports.amounts import money
from wornby.reports.answer import Answer
from wornby.reports.bar_figures import draw_prices
from wornby.reports.club import open_club
from wornby.reports.club_answers import (
    club_share_answer,
    club_survey_answer,
    draw_silence,
    look_for_answer,
    silence,
    silence_answer,
)
from wornby.reports.club_letter import club_findings, club_method, press_words
from wornby.reports.club_version_answers import club_version_answer
from wornby.reports.comparison_answers import grade_answer
from wornby.reports.expected_answers import expected_answer
from wornby.reports.figures import Drawing, in_our_style, panel_alone, svg_text, titled
from wornby.reports.inspection_answers import looking_answers
from wornby.reports.life_answers import life_answer
from wornby.reports.life_figures import draw_lives
from wornby.reports.notebook_run import Piece, Prose, Shown
from wornby.reports.price_answers import price_answer
from wornby.reports.printed_pages import pdf_pages
from wornby.reports.ramp_card import draw_ramp_card, ramp_card_answer
from wornby.reports.records_answers import coverage_answer, ledger_answer, unplaced_answer
from wornby.reports.shown_text import FORMULA_STARTS, LONGEST_CELL, shown
from wornby.reports.spreadsheets import csv_text, file_name, tables_of, workbook
from wornby.reports.version_answers import version_answer
from wornby.reports.workshop import Workshop, open_workshop

KINDS = pytest.mark.parametrize("text", TEXTS.values(), ids=TEXTS.keys())


def tags(page: str) -> set[str]:
    """The kinds of elements in a page."""
    return set(re.findall(r"<([a-z0-9]+)", page.split("</style>")[1]))


PLAIN_TAGS = tags(page_of(pieces_with("hose")))
INERT_TAGS = PLAIN_TAGS | {"code", "span"}
"""A note sets apart what stands between backticks, a table each number with its unit, whoever wrote
them: no markup of theirs, and no hostile text has either."""


@KINDS
def test_on_a_page_it_is_letters(text: str) -> None:
    page = page_of(pieces_with(text))
    assert PLAIN_TAGS <= tags(page) <= INERT_TAGS
    assert html.escape(shown(text)) in page
    assert not re.search("[\x00-\x08\x1b\u202e\u2067]", page)
    assert len(page) < 100_000


@KINDS
def test_in_jupyter_it_is_neither_markup_nor_a_formula(text: str) -> None:
    """MathJax leaves out what has its class to ignore, and an element's text is no Markdown."""
    for piece in pieces_with(text)[1:]:
        assert isinstance(piece, Shown)
        told = piece.value._repr_html_()
        opened = re.match(r"<(\w+) class=['\"]([^'\"]*)['\"]", told)
        assert opened is not None
        assert {"mathjax_ignore", "tex2jax_ignore"} <= set(opened[2].split())
        assert told.endswith(f"</{opened[1]}>")
        assert tags(f"</style>{told}") <= INERT_TAGS
        assert "\x1b" not in repr(piece.value)


@KINDS
def test_on_printed_pages_it_is_letters(text: str) -> None:
    made = pdf_pages(pieces_with(text), about="test", shows_code=True)
    pages = PdfDocument(made)
    said = "".join(page.get_textpage().get_text_range() for page in pages)
    squeezed = re.sub(r"[\s\u200b]+", "", said)
    assert re.sub(r"\s+", "", shown(text, longest=60).rstrip("…")) in squeezed
    assert len(pages) <= 3


@KINDS
def test_in_a_csv_file_it_is_text_and_no_formula(text: str) -> None:
    answer = pieces_with(text)[1].value  # type: ignore[union-attr]  # the answer
    kept = pl.read_csv(csv_text(answer).encode())
    assert kept["price_net"].to_list() == [1.5]
    for cell in (*kept.columns, *kept["component"]):
        assert not cell.lstrip().startswith(FORMULA_STARTS)
        assert not re.search("[\x00-\x1f\u202e]", cell)


@KINDS
def test_in_a_workbook_it_is_text_and_no_formula(text: str, tmp_path: Path) -> None:
    path = tmp_path / "book.xlsx"
    path.write_bytes(workbook(tables_of(pieces_with(text)), currency=text))
    (sheet,) = load_workbook(path).worksheets
    assert sheet["A2"].data_type == sheet["B2"].data_type == "s"
    assert sheet["C2"].data_type == "n"
    assert sheet["A2"].value == shown(text, longest=32_000)
    assert sheet["A2"].hyperlink is None


@KINDS
def test_in_a_picture_it_is_drawn_letter_by_letter(text: str) -> None:
    with in_our_style():
        panel = panel_alone()
        titled(panel, text)
        assert panel.get_title(loc="left") == shown(text, longest=34)
    drawing = Drawing(svg_text(panel.figure), text)  # type: ignore[arg-type]  # a Figure
    assert "<script" not in drawing.svg
    assert len(drawing.svg) < 50_000
    assert len(repr(drawing)) <= 2_000


def test_a_short_text_is_whole_and_a_long_one_ends_in_an_ellipsis() -> None:
    assert shown("water pump") == "water pump"
    cut = shown(TEXTS["100 kB"])
    assert len(cut) == LONGEST_CELL
    assert cut.endswith("…")


@pytest.fixture(scope="module")
def hostile_records(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder every text of which is hostile: names, notes, versions, job texts, currency."""
    return hostile_folder(tmp_path_factory.mktemp("hostile"))


@pytest.fixture(scope="module")
def hostile_workshop(hostile_records: Path) -> Workshop:
    return open_workshop(hostile_records, confidence=0.9, seed=1)


@pytest.fixture(scope="module")
def hostile_pieces(hostile_workshop: Workshop) -> list[Piece]:
    """A report on it, with every field that a workshop can write into."""
    told = hostile_workshop
    prices = price_answer(told)
    card = ramp_card_answer(told, age_years=14.0, horizon_years=3.0)
    values = (
        coverage_answer(told.records),
        unplaced_answer(told.records.unplaced),
        ledger_answer(told.ledgers),
        life_answer(told),
        draw_lives(told.original, confidence=0.9),
        grade_answer(told),
        version_answer(told),
        prices,
        draw_prices(prices, currency=told.catalogue.currency),
        expected_answer(told),
        card,
        draw_ramp_card(card),
        looking_answers(told, share=0.5),
    )
    return [Prose("# Hostile\n\n## All"), *map(Shown, values)]


@pytest.fixture(scope="module")
def hostile_page(hostile_pieces: list[Piece]) -> str:
    return page_of(hostile_pieces)


NAMED = hostile_names(read_toml(DEMO / "workshop.toml"))
FIELDS = {
    "component": NAMED["water pump"],
    "access group": NAMED["timing cover off"],
    "fixed-price job": NAMED["timing belt and water pump"],
    "way of looking": NAMED["on the ramp"],
    "workshop's name": TEXTS["script"],
    "workshop's note": TEXTS["Markdown"],
    "currency": money(1.0, "<i>=$x$").removesuffix("1"),
    "vehicle's version": TEXTS["formula ="],
    "job text": TEXTS["image"],
}


@pytest.mark.parametrize("field", FIELDS)
def test_what_a_workshop_writes_into_a_field_is_shown_and_not_obeyed(
    field: str, hostile_page: str
) -> None:
    text = html.escape(shown(FIELDS[field], longest=30).rstrip("…").strip())
    assert text.casefold() in hostile_page.casefold()
    assert tags(hostile_page) <= INERT_TAGS
    assert len(hostile_page) < 3_000_000


def test_the_whole_hostile_report_prints_and_exports(hostile_pieces: list[Piece]) -> None:
    answers = tables_of(hostile_pieces)
    assert len(answers) > 10
    assert len(PdfDocument(pdf_pages(hostile_pieces, about="test", shows_code=False))) < 60
    assert workbook(answers, currency="<i>=$x$")[:2] == b"PK"
    for answer in answers:
        rows = pl.read_csv(csv_text(answer).encode(), infer_schema=False)
        for cell in (cell for row in rows.rows() for cell in row if cell):
            is_number = re.fullmatch(r"-?[\d.]+(e[-+]?\d+)?", cell)
            assert is_number or not cell.lstrip().startswith(FORMULA_STARTS), cell


@pytest.fixture(scope="module")
def hostile_letter(hostile_records: Path, tmp_path_factory: pytest.TempPathFactory) -> list[Piece]:
    """The club's letter, its components, versions and respondents hostile."""
    folder = hostile_club_folder(tmp_path_factory.mktemp("club"), hostile_records)
    club = open_club(folder, confidence=0.9, seed=1)
    shares = club_share_answer(club, age_years=12.0, distance=100_000.0)
    silent = silence(club, age_years=12.0, distance=100_000.0)
    values = (
        club_findings(club, shares),
        look_for_answer(club, shares),
        shares,
        club_version_answer(club),
        draw_silence(club, silent),
        silence_answer(club, silent),
        club_method(club),
        club_survey_answer(club),
        press_words(club),
    )
    return [Prose("# Hostile\n\n## All"), *map(Shown, values)]


def test_what_a_survey_names_is_shown_in_the_club_s_letter_and_not_obeyed(
    hostile_letter: list[Piece],
) -> None:
    page = page_of(hostile_letter)
    assert tags(page) <= INERT_TAGS
    for text in (*HOSTILE_VERSIONS.values(), NAMED["water pump"]):
        assert html.escape(shown(text, longest=30).rstrip("…")).casefold() in page.casefold()
    assert html.escape(RESPONDENT) not in page


def test_the_hostile_letter_prints_and_exports(hostile_letter: list[Piece]) -> None:
    answers = tables_of(hostile_letter)
    assert len(PdfDocument(pdf_pages(hostile_letter, about="test", shows_code=False))) < 30
    for answer in answers:
        kept = pl.read_csv(csv_text(answer).encode(), infer_schema=False)
        for cell in (*kept.columns, *(c for row in kept.rows() for c in row if c)):
            is_number = re.fullmatch(r"-?[\d.]+(e[-+]?\d+)?", cell)
            assert is_number or not cell.lstrip().startswith(FORMULA_STARTS), cell
        assert "member" not in csv_text(answer)


def test_a_file_name_never_comes_from_a_text_as_it_stands(tmp_path: Path) -> None:
    for text in TEXTS.values():
        answer = Answer(f"../{text}", pl.DataFrame({"a": ["b"]}), pl.DataFrame({"a": ["b"]}))
        assert re.fullmatch(r"07_[a-z0-9_]{0,60}\.csv", file_name(answer, 7))
