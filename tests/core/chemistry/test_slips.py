"""Slips of the pen: what they would mean is said, and nothing that cannot be read covers them."""

import pytest

from curehouse.core.chemistry.alkali import Alkali, LyePart, certified
from curehouse.core.chemistry.bounds import Bounds
from curehouse.core.chemistry.fats import Fat
from curehouse.core.chemistry.finding import Finding, Level, lowest_read
from curehouse.core.chemistry.findings import judge
from curehouse.core.chemistry.formula import Formula
from curehouse.core.chemistry.liquids import Composition, Liquid, Place
from curehouse.core.chemistry.scale import Scales
from curehouse.core.chemistry.words import told

LISTED = Bounds(184.0, 190.0, 196.0)
WATER = Liquid("water", 330.0, Place.FRONT, made_of=Composition(water=Bounds.exactly(1.0)))


def formula(fat: Fat, alkali: Alkali, purity: float) -> Formula:
    lye = (LyePart(alkali, 1.0, certified(purity)),)
    return Formula(fats=(fat,), liquids=(WATER,), superfat=0.05, lye=lye, scales=Scales(0.1, 0.1), front_c=25.0)


def said(one: Formula, code: str) -> str:
    (finding,) = [finding for finding in judge(one).findings if finding.code == code]
    return told(finding, lambda grams: f"{grams:.1f} g").says


@pytest.mark.parametrize(("alkali", "purity"), [(Alkali.NAOH, 0.99), (Alkali.KOH, 0.9)])
def test_an_odd_certificate_is_told_with_the_superfat_by_the_published_range(alkali: Alkali, purity: float) -> None:
    words = said(formula(Fat("Olive oil", 1000.0, LISTED, 220.0), alkali, purity), "certificate_outside_range")
    # By hand: 0.95 x 220 / 190 = 1.1.
    assert "the superfat is −10\u00a0%" in words
    assert words.endswith(": caustic.")
    weak = said(formula(Fat("Olive oil", 1000.0, LISTED, 170.0), alkali, purity), "certificate_outside_range")
    # 0.95 x 170 / 190 = 0.85.
    assert "the superfat is 15\u00a0%" in weak
    assert "caustic" not in weak


def test_an_odd_own_range_is_told_so_too() -> None:
    own = Fat("Olive oil", 1000.0, Bounds(215.0, 220.0, 225.0), listed=LISTED)
    assert "the superfat is −10\u00a0%" in said(formula(own, Alkali.NAOH, 0.99), "own_range_outside_list")


@pytest.mark.parametrize(("alkali", "purity"), [(Alkali.NAOH, 0.00985), (Alkali.KOH, 0.009)])
def test_a_share_typed_for_a_per_cent_is_refused_as_the_purity_it_is(alkali: Alkali, purity: float) -> None:
    found = judge(formula(Fat("Olive oil", 1000.0, LISTED), alkali, purity))
    assert "purity_implausible" in {one.code for one in found.findings if one.level is Level.REFUSAL}


@pytest.mark.parametrize("figure", ["-9", "-inf", "-1.0001", "nan"])
def test_what_no_share_can_be_was_not_read(figure: str) -> None:
    finding = Finding(Level.WARNING, "may_be_caustic", {"low_share": -0.02}, needs_confirming=True)
    assert finding.was_read([f"may_be_caustic:{figure}"]) is None
    assert lowest_read([f"may_be_caustic:{figure}"]) == 0.0
    assert finding.was_read(["may_be_caustic:-0.03"]) == "may_be_caustic:-0.03"
