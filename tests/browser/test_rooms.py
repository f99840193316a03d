"""The air of a room, at a phone and at a desk: written down, seen as a curve with its figures, withdrawn; a rack is carried."""

from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Page, expect

from tests.browser.at_work import assert_accessible, follow, inside, press, sign_in
from tests.browser.conftest import DESK, PHONE
from tests.house import RunningHouse
from tests.world import PASSWORD

pytestmark = pytest.mark.needs("chromium")
DEVICES = {"phone": PHONE, "desk": DESK}
_OPEN = """
from curehouse.curing.services.rooms import add_room
from curehouse.flows.log_air import log_air_many, sensed
with transaction.atomic():
    world = World(now=now)
    rack = world.rack()
    rooms = [add_room(workshop=world.workshop, name=name) for name in ("Drying room", "Cellar")]
    airs = [
        sensed(world.actor, moment=world.days_ago(day), humidity_pct=Decimal(50 + day % 30), temperature_c=Decimal(day % 9 - 3))
        for day in range(1, 70)
    ]
    log_air_many(actor=world.actor, room=rooms[0], entries=airs, at=now)
print(json.dumps({"rooms": [room.pk for room in rooms], "rack": rack.pk}))
"""


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningHouse]:
    with RunningHouse(tmp_path_factory.mktemp("rooms") / "data") as running:
        yield running


@pytest.fixture(scope="module")
def rows(house: RunningHouse) -> dict[str, object]:
    return inside(house, _OPEN)


@pytest.mark.parametrize("device", DEVICES)
def test_a_room_s_air_is_written_down_seen_and_withdrawn(
    house: RunningHouse, rows: dict[str, list[int]], visit: Callable[..., Page], device: str
) -> None:
    page = visit(house.base_url, **DEVICES[device])
    sign_in(page, "ottilie@fennelyard.example", PASSWORD)
    page.goto("/racks/")
    follow(page, "Rooms")
    is_sound(page)
    follow(page, "Write the air down")
    is_sound(page)
    page.get_by_label("Room", exact=True).select_option(label="Drying room")
    page.get_by_label("Humidity, %").fill("161,5")
    page.get_by_label("Temperature (optional)").fill("64.4")
    page.get_by_label("°F").check()
    press(page, "Keep it")
    expect(page.get_by_text("The humidity lies between 0 and 100 %").first).to_be_visible()
    is_sound(page)
    page.get_by_label("Humidity, %").fill("61,5")
    press(page, "Keep it")
    expect(page.get_by_text("Drying room: 61.5\u00a0%, 18.0\u00a0°C is kept.")).to_be_visible()
    drawing = page.get_by_role("img", name="Air of Drying room")
    expect(drawing).to_be_visible()
    assert "Humidity from 50.0 to " in (drawing.locator("desc").text_content() or "")
    # Its figures are reached by the keyboard alone.
    page.locator("summary").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("region", name="Days of Drying room").locator("tbody tr").first).to_be_visible()
    is_sound(page)
    follow(page, "Withdraw 61.5")
    is_sound(page)
    page.get_by_label("Why").fill("held in the hand")
    press(page, "Withdraw it")
    expect(page.locator("del").first).to_have_text("61.5 %, 18.0 °C")
    is_sound(page)
    page.goto(f"/racks/{rows['rack']}/")
    follow(page, "Where it stands")
    is_sound(page)
    page.get_by_label("Room", exact=True).select_option(label="Cellar")
    press(page, "Keep it")
    expect(page.get_by_text("North wall stands in Cellar.")).to_be_visible()


def is_sound(page: Page) -> None:
    """Check that nothing runs off the side and that everybody can use the page."""
    assert page.evaluate("Math.max(document.documentElement.scrollWidth, innerWidth)") <= page.viewport_size["width"]
    assert_accessible(page)
