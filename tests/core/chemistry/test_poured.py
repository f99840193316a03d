"""A pour's superfat follows the lots that really went in."""

import json
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.core.chemistry.alkali import Alkali, certified
from curehouse.core.chemistry.bounds import ZERO, Bounds
from curehouse.core.chemistry.fats import certificate_value
from curehouse.core.chemistry.poured import Part, Pour, pour_from_plain
from curehouse.core.chemistry.scale import Scales

from .build import COCONUT, OLIVE

EXACT = Scales(1e-9, 1e-9)
OLIVE_700, COCONUT_300 = Part(700, OLIVE, material=1), Part(300, COCONUT, material=2)


def naoh(mass_g: float, purity: float) -> Part:
    return Part(mass_g, certified(purity), Alkali.NAOH, material=9)


def pour(*lye: Part, fats: tuple[Part, ...] = (OLIVE_700, COCONUT_300), scales: Scales = EXACT) -> Pour:
    return Pour(fats=fats, lye=lye, acids_mol=ZERO, milk_mol=ZERO, scales=scales)


def middle(one: Pour) -> float:
    found = one.superfat()
    assert found is not None
    return found.of_fats.middle


def test_by_hand() -> None:
    # (133 + 76.95) / 56.106 = 3.74202 mol for the fats; 145.1 x 0.98 / 39.997 = 3.55522 mol of lye: 4.99 %.
    reckoned = pour(naoh(145.1, 0.98))
    assert middle(reckoned) == pytest.approx(0.04992, abs=1e-5)
    # The same grams of a lot of 99.5 %: 3.60962 mol, 3.54 %.
    assert middle(reckoned.with_lots([(0, naoh(145.1, 0.995))])) == pytest.approx(0.03538, abs=1e-5)
    # Olive oil of 186 in place of 190: (130.2 + 76.95) / 56.106 = 3.69212 mol, 3.71 %.
    olive = Part(700, Bounds.exactly(186), material=1)
    assert middle(reckoned.with_lots([(0, olive)])) == pytest.approx(0.03708, abs=1e-5)


def test_what_was_booked_in_part_leaves_the_rest_as_reckoned() -> None:
    # 100 g of 99.5 % and 45.1 g of 98 %: (99.5 + 44.198) / 39.997 = 3.59272 mol, 3.99 %.
    assert middle(pour(naoh(145.1, 0.98)).with_lots([(0, naoh(100, 0.995))])) == pytest.approx(0.03990, abs=1e-5)


def test_another_fat_takes_the_place_of_the_one_that_was_not_booked() -> None:
    castor = Part(700, Bounds.exactly(180), material=3)
    coconut = Part(300, Bounds.exactly(256.5), material=2)
    found = pour(naoh(145.1, 0.98)).with_lots([(None, castor), (1, coconut)])
    assert [(part.material, part.mass_g) for part in found.fats] == [(3, 700), (2, 300)]


def test_more_fat_booked_than_weighed_is_no_more_fat_and_more_lye_is_more_lye() -> None:
    one = pour(naoh(145.1, 0.98))
    assert middle(one.with_lots([(0, Part(7000, OLIVE, material=1))])) < middle(one)
    assert middle(one.with_lots([(0, naoh(160, 0.98))])) == pytest.approx(1 - 160 * 0.98 / 39.997 / 3.74202, abs=1e-5)


def test_what_is_not_known_makes_it_unknown() -> None:
    unknown = Part(145.1, None, Alkali.KOH)
    assert pour(unknown).superfat() is None
    # A lot that is known in its place makes it known.
    assert pour(unknown).with_lots([(0, naoh(145.1, 0.98))]).superfat() is not None
    assert pour(naoh(145.1, 0.98)).with_lots([(0, Part(700, None, material=1))]).superfat() is None


def test_booking_what_was_reckoned_changes_nothing() -> None:
    one = pour(naoh(145.1, 0.98), scales=Scales(1, 0.1))
    booked = one.with_lots([(0, OLIVE_700), (1, COCONUT_300), (0, naoh(145.1, 0.98))])
    assert booked.superfat() == one.superfat()


@given(
    st.lists(st.tuples(st.floats(10, 900), st.floats(170, 260)), min_size=1, max_size=4),
    st.lists(st.tuples(st.integers(0, 3), st.floats(1, 2000), st.floats(170, 260)), max_size=5),
    st.lists(st.tuples(st.floats(1, 400), st.floats(0.9, 1.0)), max_size=3),
    st.randoms(use_true_random=False),
)
def test_fats_keep_their_mass_the_order_of_bookings_changes_nothing_and_it_comes_back_from_plain(
    fats: list[tuple[float, float]],
    booked: list[tuple[int, float, float]],
    lots: list[tuple[float, float]],
    chance: random.Random,
) -> None:
    reckoned = pour(
        naoh(100, 0.98),
        fats=tuple(Part(mass_g, certificate_value(value)) for mass_g, value in fats),
        scales=Scales(1, 0.1),
    )
    lines: list[tuple[int | None, Part]] = [
        (number if number < len(fats) else None, Part(mass_g, certificate_value(value))) for number, mass_g, value in booked
    ]
    lines += [(0, naoh(mass_g, purity)) for mass_g, purity in lots]
    found = reckoned.with_lots(lines)
    assert sum(part.mass_g for part in found.fats) == pytest.approx(sum(mass_g for mass_g, _value in fats))
    assert sum(part.mass_g for part in found.lye) >= 100 - 1e-6
    chance.shuffle(lines)
    again = reckoned.with_lots(lines).superfat()
    was = found.superfat()
    assert was is not None and again is not None
    assert again.of_fats.middle == pytest.approx(was.of_fats.middle, abs=1e-9)
    assert pour_from_plain(json.loads(json.dumps(found.as_plain()))) == found


@given(st.floats(0.85, 1.0), st.floats(0.85, 1.0))
def test_the_purer_the_lot_the_lower_the_superfat(one: float, other: float) -> None:
    low, high = sorted((one, other))
    reckoned = pour(naoh(145.1, 0.98))
    purer = middle(reckoned.with_lots([(0, naoh(145.1, high))]))
    assert purer <= middle(reckoned.with_lots([(0, naoh(145.1, low))]))
