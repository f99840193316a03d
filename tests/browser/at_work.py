"""What a person does in the house with a phone in hand."""

import json
import re
from textwrap import dedent
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.house import RunningHouse

WCAG = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}}

_COMMON = """
import json
from datetime import timedelta
from decimal import Decimal
from django.db import transaction
from django.utils import timezone
from curehouse.making.models import Batch
from tests.world import World
now = timezone.now()
"""


def inside(house: RunningHouse, code: str) -> Any:
    """Run *code* in a process of the house's own; return what its last line prints, as JSON."""
    done = house.manage("shell", "--no-imports", "-c", dedent(_COMMON) + dedent(code))
    assert done.returncode == 0, done.stdout
    # What the house logs comes out with what a command prints.
    lines = [line for line in done.stdout.strip().splitlines() if not re.match(r"\[\d{4}-\d\d-\d\d ", line)]
    return json.loads(lines[-1]) if lines else None


def sign_in(page: Page, email: str, password: str) -> None:
    """Sign in by the page."""
    page.goto("/sign-in/")
    page.get_by_label("E-mail").fill(email)
    page.get_by_label("Password").fill(password)
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert "/sign-in/" not in page.url, page.inner_text("main")


def tap(page: Page, figures: str) -> None:
    """Type a weight on the page's own keypad."""
    for key in figures:
        page.locator(f"[data-key='{key}']").tap()


def write(page: Page) -> None:
    """Press the one main button of the round, and wait for what comes next."""
    with page.expect_navigation():
        page.locator("[data-write]").tap()


def press(page: Page, name: str) -> None:
    """Press a button that says *name*, and wait for what comes next."""
    with page.expect_navigation():
        page.get_by_role("button", name=name).first.click()


def follow(page: Page, name: str) -> None:
    """Follow a link that says *name*."""
    with page.expect_navigation():
        page.get_by_role("link", name=name).first.click()


def assert_accessible(page: Page) -> None:
    """Everybody can read and hit what the page shows."""
    size = page.viewport_size
    # So long that nothing lies half behind what stays at the lower edge: what does is only scrolled to.
    long = page.evaluate("document.documentElement.scrollHeight") + 400
    page.set_viewport_size({**size, "height": max(size["height"], 5000, long)})
    found = Axe().run(page, options=WCAG)
    page.set_viewport_size(size)
    assert found.violations_count == 0, f"{page.url}: {found.generate_report()}"
