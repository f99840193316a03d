"""How a material was used so far, read of the ledger and of the pours."""

from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.core.stock.reorder.announced import share_open
from curehouse.core.stock.reorder.unplanned import learn_season
from curehouse.flows.propose import look_tonight
from curehouse.flows.reorder_room import read_room
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.making.models import Batch
from curehouse.making.services.formulas import write_formula
from curehouse.making.services.runs import plan_run, pour_run
from curehouse.making.use_history import KNOWN_DAYS, UseHistory, use_history
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


def test_how_often_anything_is_used_is_told_by_all_materials_of_the_last_year(world: World) -> None:
    oil = world.lot("9000", days_here=45)
    world.lot("900", material=world.material("Lard"), days_here=9)
    old = world.lot("900", material=world.material("Pigment"), days_here=600, best_before=None)
    world.material("Never here")
    for days_ago in range(1, 13):
        used(world, oil, days_ago)
    used(world, old, 370)
    assert history(world, oil.material).mean_rate == pytest.approx(12 / (46 + 10 + 365))


def test_what_was_used_long_ago_is_forgotten(world: World) -> None:
    lot = world.lot("9000", days_here=1500, best_before=None)
    used(world, lot, 1000)
    used(world, lot, 700)
    known = history(world, lot.material).known
    assert [one.day for one in known.uses] == [-700]
    assert known.known_days == KNOWN_DAYS


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
    for asked in (history(world, lot.material).announced, read_room(workshop=world.workshop, at=world.now).past.announced):
        assert asked.tolist() == []
    Batch.unscoped.update(is_brought_in=False)
    assert read_room(workshop=world.workshop, at=world.now).past.announced.tolist() == told


def test_a_house_of_a_year_has_a_season_only_where_its_pours_show_one(world: World) -> None:
    olive = world.lot("900").material
    for place in range(24):
        world.batch(cut_days_ago=300 - place % 4, formula_name=f"S {place}")
    assert set(history(world, olive).season.factors) == {1.0}, "of ten months nobody knows what comes back each year"
    world.batch(cut_days_ago=380)
    season = history(world, olive).season
    assert max(season.factors) > 1.5
    assert int(season.factors.argmax()) in {(int(season.months(-300)) + apart) % 12 for apart in (-1, 0, 1)}


def test_the_night_and_the_page_are_told_the_same_of_the_past(world: World) -> None:
    """Of a batch that took on two days, of uses of no batch, of long ago, and of a season that the pours show."""
    olive, lard = world.lot("9000", days_here=1000, best_before=None), world.lot("900", material=world.material("Lard"))
    second = world.lot("900")
    for place in range(30):
        world.batch(cut_days_ago=330 - place % 9, formula_name=f"S {place}")
    batch = world.batch(cut_days_ago=700)
    for lot, ago in ((olive, 9), (second, 7)):
        book_use(
            actor=world.actor, batch=batch, lines=[UseLine(lot, Decimal(100))], used_at=world.days_ago(ago), at=world.now
        )  # fmt: skip
    for lot, ago in ((olive, 900), (olive, 710), (olive, 3), (lard, 3), (lard, 3)):
        used(world, lot, ago)
    room = read_room(workshop=world.workshop, at=world.now)
    assert {one.key for one in room.kept} == {str(lot.material_id) for lot in (olive, lard)}
    for kept in room.kept:
        page = history(world, room.materials[kept.key])
        assert (kept.uses, kept.known_days) == (page.known.uses, page.known.known_days)
        assert room.past.mean_rate == page.mean_rate
        assert room.past.announced.tolist() == page.announced.tolist()
        assert room.past.season.factors.tolist() == page.season.factors.tolist()
        assert room.past.season.growth == page.season.growth
    assert max(room.past.season.factors) > 1.5
    taken = {one.key: [(use.day, use.quantity) for use in one.uses] for one in room.kept}
    assert taken[str(olive.material_id)] == [(-710, 100), (-7, 200), (-3, 100)]
    assert taken[str(lard.material_id)] == [(-3, 100), (-3, 100)]


def test_what_a_night_looks_for_follows_the_season_of_the_pours(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    """A batch of eight materials is one pour, and no eight times as sure of its month."""
    lots = [world.lot("9000", material=world.material(f"Oil {place}"), days_here=400, best_before=None) for place in range(8)]
    for ago in (395, 300, 200, 100, 9):
        lines = [UseLine(lot, Decimal(100)) for lot in lots]
        book_use(
            actor=world.actor, batch=world.batch(cut_days_ago=ago), lines=lines, used_at=world.days_ago(ago), at=world.now
        )  # fmt: skip
    told = {}
    monkeypatch.setattr("curehouse.flows.propose.look", lambda *_rows, **more: told.update(more))
    look_tonight(read_room(workshop=world.workshop, at=world.now))
    season = history(world, lots[0].material).season
    assert told["season"].factors.tolist() == season.factors.tolist()
    assert told["usual_rate"] == history(world, lots[0].material).mean_rate
    of_materials = learn_season(
        [history(world, lot.material).known for lot in lots], first_month=world.now.month - 1, day_of_month=world.now.day
    )  # fmt: skip
    assert max(season.factors) < max(of_materials.factors)
