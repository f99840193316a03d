"""One small world that tests share, built through the services as a maker would.

``World`` opens a workshop with its owner, a scale, a rack and, on request, batches and weighings;
a second world is the stranger next door.
"""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from curehouse.curing.models import Position, Rack, Reading, SampleBar
from curehouse.curing.services.readings import ReadingEntry
from curehouse.flows.enter_batch import RackEntry
from curehouse.flows.set_up import SetUpEntry
from curehouse.flows.weigh_many import WeighingRow, weigh_many
from curehouse.making.models import Batch
from curehouse.making.services import BatchEntry
from curehouse.notices.models import Delivery
from curehouse.notices.services import subscribe
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Scale, User, Workshop
from inventory.models import Lot, Material, Offer, Supplier
from tests.factories import (
    NOW,
    PASSWORD,
    BatchEntryFactory,
    BatchFactory,
    LotFactory,
    MaterialEntryFactory,
    MaterialFactory,
    OfferEntryFactory,
    OfferFactory,
    PersonFactory,
    RackFactory,
    ReadingEntryFactory,
    ReadingFactory,
    ReceiptEntryFactory,
    ScaleFactory,
    SetUpEntryFactory,
    SupplierFactory,
    WorkshopFactory,
)

__all__ = ["NOW", "PASSWORD", "World", "set_up_entry"]


def set_up_entry(**changes: object) -> SetUpEntry:
    """Return what a newcomer types on the first page."""
    return SetUpEntryFactory(**changes)


@dataclass
class World:
    """A workshop with its owner; moments are given relative to ``now``."""

    name: str = "Fennel Yard Soapworks"
    email: str = "ottilie@fennelyard.example"
    now: datetime = NOW
    unit: str = "g"
    owner: User = field(init=False)
    workshop: Workshop = field(init=False)
    actor: Actor = field(init=False)
    scale: Scale = field(init=False)

    def __post_init__(self) -> None:
        opened = self.now - timedelta(days=400)
        self.owner = PersonFactory(email=self.email, at=opened)
        self.workshop = WorkshopFactory(owner=self.owner, name=self.name, unit=self.unit, at=opened)
        self.actor = Actor(workshop=self.workshop, user=self.owner)
        self.scale = ScaleFactory(workshop=self.workshop, name="Kitchen scale")
        subscribe(workshop=self.workshop, user=self.owner, channel=Delivery.Channel.EMAIL)

    def days_ago(self, days: float) -> datetime:
        """Return the moment so many days before now."""
        return self.now - timedelta(days=days)

    def rack(self, name: str = "North wall", *, levels: int = 2, places: int = 2, capacity: int = 24) -> Rack:
        """Put a rack up."""
        return RackFactory(workshop=self.workshop, name=name, levels=levels, places=places, capacity_bars=capacity)

    def position(self, rack: Rack, level: int = 1, place: int = 1) -> Position:
        """Return one of a rack's positions."""
        return Position.objects.within(self.workshop).get(rack=rack, level=level, place=place)

    def batch_entry(self, *, cut_days_ago: float | None = 30, **changes: object) -> BatchEntry:
        """Return a batch as a maker enters it: goat's milk for a third of the liquid."""
        return BatchEntryFactory(now=self.now, cut_days_ago=cut_days_ago, **changes)

    def batch(
        self,
        *,
        cut_days_ago: float | None = 30,
        sample_bars: int = 3,
        position: Position | None = None,
        **changes: object,
    ) -> Batch:
        """Enter a batch."""
        return BatchFactory(
            actor=self.actor,
            entry=self.batch_entry(cut_days_ago=cut_days_ago, **changes),
            rack=RackEntry(sample_bars=sample_bars, position=position),
            at=self.now,
        )

    def bar(self, batch: Batch, letter: str = "A") -> SampleBar:
        """Return one of a batch's sample bars."""
        return SampleBar.objects.within(self.workshop).select_related("batch__formula").get(batch=batch, letter=letter)

    def reading_entry(self, weight_g: str, *, moment: datetime, **changes: object) -> ReadingEntry:
        """Return a weighing as a phone sends it."""
        return ReadingEntryFactory(weight=weight_g, moment=moment, **{"scale": self.scale, **changes})

    def weigh(self, bar: SampleBar, weight_g: str, *, moment: datetime, **changes: object) -> Reading:
        """Weigh a sample bar."""
        entry = self.reading_entry(weight_g, moment=moment, **changes)
        return ReadingFactory(actor=self.actor, bar=bar, entry=entry, at=max(self.now, moment))

    def weigh_series(self, batch: Batch, weights: dict[int, str], *, letters: str = "ABC") -> None:
        """Weigh sample bars on days after the cut, all alike: sent together, which comes to the same and is quicker."""
        sent: dict[datetime, list[WeighingRow]] = defaultdict(list)
        bars = [self.bar(batch, letter) for letter in letters]
        for day, weight_g in weights.items():
            moment = batch.cut_at + timedelta(days=day, hours=1)
            rows = [WeighingRow(bar.pk, self.scale.pk, self.reading_entry(weight_g, moment=moment)) for bar in bars]
            sent[max(self.now, moment)] += rows
        for at in sorted(sent):
            weigh_many(actor=self.actor, rows=sent[at], at=at)

    def material(self, name: str = "Olive oil", **changes: object) -> Material:
        """Write a material, a fat unless said otherwise."""
        return MaterialFactory(workshop=self.workshop, entry=MaterialEntryFactory(name=name, **changes))

    def lot(self, on_hand: str = "1000", *, material: Material | None = None, **changes: object) -> Lot:
        """Receive a lot, a month ago and released unless said otherwise."""
        known = material or Material.objects.within(self.workshop).called("Olive oil") or self.material()
        entry = ReceiptEntryFactory(material=known, on_hand=on_hand, now=self.now, **changes)
        return LotFactory(actor=self.actor, entry=entry, at=self.now)

    def supplier(self) -> Supplier:
        """Return Brook Mill, written down where it is not yet."""
        return Supplier.objects.within(self.workshop).called("Brook Mill") or SupplierFactory(workshop=self.workshop)

    def offer(self, *, material: Material | None = None, supplier: Supplier | None = None, **changes: object) -> Offer:
        """Write what a supplier sells: a kilogram of olive oil of Brook Mill, unless said otherwise."""
        known = material or Material.objects.within(self.workshop).called("Olive oil") or self.material()
        entry = OfferEntryFactory(material=known, supplier=supplier or self.supplier(), **changes)
        return OfferFactory(actor=self.actor, entry=entry, at=self.now)
