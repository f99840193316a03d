"""From a wished day back to a pour, and on to bars that are ready: weeks of a maker's life, on a phone, in a running house.

The house's processes live so many days ago (:mod:`tests.browser.days_ago`): it is ended and begun again for each of the
maker's days, as a computer in a workshop is.
"""

import os
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.at_work import assert_accessible, follow, inside, press, sign_in, tap, write
from tests.house import PATIENCE_SECONDS, RunningHouse, wait_until
from tests.world import PASSWORD

pytestmark = pytest.mark.needs("chromium")

CLOCK = Path(__file__).parent / "days_ago"
# Days before today.
PLANNED, POURED, CUT = 44, 36, 35

_OPEN = """
from curehouse.flows.stock import write_off
from curehouse.workshops.services import change_preferences
from inventory.services.things import SupplierEntry, write_supplier
from tests.pouring import Bench
with transaction.atomic():
    world = World(now=now)
    bench = Bench(world)
    world.rack()
    change_preferences(workshop=world.workshop, changes={"check_limit": "not above 10", "check_method": "strip"})
    lye = bench.lots["naoh"]
    write_off(actor=world.actor, lot=lye, amount=lye.on_hand - 60, reason="drew water", moment=now, at=now)
    mill = write_supplier(workshop=world.workshop, entry=SupplierEntry("Brook Mill"))
    world.offer(material=bench.lye, supplier=mill, pack=Decimal(1000), price=Decimal("8.40"), lead_days=3)
print(json.dumps(bench.version.pk))
"""
# Weighed on four Tuesdays like the first; nobody waits for so many houses to begin.
_WEEKS_BETWEEN = """
from curehouse.curing.models import SampleBar
from curehouse.flows.weigh import weigh
from curehouse.workshops.actors import the_house
from curehouse.workshops.models import Workshop
from tests.factories import ReadingEntryFactory
workshop = Workshop.objects.get()
with transaction.atomic():
    for bar in SampleBar.objects.within(workshop).select_related("batch__formula", "batch__workshop"):
        for day, weight in ((7, "110.4"), (14, "106.3"), (21, "104.2"), (28, "103.2")):
            entry = ReadingEntryFactory(weight=weight, moment=bar.batch.cut_at + timedelta(days=day), source="page")
            weigh(actor=the_house(workshop), bar=bar, entry=entry, at=now)
"""
_BOOKED = """
from curehouse.curing.models import Placement, Reading
from curehouse.making.models import BatchUse
from inventory.balance import differences
uses = BatchUse.unscoped.select_related("movement__lot__material").order_by("movement__lot__material__name")
print(json.dumps({
    "uses": [[use.movement.lot.material.name, f"{-use.movement.amount}"] for use in uses],
    "readings": Reading.unscoped.count(),
    "placed": sum(one.bars for one in Placement.unscoped.filter(act="placed")),
    "differences": len(list(differences())),
}))
"""


@dataclass
class Life:
    """A house on one folder, and the phone of who lives in it."""

    data: Path
    visit: Callable[..., Page]

    @contextmanager
    def day(self, days_ago: int) -> Iterator[tuple[RunningHouse, Page]]:
        """Let it be so many days ago in the house and on the phone."""
        paths = os.pathsep.join([str(CLOCK), *filter(None, [os.environ.get("PYTHONPATH")])])
        env = {"PYTHONPATH": paths, "DAYS_AGO": str(days_ago), "CUREHOUSE_TICK_SECONDS": "2"}
        with RunningHouse(self.data, env=env) as house:
            if days_ago == PLANNED:
                assert inside(house, _OPEN) == 1
            page = self.visit(house.base_url)
            page.clock.set_fixed_time(self.when(days_ago))
            sign_in(page, "ottilie@fennelyard.example", PASSWORD)
            yield house, page
            # A page that is open asks for news, and would complain of a house that is gone.
            page.goto("about:blank")

    @staticmethod
    def when(days_ago: int) -> datetime:
        return datetime.now(UTC) - timedelta(days=days_ago)


def field(page: Page, name: str, figure: str) -> None:
    page.locator(f"main [name='{name}']:visible").first.fill(figure)


def plan_backwards(page: Page) -> None:
    """Ask for bars by a day, take the latest day on which it may be poured, and meet a shortage."""
    page.goto("/versions/1/run/")
    field(page, "fats_g", "1000")
    field(page, "bars", "10")
    # The day by which half of such batches are dry enough, if they are poured on the day that is wanted.
    wanted = Life.when(PLANNED) + timedelta(days=PLANNED - POURED + 35)
    field(page, "wanted_on", f"{wanted:%Y-%m-%d}")
    press(page, "Look at this run")
    expect(page.locator("section[aria-labelledby=pour-by]")).to_contain_text("95 of 100: that day is over")
    with page.expect_navigation():
        page.get_by_role("region", name="For bars on").or_(page.locator("#pour-by + p + ul")).get_by_role("link").last.click()
    expect(page.locator("main")).to_contain_text("1 material is short")
    expect(page.locator("main")).to_contain_text("There is room.")
    assert_accessible(page)
    press(page, "Plan this run")
    expect(page.locator("main")).to_contain_text("Places for all its 10 bars are kept")
    expect(page.locator("main")).to_contain_text("Order 82.0 g or more by")


def order_the_lye(page: Page) -> None:
    press(page, "Look what to order now")
    follow(page, "Order 1, Brook Mill")
    expect(page.locator("main")).to_contain_text("Nothing is sent by itself.")
    assert_accessible(page)
    follow(page, "It was sent")
    press(page, "It was sent")
    expect(page.locator("main")).to_contain_text("sent")


def receive_the_lye(page: Page) -> None:
    """Unpack it, and type what its certificate says."""
    page.goto("/orders/1/")
    follow(page, "It came in")
    page.get_by_label("released: looked at, papers in order, may be used").tap()
    page.get_by_label("Supplier’s lot number").first.fill("BM-118")
    press(page, "Book it in")
    follow(page, "Sodium hydroxide, lot 4")
    follow(page, "Add a figure")
    field(page, "name", "Purity")
    field(page, "value", "99")
    field(page, "unit", "%")
    press(page, "Keep it")


def done(page: Page) -> None:
    """Press what ends a step of the pour."""
    with page.expect_navigation():
        page.locator("button.pour-act").last.tap()


def weigh_out(page: Page, name: str, grams: str) -> None:
    expect(page.get_by_role("heading", level=1)).to_contain_text(name)
    page.locator("#id_amount").fill(grams)
    done(page)


def pour_it(page: Page) -> None:
    """Weigh everything out, ten grams of lye too many; add the fat that is asked for, and go on to the mould."""
    page.goto("/runs/1/")
    follow(page, "Pour it now")
    press(page, "Begin")
    page.get_by_label("Goggles, gloves and long sleeves are on").check()
    done(page)
    for name, grams in (("Olive oil", "700"), ("Coconut oil", "300"), ("water", "150"), ("milk", "170")):
        weigh_out(page, name, grams)
    page.locator("#id_lot").select_option(index=1)
    press(page, "How much of this lot?")
    expect(page.locator("#meant")).to_have_text("Weigh 143.5 g")
    weigh_out(page, "Sodium hydroxide", "153.5")
    expect(page.get_by_role("alert")).to_contain_text("10 g over the 143.5 g that are meant")
    assert_accessible(page)
    press(page, "Keep 153.5 g")
    expect(page.locator("main")).to_contain_text("It may be caustic")
    assert_accessible(page)
    with page.expect_navigation():
        page.locator("a.pour-act").first.tap()
    fat_g = re.search(r"[\d.]+", page.locator("#meant").inner_text())[0]
    weigh_out(page, "Coconut oil", fat_g)
    expect(page.locator("main")).to_contain_text("Safe with these figures")
    expect(page.locator("main")).to_contain_text("Weigh more of the liquid in front before the lye goes in")
    follow(page, "Weigh more in front")
    weigh_out(page, "water", "10")
    press(page, "Keep 10 g")
    steps = ("Lye into the liquid", "lye?", "fats?", "Lye into the fats", "Stir in", "Into the mould", "Put it aside")
    for step in steps:
        expect(page.get_by_role("heading", level=1)).to_contain_text(step)
        if page.locator("#id_celsius").count():
            page.locator("#id_celsius").fill("33" if "lye" in step else "38")
        done(page)
    press(page, "Write the batch")
    expect(page.locator("main")).to_contain_text("Meadow bar 1 is written, and what it took is booked.")
    expect(page.locator("main")).to_contain_text("It may be caustic by its formula")


def cut_it(page: Page) -> None:
    page.goto("/batches/1/")
    follow(page, "Cut it")
    field(page, "bars", "10")
    assert_accessible(page)
    press(page, "Cut into bars")
    page.goto("/racks/")
    expect(page.locator("main")).to_contain_text("Meadow bar 1")


def weigh_its_bars(page: Page, *grams: str) -> None:
    page.goto("/")
    follow(page, "Start the round")
    for letter, one in zip("ABC", grams, strict=True):
        tap(page, one)
        write(page)
        expect(page.get_by_text(f"{letter} {one} g written.")).to_be_visible()


def check_it(page: Page) -> None:
    page.goto("/batches/1/")
    follow(page, "Enter its check")
    field(page, "value", "9")
    page.locator("[name=passed][value=passed]").check()
    press(page, "Keep the check")


def is_ready(page: Page) -> bool:
    page.goto("/notices/")
    return "Meadow bar 1 is ready" in page.inner_text("main")


def test_a_maker_plans_backwards_orders_pours_cuts_weighs_and_has_bars_that_are_ready(
    tmp_path: Path, visit: Callable[..., Page]
) -> None:
    life = Life(tmp_path / "data", visit)
    with life.day(PLANNED) as (_house, page):
        plan_backwards(page)
        order_the_lye(page)
    with life.day(POURED) as (_house, page):
        receive_the_lye(page)
        pour_it(page)
    with life.day(CUT) as (_house, page):
        cut_it(page)
        weigh_its_bars(page, "118.0", "117.6", "118.3")
    with life.day(0) as (house, page):
        inside(house, _WEEKS_BETWEEN)
        weigh_its_bars(page, "102.8", "102.5", "103.0")
        check_it(page)
        wait_until(lambda: is_ready(page), seconds=PATIENCE_SECONDS, what="the notice that it is ready")
        page.goto("/batches/1/record/")
        assert_accessible(page)
        for said in ("153.5 g", "322 g", "118.0", "102.8", "not above 10"):
            expect(page.locator("main")).to_contain_text(said)
        booked = inside(house, _BOOKED)
    assert booked == {
        "uses": [["Coconut oil", "322.000"], ["Olive oil", "700.000"], ["Sodium hydroxide", "153.500"]],
        "readings": 18,
        "placed": 10,
        "differences": 0,
    }
