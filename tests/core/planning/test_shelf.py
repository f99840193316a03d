"""Places day by day: never a bar too many on any day, none left without a place while there is room, the fewest places."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.core.planning.shelf import Clash, Holding, Shelf, Stay, clashes, first_day_with_room, hold

FIRST = 740_000
DAYS = st.integers(FIRST - 20, FIRST + 60)


@st.composite
def stays(draw: st.DrawFn, places: int) -> Stay:
    first = draw(DAYS)
    last = draw(st.none() | st.integers(first, first + 50))
    return Stay(draw(st.integers(0, places - 1)), draw(st.integers(1, 12)), first, last)


@st.composite
def shelves(draw: st.DrawFn) -> Shelf:
    capacities = tuple(draw(st.lists(st.integers(0, 20), min_size=1, max_size=7)))
    return Shelf(capacities, tuple(draw(st.lists(stays(len(capacities)), max_size=8))))


def on_day(shelf: Shelf, place: int, day: int) -> int:
    """Return how many bars stand at a place on a day, counted by hand."""
    return sum(
        stay.bars
        for stay in shelf.stays
        if stay.place == place and stay.first_day <= day and (stay.last_day is None or day <= stay.last_day)
    )


def room(shelf: Shelf, place: int, first: int, last: int) -> int:
    return max(min(shelf.capacities[place] - on_day(shelf, place, day) for day in range(first, last + 1)), 0)


@given(shelves(), st.integers(0, 30))
def test_the_load_is_what_one_counts_by_hand(shelf: Shelf, days: int) -> None:
    found = shelf.load(FIRST, days)
    assert found.shape == (len(shelf.capacities), days)
    for place in range(len(shelf.capacities)):
        assert found[place].tolist() == [on_day(shelf, place, FIRST + day) for day in range(days)]


@given(shelves(), st.integers(1, 60), DAYS, st.integers(1, 40))
def test_bars_are_held_while_there_is_room_and_no_day_is_overfull_by_them(
    shelf: Shelf, bars: int, first: int, days: int
) -> None:
    last = first + days - 1
    held = hold(shelf, bars, first_day=first, last_day=last)
    rooms = [room(shelf, place, first, last) for place in range(len(shelf.capacities))]
    assert held.lacking == max(bars - sum(rooms), 0)
    assert sum(taken for _place, taken in held.parts) == bars - held.lacking
    assert all(0 < taken <= rooms[place] for place, taken in held.parts)
    assert [place for place, _taken in held.parts] == sorted({place for place, _taken in held.parts})
    after = Shelf(shelf.capacities, (*shelf.stays, *(Stay(place, taken, first, last) for place, taken in held.parts)))
    assert np.clip(-after.free(first, days), 0, None).sum() == np.clip(-shelf.free(first, days), 0, None).sum()


@given(shelves(), st.integers(1, 40), DAYS, st.integers(1, 40))
def test_those_neighbours_are_taken_that_are_fewest_and_leave_least_over(
    shelf: Shelf, bars: int, first: int, days: int
) -> None:
    held = hold(shelf, bars, first_day=first, last_day=first + days - 1)
    rooms = {place: room(shelf, place, first, first + days - 1) for place in range(len(shelf.capacities))}
    some = [place for place, free in rooms.items() if free]
    if sum(rooms.values()) <= bars:
        assert [place for place, _taken in held.parts] == some
        return
    ranges = [some[start:end] for start, end in combinations(range(len(some) + 1), 2)]
    enough = [places for places in ranges if sum(rooms[place] for place in places) >= bars]
    best = min(enough, key=lambda places: (len(places), sum(rooms[place] for place in places), places[0]))
    assert [place for place, _taken in held.parts] == best


@given(shelves(), st.integers(1, 40), DAYS, st.integers(1, 12), st.integers(-1, 40))
def test_the_first_day_with_room_is_the_first_on_which_nothing_lacks(
    shelf: Shelf, bars: int, first: int, days: int, ahead: int
) -> None:
    found = first_day_with_room(shelf, bars, from_day=first, days=days, latest=first + ahead)
    fits = (
        day for day in range(first, first + ahead + 1) if not hold(shelf, bars, first_day=day, last_day=day + days - 1).lacking
    )
    assert found == next(fits, None)


@given(shelves(), DAYS, st.integers(0, 40))
def test_clashes_are_the_days_with_too_many_bars(shelf: Shelf, first: int, days: int) -> None:
    said = {
        (one.place, day): one.bars_over
        for one in clashes(shelf, first_day=first, days=days)
        for day in range(one.first_day, one.last_day + 1)
    }
    counted = {
        (place, day): over
        for place in range(len(shelf.capacities))
        for day in range(first, first + days)
        if (over := on_day(shelf, place, day) - shelf.capacities[place]) > 0
    }
    assert said.keys() == counted.keys()
    for one in clashes(shelf, first_day=first, days=days):
        assert one.bars_over == max(counted[one.place, day] for day in range(one.first_day, one.last_day + 1))


def test_a_shelf_by_hand() -> None:
    """Two boards of 12 and one of 6: eight bars stand on the first until day 10, six come to the last on day 20."""
    shelf = Shelf((12, 12, 6), (Stay(0, 8, FIRST, FIRST + 10), Stay(2, 6, FIRST + 20, None)))
    assert hold(shelf, 12, first_day=FIRST, last_day=FIRST + 30) == Holding(((1, 12),), 0)
    assert hold(shelf, 14, first_day=FIRST, last_day=FIRST + 5) == Holding(((0, 4), (1, 10)), 0)
    assert hold(shelf, 14, first_day=FIRST, last_day=FIRST + 30) == Holding(((0, 4), (1, 10)), 0)
    assert hold(shelf, 20, first_day=FIRST, last_day=FIRST + 30) == Holding(((0, 4), (1, 12)), 4)
    assert first_day_with_room(shelf, 20, from_day=FIRST, days=30, latest=FIRST + 30) == FIRST + 11
    assert first_day_with_room(shelf, 40, from_day=FIRST, days=3, latest=FIRST + 300) is None
    late = Shelf((12,), (Stay(0, 8, FIRST, FIRST + 10), Stay(0, 6, FIRST + 8, FIRST + 9), Stay(0, 1, FIRST + 9, FIRST + 9)))
    assert clashes(late, first_day=FIRST, days=20) == (Clash(0, FIRST + 8, FIRST + 9, 3),)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: Stay(0, 0, FIRST, None),
        lambda: Stay(0, 1, FIRST, FIRST - 1),
        lambda: Shelf((-1,)),
        lambda: Shelf((3,), (Stay(1, 1, FIRST, None),)),
        lambda: hold(Shelf((3,)), 0, first_day=FIRST, last_day=FIRST),
        lambda: hold(Shelf((3,)), 1, first_day=FIRST, last_day=FIRST - 1),
        lambda: first_day_with_room(Shelf((3,)), 1, from_day=FIRST, days=0, latest=FIRST),
    ],
)
def test_what_cannot_be_is_refused(wrong) -> None:
    with pytest.raises(ValueError, match=r"bar|place|leave"):
        wrong()
