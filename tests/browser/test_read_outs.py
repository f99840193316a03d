"""Sliders by their keys, on a piece of a page alone: what the curve's cursor and the racks' day say."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from curehouse.web import apps
from curehouse.web.drawing.curve import curve_figure
from tests.web.test_drawing_curve import AHEAD, goat

pytestmark = pytest.mark.needs("chromium")
SAYS_28 = re.compile(r"^day\s28, expected: 118.0\sg, 8 of 10 between 115.0 and 119.0\sg$")
SAYS_35 = re.compile(r"^day\s35, expected: 116.0\sg, 8 of 10 between 112.0 and 118.5\sg$")
SCRIPTS = Path(apps.__file__).parent / "static" / "curehouse"


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    opened = browser.new_page()
    yield opened
    opened.close()


def test_arrow_keys_go_on_past_the_newest_weighing(page: Page) -> None:
    page.set_content(str(curve_figure(goat(forecast=AHEAD))))
    page.add_script_tag(path=SCRIPTS / "curve.js")
    slider = page.get_by_role("slider", name="Weighings of Plain goat 43 and what is expected")
    expect(slider).to_have_attribute("aria-valuenow", "4")
    expect(slider).to_have_text("day 21: A 119.1 · B 120.8 · C 118.9 g")
    slider.focus()
    page.keyboard.press("ArrowRight")
    expect(slider).to_have_attribute("aria-valuetext", SAYS_28)
    page.keyboard.press("End")
    expect(slider).to_have_attribute("aria-valuetext", SAYS_35)
    page.keyboard.press("ArrowRight")
    expect(slider).to_have_attribute("aria-valuenow", "6")
    page.keyboard.press("Home")
    expect(slider).to_have_attribute("aria-valuenow", "1")


def test_the_day_of_the_racks_is_said_at_once_and_what_is_free_once_it_is_there(page: Page) -> None:
    days = "today|Wed 11 Mar|Thu 12 Mar"
    page.set_content(f'<input type="range" id="ahead" max="2" value="0" data-days="{days}"><p id="racks-day">Two.</p>')
    page.add_script_tag(path=SCRIPTS / "racks.js")
    slider = page.locator("#ahead")
    slider.focus()
    page.keyboard.press("ArrowRight")
    expect(slider).to_have_attribute("aria-valuetext", "Wed 11 Mar")
    page.locator("#racks-day").evaluate("one => { one.textContent = ' Wed 11 Mar, in 1 day.  36 are free. '; }")
    page.evaluate("document.body.dispatchEvent(new Event('htmx:afterSettle'))")
    expect(slider).to_have_attribute("aria-valuetext", "Wed 11 Mar, in 1 day. 36 are free.")
