"""The rendered reports as a browser shows them, on a desk and on a phone."""

from collections.abc import Iterator
from pathlib import Path

import polars as pl
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from wornby.reports.answer import Answer
from wornby.reports.notebook_run import Shown
from wornby.reports.pages import html_page

REPORTS = sorted((Path(__file__).parents[2] / "reports").glob("*.html"))
DESK, PHONE = 1280, 390
"""Pixels."""
HEIGHT = 844
LEAST_ALT = 20
FEWEST_PICTURES = {"owner": 11, "analyst": 11, "club": 11, "records": 1, "vehicle": 0}
SHEET = 700
"""A picture so wide is a sheet of paper."""
AXE = {
    "resultTypes": ["violations"],
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]},
}
"""axe-core's rules for levels A and AA of WCAG 2.1."""


@pytest.fixture(
    scope="module",
    params=[(path, width) for path in REPORTS for width in (DESK, PHONE)],
    ids=lambda asked: f"{asked[0].stem}-{asked[1]}",
)
def page(chromium: Browser, request: pytest.FixtureRequest) -> Iterator[Page]:
    """A report opened at one width; what it asks for and complains of is kept on the page."""
    path, width = request.param
    opened = chromium.new_page(viewport={"width": width, "height": HEIGHT})
    said: list[str] = []
    asked: list[str] = []
    opened.on("console", lambda message: said.append(message.text))
    opened.on("pageerror", lambda error: said.append(str(error)))
    opened.on("request", lambda request: asked.append(request.url))
    opened.goto(path.as_uri())
    opened.wait_for_load_state("networkidle")
    assert not said
    assert [url for url in asked if not url.startswith("data:")] == [path.as_uri()]
    yield opened
    opened.close()


def test_there_are_reports_to_look_at() -> None:
    assert {path.stem for path in REPORTS} >= {"owner", "analyst", "club", "vehicle", "records"}


def test_a_page_asks_nobody_logs_nothing_and_is_no_wider_than_its_window(page: Page) -> None:
    inner = page.evaluate("document.documentElement.clientWidth")
    assert page.evaluate("document.documentElement.scrollWidth") <= inner
    assert page.evaluate("document.body.scrollWidth") <= inner


def test_a_wide_table_scrolls_in_a_box_of_its_own(page: Page) -> None:
    boxes = page.locator(".scroll")
    widths = boxes.evaluate_all("boxes => boxes.map(b => b.getBoundingClientRect().right)")
    assert len(widths) > 3
    assert max(widths) <= page.evaluate("document.documentElement.clientWidth")


def test_each_entry_of_the_contents_leads_to_its_part(page: Page) -> None:
    entries = page.locator("nav a")
    assert entries.count() == page.locator("main h2").count() > 5
    for n in range(entries.count()):
        entry = entries.nth(n)
        entry.click()
        part = page.locator(entry.get_attribute("href") or "")
        assert part.inner_text() == entry.inner_text()
        top = part.evaluate("part => part.getBoundingClientRect().top")
        assert -1 <= top < HEIGHT


def test_every_picture_loads_and_says_in_words_what_it_shows(page: Page) -> None:
    pictures = page.locator("img").evaluate_all(
        "all => all.map(i => [i.alt, i.naturalWidth, i.getBoundingClientRect().right])"
    )
    assert len(pictures) >= FEWEST_PICTURES[Path(page.url).stem]
    window = page.evaluate("document.documentElement.clientWidth")
    for alt, width, right in pictures:
        assert len(alt) > LEAST_ALT
        assert width > 0
        assert right <= window


def test_letters_in_pictures_are_large_enough_to_read(page: Page) -> None:
    """Drawn at 8.5 points and shown in proportion: never below 9 pixels on a phone.

    The card for the ramp is a sheet to print, and all that it says is in the table beside it.
    """
    sizes = page.locator("img").evaluate_all("all => all.map(i => [i.width, i.naturalWidth])")
    shown = [width / drawn for width, drawn in sizes if drawn < SHEET]
    assert len(shown) >= FEWEST_PICTURES[Path(page.url).stem]
    assert all(one * 8.5 * 96 / 72 > 9 for one in shown)


def serious_obstacles(page: Page) -> list[tuple[str, object]]:
    """What axe-core calls serious or critical, with the first places where it is."""
    found = Axe().run(page, options=AXE).response["violations"]
    return [
        (one["id"], [node["target"] for node in one["nodes"][:3]])
        for one in found
        if one["impact"] in ("serious", "critical")
    ]


def test_assistive_technology_meets_no_serious_obstacle(page: Page) -> None:
    assert not serious_obstacles(page)


def test_an_obstacle_would_be_found(chromium: Browser) -> None:
    bad = chromium.new_page()
    bad.set_content('<html lang="en"><title>t</title><p style="color:#bbb">pale</p><img src="">')
    assert {name for name, _ in serious_obstacles(bad)} == {"color-contrast", "image-alt"}
    bad.close()


@pytest.mark.parametrize(("columns", "shown"), [(2, "none"), (12, "block")])
def test_a_table_says_that_there_is_more_only_where_there_is(
    chromium: Browser, columns: int, shown: str
) -> None:
    table = pl.DataFrame({f"column {n}": ["as wide as a word"] for n in range(columns)})
    told = html_page(
        [Shown(Answer("hoses", table, table))], about="hoses", shows_code=False, beside=("a", "b")
    )
    phone = chromium.new_page(viewport={"width": PHONE, "height": HEIGHT})
    phone.set_content(told)
    hint = phone.locator(".scroll").evaluate("box => getComputedStyle(box, '::before').display")
    assert hint == shown
    assert not serious_obstacles(phone)
    phone.close()
