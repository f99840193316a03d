"""Water, milk and powder: what they are made of, where they go, and what the lye needs."""

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.chemistry.bounds import ZERO, Bounds
from curehouse.core.chemistry.liquids import (
    WATER,
    Composition,
    Liquid,
    LiquidKind,
    Place,
    free_water,
    front_water_g,
    liquid_g,
    milk_fat_mol,
    milk_g,
    split,
)
from curehouse.core.chemistry.solubility import solubility, water_needed_g

REFERENCE = Path(__file__).parents[2] / "reference"
MILK_FAT = Bounds.between(220, 233)
FRONT, TRACE = Place.FRONT, Place.TRACE


def published(ndb: str) -> dict[str, str]:
    with (REFERENCE / "milk_composition.csv").open(newline="", encoding="utf-8") as file:
        return next(row for row in csv.DictReader(file) if row["ndb"] == ndb)


def milk_of(ndb: str) -> Composition:
    row = published(ndb)
    water, fat = (Bounds.exactly(float(row[name]) / 100) for name in ("water_g", "fat_g"))
    return Composition(water, fat, float(row["carbohydrate_g"]) / 100, MILK_FAT)


GOAT, POWDER = milk_of("1106"), milk_of("1212")


def test_the_sum_stays_what_was_planned() -> None:
    # As makers are told: 1,000 g of fats and 320 g of liquid, 150 g of it in front.
    assert split(total_g=320, front_g=150).trace_g == 170


@given(st.floats(0, 1e5), st.floats(0, 1))
def test_no_gram_is_lost_between_front_and_trace(total_g: float, part: float) -> None:
    parts = split(total_g=total_g, front_g=total_g * part)
    assert parts.front_g + parts.trace_g == pytest.approx(total_g)
    assert parts.trace_g >= 0


@pytest.mark.parametrize(("total_g", "front_g"), [(100, 101), (100, -1), (float("nan"), 0)])
def test_more_in_front_than_there_is_is_refused(total_g: float, front_g: float) -> None:
    with pytest.raises(ValueError, match="in front"):
        split(total_g=total_g, front_g=front_g)


@pytest.mark.parametrize("ndb", ["1211", "1106", "1109", "1212", "12117"])
def test_solids_are_protein_and_ash_of_the_published_row(ndb: str) -> None:
    row = published(ndb)
    assert milk_of(ndb).solids * 100 == pytest.approx(float(row["protein_g"]) + float(row["ash_g"]), abs=0.5)


def test_the_water_of_milk_dries_out_and_not_its_mass() -> None:
    lines = (Liquid("water", 150, FRONT), Liquid("goat's milk", 170, TRACE, LiquidKind.MILK, GOAT))
    assert liquid_g(lines) == 320
    assert (liquid_g(lines, FRONT), liquid_g(lines, TRACE)) == (150, 170)
    assert free_water(lines).middle == pytest.approx(150 + 170 * 0.8703)
    assert front_water_g(lines) == 150
    assert milk_g(lines) == 170
    assert milk_fat_mol(lines).middle == pytest.approx(170 * 0.0414 * 0.2265 / 56.106)


def test_powder_is_no_liquid_and_turns_the_water_into_milk() -> None:
    lines = (Liquid("water", 320, FRONT), Liquid("milk powder", 15, TRACE, LiquidKind.POWDER, POWDER))
    assert liquid_g(lines) == 320
    assert milk_g(lines) == pytest.approx(15 * (1 / 0.12 - 1))
    assert front_water_g(lines) == 320
    # Its own few percent of water dry out all the same.
    assert free_water(lines).middle == pytest.approx(320 + 15 * 0.0247)
    richer = (lines[0], Liquid("milk powder", 200, TRACE, LiquidKind.POWDER, POWDER))
    assert milk_g(richer) == 320


def test_powder_in_front_brings_no_water_to_the_lye() -> None:
    assert front_water_g((Liquid("milk powder", 100, FRONT, LiquidKind.POWDER, POWDER),)) == 0


def test_milk_in_front_counts_with_its_water_at_the_low_end() -> None:
    uncertain = Composition(Bounds.between(0.86, 0.89), Bounds.exactly(0.04), 0.045, MILK_FAT)
    assert front_water_g((Liquid("goat's milk", 200, FRONT, LiquidKind.MILK, uncertain),)) == pytest.approx(172)


def test_solubility_reads_the_tables_as_two_steps() -> None:
    with (REFERENCE / "naoh_koh.csv").open(newline="", encoding="utf-8") as file:
        rows = {row["quantity"]: row["value"] for row in csv.DictReader(file)}
    assert solubility(Alkali.NAOH, 0) == float(rows["NaOH solubility 0 C"]) / 100
    # From 20 °C up the lower of what tables say at 20 and 25 °C.
    warm = [float(rows["NaOH solubility 20 C"]), float(rows["NaOH solubility 25 C"].partition(" ")[0])]
    assert solubility(Alkali.NAOH, 20) == solubility(Alkali.NAOH, 60) == min(warm) / 100
    assert solubility(Alkali.KOH, 20) == min(float(rows["KOH solubility 20 C"]), float(rows["KOH solubility 25 C"])) / 100


@pytest.mark.parametrize("front_c", [-10, 0, 5, 10, 19.9])
def test_between_the_two_nothing_is_interpolated(front_c: float) -> None:
    assert solubility(Alkali.NAOH, front_c) == 0.42
    assert solubility(Alkali.KOH, front_c) is None


def test_both_alkalis_share_the_water() -> None:
    assert water_needed_g({Alkali.NAOH: 100, Alkali.KOH: 56}, 25) == pytest.approx(150)
    assert water_needed_g({Alkali.NAOH: 42}, 10) == pytest.approx(100)
    assert water_needed_g({Alkali.NAOH: 42, Alkali.KOH: 1}, 10) is None


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: Composition(Bounds.exactly(0.9), Bounds.exactly(0.3), 0, MILK_FAT),
        lambda: Composition(Bounds.exactly(0.8), Bounds.exactly(0.04)),
        lambda: Composition(Bounds.exactly(87.0)),
        lambda: Composition(WATER.water, ZERO, -0.1),
        lambda: Liquid("water", 0, FRONT),
    ],
)
def test_what_cannot_be_is_refused(wrong: object) -> None:
    with pytest.raises(ValueError):
        wrong()
