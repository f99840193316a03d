"""What will be here of a material: read of the storeroom's own rows, and never otherwise than a run's check says."""

from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from curehouse.flows.check_run import share_out
from curehouse.flows.stock_ahead import Ahead, ArrivalEvent, ExpiryEvent, RunEvent, stock_ahead
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.making.models import FormulaVersion, Run
from curehouse.making.services.formulas import write_formula
from curehouse.making.services.runs import plan_run, pour_run
from inventory.models import Lot, Material, Movement
from inventory.services.movements import reverse, use
from inventory.services.orders import promise, send_order, write_order
from tests.formulas import LIQUIDS, fat, formula_entry
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def olive(world: World) -> Material:
    return world.material("Olive oil", kind="fat")


@pytest.fixture
def version(world: World, olive: Material) -> FormulaVersion:
    """A soap of 700 g of olive oil to the kilogram."""
    lines = (fat("olive", "700", material=olive), fat("coconut", "300"), *LIQUIDS)
    return write_formula(actor=world.actor, entry=formula_entry(lines=lines), at=world.now)


def in_days(world: World, days: int) -> date:
    return world.now.date() + timedelta(days=days)


def planned(world: World, version: FormulaVersion, days: int, fats_g: int = 1000) -> Run:
    return plan_run(actor=world.actor, version=version, fats_g=Decimal(fats_g), pour_on=in_days(world, days), at=world.now)


def ordered(world: World, packs: int = 2, days_ago: int = 0, **offer: Any) -> Any:
    found = world.supplier().offers.first() or world.offer(**{"lead_days": 8, **offer})
    order = write_order(actor=world.actor, supplier=found.supplier, packs={found.pk: packs}, at=world.now)
    return send_order(actor=world.actor, order=order, sent_on=in_days(world, -days_ago), at=world.now)


def used(world: World, lot: Lot, days_ago: float, grams: str = "700") -> None:
    use(actor=world.actor, lot=lot, amount=Decimal(grams), moment=world.days_ago(days_ago), at=world.now)


def ahead(world: World, material: Material) -> Ahead:
    return stock_ahead(material=material, at=world.now)


def on(found: Ahead, day: date) -> Any:
    (row,) = [one for one in found.days if one.day == day]
    return row


def events(found: Ahead, kind: type) -> list[Any]:
    return [one for one in found.events if isinstance(one, kind)]


def test_of_a_material_just_written_down_there_is_nothing_to_look_ahead_to(world: World, olive: Material) -> None:
    found = ahead(world, olive)
    assert found.is_empty
    assert (found.usable, found.use, found.events, found.likely.short_on) == (0, None, [], None)
    assert [found.days[0].day, found.days[-1].day] == [in_days(world, 0), in_days(world, 90)]


def test_it_stays_until_a_lot_expires_where_nothing_is_planned_and_none_was_used(world: World, olive: Material) -> None:
    lot = world.lot("400.5", best_before=in_days(world, 10))
    world.lot("1000", best_before=None)
    world.lot("9000", best_before=in_days(world, -4))
    found = ahead(world, olive)
    assert (found.usable, found.use) == (1400.5, None)
    assert {one.left for one in found.days if one.day <= in_days(world, 10)} == {1400.5}
    assert {one.left for one in found.days if one.day > in_days(world, 10)} == {1000}
    assert [(one.day, one.lot, one.amount, one.most) for one in found.events] == [(in_days(world, 11), lot, 400.5, 400.5)]


def test_planned_runs_take_of_it_on_their_days_and_lots_that_expire_go_first(world: World, olive: Material, version) -> None:
    world.lot("800", best_before=in_days(world, 20))
    world.lot("1000", best_before=None)
    first, second = planned(world, version, 5), planned(world, version, 30)
    found = ahead(world, olive)
    assert [on(found, in_days(world, days)).left for days in (4, 5, 20, 21, 29, 30)] == [1800, 1100, 1100, 1000, 1000, 300]
    assert [(one.run, one.needed, one.short) for one in events(found, RunEvent)] == [(first, 700, 0), (second, 700, 0)]
    assert [one.amount for one in events(found, ExpiryEvent)] == [100]
    assert found.planned == found.likely
    assert found.likely.short_on is None


def test_a_run_is_short_by_plan_just_where_its_check_says_so(world: World, olive: Material, version) -> None:
    world.lot("1500", best_before=in_days(world, 14))
    world.lot("600")
    ordered(world, packs=1)
    runs = [planned(world, version, days, fats_g) for days, fats_g in ((25, 1200), (3, 900), (9, 1000), (12, 2000), (40, 500))]
    found, shares = ahead(world, olive), share_out(workshop=world.workshop, at=world.now)
    by_run = {one.run.pk: one for one in events(found, RunEvent)}
    short_on = []
    for run in runs:
        said = [(likely, safe) for material, likely, safe in shares.short_of(run) if material == olive]
        assert [(by_run[run.pk].short, by_run[run.pk].short_safe)] == (said or [(0, 0)])
        short_on += [run.pour_on for likely, _safe in said if likely]
    assert short_on, "some run is short in this storeroom"
    assert found.planned.short_on == min(short_on)
    assert found.lean.short_on == min(one.day for one in by_run.values() if one.short_safe)


def test_an_order_comes_between_its_early_and_its_safe_day_and_expires_as_it_usually_does(
    world: World, olive: Material
) -> None:
    order = ordered(world, shelf_days=30)
    found = ahead(world, olive)
    (comes,) = events(found, ArrivalEvent)
    assert (comes.arrival.line.order, comes.amount, comes.day) == (order, 2000, in_days(world, 8))
    assert in_days(world, 0) < comes.early < comes.day < comes.safe
    before, early, likely = (on(found, day) for day in (comes.early - timedelta(days=1), comes.early, comes.day))
    assert (before.high, early.left, early.high, likely.low, likely.left) == (0, 0, 2000, 0, 2000)
    assert on(found, comes.safe).low == 2000
    (gone,) = events(found, ExpiryEvent)
    assert (gone.lot, gone.arrival.line.order, gone.day, gone.amount) == (None, order, in_days(world, 39), 2000)
    assert on(found, gone.day).high == 2000, "what comes later is good for longer"


def test_a_day_that_was_named_is_the_likely_one(world: World, olive: Material) -> None:
    order = ordered(world, days_ago=3)
    promise(actor=world.actor, order=order, promised_on=in_days(world, 12), at=world.now)
    (comes,) = events(ahead(world, olive), ArrivalEvent)
    assert in_days(world, 0) <= comes.early < comes.day == in_days(world, 12) < comes.safe


def test_what_waits_in_quarantine_and_what_nobody_knows_the_day_of_stand_apart(world: World, olive: Material) -> None:
    waiting = world.lot("9000", standing="quarantine")
    world.lot("9000", standing="quarantine", best_before=in_days(world, -1))
    order = ordered(world, lead_days=None)
    found = ahead(world, olive)
    assert found.usable == 0
    assert {one.high for one in found.days} == {0}
    assert (found.waiting, [one.line.order for one in found.dayless]) == ([waiting], [order])


def test_use_that_nobody_planned_is_expected_as_it_was_so_far(world: World, olive: Material) -> None:
    lot = world.lot("90000", days_here=300, best_before=None)
    for days_ago in range(2, 300, 10):
        used(world, lot, days_ago)
    found = ahead(world, olive)
    assert (found.use.uses, found.use.known_days, found.use.planned_to) == (30, 301, None)
    assert 0 <= found.use.little < found.use.usual < found.use.much
    assert 1000 < found.use.usual < 3000, "three uses of 700 g are usual in four weeks"
    last = found.days[-1]
    assert last.low < last.left < last.high < last.planned_left == found.usable
    for before, after in pairwise(found.days):
        assert after.left == pytest.approx(before.left - after.unplanned, abs=0.002)


def test_a_batch_that_took_of_two_lots_used_it_once_and_what_was_taken_back_never(world: World, olive: Material) -> None:
    first, second = world.lot("900"), world.lot("9000")
    taken = [UseLine(first, Decimal(900)), UseLine(second, Decimal(500))]
    book_use(actor=world.actor, batch=world.batch(), lines=taken, used_at=world.days_ago(5), at=world.now)
    used(world, second, 4)
    assert (ahead(world, olive).use.uses, ahead(world, olive).use.known_days) == (2, 31)
    movement = Movement.objects.within(world.workshop).filter(lot=first, kind="use").get()
    reverse(actor=world.actor, movement=movement, reason="another batch", at=world.now)
    assert ahead(world, olive).use.uses == 2, "the other lot was taken of all the same"
    movement = Movement.objects.within(world.workshop).filter(lot=second, kind="use").order_by("moment").first()
    reverse(actor=world.actor, movement=movement, reason="another batch", at=world.now)
    assert ahead(world, olive).use.uses == 1


def test_a_material_that_was_used_once_has_a_wide_range(world: World, olive: Material) -> None:
    lot = world.lot("90000")
    used(world, lot, 3)
    found = ahead(world, olive).use
    assert (found.uses, found.little) == (1, 0)
    assert found.much > 1400


def test_what_is_planned_as_often_as_usual_is_not_expected_twice(world: World, olive: Material, version) -> None:
    lot = world.lot("90000", days_here=300, best_before=None)
    for days_ago in range(2, 300, 20):
        used(world, lot, days_ago)
    without = ahead(world, olive)
    assert without.use.planned_to is None
    assert on(without, in_days(world, 55)).left < on(without, in_days(world, 55)).planned_left
    for days in (7, 20, 35, 55):
        planned(world, version, days)
    found = ahead(world, olive)
    assert found.use.planned_to == in_days(world, 55)
    assert on(found, in_days(world, 55)).left == on(found, in_days(world, 55)).planned_left
    # Before the first of them something may come that nobody planned; from then on nothing does.
    lows = [on(found, in_days(world, days)) for days in (6, 55)]
    assert lows[0].low - lows[0].planned_left == lows[1].low - lows[1].planned_left


def test_use_besides_may_leave_a_run_short_that_its_check_calls_enough(world: World, olive: Material, version) -> None:
    lot = world.lot("30000", days_here=300, best_before=None)
    for days_ago in range(2, 300, 8):
        used(world, lot, days_ago)
    run = planned(world, version, 80, fats_g=4000)
    found = ahead(world, olive)
    (event,) = events(found, RunEvent)
    assert (event.run, event.short, event.short_safe) == (run, 0, 0)
    assert (found.planned.short_on, found.likely.short_on is not None, event.lacking > 0) == (None, True, True)
    assert found.lean.short_on < found.likely.short_on <= run.pour_on
    assert found.likely.order_by is None
    world.offer(lead_days=8)
    order_by = ahead(world, olive).likely.order_by
    assert found.likely.short_on - timedelta(days=30) < order_by < found.likely.short_on - timedelta(days=8)


def test_what_is_counted_in_pieces_is_looked_ahead_to_in_whole_ones(world: World) -> None:
    boxes = world.material("Box", kind="packaging")
    lot = world.lot("500", material=boxes)
    for days_ago in range(1, 29, 3):
        used(world, lot, days_ago, "24")
    found = ahead(world, boxes)
    assert all(one.left == int(one.left) for one in found.days)
    assert 0 < found.days[14].left < found.usable == 260


def test_it_reaches_to_the_furthest_run_and_no_further_than_two_years(world: World, olive: Material, version) -> None:
    planned(world, version, 200)
    assert ahead(world, olive).days[-1].day == in_days(world, 200)
    planned(world, version, 730)
    assert ahead(world, olive).days[-1].day == in_days(world, 730)


def test_a_run_whose_day_is_past_and_one_that_was_poured_and_not_booked_count_as_todays(
    world: World, olive: Material, version
) -> None:
    world.lot("5000")
    run, poured = planned(world, version, 2), planned(world, version, 3)
    batch = world.batch(cut_days_ago=None, formula_name=version.formula.name)
    pour_run(actor=world.actor, run=poured, batch=batch, at=world.now)
    found = stock_ahead(material=olive, at=world.now + timedelta(days=5))
    today = in_days(world, 5)
    assert {(one.run, one.day) for one in events(found, RunEvent)} == {(run, today), (poured, today)}
    assert found.days[0].left == 3600


def test_it_takes_as_many_queries_for_twenty_runs_and_lots_as_for_two(world: World, olive: Material, version) -> None:
    counts = []
    for _turn in range(2):
        for place in range(2 if not counts else 18):
            used(world, world.lot("700", best_before=in_days(world, 5 + place)), place / 7 + 1, "5")
            planned(world, version, 1 + place % 20, fats_g=100)
            ordered(world, packs=1, days_ago=place % 6)
        with CaptureQueriesContext(connection) as captured:
            ahead(world, olive)
        counts.append(len(captured))
    assert counts[0] == counts[1] <= 16
