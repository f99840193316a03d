"""From dry lye to a solution, to runs that are promised it, to a batch and its bars; and no promise that a sheet refuses."""

import random
from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.flows.check_run import share_out
from curehouse.flows.enter_batch import RackEntry, enter_batch
from curehouse.flows.stock import count, rule_lot
from curehouse.making.models import BatchHold, Reservation, Run
from curehouse.making.services import BatchEntry, LiquidEntry
from curehouse.making.services.runs import plan_run
from curehouse.making.tracing import uses_through
from inventory.balance import differences
from inventory.blends import lots_with
from inventory.models import Lot
from tests.flows.test_lye_in_water import Dissolving
from tests.formulas import liquid
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(world: World) -> Dissolving:
    return Dissolving(world)


class Table:
    """Runs of a kilo of oils at the bench, one after the other."""

    def __init__(self, bench: Dissolving) -> None:
        self.bench, self.world, self.version = bench, bench.world, bench.soap()

    def planned(self, days: int) -> Run:
        day = (self.world.now + timedelta(days=days)).date()
        return plan_run(actor=self.world.actor, version=self.version, fats_g=Decimal(1000), pour_on=day, at=self.world.now)

    def lye_of(self, run: Run) -> list[tuple[str, str, float]]:
        """Return of which material and of which lot or lots a run is given its lye, and how many grams."""
        keys = {str(self.bench.lye.pk): "dry", str(self.bench.solution.pk): "dissolved"}
        shares = share_out(workshop=self.world.workshop, at=self.world.now)
        return [
            (keys[one.material], take.supply, take.amount)
            for one in shares.likely
            if one.run == f"run {run.pk}" and one.material in keys
            for take in one.takes
        ]

    def short_of(self, run: Run) -> list[str]:
        return [one[0].name for one in share_out(workshop=self.world.workshop, at=self.world.now).short_of(run)]


def test_dry_lye_becomes_a_solution_becomes_bars_and_is_found_again(bench: Dissolving) -> None:
    world, table = bench.world, Table(bench)
    lot = bench.dissolve("300", "300").lot
    first, second = table.planned(2), table.planned(3)
    (of_first,), (of_second,) = table.lye_of(first), table.lye_of(second)
    assert of_first[:2] == of_second[:2] == ("dissolved", f"lot {lot.pk}")

    # At the table: the sheet offers that very lot, for no more than was promised and with no more water than goes in front.
    figures, (offered,) = bench.sheet(table.version)
    assert (offered.lot, offered.why_not) == (lot, "")
    assert offered.weigh_g <= of_first[2]
    assert offered.water_g <= 330
    weigh_g = round(offered.weigh_g, 1)
    entry = BatchEntry(
        formula_name="", version=table.version, poured_at=world.now, cut_at=None, bars=10, fats_g=Decimal(1000),
        lye_g=Decimal(str(round(offered.lye_g, 1))), liquids=(LiquidEntry("water", Decimal(330)),),
    )  # fmt: skip
    batch = enter_batch(actor=world.actor, entry=entry, rack=RackEntry(), run=first, at=world.now)
    assert Reservation.objects.within(world.workshop).standing().filter(run=first, material=bench.lye).exists()
    bench.book(batch, lot, weigh_g)
    bench.book(batch, Lot.objects.within(world.workshop).get(material=bench.olive), 1000)

    # The batch is reckoned by the lot, at its low end no less safe than the formula with dry lye.
    assert batch.superfat_by_lots
    assert float(batch.superfat_low) >= figures.superfat.of_fats.low - 0.0005
    assert float(batch.superfat_middle) == pytest.approx(figures.superfat.of_fats.middle, abs=0.01)
    on_hand = {row.pk: row.on_hand for row in Lot.objects.within(world.workshop)}
    assert on_hand[lot.pk] == 600 - Decimal(str(weigh_g))
    assert on_hand[bench.dry.pk] == 4700
    assert differences() == []
    assert not Reservation.objects.within(world.workshop).standing().filter(run=first).exists()

    # What the other run was promised is still there for it.
    assert table.lye_of(second) == [of_second]
    assert not table.short_of(second)

    # The maker of the dry lye calls it back: from the tin to the jug to the bars, and the other run has no lye.
    assert lots_with(world.workshop, bench.dry) == [lot]
    assert [use.batch_id for use in uses_through(world.workshop, bench.dry)] == [batch.pk]
    rule_lot(actor=world.actor, lot=bench.dry, standing="rejected", why="called back", at=world.now)
    assert Lot.objects.within(world.workshop).get(pk=lot.pk).standing == "quarantine"
    assert BatchHold.objects.within(world.workshop).filter(batch=batch).exists()
    assert table.short_of(second) == ["Sodium hydroxide"]


def test_a_run_whose_lot_shrinks_takes_its_lye_dry(bench: Dissolving) -> None:
    world, table = bench.world, Table(bench)
    lot = bench.dissolve("150", "150").lot
    run = table.planned(4)
    assert [one[:2] for one in table.lye_of(run)] == [("dissolved", f"lot {lot.pk}")]
    count(actor=world.actor, lot=lot, counted=Decimal(200), moment=world.now, at=world.now, reason="spilt")
    assert [one[:2] for one in table.lye_of(run)] == [("dry", f"lot {bench.dry.pk}")]
    assert not table.short_of(run)


def test_no_run_is_promised_what_its_sheet_refuses(bench: Dissolving) -> None:
    """Lots and formulas as they come: certificates of dry lye at hand and in the jug differ, jugs are thin, small or odd."""
    dice, world = random.Random(8), bench.world  # noqa: S311
    promised = refused = 0
    tins = [bench.dry]
    for percent in ("97.2", "99.6"):
        tin = world.lot("3000", material=bench.lye)
        bench.say(tin, percent)
        tins.append(tin)
    for round_ in range(20):
        bench.dry = dice.choice(tins)
        grams = dice.choice((100, 125, 127, 128, 130, 133, 140, 260))
        water = grams + dice.randint(-8, 8)
        made = bench.dissolve(str(grams), str(water), is_off_confirmed=True)
        if made.lot.standing == "quarantine":
            rule_lot(actor=world.actor, lot=made.lot, standing="released", why="clear", at=world.now)
        if dice.random() < 0.3:
            bench.say(made.lot, f"{dice.choice((47.5, 48.5, 49, 50, 52)):.1f}", value_confirmed=True)
        if dice.random() < 0.2:
            seen = made.lot.on_hand - dice.randint(1, 9)
            count(actor=world.actor, lot=made.lot, counted=seen, moment=world.now, at=world.now, reason="weighed")
        front = dice.choice((128, 129, 130, 131, 132, 135, 330, 330))
        rest = [liquid("goat_milk", str(330 - front), goes_in="trace")] if front < 330 else []
        more = {"front_c": Decimal(10)} if front == 330 and dice.random() < 0.5 else {}
        version = bench.soap(liquid("water", str(front)), *rest, name=f"Soap {round_}", superfat="0.06", **more)
        row = bench.row(bench.held(version, days=0), bench.solution)
        offered = {f"lot {one.lot.pk}": one for one in bench.sheet(version)[1]}
        if row is None:
            refused += 1
            assert bench.row(bench.held(version, days=0), bench.lye) is not None
            continue
        (take,) = row.likely.takes
        promised += 1
        assert offered[take.supply].why_not == "", (round_, offered[take.supply])
        assert offered[take.supply].weigh_g <= take.amount
        assert offered[take.supply].water_g <= front
        # It is poured, so the next round finds other lots.
        lot = Lot.objects.within(world.workshop).get(pk=int(take.supply.removeprefix("lot ")))
        if dice.random() < 0.5:
            bench.book(bench.poured(version, offered[take.supply].lye_g), lot, offered[take.supply].weigh_g)
    assert promised >= 4
    assert refused >= 4
