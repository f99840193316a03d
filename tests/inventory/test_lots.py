"""A lot comes in under a number of the house, and every word about it is kept."""

from datetime import date, time, timedelta
from decimal import Decimal

import pytest

from curehouse.common.errors import Conflict, Invalid, NotHere
from curehouse.common.time import local_moment
from inventory.models import Irregular, Lot, LotCorrection, LotRuling, LotValue, Movement
from inventory.services.lots import LotPapers, correct_lot, receive, record_value, rule_lot
from inventory.services.things import retire_material, take_up_material
from tests.factories import ReceiptEntryFactory, SupplierFactory
from tests.world import World

pytestmark = pytest.mark.django_db


def fresh(lot: Lot) -> Lot:
    return Lot.objects.within(lot.workshop).named().get(pk=lot.pk)


def test_a_lot_comes_in_with_its_first_movement_and_its_first_ruling(world: World) -> None:
    supplier = SupplierFactory(workshop=world.workshop)
    lot = fresh(world.lot("2500.125", supplier=supplier, unit_cost=Decimal("0.00751"), days_here=0))
    assert (str(lot), lot.on_hand, lot.standing, lot.supplier) == (
        "Olive oil, lot 1",
        Decimal("2500.125"),
        "released",
        supplier,
    )
    assert lot.unit_cost == Decimal("0.00751")
    (movement,) = Movement.objects.within(world.workshop)
    # A day is all that is known: what was used earlier that day was there already.
    morning = local_moment(world.now.date(), time.min, world.workshop.time_zone)
    assert (movement.kind, movement.amount, movement.moment) == ("receive", Decimal("2500.125"), morning)
    assert (movement.signed_by, str(movement)) == ("Ottilie Brandt", "+2500.125 received")
    (ruling,) = LotRuling.objects.within(world.workshop)
    assert str(ruling) == "released: as received"


def test_a_lot_waits_in_quarantine_unless_it_is_said_otherwise(world: World) -> None:
    entry = ReceiptEntryFactory(material=world.material())
    lot = receive(actor=world.actor, entry=type(entry)(entry.material, Decimal(5), world.now.date()), at=world.now)
    assert fresh(lot).standing == "quarantine"


def test_lots_are_numbered_by_the_house_and_each_house_by_itself(world: World, stranger: World) -> None:
    assert [world.lot().number, stranger.lot().number, world.lot().number] == [1, 1, 2]


def test_what_came_on_an_earlier_day_counts_from_that_day_on(world: World) -> None:
    lot = world.lot(days_here=10)
    movement = lot.movements.get()
    assert (movement.moment, movement.written_at) == (world.days_ago(10).replace(hour=23) - timedelta(days=1), world.now)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"on_hand": "0"}, "amount"),
        ({"on_hand": "-1"}, "amount"),
        ({"on_hand": "0.0004"}, "amount"),
        ({"on_hand": "1000000"}, "amount"),
        ({"on_hand": "NaN"}, "amount"),
        ({"on_hand": "Infinity"}, "amount"),
        ({"received_on": date(2026, 3, 11)}, "received_on"),
        ({"received_on": date(1026, 3, 10)}, "received_on"),
        ({"best_before": date(2226, 3, 10)}, "best_before"),
        ({"unit_cost": Decimal("-0.01")}, "unit_cost"),
        ({"unit_cost": Decimal("1e30")}, "unit_cost"),
        ({"standing": "fine"}, "standing"),
        ({"supplier_lot": "x" * 121}, "supplier_lot"),
        ({"supplier_lot": "a\x00"}, "supplier_lot"),
        ({"why": "x" * 401}, "why"),
    ],
)
def test_a_lot_that_cannot_be_right_is_answered_in_words_and_takes_no_number(world: World, changes: dict, field: str) -> None:
    with pytest.raises(Invalid) as refused:
        world.lot(**changes)
    assert refused.value.field == field
    assert world.lot().number == 1


def test_pieces_are_whole(world: World) -> None:
    boxes = world.material("Boxes", kind="packaging")
    with pytest.raises(Invalid, match="Boxes is counted in pieces"):
        world.lot("2.5", material=boxes)
    assert world.lot("250", material=boxes).on_hand == 250


def test_a_best_before_may_have_passed_and_is_often_unknown(world: World) -> None:
    today = world.now.date()
    assert world.lot(best_before=None).irregular_on(today) == ""
    assert world.lot(best_before=today - timedelta(days=1)).irregular_on(today) == Irregular.EXPIRED
    assert world.lot(best_before=today).irregular_on(today) == ""


def test_a_retired_material_takes_no_lot_until_it_is_used_again(world: World) -> None:
    material = retire_material(material=world.material(), at=world.now)
    with pytest.raises(Conflict, match="Olive oil is retired"):
        world.lot(material=material)
    assert world.lot(material=take_up_material(material=material)).number == 1


def test_a_person_rules_about_a_lot_and_says_why(world: World) -> None:
    lot = world.lot(standing="quarantine", why="seal broken")
    rule_lot(actor=world.actor, lot=lot, standing="released", why="smelt and tested", at=world.now)
    rule_lot(actor=world.actor, lot=lot, standing="rejected", why="turned cloudy", at=world.now + timedelta(hours=1))
    assert fresh(lot).standing == "rejected"
    said = [str(one) for one in LotRuling.objects.within(world.workshop).filter(lot=lot).newest_first()]
    assert said == ["rejected: turned cloudy", "released: smelt and tested", "in quarantine: seal broken"]


@pytest.mark.parametrize(
    ("standing", "why", "kind", "code"),
    [
        ("released", "  ", Invalid, "reason"),
        ("released", "fine", Conflict, "ruled_already"),
        ("gone", "fine", Invalid, "standing"),
        ("rejected", "x" * 401, Invalid, "too_long"),
    ],
)
def test_a_ruling_that_says_nothing_is_refused(world: World, standing: str, why: str, kind: type, code: str) -> None:
    lot = world.lot()
    with pytest.raises(kind) as refused:
        rule_lot(actor=world.actor, lot=lot, standing=standing, why=why, at=world.now)
    assert refused.value.code == code
    assert fresh(lot).standing == "released"


def test_a_strangers_lot_is_not_there(world: World, stranger: World) -> None:
    with pytest.raises(NotHere):
        rule_lot(actor=stranger.actor, lot=world.lot(), standing="rejected", why="envy", at=world.now)


def test_a_strangers_material_and_supplier_are_not_there(world: World, stranger: World) -> None:
    theirs = SupplierFactory(workshop=stranger.workshop)
    for changes in ({"material": stranger.material()}, {"supplier": theirs}):
        with pytest.raises(NotHere):
            world.lot(**changes)
    assert not Lot.objects.within(world.workshop).exists()


def test_a_misread_paper_is_corrected_and_what_stood_there_is_kept(world: World) -> None:
    lot = world.lot(best_before=date(2026, 4, 1), supplier_lot="BM-1")
    papers = LotPapers(supplier_lot="BM-1", best_before=date(2027, 4, 1), unit_cost=None)
    correct_lot(actor=world.actor, lot=lot, papers=papers, why="read the year wrongly", at=world.now)
    lot = fresh(lot)
    assert (lot.best_before, lot.unit_cost, lot.supplier_lot) == (date(2027, 4, 1), None, "BM-1")
    said = sorted(str(one) for one in LotCorrection.objects.within(world.workshop))
    assert said == ["best before: 2026-04-01 became 2027-04-01", "the cost: 0.0075 became nothing"]
    assert correct_lot(actor=world.actor, lot=lot, papers=papers, why="again", at=world.now) == []


def test_a_correction_wants_a_reason_and_a_possible_value(world: World) -> None:
    lot = world.lot()
    for papers, why, field in (
        (LotPapers("BM-9", lot.best_before, lot.unit_cost), " ", "why"),
        (LotPapers("BM-9", date(2926, 1, 1), lot.unit_cost), "misread", "best_before"),
    ):
        with pytest.raises(Invalid) as refused:
            correct_lot(actor=world.actor, lot=lot, papers=papers, why=why, at=world.now)
        assert refused.value.field == field
    assert fresh(lot).supplier_lot == "BM-2209"


def test_the_newest_figure_of_a_certificate_counts(world: World) -> None:
    lot, other = world.lot(), world.lot()
    for which, name, value, hours in (
        (lot, "Saponification value", "187.5", 0),
        (lot, "saponification value", "189", 2),
        (lot, "Acid value", "0.05", 1),
        (other, "Saponification value", "191", 5),
    ):
        record_value(
            actor=world.actor,
            lot=which,
            name=name,
            value=Decimal(value),
            unit="mg KOH/g",
            at=world.now + timedelta(hours=hours),
        )
    counting = LotValue.objects.within(world.workshop).filter(lot=lot).newest_of_each_name()
    assert [str(one) for one in counting] == ["Acid value 0.05 mg KOH/g", "saponification value 189 mg KOH/g"]


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"value": Decimal("NaN")}, "value"),
        ({"value": Decimal("1e20")}, "value"),
        ({"name": ""}, "name"),
        ({"unit": "x" * 41}, "unit"),
    ],
)
def test_a_figure_that_cannot_be_right_is_answered_in_words(world: World, changes: dict, field: str) -> None:
    asked = {"name": "Purity", "value": Decimal(98), "unit": "%", **changes}
    with pytest.raises(Invalid) as refused:
        record_value(actor=world.actor, lot=world.lot(), at=world.now, **asked)
    assert refused.value.field == field


@pytest.mark.parametrize("name", ["Purity", " assay ", "NaOH  content"])
@pytest.mark.parametrize(
    ("value", "says"),
    [
        ("0.985", "in per cent, as on the certificate: 98.5 and not 0.985"),
        ("1", "in per cent, as on the certificate: 100 and not 1"),
        ("9.85", "between 50 and 100.5"),
        ("985", "between 50 and 100.5"),
        ("-98", "between 50 and 100.5"),
    ],
)
def test_the_purity_of_lye_is_in_per_cent_or_refused(world: World, name: str, value: str, says: str) -> None:
    lye = world.lot(material=world.material("Sodium hydroxide", kind="lye"))
    with pytest.raises(Invalid) as refused:
        record_value(actor=world.actor, lot=lye, name=name, value=Decimal(value), unit="", at=world.now)
    assert (refused.value.code, refused.value.field) == ("purity", "value")
    assert says in refused.value.message
    assert not LotValue.objects.within(world.workshop).exists()
    # Of another material, and of another figure, it says nothing.
    record_value(actor=world.actor, lot=world.lot(), name=name, value=Decimal(value), unit="", at=world.now)
    record_value(actor=world.actor, lot=lye, name="Carbonate", value=Decimal(value), unit="%", at=world.now)
