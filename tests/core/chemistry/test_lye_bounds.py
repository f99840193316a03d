"""Lye for so much fat: the bounds against published saponification values, and what was probably meant."""

import csv
import math
from itertools import chain
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.core.chemistry.lye_bounds import LEAST_NAOH_PER_FAT, MOST_NAOH_PER_FAT, lye_doubt

# Ranges from memory, as their table says: held to as ranges, not digit by digit.
TABLE = Path(__file__).parents[2] / "reference" / "saponification_values.csv"
# NaOH over KOH by molar mass (CIAAW 2021: 39.997 and 56.105), worked out apart from the code.
NAOH_PER_KOH = 0.71290


def published() -> list[dict[str, str]]:
    with TABLE.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("row", published(), ids=lambda row: row["fat"])
@pytest.mark.parametrize("superfat", [0.0, 0.05, 0.20])
def test_no_fat_by_itself_is_asked_about_at_a_usual_superfat(row: dict[str, str], superfat: float) -> None:
    for value in (row["SV_min"], row["SV_max"]):
        lye_g = 1000 * float(value) / 1000 * NAOH_PER_KOH * (1 - superfat)
        # The ends of the table are the bounds themselves: a gram in ten kilograms is room enough.
        within = min(max(lye_g, 1000 * LEAST_NAOH_PER_FAT), 1000 * MOST_NAOH_PER_FAT)
        assert math.isclose(lye_g, within, rel_tol=1e-4)
        assert lye_doubt(fats_g=1000, lye_g=within) is None


def test_the_bounds_are_the_ends_of_the_table_and_no_wider() -> None:
    values = [float(value) for value in chain.from_iterable((row["SV_min"], row["SV_max"]) for row in published())]
    assert math.isclose(LEAST_NAOH_PER_FAT, min(values) / 1000 * NAOH_PER_KOH * 0.8, rel_tol=1e-4)
    assert math.isclose(MOST_NAOH_PER_FAT, max(values) / 1000 * NAOH_PER_KOH, rel_tol=1e-4)


@pytest.mark.parametrize(
    ("fats_g", "lye_g", "liquids_g", "guess_g", "is_swapped"),
    [
        (4000, 56.7, [], 567.0, False),
        (2000, 2835, [640], 283.5, False),
        (2000, 28.35, [640], 283.5, False),
        (2000, 2.835, [640], 283.5, False),
        (2000, 640, [283.5], 283.5, True),
        (2000, 640, [420, 220], 220.0, True),
        (2000, 640, [900], None, False),
        (2000, 60, [283.5], None, False),
    ],
)
def test_what_was_probably_meant_is_named(
    fats_g: float, lye_g: float, liquids_g: list[float], guess_g: float | None, is_swapped: bool
) -> None:
    doubt = lye_doubt(fats_g=fats_g, lye_g=lye_g, liquids_g=liquids_g)
    assert doubt is not None
    assert doubt.guess_g == (guess_g if guess_g is None else pytest.approx(guess_g))
    assert doubt.is_swapped is is_swapped


@given(st.floats(0.001, 1e6), st.floats(0.001, 1e6), st.lists(st.floats(0.001, 1e6), max_size=12))
def test_a_guess_always_fits_and_the_bounds_grow_with_the_fats(fats_g: float, lye_g: float, liquids_g: list[float]) -> None:
    doubt = lye_doubt(fats_g=fats_g, lye_g=lye_g, liquids_g=liquids_g)
    if doubt is None:
        assert 0.09 < lye_g / fats_g < 0.19
        return
    assert not doubt.fits(lye_g)
    assert doubt.guess_g is None or doubt.fits(doubt.guess_g)
    twice = lye_doubt(fats_g=2 * fats_g, lye_g=2 * lye_g)
    assert twice is not None
    assert math.isclose(twice.high_g, 2 * doubt.high_g)


@pytest.mark.parametrize(("fats_g", "lye_g"), [(0, 1), (1, 0), (-1, 1)])
def test_a_batch_without_fats_or_lye_has_no_bounds(fats_g: float, lye_g: float) -> None:
    with pytest.raises(ValueError, match="above 0 g"):
        lye_doubt(fats_g=fats_g, lye_g=lye_g)
