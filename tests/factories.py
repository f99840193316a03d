"""Factories: rows built by the services and flows a door would call, never by writing tables.

A factory's model is the verb itself: it takes what the verb takes, and fills the rest with an
invented workshop's values.
"""

import uuid
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import factory

from curehouse.curing.models import Reading
from curehouse.curing.services.racks import add_rack
from curehouse.curing.services.readings import ReadingEntry
from curehouse.flows.enter_batch import RackEntry, enter_batch
from curehouse.flows.set_up import SetUpEntry
from curehouse.flows.weigh import weigh
from curehouse.making.services import BatchEntry, LiquidEntry
from curehouse.workshops.actors import Actor
from curehouse.workshops.services import add_scale, make_person, open_workshop
from inventory.services.lots import ReceiptEntry, receive
from inventory.services.offers import OfferEntry, write_offer
from inventory.services.things import MaterialEntry, SupplierEntry, write_material, write_supplier

# A Tuesday morning in Berlin; tests hand moments in and never read the clock.
NOW = datetime(2026, 3, 10, 9, 0, tzinfo=UTC)
OPENED = NOW - timedelta(days=400)
PASSWORD = "quiet-linden-staircase"


class PersonFactory(factory.Factory):
    """A person who can sign in."""

    class Meta:
        model = make_person

    email = factory.Sequence(lambda number: f"maker{number}@fennelyard.example")
    name = "Ottilie Brandt"
    password = PASSWORD
    at = OPENED


class WorkshopFactory(factory.Factory):
    """A workshop in Berlin that weighs on Tuesdays."""

    class Meta:
        model = open_workshop

    owner = factory.SubFactory(PersonFactory)
    name = "Fennel Yard Soapworks"
    unit = "g"
    time_zone = "Europe/Berlin"
    currency = "EUR"
    round_days = (1,)
    at = OPENED


class ScaleFactory(factory.Factory):
    """A kitchen scale."""

    class Meta:
        model = add_scale

    workshop = factory.SubFactory(WorkshopFactory)
    name = factory.Sequence(lambda number: "Kitchen scale" if not number else f"Kitchen scale {number}")
    step_g = Decimal("0.1")


class RackFactory(factory.Factory):
    """A rack of two levels with two places for 24 bars each."""

    class Meta:
        model = add_rack

    workshop = factory.SubFactory(WorkshopFactory)
    name = "North wall"
    levels = 2
    places = 2
    capacity_bars = 24


class SetUpEntryFactory(factory.Factory):
    """What a newcomer types on the first page."""

    class Meta:
        model = SetUpEntry

    owner_name = "Ottilie Brandt"
    email = "ottilie@fennelyard.example"
    password = PASSWORD
    workshop_name = "Fennel Yard Soapworks"
    unit = "g"
    time_zone = "Europe/Berlin"
    currency = "EUR"
    round_days = (1,)
    scale_name = "Kitchen scale"
    scale_step_g = Decimal("0.1")


class BatchEntryFactory(factory.Factory):
    """A batch as a maker enters it: goat's milk for a third of the liquid, cut a day after the pour."""

    class Meta:
        model = BatchEntry

    class Params:
        now = NOW
        cut_days_ago = 30

    formula_name = "Goat & oat"
    cut_at = factory.LazyAttribute(lambda one: None if one.cut_days_ago is None else one.now - timedelta(days=one.cut_days_ago))
    poured_at = factory.LazyAttribute(lambda one: (one.cut_at or one.now) - timedelta(days=1))
    bars = 24
    fats_g = Decimal(2000)
    lye_g = Decimal("283.5")
    liquids = factory.LazyFunction(
        lambda: [LiquidEntry("water", Decimal(420)), LiquidEntry("goat_milk", Decimal(220), place="trace")]
    )


class BatchFactory(factory.Factory):
    """A batch entered with three sample bars and no place yet."""

    class Meta:
        model = enter_batch

    actor = factory.LazyFunction(lambda: Actor(workshop=WorkshopFactory()))
    entry = factory.SubFactory(BatchEntryFactory)
    rack = factory.LazyFunction(RackEntry)
    at = NOW


class ReadingEntryFactory(factory.Factory):
    """A weighing as a phone sends it; ``weight`` is the figure as typed, in grams."""

    class Meta:
        model = ReadingEntry

    class Params:
        weight = "120.0"

    client_id = factory.LazyFunction(uuid.uuid4)
    moment = NOW
    weight_g = factory.LazyAttribute(lambda one: Decimal(one.weight))
    scale = None
    source = "round"
    typed = factory.SelfAttribute("weight")


class ReadingFactory(factory.Factory):
    """A weighing of a sample bar, as the round writes it."""

    class Meta:
        model = weigh

    entry = factory.SubFactory(ReadingEntryFactory)
    at = NOW

    @classmethod
    def _create(cls, verb: Any, *_args: Any, **kwargs: Any) -> Reading:
        reading, _is_new = verb(**kwargs)
        return reading


class MaterialEntryFactory(factory.Factory):
    """A fat, kept in grams."""

    class Meta:
        model = MaterialEntry

    name = factory.Sequence(lambda number: f"Olive oil {number}")
    kind = "fat"


class MaterialFactory(factory.Factory):
    """A material, as the storeroom writes it."""

    class Meta:
        model = write_material

    workshop = factory.SubFactory(WorkshopFactory)
    entry = factory.SubFactory(MaterialEntryFactory)


class SupplierFactory(factory.Factory):
    """A supplier."""

    class Meta:
        model = write_supplier

    workshop = factory.SubFactory(WorkshopFactory)
    entry = factory.LazyFunction(lambda: SupplierEntry(name="Brook Mill", contact="orders@brookmill.example"))


class OfferEntryFactory(factory.Factory):
    """A kilogram of a fat as Brook Mill sells it."""

    class Meta:
        model = OfferEntry

    supplier = factory.SubFactory(SupplierFactory)
    material = factory.SubFactory(MaterialFactory)
    pack = Decimal(1000)
    price = Decimal("8.20")


class OfferFactory(factory.Factory):
    """An offer, as the storeroom writes it."""

    class Meta:
        model = write_offer

    actor = factory.LazyFunction(lambda: Actor(workshop=WorkshopFactory()))
    entry = factory.SubFactory(OfferEntryFactory)
    at = NOW


class ReceiptEntryFactory(factory.Factory):
    """A kilogram that came a month ago, released, good for a year; ``on_hand`` is the figure as typed."""

    class Meta:
        model = ReceiptEntry

    class Params:
        on_hand = "1000"
        now = NOW
        days_here = 30

    material = factory.SubFactory(MaterialFactory)
    amount = factory.LazyAttribute(lambda one: Decimal(one.on_hand))
    received_on = factory.LazyAttribute(lambda one: (one.now - timedelta(days=one.days_here)).date())
    supplier_lot = "BM-2209"
    best_before = factory.LazyAttribute(lambda one: (one.now + timedelta(days=365)).date())
    unit_cost = Decimal("0.0075")
    standing = "released"


class LotFactory(factory.Factory):
    """A lot, as it is received."""

    class Meta:
        model = receive

    actor = factory.LazyFunction(lambda: Actor(workshop=WorkshopFactory()))
    entry = factory.LazyAttribute(lambda one: ReceiptEntryFactory(material__workshop=one.actor.workshop))
    at = NOW
