"""Runs that are planned: announced once, moved and called off on record, and reserved for exactly once."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.common.errors import Conflict, Invalid
from curehouse.flows.stock import count
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.making.formulas.entries import Per
from curehouse.making.models import FormulaVersion, Reservation, Run, RunChange
from curehouse.making.services import write_batch
from curehouse.making.services.formulas import retire_formula, write_formula, write_version
from curehouse.making.services.run_needs import run_needs
from curehouse.making.services.runs import call_off_run, move_run, plan_run, pour_run, reserve_run
from inventory.models import Material
from tests.formulas import LIQUIDS, fat, formula_entry
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def world() -> World:
    return World()


def version_of(world: World, **changes: object) -> FormulaVersion:
    """Write a soap whose olive oil and lye are kept in the storeroom, and its coconut and liquids are not."""
    olive, lye = kept_things(world)
    lines = (fat("olive", "700", material=olive), fat("coconut", "300"), *LIQUIDS)
    entry = formula_entry(lines=lines, naoh_from=lye, **changes)
    return write_formula(actor=world.actor, entry=entry, at=world.now)


def kept_things(world: World) -> tuple[Material, Material]:
    found = {one.name: one for one in Material.objects.within(world.workshop)}
    olive = found.get("Olive oil") or world.material(name="Olive oil", kind="fat")
    lye = found.get("Sodium hydroxide") or world.material(name="Sodium hydroxide", kind="lye")
    return olive, lye


def planned(world: World, version: FormulaVersion | None = None, *, days: int = 10, fats_g: str = "2000") -> Run:
    return plan_run(
        actor=world.actor,
        version=version or version_of(world),
        fats_g=Decimal(fats_g),
        pour_on=world.now.date() + timedelta(days=days),
        at=world.now,
    )


def reserved(run: Run) -> dict[str, Decimal]:
    rows = Reservation.objects.within(run.workshop).filter(run=run).select_related("material")
    return {row.material.name: row.amount_g for row in rows}


def standing(world: World) -> list[tuple[str, object, Decimal]]:
    rows = Reservation.objects.within(world.workshop).standing().select_related("material")
    return [(row.material.name, row.run.pour_on, row.amount_g) for row in rows]


def test_a_run_reserves_what_it_takes_of_the_storeroom_and_names_what_is_not_kept_there(world: World) -> None:
    version = version_of(world)
    needs = {need.name: (need.amount_g, need.is_kept) for need in run_needs(version, Decimal(2000), at=world.now).needs}
    lye_g = needs["Sodium hydroxide"][0]
    assert needs == {
        "Olive oil": (1400, True),
        "coconut oil": (600, False),
        "water": (300, False),
        "goat's milk": (340, False),
        "Sodium hydroxide": (lye_g, True),
    }
    assert 260 < lye_g < 290
    assert reserved(planned(world, version)) == {"Olive oil": Decimal(1400), "Sodium hydroxide": lye_g}


def test_a_thing_that_goes_in_twice_is_reserved_once_for_both(world: World) -> None:
    olive, lye = kept_things(world)
    lines = (fat("olive", "700", material=olive), fat("olive", "300", material=olive), *LIQUIDS)
    version = write_formula(actor=world.actor, entry=formula_entry(lines=lines, naoh_from=lye), at=world.now)
    assert reserved(planned(world, version, fats_g="500"))["Olive oil"] == 500


def test_nothing_is_refused_because_it_is_short(world: World) -> None:
    run = planned(world, fats_g="800000")
    assert run.state == Run.State.PLANNED
    assert reserved(run)["Olive oil"] == 560_000


def test_moved_it_keeps_the_day_it_was_announced_and_says_who_moved_it_from_when(world: World) -> None:
    run = planned(world)
    first, later = run.pour_on, world.now.date() + timedelta(days=24)
    at = world.now + timedelta(days=3)
    moved = move_run(actor=world.actor, run=run, pour_on=later, why="the milk comes later", at=at)
    assert (moved.pour_on, moved.announced_on) == (later, world.now.date())
    assert {day for _name, day, _g in standing(world)} == {later}, "what was reserved moves along"
    said = list(RunChange.objects.within(world.workshop).filter(run=run).order_by("pk"))
    assert [(one.what, one.was_on, one.pour_on, one.why, one.at, one.by_user) for one in said] == [
        ("planned", None, first, "", world.now, world.owner),
        ("moved", first, later, "the milk comes later", at, world.owner),
    ]


def test_called_off_it_gives_back_what_was_reserved_and_stays_on_record(world: World) -> None:
    run, other = planned(world), planned(world, version_of(world, name="Another"), fats_g="300")
    call_off_run(actor=world.actor, run=run, why="no market that week", at=world.now)
    run.refresh_from_db()
    assert (run.state, run.announced_on) == ("called_off", world.now.date())
    assert [row[2] for row in standing(world) if row[0] == "Olive oil"] == [210]
    for again in (
        lambda: call_off_run(actor=world.actor, run=run, why="twice", at=world.now),
        lambda: move_run(actor=world.actor, run=run, pour_on=other.pour_on + timedelta(days=1), at=world.now),
        lambda: reserve_run(actor=world.actor, run=run, at=world.now),
    ):
        with pytest.raises(Conflict, match="This run is called off already: plan another."):
            again()


def test_reserved_anew_it_takes_what_its_formula_takes_today_and_nothing_twice(world: World) -> None:
    version = version_of(world)
    run = planned(world, version)
    olive, lye = kept_things(world)
    lines = (fat("olive", "500", material=olive), fat("coconut", "500"), *LIQUIDS)
    entry = formula_entry(lines=lines, naoh_from=lye)
    write_version(actor=world.actor, formula=version.formula, entry=entry, over=version.pk, at=world.now)
    assert reserved(run)["Olive oil"] == 1400, "until somebody says so it stays as it was announced"
    again = reserve_run(actor=world.actor, run=run, fats_g=Decimal(3000), at=world.now)
    assert (again.version.revision, again.fats_g, again.announced_on) == (2, 3000, run.announced_on)
    assert reserved(run)["Olive oil"] == 1500
    said = RunChange.objects.within(world.workshop).filter(run=run).order_by("pk")
    assert [(one.what, one.fats_g, one.version.revision) for one in said] == [("planned", 2000, 1), ("reserved", 3000, 2)]


def test_poured_it_points_at_its_batch_and_its_materials_stay_reserved_until_they_are_booked(world: World) -> None:
    version = version_of(world)
    run = planned(world, version)
    entry = replace(
        world.batch_entry(fats_g=Decimal(1000), lye_g=Decimal(136)), version=version, formula_name=version.formula.name
    )
    batch = write_batch(actor=world.actor, entry=entry, at=world.now)
    assert pour_run(actor=world.actor, run=run, batch=batch, at=world.now).batch == batch
    assert [row[0] for row in standing(world)] == ["Olive oil", "Sodium hydroxide"], "it is gone, but stands in the books"
    (olive, lye), later = kept_things(world), world.now + timedelta(hours=1)
    lot = world.lot("1400", material=olive)
    book_use(actor=world.actor, batch=batch, lines=[UseLine(lot, Decimal(1400))], used_at=world.now, at=world.now)
    assert [row[0] for row in standing(world)] == ["Sodium hydroxide"]
    lot = world.lot("500", material=lye)
    count(actor=world.actor, lot=lot, counted=Decimal(300), moment=later, at=later, reason="weighed")
    assert standing(world) == []
    other = planned(world, version_of(world, name="Another"))
    with pytest.raises(Conflict, match="The run is of Another, and this batch is of Goat's milk"):
        pour_run(actor=world.actor, run=other, batch=batch, at=world.now)


def test_lye_that_must_not_be_weighed_out_is_not_reserved_either(world: World) -> None:
    version = version_of(world, naoh_share=Decimal("0.9"), koh_purity=Decimal("0.9"))
    assert {one.name for one in run_needs(version, Decimal(1000), at=world.now).needs if one.amount_g is not None} >= {
        "Sodium hydroxide",
        "potassium hydroxide (KOH)",
    }
    tiny = [need for need in run_needs(version, Decimal("2"), at=world.now).needs if need.material is not None]
    assert [need.amount_g for need in tiny if need.material.kind == "lye"] == [None], "no scale can weigh that out"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"days": -1}, "This day is past: choose today or later"),
        ({"days": 800}, "lies over two years ahead: check its year"),
        ({"fats_g": "0"}, "The oils must weigh more than 0 and at most a tonne"),
        ({"fats_g": "NaN"}, "The oils must weigh more than 0"),
        ({"fats_g": "2000000"}, "at most a tonne"),
    ],
)
def test_a_run_that_cannot_be_is_refused_in_words_and_nothing_is_written(world: World, change, said: str) -> None:
    version = version_of(world)
    with pytest.raises(Invalid, match=said):
        planned(world, version, **change)
    assert not Run.objects.within(world.workshop).exists()
    assert not RunChange.objects.within(world.workshop).exists()


def test_a_version_that_was_written_anew_and_a_formula_out_of_use_are_not_planned(world: World) -> None:
    old = version_of(world)
    new = write_version(actor=world.actor, formula=old.formula, entry=formula_entry(), over=old.pk, at=world.now)
    with pytest.raises(Conflict, match="was written anew meanwhile"):
        planned(world, old)
    retire_formula(formula=old.formula, at=world.now)
    with pytest.raises(Conflict, match="is out of use: put it into use again, then plan a run of it"):
        planned(world, new)


def test_a_day_it_has_already_and_no_reason_are_asked_about(world: World) -> None:
    run = planned(world)
    with pytest.raises(Invalid, match="It is planned for .* already: choose another day"):
        move_run(actor=world.actor, run=run, pour_on=run.pour_on, at=world.now)
    with pytest.raises(Invalid, match="Say why"):
        call_off_run(actor=world.actor, run=run, why="  ", at=world.now)


def test_what_is_typed_in_shares_scales_with_the_run(world: World) -> None:
    olive, lye = kept_things(world)
    lines = (fat("olive", "0.7", Per.FATS, material=olive), fat("coconut", "0.3", Per.FATS), *LIQUIDS)
    entry = formula_entry(lines=lines, fats_g=Decimal(1000), naoh_from=lye)
    version = write_formula(actor=world.actor, entry=entry, at=world.now)
    assert reserved(planned(world, version, fats_g="2500"))["Olive oil"] == 1750
