"""Chromium, run without a window, and pages made for it."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable, Iterator
from importlib.resources import files as package_files
from pathlib import Path
from typing import Any

import pytest
from page.browser.opened import Opened
from page.songs import RICH, SHORT, SIGNS, WICKED_TITLE
from playwright.sync_api import Browser, BrowserContext, Page, Route, sync_playwright

from backing.audio.soundfonts import bundled
from backing.form import Form, read_form_text
from backing.page import make_page

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
HERE = Path(__file__).parent
#: What the page must be able to do in, in milliseconds; a browser without a graphics card is slow.
PATIENCE_MS = 30_000


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=FLAGS, timeout=PATIENCE_MS
        )
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def forms() -> dict[str, Form]:
    texts = {"short": SHORT, "rich": RICH, "signs": SIGNS, "wicked": WICKED_TITLE}
    return {name: read_form_text(text) for name, text in texts.items()}


@pytest.fixture(scope="session")
def files(tmp_path_factory: pytest.TempPathFactory, forms: dict[str, Form]) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pages")
    found = {}
    for name, form in forms.items():
        found[name] = folder / f"{name}.html"
        found[name].write_text(make_page(form, str(bundled().path)).html, "utf-8")
    return found


@pytest.fixture(scope="session")
def songs(files: dict[str, Path]) -> dict[str, dict[str, Any]]:
    """The songs as the pages' scripts read them."""
    found = {}
    for name in ("short", "rich"):
        text = re.search(r'id="song">(.*?)</script>', files[name].read_text("utf-8"))
        assert text is not None
        found[name] = json.loads(text[1])
    return found


@pytest.fixture
def opens(browser: Browser, files: dict[str, Path]) -> Iterator[Callable[..., Opened]]:
    """Opens one of the pages as a student's browser would; nothing may go wrong on it."""
    contexts: list[BrowserContext] = []
    all_opened: list[Opened] = []

    def open_(name: str = "short", context: BrowserContext | None = None, **how: Any) -> Opened:
        if context is None:
            context = browser.new_context(**how)
            contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(PATIENCE_MS)
        opened = Opened(page, [], [])
        all_opened.append(opened)
        page.on(
            "console", lambda printed: opened.complaints.append(f"{printed.type}: {printed.text}")
        )
        page.on("pageerror", lambda error: opened.complaints.append(str(error)))
        page.on("request", lambda request: opened.requests.append(request.url))
        page.goto(files[name].as_uri())
        page.evaluate("() => window.practicePage.ready")
        return opened

    yield open_
    for opened in all_opened:
        assert opened.complaints == []
        assert [
            url for url in opened.requests if not url.startswith(("file:", "data:", "blob:"))
        ] == []
    for context in contexts:
        context.close()


@pytest.fixture
def short(opens: Callable[..., Opened]) -> Opened:
    return opens("short")


@pytest.fixture
def rich(opens: Callable[..., Opened]) -> Opened:
    return opens("rich")


@pytest.fixture(scope="module")
def modules(browser: Browser) -> Iterator[Page]:
    """A blank page that can load the practice page's sources as modules."""

    def serve(route: Route) -> None:
        name = route.request.url.rsplit("/", 1)[-1]
        if not name:
            route.fulfill(content_type="text/html", body="<!DOCTYPE html>")
            return
        source = HERE / name if name == "drive.js" else package_files("backing.page") / name
        route.fulfill(content_type="text/javascript", body=source.read_text("utf-8"))

    context = browser.new_context()
    context.route("http://page.test/**", serve)
    page = context.new_page()
    page.goto("http://page.test/")
    yield page
    context.close()
