"""A session that is off as a whole, and what is none."""

import pytest

from curehouse.core.cure.session_off import SessionOff, session_off


def test_eight_bars_off_alike_are_one_session():
    off = [6.0, 7.2, 8.1, 9.0, 6.4, 7.7, 8.8, 7.0]
    assert session_off(off, weighed=8) == SessionOff(6.0, 9.0, 8)


def test_lighter_bars_are_said_from_the_least_to_the_most_off():
    assert session_off([-6.0, -9.0, -7.0], weighed=3) == SessionOff(-6.0, -9.0, 3)


@pytest.mark.parametrize(
    ("differences_g", "weighed"),
    [
        ([], 8),
        ([7.0, 7.5], 2),
        ([7.0, 7.5, 8.0], 8),
        ([2.0, 9.0, 30.0, -7.0], 4),
        ([7.0, -7.0, 7.0, -7.0], 4),
    ],
)
def test_few_bars_or_bars_that_are_off_each_in_its_own_way_are_none(differences_g, weighed):
    assert session_off(differences_g, weighed=weighed) is None


def test_one_wild_weight_does_not_hide_a_session():
    assert session_off([7.0, 7.4, 8.0, 60.0], weighed=4) == SessionOff(7.0, 8.0, 3)
