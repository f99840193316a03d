"""What makers know, held against what the house works out. Each of these is common practice, no source."""

from dataclasses import replace
from decimal import Decimal

import pytest

from curehouse.core.chemistry.findings import LEAST_LIQUID, MILK_FATS_C, MILK_LYE_C, MILK_LYE_MOST_C, MOST_LIQUID, judge
from curehouse.core.chemistry.formula import work_out
from curehouse.core.chemistry.liquids import LEAST_NOTICED_MILK, split
from curehouse.making.formulas.entries import FormulaEntry, GoesIn, Per
from curehouse.making.services.formulas import judged, plan
from curehouse.web.forms.formula import Begin
from curehouse.workshops.models import Workshop
from tests.formulas import FATS, formula_entry, liquid
from tests.world import World

pytestmark = pytest.mark.django_db


def codes(world: World, entry: FormulaEntry) -> set[str]:
    return {finding.code for finding in judged(plan(workshop=world.workshop, entry=entry, at=world.now)).findings}


def milk_of(share: str, **changes: object) -> FormulaEntry:
    """Return a soap whose liquid is milk in that share, at trace; no lye, so that only the liquid is judged."""
    lines = (*FATS, liquid("water", None, Per.REST), liquid("goat_milk", share, Per.LIQUID, GoesIn.TRACE))
    return formula_entry(lines=lines, liquid=Decimal(330), **changes)


def test_total_liquid_is_about_a_third_of_the_fats() -> None:
    """Common practice, no source."""
    assert LEAST_LIQUID < 1 / 3 < MOST_LIQUID
    assert pytest.approx(1 / 3, abs=0.01) == (LEAST_LIQUID + MOST_LIQUID) / 2
    begin = Begin().fields
    assert (begin["liquid"], begin["liquid_per"]) == ("33", Per.FATS)


def test_liquid_at_trace_comes_off_the_liquid_in_front_and_the_sum_is_kept(world: World) -> None:
    """Common practice, no source: 1,000 g of fats and 320 g of liquid, 150 g of water in front leave 170 g of milk."""
    assert split(total_g=320, front_g=150).trace_g == 170
    for front in (150, 180, 240):
        lines = (*FATS, liquid("water", str(front)), liquid("goat_milk", None, Per.REST, GoesIn.TRACE))
        one = plan(workshop=world.workshop, entry=formula_entry(lines=lines), at=world.now)
        figures = work_out(one.formula)
        assert (figures.front_g, figures.trace_g, figures.liquid_g) == (front, 320 - front, 320)


def test_milk_is_noticed_from_a_quarter_of_the_liquid(world: World) -> None:
    """Common practice, no source."""
    assert LEAST_NOTICED_MILK == 0.25
    assert "milk_hardly_noticed" in codes(world, milk_of("0.24"))
    assert "milk_hardly_noticed" not in codes(world, milk_of("0.25"))


def test_lye_in_milk_is_held_cool_and_its_fats_are_warm_not_hot(world: World) -> None:
    """Common practice, no source: lye at 24 to 27 °C, never over 30, with fats at 38 to 41 °C."""
    assert (MILK_LYE_C, MILK_LYE_MOST_C, MILK_FATS_C) == ((24, 27), 30, (38, 41))
    found = judged(plan(workshop=world.workshop, entry=milk_of("0.5"), at=world.now)).findings
    (sugar,) = [finding for finding in found if finding.code == "sugar_heats_trace"]
    temperatures = [sugar.figures[name] for name in ("lye_low_c", "lye_high_c", "fats_low_c", "fats_high_c")]
    assert temperatures == [24, 27, 38, 41]


def test_milk_of_nine_per_cent_fat_is_worth_the_three_points_between_five_and_two(world: World) -> None:
    """Common practice, no source: 9 % butterfat is high, and at a third of the fats it brings 2 % back to about 5 %."""
    lines = (*FATS, liquid("buffalo_milk", None, Per.REST, GoesIn.FRONT, fat_fraction=Decimal("0.09")))
    entry = formula_entry(lines=lines, liquid=Decimal("0.3333"), liquid_per=Per.FATS, superfat=Decimal("0.02"))
    figures = judged(plan(workshop=world.workshop, entry=entry, at=world.now)).figures
    assert figures is not None
    assert figures.superfat.of_fats.middle == pytest.approx(0.02, abs=0.001)
    assert figures.superfat.effective.middle == pytest.approx(0.05, abs=0.005)


def test_a_middle_of_nothing_is_balanced_and_below_it_is_refused(world: World) -> None:
    """Common practice, no source: 0 % is all the lye that neutral bars take, and none over."""
    lines = (*FATS, liquid("water", None, Per.REST))
    balanced = plan(workshop=world.workshop, entry=formula_entry(lines=lines, superfat=Decimal(0)), at=world.now)
    assert not judge(balanced.formula).is_refused
    below = judge(replace(balanced.formula, superfat=-0.005))
    assert "superfat_below_zero" in {finding.code for finding in below.findings}


def test_a_new_workshop_cures_for_four_weeks_at_the_least(world: World) -> None:
    """Common practice, no source: four to six weeks; eight are late."""
    workshop = Workshop.objects.get(pk=world.workshop.pk)
    assert 28 <= workshop.min_days <= 42 < workshop.latest_day
