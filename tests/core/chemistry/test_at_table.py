"""At the table the low end of the superfat decides, never the middle; fat mends lye before trace and not after."""

import csv
import math
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.core.chemistry.alkali import Alkali, certified
from curehouse.core.chemistry.at_table import MOST_MORE_FAT, Answer, Why, at_table, with_more
from curehouse.core.chemistry.bounds import ZERO, Bounds
from curehouse.core.chemistry.fats import certificate_value
from curehouse.core.chemistry.poured import Part, Pour
from curehouse.core.chemistry.scale import Scales

_TABLE = Path(__file__).parents[2] / "reference" / "saponification_values.csv"
RANGES = [
    Bounds.between(float(row["SV_min"]), float(row["SV_max"]))
    for row in csv.DictReader(_TABLE.read_text(encoding="utf-8").splitlines())
]
ORDER = [Answer.SAFE, Answer.AS_READ, Answer.ADD_FAT, Answer.STOP]
ONLY_NAOH = {Alkali.NAOH}


def naoh(mass_g: float, purity: float = 0.99) -> Part:
    return Part(mass_g, certified(purity), Alkali.NAOH)


def pour(lye_g: float, *fats: Part, step_g: float = 1.0) -> Pour:
    return Pour(fats=fats, lye=(naoh(lye_g),), acids_mol=ZERO, milk_mol=ZERO, scales=Scales(step_g, 0.1))


def low(one: Pour) -> float:
    found = one.superfat()
    assert found is not None
    return found.of_fats.low


def test_by_hand() -> None:
    """1,000 g of olive oil of 190 by its certificate, scale of 1 g; lye of 99 %, scale of 0.1 g.

    The least the fat takes: 999.5 g x 189.05 / 56106 = 3.367812 mol. 133.0 g of lye bring at the most
    133.05 x 0.995 / 39.997 = 3.309874 mol: 1 - 0.98280 = 1.720 %. Safe.
    136.0 g bring 136.05 x 0.995 / 39.997 = 3.384510 mol: low end -0.496 %, though its middle is +0.596 %.
    0.016698 mol more fat are wanted at the least, of 189.05 / 56106 = 0.00336952 mol a gram: 4.956 g, and half a
    step of the scale besides: 5.456 g, so 6 g.
    """
    olive = Part(1000, certificate_value(190))
    safe = at_table(pour(133.0, olive), planned=ONLY_NAOH)
    assert safe.answer is Answer.SAFE
    assert safe.low == pytest.approx(0.01720, abs=2e-5)
    found = at_table(pour(136.0, olive), planned=ONLY_NAOH)
    assert found.superfat is not None
    assert found.superfat.of_fats.middle == pytest.approx(0.00596, abs=2e-5)
    assert found.low == pytest.approx(-0.00496, abs=2e-5)
    assert found.answer is Answer.ADD_FAT
    assert [(one.part, one.add_g, one.fats_g) for one in found.remedies] == [(0, 6.0, 1006.0)]


fats_drawn = st.lists(st.tuples(st.sampled_from(RANGES), st.floats(50, 3000)), min_size=1, max_size=4)
steps = st.sampled_from([0.1, 0.5, 1.0, 2.0, 5.0])


def drawn(fats: list[tuple[Bounds, float]], factor: float, step_g: float) -> Pour:
    """Return a pour whose lye is *factor* times what its fats take at the middle."""
    parts = [Part(mass_g, value) for value, mass_g in fats]
    mol = math.fsum(part.mass_g * part.value.middle for part in parts if part.value) / 1000 / 56.106
    return pour(mol * factor * 39.997 / 0.99, *parts, step_g=step_g)


@given(fats_drawn, st.floats(0.8, 1.3), st.floats(0.0, 0.2), steps, st.booleans(), st.sampled_from([0.0, -0.02]))
def test_more_lye_is_never_safer(
    fats: list[tuple[Bounds, float]], factor: float, more: float, step_g: float, is_past: bool, read: float
) -> None:
    less, lye = (
        at_table(drawn(fats, one, step_g), planned=ONLY_NAOH, is_past_trace=is_past, read_low=read)
        for one in (factor, factor + more)
    )
    assert ORDER.index(less.answer) <= ORDER.index(lye.answer)
    of_less = {one.part: one.add_g for one in less.remedies}
    assert all(of_less.get(one.part, 0.0) <= one.add_g for one in lye.remedies)


@given(fats_drawn, st.floats(0.85, 1.25), steps)
def test_the_fat_that_is_added_makes_the_low_end_safe_and_one_step_less_does_not(
    fats: list[tuple[Bounds, float]], factor: float, step_g: float
) -> None:
    one = drawn(fats, factor, step_g)
    found = at_table(one, planned=ONLY_NAOH)
    assert (found.answer is Answer.SAFE) == (low(one) >= 0)
    assert bool(found.remedies) == (found.answer is Answer.ADD_FAT)
    for remedy in found.remedies:
        mended = with_more(one, remedy.part, remedy.add_g)
        assert low(mended) >= 0
        assert at_table(mended, planned=ONLY_NAOH).answer is Answer.SAFE
        assert remedy.superfat == mended.superfat()
        fewer_g = remedy.add_g - step_g
        assert fewer_g < step_g / 2 or low(with_more(one, remedy.part, fewer_g)) < 0
        assert remedy.add_g <= MOST_MORE_FAT * sum(part.mass_g for part in one.fats) + step_g * 1e-6
        assert abs(remedy.add_g / step_g - round(remedy.add_g / step_g)) < 1e-6


@given(fats_drawn, st.floats(0.5, 1.3), steps, st.sampled_from(sorted(Why)))
def test_a_doubt_stops_whatever_the_figures_say(
    fats: list[tuple[Bounds, float]], factor: float, step_g: float, why: Why
) -> None:
    found = at_table(drawn(fats, factor, step_g), planned=ONLY_NAOH, doubts=[why])
    assert (found.answer, found.why, found.remedies) == (Answer.STOP, (why,), ())


def test_after_trace_no_fat_is_added() -> None:
    found = at_table(pour(138.0, Part(1000, certificate_value(190))), planned=ONLY_NAOH, is_past_trace=True)
    assert (found.answer, found.why, found.remedies) == (Answer.STOP, (Why.AFTER_TRACE,), ())


def test_the_wrong_alkali_stops_though_it_would_be_mild() -> None:
    one = pour(133.0, Part(1000, certificate_value(190)))
    koh = replace(one, lye=(Part(133.0, certified(0.9), Alkali.KOH),))
    assert low(koh) > 0
    assert at_table(koh, planned=ONLY_NAOH).why == (Why.WRONG_ALKALI,)
    # One of which nothing was weighed is none.
    with_none = replace(one, lye=(*one.lye, Part(0.0, certified(0.9), Alkali.KOH)))
    assert at_table(with_none, planned=ONLY_NAOH).answer is Answer.SAFE


def test_what_is_not_known_stops() -> None:
    one = pour(133.0, Part(1000, None))
    assert at_table(one, planned=ONLY_NAOH).why == (Why.NOT_KNOWN,)


def test_lye_that_no_sensible_amount_of_fat_mends_stops() -> None:
    found = at_table(pour(266.0, Part(1000, certificate_value(190))), planned=ONLY_NAOH)
    assert (found.answer, found.why) == (Answer.STOP, (Why.TOO_MUCH_LYE,))


def test_what_was_read_with_the_formula_is_no_worse_and_still_no_safe_batch() -> None:
    one = pour(136.5, Part(1000, certificate_value(190)))
    found = at_table(one, planned=ONLY_NAOH, read_low=-0.02)
    assert found.superfat.of_fats.low < 0 <= found.superfat.of_fats.middle
    assert found.answer is Answer.AS_READ
    assert found.remedies
    assert at_table(one, planned=ONLY_NAOH, read_low=-0.005).answer is Answer.ADD_FAT
    # A middle below 0 is caustic, whatever was confirmed with the formula.
    caustic = pour(138.0, Part(1000, certificate_value(190)))
    assert at_table(caustic, planned=ONLY_NAOH, read_low=-0.03).answer is Answer.ADD_FAT
    assert at_table(caustic, planned=ONLY_NAOH, read_low=-0.03, is_past_trace=True).answer is Answer.STOP
    # A formula whose low end was above 0 was read so: that excuses nothing.
    assert at_table(one, planned=ONLY_NAOH, read_low=0.01).answer is Answer.ADD_FAT


def test_a_figure_outside_of_what_is_published_counts_by_the_worse_of_both() -> None:
    odd = Part(1000, certificate_value(230), published=Bounds.between(184, 196))
    assert at_table(pour(145.0, odd), planned=ONLY_NAOH).answer is Answer.ADD_FAT
    assert at_table(pour(145.0, Part(1000, certificate_value(230))), planned=ONLY_NAOH).answer is Answer.SAFE
