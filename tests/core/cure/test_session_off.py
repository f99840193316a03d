"""A session that is off as a whole or from some bar on, and what is none."""

import pytest

from curehouse.core.cure.session_off import SessionOff, session_off


def test_eight_bars_off_alike_are_one_session():
    off = [6.0, 7.2, 8.1, 9.0, 6.4, 7.7, 8.8, 7.0]
    assert session_off(off) == SessionOff(6.0, 9.0, 8, 0, 7)


def test_lighter_bars_are_said_from_the_least_to_the_most_off():
    assert session_off([-6.0, -9.0, -7.0]) == SessionOff(-6.0, -9.0, 3, 0, 2)


@pytest.mark.parametrize(
    ("differences_g", "said"),
    [
        ([7.0, 7.5], SessionOff(7.0, 7.5, 2, 0, 1)),
        ([None, None, None, 7.0, 7.5], SessionOff(7.0, 7.5, 2, 3, 4)),
        ([None, 7.0, 7.5, 8.0, None, None, None, None], SessionOff(7.0, 8.0, 3, 1, 3)),
        ([7.0, None, 7.5, 8.0], SessionOff(7.0, 8.0, 3, 0, 3)),
        ([7.0, 7.4, None, -6.0, -6.2], SessionOff(-6.0, -6.2, 2, 3, 4)),
    ],
)
def test_it_is_said_as_soon_as_two_bars_in_a_row_are_off_alike_and_from_which_on(differences_g, said):
    assert session_off(differences_g) == said


def test_what_is_off_now_is_said_though_more_was_off_before():
    off = [7.0, 7.2, 7.4, 7.1, None, None, None, 6.0, 6.2]
    assert session_off(off) == SessionOff(7.0, 7.4, 4, 0, 3)
    assert session_off(off, still=True) == SessionOff(6.0, 6.2, 2, 7, 8)
    assert session_off([*off, None], still=True) is None
    assert session_off([*off[:4], None, 7.0], still=True) == SessionOff(7.0, 7.4, 5, 0, 5)


@pytest.mark.parametrize(
    "differences_g",
    [
        [],
        [None, None],
        [7.0],
        [7.0, None],
        [7.0, None, 7.5],
        [7.0, None, None, 7.5, None, None, 8.0, None],
        [2.0, 9.0, 30.0, -7.0],
        [7.0, -7.0, 7.0, -7.0],
    ],
)
def test_few_bars_or_bars_that_are_off_each_in_its_own_way_are_none(differences_g):
    assert session_off(differences_g) is None


def test_one_wild_weight_does_not_hide_a_session():
    assert session_off([7.0, 7.4, 8.0, 60.0]) == SessionOff(7.0, 8.0, 3, 0, 2)


def test_a_long_session_is_found_as_a_whole_and_a_long_one_of_wild_weights_is_looked_through_at_once():
    assert session_off([7.0] * 600) == SessionOff(7.0, 7.0, 600, 0, 599)
    assert session_off([(-1.0) ** place * 3.0**place for place in range(600)]) is None
