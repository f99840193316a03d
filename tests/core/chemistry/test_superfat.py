"""The ends of a superfat: they hold what chance brings, and never hide too much lye."""

import math
import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from curehouse.core.chemistry.acids import Acid, acids_mol
from curehouse.core.chemistry.alkali import LyePart
from curehouse.core.chemistry.bounds import ZERO, Bounds
from curehouse.core.chemistry.fats import Fat, fats_g, fats_mol
from curehouse.core.chemistry.lye import LyeAmount, lye_amounts, lye_mol
from curehouse.core.chemistry.scale import Scales, weigh_out, weighed
from curehouse.core.chemistry.superfat import Superfat, setting_for, smallest_batch, superfat

from . import build
from .build import COCONUT, FINE, NAOH, OLIVE, olive_and_coconut

OUNCE_G = 28.349523125


def plan(
    fats: tuple[Fat, ...],
    setting: float,
    *,
    parts: tuple[LyePart, ...] = NAOH,
    acids: tuple[Acid, ...] = (),
    scales: Scales = FINE,
) -> tuple[tuple[LyeAmount, ...], Superfat]:
    amounts = lye_amounts(
        fats_mol=fats_mol(fats), acids_mol=acids_mol(acids), superfat=setting, parts=parts, step_g=scales.fine_step_g
    )
    return amounts, superfat(
        fats_mol=fats_mol(fats, scales.step_g),
        milk_mol=ZERO,
        acids_mol=acids_mol(acids, scales.fine_step_g),
        lye_mol=lye_mol(amounts, scales.fine_step_g),
    )


@pytest.mark.parametrize("fat", [OLIVE, COCONUT, build.Bounds.between(180, 199), Bounds.between(190, 209)])
def test_two_percent_on_published_ranges_has_a_low_end_below_zero(fat: Bounds) -> None:
    # As makers are told: -1 to -3 %.
    _, found = plan((Fat("fat", 2000, fat),), 0.02)
    assert -0.035 < found.of_fats.low < -0.01


def test_coconut_at_five_percent_may_be_from_two_to_eight() -> None:
    certified_lye = (LyePart(NAOH[0].alkali, 1.0, Bounds.exactly(1.0)),)
    _, found = plan((Fat("coconut oil", 5000, COCONUT),), 0.05, parts=certified_lye)
    assert found.of_fats.low == pytest.approx(0.0174, abs=0.0005)
    assert found.of_fats.high == pytest.approx(0.0805, abs=0.0005)


def test_balanced_is_zero() -> None:
    _, found = plan(olive_and_coconut(), 0.0)
    assert found.of_fats.middle == pytest.approx(0, abs=0.001)
    assert found.of_fats.middle >= 0


@given(build.fats(), build.superfats, build.lyes(), build.acids(), build.scales)
def test_no_rounding_leaves_less_superfat_than_was_asked_for(
    fats: tuple[Fat, ...], setting: float, parts: tuple[LyePart, ...], acids: tuple[Acid, ...], scales: Scales
) -> None:
    amounts, found = plan(fats, setting, parts=parts, acids=acids, scales=scales)
    assert found.of_fats.middle >= setting - 1e-11
    assert found.of_fats.low <= found.of_fats.middle <= found.of_fats.high
    for amount in amounts:
        assert amount.weigh_g <= amount.exact_g * (1 + 1e-11)
        assert amount.weigh_g > amount.exact_g - scales.fine_step_g * (1 + 1e-9)
        assert amount.needed_g.low <= amount.exact_g <= amount.needed_g.high


@given(st.floats(0.001, 1e5), build.steps)
def test_weighing_out_ends_on_a_step_and_never_above(exact_g: float, step_g: float) -> None:
    weigh_g = weigh_out(exact_g, step_g)
    assert weigh_g <= exact_g * (1 + 1e-11)
    assert weigh_g / step_g == pytest.approx(round(weigh_g / step_g), abs=1e-5)
    assert weigh_out(weigh_g, step_g) == weigh_g


@pytest.mark.parametrize(
    ("exact_g", "step_g", "weigh_g"), [(283.5, 0.1, 283.5), (283.59999, 0.1, 283.5), (0.3, 0.1, 0.3), (9.99, 5, 5)]
)
def test_weighing_out_by_hand(exact_g: float, step_g: float, weigh_g: float) -> None:
    assert weigh_out(exact_g, step_g) == weigh_g


@given(build.fats(), st.floats(0, 0.2), st.floats(0, 0.2), build.lyes())
def test_more_superfat_asked_for_is_never_more_lye(
    fats: tuple[Fat, ...], one: float, other: float, parts: tuple[LyePart, ...]
) -> None:
    (less, more), results = sorted((one, other)), []
    for setting in (less, more):
        results.append(plan(fats, setting, parts=parts))
    (lean, lean_found), (rich, rich_found) = results
    assert all(first.weigh_g >= second.weigh_g for first, second in zip(lean, rich, strict=True))
    assert lean_found.of_fats.low <= rich_found.of_fats.low
    assert lean_found.of_fats.high <= rich_found.of_fats.high


@given(build.fats(), st.floats(0.01, 1.5), st.floats(0.01, 1.5), st.floats(0, 5))
def test_effective_superfat_falls_with_every_gram_of_lye(fats: tuple[Fat, ...], one: float, other: float, milk: float) -> None:
    assume(abs(one - other) > 1e-6)
    taken, found = fats_mol(fats), []
    for part in sorted((one, other)):
        lye = Bounds.exactly(taken.middle * part)
        found.append(superfat(fats_mol=taken, milk_mol=Bounds.exactly(milk), acids_mol=ZERO, lye_mol=lye))
    less, more = found
    for ends in ("low", "middle", "high"):
        assert getattr(less.effective, ends) > getattr(more.effective, ends)
        assert getattr(less.effective, ends) >= getattr(less.of_fats, ends)


@given(build.fats(), build.superfats, st.floats(0, 3))
def test_the_setting_for_a_wanted_effective_superfat_gives_it(fats: tuple[Fat, ...], wanted: float, milk: float) -> None:
    taken = fats_mol(fats)
    setting = setting_for(effective=wanted, fats_mol=taken.middle, milk_mol=milk)
    assert setting <= wanted + 1e-12
    lye = Bounds.exactly(taken.middle * (1 - setting))
    found = superfat(fats_mol=taken, milk_mol=Bounds.exactly(milk), acids_mol=ZERO, lye_mol=lye)
    assert found.effective.middle == pytest.approx(wanted, abs=1e-9)
    assert found.of_fats.middle == pytest.approx(setting, abs=1e-9)


@given(build.fats(), build.superfats, build.acids(), st.randoms(use_true_random=False))
def test_the_order_of_lines_changes_nothing(
    fats: tuple[Fat, ...], setting: float, acids: tuple[Acid, ...], chance: random.Random
) -> None:
    shuffled, others = list(fats), list(acids)
    chance.shuffle(shuffled)
    chance.shuffle(others)
    assert plan(fats, setting, acids=acids) == plan(tuple(shuffled), setting, acids=tuple(others))


@given(build.fats(), build.superfats)
def test_ounces_lead_to_the_same_lye_as_grams(fats: tuple[Fat, ...], setting: float) -> None:
    in_ounces = tuple(Fat(fat.name, fat.mass_g / OUNCE_G * OUNCE_G, fat.published, fat.certificate) for fat in fats)
    (grams,), _ = plan(fats, setting)
    (ounces,), _ = plan(in_ounces, setting, scales=Scales(0.1, OUNCE_G / 1000))
    assert ounces.exact_g == pytest.approx(grams.exact_g, rel=1e-12)
    assert ounces.weigh_g <= grams.exact_g * (1 + 1e-11)


def drawn(bounds: Bounds, chance: np.random.Generator, count: int) -> np.ndarray:
    return chance.uniform(bounds.low, bounds.high, count)


@settings(max_examples=25, deadline=None)
@given(build.fats(), st.floats(0, 0.1), build.lyes(), build.acids(), build.scales, st.integers(0, 2**31))
def test_the_ends_hold_what_chance_brings(
    fats: tuple[Fat, ...], setting: float, parts: tuple[LyePart, ...], acids: tuple[Acid, ...], scales: Scales, seed: int
) -> None:
    """Every value drawn anywhere in its range, every weight anywhere in its step: 99 % and more lie between the ends."""
    chance, count = np.random.default_rng(seed), 2000
    assume(all(fat.mass_g > scales.step_g for fat in fats))
    amounts, found = plan(fats, setting, parts=parts, acids=acids, scales=scales)
    takes, brings = np.zeros(count), np.zeros(count)
    for fat in fats:
        mass = drawn(weighed(fat.mass_g, scales.step_g), chance, count)
        takes += mass * drawn(fat.saponification, chance, count) / 56106
    for amount in amounts:
        mass = drawn(weighed(amount.weigh_g, scales.fine_step_g), chance, count)
        brings += mass * drawn(amount.purity, chance, count) / amount.alkali.g_per_mol
    for acid in acids:
        eaten = drawn(weighed(acid.mass_g, scales.fine_step_g), chance, count) * drawn(acid.mol_per_g, chance, count)
        brings -= eaten
    real = 1 - np.maximum(brings, 0) / takes
    within = (found.of_fats.low - 1e-9 <= real) & (real <= found.of_fats.high + 1e-9)
    assert within.mean() >= 0.99


def scaled(fats: tuple[Fat, ...], factor: float) -> tuple[Fat, ...]:
    return tuple(Fat(fat.name, fat.mass_g * factor, fat.published, fat.certificate) for fat in fats)


@pytest.mark.parametrize("step_g", [0.1, 1.0, 5.0])
def test_the_smallest_batch_is_where_the_low_end_is_zero(step_g: float) -> None:
    fats, scales = olive_and_coconut(), Scales(step_g, step_g)
    amounts, _ = plan(fats, 0.05, scales=scales)
    smallest = smallest_batch(fats=fats, acids=(), lye=amounts, scales=scales)
    assert smallest.safe_fats_g is not None
    worst = [_worst_low(fats, 0.05, smallest.safe_fats_g * part / fats_g(fats), scales) for part in (0.98, 1.0, 1.02)]
    assert worst[0] < 0
    assert worst[1] == pytest.approx(0, abs=1e-9)
    assert worst[2] > 0
    steady = smallest.steady_fats_g / fats_g(fats)
    perfect = _worst_low(fats, 0.05, 1.0, Scales(1e-9, 1e-9))
    assert perfect - _worst_low(fats, 0.05, steady, scales) == pytest.approx(0.005, abs=1e-6)


def _worst_low(fats: tuple[Fat, ...], setting: float, factor: float, scales: Scales) -> float:
    """The low end if the rounding of the lye happened to take nothing off, worked out apart from the code."""
    lye = sum(fat.mass_g * factor * fat.saponification.middle for fat in fats) / 56106 * (1 - setting)
    lye += scales.fine_step_g / 2 / 39.997
    takes = sum((fat.mass_g * factor - scales.step_g / 2) * fat.saponification.low for fat in fats) / 56106
    return 1 - lye / takes


@settings(max_examples=60)
@given(build.fats(), build.superfats, build.lyes(), build.acids(), build.scales, st.floats(1.0, 30.0))
def test_from_the_smallest_batch_up_no_rounding_is_caustic(
    fats: tuple[Fat, ...], setting: float, parts: tuple[LyePart, ...], acids: tuple[Acid, ...], scales: Scales, more: float
) -> None:
    amounts, _ = plan(fats, setting, parts=parts, acids=acids, scales=scales)
    smallest = smallest_batch(fats=fats, acids=acids, lye=amounts, scales=scales)
    if smallest.safe_fats_g is None:
        low = plan(scaled(fats, 1e6), setting, parts=parts, acids=scaled_acids(acids, 1e6), scales=scales)[1].of_fats.low
        assert low <= 1e-6
        return
    factor = smallest.safe_fats_g / fats_g(fats) * more
    _, found = plan(scaled(fats, factor), setting, parts=parts, acids=scaled_acids(acids, factor), scales=scales)
    assert found.of_fats.low >= -1e-9


def scaled_acids(acids: tuple[Acid, ...], factor: float) -> tuple[Acid, ...]:
    return tuple(Acid(acid.name, acid.mass_g * factor, acid.form, acid.strength) for acid in acids)


def test_a_coarser_scale_asks_for_a_bigger_batch() -> None:
    fats, sizes = olive_and_coconut(), []
    for step_g in (0.1, 1.0, 10.0):
        amounts, _ = plan(fats, 0.05)
        sizes.append(smallest_batch(fats=fats, acids=(), lye=amounts, scales=Scales(step_g, step_g)).safe_fats_g)
    assert None not in sizes
    assert math.isclose(sizes[2] / sizes[0], 100, rel_tol=1e-6)
    assert sizes[0] < sizes[1] < sizes[2]


@given(build.fats(), build.superfats, build.lyes(), build.acids(), build.scales)
def test_at_the_smallest_batch_everything_at_its_worst_is_just_balanced(
    fats: tuple[Fat, ...], setting: float, parts: tuple[LyePart, ...], acids: tuple[Acid, ...], scales: Scales
) -> None:
    """Lye that its rounding took nothing off, on the strongest side of its purity, with every weight half a step off."""
    amounts, _ = plan(fats, setting, parts=parts, acids=acids, scales=scales)
    smallest = smallest_batch(fats=fats, acids=acids, lye=amounts, scales=scales)
    assume(smallest.safe_fats_g is not None and smallest.safe_fats_g > 0)
    factor = smallest.safe_fats_g / fats_g(fats)
    small, sour = scaled(fats, factor), scaled_acids(acids, factor)
    # Under half a step a weight cannot be off by half a step: the size named is then on the safe side.
    assume(all(fat.mass_g > scales.step_g for fat in small) and all(acid.mass_g > scales.fine_step_g for acid in sour))
    in_full = [replace(amount, weigh_g=amount.exact_g * factor) for amount in amounts]
    found = superfat(
        fats_mol=fats_mol(small, scales.step_g),
        milk_mol=ZERO,
        acids_mol=acids_mol(sour, scales.fine_step_g),
        lye_mol=lye_mol(in_full, scales.fine_step_g),
    )
    assert found.of_fats.low == pytest.approx(0, abs=1e-7)
