"""However things are ordered, planned, moved, called off, used, counted and ruled: no gram is promised to two."""

from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule, run_state_machine_as_test

from curehouse.core.stock.netting import RunMaterial
from curehouse.core.stock.storeroom import Outlook
from curehouse.flows.check_run import Shares, hold_move, hold_run, run_key, share_out
from curehouse.flows.orders import call_off, send_order
from curehouse.flows.receive_order import LineCame, LotCame, receive_order
from curehouse.flows.stock import count, receive_more, rule_lot
from curehouse.making.models import Reservation, Run
from curehouse.making.services.formulas import write_formula
from curehouse.making.services.runs import call_off_run, move_run, plan_run, reserve_run
from inventory.adapter import arrival_key
from inventory.balance import differences
from inventory.models import Lot, Order, OrderLine
from inventory.services.movements import use
from inventory.services.orders import lines_of, write_order
from tests.core.stock.matching import Lots, served_one_by_one
from tests.formulas import LIQUIDS, fat, formula_entry
from tests.inventory.plain_book import PlainBook, Position
from tests.world import World

# What a hundred grams of oils are of each fat, and what a pack holds: whole grams throughout, as the oracle wants them.
SHARES = {"Olive oil": 70, "Coconut oil": 30}
PACK_G = 500
OILS = st.sampled_from(sorted(SHARES))
STANDINGS = st.sampled_from(Lot.Standing.values)
GRAMS = st.integers(1, 1500)
FATS_G = st.integers(1, 30).map(lambda hundreds: hundreds * 100)
DAYS = st.integers(0, 25)
KEEPS = st.one_of(st.none(), st.integers(0, 20))


@dataclass
class OnPaper:
    """What somebody would note by hand: of lots how they stand, of runs their size and day, of orders what is to come."""

    # By the key of the lot: material, received on, best before, standing.
    lots: dict[int, tuple[str, date, date | None, str]] = field(default_factory=dict)
    # By the key of the run: oils in grams, its day, when it was announced.
    runs: dict[int, tuple[int, date, date]] = field(default_factory=dict)
    # By the key of the line: material, packs to come.
    coming: dict[int, tuple[str, int]] = field(default_factory=dict)

    def in_turn(self) -> list[int]:
        return sorted(self.runs, key=lambda key: (self.runs[key][2], key))


class House(RuleBasedStateMachine):
    """Two oils, a supplier who brings both, a formula of them; what somebody would note by hand of what becomes of them."""

    def __init__(self) -> None:
        super().__init__()
        self.undo = transaction.atomic()
        self.undo.__enter__()
        self.world, self.told = World(), 0
        self.paper, self.book = OnPaper(), PlainBook()

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.undo.__exit__(None, None, None)

    @initialize(held=st.lists(st.tuples(OILS, GRAMS, KEEPS), min_size=1, max_size=4))
    def begin(self, held: list[tuple[str, int, int | None]]) -> None:
        self.oils = {name: self.world.material(name) for name in SHARES}
        lines = (fat("olive", "700", material=self.oils["Olive oil"]), fat("coconut", "300", material=self.oils["Coconut oil"]))
        self.version = write_formula(actor=self.world.actor, entry=formula_entry(lines=(*lines, *LIQUIDS)), at=self.world.now)
        self.offers = {
            name: self.world.offer(material=oil, pack=Decimal(PACK_G), lead_days=6) for name, oil in self.oils.items()
        }
        for name, grams, keeps in held:
            self._came(name, grams, self._in_days(keeps), received_on=self.world.days_ago(30).date())

    # What every verb is told.

    @property
    def today(self) -> date:
        return self.world.now.date()

    def _in_days(self, days: int | None) -> date | None:
        return None if days is None else self.today + timedelta(days=days)

    def _next(self) -> Position:
        """Return where the next thing stands; the house hears of each a second later."""
        self.told += 1
        self.world.now += timedelta(seconds=1)
        return self.world.now, self.told

    @property
    def how(self) -> dict:
        return {"actor": self.world.actor, "at": self.world.now}

    def _came(self, name: str, grams: int, keeps: date | None, *, received_on: date) -> None:
        at = self._next()
        lot = self.world.lot(
            str(grams), material=self.oils[name], best_before=keeps, days_here=(self.today - received_on).days
        )  # fmt: skip
        self._note_lot(lot, name, grams, at)

    def _note_lot(self, lot: Lot, name: str, grams: int, at: Position) -> None:
        self.paper.lots[lot.pk] = (name, lot.received_on, lot.best_before, lot.standing)
        self.book.moved[at[1]] = (lot.pk, Decimal(grams), at)

    def _lot(self, data: st.DataObject) -> Lot:
        key = data.draw(st.sampled_from(sorted(self.paper.lots)))
        return Lot.objects.within(self.world.workshop).named().get(pk=key)

    def _run(self, data: st.DataObject) -> Run:
        key = data.draw(st.sampled_from(self.paper.in_turn()))
        return Run.objects.within(self.world.workshop).named().get(pk=key)

    def _shares(self) -> Shares:
        return share_out(workshop=self.world.workshop, at=self.world.now)

    # What the oracle is asked with.

    def _needed_g(self, run: int, name: str) -> int:
        return self.paper.runs[run][0] * SHARES[name] // 100

    def _day_of(self, run: int) -> int:
        # What should have been poured already is wanted today.
        return max(self.paper.runs[run][1], self.today).toordinal()

    def _arrivals(self) -> list:
        arrivals = OrderLine.objects.within(self.world.workshop).arrivals(on=self.today)
        open_g = {key: packs * PACK_G for key, (_name, packs) in self.paper.coming.items() if packs}
        assert {one.line.pk: one.amount for one in arrivals} == open_g
        return arrivals

    def _supplies(self, name: str, outlook: Outlook) -> Lots:
        here = [
            (int(self.book.held(key)), received_on.toordinal(), float("inf") if keeps is None else keeps.toordinal())
            for key, (of, received_on, keeps, standing) in self.paper.lots.items()
            if of == name and standing == "released" and (keeps is None or keeps >= self.today)
        ]
        coming = [
            (int(one.amount), _comes(one, outlook), float("inf")) for one in self._arrivals() if one.line.material.name == name
        ]
        return [*here, *coming]


class Storeroom(House):
    """What comes, goes, is ordered, counted and ruled, as days pass."""

    @rule(name=OILS, grams=GRAMS, keeps=KEEPS)
    def receive(self, name: str, grams: int, keeps: int | None) -> None:
        self._came(name, grams, self._in_days(keeps), received_on=self.today)

    @rule(packs=st.dictionaries(OILS, st.integers(1, 4), min_size=1))
    def order(self, packs: dict[str, int]) -> None:
        self._next()
        asked = {self.offers[name].pk: many for name, many in packs.items()}
        order = write_order(supplier=self.world.supplier(), packs=asked, **self.how)
        send_order(order=order, sent_on=self.today, **self.how)
        for line in lines_of(order):
            self.paper.coming[line.pk] = (line.material.name, line.packs)

    @precondition(lambda self: self.paper.coming)
    @rule(data=st.data(), packs=st.integers(1, 4), keeps=KEEPS, standing=STANDINGS)
    def receive_order(self, data: st.DataObject, packs: int, keeps: int | None, standing: str) -> None:
        key, at = data.draw(st.sampled_from(sorted(self.paper.coming))), self._next()
        came = LineCame(key, [LotCame(packs, best_before=self._in_days(keeps), standing=standing, why="as looked at")])
        order = Order.objects.within(self.world.workshop).get(lines=key)
        (lot,) = receive_order(order=order, received_on=self.today, came=[came], **self.how).lots
        name, open_packs = self.paper.coming[key]
        self.paper.coming[key] = (name, max(open_packs - packs, 0))
        self._note_lot(lot, name, packs * PACK_G, at)

    @precondition(lambda self: any(packs for _name, packs in self.paper.coming.values()))
    @rule(data=st.data())
    def call_off_order(self, data: st.DataObject) -> None:
        self._next()
        key = data.draw(st.sampled_from(sorted(key for key, (_name, packs) in self.paper.coming.items() if packs)))
        call_off(order=Order.objects.within(self.world.workshop).get(lines=key), why="sold out", lines=[key], **self.how)
        self.paper.coming[key] = (self.paper.coming[key][0], 0)

    @precondition(lambda self: self.paper.lots)
    @rule(data=st.data(), grams=GRAMS)
    def use(self, data: st.DataObject, grams: int) -> None:
        lot, at = self._lot(data), self._next()
        use(lot=lot, amount=Decimal(grams), moment=self.world.now, reason="another soap", **self.how)
        self.book.moved[at[1]] = (lot.pk, Decimal(-grams), at)

    @precondition(lambda self: self.paper.lots)
    @rule(data=st.data(), grams=GRAMS)
    def receive_more(self, data: st.DataObject, grams: int) -> None:
        lot, at = self._lot(data), self._next()
        receive_more(lot=lot, amount=Decimal(grams), moment=self.world.now, **self.how)
        self.book.moved[at[1]] = (lot.pk, Decimal(grams), at)

    @precondition(lambda self: self.paper.lots)
    @rule(data=st.data(), grams=st.one_of(st.none(), st.integers(0, 1500)), by_eye=st.booleans(), on_walk=st.booleans())
    def count(self, data: st.DataObject, grams: int | None, by_eye: bool, on_walk: bool) -> None:
        lot, at = self._lot(data), self._next()
        # By eye it may be what is booked.
        counted = lot.on_hand if grams is None and not by_eye else grams
        count(
            lot=lot, counted=None if counted is None else Decimal(counted), moment=self.world.now, reason="looked",
            is_estimate=by_eye, on_walk=on_walk, **self.how,
        )  # fmt: skip
        self.book.counted[at[1]] = (lot.pk, lot.on_hand if counted is None else Decimal(counted), at)

    @precondition(lambda self: self.paper.lots)
    @rule(data=st.data(), standing=STANDINGS)
    def rule_it(self, data: st.DataObject, standing: str) -> None:
        lot = self._lot(data)
        self._next()
        if standing != lot.standing:
            rule_lot(lot=lot, standing=standing, why="looked at it", **self.how)
            self.paper.lots[lot.pk] = (*self.paper.lots[lot.pk][:3], standing)

    @rule(days=st.integers(1, 8))
    def days_pass(self, days: int) -> None:
        self.world.now += timedelta(days=days)


class Reserving(Storeroom):
    """Runs that are announced, moved, made larger and called off beside it; and what holds whatever happened."""

    @rule(fats_g=FATS_G, days=DAYS)
    def announce(self, fats_g: int, days: int) -> None:
        self._next()
        day, before = self._in_days(days), self._shares()
        held = hold_run(version=self.version, fats_g=Decimal(fats_g), pour_on=day, at=self.world.now)
        run = plan_run(version=self.version, fats_g=Decimal(fats_g), pour_on=day, **self.how)
        self.paper.runs[run.pk] = (fats_g, day, self.today)
        after, key = self._shares(), run_key(run)
        for was, now, checked in ((before.likely, after.likely, "likely"), (before.safe, after.safe, "safe")):
            # Whoever was there gets what it got, and the new one what its check said.
            assert _short({**_by_run(now)}, without=key) == _short(_by_run(was))
            said = {one.material: getattr(one, checked).short_g for one in held.found.materials}
            assert {one.material: one.short_g for one in now if one.run == key} == said

    @precondition(lambda self: self.paper.runs)
    @rule(data=st.data(), days=DAYS)
    def move(self, data: st.DataObject, days: int) -> None:
        self._next()
        run, day = self._run(data), self._in_days(days)
        if day == run.pour_on:
            return
        said = hold_move(run=run, pour_on=day, at=self.world.now)
        before = _short(_by_run(self._shares().likely))
        move_run(run=run, pour_on=day, **self.how)
        fats_g, _was_on, announced = self.paper.runs[run.pk]
        self.paper.runs[run.pk] = (fats_g, day, announced)
        after = _short(_by_run(self._shares().likely))
        worse = {
            (run_key(other), str(material.pk)): more_g
            for other, material, more_g in said.worse
        }  # fmt: skip
        assert worse == {
            key: short_g - before[key] for key, short_g in after.items() if key[0] != run_key(run) and short_g > before[key]
        }

    @precondition(lambda self: self.paper.runs)
    @rule(data=st.data(), fats_g=FATS_G)
    def make_another_size(self, data: st.DataObject, fats_g: int) -> None:
        self._next()
        run = self._run(data)
        reserve_run(run=run, fats_g=Decimal(fats_g), **self.how)
        self.paper.runs[run.pk] = (fats_g, *self.paper.runs[run.pk][1:])

    @precondition(lambda self: self.paper.runs)
    @rule(data=st.data())
    def call_off_run(self, data: st.DataObject) -> None:
        self._next()
        run = self._run(data)
        call_off_run(run=run, why="no market", **self.how)
        del self.paper.runs[run.pk]

    @invariant()
    def every_lot_holds_what_came_less_what_went(self) -> None:
        kept = dict(Lot.objects.within(self.world.workshop).values_list("pk", "on_hand"))
        assert kept == {key: self.book.held(key) for key in self.paper.lots}
        assert differences() == []

    @invariant()
    def a_run_reserves_just_what_it_takes_and_nothing_else_does(self) -> None:
        rows = Reservation.objects.within(self.world.workshop).standing()
        found = {(row.run_id, row.material.name): row.amount_g for row in rows.select_related("material")}
        assert found == {(key, name): self._needed_g(key, name) for key in self.paper.runs for name in SHARES}

    @invariant()
    def a_run_gets_as_much_as_leaves_those_before_it_as_they_are(self) -> None:
        found = self._shares()
        for rows, outlook in ((found.likely, Outlook.LIKELY), (found.safe, Outlook.SAFE)):
            got = _by_run(rows)
            for name in SHARES:
                demands = [(self._needed_g(key, name), self._day_of(key)) for key in self.paper.in_turn()]
                served = served_one_by_one(self._supplies(name, outlook), demands)
                for key, (needed_g, _day), grams in zip(self.paper.in_turn(), demands, served, strict=True):
                    row = got[f"run {key}", str(self.oils[name].pk)]
                    taken_g = sum(one.amount for one in row.takes)
                    assert (row.needed_g, taken_g, row.short_g) == (needed_g, grams, needed_g - grams)

    @invariant()
    def no_gram_is_promised_to_two_and_none_of_a_lot_that_is_not_in_order(self) -> None:
        found = self._shares()
        coming = {arrival_key(one): one for one in self._arrivals()}
        for rows, outlook in ((found.likely, Outlook.LIKELY), (found.safe, Outlook.SAFE)):
            taken: dict[str, float] = {}
            for row in rows:
                for one in row.takes:
                    taken[one.supply] = taken.get(one.supply, 0) + one.amount
                    if one.supply in coming:
                        assert _comes(coming[one.supply], outlook) <= self._day_of(int(row.run.removeprefix("run ")))
                    else:
                        self._check_in_order(found.lots[one.supply].pk, row)
            for key, grams in taken.items():
                held = coming[key].amount if key in coming else self.book.held(found.lots[key].pk)
                assert grams <= held, f"{grams} g are promised of {key}, which holds {held}"

    def _check_in_order(self, key: int, row: RunMaterial) -> None:
        name, _received_on, best_before, standing = self.paper.lots[key]
        assert (standing, str(self.oils[name].pk)) == ("released", row.material)
        assert best_before is None or best_before.toordinal() >= self._day_of(int(row.run.removeprefix("run ")))


def _comes(one, outlook: Outlook) -> int:
    return (one.likely_on if outlook is Outlook.LIKELY else one.safe_on).toordinal()


def _by_run(rows: tuple[RunMaterial, ...]) -> dict[tuple[str, str], RunMaterial]:
    return {(row.run, row.material): row for row in rows}


def _short(rows: dict[tuple[str, str], RunMaterial], *, without: str = "") -> dict[tuple[str, str], float]:
    return {key: row.short_g for key, row in rows.items() if key[0] != without}


def _hold(examples: int, steps: int) -> None:
    run_state_machine_as_test(
        Reserving,
        settings=settings(
            max_examples=examples,
            stateful_step_count=steps,
            deadline=None,
            suppress_health_check=list(HealthCheck),
            database=None,
        ),
    )


@pytest.mark.django_db
def test_nothing_is_promised_twice_whatever_becomes_of_stock_orders_and_runs() -> None:
    _hold(examples=8, steps=12)


@pytest.mark.long
@pytest.mark.django_db
def test_nothing_is_promised_twice_whatever_becomes_of_them_in_the_long_run() -> None:
    _hold(examples=60, steps=30)
