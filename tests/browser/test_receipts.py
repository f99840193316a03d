"""A delivery is unpacked, at a phone and at a desk: short, one can damaged, two lots, another price; booked once, all of it."""

from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.at_work import assert_accessible, follow, inside, press, sign_in
from tests.browser.conftest import DESK, PHONE
from tests.house import RunningHouse
from tests.world import PASSWORD

pytestmark = pytest.mark.needs("chromium")
DEVICES = {"phone": PHONE, "desk": DESK}
# An order of each of two suppliers, one for each width.
_OPEN = """
from curehouse.flows.orders import send_order
from inventory.services.orders import write_order
from inventory.services.things import SupplierEntry, write_supplier
with transaction.atomic():
    world = World(now=now)
    sold = [
        (world.material("Olive oil"), "5000", "31.00", 4),
        (world.material("Coconut oil"), "10000", "48.00", 2),
        (world.material("Lye", kind="lye"), "5000", "21.50", 3),
        (world.material("Goat milk powder", kind="liquid"), "1000", "18.00", 3),
    ]
    orders = {}
    for device, name in (("phone", "Brook Mill"), ("desk", "Harbour & Daughters")):
        supplier = write_supplier(workshop=world.workshop, entry=SupplierEntry(name))
        packs = {
            world.offer(material=material, supplier=supplier, pack=Decimal(pack), price=Decimal(price)).pk: many
            for material, pack, price, many in sold
        }
        order = write_order(actor=world.actor, supplier=supplier, packs=packs, at=now)
        send_order(actor=world.actor, order=order, sent_on=now.date() - timedelta(days=5), at=now)
        orders[device] = order.pk
print(json.dumps(orders))
"""
_BOOKED = """
from curehouse.workshops.models import Workshop
from inventory.balance import differences
from inventory.models import Lot
lots = Lot.objects.within(Workshop.objects.get()).filter(ordered__line__order={order}).order_by("number")
rows = [[lot.material.name, lot.supplier_lot, lot.standing, float(lot.on_hand), str(lot.unit_cost)]
        for lot in lots.select_related("material")]
print(json.dumps([rows, len(list(differences()))]))
"""


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningHouse]:
    with RunningHouse(tmp_path_factory.mktemp("receipts") / "data") as running:
        yield running


@pytest.fixture(scope="module")
def orders(house: RunningHouse) -> dict[str, int]:
    return inside(house, _OPEN)


def line(page: Page, material: str) -> Locator:
    """Return the part of the page about one line."""
    return page.get_by_role("group", name=material)


def touch(page: Page, target: Locator) -> None:
    """Tap where there is a finger, click where there is none."""
    if page.evaluate("navigator.maxTouchPoints") > 0:
        target.tap()
    else:
        target.click()


def open_rest(page: Page, material: str) -> Locator:
    """Open what is behind a line, and return the line."""
    found = line(page, material)
    touch(page, found.locator("summary"))
    return found


def type_what_came(page: Page) -> None:
    """Type what a person sees at the packing table, two slips among it."""
    oil = open_rest(page, "Olive oil")
    oil.get_by_label("Supplier’s lot number").first.fill("BM-2401")
    oil.get_by_label("Damaged packs").fill("1")
    oil.get_by_label("What is wrong with them").fill("lid cracked")
    coconut = open_rest(page, "Coconut oil")
    touch(page, coconut.get_by_role("button", name="One pack less: Packs that came"))
    coconut.get_by_label("What did not come").select_option("will not come")
    coconut.get_by_label("Why it will not come").fill("sold out")
    lye = open_rest(page, "Lye")
    lye.get_by_label("A pack cost, EUR").fill("23,90")
    touch(page, lye.get_by_label("It costs that from now on"))
    milk = open_rest(page, "Goat milk powder")
    for _ in range(2):
        touch(page, milk.get_by_role("button", name="One pack less: Packs that came"))
    milk.get_by_label("Supplier’s lot number").first.fill("GM-7")
    milk.get_by_label("Supplier’s lot number").nth(1).fill("GM-8")


def is_sound(page: Page) -> None:
    """Check that nothing runs off the side and that everybody can use the page."""
    assert page.evaluate("Math.max(document.documentElement.scrollWidth, innerWidth)") <= page.viewport_size["width"]
    assert_accessible(page)


@pytest.mark.parametrize("device", DEVICES)
def test_a_delivery_that_differs_in_everything_is_booked_as_it_came(
    house: RunningHouse, orders: dict[str, int], visit: Callable[..., Page], device: str
) -> None:
    page = visit(house.base_url, **DEVICES[device])
    sign_in(page, "ottilie@fennelyard.example", PASSWORD)
    page.goto(f"/orders/{orders[device]}/")
    follow(page, "It came in")
    expect(line(page, "Olive oil")).to_contain_text("4 × 5 kg ordered")
    is_sound(page)
    type_what_came(page)
    press(page, "Book it in")
    asked_and_nothing_lost(page)
    is_sound(page)
    line(page, "Goat milk powder").get_by_label("Packs of this lot").first.fill("1")
    touch(page, line(page, "Olive oil").get_by_role("button", name="One pack less: Packs that came"))
    touch(page, page.get_by_label("released: looked at, papers in order, may be used"))
    # A double tap books it once.
    with page.expect_navigation():
        page.evaluate("const form = document.querySelector('.receipt-form'); form.requestSubmit(); form.requestSubmit();")
    expect(page.get_by_text("6 lots came in:")).to_be_visible()
    is_sound(page)
    seen_on_the_pages(page, orders[device])
    rows, differences = inside(house, _BOOKED.format(order=orders[device]))
    assert sorted(rows) == [
        ["Coconut oil", "", "released", 10000, "0.004800"],
        ["Goat milk powder", "GM-7", "released", 1000, "0.018000"],
        ["Goat milk powder", "GM-8", "released", 1000, "0.018000"],
        ["Lye", "", "released", 15000, "0.004780"],
        ["Olive oil", "BM-2401", "quarantine", 5000, "0.006200"],
        ["Olive oil", "BM-2401", "released", 15000, "0.006200"],
    ]
    assert differences == 0
    the_rest_comes(page, orders[device])


def asked_and_nothing_lost(page: Page) -> None:
    """Three things are asked about in one go, and all that was typed still stands there."""
    for said in (
        "Released or in quarantine is missing: choose one",
        "That makes 5 packs of Olive oil, and 4 were to come. If some of them came damaged, only the others came whole.",
        "Say how many packs of Goat milk powder are of this lot, or clear what is typed of it.",
    ):
        expect(page.get_by_role("alert")).to_contain_text(said)
    typed: list[tuple[str, str, str]] = [
        ("Olive oil", "Damaged packs", "1"), ("Olive oil", "What is wrong with them", "lid cracked"),
        ("Coconut oil", "Why it will not come", "sold out"), ("Lye", "A pack cost, EUR", "23,90"),
    ]  # fmt: skip
    for material, label, value in typed:
        field = line(page, material).get_by_label(label)
        expect(field).to_be_visible()
        expect(field).to_have_value(value)
    expect(line(page, "Lye").get_by_label("It costs that from now on")).to_be_checked()
    expect(line(page, "Coconut oil").get_by_label("Packs that came", exact=True)).to_have_value("1")


def seen_on_the_pages(page: Page, order: int) -> None:
    """The order, its lots, the price over time and the storeroom say what came of it."""
    says(
        page,
        "Still to come: Goat milk powder (1 pack).", "partly in", "1 pack came, 1 pack will not come", "4 packs came",
        "Coconut oil: 1 pack will not come (sold out)", "Olive oil: 1 pack came damaged (lid cracked)",
        "Lye cost 23.90 EUR a pack, ordered for 21.50 EUR",
    )  # fmt: skip
    for lot, said in (("first", ("15 kg", "BM-2401", "6.20 EUR a kg", "+15 kg")), ("last", ("in quarantine", "lid cracked"))):
        page.goto(f"/orders/{order}/")
        with page.expect_navigation():
            getattr(page.get_by_role("link", name="Olive oil, lot"), lot).click()
        says(page, *said)
        expect(page.locator(f"main .lead a[href='/orders/{order}/']")).to_be_visible()
    page.goto(f"/orders/{order}/")
    with page.expect_navigation():
        page.locator("main .lead a").first.click()
    follow(page, "Lye, 5 kg")
    says(page, "5 kg: 23.90 EUR a pack since ", "5 kg: 21.50 EUR a pack until ")
    is_sound(page)


def says(page: Page, *words: str) -> None:
    """Check that the page says all of it."""
    text = page.inner_text("main")
    assert [one for one in words if one not in text] == []


def the_rest_comes(page: Page, order: int) -> None:
    """What was still to come is there as it was ordered: two taps."""
    page.goto(f"/orders/{order}/")
    follow(page, "It came in")
    expect(line(page, "Goat milk powder").get_by_label("Packs that came", exact=True)).to_have_value("1")
    expect(line(page, "Olive oil").get_by_label("Packs that came", exact=True)).to_have_value("0")
    touch(page, page.get_by_label("in quarantine: waits for its papers or a test"))
    press(page, "Book it in")
    expect(page.get_by_text("1 lot came in: Goat milk powder")).to_be_visible()
    expect(page.locator(".page-head .aside")).to_have_text("◉in")
