"""What is foretold, at a phone and at a desk: label weights, batches laid over each other, days to come, past forecasts."""

import re
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Page, expect

from tests.browser.at_work import assert_accessible, follow, inside, press, sign_in
from tests.browser.conftest import DESK, PHONE
from tests.house import RunningHouse
from tests.world import PASSWORD

pytestmark = pytest.mark.needs("chromium")
DEVICES = {"phone": PHONE, "desk": DESK}
# A dozen batches and two more, weighed each week up to today; and a dozen that ended.
_OPEN = """
from time import sleep
from curehouse.curing.past_forecasts import past_forecasts
from curehouse.flows.foretell import foretell_wanting, learn_and_foretell
from curehouse.flows.take_out import take_out
from curehouse.making.services import TakeOutEntry
with transaction.atomic():
    world = World(now=now)
    rack = world.rack(levels=4, places=2, capacity=60)
    places = [world.position(rack, 1 + n // 2, 1 + n % 2) for n in range(8)]
    batches = []
    for n in range(14):
        batch = world.batch(cut_days_ago=64 - 4 * n, position=places[n % 8], formula_name="Goat & oat")
        last = min(64 - 4 * n, 42)
        series = {day: f"{130 * (0.9 + 0.1 * 0.75 ** (day / 7)) + n % 3 * 0.3:.1f}" for day in range(0, last, 7)}
        world.weigh_series(batch, series)
        batches.append(batch)
# A dozen that ended, foretold after two weighings.
series = {day: f"{130 * (0.9 + 0.1 * 0.75 ** (day / 7)):.1f}" for day in range(0, 57, 7)}
with transaction.atomic():
    ended = [world.batch(cut_days_ago=120 - 3 * n, formula_name="Old olive", sample_bars=1) for n in range(12)]
    for batch in ended:
        world.weigh_series(batch, {day: series[day] for day in (0, 7)}, letters="A")
foretell_wanting(workshop_id=world.workshop.pk, at=now)
with transaction.atomic():
    for batch in ended:
        world.weigh_series(batch, {day: grams for day, grams in series.items() if day > 7}, letters="A")
# What is weighed last is on record before the bars leave.
foretell_wanting(workshop_id=world.workshop.pk, at=now)
with transaction.atomic():
    for batch in ended:
        entry = TakeOutEntry(bars=batch.bars_left, purpose="sale", taken_at=now, forced_reason="a market")
        take_out(actor=world.actor, batch=batch, entry=entry, at=now)
# The house's own worker may be at it.
for _ in range(20):
    learn_and_foretell(workshop_id=world.workshop.pk, at=timezone.now())
    if past_forecasts(world.workshop).replayed:
        break
    sleep(1)
print(json.dumps({"formula": batches[0].formula_id, "batches": [batch.pk for batch in batches]}))
"""


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningHouse]:
    with RunningHouse(tmp_path_factory.mktemp("foretold") / "data") as running:
        yield running


@pytest.fixture(scope="module")
def rows(house: RunningHouse) -> dict[str, object]:
    return inside(house, _OPEN)


@pytest.fixture(params=DEVICES)
def page(request: pytest.FixtureRequest, house: RunningHouse, rows: dict[str, object], visit: Callable[..., Page]) -> Page:
    opened = visit(house.base_url, **DEVICES[request.param])
    sign_in(opened, "ottilie@fennelyard.example", PASSWORD)
    return opened


def is_sound(page: Page) -> None:
    """Check that nothing runs off the side and that everybody can use the page."""
    assert page.evaluate("Math.max(document.documentElement.scrollWidth, innerWidth)") <= page.viewport_size["width"]
    assert_accessible(page)


def test_a_label_is_worked_out_looked_at_and_kept(page: Page, rows: dict[str, list[int]]) -> None:
    batch = rows["batches"][8]
    page.goto(f"/batches/{batch}/")
    follow(page, "label weight")
    figure = page.locator(".figure-big")
    year = int(figure.inner_text().removesuffix(" g"))
    is_sound(page)
    assert page.locator("input:visible").evaluate_all("fields => fields.map((one) => one.type)") == ["date"]
    page.get_by_label("It holds").select_option("0")
    page.get_by_label("A label you would like").select_option(label="140 g")
    with page.expect_navigation():
        page.get_by_role("button", name="Work it out").click()
    sale = int(figure.inner_text().removesuffix(" g"))
    assert sale >= year
    expect(page.locator(".label-found")).to_contain_text("holds on the day it is packed")
    expect(page.get_by_text(re.compile(r"For a label of 140 g cut bars like these to \d+\.\d g on average"))).to_be_visible()
    is_sound(page)
    press(page, f"Keep {sale} g as its label")
    expect(page.get_by_role("region", name="Label weight")).to_contain_text(f"{sale} g")
    is_sound(page)
    page.emulate_media(media="print")
    expect(page.get_by_role("region", name="Label weight")).to_be_visible()
    page.emulate_media(media="screen")


def test_batches_laid_over_each_other_are_told_apart_seen_and_heard(page: Page, rows: dict[str, int]) -> None:
    page.goto(f"/formulas/{rows['formula']}/")
    follow(page, "Laid over each other")
    drawing = page.get_by_role("img", name="Batches of Goat & oat laid over each other")
    expect(drawing).to_be_visible()
    # A reader hears the description: what is expected, and each of the batches that are drawn.
    said = drawing.locator("desc").text_content()
    assert said.count("Goat & oat") == 12
    assert "8 of 10 batches between" in said
    names = page.locator(".overlay-drawing .curve-letter")
    expect(names).to_have_count(12)
    boxes = [box for box in (names.nth(number).bounding_box() for number in range(12)) if box]
    tops = sorted(box["y"] for box in boxes)
    assert min(after - before for before, after in zip(tops, tops[1:], strict=False)) > 8
    assert all(box["x"] + box["width"] <= page.viewport_size["width"] for box in boxes)
    expect(page.locator("table tbody tr")).to_have_count(15)
    is_sound(page)


def test_the_racks_go_with_the_slider_to_a_day_to_come(page: Page, rows: dict[str, int]) -> None:
    page.goto("/racks/")
    slider, day = page.get_by_label("Days from today"), page.locator("#racks-day")
    expect(day).to_contain_text("14 batches")
    slider.focus()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    expect(day).to_contain_text("in 3 days.")
    # It is still held while the racks are drawn anew.
    expect(slider).to_be_focused()
    page.keyboard.press("End")
    expect(day).to_contain_text("in 84 days.")
    expect(page.locator("#racks-drawn")).to_contain_text("dry enough by")
    expect(slider).to_have_attribute("aria-valuetext", re.compile(r"^\w{3} \d+ \w{3}.*, in 84 days\. Places for "))
    assert page.url.endswith("/racks/?ahead=84")
    page.locator("#racks-drawn summary").first.click()
    expect(page.locator(".rack-list").first).to_contain_text("dry enough by")
    is_sound(page)


def test_the_cursor_goes_past_the_newest_weighing_into_the_days_foretold(page: Page, rows: dict[str, list[int]]) -> None:
    page.goto(f"/batches/{rows['batches'][8]}/")
    read_out = page.get_by_role("slider", name=re.compile("and what is expected$"))
    expect(read_out).to_have_attribute("aria-valuetext", re.compile(r"A\s[\d.]+"))
    read_out.focus()
    page.keyboard.press("ArrowRight")
    said = re.compile(r"^day\s\d+, expected: [\d.]+\sg, 8 of 10 between [\d.]+ and [\d.]+\sg$")
    expect(read_out).to_have_attribute("aria-valuetext", said)
    page.keyboard.press("End")
    expect(read_out).to_have_attribute("aria-valuetext", said)
    page.get_by_text("What is expected, in figures").click()
    expect(page.locator("#foretold")).to_contain_text("80")
    is_sound(page)


def test_without_a_script_the_slider_is_a_form(house: RunningHouse, rows: dict[str, int], visit: Callable[..., Page]) -> None:
    page = visit(house.base_url, **PHONE, java_script_enabled=False)
    sign_in(page, "ottilie@fennelyard.example", PASSWORD)
    page.goto("/racks/")
    page.get_by_label("Days from today").focus()
    page.keyboard.press("PageUp")
    press(page, "Show that day")
    expect(page.locator("#racks-day")).to_contain_text(re.compile(r"in \d+ days?\."))
    assert re.search(r"/racks/\?ahead=\d+$", page.url)


def test_past_forecasts_are_said_in_words_shown_in_tables_and_taken_along(page: Page, rows: dict[str, list[int]]) -> None:
    page.goto(f"/batches/{rows['batches'][8]}/")
    follow(page, "How such forecasts did")
    told = page.get_by_role("region", name="Told here", exact=True)
    expect(told).to_contain_text(re.compile(r"After two weighings: of 1\d batches, \d+ became ready within the days"))
    again = page.get_by_role("region", name="Told again of cures that ended", exact=True)
    expect(again.get_by_role("region", name="Batch by batch, told again")).to_contain_text("held")
    is_sound(page)
    for table in page.get_by_role("region", name=re.compile("^Batch by batch")).all():
        assert table.evaluate("one => one.scrollWidth <= one.clientWidth")
    with page.expect_download() as sent:
        page.get_by_role("link", name="CSV").click()
    assert sent.value.path().read_text("utf-8-sig").startswith("Source,Batch,Cut,")
    again.get_by_role("link").first.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Old olive")
