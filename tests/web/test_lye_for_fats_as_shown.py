"""Who weighs the fats as they stand on the page, or as they were typed, never has more lye than the superfat leaves."""

import random
import re
from decimal import ROUND_DOWN, Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.common.units import GRAMS_PER, parse_mass_g
from curehouse.flows.bring_in.door import FileGiven, bring_at_once, first_options
from curehouse.flows.bring_in.kinds import kind_called
from curehouse.flows.bring_in.options import Options
from curehouse.making.formulas.reading import kept
from curehouse.making.models import FormulaVersion
from curehouse.making.services.formulas import judged, plan
from curehouse.web.forms.fields import exactly
from curehouse.workshops.models import Scale
from curehouse.workshops.services import add_scale
from tests.api.device import Device
from tests.flows.bring_in.logs import write_csv
from tests.web.test_formula_sizes import begin
from tests.web.test_formulas import send, the_version
from tests.web.visitor import Visitor
from tests.world import World

# Certificates, mg KOH per g, and what the list calls them.
SAP = {"olive": 190, "coconut": 256, "castor": 181}
NAMES = {"olive": "olive oil", "coconut": "coconut oil", "castor": "castor oil"}
# 39.997 g NaOH to 56.106 g KOH, by hand and exact.
NAOH_PER_SAP = Fraction(39997, 56106) / 1000
# What a float's last bit may add to an amount that is a whole number of steps.
NOISE = 1 + Fraction(1, 10**11)
LIQUID = [{"what": "k:water", "amount": "34", "per": "fats", "goes_in": "front"}]


def most_g(fats_g: dict[str, Fraction], superfat: Decimal) -> Fraction:
    """Return by hand the grams of pure NaOH that fats of these certificates take less the superfat."""
    return sum(SAP[key] * mass_g for key, mass_g in fats_g.items()) * NAOH_PER_SAP * (1 - Fraction(superfat)) * NOISE


def grams(text: str, unit: str) -> Fraction:
    return Fraction(Decimal(text)) * Fraction(GRAMS_PER[unit])


def house_of(world: World, unit: str, step_g: str) -> tuple[Visitor, Scale]:
    world.workshop.unit = unit
    world.workshop.save()
    return Visitor(world), add_scale(workshop=world.workshop, name="The one", step_g=Decimal(step_g))


def some(chance: random.Random, places: int, most: int) -> dict[str, str]:
    """Return masses as they are typed, with so many decimals."""
    return {key: f"{Decimal(chance.randint(most // 2, most)).scaleb(-places)}" for key in SAP}


@pytest.mark.django_db
@pytest.mark.parametrize("comma", [".", ","])
@pytest.mark.parametrize(
    ("unit", "places", "most"), [("g", 2, 40_000), ("g", 5, 40_000_000), ("oz", 2, 1_400), ("oz", 5, 1_400_000)]
)
def test_the_lye_shown_is_that_of_the_fats_typed_and_shown(world: World, unit: str, places: int, most: int, comma: str) -> None:
    visitor, scale = house_of(world, unit, "0.001")
    chance = random.Random(f"{unit}{places}{comma}")
    for number in range(6):
        typed = some(chance, places, most)
        superfat = Decimal(chance.randint(60, 90)).scaleb(-3)
        fats = [
            {"what": f"k:{key}", "amount": mass.replace(".", comma), "saponification": str(SAP[key])}
            for key, mass in typed.items()
        ]
        answer = send(
            visitor, fats=fats, liquids=LIQUID, liquid="34", superfat_pct=f"{superfat * 100}".replace(".", comma),
            name=f"Soap {number}", scale=str(scale.pk), fine_scale=str(scale.pk),
        )  # fmt: skip
        assert answer.status_code == 302
        version = FormulaVersion.objects.within(world.workshop).latest("pk")
        words = visitor.words("formula", version.formula_id)
        lye = re.search(rf"pure ([0-9.]+) {unit}\b", words)
        assert lye is not None
        shown = {key: re.search(rf"{name}(?: counted [^%]*?)? ([0-9.]+) {unit}\b", words) for key, name in NAMES.items()}
        of_shown = {key: grams(found[1], unit) for key, found in shown.items() if found is not None}
        assert set(of_shown) == set(SAP)
        of_typed = {key: grams(mass, unit) for key, mass in typed.items()}
        assert grams(lye[1], unit) <= most_g(of_typed, superfat)
        assert grams(lye[1], unit) <= most_g(of_shown, superfat)
        begun = begin(visitor, version)
        # The batch begins with the same fats together, and no more lye.
        scaled = grams(begun["fats_g"], unit) / sum(of_typed.values())
        assert grams(begun["lye_g"], unit) <= most_g({key: mass * scaled for key, mass in of_typed.items()}, superfat)


@pytest.mark.django_db
@pytest.mark.parametrize("unit", ["g", "kg", "oz", "lb"])
def test_the_lye_of_a_list_is_that_of_the_fats_in_it(world: World, tmp_path: Path, settings: Any, unit: str) -> None:
    settings.DATA_FOLDER = tmp_path / "house"
    settings.DATA_FOLDER.mkdir()
    add_scale(workshop=world.workshop, name="The one", step_g=Decimal("0.001"))
    for key, name in NAMES.items():
        own = world.material(name.capitalize())
        Device(world).patch(f"materials/{own.pk}/facts/", {"saponification_low": SAP[key], "saponification_high": SAP[key]})
    chance = random.Random(unit)
    typed = [some(chance, 7 if unit in ("kg", "lb") else 4, 9_000_000) for _ in range(12)]
    rows = [
        (f"Soap {number}", name, amount, unit, superfat)
        for number, masses in enumerate(typed)
        for name, amount, superfat in (
            *((NAMES[key], mass, "8 %") for key, mass in masses.items()),
            ("water", f"{sum(Decimal(mass) for mass in masses.values()) * Decimal('0.34'):.2f}", ""),
        )
    ]
    given_file = write_csv(tmp_path / "list.csv", ("Formula", "Material", "Amount", "Unit", "Superfat"), rows)
    outcome = bring(world, given_file)
    assert (outcome.adds["formulas"], outcome.left_out) == (12, ()), outcome
    for version in FormulaVersion.objects.within(world.workshop).select_related("formula"):
        number = int(version.formula.name.removeprefix("Soap "))
        figures = judged(plan(workshop=world.workshop, entry=kept(version).entry, at=world.now)).figures
        assert figures is not None
        of_typed = {key: grams(mass, unit) for key, mass in typed[number].items()}
        assert Fraction(Decimal(str(figures.lye_g))) <= most_g(of_typed, Decimal("0.08"))


def bring(world: World, given_file: FileGiven) -> Any:
    options = first_options(world.actor, kind_called("formulas"), given_file.path, None, Options())
    return bring_at_once(actor=world.actor, kind="formulas", given=given_file, beside=None, options=options, at=world.now)


@pytest.mark.django_db
def test_grams_finer_than_they_are_kept_bring_no_more_lye(world: World) -> None:
    scale = add_scale(workshop=world.workshop, name="The one", step_g=Decimal("0.001"))
    device, chance = Device(world), random.Random(8)
    for number in range(12):
        typed = some(chance, 6, 400_000_000)
        lines = [{"role": "fat", "key": key, "amount": mass, "saponification": SAP[key]} for key, mass in typed.items()]
        lines.append({"role": "liquid", "key": "water", "per": "rest", "goes_in": "front"})
        body = {"name": f"Soap {number}", "lines": lines, "superfat": "0.06", "liquid": "0.34", "liquid_per": "fats"}
        body |= {"scale": scale.pk, "fine_scale": scale.pk}
        made = device.post("formulas/", body)
        assert made.status_code == 201, made.json()
        figures = device.get(f"versions/{made.json()['newest_version']}/figures/").json()
        of_typed = {key: grams(mass, "g") for key, mass in typed.items()}
        assert Fraction(Decimal(str(figures["lye"][0]["weigh_g"]))) <= most_g(of_typed, Decimal("0.06"))


@given(st.integers(1, 9 * 10**8), st.sampled_from(["g", "oz"]))
def test_fats_read_again_are_the_fats_that_were_kept(milligrams: int, unit: str) -> None:
    kept_g = Decimal(milligrams).scaleb(-3)
    shown = exactly(kept_g, unit, rounding=ROUND_DOWN)
    assert grams(shown, unit) >= Fraction(kept_g)
    assert parse_mass_g(shown, unit, field="", what="It", rounding=ROUND_DOWN) == kept_g


@pytest.mark.django_db
def test_a_formula_in_ounces_kept_anew_stays_as_it_is(world: World) -> None:
    visitor, _scale = house_of(world, "oz", "0.1")
    fats = [{"what": "k:olive", "amount": "24.6912", "saponification": "190"}, {"what": "k:coconut", "amount": "10.5871"}]
    assert send(visitor, fats=fats).status_code == 302
    first = [(one.name, one.amount) for one in kept(the_version(world)).lines]
    form = visitor.get("formula_change", the_version(world).formula_id).context["form"]
    again = [{name: str(row[name].value() or "") for name in row.fields} for row in form.lines["fats"]]
    answer = visitor.get("formula_change", the_version(world).formula_id)
    assert answer.status_code == 200
    assert [row["amount"] for row in again][:2] == ["24.6912", "10.5871"]
    assert first[0][1] == Decimal("699.983")
