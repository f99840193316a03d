"""The demo's storeroom: what its batches took is what they are made of, and the ledger bears it out."""

from collections import defaultdict
from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.common.time import local_day
from curehouse.curing.models import Cure, Occupancy, RackRoom
from curehouse.flows.check_run import share_out
from curehouse.flows.demo import open_demo
from curehouse.making.models import Batch, BatchHold, BatchUse, FormulaVersion, Reservation, TakeOut
from curehouse.notices.models import Delivery, Notice
from curehouse.workshops.models import Workshop
from inventory.adapter import covers
from inventory.balance import differences
from inventory.models import Count, Lot, LotRuling, LotValue, Making, Movement, Offer, Order, Proposal
from tests.factories import NOW

_MILKS = {"goat_milk": "Goat's milk, frozen", "sheep_milk": "Sheep's milk, frozen", "buttermilk": "Buttermilk, frozen"}


def _taken(workshop: Workshop) -> dict[int, dict[str, Decimal]]:
    """Return what each batch took, by material and by kind of material."""
    taken: dict[int, dict[str, Decimal]] = defaultdict(lambda: defaultdict(Decimal))
    for use in BatchUse.objects.within(workshop).in_force().select_related("movement__lot__material"):
        material = use.movement.lot.material
        for name in {material.name, material.kind}:
            taken[use.batch_id][name] -= use.movement.amount
    return taken


def _check_uses(workshop: Workshop) -> None:
    taken = _taken(workshop)
    sold = defaultdict(int)
    for row in TakeOut.objects.within(workshop).filter(purpose="sale"):
        sold[row.batch_id] += row.bars
    batches = list(Batch.objects.within(workshop).prefetch_related("liquids"))
    assert len(batches) == len(taken) == 48
    for batch in batches:
        took = taken[batch.pk]
        assert (took["fat"], took["lye"]) == (batch.fats_g, batch.lye_g)
        milks = {_MILKS[one.kind]: one.mass_g for one in batch.liquids.all() if one.kind in _MILKS}
        assert {name: took[name] for name in milks} == milks
        assert took["packaging"] == sold[batch.pk]


def _check_shelves(workshop: Workshop) -> None:
    today = local_day(NOW, workshop.time_zone)
    lots = Lot.objects.within(workshop).in_stock().named()
    assert {lot.material.name for lot in lots if lot.irregular_on(today) == "expired"} == {"Marigold petals"}
    assert {lot.material.name for lot in lots if lot.irregular_on(today) == "quarantine"} == {"Olive oil"}
    assert lots.usable(on=today).expiring(by=today + timedelta(days=30)).get().material.name == "Castor oil"
    assert LotRuling.objects.within(workshop).filter(standing="rejected").get().why.startswith("smells of turpentine")
    named = set(LotValue.objects.within(workshop).values_list("name", flat=True))
    assert named == {"purity", "milk fat", "saponification value"}


def _check_ledger(workshop: Workshop) -> None:
    assert differences() == []
    movements = Movement.objects.within(workshop)
    assert set(movements.values_list("source", flat=True)) == {"demo"}
    assert movements.filter(moment__gt=NOW).count() == 0
    # Nothing was found at a pour: each delivery came before it was wanted.
    count = Count.objects.within(workshop).get(is_estimate=False)
    assert (count.counted - count.expected, count.for_use) == (-140, None)
    gone = dict(movements.filter(kind="write_off").values_list("lot__material__name", "amount"))
    assert gone == {"Sunflower oil": -260, "Box for one bar": -80}
    assert not BatchHold.objects.within(workshop).exists()


def _check_formulas(workshop: Workshop) -> None:
    versions = FormulaVersion.objects.within(workshop).in_force().select_related("formula")
    assert sorted((version.formula.name, version.number) for version in versions) == [
        ("Goat & oat", 1), ("Goat & oat", 2), ("Harbour charcoal", 1), ("Old olive", 1), ("Sheep's milk plain", 1),
    ]  # fmt: skip
    # Nobody had to confirm anything: certificates of the lots narrow the ends.
    assert all(version.confirmed == [] for version in versions)
    batches = Batch.objects.within(workshop).exclude(version=None)
    assert batches.count() > 20
    assert not batches.filter(needs_check=True).exists()
    assert not batches.filter(lye_confirmed=True).exists()


def _check_rooms(workshop: Workshop) -> None:
    """Each room has a rack on which batches cure, and of each some hear the log of its air."""
    cures = Cure.objects.within(workshop).filter(ended_at__isnull=True, forecast__room__isnull=False)
    heard = [cure.forecast.record.content["room"] for cure in cures.select_related("forecast__record")]
    assert len(set(heard)) == 2 and heard.count("") >= 5
    cellar = RackRoom.objects.within(workshop).get()
    assert (cellar.rack.name, cellar.room.name) == ("Cellar stairs", "Cellar")
    assert Occupancy.objects.within(workshop).filter(position__rack=cellar.rack, bars__gt=0).count() >= 2


@pytest.mark.django_db
def test_the_demo_has_a_storeroom_that_ties_with_its_batches() -> None:
    open_demo(at=NOW)
    workshop = Workshop.objects.get()
    _check_uses(workshop)
    _check_shelves(workshop)
    _check_ledger(workshop)
    _check_formulas(workshop)
    _check_rooms(workshop)
    _check_mix(workshop)
    days = {known: cover.days for known, cover in covers(workshop=workshop, at=NOW).items() if cover.days is not None}
    assert len(days) > 12
    assert all(5 < one < 1000 for one in days.values())
    stock = Notice.objects.within(workshop).open().filter(kind__in=["expiring", "expired"])
    assert sorted(stock.values_list("kind", flat=True)) == ["expired", "expiring"]
    assert not Delivery.objects.within(workshop).exists()


@pytest.mark.django_db
def test_the_demo_has_orders_on_the_way_of_which_one_is_late_and_one_that_waits_to_be_decided() -> None:
    open_demo(at=NOW)
    workshop = Workshop.objects.get()
    assert Offer.objects.within(workshop).standing().count() == 18
    assert sorted(Order.objects.within(workshop).values_list("supplier__name", "state")) == [
        ("Alder Lye & Salts", "sent"), ("Brook Street Cartons", "written"), ("Harbour Oil Mill", "sent"),
    ]  # fmt: skip
    (line,) = Proposal.objects.within(workshop).undecided().get().lines
    assert (line["because"], line["why"]["risk"] > 2 * line["why"]["risk_accepted"]) == ("due", True)
    assert Notice.objects.within(workshop).open().get(kind="order_decide").title.endswith("is to be decided")
    late = Notice.objects.within(workshop).open().get(kind="order_late")
    assert late.title == "Order 1, Alder Lye & Salts is late"
    assert differences() == []


def _check_mix(workshop: Workshop) -> None:
    """Look at the mix that is made in the house, and that two runs take."""
    making = Making.objects.within(workshop).get()
    assert (making.lot.material.name, making.lot.standing, making.lot.on_hand) == ("Hedgerow mix", "released", 90)
    assert sorted(making.takes.values_list("name", "amount_g")) == [("Cedarwood oil", 30), ("Lavender oil", 60)]
    runs = Reservation.objects.within(workshop).standing().filter(material=making.lot.material)
    assert runs.count() == 2
    shares = share_out(workshop=workshop, at=NOW)
    taken = [one for one in shares.likely if one.material == str(making.lot.material_id)]
    # 61.2 g and 91.8 g: of the second run two thirds are still to be mixed, and its parts are here.
    assert [sum(take.amount for take in one.takes) for one in taken] == [pytest.approx(61.2), pytest.approx(28.8)]
    parts = {str(key) for key in making.takes.values_list("movement__lot__material", flat=True)}
    assert not any(one.short_g for one in shares.likely if one.material in parts)
