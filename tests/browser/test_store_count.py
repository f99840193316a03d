"""The store is counted by two phones: weighed, judged by eye, broken off and gone on with; neither overwrites the other."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.at_work import assert_accessible, inside, press, sign_in
from tests.house import RunningHouse
from tests.world import PASSWORD

pytestmark = pytest.mark.needs("chromium")
_OPEN = """
from curehouse.flows.join import Newcomer, join_new
from curehouse.workshops.services.invitations import invite
with transaction.atomic():
    world = World(now=now)
    invitation = invite(actor=world.actor, role="helper", email="", at=now)[0]
    newcomer = Newcomer("Wren Aldous", "wren@fennelyard.example", "lantern-orchard-spoon-7")
    join_new(invitation=invitation, newcomer=newcomer, at=now)
    day = lambda days: now.date() + timedelta(days=days)
    oil, lye = world.material("Olive oil"), world.material("Sodium hydroxide", kind="lye")
    names = {
        "old": world.lot("5000", material=oil, best_before=day(20), supplier_lot="BM-1"),
        "new": world.lot("25000", material=oil, best_before=day(90), supplier_lot="BM-2"),
        "lye": world.lot("4000", material=lye, supplier_lot="L-9"),
        "tins": world.lot("120", material=world.material("Tins with a lid", kind="packaging")),
    }
print(json.dumps({name: lot.pk for name, lot in names.items()}))
"""
# A pour took a kilogram half an hour ago, hours after the figure was typed.
_USE = """
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import User, Workshop
from inventory.models import Lot
from inventory.services.movements import use
workshop = Workshop.objects.get()
actor = Actor(workshop=workshop, user=User.objects.get(email="ottilie@fennelyard.example"))
lot = Lot.objects.within(workshop).get(pk={lot})
with transaction.atomic():
    use(actor=actor, lot=lot, amount=Decimal(1000), moment=now - timedelta(minutes=30), at=now)
print("null")
"""
_BOOKED = """
from curehouse.workshops.models import Workshop
from inventory.balance import differences
from inventory.models import Lot, StoreCount
workshop = Workshop.objects.get()
rows = Lot.objects.within(workshop).order_by("pk").values_list("pk", "on_hand", "is_estimated")
walks = [[walk.lots_counted, walk.lots_left] for walk in StoreCount.objects.within(workshop).with_figures()]
print(json.dumps([{pk: [float(held), by_eye] for pk, held, by_eye in rows}, walks, len(differences())]))
"""


@pytest.fixture
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningHouse]:
    with RunningHouse(tmp_path_factory.mktemp("count") / "data") as running:
        yield running


def is_sound(page: Page) -> None:
    """Check that nothing runs off the side and that everybody can use the page."""
    assert page.evaluate("Math.max(document.documentElement.scrollWidth, innerWidth)") <= page.viewport_size["width"]
    assert_accessible(page)


def go(page: Page, name: str) -> None:
    """Tap a link that says *name*."""
    with page.expect_navigation():
        page.get_by_role("link", name=name).locator("visible=true").first.tap()


def keep(page: Page, figure: str, *, unit: str = "kg") -> None:
    """Type a figure and keep it."""
    page.get_by_label("You count").fill(figure)
    if unit:
        page.get_by_label("Unit").select_option(unit)
    press(page, "Keep it, next lot")


def test_two_phones_count_the_store(house: RunningHouse, visit: Callable[..., Page]) -> None:
    lots = inside(house, _OPEN)
    ottilie, wren = visit(house.base_url), visit(house.base_url)
    sign_in(ottilie, "ottilie@fennelyard.example", PASSWORD)
    sign_in(wren, "wren@fennelyard.example", "lantern-orchard-spoon-7")
    begin_and_judge_by_eye(ottilie)
    # Wren takes another shelf, sees how far it is, and counts pieces.
    wren.goto("/storeroom/count/")
    expect(wren.get_by_text("A count is under way, 3 lots left.")).to_be_visible()
    is_sound(wren)
    go(wren, "Packaging")
    keep(wren, "118", unit="")
    expect(wren.get_by_role("alert")).to_contain_text("120 pieces are booked and 118 pieces counted: say why")
    wren.get_by_label("Why it differs").fill("two were dented")
    is_sound(wren)
    press(wren, "Keep it, next lot")
    broken_off_and_gone_on_with(house, ottilie, lots["new"])
    both_at_the_lye(ottilie, wren, lots["lye"])
    held, walks, differences = inside(house, _BOOKED)
    assert held == {
        str(lots["old"]): [5000, False], str(lots["new"]): [24000, False], str(lots["lye"]): [3700, True],
        str(lots["tins"]): [118, False],
    }  # fmt: skip
    assert (walks, differences) == ([[4, 0]], 0)


def begin_and_judge_by_eye(page: Page) -> None:
    """The first lot is judged by eye, which is no scale: the book stays."""
    page.goto("/storeroom/")
    go(page, "Count the store")
    expect(page.get_by_text("No count is under way.")).to_be_visible()
    is_sound(page)
    go(page, "Begin")
    expect(page.get_by_role("heading", name="Olive oil, lot 1")).to_be_visible()
    expect(page.locator("main")).not_to_contain_text("5 kg")
    is_sound(page)
    page.get_by_label("Judged by eye, not weighed").tap()
    keep(page, "4,5")
    expect(page.get_by_role("group", name="May it be what is booked?")).to_be_visible()
    is_sound(page)
    press(page, "It may, leave the book")
    expect(page.get_by_text("by eye it may be what is booked, which stays")).to_be_visible()


def broken_off_and_gone_on_with(house: RunningHouse, page: Page, lot: int) -> None:
    """What was typed before the phone let go of the page is there again, of its own moment."""
    expect(page.get_by_role("heading", name="Olive oil, lot 2")).to_be_visible()
    page.get_by_label("You count").fill("25")
    page.get_by_label("Unit").select_option("kg")
    page.evaluate(
        """() => {
          const place = `count:${location.pathname}`;
          const draft = JSON.parse(sessionStorage.getItem(place));
          sessionStorage.setItem(place, JSON.stringify({...draft, typedAt: Date.now() - 9 * 3600 * 1000}));
        }"""
    )
    inside(house, _USE.format(lot=lot))
    page.goto("/storeroom/count/")
    go(page, "Go on counting")
    expect(page.get_by_label("You count")).to_have_value("25")
    expect(page.get_by_label("Unit")).to_have_value("kg")
    expect(page.get_by_text("This was typed here before, and is not kept yet.")).to_be_visible()
    is_sound(page)
    press(page, "Keep it, next lot")
    expect(page.get_by_text("Olive oil, lot 2: counted as booked.")).to_be_visible()


def both_at_the_lye(ottilie: Page, wren: Page, lot: int) -> None:
    """Two stand before the same lot: the second sees what the first found, and says which is right."""
    expect(ottilie.get_by_role("heading", name="Sodium hydroxide, lot 3")).to_be_visible()
    wren.goto(f"/lots/{lot}/walk/")
    keep(wren, "3,9")
    wren.get_by_label("Why it differs").fill("spilt")
    press(wren, "Keep it, next lot")
    expect(wren.get_by_text("4 lots counted, 2 not as booked, 1 judged by eye, 0 not counted.")).to_be_visible()
    ottilie.get_by_label("Judged by eye, not weighed").tap()
    keep(ottilie, "3,7")
    expect(ottilie.get_by_role("alert")).to_contain_text("Wren Aldous counted 3900 g at ")
    expect(ottilie.get_by_label("You count")).to_have_value("3,7")
    is_sound(ottilie)
    ottilie.get_by_label("Why it differs").fill("the lid was on the scale")
    press(ottilie, "Keep it, next lot")
    expect(ottilie.get_by_text("4 lots counted, 2 not as booked, 2 judged by eye, 0 not counted.")).to_be_visible()
    is_sound(ottilie)
    words: Any = ottilie.inner_text("main")
    for said in ("3.9 kg counted, 4 kg booked: spilt (Wren Aldous)", "≈ 3.7 kg judged by eye, 3.9 kg booked"):
        assert said in words, said
    go(ottilie, "Sodium hydroxide, lot 3")
    expect(ottilie.locator(".figures")).to_contain_text("≈ 3.7 kg")
    is_sound(ottilie)
