"""Pages that open anywhere, or not at all."""

import re
from pathlib import Path

import pytest
from drawn import workshop_folder

from wornby.errors import RecordError
from wornby.reports.render import render_report

REPOSITORY = Path(__file__).parents[2]
DEMO = REPOSITORY / "data_demo"


@pytest.fixture(scope="module")
def owner_page(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The owner's page, rendered on the demo."""
    path = render_report("owner", DEMO, tmp_path_factory.mktemp("pages"))
    return path.read_text(encoding="utf-8")


def test_the_page_asks_the_network_for_nothing(owner_page: str) -> None:
    assert not re.findall(r"""(?:src|href)=["'](?!data:|#)""", owner_page)
    assert "<script" not in owner_page
    assert len(owner_page) < 3_000_000


def test_every_picture_has_words_and_every_part_a_place_in_the_contents(owner_page: str) -> None:
    pictures = re.findall(r"<img[^>]*>", owner_page)
    assert len(pictures) == 4
    assert all(len(re.findall(r'alt="([^"]+)"', picture)[0]) > 60 for picture in pictures)
    targets = re.findall(r'href="#([^"]+)"', owner_page)
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


def test_the_rendered_demo_reports_are_what_the_command_makes(owner_page: str) -> None:
    kept = (REPOSITORY / "reports" / "owner.html").read_text(encoding="utf-8")
    assert numbers(kept) == numbers(owner_page)


def numbers(page: str) -> list[str]:
    """The numbers in the page's tables."""
    cells = re.findall(r"<td>(.*?)</td>", page)
    return [number for cell in cells for number in re.findall(r"\d[\d.,]*", cell)]


def test_the_page_does_not_say_where_on_the_machine_the_records_lie(tmp_path: Path) -> None:
    page = render_report("analyst", DEMO, tmp_path).read_text(encoding="utf-8")
    assert str(REPOSITORY) not in page
    assert "data_demo" in page


def test_a_report_that_fails_leaves_the_old_page(tmp_path: Path) -> None:
    folder = workshop_folder(tmp_path, jobs="date | vehicle | text\n2015-03-01 | V1 | oil")
    old = tmp_path / "pages" / "owner.html"
    old.parent.mkdir()
    old.write_text("the old page")
    with pytest.raises(RecordError, match=r"owner.ipynb: RecordError: .*no \[money\]"):
        render_report("owner", folder, old.parent)
    assert old.read_text() == "the old page"


def test_text_from_the_records_is_inert_on_the_page() -> None:
    import polars as pl

    from wornby.reports.answer import Answer

    hostile = "<script>alert(1)</script>"
    frame = pl.DataFrame({hostile: [hostile]})
    assert "<script>" not in Answer(hostile, frame, frame, (hostile,))._repr_html_()
