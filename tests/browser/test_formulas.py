"""A formula is written at the table with a phone in hand: refused, mended, read, sized to a mould, poured."""

from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Page, expect

from tests.browser.at_work import inside, press, sign_in
from tests.house import RunningHouse
from tests.world import PASSWORD

pytestmark = pytest.mark.needs("chromium")


@pytest.fixture
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningHouse]:
    with RunningHouse(tmp_path_factory.mktemp("formulas") / "data") as running:
        yield running


def follow(page: Page, name: str) -> None:
    """Follow the link that says *name* and is to be seen at this width."""
    with page.expect_navigation():
        page.get_by_role("link", name=name).locator("visible=true").first.tap()


def fill(page: Page, values: dict[str, str]) -> None:
    for name, value in values.items():
        field = page.locator(f"[name='{name}']")
        if field.evaluate("one => one.tagName") == "SELECT":
            field.select_option(value)
        else:
            field.fill(value)


def test_a_formula_is_written_sized_and_poured(house: RunningHouse, visit: Callable[..., Page]) -> None:
    inside(house, "world = World(now=now)")
    page = visit(house.base_url)
    sign_in(page, "ottilie@fennelyard.example", PASSWORD)
    page.goto("/bench/")
    follow(page, "Formulas")
    expect(page.get_by_text("No formula yet")).to_be_visible()
    follow(page, "Write a formula down")
    fill(page, {"name": "Goat's milk", "fats-0-what": "k:olive", "fats-0-amount": "700", "fats-1-what": "k:coconut"})
    fill(page, {"fats-1-amount": "300", "superfat_pct": "3", "liquid": "32", "liquids-0-amount": "30"})
    fill(page, {"liquids-1-what": "k:goat_milk"})
    # What belongs to another lye is not asked for.
    expect(page.locator("[name=koh_purity_pct]")).to_be_hidden()
    press(page, "Keep the formula")
    expect(page.get_by_text("The lye cannot all dissolve")).to_be_visible()
    fill(page, {"liquids-0-amount": "50"})
    press(page, "Keep the formula")
    expect(page.get_by_text("May be caustic")).to_be_visible()
    press(page, "I have read it: keep the formula")
    expect(page.get_by_role("heading", name="Goat's milk")).to_be_visible()
    expect(page.get_by_text("Lye burns and blinds")).to_be_visible()
    # (700 x 190 + 300 x 256.5) / 56106 x 39.997 x 0.97 = 145.18 g; no scale finer than 0.1 g is here.
    expect(page.get_by_text("145.1 g")).to_be_visible()
    expect(page.get_by_role("img", name="The liquid, in front and at trace")).to_be_visible()
    follow(page, "Scale it")
    page.get_by_label("for a mould with corners").check()
    expect(page.locator("[name=fats_g]")).to_be_hidden()
    fill(page, {"length_cm": "25", "width_cm": "8", "height_cm": "6"})
    press(page, "Work it out")
    expect(page.get_by_text("579.6 g")).to_be_visible()
    follow(page, "Enter a batch of this size")
    expect(page.locator("[name=lye_g]")).to_have_value("120.2")
    page.get_by_label("Not cut yet").check()
    press(page, "Keep the batch")
    expect(page.get_by_text("version 1")).to_be_visible()
