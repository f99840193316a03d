"""A formula as a whole: grams in are grams out, sizes go there and back, and the ends hold what chance brings."""

import math
import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curehouse.core.chemistry.acids import Acid
from curehouse.core.chemistry.alkali import Alkali, LyePart
from curehouse.core.chemistry.bounds import Bounds
from curehouse.core.chemistry.fats import Fat, fats_g
from curehouse.core.chemistry.formula import (
    DRY_BAR_WATER,
    Additive,
    Formula,
    dry_mass,
    fresh_batch_g,
    setting_for_effective,
    work_out,
)
from curehouse.core.chemistry.liquids import Composition, Liquid, LiquidKind, Place, free_water
from curehouse.core.chemistry.mass_balance import water_share
from curehouse.core.chemistry.scale import weighed
from curehouse.core.chemistry.sizing import Block, Tube, for_bars, for_fats, for_mould

from . import build
from .build import FINE, NAOH, olive_and_coconut

MILK = Composition(Bounds.between(0.86, 0.89), Bounds.between(0.033, 0.05), 0.045, Bounds.between(228, 242))
POWDER = Composition(Bounds.exactly(0.0247), Bounds.exactly(0.2671), 0.38, Bounds.between(220, 233))
KINDS = {LiquidKind.WATER: Composition(Bounds.exactly(1.0)), LiquidKind.MILK: MILK, LiquidKind.POWDER: POWDER}


@st.composite
def liquids(draw: st.DrawFn) -> tuple[Liquid, ...]:
    kinds = draw(st.lists(st.sampled_from(sorted(KINDS)), min_size=1, max_size=4))
    return tuple(
        Liquid(kind.value, draw(st.floats(10, 10_000)), draw(st.sampled_from(Place)), kind, KINDS[kind]) for kind in kinds
    )


additives = st.lists(st.builds(Additive, st.just("clay"), st.floats(1, 500)), max_size=3).map(tuple)
formulas = st.builds(
    Formula,
    fats=build.fats(),
    superfat=build.superfats,
    lye=build.lyes(),
    scales=build.scales,
    front_c=st.sampled_from([10.0, 25.0]),
    liquids=liquids(),
    acids=build.acids(),
    additives=additives,
)
MILK_SOAP = Formula(
    fats=olive_and_coconut(),
    superfat=0.03,
    lye=NAOH,
    scales=FINE,
    front_c=25.0,
    liquids=(
        Liquid("water", 150, Place.FRONT),
        Liquid("goat's milk", 170, Place.TRACE, LiquidKind.MILK, MILK),
    ),
)


@given(formulas)
def test_grams_in_are_grams_out(formula: Formula) -> None:
    figures = work_out(formula)
    lines = [*formula.fats, *formula.liquids, *formula.acids, *formula.additives]
    assert figures.batch_g.middle == pytest.approx(sum(line.mass_g for line in lines) + figures.lye_g)
    assert figures.front_g + figures.trace_g + figures.acids_water_g == pytest.approx(figures.liquid_g)
    for liquid in formula.liquids:
        made_of = liquid.made_of
        assert made_of.water.middle + made_of.fat.middle + made_of.sugar + made_of.solids == pytest.approx(1)
    assert 0 <= figures.milk_share <= 1 + 1e-12
    assert figures.free_water_g.middle <= figures.batch_g.middle
    assert figures.dry_g.low <= figures.dry_g.middle <= figures.dry_g.high <= figures.batch_g.high
    assert figures.free_water_g.middle == pytest.approx(
        free_water(formula.liquids).middle + sum(acid.water_g for acid in formula.acids)
    )


@given(formulas, st.floats(0.02, 50))
def test_scaled_there_and_back_it_is_the_same_formula(formula: Formula, factor: float) -> None:
    back = formula.times(factor).times(1 / factor)
    for before, after in zip(
        (*formula.fats, *formula.liquids, *formula.acids, *formula.additives),
        (*back.fats, *back.liquids, *back.acids, *back.additives),
        strict=True,
    ):
        assert after.mass_g == pytest.approx(before.mass_g, rel=1e-12)
        assert replace(after, mass_g=before.mass_g) == before
    assert (back.superfat, back.lye, back.scales) == (formula.superfat, formula.lye, formula.scales)


@given(formulas, st.floats(0.5, 50))
def test_lye_and_shares_grow_with_the_formula(formula: Formula, factor: float) -> None:
    one, many = work_out(formula), work_out(formula.times(factor))
    for before, after in zip(one.lye, many.lye, strict=True):
        assert after.exact_g == pytest.approx(before.exact_g * factor, rel=1e-9)
    assert many.liquid_share == pytest.approx(one.liquid_share)
    assert many.milk_share == pytest.approx(one.milk_share)
    assert fresh_batch_g(formula.times(factor)) == pytest.approx(fresh_batch_g(formula) * factor)
    # Whatever the size, the same amounts are the smallest (but for the rounding of the lye).
    if one.smallest.safe_fats_g is not None and many.smallest.safe_fats_g is not None:
        assert many.smallest.safe_fats_g == pytest.approx(one.smallest.safe_fats_g, rel=1e-6)


@given(formulas, st.randoms(use_true_random=False))
def test_the_order_of_lines_changes_nothing(formula: Formula, chance: random.Random) -> None:
    def shuffled(lines: tuple) -> tuple:
        return tuple(chance.sample(lines, len(lines)))

    other = replace(
        formula,
        fats=shuffled(formula.fats),
        liquids=shuffled(formula.liquids),
        acids=shuffled(formula.acids),
        additives=shuffled(formula.additives),
    )
    assert work_out(other) == work_out(formula)


def drawn(bounds: Bounds, chance: np.random.Generator) -> np.ndarray:
    return chance.uniform(bounds.low, bounds.high, 2000)


@settings(max_examples=25, deadline=None)
@given(formulas, st.integers(0, 2**31))
def test_the_ends_hold_what_chance_brings(formula: Formula, seed: int) -> None:
    """Every weight anywhere in its step and every figure anywhere in its range; worked out apart from the code."""
    chance, figures = np.random.default_rng(seed), work_out(formula)
    step_g, fine_g = formula.scales.step_g, formula.scales.fine_step_g
    takes, milk, water, batch, brings, eaten = (np.zeros(2000) for _ in range(6))
    for fat in formula.fats:
        mass = drawn(weighed(fat.mass_g, step_g), chance)
        batch += mass
        takes += mass * drawn(fat.saponification, chance) / 56106
    for liquid in formula.liquids:
        mass = drawn(weighed(liquid.mass_g, step_g), chance)
        batch += mass
        water += mass * drawn(liquid.made_of.water, chance)
        if liquid.made_of.fat_saponification:
            milk += mass * drawn(liquid.made_of.fat, chance) * drawn(liquid.made_of.fat_saponification, chance) / 56106
    for acid in formula.acids:
        mass = drawn(weighed(acid.mass_g, fine_g), chance)
        batch += mass
        water += acid.water_g
        eaten += mass * drawn(acid.mol_per_g, chance)
    for amount in figures.lye:
        mass = drawn(weighed(amount.weigh_g, fine_g), chance)
        batch += mass
        brings += mass * drawn(amount.purity, chance) / amount.alkali.g_per_mol
    for additive in formula.additives:
        batch += drawn(weighed(additive.mass_g, step_g), chance)
    left = drawn(DRY_BAR_WATER, chance)
    for name, real, bounds in (
        ("superfat of the fats", 1 - np.maximum(brings - eaten, 0) / takes, figures.superfat.of_fats),
        ("effective", 1 - np.maximum(brings - eaten, 0) / (takes + milk), figures.superfat.effective),
        ("free water", water, figures.free_water_g),
        ("batch", batch, figures.batch_g),
        ("water share", water / batch, figures.water_share),
        ("dry", np.minimum(batch, (batch - water) / (1 - left)), figures.dry_g),
    ):
        room = 1e-9 * max(1.0, abs(bounds.high))
        assert ((bounds.low - room <= real) & (real <= bounds.high + room)).mean() >= 0.99, name


def test_the_water_share_is_that_of_the_cure() -> None:
    """The share that a batch's cure is judged by, worked out there from the masses alone."""
    figures = work_out(MILK_SOAP)
    known = water_share(
        fats_g=1000,
        lye_g=figures.lye_g,
        liquids=MILK_SOAP.liquids,
    )
    assert figures.water_share.middle == pytest.approx(known)


@given(formulas, st.floats(0, 0.15))
def test_the_setting_for_an_effective_superfat_brings_it(formula: Formula, wanted: float) -> None:
    setting = setting_for_effective(formula, wanted)
    if setting <= -1:
        return
    figures = work_out(replace(formula, superfat=setting, scales=replace(formula.scales, fine_step_g=1e-9)))
    assert figures.superfat.effective.middle == pytest.approx(wanted, abs=1e-6)


def test_dry_is_at_least_all_water_gone_and_at_most_fresh() -> None:
    dry = dry_mass(Bounds.exactly(130), Bounds.exactly(0.22))
    assert dry.low == pytest.approx(130 * 0.78)
    assert dry.middle == pytest.approx(130 * 0.78 / 0.88)
    assert dry.high == pytest.approx(130 * 0.78 / 0.85)
    hardly_wet = dry_mass(Bounds.exactly(130), Bounds.exactly(0.05))
    assert hardly_wet.high == hardly_wet.middle == 130


def test_a_mould_takes_the_fats_that_makers_say() -> None:
    # 0.40 oz of fats to the cubic inch: common practice, no source. 10 x 3.5 x 2.5 inches take 35 oz.
    inch = 2.54
    block = Block(10 * inch, 3.5 * inch, 2.5 * inch)
    ounces = fats_g(for_mould(MILK_SOAP, block).fats) / 28.349523125
    assert ounces == pytest.approx(10 * 3.5 * 2.5 * 0.40, rel=0.003)
    assert fats_g(for_mould(MILK_SOAP, block, count=2).fats) == pytest.approx(2 * ounces * 28.349523125)
    assert Tube(8, 25).volume_cm3 == pytest.approx(math.pi * 16 * 25)


@given(formulas, st.integers(1, 200), st.floats(20, 300), st.floats(0, 0.2))
def test_so_many_bars_of_so_much_come_out(formula: Formula, bars: int, cut_g: float, loss: float) -> None:
    sized = for_bars(formula, bars=bars, cut_g=cut_g, loss=loss)
    assert fresh_batch_g(sized) * (1 - loss) == pytest.approx(bars * cut_g)
    assert fats_g(for_fats(sized, fats_g(formula.fats)).fats) == pytest.approx(fats_g(formula.fats))


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: for_fats(MILK_SOAP, 0),
        lambda: for_mould(MILK_SOAP, Block(0, 5, 5)),
        lambda: for_mould(MILK_SOAP, Tube(8, math.nan)),
        lambda: for_bars(MILK_SOAP, bars=0, cut_g=100),
        lambda: for_bars(MILK_SOAP, bars=10, cut_g=100, loss=1),
        lambda: replace(MILK_SOAP, fats=()),
        lambda: replace(MILK_SOAP, superfat=5),
        lambda: replace(MILK_SOAP, superfat=math.nan),
        lambda: replace(MILK_SOAP, front_c=math.nan),
        lambda: replace(MILK_SOAP, lye=(LyePart(Alkali.NAOH), LyePart(Alkali.NAOH))),
        lambda: replace(MILK_SOAP, scales=replace(FINE, step_g=0)),
        lambda: Additive("clay", -1),
        lambda: Additive("scent", 10, is_fragrance=True, most_share=3),
        lambda: work_out(replace(MILK_SOAP, fats=(Fat("olive oil", 0.4, build.OLIVE),), scales=replace(FINE, step_g=1))),
    ],
)
def test_what_cannot_be_is_refused(wrong: object) -> None:
    with pytest.raises(ValueError):
        wrong()


def test_an_acid_is_made_up_for_by_more_lye() -> None:
    plain, sour = work_out(MILK_SOAP), work_out(replace(MILK_SOAP, acids=(Acid("citric", 20, "anhydrous"),)))
    assert sour.lye_g - plain.lye_g == pytest.approx(20 * 0.6245, abs=0.11)
    assert sour.acids_naoh_g == pytest.approx(12.49, abs=0.01)
    assert sour.superfat.of_fats.middle == pytest.approx(plain.superfat.of_fats.middle, abs=0.001)


def test_every_end_is_that_of_the_worst_case_by_hand() -> None:
    """1,000 g of fats, 150 g of water, 170 g of milk on a scale of 10 g; each weight 5 g off, each figure at its end."""
    figures = work_out(replace(MILK_SOAP, scales=replace(FINE, step_g=10.0)))
    lye = figures.lye_g
    water_low, water_high = 145 + 165 * 0.86, 155 + 175 * 0.89
    # Two fats and two liquids, and half a tenth of a gram of lye.
    batch_low, batch_high = 1320 + lye - 20.05, 1320 + lye + 20.05
    assert (figures.free_water_g.low, figures.free_water_g.high) == (pytest.approx(water_low), pytest.approx(water_high))
    assert (figures.batch_g.low, figures.batch_g.high) == (pytest.approx(batch_low), pytest.approx(batch_high))
    assert figures.water_share.low == pytest.approx(water_low / batch_high)
    assert figures.water_share.high == pytest.approx(water_high / batch_low)
    takes_low = (695 * 184 + 295 * 248 + 165 * 0.033 * 228) / 56106
    takes_high = (705 * 196 + 305 * 265 + 175 * 0.05 * 242) / 56106
    assert figures.superfat.effective.low == pytest.approx(1 - (lye + 0.05) / 39.997 / takes_low)
    assert figures.superfat.effective.high == pytest.approx(1 - (lye - 0.05) * 0.95 / 39.997 / takes_high)
