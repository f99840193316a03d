"""A real browser, driven directly: the house it looks at is a running one (:mod:`tests.house`).

The pytest plugin of the driver is not used: its event loop would be there in every test of the
suite. These tests have a process of their own (``python -m tests`` runs them).
"""

from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from tests.present import chromium

ARGUMENTS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
DESK = {"viewport": {"width": 1280, "height": 800}}
PATIENCE_MS = 15_000


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Return Chromium."""
    with sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=chromium(), args=ARGUMENTS)
        yield running
        running.close()


@pytest.fixture
def visit(browser: Browser) -> Iterator[Callable[..., Page]]:
    """Return a way to open the house on a phone or at a desk; a complaint of a page's script fails the test."""
    opened: list[BrowserContext] = []
    complaints: list[str] = []

    def open_page(base_url: str, **device: object) -> Page:
        context = browser.new_context(base_url=base_url, **(device or PHONE))
        context.set_default_timeout(PATIENCE_MS)
        opened.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
        return page

    yield open_page
    for context in opened:
        context.close()
    assert complaints == []
