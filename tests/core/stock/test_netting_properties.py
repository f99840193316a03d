"""Runs held against a storeroom, beside maximal flows solved anew for every question."""

import random
from collections import defaultdict
from dataclasses import dataclass, replace

import pytest

from curehouse.core.stock.netting import Prospect, RunCheck, Supplied, check_run, net_runs
from curehouse.core.stock.storeroom import Arrival, DeliveryDays, Lot, OpenOrder, Outlook, Run, Storeroom
from tests.core.stock.matching import ENDLESS, Demands, Lots, free_beside, served_one_by_one

TODAY, HORIZON = 100, 30
MATERIALS = ("oil", "lye", "water", "milk")
# Lye dissolved beforehand, and that with milk: shares that keep multiples of four whole.
BLENDS = {"premix": (("solution", 0.5), ("milk", 0.5)), "solution": (("lye", 0.5), ("water", 0.5))}
CASES = 200


@dataclass(frozen=True)
class Case:
    new: Run
    others: tuple[Run, ...]
    room: Storeroom

    def check(self) -> RunCheck:
        return check_run(self.new, self.others, self.room, TODAY, HORIZON)


def drawn(seed: int) -> Case:
    """Return a storeroom in which things are scarce, expire and come: multiples of four grams throughout."""
    dice = random.Random(seed)  # noqa: S311
    items = (*MATERIALS, *BLENDS)

    def last(first: int) -> float:
        return first + dice.randint(0, 25) if dice.random() < 0.8 else float("inf")

    lots = []
    for place in range(dice.randint(2, 14)):
        came = TODAY - dice.randint(0, 20)
        grams = 4 * dice.randint(0, 60)
        lots.append(Lot(f"L{place}", dice.choice(items), grams, came, last(came), released=dice.random() < 0.85))
    orders = []
    for place in range(dice.randint(0, 6)):
        likely = TODAY + dice.randint(0, 20)
        safe = likely + dice.choice((0, 0, 3, 9))
        arrivals = Arrival(likely, last(likely)), Arrival(safe, last(safe))
        orders.append(OpenOrder(f"P{place}", dice.choice(items), 4 * dice.randint(1, 60), *arrivals))
    delivery = {}
    for item in MATERIALS:
        if dice.random() < 0.8:
            days = dice.randint(0, 25)
            delivery[item] = DeliveryDays(days, days + dice.choice((0, 0, 4)))

    def run(key: str) -> Run:
        needs = {item: 4 * dice.randint(0, 25) for item in dice.sample(items, dice.randint(1, 4))}
        return Run(key, TODAY + dice.randint(0, 20), needs)

    others = tuple(run(f"R{place}") for place in range(dice.randint(0, 7)))
    room = Storeroom(lots, orders, delivery, BLENDS, blends_from_stock=seed % 2 == 0)
    return Case(run("NEW"), others, room)


CASES_DRAWN = [drawn(seed) for seed in range(CASES)]


class Oracle:
    """What is to be had in a case by one outlook, all of it by flows."""

    def __init__(self, case: Case, outlook: Outlook, *, ordered: bool = False) -> None:
        self.case = case
        self.lots: dict[str, Lots] = {}
        for item in (*MATERIALS, *BLENDS):
            own = [
                (int(lot.amount_g), lot.received_day, lot.last_day)
                for lot in case.room.lots
                if lot.material == item and lot.released
            ]
            for order in case.room.orders:
                if order.material == item:
                    comes = order.likely if outlook is Outlook.LIKELY else order.safe
                    own.append((int(order.amount_g), comes.day, comes.last_day))
            if item in BLENDS and not case.room.blends_from_stock:
                own = []
            if ordered and item in case.room.delivery:
                days = case.room.delivery[item]
                own.append((ENDLESS, TODAY + (days.likely if outlook is Outlook.LIKELY else days.safe), float("inf")))
            self.lots[item] = own
        self.served: dict[str, Demands] = {}
        wanted: dict[str, dict[int, int]] = defaultdict(lambda: defaultdict(int))
        runs = sorted(case.others, key=lambda run: run.day)
        for place, run in enumerate(runs):
            for item, grams in run.needs.items():
                wanted[item][place] += int(grams)
        for item in (*BLENDS, *MATERIALS):
            asked = sorted(wanted[item].items())
            got = served_one_by_one(self.lots[item], [(grams, runs[place].day) for place, grams in asked])
            self.served[item] = [(amount, runs[place].day) for (place, _grams), amount in zip(asked, got, strict=True)]
            for part, share in BLENDS.get(item, ()):
                for (place, grams), amount in zip(asked, got, strict=True):
                    wanted[part][place] += int((grams - amount) * share)

    def on(self, day: int) -> tuple[dict[str, int], dict[str, int]]:
        """Return what the new run needs of each material on *day*, and what it can have."""
        needs = defaultdict(int, {item: int(grams) for item, grams in self.case.new.needs.items()})
        for blend, parts in BLENDS.items():
            rest = needs[blend] - free_beside(self.lots[blend], self.served[blend], day, needs[blend])
            for part, share in parts:
                needs[part] += int(rest * share)
        of_materials = {item: needs[item] for item in MATERIALS if needs[item]}
        return of_materials, {
            item: free_beside(self.lots[item], self.served[item], day, grams) for item, grams in of_materials.items()
        }

    def first_day(self) -> int | None:
        last_day = max(self.case.new.day, TODAY + HORIZON)
        return next((day for day in range(self.case.new.day, last_day + 1) if all_had(*self.on(day))), None)


def all_had(needs: dict[str, int], got: dict[str, int]) -> bool:
    return needs == got


def by(outlook: Outlook, found: RunCheck) -> tuple[Prospect, dict[str, Supplied]]:
    rows = {one.material: one.likely if outlook is Outlook.LIKELY else one.safe for one in found.materials}
    return (found.likely if outlook is Outlook.LIKELY else found.safe), rows


@pytest.mark.parametrize("outlook", Outlook)
def test_what_is_short_and_the_first_days_are_those_of_the_maximal_flow(outlook: Outlook) -> None:
    seen = set()
    for case in CASES_DRAWN:
        prospect, rows = by(outlook, case.check())
        needs, got = (oracle := Oracle(case, outlook)).on(case.new.day)
        assert {item: row.short_g for item, row in rows.items() if row.short_g} == {
            item: grams - got[item] for item, grams in needs.items() if grams > got[item]
        }
        assert {item: row.needed_g for item, row in rows.items() if item in MATERIALS and row.needed_g} == needs
        assert prospect.possible == all_had(needs, got)
        assert prospect.first_day == oracle.first_day()
        assert prospect.first_day_if_ordered_today == Oracle(case, outlook, ordered=True).first_day()
        seen.add((prospect.possible, prospect.first_day is not None, prospect.first_day == prospect.first_day_if_ordered_today))
    assert len(seen) >= 5, "the cases drawn are all alike"


@pytest.mark.parametrize("outlook", Outlook)
def test_no_run_that_is_there_is_worse_off_and_nothing_unusable_is_taken(outlook: Outlook) -> None:
    taken_somewhere = 0
    for case in CASES_DRAWN:
        prospect, rows = by(outlook, case.check())
        taken = {item: list(row.takes) for item, row in rows.items()}
        for day, takes in ((case.new.day, taken), (prospect.first_day, prospect.takes_on_first_day)):
            if day is None:
                continue
            lots = {lot.key: (lot.material, lot.released, lot.received_day, lot.last_day) for lot in case.room.lots}
            for order in case.room.orders:
                lots[order.key] = (order.material, True, (comes := order.arrival(outlook)).day, comes.last_day)
            amounts: dict[str, float] = defaultdict(float)
            for item, own in takes.items():
                for one in own:
                    material, released, first, last = lots[one.supply]
                    assert (material, released) == (item, True)
                    assert first <= day <= last
                    amounts[one.supply] += one.amount
                    taken_somewhere += 1
            without = net_runs(case.others, case.room, TODAY, outlook)
            assert all_supplied_as_before(without, net_runs(case.others, less(case.room, amounts), TODAY, outlook))
    assert taken_somewhere > CASES


def less(room: Storeroom, amounts: dict[str, float]) -> Storeroom:
    return replace(
        room,
        lots=[replace(lot, amount_g=lot.amount_g - amounts[lot.key]) for lot in room.lots],
        orders=[replace(order, amount_g=order.amount_g - amounts[order.key]) for order in room.orders],
    )


def all_supplied_as_before(before, after) -> bool:  # noqa: ANN001
    return [(one.run, one.material, one.needed_g, one.short_g) for one in before] == [
        (one.run, one.material, one.needed_g, one.short_g) for one in after
    ]


@pytest.mark.parametrize("outlook", Outlook)
def test_runs_that_are_planned_get_what_the_flow_gives_them_in_the_order_of_their_days(outlook: Outlook) -> None:
    for case in CASES_DRAWN:
        oracle = Oracle(case, outlook)
        short: dict[str, float] = defaultdict(float)
        needed: dict[str, float] = defaultdict(float)
        for one in net_runs(case.others, case.room, TODAY, outlook):
            short[one.material] += one.short_g
            needed[one.material] += one.needed_g
            assert sum(taken.amount for taken in one.takes) <= one.needed_g
        for item in MATERIALS:
            assert needed[item] - short[item] == sum(grams for grams, _day in oracle.served[item])


@pytest.mark.parametrize("outlook", Outlook)
def test_a_run_that_is_planned_last_gets_what_its_check_said_and_nobody_gets_less(outlook: Outlook) -> None:
    starved = 0
    for case in CASES_DRAWN:
        others = [replace(run, turn=place) for place, run in enumerate(case.others)]
        checked = check_run(case.new, others, case.room, TODAY, HORIZON)
        planned = net_runs([*others, replace(case.new, turn=len(others))], case.room, TODAY, outlook)
        mine = {one.material: one.short_g for one in planned if one.run == case.new.key}
        said = {one.material: getattr(one, outlook.value) for one in checked.materials}
        assert {key: short for key, short in mine.items() if key not in BLENDS} == {
            key: one.short_g for key, one in said.items() if key not in BLENDS and one.needed_g
        }
        beside = [one for one in planned if one.run != case.new.key]
        assert all_supplied_as_before(net_runs(others, case.room, TODAY, outlook), beside)
        by_day = net_runs([*case.others, case.new], case.room, TODAY, outlook)
        starved += not all_supplied_as_before(beside, [one for one in by_day if one.run != case.new.key])
    assert starved > 20, "by their days alone somebody would go short"


def test_what_is_here_and_comes_less_what_others_have_is_what_is_free() -> None:
    kept = 0
    for case in CASES_DRAWN:
        for one in case.check().materials:
            for row in (one.likely, one.safe):
                assert row.here_g + row.coming_g - row.taken_before_g - row.kept_for_later_g == pytest.approx(row.free_g)
                assert sum(taken.amount for taken in row.takes) == pytest.approx(min(row.needed_g, row.free_g))
                kept += row.kept_for_later_g > 0
    assert kept > 20, "too few cases in which something is kept for later"


def test_taking_what_is_there_on_the_day_would_leave_others_worse_off_in_some_of_these_cases() -> None:
    """The control: the checks above can tell protection from first come, first served."""
    worse = 0
    for case in CASES_DRAWN:
        first_come = check_run(case.new, (), case.room, TODAY, HORIZON)
        amounts: dict[str, float] = defaultdict(float)
        for one in first_come.materials:
            for taken in one.likely.takes:
                amounts[taken.supply] += taken.amount
        without = net_runs(case.others, case.room, TODAY, Outlook.LIKELY)
        after = net_runs(case.others, less(case.room, amounts), TODAY, Outlook.LIKELY)
        worse += not all_supplied_as_before(without, after)
    assert worse > 50
