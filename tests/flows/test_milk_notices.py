"""The milk of a run: freeze it in time, take it out on the day; told once, and no longer than it is true."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from curehouse.flows.enter_batch import RackEntry, enter_batch
from curehouse.flows.milk_notices import renew_milk
from curehouse.flows.morning import begin_day
from curehouse.flows.runs import call_off_run, move_run, plan_run
from curehouse.making.formulas.entries import GoesIn, Per
from curehouse.making.models import FormulaVersion, Run
from curehouse.making.services.formulas import write_formula
from curehouse.notices.kinds import Kind
from curehouse.notices.models import Notice
from curehouse.notices.services import see_to
from tests.formulas import FATS, formula_entry, liquid
from tests.world import World

pytestmark = pytest.mark.django_db

FRONT = (*FATS, liquid("goat_milk", None, Per.REST, GoesIn.FRONT))


@pytest.fixture
def version(world: World) -> FormulaVersion:
    return write_formula(actor=world.actor, entry=formula_entry(name="All milk", lines=FRONT), at=world.now)


def in_days(world: World, days: int) -> date:
    return world.now.date() + timedelta(days=days)


def planned(world: World, version: FormulaVersion, days: int) -> Run:
    return plan_run(actor=world.actor, version=version, fats_g=Decimal(2000), pour_on=in_days(world, days), at=world.now)


def notices(world: World) -> list[Notice]:
    return list(Notice.objects.within(world.workshop).of_kind(Kind.MILK).order_by("pk"))


def renewed(world: World, days: float) -> list[Notice]:
    renew_milk(workshop=world.workshop, at=world.now + timedelta(days=days))
    return [one for one in notices(world) if one.state == Notice.State.OPEN]


def test_it_is_frozen_from_two_days_before_and_taken_out_on_the_day(world: World, version: FormulaVersion) -> None:
    run = planned(world, version, 5)
    assert renewed(world, 2) == []
    (freeze,) = renewed(world, 3)
    assert freeze.title == "Freeze the milk for All milk, poured Sun 15 Mar"
    # 320 g of liquid for 1,000 g of fats, all of it milk.
    assert freeze.body.startswith("640.0 g of goat's milk: weigh it out and freeze it")
    assert (freeze.path, freeze.mark) == (f"/runs/{run.pk}/", "milk_freeze")
    assert renewed(world, 4) == [freeze]
    (out,) = renewed(world, 5)
    assert out.title == "Take out the milk for All milk, poured today"
    assert "In front, still frozen, when you begin: goat's milk." in out.body
    assert renewed(world, 6) == []
    assert [one.state for one in notices(world)] == [Notice.State.WITHDRAWN] * 2


def test_milk_at_trace_needs_no_frost_and_comes_out_in_good_time(world: World) -> None:
    planned(world, write_formula(actor=world.actor, entry=formula_entry(), at=world.now), 1)
    assert notices(world) == []
    (out,) = renewed(world, 1)
    assert "340.0 g of goat's milk." in out.body, "twice 170 g: 320 g of liquid less 150 g of water"
    assert "At trace, no longer icy, so take it out in good time: goat's milk." in out.body


def test_a_run_that_is_planned_for_tomorrow_tells_it_at_once_and_the_morning_no_second_time(
    world: World, version: FormulaVersion
) -> None:
    planned(world, version, 1)
    (freeze,) = notices(world)
    see_to(actor=world.actor, notice=freeze, at=world.now)
    assert renewed(world, 0.1) == [], "a person has seen to it"
    assert begin_day(workshop_id=world.workshop.pk, at=world.now + timedelta(days=1)) is not None
    assert [one.mark for one in notices(world) if one.state == Notice.State.OPEN] == ["milk_out"]


def test_moved_called_off_or_poured_it_takes_its_reminder_along(world: World, version: FormulaVersion) -> None:
    run = planned(world, version, 2)
    moved = move_run(actor=world.actor, run=run, pour_on=in_days(world, 9), why="no time", at=world.now)
    (over,) = notices(world)
    assert (over.state, over.closed_why) == (Notice.State.WITHDRAWN, "Its day is Thu 19 Mar.")
    back = move_run(actor=world.actor, run=moved, pour_on=in_days(world, 2), why="time after all", at=world.now)
    assert [one.state for one in notices(world)] == [Notice.State.WITHDRAWN, Notice.State.OPEN], "told again"
    call_off_run(actor=world.actor, run=back, why="no milk", at=world.now)
    assert {one.state for one in notices(world)} == {Notice.State.WITHDRAWN}
    today = planned(world, version, 0)
    assert [one.mark for one in notices(world) if one.state == Notice.State.OPEN] == ["milk_out"]
    entry = world.batch_entry(cut_days_ago=None, formula_name="All milk")
    enter_batch(actor=world.actor, entry=entry, rack=RackEntry(), run=today, at=world.now)
    assert {one.state for one in notices(world)} == {Notice.State.WITHDRAWN}


def test_a_formula_without_milk_and_one_that_cannot_be_worked_out_remind_of_nothing(world: World) -> None:
    water = formula_entry(name="Water", lines=(*FATS, liquid("water", None, Per.REST, GoesIn.FRONT)))
    planned(world, write_formula(actor=world.actor, entry=water, at=world.now), 1)
    assert notices(world) == []
