"""On no page and in no answer stands more lye than the superfat asks for, whatever the unit, the scale and the comma."""

import random
import re
from decimal import Decimal
from typing import Any

import pytest

from curehouse.common.units import GRAMS_PER_OUNCE
from curehouse.making.formulas.entries import GoesIn, Per
from curehouse.making.models import FormulaVersion
from curehouse.making.services.formulas import write_formula
from curehouse.workshops.services import add_scale
from tests.api.device import Device
from tests.formulas import READ, fat, formula_entry, liquid
from tests.web.test_formula_sizes import begin
from tests.web.test_formulas import send, the_version
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db

# A milligram of lye in a batch is nothing; what a batch keeps is in milligrams.
MILLIGRAM = Decimal("0.0005")
SAP = {"olive": 190.0, "coconut": 256.5, "castor": 181.5, "cocoa_butter": 193.0}


def most_g(masses: dict[str, float], superfat: float) -> Decimal:
    """Return by hand the grams of NaOH that these fats take less the superfat."""
    return Decimal(sum(mass_g * SAP[key] for key, mass_g in masses.items()) / 56106 * 39.997 * (1 - superfat))


def version_of(world: World, masses: dict[str, Decimal], superfat: Decimal, **changes: Any) -> FormulaVersion:
    lines = [fat(key, str(mass_g)) for key, mass_g in masses.items()]
    lines += [liquid("water", "0.2", Per.FATS), liquid("goat_milk", None, Per.REST, GoesIn.TRACE)]
    entry = formula_entry(
        lines=lines, superfat=superfat, liquid=Decimal("0.34"), liquid_per=Per.FATS, confirmed=READ, **changes
    )
    return write_formula(actor=world.actor, entry=entry, at=world.now)


def in_grams(text: str, unit: str) -> Decimal:
    return Decimal(text) * (GRAMS_PER_OUNCE if unit == "oz" else 1)


@pytest.mark.parametrize("unit", ["g", "oz"])
@pytest.mark.parametrize("step_g", ["0.01", "0.1", "1", "0.283", "2.835", "0.28349523125", "2.8349523125"])
def test_no_page_and_no_answer_asks_for_more_lye(world: World, unit: str, step_g: str) -> None:
    world.workshop.unit = unit
    world.workshop.save()
    scale = add_scale(workshop=world.workshop, name="The one", step_g=Decimal(step_g))
    visitor, device = Visitor(world), Device(world)
    chance = random.Random(f"{unit}{step_g}")
    for number in range(4):
        masses = {key: Decimal(chance.randint(200_000, 900_000)).scaleb(-3) for key in chance.sample(sorted(SAP), 3)}
        superfat = Decimal(chance.randint(300, 900)).scaleb(-4)
        version = version_of(world, masses, superfat, name=f"Soap {number}", scale=scale, fine_scale=scale)
        figures = device.get(f"versions/{version.pk}/figures/").json()
        # The lye is that of the fats as the scale can weigh them.
        weighed = dict(zip(masses, (float(one["mass_g"]) for one in figures["masses"]), strict=False))
        most = most_g(weighed, float(superfat)) + MILLIGRAM
        assert Decimal(str(figures["lye"][0]["weigh_g"])) <= most
        shown = re.search(rf"pure ([0-9.]+) {unit}\b", visitor.words("formula", version.formula_id))
        assert shown is not None
        assert in_grams(shown[1], unit) <= most
        begun = begin(visitor, version)
        assert in_grams(begun["lye_g"], unit) <= most
        # And none of them shorts the batch by more than two steps and what the unit cuts off.
        assert in_grams(shown[1], unit) > most - 2 * Decimal(step_g) - Decimal("0.03")


@pytest.mark.parametrize(("olive", "coconut", "liquid_of_all"), [("700.5", "299.5", "32.5"), ("700,5", "299,5", "32,5")])
def test_a_comma_is_a_point(world: World, olive: str, coconut: str, liquid_of_all: str) -> None:
    visitor = Visitor(world)
    fats = [{"what": "k:olive", "amount": olive, "saponification": ""}, {"what": "k:coconut", "amount": coconut}]
    assert send(visitor, fats=fats, liquid=liquid_of_all, superfat_pct="8" + olive[3:]).status_code == 302
    version = the_version(world)
    # 8.5 % of superfat.
    assert (version.superfat, version.liquid_share) == (Decimal("0.085"), Decimal("0.325"))
    shown = re.search(r"pure ([0-9.]+) g\b", visitor.words("formula", version.formula_id))
    assert shown is not None
    assert shown[1] == "136.9"
    assert Decimal(shown[1]) <= most_g({"olive": 700.5, "coconut": 299.5}, 0.085)


def test_a_doubt_at_the_pour_names_no_more_lye_than_the_formula_has(world: World) -> None:
    """On a scale of a hundredth of a gram: 151.16 g are not 151.2 g."""
    scale = add_scale(workshop=world.workshop, name="Fine", step_g=Decimal("0.01"))
    version = version_of(world, {"olive": Decimal(701), "coconut": Decimal(301)}, Decimal("0.06"), fine_scale=scale)
    device = Device(world)
    body = {
        "version": version.pk, "poured_at": "2026-03-08T10:00:00Z", "fats_g": "1002", "lye_g": "170",
        "liquids": [{"kind": "water", "mass_g": "200"}],
    }  # fmt: skip
    said = device.post("batches/", body).json()
    meant = re.search(r"of fats have ([0-9.]+) g\.", said["detail"])
    assert meant is not None
    assert Decimal(meant[1]) <= most_g({"olive": 701, "coconut": 301}, 0.06)
    assert Decimal(said["data"]["guess_g"]) <= most_g({"olive": 701, "coconut": 301}, 0.06)
