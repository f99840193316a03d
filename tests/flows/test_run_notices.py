"""A planned run of which not everything will be there: told in the morning, once, and no longer than it is true."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from curehouse.flows.morning import begin_day
from curehouse.flows.orders import call_off, promise, send_order
from curehouse.flows.run_notices import renew_runs
from curehouse.flows.runs import call_off_run, move_run, plan_run, reserve_run
from curehouse.flows.stock import receive_more, write_off
from curehouse.making.models import FormulaVersion, Run
from curehouse.making.services.formulas import write_formula
from curehouse.notices.kinds import Kind
from curehouse.notices.models import Notice
from curehouse.notices.services import see_to
from inventory.models import Lot, Order
from inventory.services.orders import write_order
from tests.formulas import LIQUIDS, fat, formula_entry
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def version(world: World) -> FormulaVersion:
    """A soap of 700 g of olive oil and 300 g of coconut oil to the kilogram; of coconut oil there is plenty."""
    olive, coconut = (world.material(name, kind="fat") for name in ("Olive oil", "Coconut oil"))
    world.lot("50000", material=coconut)
    lines = (fat("olive", "700", material=olive), fat("coconut", "300", material=coconut), *LIQUIDS)
    return write_formula(actor=world.actor, entry=formula_entry(lines=lines), at=world.now)


@pytest.fixture
def little(world: World, version: FormulaVersion) -> Lot:
    """300 g of olive oil, of which every kilogram of oils takes 700."""
    return world.lot("300")


def in_days(world: World, days: int) -> date:
    return world.now.date() + timedelta(days=days)


def planned(world: World, version: FormulaVersion, days: int, fats_g: int = 1000) -> Run:
    return plan_run(actor=world.actor, version=version, fats_g=Decimal(fats_g), pour_on=in_days(world, days), at=world.now)


def sent(world: World, *, lead_days: int, packs: int = 1) -> Order:
    offer = world.offer(pack=Decimal(1000), lead_days=lead_days)
    order = write_order(actor=world.actor, supplier=offer.supplier, packs={offer.pk: packs}, at=world.now)
    return send_order(actor=world.actor, order=order, sent_on=world.now.date(), at=world.now)


def morning(world: World, days: int = 0) -> None:
    renew_runs(workshop=world.workshop, at=world.days_ago(-days), tells_new=True)


def notices(world: World) -> list[Notice]:
    return list(Notice.objects.within(world.workshop).of_kind(Kind.RUN_AT_RISK).order_by("pk"))


def only(world: World) -> Notice:
    (found,) = notices(world)
    return found


def test_what_a_run_lacks_is_said_with_how_much_by_when_to_order_and_its_first_day(
    world: World, version: FormulaVersion, little: Lot
) -> None:
    world.offer(pack=Decimal(1000), lead_days=8)
    run = planned(world, version, 25)
    assert notices(world) == [], "what its page says when it is planned is told nobody before the morning"
    morning(world)
    told = only(world)
    assert (told.mark, told.path, told.about) == ("short", f"/runs/{run.pk}/", f"run:{run.pk}")
    assert told.title == f"{run.formula.name} on {run.pour_on:%a} {run.pour_on.day} {run.pour_on:%b} lacks something"
    first, as_it_is, if_ordered = told.body.splitlines()
    assert first.startswith("400.0 g of Olive oil will not be there: order by ")
    assert first.endswith(", and it is safely here in time.")
    assert as_it_is == "Its first day with what is here and on its way is not within four months."
    assert if_ordered.startswith("If what is short is ordered today, its first day is ")


def test_it_is_told_once_and_what_was_seen_to_stays_so(world: World, version: FormulaVersion, little: Lot) -> None:
    planned(world, version, 12)
    morning(world)
    morning(world, 1)
    see_to(actor=world.actor, notice=only(world), at=world.now)
    morning(world, 2)
    assert only(world).state == "done"


def test_where_everything_is_there_nothing_is_said(world: World, version: FormulaVersion, little: Lot) -> None:
    world.lot("400")
    planned(world, version, 12)
    morning(world)
    assert notices(world) == []


def test_what_is_there_only_if_the_order_comes_on_its_likely_day_is_at_risk(
    world: World, version: FormulaVersion, little: Lot
) -> None:
    sent(world, lead_days=8)
    planned(world, version, 9)
    morning(world)
    told = only(world)
    assert told.mark == "at_risk"
    assert told.title.endswith(" may lack something")
    first, days = told.body.splitlines()
    assert first == "400.0 g of Olive oil may come too late: there if it comes on its likely day."
    assert days.startswith("Safe from ")


def too_late(world: World, order: Order) -> None:
    promise(actor=world.actor, order=order, promised_on=in_days(world, 11), at=world.now)


def called_off(world: World, order: Order) -> None:
    call_off(actor=world.actor, order=order, why="they have none", at=world.now)


@pytest.mark.parametrize("worse", [too_late, called_off])
def test_what_was_at_risk_and_is_short_now_says_so_at_once_and_again_to_whoever_saw_to_it(
    world: World, version: FormulaVersion, little: Lot, worse: Callable[[World, Order], None]
) -> None:
    order = sent(world, lead_days=8)
    planned(world, version, 9)
    morning(world)
    see_to(actor=world.actor, notice=only(world), at=world.now)
    worse(world, order)
    assert [one.mark for one in notices(world)] == ["at_risk"], "told anew in the morning only"
    morning(world, 1)
    assert [(one.mark, one.state) for one in notices(world)] == [("at_risk", "done"), ("short", "open")]


def test_what_stands_open_says_what_is_true_now(world: World, version: FormulaVersion, little: Lot) -> None:
    order = sent(world, lead_days=8)
    planned(world, version, 9)
    morning(world)
    called_off(world, order)
    told = only(world)
    assert (told.state, told.mark) == ("open", "short")
    assert told.body.startswith("400.0 g of Olive oil will not be there: ")


def more_comes(world: World, run: Run, lot: Lot) -> None:
    receive_more(actor=world.actor, lot=lot, amount=Decimal(400), moment=world.now, at=world.now)


def it_is_called_off(world: World, run: Run, lot: Lot) -> None:
    call_off_run(actor=world.actor, run=run, why="no market", at=world.now)


def it_is_smaller(world: World, run: Run, lot: Lot) -> None:
    reserve_run(actor=world.actor, run=run, fats_g=Decimal(400), at=world.now)


def it_is_moved_behind_an_order(world: World, run: Run, lot: Lot) -> None:
    sent(world, lead_days=8)
    assert only(world).state == "open", "the order comes too late for its day"
    move_run(actor=world.actor, run=run, pour_on=in_days(world, 28), at=world.now)


@pytest.mark.parametrize(
    ("ends", "why"),
    [
        (more_comes, "What it takes is there for "),
        (it_is_smaller, "What it takes is there for "),
        (it_is_moved_behind_an_order, "What it takes is there for "),
        (it_is_called_off, "It is called off."),
    ],
)
def test_it_ends_with_its_cause_and_is_told_again_when_it_comes_again(
    world: World, version: FormulaVersion, little: Lot, ends: Callable[[World, Run, Lot], None], why: str
) -> None:
    run = planned(world, version, 4)
    morning(world)
    ends(world, run, little)
    told = only(world)
    assert told.state == "withdrawn"
    assert told.closed_why.startswith(why)
    run.refresh_from_db()
    if run.state == Run.State.PLANNED:
        write_off(actor=world.actor, lot=little, amount=Decimal(290), reason="spilt", moment=world.now, at=world.now)
        reserve_run(actor=world.actor, run=run, fats_g=Decimal(3000), at=world.now)
        assert [one.state for one in notices(world)] == ["withdrawn"]
        morning(world)
        assert [one.state for one in notices(world)] == ["withdrawn", "open"]


def test_of_a_day_that_is_past_nothing_is_said(world: World, version: FormulaVersion, little: Lot) -> None:
    planned(world, version, 4)
    morning(world)
    morning(world, 5)
    assert (only(world).state, only(world).closed_why) == ("withdrawn", "Its day has passed.")


def test_of_a_run_months_ahead_nothing_is_said_until_it_is_time_to_order(
    world: World, version: FormulaVersion, little: Lot
) -> None:
    world.offer(lead_days=8)
    planned(world, version, 80)
    morning(world)
    assert notices(world) == []
    morning(world, 55)
    assert only(world).state == "open"


def test_what_takes_months_to_come_is_said_in_time(world: World, version: FormulaVersion, little: Lot) -> None:
    world.offer(lead_days=60)
    planned(world, version, 80)
    morning(world)
    assert only(world).state == "open"


def test_what_is_too_late_to_order_says_when_it_would_be_here_and_what_waits_and_is_written(
    world: World, version: FormulaVersion, little: Lot
) -> None:
    offer = world.offer(pack=Decimal(1000), lead_days=8)
    order = write_order(actor=world.actor, supplier=offer.supplier, packs={offer.pk: 1}, at=world.now)
    waits = world.lot("900", standing="quarantine")
    planned(world, version, 2)
    morning(world)
    body = only(world).body
    assert "Olive oil that is ordered today is safely here only on " in body
    assert f"{order}, has Olive oil and is not sent yet." in body
    assert f"In quarantine, and usable once it is released: {waits} (900 g)." in body


def test_the_morning_tells_it_with_the_storeroom_and_mails_its_first_sentence(
    world: World, version: FormulaVersion, little: Lot
) -> None:
    first, second = planned(world, version, 9), planned(world, version, 6)
    at = world.days_ago(-1).replace(hour=12)
    assert begin_day(workshop_id=world.workshop.pk, at=at) is not None
    assert [one.about for one in notices(world)] == [f"run:{second.pk}", f"run:{first.pk}"], "the next first"
    digest = Notice.objects.within(world.workshop).of_kind(Kind.MORNING).get()
    assert "The storeroom: 2 runs lack something" in digest.body
    assert " lacks something: 700.0 g of Olive oil will not be there: how long a delivery takes is not known." in digest.body


def test_a_morning_asks_as_often_however_many_runs_lack_something(world: World, version: FormulaVersion) -> None:
    world.offer(lead_days=8)

    def queries(at: datetime) -> int:
        with CaptureQueriesContext(
            connection,
        ) as caught:
            renew_runs(workshop=world.workshop, at=at, tells_new=True)
        return len(caught)

    def told_already() -> int:
        morning(world)
        return queries(world.now)

    for days in range(3, 7):
        planned(world, version, days)
    few = told_already()
    for days in range(36):
        planned(world, version, 3 + days % 20)
    many = told_already()
    assert len(notices(world)) == 40
    assert many == few
