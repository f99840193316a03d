"""No rounding, unit or size leads to more lye than the superfat asks for."""

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from curehouse.core.chemistry.fats import Fat, fats_mol
from curehouse.core.chemistry.formula import Formula, planned_lye
from curehouse.core.chemistry.liquids import Liquid, LiquidKind, Place
from curehouse.core.chemistry.scale import Scales
from curehouse.core.chemistry.sizing import for_fats, in_steps

from .build import NAOH, OLIVE
from .test_formula import formulas


def most_lye_mol(formula: Formula) -> float:
    """What the superfat leaves of the fats' and acids' lye, worked out apart from the code that weighs it out."""
    fats = sum(fat.mass_g * fat.saponification.middle for fat in formula.fats) / 56106
    acids = sum(acid.mass_g * acid.mol_per_g.middle for acid in formula.acids)
    return fats * (1 - formula.superfat) + acids


@given(formulas, st.floats(10, 50_000))
def test_in_steps_of_the_scale_the_lye_is_that_of_the_fats_as_they_are_weighed(formula: Formula, fats_g: float) -> None:
    weighed = in_steps(for_fats(formula, fats_g))
    lye = planned_lye(weighed)
    brought = sum(amount.weigh_g * amount.purity.middle / amount.alkali.g_per_mol for amount in lye)
    assert brought <= most_lye_mol(weighed) * (1 + 1e-9)


@given(formulas)
def test_every_mass_is_a_whole_number_of_steps_and_none_is_lost(formula: Formula) -> None:
    weighed = in_steps(formula)
    coarse, fine = formula.scales.step_g, formula.scales.fine_step_g
    pairs = [(one.mass_g, coarse) for one in (*weighed.fats, *weighed.liquids)]
    pairs += [(one.mass_g, fine) for one in (*weighed.acids, *weighed.additives)]
    for mass_g, step_g in pairs:
        steps = mass_g / step_g
        assert abs(steps - round(steps)) < 1e-6
        assert round(steps) >= 1
    before = (*formula.fats, *formula.liquids)
    after = (*weighed.fats, *weighed.liquids)
    for one, other in zip(before, after, strict=True):
        # Where a pinch was made a step, the largest gives it.
        pinches = sum(each.mass_g < coarse for each in before)
        assert abs(one.mass_g - other.mass_g) <= coarse * (1 + pinches) * (1 + 1e-6)


@given(formulas)
def test_fats_and_liquids_keep_their_sum_to_the_nearest_step(formula: Formula) -> None:
    weighed, step_g = in_steps(formula), formula.scales.step_g
    fluid = [[one for one in each.liquids if one.kind is not LiquidKind.POWDER] for each in (formula, weighed)]
    for before, after in ((formula.fats, weighed.fats), (fluid[0], fluid[1])):
        if any(one.mass_g < step_g for one in before):
            continue
        total = sum(one.mass_g for one in before)
        assert abs(sum(one.mass_g for one in after) - total) <= step_g / 2 * (1 + 1e-6) + 1e-9


def test_three_thirds_of_the_liquid_are_the_liquid() -> None:
    """By hand: 320 g in three, on a scale of 1 g: 107, 107 and 106; rounded each for itself they would be 321."""
    thirds = tuple(Liquid(name, 320 / 3, Place.TRACE) for name in ("water", "milk", "whey"))
    one = Formula(
        fats=(Fat("olive oil", 1000, OLIVE),), superfat=0.05, lye=NAOH, scales=Scales(1, 1), front_c=25, liquids=thirds
    )
    assert sorted(liquid.mass_g for liquid in in_steps(one).liquids) == [106, 107, 107]


@given(formulas)
def test_weighed_once_in_steps_it_stays_as_it_is(formula: Formula) -> None:
    once = in_steps(formula)
    twice = in_steps(once)
    assert [fat.mass_g for fat in twice.fats] == [fat.mass_g for fat in once.fats]
    assert fats_mol(twice.fats) == fats_mol(once.fats)


@given(formulas)
def test_lye_cut_off_to_the_milligram_is_never_more(formula: Formula) -> None:
    for amount in planned_lye(formula):
        kept = Decimal(str(amount.weigh_g))
        assert kept <= Decimal(repr(amount.exact_g)) * (1 + Decimal("1e-12"))
