"""Hostile text in a browser: nothing in it runs, loads or becomes an element."""

from pathlib import Path

from playwright.sync_api import Browser
from reports.hostile import TEXTS, page_of, pieces_with


def test_no_script_link_or_picture_in_a_text_comes_to_life(
    chromium: Browser, tmp_path: Path
) -> None:
    opened = chromium.new_page()
    asked: list[str] = []
    opened.on("request", lambda request: asked.append(request.url))
    for n, text in enumerate(TEXTS.values()):
        path = tmp_path / f"{n}.html"
        path.write_text(page_of(pieces_with(text)), encoding="utf-8")
        opened.goto(path.as_uri())
        assert opened.evaluate("window.harmed") is None
        assert opened.locator("script, iframe, main a, main b, main strong").count() == 0
        assert opened.locator("img").count() == 1
        wide = opened.evaluate("document.documentElement.scrollWidth")
        assert wide <= opened.evaluate("document.documentElement.clientWidth")
    assert all(url.startswith(("file:", "data:")) for url in asked)
    opened.close()
