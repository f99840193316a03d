"""A run held against the storeroom: its lots, orders on their way, and the runs that are planned."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from curehouse.core.stock.netting import MaterialCheck
from curehouse.core.stock.supplied import Taken
from curehouse.flows.check_run import Held, hold_run, share_out
from curehouse.making.models import FormulaVersion, Run
from curehouse.making.services.formulas import write_formula
from curehouse.making.services.runs import call_off_run, move_run, plan_run
from inventory.services.orders import send_order, write_order
from tests.formulas import LIQUIDS, fat, formula_entry
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def version(world: World) -> FormulaVersion:
    """A soap of 700 g of olive oil and 300 g of coconut oil to the kilogram; both are kept in the storeroom."""
    olive, coconut = (world.material(name, kind="fat") for name in ("Olive oil", "Coconut oil"))
    world.lot("50000", material=coconut)
    lines = (fat("olive", "700", material=olive), fat("coconut", "300", material=coconut), *LIQUIDS)
    return write_formula(actor=world.actor, entry=formula_entry(lines=lines), at=world.now)


def in_days(world: World, days: int) -> date:
    return world.now.date() + timedelta(days=days)


def planned(world: World, version: FormulaVersion, days: int, fats_g: int) -> Run:
    return plan_run(actor=world.actor, version=version, fats_g=Decimal(fats_g), pour_on=in_days(world, days), at=world.now)


def held(world: World, version: FormulaVersion, days: int, fats_g: int = 1000) -> Held:
    return hold_run(version=version, fats_g=Decimal(fats_g), pour_on=in_days(world, days), at=world.now)


def row_of(found: Held, name: str) -> MaterialCheck:
    (row,) = [one for one in found.found.materials if found.materials[one.material].name == name]
    return row


def olive_of(found: Held) -> MaterialCheck:
    return row_of(found, "Olive oil")


def test_lots_that_are_usable_on_the_day_serve_first_expired_first_and_no_other(world: World, version: FormulaVersion) -> None:
    soon = world.lot("400", best_before=in_days(world, 10))
    keeps = world.lot("5000")
    world.lot("9000", best_before=in_days(world, 4))
    world.lot("9000", standing="quarantine")
    found = held(world, version, 7)
    row = olive_of(found)
    assert [(found.lots[taken.supply], taken.amount) for taken in row.likely.takes] == [(soon, 400), (keeps, 300)]
    assert (row.likely.here_g, row.likely.free_g, row.likely.short_g) == (5400, 5400, 0)
    assert found.found.safe.possible
    assert [need.name for need in found.not_kept] == ["water", "goat's milk", "sodium hydroxide (NaOH)"]


def test_what_planned_runs_take_is_not_free_until_they_are_called_off(world: World, version: FormulaVersion) -> None:
    world.lot("2000")
    first, later = planned(world, version, 3, 1000), planned(world, version, 30, 1000)
    row = olive_of(held(world, version, 10))
    assert (row.likely.taken_before_g, row.likely.kept_for_later_g, row.likely.free_g, row.likely.short_g) == (
        700,
        700,
        600,
        100,
    )
    call_off_run(actor=world.actor, run=later, why="no market", at=world.now)
    assert olive_of(held(world, version, 10)).likely.short_g == 0
    move_run(actor=world.actor, run=first, pour_on=in_days(world, 20), at=world.now)
    row = olive_of(held(world, version, 10))
    assert (row.likely.taken_before_g, row.likely.kept_for_later_g) == (0, 700)


def test_an_order_is_counted_on_from_its_likely_and_from_its_safe_day(world: World, version: FormulaVersion) -> None:
    offer = world.offer(lead_days=8)
    order = write_order(actor=world.actor, supplier=offer.supplier, packs={offer.pk: 2}, at=world.now)
    send_order(actor=world.actor, order=order, sent_on=world.now.date(), at=world.now)
    found = held(world, version, 0)
    likely, safe = found.found.likely.first_day, found.found.safe.first_day
    assert likely == in_days(world, 8).toordinal(), "the day the supplier named, and not before it"
    assert safe is not None
    assert safe > likely
    assert found.found.safe.first_day_if_ordered_today == safe, "another order is no sooner here"
    (taken,) = found.found.likely.takes_on_first_day[olive_of(found).material]
    assert found.arrivals[taken.supply].line.order == order


def test_an_overdue_order_is_expected_later_and_never_in_the_past(world: World, version: FormulaVersion) -> None:
    offer = world.offer(lead_days=8)
    order = write_order(actor=world.actor, supplier=offer.supplier, packs={offer.pk: 2}, at=world.now)
    send_order(actor=world.actor, order=order, sent_on=in_days(world, -25), at=world.now)
    found = held(world, version, 0).found
    assert found.likely.first_day is not None
    assert world.now.date().toordinal() <= found.likely.first_day < found.safe.first_day


def test_what_is_short_is_ordered_in_time_or_it_is_too_late(world: World, version: FormulaVersion) -> None:
    world.offer(lead_days=8)
    far, near = olive_of(held(world, version, 40)), olive_of(held(world, version, 2))
    assert (far.likely.short_g, far.too_late) == (700, False)
    assert in_days(world, 20).toordinal() < far.order_by < in_days(world, 32).toordinal(), (
        "a supplier's word is taken with care"
    )
    assert near.too_late


def test_a_run_whose_day_is_past_counts_as_todays_until_somebody_says_what_became_of_it(
    world: World, version: FormulaVersion
) -> None:
    world.lot("1000")
    run = planned(world, version, 2, 1000)
    later = world.now + timedelta(days=5)
    found = hold_run(version=version, fats_g=Decimal(1000), pour_on=later.date(), at=later)
    assert olive_of(found).likely.free_g == 300
    (one,) = [row for row in share_out(workshop=world.workshop, at=later, of=run).likely if row.needed_g == 700]
    assert one.short_g == 0


def test_planned_runs_share_what_is_there_in_the_order_they_were_announced(world: World, version: FormulaVersion) -> None:
    lot = world.lot("1000")
    first, second = planned(world, version, 9, 1000), planned(world, version, 3, 1000)
    found = share_out(workshop=world.workshop, at=world.now)
    got = {one.run: one for one in found.likely if found.materials[one.material].name == "Olive oil"}
    assert got[f"run {first.pk}"].short_g == 0
    assert got[f"run {second.pk}"].short_g == 400
    assert got[f"run {second.pk}"].takes == (Taken(f"lot {lot.pk}", 300),)


def test_a_run_that_is_planned_as_checked_leaves_every_other_as_it_was(world: World, version: FormulaVersion) -> None:
    world.lot("3000", best_before=in_days(world, 25))
    for days, fats_g in ((2, 1000), (12, 1500), (30, 800)):
        planned(world, version, days, fats_g)
    before = {(one.run, one.material): one.short_g for one in share_out(workshop=world.workshop, at=world.now).likely}
    day = held(world, version, 5, 600).found.likely.first_day
    assert day is not None
    run = plan_run(actor=world.actor, version=version, fats_g=Decimal(600), pour_on=date.fromordinal(day), at=world.now)
    after = {(one.run, one.material): one.short_g for one in share_out(workshop=world.workshop, at=world.now).likely}
    assert {key: short for key, short in after.items() if key[0] != f"run {run.pk}"} == before
    assert not any(short for key, short in after.items() if key[0] == f"run {run.pk}")


def test_a_run_that_is_planned_though_short_takes_nothing_from_one_that_was_planned_before(
    world: World, version: FormulaVersion
) -> None:
    world.lot("700")
    first = planned(world, version, 10, 1000)
    checked = olive_of(held(world, version, 5)).likely
    assert (checked.short_g, checked.kept_for_later_g) == (700, 700)
    second = planned(world, version, 5, 1000)
    found = share_out(workshop=world.workshop, at=world.now)
    assert (found.standing(first), found.standing(second)) == ("enough", "short")
    assert [one[1:] for one in found.short_of(second)] == [(700, 700)]
