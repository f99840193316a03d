"""A run looked at whole: its cost against a ledger kept by hand, and the first day on which it has stock and room."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from curehouse.common.errors import Invalid
from curehouse.core.planning.shelf import hold
from curehouse.curing.shelf import read_shelf
from curehouse.flows.check_run import hold_run
from curehouse.flows.plan_ahead import PlanAhead, plan_ahead
from curehouse.flows.run_places import look_for_places
from curehouse.flows.runs import plan_run
from curehouse.making.models import FormulaVersion
from curehouse.making.services.formulas import write_formula
from inventory.models import Material, Offer
from inventory.services.orders import send_order, write_order
from tests.formulas import LIQUIDS, fat, formula_entry
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def olive(world: World) -> Material:
    return world.material("Olive oil", kind="fat")


@pytest.fixture
def lye(world: World) -> Material:
    return world.material("Sodium hydroxide", kind="lye")


@pytest.fixture
def version(world: World, olive: Material, lye: Material) -> FormulaVersion:
    lines = (fat("olive", "1000", material=olive), *LIQUIDS)
    return write_formula(actor=world.actor, entry=formula_entry(name="Plain olive", lines=lines, naoh_from=lye), at=world.now)


def in_days(world: World, days: int) -> date:
    return world.now.date() + timedelta(days=days)


def look(world: World, version: FormulaVersion, days: int, *, fats_g: int = 2000, bars: int | None = 30) -> PlanAhead:
    return plan_ahead(version=version, fats_g=Decimal(fats_g), pour_on=in_days(world, days), bars=bars, at=world.now)


def ordered(world: World, offer: Offer, days: int) -> None:
    """Send an order of a pack, which comes on the day that its supplier names."""
    order = write_order(actor=world.actor, supplier=offer.supplier, packs={offer.pk: 1}, at=world.now)
    send_order(actor=world.actor, order=order, sent_on=world.now.date(), promised_on=in_days(world, days), at=world.now)


def test_a_bar_costs_what_a_ledger_kept_by_hand_says(world: World, version: FormulaVersion, olive: Material, lye) -> None:
    # First expired first: 600 g at 0.0040 and 1400 g of the next at 0.0055; the third lot, the cheapest, stays.
    world.lot("600", material=olive, unit_cost=Decimal("0.0040"), best_before=in_days(world, 40))
    world.lot("3000", material=olive, unit_cost=Decimal("0.0055"), best_before=in_days(world, 90))
    world.lot("9000", material=olive, unit_cost=Decimal("0.0010"), best_before=in_days(world, 400))
    world.lot("5000", material=lye, unit_cost=Decimal("0.006"))
    found = look(world, version, 5)
    lye_g = next(line.amount_g for line in found.cost.lines if line.name == "Sodium hydroxide")
    oil = Decimal("600") * Decimal("0.0040") + Decimal("1400") * Decimal("0.0055")
    assert oil == Decimal("10.10")
    whole = oil + lye_g * Decimal("0.006")
    assert [(line.name, line.amount_g, line.cost) for line in found.cost.lines] == [
        ("Olive oil", Decimal(2000), oil),
        ("Sodium hydroxide", lye_g, lye_g * Decimal("0.006")),
    ]
    assert found.cost.total == whole.quantize(Decimal("0.01"))
    assert found.cost.a_bar == (whole / 30).quantize(Decimal("0.01"))
    # Olive oil takes 0.1257 to 0.1395 g of NaOH a gram (pharmacopoeias, from memory): with 6 % left out 236 to 262 g.
    assert Decimal(236) < lye_g < Decimal(262)
    assert (found.cost.short_g, set(found.cost.unknown)) == ((), {"goat's milk"}), "water comes from the tap"


def test_what_is_on_its_way_costs_its_price_and_what_is_short_or_was_never_priced_is_named(
    world: World, version: FormulaVersion, olive: Material
) -> None:
    world.lot("500", material=olive, unit_cost=Decimal("0.004"))
    offer = world.offer(material=olive, pack=Decimal(1000), price=Decimal("7.00"), lead_days=3)
    ordered(world, offer, 3)
    found = look(world, version, 30)
    (line,) = found.cost.lines
    assert (line.name, line.amount_g, line.cost) == ("Olive oil", Decimal(1500), Decimal("500") * Decimal("0.004") + 7)
    assert [(name, grams) for name, grams in found.cost.short_g if name == "Olive oil"] == [("Olive oil", Decimal(500))]
    world.lot("100", material=olive, best_before=in_days(world, 35), unit_cost=None)
    unpriced = look(world, version, 30).cost
    assert unpriced.total is None
    assert "Olive oil" in unpriced.unknown, "a part of it came without a cost"


def test_nobody_says_how_many_bars_and_the_rest_is_told_all_the_same(world: World, version: FormulaVersion, olive, lye) -> None:
    world.rack()
    world.lot("5000", material=olive, unit_cost=Decimal("0.004"))
    world.lot("5000", material=lye, unit_cost=Decimal("0.006"))
    found = look(world, version, 5, bars=None)
    assert found.places is None
    assert "say how many" in found.why_no_places
    assert found.cost.total is not None
    assert found.cost.a_bar is None
    assert found.ahead is not None
    assert found.first_on == in_days(world, 5), "the storeroom alone says"
    with pytest.raises(Invalid):
        look(world, version, 5, bars=100_000)


def test_the_first_day_is_one_on_which_storeroom_and_racks_both_have_it(
    world: World, version: FormulaVersion, olive: Material, lye: Material
) -> None:
    """Held against every day by itself: neither room nor stock goes by "later is better"."""
    world.rack(levels=1, places=2, capacity=24)
    world.lot("9000", material=lye)
    # Enough until day 20, nothing until the order of day 30 has safely come.
    world.lot("4500", material=olive, best_before=in_days(world, 20))
    offer = world.offer(material=olive, pack=Decimal(4000), price=Decimal("20.00"), lead_days=30)
    ordered(world, offer, 30)
    plan_run(actor=world.actor, version=version, fats_g=Decimal(2000), pour_on=in_days(world, 2), bars=30, at=world.now)
    found = look(world, version, 4)
    assert found.places.lacking, "30 of 48 are kept for the other run"

    def is_stocked(day: date) -> bool:
        held = hold_run(version=version, fats_g=Decimal(2000), pour_on=day, at=world.now)
        return held.found.safe.possible

    def has_room(day: date) -> bool:
        return not look_for_places(version=version, fats_g=Decimal(2000), pour_on=day, bars=30, at=world.now).lacking

    stocked = [days for days in range(4, 100) if is_stocked(in_days(world, days))]
    both = [days for days in stocked if has_room(in_days(world, days))]
    assert stocked[0] == 4
    assert both[0] > stocked[0] + 1
    assert found.first_on == in_days(world, both[0])


def test_each_part_is_what_its_own_question_answers(world: World, version: FormulaVersion, olive, lye) -> None:
    world.rack()
    world.lot("1500", material=olive)
    found = look(world, version, 9)
    alone = hold_run(version=version, fats_g=Decimal(2000), pour_on=in_days(world, 9), at=world.now)
    assert found.held.found == alone.found
    places = look_for_places(version=version, fats_g=Decimal(2000), pour_on=in_days(world, 9), bars=30, at=world.now)
    assert (found.places.cure, found.places.places, found.places.pour_first_on) == (
        places.cure,
        places.places,
        places.pour_first_on,
    )
    shelf = read_shelf(world.workshop, world.now.date()).shelf()
    cure = found.places.cure
    assert not hold(shelf, 30, first_day=cure.cut_on.toordinal(), last_day=cure.stays_until.toordinal()).lacking
