"""Places kept for runs: for the whole of the cure, never more than there is room for, and given back with the run."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from curehouse.common.errors import Invalid
from curehouse.core.planning.shelf import clashes
from curehouse.curing.models import ExpectedCure, KeptPlace, Occupancy, Position
from curehouse.curing.services.places import bars_without_place
from curehouse.curing.shelf import days_kept, read_shelf
from curehouse.flows.enter_batch import RackEntry, cut, enter_batch, link_run
from curehouse.flows.foretell import learn_and_foretell
from curehouse.flows.pour_ahead import pour_ahead
from curehouse.flows.run_places import PlacesAhead, look_for_places
from curehouse.flows.runs import call_off_run, move_run, plan_run, reserve_run
from curehouse.making.models import Batch, FormulaVersion, Run
from curehouse.making.services.formulas import write_formula
from tests.formulas import formula_entry
from tests.web.visitor import dry_batch
from tests.world import World

pytestmark = pytest.mark.django_db
FAR = 400


@pytest.fixture
def version(world: World) -> FormulaVersion:
    return write_formula(actor=world.actor, entry=formula_entry(name="Olive & oat"), at=world.now)


def in_days(world: World, days: int) -> date:
    return world.now.date() + timedelta(days=days)


def planned(world: World, version: FormulaVersion, *, days: int = 5, bars: int | None = 30) -> Run:
    return plan_run(
        actor=world.actor, version=version, fats_g=Decimal(2000), pour_on=in_days(world, days), bars=bars, at=world.now
    )


def looked(world: World, version: FormulaVersion, *, days: int = 5, bars: int | None = 30) -> PlacesAhead:
    return look_for_places(version=version, fats_g=Decimal(2000), pour_on=in_days(world, days), bars=bars, at=world.now)


def kept(world: World, run: Run) -> list[tuple[int, int, int]]:
    """Return level, place and bars of what is kept for a run, in walking order."""
    rows = KeptPlace.objects.within(world.workshop).filter(cure__run=run)
    return sorted((row.position.level, row.position.place, row.bars) for row in rows.select_related("position"))


def load(world: World, day: int) -> int:
    """Return how many bars are on the racks or kept for, on a day ahead."""
    shelf = read_shelf(world.workshop, world.now.date()).shelf()
    assert clashes(shelf, first_day=world.now.date().toordinal(), days=FAR) == ()
    return int(shelf.load(in_days(world, day).toordinal(), 1).sum())


def test_places_are_kept_from_the_cut_until_nine_of_ten_such_batches_are_dry_enough(
    world: World, version: FormulaVersion
) -> None:
    world.rack()
    run = planned(world, version)
    expected = ExpectedCure.objects.within(world.workshop).get(run=run)
    ahead = pour_ahead(version=version, at=world.now, pour_on=run.pour_on)
    assert (expected.bars, expected.cut_on) == (30, in_days(world, 6))
    assert expected.stays_until == ahead.dry_on(0.9, pour_on=run.pour_on)
    assert expected.half_dry_on == ahead.dry_on(0.5, pour_on=run.pour_on)
    assert expected.is_told
    assert kept(world, run) == [(1, 1, 24), (1, 2, 6)]
    until = (expected.stays_until - world.now.date()).days
    assert [load(world, day) for day in (5, 6, until, until + 1)] == [0, 30, 30, 0]


def test_what_is_asked_before_is_what_is_kept(world: World, version: FormulaVersion) -> None:
    world.rack()
    found = looked(world, version, bars=50)
    assert KeptPlace.objects.within(world.workshop).count() == 0
    run = planned(world, version, bars=50)
    assert kept(world, run) == [(position.level, position.place, bars) for position, bars in found.places]


def test_a_second_run_gets_what_the_first_leaves_and_is_told_what_lacks(world: World, version: FormulaVersion) -> None:
    world.rack(levels=1, places=2, capacity=24)
    first = planned(world, version, bars=30)
    found = looked(world, version, days=10, bars=30)
    assert ([bars for _position, bars in found.places], found.lacking) == ([18], 12)
    second = planned(world, version, days=10, bars=30)
    assert (kept(world, first), kept(world, second)) == ([(1, 1, 24), (1, 2, 6)], [(1, 2, 18)])
    # From the day on which the first has gone there is room for all.
    gone = ExpectedCure.objects.within(world.workshop).get(run=first).stays_until
    assert found.pour_first_on == gone
    move_run(actor=world.actor, run=second, pour_on=found.pour_first_on, at=world.now)
    assert sum(bars for _level, _place, bars in kept(world, second)) == 30


def test_moving_and_calling_off_gives_them_back(world: World, version: FormulaVersion) -> None:
    world.rack()
    run = planned(world, version)
    move_run(actor=world.actor, run=run, pour_on=in_days(world, 20), at=world.now)
    assert [load(world, day) for day in (6, 20, 21)] == [0, 0, 30]
    call_off_run(actor=world.actor, run=run, why="the market is off", at=world.now)
    assert load(world, 21) == 0
    assert KeptPlace.objects.within(world.workshop).count() == 0


def test_a_larger_run_needs_more_of_them(world: World, version: FormulaVersion) -> None:
    world.rack()
    run = planned(world, version)
    reserve_run(actor=world.actor, run=run, fats_g=Decimal(4000), at=world.now)
    assert sum(bars for _level, _place, bars in kept(world, run)) == 60


def test_without_a_word_it_is_as_many_bars_as_batches_of_the_formula_gave(world: World, version: FormulaVersion) -> None:
    world.rack()
    with pytest.raises(Invalid) as refused:
        looked(world, version, bars=None)
    assert refused.value.field == "bars"
    run = planned(world, version, bars=None)
    assert not ExpectedCure.objects.within(world.workshop).filter(run=run).exists()
    batch = world.batch(cut_days_ago=3, formula_name="Olive & oat")
    expected = round(2000 * batch.bars_cut / float(batch.fats_g))
    assert looked(world, version, bars=None).cure.bars == expected
    reserve_run(actor=world.actor, run=run, at=world.now)
    assert ExpectedCure.objects.within(world.workshop).get(run=run).bars == expected


def test_a_batch_that_stands_leaves_by_its_forecast_and_one_nothing_is_foretold_of_stays(
    world: World, version: FormulaVersion
) -> None:
    rack = world.rack(levels=1, places=1, capacity=40)
    here = world.batch(cut_days_ago=2, position=world.position(rack), formula_name="Olive & oat")
    assert 0 < here.bars_left < 40
    # Nothing is foretold of it yet.
    assert looked(world, version, days=60, bars=40).lacking == here.bars_left
    weights = {0: "130.0", 1: "128.0", 2: "126.6"}
    world.weigh_series(here, weights)
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    found = looked(world, version, days=100, bars=40)
    assert found.lacking == 0
    assert [one.batch for one in found.leave_first] == [here]
    assert in_days(world, 25) < found.leave_first[0].last_day < in_days(world, 100)


def test_places_that_are_empty_already_come_before_those_that_somebody_has_to_leave(
    world: World, version: FormulaVersion
) -> None:
    rack = world.rack(levels=1, places=2, capacity=30)
    here = dry_batch(world, position=world.position(rack), formula_name="Olive & oat")
    found = looked(world, version, bars=24)
    assert ([(at.place, bars) for at, bars in found.places], found.leave_first) == ([(2, 24)], ())
    more = looked(world, version, bars=50)
    assert (more.lacking, [one.batch for one in more.leave_first]) == (0, [here])


def test_when_the_bars_stand_on_the_racks_nothing_is_kept_for_them_any_more(world: World, version: FormulaVersion) -> None:
    rack = world.rack()
    run = planned(world, version, days=0)
    assert load(world, 1) == 30
    entry = world.batch_entry(cut_days_ago=None, formula_name="Olive & oat")
    batch = enter_batch(actor=world.actor, entry=entry, rack=RackEntry(), run=run, at=world.now)
    assert load(world, 1) == 30, "poured and not cut: its bars are still to come"
    onto = RackEntry(position=world.position(rack, 2, 1))
    cut(
        actor=world.actor,
        batch=batch,
        cut_at=world.now + timedelta(hours=20),
        bars=20,
        rack=onto,
        at=world.now + timedelta(days=1),
    )
    assert load(world, 1) == 20


def poured(world: World, run: Run) -> Batch:
    entry = world.batch_entry(cut_days_ago=None, formula_name="Olive & oat")
    return enter_batch(actor=world.actor, entry=entry, rack=RackEntry(), run=run, at=world.now)


def stands(world: World, batch: Batch) -> list[tuple[str, int]]:
    rows = Occupancy.objects.within(world.workshop).filter(batch=batch).standing().select_related("position__rack")
    return sorted((str(row.position), row.bars) for row in rows)


def test_at_the_cut_the_bars_go_to_the_places_that_were_kept_for_them(world: World, version: FormulaVersion) -> None:
    world.rack()
    batch = poured(world, planned(world, version, days=0))
    later = world.now + timedelta(days=1)
    cut(actor=world.actor, batch=batch, cut_at=later, bars=29, rack=RackEntry(at_kept=True), at=later)
    assert stands(world, batch) == [("North wall, level 1, place 1", 24), ("North wall, level 1, place 2", 5)]


def test_what_finds_its_kept_place_taken_stays_without_one_and_nothing_is_refused(
    world: World, version: FormulaVersion
) -> None:
    rack = world.rack()
    batch = poured(world, planned(world, version, days=0))
    world.batch(position=world.position(rack), bars=20)
    later = world.now + timedelta(days=1)
    batch = cut(actor=world.actor, batch=batch, cut_at=later, bars=30, rack=RackEntry(at_kept=True), at=later)
    assert stands(world, batch) == [("North wall, level 1, place 1", 4), ("North wall, level 1, place 2", 6)]
    assert bars_without_place(batch) == 20


def test_a_run_whose_day_is_past_counts_as_poured_today(world: World, version: FormulaVersion) -> None:
    world.rack()
    run = planned(world, version, days=3)
    until = ExpectedCure.objects.within(world.workshop).get(run=run).stays_until
    later = read_shelf(world.workshop, in_days(world, 13)).shelf()
    days = [in_days(world, 13).toordinal(), in_days(world, 14).toordinal(), (until + timedelta(days=10)).toordinal()]
    assert [int(later.load(day, 1).sum()) for day in (*days, days[-1] + 1)] == [0, 30, 30, 0]


def test_poured_on_another_day_its_places_are_kept_by_that_day(world: World, version: FormulaVersion) -> None:
    world.rack()
    run = planned(world, version, days=20)
    until = ExpectedCure.objects.within(world.workshop).get(run=run).stays_until
    entry = world.batch_entry(cut_days_ago=None, formula_name="Olive & oat")
    enter_batch(actor=world.actor, entry=entry, rack=RackEntry(), run=run, at=world.now)
    poured_on = entry.poured_at.date()
    kept_anew = ExpectedCure.objects.within(world.workshop).get(run=run)
    assert (kept_anew.pour_on, kept_anew.cut_on) == (poured_on, poured_on + timedelta(days=1))
    assert kept_anew.stays_until < until
    # As long as it is not cut it is cut today at the earliest.
    (standing,) = read_shelf(world.workshop, in_days(world, 9)).kept
    assert days_kept(standing, in_days(world, 9))[0] == in_days(world, 9)


def test_a_batch_named_after_its_pour_keeps_the_places_too(world: World, version: FormulaVersion) -> None:
    world.rack()
    run = planned(world, version, days=20)
    entry = world.batch_entry(cut_days_ago=None, formula_name="Olive & oat")
    batch = enter_batch(actor=world.actor, entry=entry, rack=RackEntry(), at=world.now)
    link_run(actor=world.actor, run=run, batch=batch, at=world.now)
    assert ExpectedCure.objects.within(world.workshop).get(run=run).pour_on == entry.poured_at.date()


def test_without_racks_the_days_are_kept_and_no_places(world: World, version: FormulaVersion) -> None:
    found = looked(world, version)
    assert (found.places, found.lacking, found.pour_first_on) == ((), 30, None)
    run = planned(world, version)
    assert ExpectedCure.objects.within(world.workshop).get(run=run).bars == 30
    assert Position.objects.within(world.workshop).count() == 0


@pytest.mark.parametrize("bars", [0, -3, 5001])
def test_a_wild_number_of_bars_is_refused(world: World, version: FormulaVersion, bars: int) -> None:
    with pytest.raises(Invalid, match="number of bars"):
        planned(world, version, bars=bars)
    assert not Run.objects.within(world.workshop).exists()
