"""Takes the README's picture of the practice page while it plays.

    python .pictures/page.py forms/bakery-at-four.yaml .pictures/page.png

Needs the extra `dev` and the program chromium. The README's other picture is made by
`backing chart forms/orchard-wall.yaml --out .pictures/chart.png`, at two thirds of its size.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from backing.form import read_form
from backing.page import make_page

WIDTH, HEIGHT = 1100, 760
BAR = 2  # the bar that plays in the picture


def take(form: str, picture: str) -> None:
    """Open a song's page, play it up to BAR, and save what the window shows as a PNG."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        page_file = Path(folder) / "page.html"
        page_file.write_text(make_page(read_form(form)).html, "utf-8")
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-gpu"]
        )
        page = browser.new_page(viewport={"width": WIDTH, "height": HEIGHT})
        page.goto(page_file.as_uri())
        page.click("#play:enabled")
        page.locator("#where", has_text=f"bar {BAR}").wait_for(timeout=60_000)
        page.screenshot(path=picture)
        browser.close()


if __name__ == "__main__":
    take(*sys.argv[1:])
