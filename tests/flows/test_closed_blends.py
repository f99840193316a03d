"""What is not mixed beforehand: lye with anything but water, and whatever a formula reckons with by figures of its own."""

from decimal import Decimal
from typing import Any

import pytest

from curehouse.common.errors import Conflict, DomainError, Invalid
from curehouse.flows.blends import write_blend
from curehouse.flows.stock import edit_material
from curehouse.making.formulas.entries import LineEntry, Role
from curehouse.making.models import FormulaVersion
from curehouse.making.services.formulas import retire_formula, take_up_formula, write_formula
from inventory.blends import recipes_of
from inventory.models import Material
from inventory.services.blends import BlendEntry
from inventory.services.things import MaterialEntry, retire_material
from tests.flows.test_blends import Bench
from tests.formulas import LIQUIDS, fat, formula_entry
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(world: World) -> Bench:
    return Bench(world)


def refused(kind: type[DomainError], code: str, verb: Any) -> str:
    with pytest.raises(kind) as refusal:
        verb()
    assert refusal.value.code == code
    return refusal.value.message


def with_acid(bench: Bench, acid: Material, **changes: Any) -> FormulaVersion:
    line = LineEntry(Role.ACID, material=acid, key="citric", amount=Decimal(20), form="anhydrous")
    entry = formula_entry(lines=(fat("olive", "1000", material=bench.olive), *LIQUIDS, line), naoh_from=bench.lye, **changes)
    return write_formula(actor=bench.world.actor, entry=entry, at=bench.world.now)


def test_what_holds_lye_already_is_neither_made_again_nor_a_part(bench: Bench) -> None:
    """Of older versions a material that is no lye may hold some: it can be ended, and goes into nothing."""
    world = bench.world
    base, top = (world.material(name, kind="additive") for name in ("Starter", "Top"))
    blend = bench.recipe(base, (1, bench.cedar), (1, "water"))
    Material.objects.within(world.workshop).filter(pk=bench.cedar.pk).update(kind="lye")
    bench.cedar.refresh_from_db()
    refused(Conflict, "lye_part", lambda: bench.recipe(base, (1, bench.cedar), (1, "water")))
    refused(Conflict, "lye_part", lambda: bench.recipe(top, (1, base), (1, bench.lavender)))
    cedar = world.lot("100", material=bench.cedar)
    refused(Conflict, "lye_part", lambda: bench.make(base, "20", (cedar, "10"), ("water", "10")))
    assert blend.number == 1
    write_blend(actor=world.actor, material=base, entry=BlendEntry(), at=world.now)
    assert base.pk not in recipes_of(world.workshop), "what was written before can be ended"


@pytest.mark.parametrize("kind", ["fat", "liquid", "packaging", "bars"])
def test_only_additives_fragrances_and_colours_are_mixed(bench: Bench, kind: str) -> None:
    other = bench.world.material("Other", kind=kind)
    refused(Conflict, "kind_not_mixed", lambda: bench.recipe(other, (1, bench.cedar)))
    mixed = bench.world.material("Clay", kind="colour")
    code = "kind_not_mixed" if kind in ("fat", "liquid") else "not_in_grams"
    refused(Conflict if kind in ("fat", "liquid") else Invalid, code, lambda: bench.recipe(mixed, (1, other)))


def test_what_a_formula_reckons_with_as_an_acid_is_not_mixed_and_a_mix_is_no_acid(bench: Bench) -> None:
    acid, powder = (bench.world.material(name, kind="additive") for name in ("Citric acid", "Acid powder"))
    version = with_acid(bench, acid)
    for made, parts in ((acid, (1, powder)), (powder, (1, acid))):
        refused(Conflict, "reckoned_with", lambda made=made, parts=parts: bench.recipe(made, parts, (1, "water")))
    retire_formula(formula=version.formula, at=bench.world.now)
    bench.recipe(acid, (1, powder), (1, "water"))
    refused(Invalid, "mixed_line", lambda: take_up_formula(formula=version.formula))
    version.formula.refresh_from_db()
    assert version.formula.retired_at is not None
    refused(Invalid, "mixed_line", lambda: with_acid(bench, powder, name="Another soap"))


def test_a_formula_is_taken_up_where_nothing_stands_against_it(bench: Bench) -> None:
    version = bench.version()
    retire_formula(formula=version.formula, at=bench.world.now)
    assert take_up_formula(formula=version.formula).retired_at is None


@pytest.mark.parametrize("kind", ["lye", "fat", "liquid"])
def test_what_is_mixed_stays_of_a_kind_that_is_mixed(bench: Bench, kind: str) -> None:
    world = bench.world

    def edit(row: Material, to: str) -> Material:
        return edit_material(material=row, entry=MaterialEntry(row.name, to), at=world.now)

    for row in (bench.mix, bench.lavender):
        refused(Conflict, "mixed_kind", lambda row=row: edit(row, kind))
    assert edit(bench.lavender, "additive").kind == "additive"
    retire_material(material=bench.mix, at=world.now)
    refused(Conflict, "mixed_kind", lambda: edit(bench.lavender, kind))


def test_a_material_of_which_lots_were_made_stays_of_its_kind_and_its_parts_are_free(bench: Bench) -> None:
    world = bench.world
    lavender, cedar = world.lot("400", material=bench.lavender), world.lot("400", material=bench.cedar)
    bench.make(bench.mix, "40", (lavender, "30"), (cedar, "10"))
    write_blend(actor=world.actor, material=bench.mix, entry=BlendEntry(), at=world.now)
    entry = MaterialEntry(bench.mix.name, "lye")
    refused(Conflict, "mixed_kind", lambda: edit_material(material=bench.mix, entry=entry, at=world.now))
    assert edit_material(material=bench.cedar, entry=MaterialEntry("Cedar oil", "fat"), at=world.now).kind == "fat"
