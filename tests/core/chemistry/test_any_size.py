"""A formula is worked out in any size on any scale, or refused as too small for it: nothing else ever comes of it."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curehouse.core.chemistry.acids import Acid
from curehouse.core.chemistry.alkali import Alkali, LyePart
from curehouse.core.chemistry.bounds import Bounds
from curehouse.core.chemistry.fats import Fat
from curehouse.core.chemistry.findings import Judged, judge
from curehouse.core.chemistry.formula import Additive, Formula, work_out
from curehouse.core.chemistry.liquids import Composition, Liquid, LiquidKind, Place
from curehouse.core.chemistry.poured import Part, Pour
from curehouse.core.chemistry.scale import Scales
from curehouse.core.chemistry.sizing import for_bars, for_fats, in_steps
from curehouse.core.chemistry.superfat import TooSmall
from curehouse.core.chemistry.words import told

from .build import COCONUT, NAOH, OLIVE, acids, lyes

OUNCE_G = 28.349523125
MILK = Composition(Bounds.between(0.86, 0.89), Bounds.exactly(0.04), 0.045, Bounds.between(228, 242))
STEPS_G = [0.0001, 0.001, 0.01, 0.1, 1.0, 2.0, 5.0, 50.0, 1000.0, OUNCE_G, OUNCE_G / 8]
sizes_g = st.floats(-6, 8).map(lambda power: 10.0**power)
scales = st.builds(Scales, step_g=st.sampled_from(STEPS_G), fine_step_g=st.sampled_from(STEPS_G))


def formula_of(mass_g: float, on: Scales, **more: object) -> Formula:
    return Formula(
        fats=(Fat("olive oil", mass_g * 0.7, OLIVE), Fat("coconut oil", mass_g * 0.3, COCONUT)),
        superfat=0.05,
        lye=NAOH,
        scales=on,
        front_c=25.0,
        liquids=(
            Liquid("water", mass_g * 0.15, Place.FRONT),
            Liquid("goat's milk", mass_g * 0.17, Place.TRACE, LiquidKind.MILK, MILK),
        ),
        additives=(Additive("lavender", mass_g * 0.03, is_fragrance=True, most_share=0.03),),
        **more,
    )


def looked_at(formula: Formula) -> Judged | None:
    """Work *formula* out and put all that is found into words; None where it is too small for its scale."""
    try:
        found = judge(formula)
    except TooSmall:
        return None
    for finding in found.findings:
        assert told(finding, lambda grams: f"{grams:.3f} g").says
        assert finding.read_as
    return found


@settings(max_examples=300)
@given(mass_g=sizes_g, on=scales, eats=acids(), lye=lyes(), in_whole_steps=st.booleans())
def test_any_size_on_any_scale_is_worked_out_or_too_small(
    mass_g: float, on: Scales, eats: tuple[Acid, ...], lye: tuple[LyePart, ...], *, in_whole_steps: bool
) -> None:
    sour = tuple(replace(acid, mass_g=acid.mass_g * mass_g / 1000) for acid in eats)
    formula = replace(formula_of(mass_g, on), acids=sour, lye=lye)
    found = looked_at(in_steps(formula) if in_whole_steps else formula)
    if found is not None and found.figures is not None:
        figures = found.figures
        assert 0 < figures.dry_g.low <= figures.dry_g.middle <= figures.dry_g.high
        assert 0 <= figures.water_share.low <= figures.water_share.middle <= figures.water_share.high <= 1


@settings(max_examples=200)
@given(mass_g=sizes_g, on=scales, wanted_g=sizes_g, bars=st.integers(1, 5000))
def test_it_is_made_in_any_size(mass_g: float, on: Scales, wanted_g: float, bars: int) -> None:
    formula = formula_of(mass_g, on)
    looked_at(in_steps(for_fats(formula, wanted_g)))
    looked_at(in_steps(for_bars(formula, bars=bars, cut_g=wanted_g)))


@pytest.mark.parametrize("step_g", STEPS_G)
def test_less_than_the_scale_can_tell_is_too_small_before_anything_is_divided_by_it(step_g: float) -> None:
    small = Formula(
        fats=(Fat("olive oil", step_g / 3, OLIVE),), superfat=0.05, lye=NAOH, scales=Scales(step_g, 0.001), front_c=25
    )
    with pytest.raises(TooSmall):
        work_out(small)


def test_fragrance_in_a_batch_that_may_be_water_alone_is_held_against_its_fats() -> None:
    # 5 g steps: of 20 g the water may be as much as all else, but fats that are there stay in the bar.
    tiny = in_steps(for_fats(formula_of(1000, Scales(5.0, 5.0)), 20))
    found = judge(tiny)
    assert found.figures is not None
    (over,) = (one for one in found.findings if one.code == "fragrance_over_limit")
    assert over.figures["fragrance_share"] == tiny.additives[0].mass_g / found.figures.dry_g.low
    assert found.figures.dry_g.low == max(0, 15 - 2.5) + max(0, 5 - 2.5)


def test_what_was_booked_and_taken_back_again_counts_as_nothing_booked() -> None:
    value = Bounds.exactly(190.0)
    pour = Pour(
        fats=(Part(1000, value),),
        lye=(Part(128.6, Bounds.exactly(1.0), Alkali.NAOH),),
        acids_mol=Bounds.exactly(0.0),
        milk_mol=Bounds.exactly(0.0),
        scales=Scales(1, 1),
    )
    assert pour.with_lots([(0, Part(0.0, value))]) == pour
