"""Ten formulas worked out by hand on a sheet, line by line, apart from the code.

The sheet, for each: mol for the fats = sum of g x mg KOH per g / 1000 / 56.106, at the middle of the
range; times (1 - superfat); plus mol that acids eat; times 39.997 (NaOH) or 56.106 (KOH) over the
purity; down to the step of the scale. Superfat back from what is weighed. Ends: every figure at its
worst, every weight half a step off.
"""

import csv
from dataclasses import dataclass
from pathlib import Path

import pytest

from curehouse.core.chemistry.acids import Acid
from curehouse.core.chemistry.alkali import Alkali, LyePart, certified
from curehouse.core.chemistry.bounds import Bounds
from curehouse.core.chemistry.fats import Fat
from curehouse.core.chemistry.formula import Formula, work_out
from curehouse.core.chemistry.liquids import Composition, Liquid, LiquidKind, Place
from curehouse.core.chemistry.scale import Scales

from .build import COCONUT, OLIVE

PALM, CASTOR, COCOA = Bounds.between(190, 209), Bounds.between(176, 187), Bounds.between(188, 198)
COW_FAT, SHEEP_FAT, GOAT_FAT = Bounds.between(220, 233), Bounds.between(226, 239), Bounds.between(228, 242)
FRONT, TRACE = Place.FRONT, Place.TRACE
REFERENCE = Path(__file__).parents[2] / "reference"


def usda(ndb: str, fat_saponification: Bounds) -> Composition:
    with (REFERENCE / "milk_composition.csv").open(newline="", encoding="utf-8") as file:
        row = next(one for one in csv.DictReader(file) if one["ndb"] == ndb)
    water, fat, sugar = (float(row[name]) / 100 for name in ("water_g", "fat_g", "carbohydrate_g"))
    return Composition(Bounds.exactly(water), Bounds.exactly(fat), sugar, fat_saponification)


def naoh(purity: float | None = None, share: float = 1.0) -> LyePart:
    return LyePart(Alkali.NAOH, share, None if purity is None else certified(purity))


def koh(purity: float, share: float) -> LyePart:
    return LyePart(Alkali.KOH, share, certified(purity))


def formula(
    setting: float,
    fats: tuple[Fat, ...],
    lye: tuple[LyePart, ...],
    *liquids: Liquid,
    acids: tuple[Acid, ...] = (),
    step_g: float = 0.1,
) -> Formula:
    return Formula(
        fats=fats, superfat=setting, lye=lye, scales=Scales(step_g, step_g), front_c=25, liquids=liquids, acids=acids
    )


def water(mass_g: float) -> Liquid:
    return Liquid("water", mass_g, FRONT)


@dataclass(frozen=True)
class Sheet:
    """The last lines of a sheet: grams, and percents as people write them."""

    naoh_g: float
    koh_g: float
    superfat: float
    low: float
    high: float
    effective: float
    water_g: float
    batch_g: float
    water_share: float
    milk_share: float = 0.0


OLIVE_700, COCONUT_300 = Fat("olive oil", 700, OLIVE), Fat("coconut oil", 300, COCONUT)

WORKED = {
    # 1000 x 190 / 56106 = 3.38645 mol; x 0.95 x 39.997 = 128.675
    "olive oil alone": (
        formula(0.05, (Fat("olive oil", 1000, OLIVE),), (naoh(),), water(330)),
        Sheet(128.6, 0, 5.056, 1.92, 12.60, 5.056, 330, 1458.6, 22.62),
    ),
    # (133 + 76.95) / 56.106 = 3.74202 mol; x 0.95 x 39.997 / 0.99 = 143.622
    "olive and coconut": (
        formula(0.05, (OLIVE_700, COCONUT_300), (naoh(0.99),), water(330)),
        Sheet(143.6, 0, 5.015, 1.32, 8.48, 5.015, 330, 1473.6, 22.39),
    ),
    # 3.74202 x 0.96 = 3.59234 mol; 95 % of it x 39.997 / 0.985 = 138.577; 5 % x 56.106 / 0.90 = 11.197
    "mixed lye": (
        formula(0.04, (OLIVE_700, COCONUT_300), (naoh(0.985, 0.95), koh(0.90, 0.05)), water(330)),
        Sheet(138.5, 11.1, 4.093, 0.33, 7.62, 4.093, 330, 1479.6, 22.30),
    ),
    # 190 g of pure KOH x 0.97 / 0.88 = 209.432
    "potassium hydroxide of 88 %": (
        formula(0.03, (Fat("olive oil", 1000, OLIVE),), (koh(0.88, 1.0),), water(350)),
        Sheet(0, 209.4, 3.015, -0.75, 6.54, 3.015, 350, 1559.4, 22.44),
    ),
    # (95 + 49.875 + 64.125) / 56.106 x 0.97 x 39.997 / 0.99 = 145.983; the powder's 10.684 g of fat take 0.04313 mol;
    # powder makes 40 x (1 / 0.12 - 1) = 293.33 g of the 330 g of water into milk
    "powder and water": (
        formula(
            0.03,
            (Fat("olive oil", 500, OLIVE), Fat("palm oil", 250, PALM), Fat("coconut oil", 250, COCONUT)),
            (naoh(0.99),),
            water(330),
            Liquid("milk powder", 40, TRACE, LiquidKind.POWDER, usda("1212", COW_FAT)),
        ),
        Sheet(145.9, 0, 3.055, -1.11, 6.93, 4.164, 330.99, 1515.9, 21.83, 88.89),
    ),
    # 20 x 3 / 210.138 = 0.28553 mol for the acid, on top of 3.55492: x 39.997 / 0.99 = 155.158
    "citric acid monohydrate": (
        formula(0.05, (OLIVE_700, COCONUT_300), (naoh(0.99),), water(330), acids=(Acid("citric", 20, "monohydrate"),)),
        Sheet(155.1, 0, 5.038, 1.28, 8.56, 5.038, 330, 1505.1, 21.93),
    ),
    # (114 + 76.95 + 18.15) / 56.106 x 0.98 x 39.997 = 146.083; 170 x 0.07 x 0.2325 / 56.106 = 0.04931 mol for the milk's fat;
    # water 150 + 170 x 0.807; 170 of 320 is milk
    "sheep's milk of 7 % fat": (
        formula(
            0.02,
            (Fat("olive oil", 600, OLIVE), COCONUT_300, Fat("castor oil", 100, CASTOR)),
            (naoh(),),
            water(150),
            Liquid("sheep's milk", 170, TRACE, LiquidKind.MILK, usda("1109", SHEEP_FAT)),
        ),
        Sheet(146.0, 0, 2.055, -1.24, 9.89, 3.334, 287.19, 1466.0, 19.59, 53.125),
    ),
    # 12 x 0.8 / 90.078 = 0.10657 mol for the acid; (152 + 38.6) / 56.106 x 0.94 + that, x 39.997 / 0.98 = 134.679;
    # 2.4 g of water come with the acid
    "lactic acid of 80 %": (
        formula(
            0.06,
            (Fat("olive oil", 800, OLIVE), Fat("cocoa butter", 200, COCOA)),
            (naoh(0.98),),
            water(300),
            acids=(Acid("lactic", 12, "solution", 0.8),),
        ),
        Sheet(134.6, 0, 6.057, 2.54, 9.37, 6.057, 302.4, 1446.6, 20.90),
    ),
    # (2800 x 189.2 + 1200 x 258) / 56106 x 0.95 x 39.997 / 0.992 = 573.031, on a kitchen scale
    "certificate values, a step of 1 g": (
        formula(
            0.05,
            (Fat("olive oil", 2800, OLIVE, 189.2), Fat("coconut oil", 1200, COCONUT, 258.0)),
            (naoh(0.992),),
            water(1320),
            step_g=1.0,
        ),
        Sheet(573, 0, 5.005, 3.94, 6.06, 5.005, 1320, 5893, 22.40),
    ),
    # (171 + 139.65 + 179.55 + 57.9 + 36.3) / 56.106 x 0.97 x 39.997 / 0.99 = 408.192;
    # 900 x 0.0414 x 0.235 / 56.106 = 0.15606 mol for the milk's fat
    "all of the liquid goat's milk": (
        formula(
            0.03,
            (
                Fat("olive oil", 900, OLIVE),
                Fat("palm oil", 700, PALM),
                Fat("coconut oil", 700, COCONUT),
                Fat("cocoa butter", 300, COCOA),
                Fat("castor oil", 200, CASTOR),
            ),
            (naoh(0.99),),
            Liquid("goat's milk", 900, FRONT, LiquidKind.MILK, usda("1106", GOAT_FAT)),
        ),
        Sheet(408.1, 0, 3.022, -1.05, 6.82, 4.454, 783.27, 4108.1, 19.07, 100.0),
    ),
}


@pytest.mark.parametrize(("one", "sheet"), WORKED.values(), ids=WORKED.keys())
def test_a_formula_comes_to_its_sheet(one: Formula, sheet: Sheet) -> None:
    figures = work_out(one)
    weighed = {amount.alkali: amount.weigh_g for amount in figures.lye}
    # The grams on the scale are those of the sheet, to the step.
    assert weighed.get(Alkali.NAOH, 0) == pytest.approx(sheet.naoh_g, abs=1e-9)
    assert weighed.get(Alkali.KOH, 0) == pytest.approx(sheet.koh_g, abs=1e-9)
    of_fats = figures.superfat.of_fats
    assert of_fats.middle * 100 == pytest.approx(sheet.superfat, abs=0.001)
    assert of_fats.low * 100 == pytest.approx(sheet.low, abs=0.006)
    assert of_fats.high * 100 == pytest.approx(sheet.high, abs=0.006)
    assert figures.superfat.effective.middle * 100 == pytest.approx(sheet.effective, abs=0.001)
    assert figures.free_water_g.middle == pytest.approx(sheet.water_g, abs=0.01)
    assert figures.batch_g.middle == pytest.approx(sheet.batch_g, abs=0.01)
    assert figures.water_share.middle * 100 == pytest.approx(sheet.water_share, abs=0.006)
    assert figures.milk_share * 100 == pytest.approx(sheet.milk_share, abs=0.01)


def test_there_are_ten_sheets() -> None:
    assert len(WORKED) == 10
