"""Two change one formula, or one changes what the other pours, at one moment."""

from dataclasses import replace
from decimal import Decimal
from functools import partial

import pytest

from curehouse.common.errors import Conflict
from curehouse.making.models import Batch, Formula, FormulaVersion
from curehouse.making.services import formulas, pours, write_batch
from curehouse.making.services.formulas import write_formula, write_version
from tests.arena import Arena
from tests.formulas import formula_entry
from tests.world import World

ROUNDS = 4


def written(world: World, name: str = "Goat's milk") -> FormulaVersion:
    return write_formula(actor=world.actor, entry=formula_entry(name=name), at=world.now)


def change(world: World, version: FormulaVersion) -> FormulaVersion:
    entry = formula_entry(name=version.formula.name, superfat=Decimal("0.08"))
    return write_version(actor=world.actor, formula=version.formula, entry=entry, over=version.pk, at=world.now)


def pour(world: World, version: FormulaVersion) -> Batch:
    entry = replace(
        world.batch_entry(fats_g=Decimal(1000), lye_g=Decimal(136)), version=version, formula_name=version.formula.name
    )  # fmt: skip
    return write_batch(actor=world.actor, entry=entry, at=world.now)


def poured_and_replaced(world: World) -> int:
    """Return how many batches were poured from a version that was written anew under the same number."""
    in_force = set(FormulaVersion.objects.within(world.workshop).in_force().values_list("pk", flat=True))
    return Batch.objects.within(world.workshop).exclude(version=None).exclude(version__in=in_force).count()


def test_of_two_who_change_one_version_one_is_told(arena: Arena) -> None:
    world = arena.do(World)
    for number in range(ROUNDS):
        version = arena.do(partial(written, world, f"Soap {number}"))
        outcomes = arena.race(partial(change, world, version), partial(change, world, version))
        assert [one.code for one in outcomes if isinstance(one, Conflict)] == ["written_meanwhile"], outcomes


def test_a_version_is_poured_or_written_anew_never_both(arena: Arena) -> None:
    world = arena.do(World)
    for number in range(ROUNDS):
        version = arena.do(partial(written, world, f"Soap {number}"))
        poured, changed = arena.race(partial(pour, world, version), partial(change, world, version))
        assert isinstance(changed, FormulaVersion), changed
        if isinstance(poured, Batch):
            assert (changed.number, changed.revision) == (2, 1)
        else:
            assert isinstance(poured, Conflict), poured
            assert (poured.code, changed.revision) == ("version_replaced", 2)
    assert arena.do(partial(poured_and_replaced, world)) == 0


def test_of_two_who_write_a_new_formula_of_one_name_one_is_told(arena: Arena) -> None:
    world = arena.do(World)
    for number in range(ROUNDS):
        name = f"Soap {number}"
        outcomes = arena.race(partial(written, world, name), partial(written, world, name))
        assert [one.code for one in outcomes if isinstance(one, Conflict)] == ["name_taken"], outcomes


def fresh(formula: Formula) -> Formula:
    return Formula.unscoped.get(pk=formula.pk)


def test_without_the_lock_a_version_is_poured_and_written_anew(arena: Arena, monkeypatch: pytest.MonkeyPatch) -> None:
    """On SQLite the one write lock, taken when a transaction begins, stands behind ours."""
    world = arena.do(World)
    for module in (formulas, pours):
        monkeypatch.setattr(module, "lock_formula", fresh)
    found = 0
    for number in range(ROUNDS if arena.vendor == "sqlite" else 20):
        version = arena.do(partial(written, world, f"Soap {number}"))
        arena.race(partial(pour, world, version), partial(change, world, version))
        found = arena.do(partial(poured_and_replaced, world))
        if found:
            break
    assert bool(found) == (arena.vendor == "postgresql")
