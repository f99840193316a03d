"""What will be left day by day: nothing comes from nowhere, and no run stands otherwise than its check says."""

from collections import defaultdict
from dataclasses import replace
from itertools import accumulate, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curehouse.core.stock.ahead import Course, StockAhead, UseAhead, look_ahead
from curehouse.core.stock.allocation import NOTHING
from curehouse.core.stock.netting import net_runs
from curehouse.core.stock.storeroom import Arrival, Lot, OpenOrder, Outlook, Run, Storeroom
from tests.core.stock.test_netting_properties import MATERIALS, TODAY, drawn

DAYS = 30
END = TODAY + DAYS
COURSES = ("planned", "likely", "lean", "ample")
SEEDS = range(60)


@st.composite
def rooms(draw: st.DrawFn) -> tuple[Storeroom, list[Run], dict[str, Arrival]]:
    """Return a storeroom of oil that is scarce, expires and comes, runs of it in any turn, and orders' early days."""

    def last(first: int) -> float:
        return draw(st.one_of(st.just(float("inf")), st.integers(first, first + 25)))

    def grams() -> float:
        return draw(st.integers(0, 240)) / 2

    lots = []
    for place in range(draw(st.integers(0, 5))):
        came = TODAY - draw(st.integers(0, 20))
        lots.append(Lot(f"L{place}", "oil", grams(), came, last(came), released=draw(st.integers(0, 5)) > 0))
    orders, early = [], {}
    for place in range(draw(st.integers(0, 3))):
        keeps = draw(st.one_of(st.just(float("inf")), st.integers(1, 20)))
        soon, likely, safe = (Arrival(day, day + keeps) for day in sorted(TODAY + draw(st.integers(0, 28)) for _ in range(3)))
        orders.append(OpenOrder(f"P{place}", "oil", grams(), likely, safe))
        early[f"P{place}"] = soon
    runs = [
        Run(f"R{place}", TODAY + draw(st.integers(0, DAYS)), {"oil": grams(), "lye": 4.0}, draw(st.integers(0, 4)))
        for place in range(draw(st.integers(0, 5)))
    ]
    return Storeroom(lots, orders), runs, early


@st.composite
def uses(draw: st.DrawFn) -> UseAhead:
    """Return unplanned use that is mostly nothing, little of it least."""

    def sums(most: int) -> list[float]:
        steps = [draw(st.integers(0, most)) if draw(st.booleans()) else 0 for _ in range(DAYS)]
        return list(accumulate(map(float, steps)))

    little, more, most = sums(4), sums(6), sums(9)
    usual = [one + other for one, other in zip(little, more, strict=True)]
    return UseAhead(tuple(little), tuple(usual), tuple(one + other for one, other in zip(usual, most, strict=True)))


def ahead(room: Storeroom, runs: list[Run], early: dict[str, Arrival], use: UseAhead | None = None) -> StockAhead:
    return look_ahead(room, runs, "oil", today=TODAY, last_day=END, early=early, unplanned=use)


def courses(found: StockAhead) -> list[Course]:
    return [getattr(found, name) for name in COURSES]


@settings(max_examples=60, deadline=None)
@given(rooms(), uses())
def test_what_is_left_is_what_was_left_and_came_less_what_expired_and_was_used(room, use) -> None:
    for course in courses(ahead(*room, use)):
        left = course.opening
        assert [one.day for one in course.days] == list(range(TODAY, END + 1))
        for one in course.days:
            left += one.came - one.expired - one.into_runs - one.unplanned
            assert one.left == pytest.approx(left, abs=1e-9)
            assert min(one.left, one.came, one.expired, one.into_runs, one.unplanned, one.lacking) >= 0
            left = one.left


def gone_through(room: Storeroom, course: Course, comes: dict[str, Arrival], sums: tuple[float, ...]) -> list[float]:
    """Return what is left at the end of each day, by taking every amount from the lot that expires first."""
    shelf = [[lot.last_day, lot.received_day, lot.amount_g] for lot in room.lots if lot.released and lot.last_day >= TODAY]
    coming = [[comes[one.key].last_day, comes[one.key].day, one.amount_g] for one in room.orders]
    wanted: dict[int, list[float]] = defaultdict(list)
    for run in course.runs:
        wanted[run.day].append(run.given)
    for place, (before, after) in enumerate(pairwise((0.0, *sums)), start=1):
        wanted[TODAY + place].append(after - before)
    lefts = []
    for day in range(TODAY, END + 1):
        shelf = [one for one in shelf if one[0] >= day] + [one for one in coming if one[1] == day]
        for amount in wanted[day]:
            for one in sorted(shelf):
                taken = min(one[2], amount)
                one[2] -= taken
                amount -= taken
        lefts.append(sum(one[2] for one in shelf))
    return lefts


@settings(max_examples=60, deadline=None)
@given(rooms(), uses())
def test_it_is_what_going_through_the_days_lot_by_lot_leaves(room, use) -> None:
    found = ahead(*room, use)
    likely, safe = ({one.key: getattr(one, name) for one in room[0].orders} for name in ("likely", "safe"))
    ways = (likely, ()), (likely, use.usual), (safe, use.much), (room[2], use.little)
    for course, (comes, sums) in zip(courses(found), ways, strict=True):
        assert [one.left for one in course.days] == pytest.approx(gone_through(room[0], course, comes, sums), abs=1e-6)
    for place in range(DAYS + 1):
        low, high = found.between(place)
        assert low <= found.likely.days[place].left <= high


@settings(max_examples=60, deadline=None)
@given(rooms(), uses())
def test_what_is_wanted_and_not_there_is_said_on_its_day(room, use) -> None:
    found = ahead(*room, use)
    for course, sums in zip(courses(found), ((), use.usual, use.much, use.little), strict=True):
        wanted: dict[int, float] = defaultdict(float)
        for run in course.runs:
            assert run.found <= run.given + 1e-9 <= run.needed + 2e-9
            wanted[run.day] += run.needed
        for place, (before, after) in enumerate(pairwise((0.0, *sums)), start=1):
            wanted[TODAY + place] += after - before
        lacking = {}
        for one in course.days:
            assert one.into_runs + one.unplanned + one.lacking == pytest.approx(wanted[one.day], abs=3 * NOTHING)
            if one.lacking:
                lacking[one.day] = one.lacking
        assert course.short_on == min(lacking, default=None)
    firsts = [one.short_on for one in courses(found)[:3] if one.short_on is not None]
    assert found.short_early == min(firsts, default=None)


@settings(max_examples=40, deadline=None)
@given(rooms())
def test_without_runs_and_use_it_stays_until_it_expires_or_something_comes(room) -> None:
    found = ahead(room[0], [], room[2])
    assert found.likely is found.planned
    for course, which in ((found.planned, "likely"), (found.lean, "safe")):
        usable = [(lot.amount_g, lot.received_day, lot.last_day) for lot in room[0].lots if lot.released]
        for order in room[0].orders:
            comes = getattr(order, which)
            usable.append((order.amount_g, comes.day, comes.last_day))
        for one in course.days:
            there = sum(grams for grams, first, last in usable if first <= one.day <= last)
            assert one.left == pytest.approx(there, abs=1e-9)
        assert course.short_on is None


@settings(max_examples=60, deadline=None)
@given(rooms(), uses())
def test_more_use_never_leaves_more(room, use) -> None:
    found = ahead(*room, use)
    for with_use, without in zip(found.likely.days, found.planned.days, strict=True):
        assert with_use.left <= without.left + 1e-6
    for run, alone in zip(found.likely.runs, found.planned.runs, strict=True):
        assert run.found <= alone.found + 1e-6


def shorts(runs: list[Run], room: Storeroom, material: str, outlook: Outlook) -> dict[str, float]:
    return {one.run: one.short_g for one in net_runs(runs, room, TODAY, outlook) if one.material == material}


def test_runs_go_short_by_plan_as_their_checks_say_of_any_material_and_in_any_turn() -> None:
    """With blends among the needs, of which nothing is short where they are made up, and every other case with other turns."""
    seen = 0
    for seed in SEEDS:
        case = drawn(seed)
        runs = [replace(run, turn=-place if seed % 2 else 0) for place, run in enumerate((*case.others, case.new))]
        for material in (*MATERIALS, *case.room.blends):
            found = look_ahead(case.room, runs, material, today=TODAY, last_day=END)
            for course, outlook in ((found.planned, Outlook.LIKELY), (found.lean, Outlook.SAFE)):
                said = shorts(runs, case.room, material, outlook)
                lacks = {one.run: one.lacking for one in course.runs if one.needed > NOTHING}
                assert lacks == pytest.approx(said, abs=1e-9)
                days = {run.key: run.day for run in runs}
                short_on = min((days[key] for key, grams in said.items() if grams > NOTHING), default=None)
                assert course.short_on == short_on
                seen += short_on is not None
    assert seen > 75, "the cases drawn are all alike"


def test_what_is_made_up_from_its_parts_is_not_short_and_leaves_no_stock_of_its_own() -> None:
    lots = [Lot("M", "mix", 90.0, TODAY - 3), Lot("L", "oil", 500.0, TODAY - 3)]
    room = Storeroom(lots, blends={"mix": (("oil", 1.0),)}, blends_from_stock=True)
    runs = [Run("soon", TODAY + 5, {"mix": 60.0}), Run("late", TODAY + 20, {"mix": 90.0})]
    found = look_ahead(room, runs, "mix", today=TODAY, last_day=END).likely
    assert [(one.found, one.made_up, one.short, one.lacking) for one in found.runs] == [(60, 0, 0, 0), (30, 60, 0, 0)]
    assert found.short_on is None
    assert (found.days[20].into_runs, found.days[20].left) == (30, 0)


def oil(grams: float, last_day: float = float("inf"), key: str = "L") -> Lot:
    return Lot(key, "oil", grams, TODAY - 3, last_day)


def steady(a_day: float) -> tuple[float, ...]:
    return tuple(a_day * day for day in range(1, DAYS + 1))


def test_a_run_that_was_announced_first_keeps_its_part_from_an_earlier_one_but_not_from_use_nobody_planned() -> None:
    runs = [Run("late", TODAY + 20, {"oil": 50.0}, 0), Run("soon", TODAY + 5, {"oil": 50.0}, 1)]
    found = ahead(Storeroom([oil(60)]), runs, {}, UseAhead(steady(0), steady(1), steady(1)))
    assert [(one.run, one.found, one.lacking) for one in found.planned.runs] == [("soon", 10, 40), ("late", 50, 0)]
    assert [(one.run, one.found, one.lacking) for one in found.likely.runs] == [("soon", 10, 40), ("late", 31, 19)]
    assert (found.planned.short_on, found.likely.used_up_on) == (TODAY + 5, TODAY + 20)


def test_what_is_used_besides_takes_first_what_expires_first_and_so_less_expires() -> None:
    room = Storeroom([oil(10, TODAY + 9), oil(100, key="K")])
    found = ahead(room, [], {}, UseAhead(steady(0), steady(1), steady(2)))
    assert [(one.supply, one.day, one.amount) for one in found.planned.expires] == [("L", TODAY + 10, 10)]
    assert [(one.supply, one.day, one.amount) for one in found.likely.expires] == [("L", TODAY + 10, 1)]
    assert found.lean.expires == ()
    assert found.between(10) == (90, 100)


def test_the_lean_course_waits_for_the_safe_day_and_the_ample_one_has_it_early() -> None:
    order = OpenOrder("P", "oil", 100.0, Arrival(TODAY + 8), Arrival(TODAY + 14))
    found = ahead(Storeroom([oil(10)], [order]), [], {"P": Arrival(TODAY + 6)}, UseAhead(steady(1), steady(1), steady(1)))
    assert [course.comes[0].day - TODAY for course in courses(found)] == [8, 8, 14, 6]
    assert [course.short_on for course in courses(found)] == [None, None, TODAY + 11, None]
    assert found.short_early == TODAY + 11
    assert found.lean.used_up_on == TODAY + 10


def test_of_a_material_that_nobody_has_heard_of_there_is_nothing_and_nothing_lacks() -> None:
    found = ahead(Storeroom([]), [], {})
    assert (found.likely.opening, found.likely.used_up_on, found.short_early) == (0, TODAY, None)
    assert found.between(DAYS) == (0, 0)


def test_a_run_beyond_the_last_day_keeps_its_part_and_is_not_shown() -> None:
    runs = [Run("far", END + 5, {"oil": 50.0}, 0), Run("soon", TODAY, {"oil": 50.0}, 1)]
    found = ahead(Storeroom([oil(60)]), runs, {})
    assert [(one.run, one.lacking) for one in found.planned.runs] == [("soon", 40)]
    assert found.planned.days[-1].left == 50


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"last_day": TODAY - 1}, "lies before today"),
        ({"unplanned": UseAhead((), (), ())}, "of 0 days"),
        ({"unplanned": UseAhead(steady(1), steady(1), tuple(reversed(steady(1))))}, "grows less"),
        ({"unplanned": UseAhead(steady(1), steady(1), steady(float("inf")))}, "without end"),
        ({"runs": [Run("past", TODAY - 1, {})]}, "a day that is past"),
        ({"room": Storeroom([oil(-1)])}, "from 0 up"),
    ],
)
def test_what_cannot_be_is_refused_in_words(more, said: str) -> None:
    asked = {"room": Storeroom([oil(1)]), "runs": [], "material": "oil", "today": TODAY, "last_day": END} | more
    with pytest.raises(ValueError, match=said):
        look_ahead(**asked)
