"""A run held against a storeroom: worked by hand."""

from dataclasses import replace

import pytest

from curehouse.core.stock.netting import check_run, net_runs
from curehouse.core.stock.storeroom import Arrival, DeliveryDays, Lot, OpenOrder, Outlook, Run, Storeroom
from curehouse.core.stock.supplied import Taken

TODAY = 100
SOLUTION = {"solution": (("lye", 0.5), ("water", 0.5))}


def order(key: str, material: str, amount_g: float, likely: int, safe: int, keeps: float = float("inf")) -> OpenOrder:
    return OpenOrder(key, material, amount_g, Arrival(likely, likely + keeps), Arrival(safe, safe + keeps))


def only(found):
    (row,) = found.materials
    return row


def test_what_others_need_before_and_after_is_not_free_and_the_rest_is() -> None:
    room = Storeroom(
        lots=[
            Lot("old", "oil", 500, TODAY - 9, TODAY + 10),
            Lot("new", "oil", 900, TODAY - 2),
            Lot("stopped", "oil", 5000, TODAY - 2, released=False),
            Lot("gone", "oil", 5000, TODAY - 50, TODAY + 4),
        ],
        orders=[order("P1", "oil", 300, TODAY + 4, TODAY + 8)],
        delivery={"oil": DeliveryDays(6, 9)},
    )
    others = [Run("before", TODAY + 5, {"oil": 300}), Run("after", TODAY + 20, {"oil": 1000})]
    row = only(check_run(Run("new", TODAY + 6, {"oil": 500}), others, room, TODAY))
    # The later run can only have “new” and the order; the earlier one takes of “old”, which leaves 200 and 200 of the rest.
    assert (row.likely.here_g, row.likely.coming_g) == (1400, 300)
    assert (row.likely.taken_before_g, row.likely.kept_for_later_g, row.likely.free_g) == (300, 1000, 400)
    assert row.likely.short_g == 100
    # Safely the order is not there yet on day 6, but it is for the later run: 700 of “new” are enough for that.
    assert (row.safe.coming_g, row.safe.kept_for_later_g, row.safe.free_g) == (0, 700, 400)
    assert (row.order_by, row.too_late) == (TODAY - 3, True)
    assert row.likely.takes == (Taken("old", 200), Taken("new", 200))


def test_a_day_in_between_may_be_impossible_and_the_first_day_is_not_found_by_halving() -> None:
    room = Storeroom(
        lots=[Lot("L", "milk", 400, TODAY, TODAY + 3)], orders=[order("P", "milk", 400, TODAY + 10, TODAY + 12, keeps=2)]
    )
    possible = {
        day: check_run(Run("new", TODAY + day, {"milk": 400}), (), room, TODAY, horizon_days=20).likely for day in range(16)
    }
    assert [day for day, one in possible.items() if one.possible] == [0, 1, 2, 3, 10, 11, 12]
    assert [one.first_day for one in possible.values()] == [
        *(TODAY + day for day in range(4)),
        *[TODAY + 10] * 6,
        *(TODAY + day for day in range(10, 13)),
        None,
        None,
        None,
    ]
    safe = check_run(Run("new", TODAY + 4, {"milk": 400}), (), room, TODAY, horizon_days=20).safe
    assert (safe.possible, safe.first_day) == (False, TODAY + 12)


def test_two_materials_have_to_be_there_on_one_day() -> None:
    room = Storeroom(
        lots=[Lot("M1", "milk", 400, TODAY, TODAY + 3)],
        orders=[order("M2", "milk", 400, TODAY + 10, TODAY + 10, 2), order("O", "oil", 400, TODAY + 5, TODAY + 5)],
    )
    found = check_run(Run("new", TODAY, {"milk": 300, "oil": 400}), (), room, TODAY)
    assert found.likely.first_day == TODAY + 10
    assert found.likely.takes_on_first_day == {"milk": (Taken("M2", 300),), "oil": (Taken("O", 400),)}


def test_an_order_today_serves_the_run_and_frees_what_later_runs_would_have_had() -> None:
    room = Storeroom(lots=[Lot("L", "oil", 500, TODAY)], delivery={"oil": DeliveryDays(7, 12)})
    later = [Run("later", TODAY + 10, {"oil": 500})]
    found = check_run(Run("new", TODAY + 2, {"oil": 300}), later, room, TODAY)
    assert found.likely.first_day is None
    # Likely it is here for the later run; safely it comes two days after that, so the run waits for it.
    assert found.likely.first_day_if_ordered_today == TODAY + 2
    assert found.safe.first_day_if_ordered_today == TODAY + 12
    never = check_run(Run("new", TODAY + 2, {"oil": 300}), later, replace(room, delivery={}), TODAY)
    assert never.likely.first_day_if_ordered_today is None
    assert (only(never).order_by, only(never).too_late) == (None, False)


class TestBlends:
    """Lye dissolved beforehand: in stock, made up at the run, or made as a run of its own."""

    LOTS = (Lot("S", "solution", 300, TODAY), Lot("N", "lye", 400, TODAY), Lot("W", "water", 9000, TODAY))

    def test_left_alone_a_blend_is_always_made_up(self) -> None:
        found = check_run(Run("new", TODAY, {"solution": 1000}), (), Storeroom(self.LOTS, blends=SOLUTION), TODAY)
        rows = {one.material: one.likely for one in found.materials}
        assert {name: (row.needed_g, row.short_g) for name, row in rows.items()} == {"lye": (500, 100), "water": (500, 0)}

    def test_from_stock_its_own_lots_go_first_and_the_rest_is_made_up(self) -> None:
        room = Storeroom(self.LOTS, blends=SOLUTION, blends_from_stock=True)
        found = check_run(Run("new", TODAY, {"solution": 1000}), (), room, TODAY)
        rows = {one.material: one.likely for one in found.materials}
        assert (rows["solution"].takes, rows["solution"].made_up_g) == ((Taken("S", 300),), 700)
        assert rows["solution"].short_g == 0, "what is made up is no shortage of the blend"
        assert (rows["lye"].needed_g, rows["lye"].short_g) == (350, 0)
        assert found.likely.possible

    def test_runs_share_it_in_the_order_of_their_days(self) -> None:
        room = Storeroom(self.LOTS, blends=SOLUTION, blends_from_stock=True)
        runs = [Run("second", TODAY + 2, {"solution": 400}), Run("first", TODAY + 1, {"solution": 200})]
        got = {(one.run, one.material): (one.needed_g, one.short_g) for one in net_runs(runs, room, TODAY, Outlook.LIKELY)}
        assert got == {
            ("first", "solution"): (200, 0),
            ("second", "solution"): (400, 0),
            ("second", "lye"): (150, 0),
            ("second", "water"): (150, 0),
        }

    def test_made_as_a_run_it_is_on_its_way_and_its_parts_are_that_runs_needs(self) -> None:
        making = Run("dissolve", TODAY + 1, {"lye": 400, "water": 400})
        made = order("from dissolve", "solution", 800, TODAY + 2, TODAY + 2, keeps=30)
        room = Storeroom(self.LOTS[1:], [made], blends=SOLUTION, blends_from_stock=True)
        too_early = check_run(Run("new", TODAY + 1, {"solution": 800}), [making], room, TODAY)
        assert not too_early.likely.possible, "its lye goes into the solution"
        assert too_early.likely.first_day == TODAY + 2
        assert too_early.likely.takes_on_first_day["solution"] == (Taken("from dissolve", 800),)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"lots": [Lot("A", "oil", -1, TODAY)]}, "the lot A of oil is -1 g: give an amount from 0 up"),
        ({"lots": [Lot("A", "oil", float("nan"), TODAY)]}, "the lot A of oil is nan g"),
        ({"lots": [Lot("A", "oil", 1, TODAY, TODAY - 1)]}, "the lot A of oil expires before it comes: put its two dates"),
        ({"lots": [Lot("A", "oil", 1, TODAY), Lot("A", "lye", 1, TODAY)]}, "a lot or an order called A stands here twice"),
        ({"orders": [order("P", "oil", 1, TODAY + 5, TODAY + 4)]}, "the order P of oil is safely here before it likely is"),
        ({"orders": [order("P", "oil", 1, TODAY, TODAY, keeps=-1)]}, "the order P of oil expires before it comes"),
        ({"delivery": {"oil": DeliveryDays(5, 4)}}, "delivery of oil takes 5 days likely and 4 safely: give days"),
        ({"delivery": {"oil": DeliveryDays(-1, 4)}}, "delivery of oil takes -1 days"),
        ({"blends": {"a": (("a", 1.0),)}}, "a blend cannot be made of itself"),
    ],
)
def test_a_storeroom_that_cannot_be_is_refused_with_what_to_do(change, said: str) -> None:
    room = replace(Storeroom(lots=[]), **change)
    with pytest.raises(ValueError, match=said):
        check_run(Run("new", TODAY, {"oil": 1}), (), room, TODAY)
    with pytest.raises(ValueError, match=said):
        net_runs((), room, TODAY, Outlook.LIKELY)


@pytest.mark.parametrize(
    ("runs", "said"),
    [
        ([Run("R", TODAY - 1, {"oil": 1})], "the run R is of a day that is past: move it to today or later"),
        ([Run("R", TODAY, {"oil": -1})], "what the run R needs of oil is -1 g: give an amount from 0 up"),
        ([Run("new", TODAY, {"oil": 1})], "a run called new stands here twice: leave one out"),
    ],
)
def test_runs_that_cannot_be_are_refused_with_what_to_do(runs: list[Run], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        check_run(Run("new", TODAY, {"oil": 1}), runs, Storeroom(lots=[]), TODAY)


def test_a_material_nobody_has_is_short_by_all_of_it() -> None:
    row = only(check_run(Run("new", TODAY, {"oil": 7.5}), (), Storeroom(lots=[]), TODAY))
    assert (row.likely.free_g, row.likely.short_g, row.likely.takes) == (0, 7.5, ())
