"""The second step of signing in, as a person meets it: switched on, used, the phone lost, at phone and desk."""

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pyotp
import pytest
from playwright.sync_api import Page, expect

from tests.browser.at_work import assert_accessible, follow, inside, press
from tests.browser.conftest import DESK, PHONE
from tests.house import RunningHouse
from tests.world import PASSWORD

pytestmark = pytest.mark.needs("chromium")
OWNER = "ottilie@fennelyard.example"


@pytest.fixture
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningHouse]:
    with RunningHouse(tmp_path_factory.mktemp("second") / "data") as running:
        inside(running, "with transaction.atomic():\n    World(now=now)\nprint(1)")
        yield running


def looked_at(page: Page) -> None:
    """Everybody can read and hit what is shown, and nothing runs off its side."""
    assert_accessible(page)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), page.url
    small = "[...document.querySelectorAll('.button')].filter((one) => one.getBoundingClientRect().height < 44).length"
    assert page.evaluate(small) == 0


def password(page: Page) -> None:
    """Type address and password; what comes next asks for a code."""
    page.goto("/sign-in/")
    page.get_by_label("E-mail").fill(OWNER)
    page.get_by_label("Password").fill(PASSWORD)
    press(page, "Sign in")


def switched_on(page: Page) -> tuple[pyotp.TOTP, list[str]]:
    """Switch it on under You; return the app that has the key, and the recovery codes of the file that is kept."""
    follow(page, "Switch it on")
    looked_at(page)
    expect(page.get_by_role("img", name="QR code with the key")).to_be_visible()
    app = pyotp.TOTP(page.locator(".secret").inner_text().replace(" ", ""))
    page.get_by_label("Code", exact=True).fill(app.now())
    page.get_by_label("Present password").fill(PASSWORD)
    press(page, "Switch it on")
    looked_at(page)
    shown = page.locator(".secret").inner_text().split()
    with page.expect_download() as kept:
        page.get_by_role("link", name="Save as a file").click()
    assert kept.value.suggested_filename == "curehouse-recovery-codes.txt"
    codes = [line for line in Path(kept.value.path()).read_text("utf-8").split() if line.count("-") == 3]
    assert (codes, len(codes)) == (shown, 10)
    return app, codes


@pytest.mark.parametrize("device", [PHONE, DESK], ids=["phone", "desk"])
def test_on_in_by_the_app_in_by_a_recovery_code_and_off(
    house: RunningHouse, visit: Callable[..., Page], device: dict[str, object]
) -> None:
    page = visit(house.base_url, **device)
    password(page)
    page.goto("/you/")
    app, codes = switched_on(page)
    follow(page, "I have them")
    expect(page.get_by_text("each sign-in asks for a code of your app, too")).to_be_visible()

    page.context.clear_cookies()
    password(page)
    expect(page.get_by_role("heading", name="The second step")).to_be_visible()
    looked_at(page)
    page.goto("/you/")
    assert "/sign-in/" in page.url, "the password alone opens nothing"
    password(page)
    page.get_by_label("Code").fill("000")
    press(page, "Sign in")
    expect(page.get_by_text("This code does not open")).to_be_visible()
    looked_at(page)
    # The one of this half minute may have been used up by switching it on.
    page.get_by_label("Code").fill(app.at(time.time() + 30))
    press(page, "Sign in")
    assert page.url == f"{house.base_url}/"

    page.context.clear_cookies()
    password(page)
    follow(page, "The app is not at hand")
    looked_at(page)
    page.get_by_label("Recovery code").fill(codes[0].upper())
    press(page, "Sign in")
    page.goto("/you/second-step/")
    expect(page.get_by_text("9 of ten are unused")).to_be_visible()
    looked_at(page)
    follow(page, "New recovery codes")
    looked_at(page)
    page.get_by_label("Present password").fill(PASSWORD)
    press(page, "Make new codes")
    assert not set(page.locator(".secret").inner_text().split()) & set(codes)
    page.goto("/you/second-step/off/")
    looked_at(page)
    page.get_by_label("Present password").fill(PASSWORD)
    press(page, "Switch it off")
    expect(page.get_by_text("The second step is off: your password alone lets you in.")).to_be_visible()
