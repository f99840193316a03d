"""Lots that stand for another material: all that a run needs of one lot, or nothing; by hand and against a search."""

import random
from dataclasses import replace

import pytest

from curehouse.core.stock.ahead import look_ahead
from curehouse.core.stock.netting import RunMaterial, check_run, net_runs
from curehouse.core.stock.stand_ins import Instead, settle
from curehouse.core.stock.storeroom import Lot, OpenOrder, Outlook, Run, StandIn, Storeroom
from curehouse.core.stock.supplied import Taken
from tests.core.stock.test_netting import order

TODAY = 100
# Half of a jug is lye.
JUG = StandIn("jug", "lye", 2.0, 0.5)


def room(*jugs: Lot, lye: float = 500, orders: tuple[OpenOrder, ...] = ()) -> Storeroom:
    lots = [Lot("tin", "lye", lye, TODAY), Lot("can", "oil", 9000, TODAY), *jugs]
    return Storeroom(lots, orders, stand_ins=[replace(JUG, lot=jug.key) for jug in jugs])


def run(key: str, day: int, lye: float = 100, *, turn: int = 0, water: float = 300) -> Run:
    return Run(key, TODAY + day, {"lye": lye, "oil": 700}, turn, {"lye": water})


def jug(key: str = "jug", grams: float = 250, last: float = float("inf")) -> Lot:
    return Lot(key, "solution", grams, TODAY - 5, last)


def test_a_run_takes_all_of_one_lot_and_none_of_what_it_stands_for() -> None:
    found = check_run(run("new", 3), (), room(jug()), TODAY)
    rows = {one.material: one for one in found.materials}
    assert set(rows) == {"oil", "solution"}
    assert rows["solution"].likely.takes == (Taken("jug", 200.0),)
    assert rows["solution"].instead == Instead("lye", 100)
    assert (rows["solution"].likely.needed_g, rows["solution"].likely.here_g, rows["solution"].likely.free_g) == (200, 250, 250)
    assert found.likely.takes_on_first_day["solution"] == (Taken("jug", 200.0),)


@pytest.mark.parametrize(("lot", "water"), [
    (jug(grams=199), 300), (jug(last=TODAY + 2), 300), (replace(jug(), received_day=TODAY + 4), 300), (jug(), 99),
    (replace(jug(), released=False), 300),
])  # fmt: skip
def test_too_little_expired_not_here_or_with_too_much_water_it_is_left_alone(lot: Lot, water: float) -> None:
    found = check_run(run("new", 3, water=water), (), room(lot), TODAY)
    assert {one.material: one.likely.needed_g for one in found.materials} == {"lye": 100, "oil": 700}
    assert all(one.instead is None for one in found.materials)


def test_never_of_two_lots_and_never_beside_the_rest() -> None:
    found = check_run(run("new", 3), (), room(jug("one", 150), jug("two", 190)), TODAY)
    assert {one.material for one in found.materials} == {"lye", "oil"}
    # Of those that hold enough the one that expires first.
    found = check_run(run("new", 3), (), room(jug("one", 250), jug("two", 250, TODAY + 9), jug("three", 150, TODAY + 4)), TODAY)
    assert found.likely.takes_on_first_day["solution"] == (Taken("two", 200.0),)


def test_who_was_there_first_chooses_first_and_keeps_it() -> None:
    others = [run("late", 20, turn=0), run("early", 2, turn=1)]
    there = room(jug(grams=250), lye=150)
    given = {(one.run, one.material): one.takes for one in net_runs(others, there, TODAY, Outlook.LIKELY)}
    assert given["late", "solution"] == (Taken("jug", 200.0),)
    assert given["early", "lye"] == (Taken("tin", 100.0),)
    (lye,) = (one for one in check_run(run("new", 3), others, there, TODAY).materials if one.material == "lye")
    assert (lye.likely.free_g, lye.likely.short_g) == (50, 50)
    smaller = check_run(run("new", 3, lye=20), others, there, TODAY)
    (solution,) = (one for one in smaller.materials if one.material == "solution")
    assert (solution.likely.here_g, solution.likely.kept_for_later_g, solution.likely.free_g) == (250, 200, 50)


def test_a_day_after_it_expired_wants_the_other_again() -> None:
    there = room(jug(last=TODAY + 4), lye=0, orders=(order("P", "lye", 300, TODAY + 9, TODAY + 9),))
    for day, first in ((3, 3), (4, 4), (5, 9), (9, 9)):
        prospect = check_run(run("new", day), (), there, TODAY).likely
        assert (prospect.possible, prospect.first_day) == (day == first, TODAY + first)


def test_what_is_ahead_of_either_is_what_netting_gives() -> None:
    runs = [run("a", 3), run("b", 5)]
    there = room(jug())
    for material, takes in (("solution", [("a", 200.0)]), ("lye", [("b", 100.0)])):
        course = look_ahead(there, runs, material, today=TODAY, last_day=TODAY + 10).planned
        assert [(one.run, one.found) for one in course.runs] == takes
        assert not any(one.lacking for one in course.days)


@pytest.mark.parametrize(("wrong", "said"), [
    (replace(JUG, lot="nowhere"), "is not here"), (replace(JUG, instead_of="solution"), "of that very material"),
    (replace(JUG, per_gram=0.0), "above zero"), (replace(JUG, water_share=1.0), "below 1"),
])  # fmt: skip
def test_what_cannot_be_is_refused_in_words(wrong: StandIn, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        check_run(run("new", 3), (), Storeroom([jug()], stand_ins=[wrong]), TODAY)


def _without_tins(one: RunMaterial) -> tuple[object, ...]:
    return one.run, one.material, one.needed_g, pytest.approx(one.short_g), one.instead, one.instead and one.takes


CASES = 300


def drawn(seed: int) -> tuple[Run, list[Run], Storeroom]:
    dice = random.Random(seed)  # noqa: S311
    jugs = [
        Lot(
            f"jug {place}", "solution", 10.0 * dice.randint(0, 60), TODAY - dice.randint(0, 9),
            TODAY + dice.randint(0, 25) if dice.random() < 0.7 else float("inf"), released=dice.random() < 0.9,
        )
        for place in range(dice.randint(1, 4))
    ]  # fmt: skip
    lots = [Lot(f"tin {place}", "lye", 10.0 * dice.randint(0, 30), TODAY, TODAY + dice.randint(0, 30)) for place in range(3)]
    orders = [order("P", "lye", 10.0 * dice.randint(1, 30), TODAY + (day := dice.randint(1, 15)), TODAY + day + 3)]
    others = [
        run(f"R{place}", dice.randint(0, 20), 10.0 * dice.randint(1, 20), turn=place, water=10.0 * dice.randint(0, 25))
        for place in range(dice.randint(0, 6))
    ]
    stand_ins = [StandIn(one.key, "lye", dice.choice((2.0, 2.1)), dice.choice((0.5, 0.52))) for one in jugs]
    room = Storeroom([*jugs, *lots, Lot("can", "oil", 1e6, TODAY)], orders, stand_ins=stand_ins)
    new = run("NEW", dice.randint(0, 20), 10.0 * dice.randint(1, 20), water=10.0 * dice.randint(0, 25))
    return new, others, room


@pytest.mark.parametrize("seed", range(CASES))
def test_no_run_is_promised_what_a_sheet_refuses_and_none_goes_shorter_for_a_new_one(seed: int) -> None:
    new, others, room = drawn(seed)
    of_lot, lots = {one.lot: one for one in room.stand_ins}, {lot.key: lot for lot in room.lots}
    last = replace(new, turn=len(others))
    before = net_runs(others, room, TODAY, Outlook.LIKELY)
    after = net_runs([*others, last], room, TODAY, Outlook.LIKELY)
    # Of which tin may change, and nothing else.
    kept = [[_without_tins(one) for one in rows if one.run != "NEW"] for rows in (before, after)]
    assert kept[0] == kept[1], "who was there first gets what he got"
    taken: dict[str, float] = {}
    runs = {one.key: one for one in (*others, last)}
    for one in after:
        if one.instead is None:
            continue
        (take,) = one.takes
        stand_in, lot, of = of_lot[take.supply], lots[take.supply], runs[one.run]
        taken[lot.key] = taken.get(lot.key, 0.0) + take.amount
        assert lot.released
        assert lot.received_day <= of.day <= lot.last_day
        assert take.amount == pytest.approx(of.needs["lye"] * stand_in.per_gram) == one.needed_g
        assert take.amount * stand_in.water_share <= of.water_g["lye"]
        assert not any(other.run == one.run and other.material == "lye" for other in after)
    assert all(grams <= lots[key].amount_g + 1e-9 for key, grams in taken.items())
    # The check of the new run says what it is given once it is planned, and it takes dry lye only where no lot would do.
    checked = {one.material: one.likely for one in check_run(new, others, room, TODAY).materials}
    given = {one.material: one for one in after if one.run == "NEW"}
    assert {key: one.takes for key, one in checked.items()} == {key: one.takes for key, one in given.items()}
    left = {key: lots[key].amount_g - taken.get(key, 0.0) for key in of_lot}
    if "lye" in given:
        assert not any(
            lots[key].released
            and lots[key].received_day <= new.day <= lots[key].last_day
            and new.needs["lye"] * one.per_gram <= left[key]
            and new.needs["lye"] * one.per_gram * one.water_share <= new.water_g["lye"]
            for key, one in of_lot.items()
        )


def test_the_drawn_cases_tell_something() -> None:
    given = [net_runs(others, room, TODAY, Outlook.SAFE) for _new, others, room in map(drawn, range(CASES))]
    for material in ("solution", "lye"):
        assert sum(any(one.material == material for one in rows) for rows in given) > CASES / 4
    assert sum(any(one.short_g for one in rows) for rows in given) > CASES / 10


def _keeping(runs: list[Run], there: Storeroom) -> list[Run]:
    """Return runs as they are announced one after the other, each keeping what it was promised."""
    kept: list[Run] = []
    for one in runs:
        chosen = settle(there.stand_ins, there.lots, [*kept, one]).chosen.get(one.key, ())
        kept.append(replace(one, keeps={of.instead.material: of.lot for of in chosen}))
    return kept


def _short(runs: list[Run], there: Storeroom) -> set[str]:
    return {one.run for one in net_runs(runs, there, TODAY, Outlook.LIKELY) if one.short_g > 1e-6}


@pytest.mark.parametrize("keeps", [True, False])
def test_nobody_goes_short_when_another_is_called_off_or_poured_before_its_turn(*, keeps: bool) -> None:
    dice, hurt = random.Random(11), 0
    for _ in range(1500):
        jugs = [jug(f"jug {n}", dice.choice([60, 120, 180, 250, 400]), TODAY + dice.randrange(3, 12)) for n in range(3)]
        there = room(*jugs, lye=dice.choice([0, 60, 150, 300]))
        runs = [run(f"{n}", dice.randrange(0, 10), dice.choice([30, 50, 80, 110]), turn=n) for n in range(5)]
        kept = _keeping(runs, there) if keeps else runs
        before = _short(kept, there)
        # Who was promised too little, and pours all the same, takes it from others whatever anybody keeps.
        gone = dice.choice([one for one in kept if one.key not in before] or kept[:1])
        without = [one for one in kept if one is not gone]
        poured = [replace(one, turn=-1) if one is gone else one for one in kept]
        called_off, went_first = _short(without, there) - before, _short(poured, there) - before - {gone.key}
        if gone.key not in before:
            hurt += bool(called_off) + bool(went_first)
    assert bool(hurt) is not keeps, f"{hurt} times somebody went short"
