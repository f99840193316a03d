"""Lye is worked out: named among what goes in it would be weighed a second time."""

import pytest

from curehouse.common.errors import Invalid
from curehouse.core.chemistry.alkali import Alkali
from curehouse.making.formulas.entries import GoesIn, LineEntry, Per, Role
from curehouse.making.formulas.names import alkali_by_name, is_called_alkali, is_called_lye
from curehouse.making.models import Formula
from curehouse.making.services.formulas import check_formula, write_formula
from tests.api.device import Device, problem
from tests.formulas import FATS, LIQUIDS, formula_entry
from tests.web.bench_typing import enter, liquids, nothing_was_written
from tests.web.on_round import text_of
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db

LYE = [
    "NaOH", "koh", "KOH 90 %", "Sodium hydroxide", "Sodium  Hydroxide pearls", "caustic soda", "Natronlauge", "Ätznatron",
    "Kalilauge 45 %", "Potassium hydroxide flakes", "Soude caustique", "Idrossido di sodio", "Hidróxido de potasio", "Lye",
    "Lye pearls", "Lauge", "NaOH-Perlen", "Natriumhydroxide", "Sodiumhydroxide pearls", "Potassiumhydroxide", "E524",
    "E 525", "E-524", "Soude", "soude caustique", "Sosa", "hydroxyde de sodium", "wodorotlenek sodu", "Ätz-Natron",
    "Aetznatron", "natriumhydroxid", "soda kaustyczna", "гидроксид натрия", "Едкий натр", "Ług sodowy", "Lye 50 %",
]  # fmt: skip
NO_LYE = [
    "Sodium lactate", "Potassium sorbate", "Sodium chloride", "Natriumlactat", "Goat's milk frozen for the lye",
    "Kaolin", "Alkali blue", "Chromium hydroxide green", "Lyes of wine", "Baking soda", "Barley", "Soap powder",
    "Bicarbonate de soude", "Natron", "Soda ash", "Potash", "Cristaux de soude", "E500", "E5240",
]  # fmt: skip


@pytest.mark.parametrize("name", LYE)
def test_what_lye_is_called(name: str) -> None:
    assert is_called_lye(name)


@pytest.mark.parametrize("name", NO_LYE)
def test_what_is_no_lye(name: str) -> None:
    assert not is_called_lye(name)


@pytest.mark.parametrize(
    ("name", "alkali"),
    [
        ("E525", Alkali.KOH),
        ("E 524", Alkali.NAOH),
        ("Soude", Alkali.NAOH),
        ("wodorotlenek potasu", Alkali.KOH),
        ("гидроксид натрия", Alkali.NAOH),
        ("Едкое кали", Alkali.KOH),
        ("Ätzkali", Alkali.KOH),
        ("Alkali", None),
        ("Lye", None),
    ],
)
def test_which_lye_it_is_by_its_name(name: str, alkali: Alkali | None) -> None:
    assert alkali_by_name(name) is alkali


@pytest.mark.parametrize("name", ["Potash", "Soda ash", "Washing soda", "Pottasche", "Sodium carbonate", "E500", "Węglan sodu"])
def test_what_is_an_alkali_and_no_lye(name: str) -> None:
    assert is_called_alkali(name)
    assert not is_called_lye(name)


@pytest.mark.parametrize("name", ["Baking soda", "Sodium bicarbonate", "NaOH", "Caustic potash", "Sodium chloride", "Kaolin"])
def test_what_is_neither(name: str) -> None:
    assert not is_called_alkali(name)


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


@pytest.mark.parametrize("name", LYE)
def test_lye_among_the_liquids_of_a_batch_entered_by_hand_is_refused_through_the_api(world: World, name: str) -> None:
    device, poured_at = Device(world), world.days_ago(2).isoformat()
    fluid = [{"kind": "water", "mass_g": 600}]
    body = {"formula_name": "By hand", "poured_at": poured_at, "fats_g": 2000, "lye_g": 280}
    more = {"kind": name, "mass_g": 280, "water_fraction": "0.5"}
    said = problem(device.post("batches/", {**body, "liquids": [*fluid, more]}), 400, "lye_line", "liquids")
    assert said["detail"].startswith(f"{name} is lye, and lye has its own field")
    assert nothing_was_written(world)
    kept = device.post("batches/", {**body, "liquids": [*fluid, {**more, "kind": "Honey water"}]})
    assert kept.status_code == 201, kept.content


@pytest.mark.parametrize("name", LYE)
def test_lye_among_the_liquids_of_a_batch_entered_by_hand_is_refused_on_the_page(world: World, name: str) -> None:
    visitor = Visitor(world)
    rows = (("water", "640", "front", ""), (name, "280", "front", "50"))
    answer = enter(visitor.client, **liquids(*rows))
    assert answer.status_code == 200
    assert f"{' '.join(name.split())} is lye, and lye has its own field: take it out of the liquids" in text_of(answer)
    assert nothing_was_written(world)
    assert f'value="{name}"' in answer.content.decode()
