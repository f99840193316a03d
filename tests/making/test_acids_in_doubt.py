"""Acid that cannot be meant is refused where a formula is written, and odd acid kept once somebody read its figures."""

from dataclasses import replace
from decimal import Decimal

import pytest

from curehouse.common.errors import Conflict, Invalid
from curehouse.making.formulas.entries import FormulaEntry, LineEntry, Role
from curehouse.making.services.formulas import write_formula
from tests.formulas import FATS, LIQUIDS, formula_entry, liquid
from tests.world import World

pytestmark = pytest.mark.django_db


def with_acid(key: str, amount: str, **more: str) -> FormulaEntry:
    strength = Decimal(more.pop("strength")) if "strength" in more else None
    acid = LineEntry(Role.ACID, key=key, amount=Decimal(amount), strength=strength, **more)
    return formula_entry(lines=(*FATS, liquid("water", "250"), LIQUIDS[1], acid))


def test_four_kilos_of_acid_on_little_oil_are_refused_with_both_figures(world: World) -> None:
    with pytest.raises(Invalid) as caught:
        write_formula(actor=world.actor, entry=with_acid("citric", "4000", form="anhydrous"), at=world.now)
    assert caught.value.data["codes"][0] == "acid_over_fats"
    assert "more acid (4000.0 g) than fats (1000.0 g)" in caught.value.message


@pytest.mark.parametrize(
    ("entry", "code"),
    [
        (with_acid("citric", "80", form="anhydrous"), "acid_much"),
        (with_acid("acetic", "20", form="solution", strength="0.5"), "acid_strength_odd"),
    ],
)
def test_odd_acid_is_kept_once_its_figure_was_read(world: World, entry: FormulaEntry, code: str) -> None:
    with pytest.raises(Conflict) as caught:
        write_formula(actor=world.actor, entry=entry, at=world.now)
    assert code in caught.value.data["codes"]
    (asked,) = [one for one in caught.value.data["confirm"] if one.startswith(code)]
    kept = write_formula(actor=world.actor, entry=replace(entry, confirmed=(*entry.confirmed, asked)), at=world.now)
    assert asked in kept.confirmed
