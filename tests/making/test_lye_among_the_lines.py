"""Lye is worked out: named among what goes in it would be weighed a second time."""

import pytest

from curehouse.common.errors import Invalid
from curehouse.making.formulas.entries import GoesIn, LineEntry, Per, Role
from curehouse.making.formulas.known import is_called_lye
from curehouse.making.models import Formula
from curehouse.making.services.formulas import check_formula, write_formula
from tests.formulas import FATS, LIQUIDS, formula_entry
from tests.world import World

pytestmark = pytest.mark.django_db

LYE = [
    "NaOH", "koh", "KOH 90 %", "Sodium hydroxide", "Sodium  Hydroxide pearls", "caustic soda", "Natronlauge", "Ätznatron",
    "Kalilauge 45 %", "Potassium hydroxide flakes", "Soude caustique", "Idrossido di sodio", "Hidróxido de potasio", "Lye",
    "Lye pearls", "Lauge", "NaOH-Perlen", "Natriumhydroxide",
]  # fmt: skip
NO_LYE = [
    "Sodium lactate", "Potassium sorbate", "Sodium chloride", "Natriumlactat", "Goat's milk frozen for the lye",
    "Kaolin", "Alkali blue", "Chromium hydroxide green", "Lyes of wine", "Baking soda", "Barley", "Soap powder",
]  # fmt: skip


@pytest.mark.parametrize("name", LYE)
def test_what_lye_is_called(name: str) -> None:
    assert is_called_lye(name)


@pytest.mark.parametrize("name", NO_LYE)
def test_what_is_no_lye(name: str) -> None:
    assert not is_called_lye(name)


@pytest.mark.parametrize("role", [Role.ADDITIVE, Role.FRAGRANCE, Role.COLOUR, Role.LIQUID, Role.FAT])
@pytest.mark.parametrize("name", ["NaOH", "Natronlauge", "Potassium hydroxide"])
def test_lye_among_the_lines_is_refused_whatever_role_it_is_given(world: World, role: Role, name: str) -> None:
    more = LineEntry(role, name=name, per=Per.GRAMS, amount=128, goes_in=GoesIn.FRONT if role is Role.LIQUID else "")
    entry = formula_entry(lines=(*FATS, *LIQUIDS, more))
    for verb in (check_formula, write_formula):
        who = {"workshop": world.workshop} if verb is check_formula else {"actor": world.actor}
        with pytest.raises(Invalid, match="lye is worked out") as refused:
            verb(**who, entry=entry, at=world.now)
        assert refused.value.code == "lye_line"
    assert not Formula.objects.within(world.workshop).exists()


@pytest.mark.parametrize(
    ("name", "kind", "role"),
    [
        ("Sodium hydroxide pearls", "additive", Role.ADDITIVE),
        ("Natronlauge", "liquid", Role.LIQUID),
        ("White beads", "lye", Role.ADDITIVE),
    ],
)
def test_a_material_that_is_lye_is_refused_too(world: World, name: str, kind: str, role: Role) -> None:
    goes_in = GoesIn.FRONT if role is Role.LIQUID else ""
    more = LineEntry(role, material=world.material(name, kind=kind), per=Per.GRAMS, amount=128, goes_in=goes_in)
    with pytest.raises(Invalid, match="weighed twice"):
        check_formula(workshop=world.workshop, entry=formula_entry(lines=(*FATS, *LIQUIDS, more)), at=world.now)
