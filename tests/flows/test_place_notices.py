"""A run whose bars will not all have a place: told in the morning, with by whom and what to do, and no longer than true."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from curehouse.curing.models import ExpectedCure
from curehouse.curing.services.racks import add_rack
from curehouse.curing.shelf import read_shelf
from curehouse.flows import placing
from curehouse.flows.enter_batch import RackEntry, enter_batch
from curehouse.flows.foretell import learn_and_foretell
from curehouse.flows.morning import begin_day
from curehouse.flows.place_clashes import cramped_runs
from curehouse.flows.place_notices import renew_places
from curehouse.flows.runs import call_off_run, keep_places_anew, move_run, plan_run
from curehouse.flows.take_out import take_out
from curehouse.making.models import FormulaVersion, Run
from curehouse.making.services import TakeOutEntry
from curehouse.making.services.formulas import write_formula
from curehouse.notices.kinds import Kind
from curehouse.notices.models import Notice
from tests.formulas import formula_entry
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def version(world: World) -> FormulaVersion:
    return write_formula(actor=world.actor, entry=formula_entry(name="Olive & oat"), at=world.now)


def in_days(world: World, days: int) -> date:
    return world.now.date() + timedelta(days=days)


def planned(world: World, version: FormulaVersion, *, days: int = 5, bars: int = 30) -> Run:
    return plan_run(
        actor=world.actor, version=version, fats_g=Decimal(2000), pour_on=in_days(world, days), bars=bars, at=world.now
    )


def morning(world: World) -> None:
    renew_places(workshop=world.workshop, at=world.now, tells_new=True)


def notices(world: World) -> list[Notice]:
    return list(Notice.objects.within(world.workshop).of_kind(Kind.RUN_PLACES).order_by("pk"))


def test_bars_without_a_place_are_told_in_the_morning_once(world: World, version: FormulaVersion) -> None:
    world.rack(levels=1, places=1, capacity=24)
    run = planned(world, version)
    assert notices(world) == []
    morning(world)
    morning(world)
    (told,) = notices(world)
    assert told.title.startswith("Olive & oat on ")
    assert told.title.endswith("not all its bars have a place")
    assert "For 6 of its 30 bars no place is kept from " in told.body
    assert "No day within four months has room for all of them" in told.body
    assert (told.path, told.mark) == (f"/runs/{run.pk}/", "no_place")


def test_the_house_tells_it_in_its_morning(world: World, version: FormulaVersion) -> None:
    world.rack(levels=1, places=1, capacity=24)
    planned(world, version)
    assert begin_day(workshop_id=world.workshop.pk, at=world.now + timedelta(days=1)) is not None
    assert len(notices(world)) == 1


def test_a_batch_put_where_places_are_kept_is_not_refused_and_told(world: World, version: FormulaVersion) -> None:
    rack = world.rack(levels=1, places=2, capacity=30)
    run = planned(world, version)
    batch = world.batch(cut_days_ago=1, position=world.position(rack), formula_name="Olive & oat")
    morning(world)
    (told,) = notices(world)
    assert f"North wall, level 1, place 1 would hold {batch.bars_left} bars too many from " in told.body
    assert f"{batch} stays, nobody knows how long" in told.body
    assert "Poured on " not in told.body
    # The other place is large enough.
    assert "There is room for all of them elsewhere: keep its places anew." in told.body
    keep_places_anew(actor=world.actor, run=run, at=world.now)
    told.refresh_from_db()
    assert told.state == Notice.State.WITHDRAWN
    assert cramped_runs(workshop=world.workshop, at=world.now) == []


def test_a_cure_that_runs_over_makes_a_notice(world: World, version: FormulaVersion) -> None:
    """It was expected to be gone in time; weighed since, it loses slowly and stays."""
    rack = world.rack(levels=1, places=1, capacity=30)
    here = world.batch(cut_days_ago=20, position=world.position(rack), formula_name="Olive & oat")
    world.weigh_series(here, {0: "130.0", 7: "121.0", 14: "118.4", 20: "117.6"})
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    (stands,) = read_shelf(world.workshop, world.now.date()).standing
    # Cut on the day after it is expected to be gone.
    run = planned(world, version, days=(stands.last_day - world.now.date()).days)
    assert ExpectedCure.objects.within(world.workshop).get(run=run).places.count() == 1
    assert cramped_runs(workshop=world.workshop, at=world.now) == []
    later = world.days_ago(-14)
    world.now = later
    world.weigh_series(here, {27: "116.0", 34: "113.2"})
    learn_and_foretell(workshop_id=world.workshop.pk, at=later)
    (found,) = cramped_runs(workshop=world.workshop, at=later)
    assert [name for name, _until in found.crowds[0].beside] == [str(here)]
    morning(world)
    (told,) = notices(world)
    assert str(here) in told.body
    assert told.state == Notice.State.OPEN


def test_what_is_moved_called_off_or_has_room_again_is_told_no_longer(world: World, version: FormulaVersion) -> None:
    world.rack(levels=1, places=1, capacity=24)
    run = planned(world, version, bars=24)
    other = planned(world, version, days=6, bars=20)
    morning(world)
    (told,) = notices(world)
    assert told.path == f"/runs/{other.pk}/"
    last = ExpectedCure.objects.within(world.workshop).get(run=run).stays_until
    assert "Poured on " in told.body
    move_run(actor=world.actor, run=other, pour_on=last, at=world.now)
    told.refresh_from_db()
    assert (told.state, told.closed_why) == (Notice.State.WITHDRAWN, "There is a place for all its bars.")
    move_run(actor=world.actor, run=other, pour_on=in_days(world, 7), at=world.now)
    morning(world)
    assert len(notices(world)) == 2
    call_off_run(actor=world.actor, run=other, why="no market", at=world.now)
    assert [one.state for one in notices(world)] == [Notice.State.WITHDRAWN] * 2


def test_when_the_batch_is_carried_away_or_the_place_made_larger_it_is_told_no_longer(
    world: World, version: FormulaVersion
) -> None:
    rack = world.rack(levels=1, places=2, capacity=30)
    here, there = world.position(rack), world.position(rack, 1, 2)
    planned(world, version)
    batch = world.batch(cut_days_ago=1, position=here, formula_name="Olive & oat")
    morning(world)
    carried = {"actor": world.actor, "batch": batch, "moved_at": world.now, "at": world.now, "bars": batch.bars_left}
    placing.move(**carried, origin=here, target=there)
    assert [one.state for one in notices(world)] == [Notice.State.WITHDRAWN]
    placing.move(**carried, origin=there, target=here)
    morning(world)
    placing.set_capacity(actor=world.actor, position=here, capacity_bars=60, at=world.now)
    assert [one.state for one in notices(world)] == [Notice.State.WITHDRAWN] * 2


def test_when_the_batch_is_taken_out_it_is_told_no_longer(world: World, version: FormulaVersion) -> None:
    rack = world.rack(levels=1, places=1, capacity=30)
    planned(world, version)
    batch = world.batch(cut_days_ago=1, position=world.position(rack), formula_name="Olive & oat")
    morning(world)
    gone = TakeOutEntry(batch.bars_left, "gift", world.now, "a neighbour asked")
    take_out(actor=world.actor, batch=batch, entry=gone, at=world.now)
    assert [one.state for one in notices(world)] == [Notice.State.WITHDRAWN]


def test_a_run_poured_and_not_cut_is_told_to_choose_at_the_cut(world: World, version: FormulaVersion) -> None:
    rack = world.rack(levels=1, places=1, capacity=30)
    run = planned(world, version, days=0)
    entry = world.batch_entry(cut_days_ago=None, formula_name="Olive & oat")
    enter_batch(actor=world.actor, entry=entry, rack=RackEntry(), run=run, at=world.now)
    other = world.batch(cut_days_ago=1, formula_name="Rye bar")
    placing.place(actor=world.actor, batch=other, position=world.position(rack), bars=10, moved_at=world.now, at=world.now)
    morning(world)
    (told,) = notices(world)
    assert "When you cut it, choose other places, or make room before." in told.body


def test_far_off_runs_and_workshops_without_racks_are_left_in_peace(world: World, version: FormulaVersion) -> None:
    planned(world, version)
    morning(world)
    assert notices(world) == []
    add_rack(workshop=world.workshop, name="Shelf", levels=1, places=1, capacity_bars=4)
    far = planned(world, version, days=60)
    morning(world)
    assert f"/runs/{far.pk}/" not in [one.path for one in notices(world)]
