"""How a material was used so far, read of the ledger and of the pours."""

from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.core.stock.reorder.announced import share_open
from curehouse.flows.reorder_room import read_room
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.making.models import Batch
from curehouse.making.services.formulas import write_formula
from curehouse.making.services.runs import plan_run, pour_run
from curehouse.making.use_history import MOST_KNOWN_DAYS, UseHistory, use_history
from inventory.models import Material
from inventory.services.movements import use, write_off
from tests.formulas import formula_entry
from tests.world import World

pytestmark = pytest.mark.django_db


def history(world: World, material: Material, days_later: int = 0) -> UseHistory:
    return use_history(material=material, planned=(), at=world.now + timedelta(days=days_later))


def used(world: World, lot, days_ago: float, grams: str = "100") -> None:
    use(actor=world.actor, lot=lot, amount=Decimal(grams), moment=world.days_ago(days_ago), at=world.now)


def test_what_a_batch_took_of_several_lots_is_one_use_and_what_was_written_off_none(world: World) -> None:
    lots = [world.lot("900"), world.lot("900")]
    lines = [UseLine(lots[0], Decimal(900)), UseLine(lots[1], Decimal(300))]
    book_use(actor=world.actor, batch=world.batch(), lines=lines, used_at=world.days_ago(6), at=world.now)
    used(world, lots[1], 2)
    write_off(actor=world.actor, lot=lots[1], amount=Decimal(5), reason="spilt", moment=world.now, at=world.now)
    known = history(world, lots[0].material).known
    assert [(one.day, one.quantity) for one in known.uses] == [(-6, 1200), (-2, 100)]
    assert known.known_days == 31, "since the first lot came, today counted"


def test_uses_of_other_materials_and_of_the_house_next_door_are_not_among_them(world: World, stranger: World) -> None:
    oil, lard = world.lot("900"), world.lot("900", material=world.material("Lard"))
    used(world, lard, 3)
    used(stranger, stranger.lot("900"), 3)
    assert history(world, oil.material).known.uses == []
    assert history(world, lard.material).known.uses != []


def test_how_often_anything_is_used_is_told_by_all_materials_of_the_last_months(world: World) -> None:
    oil = world.lot("9000", days_here=45)
    world.lot("900", material=world.material("Lard"), days_here=9)
    world.material("Never here")
    for days_ago in range(1, 13):
        used(world, oil, days_ago)
    assert history(world, oil.material).mean_rate == pytest.approx(12 / (46 + 10))


def test_what_was_used_long_ago_is_forgotten(world: World) -> None:
    lot = world.lot("9000", days_here=1500, best_before=None)
    used(world, lot, 1300)
    used(world, lot, 1000)
    known = history(world, lot.material).known
    assert [one.day for one in known.uses] == [-1000]
    assert known.known_days == MOST_KNOWN_DAYS


def test_pours_tell_how_long_before_they_were_planned_but_those_brought_in_do_not(world: World) -> None:
    olive = world.lot("900").material
    version = write_formula(actor=world.actor, entry=formula_entry(), at=world.days_ago(40))
    run = plan_run(
        actor=world.actor, version=version, fats_g=Decimal(1000), pour_on=world.now.date(), at=world.days_ago(12)
    )  # fmt: skip
    batch = world.batch(cut_days_ago=None, formula_name=version.formula.name)
    pour_run(actor=world.actor, run=run, batch=batch, at=world.now)
    assert history(world, olive).announced.tolist() == [], "one pour tells nothing"
    for place in range(9):
        world.batch(cut_days_ago=20, formula_name=f"Never planned {place}")
    notice = (batch.poured_at.date() - run.announced_on).days
    assert notice > 5
    assert history(world, olive).announced.tolist() == share_open([notice, *[0] * 9]).tolist()
    Batch.unscoped.filter(pk=batch.pk).update(is_brought_in=True)
    assert history(world, olive).announced.tolist() == [], "nobody knows when it was planned"


def test_the_page_and_the_night_are_told_the_same_of_how_early_runs_are_planned(world: World) -> None:
    lot = world.lot("900")
    for place in range(12):
        world.batch(cut_days_ago=20, formula_name=f"Never planned {place}")
    used(world, lot, 3)
    told = history(world, lot.material).announced.tolist()
    assert told == share_open([0] * 12, 1).tolist()
    Batch.unscoped.update(is_brought_in=True)
    for asked in (history(world, lot.material).announced, read_room(workshop=world.workshop, at=world.now).unplanned):
        assert asked.tolist() == []
    Batch.unscoped.update(is_brought_in=False)
    assert read_room(workshop=world.workshop, at=world.now).unplanned.tolist() == told


def test_a_house_of_a_year_has_a_season_only_where_its_pours_show_one(world: World) -> None:
    olive = world.lot("900").material
    for place in range(24):
        world.batch(cut_days_ago=300 - place % 4, formula_name=f"S {place}")
    assert set(history(world, olive).season.factors) == {1.0}, "of ten months nobody knows what comes back each year"
    world.batch(cut_days_ago=380)
    season = history(world, olive).season
    assert max(season.factors) > 1.5
    assert int(season.factors.argmax()) in {(int(season.months(-300)) + apart) % 12 for apart in (-1, 0, 1)}
