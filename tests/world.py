"""One small world that tests share, built through the services as a maker would.

``World`` opens a workshop with its owner, a scale, a rack and, on request, batches and weighings;
a second world is the stranger next door.
"""

import uuid
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from decimal import Decimal

from curehouse.curing.models import Position, Rack, Reading, SampleBar
from curehouse.curing.services.racks import add_rack
from curehouse.flows.enter_batch import RackEntry, enter_batch
from curehouse.flows.set_up import SetUpEntry
from curehouse.flows.weigh import weigh
from curehouse.curing.services.readings import ReadingEntry
from curehouse.making.models import Batch
from curehouse.making.services import BatchEntry, LiquidEntry
from curehouse.notices.models import Delivery
from curehouse.notices.services import subscribe
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Scale, User, Workshop
from curehouse.workshops.services import add_scale, make_person, open_workshop

# A Tuesday morning in Berlin; tests hand moments in and never read the clock.
NOW = datetime(2026, 3, 10, 9, 0, tzinfo=UTC)
PASSWORD = "quiet-linden-staircase"


def set_up_entry(**changes: object) -> SetUpEntry:
    """Return what a newcomer types on the first page."""
    values: dict[str, object] = {
        "owner_name": "Ottilie Brandt",
        "email": "ottilie@fennelyard.example",
        "password": PASSWORD,
        "workshop_name": "Fennel Yard Soapworks",
        "unit": "g",
        "time_zone": "Europe/Berlin",
        "currency": "EUR",
        "round_days": (1,),
        "scale_name": "Kitchen scale",
        "scale_step_g": Decimal("0.1"),
    }
    return SetUpEntry(**{**values, **changes})


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
        self.owner = make_person(email=self.email, name="Ottilie Brandt", password=PASSWORD, at=opened)
        self.workshop = open_workshop(
            owner=self.owner,
            name=self.name,
            unit=self.unit,
            time_zone="Europe/Berlin",
            currency="EUR",
            round_days=[1],
            at=opened,
        )
        self.actor = Actor(workshop=self.workshop, user=self.owner)
        self.scale = add_scale(workshop=self.workshop, name="Kitchen scale", step_g=Decimal("0.1"))
        subscribe(workshop=self.workshop, user=self.owner, channel=Delivery.Channel.EMAIL)

    def days_ago(self, days: float) -> datetime:
        """Return the moment so many days before now."""
        return self.now - timedelta(days=days)

    def rack(self, name: str = "North wall", *, levels: int = 2, places: int = 2, capacity: int = 24) -> Rack:
        """Put a rack up."""
        return add_rack(workshop=self.workshop, name=name, levels=levels, places=places, capacity_bars=capacity)

    def position(self, rack: Rack, level: int = 1, place: int = 1) -> Position:
        """Return one of a rack's positions."""
        return Position.objects.within(self.workshop).get(rack=rack, level=level, place=place)

    def batch_entry(self, *, cut_days_ago: float | None = 30, **changes: object) -> BatchEntry:
        """Return a batch as a maker enters it: goat's milk for a third of the liquid."""
        cut_at = None if cut_days_ago is None else self.days_ago(cut_days_ago)
        values: dict[str, object] = {
            "formula_name": "Goat & oat",
            "poured_at": (cut_at or self.now) - timedelta(days=1),
            "cut_at": cut_at,
            "bars": 24,
            "fats_g": Decimal(2000),
            "lye_g": Decimal("283.5"),
            "liquids": [LiquidEntry("water", Decimal(420)), LiquidEntry("goat_milk", Decimal(220), place="trace")],
        }
        return BatchEntry(**{**values, **changes})

    def batch(
        self,
        *,
        cut_days_ago: float | None = 30,
        sample_bars: int = 3,
        position: Position | None = None,
        **changes: object,
    ) -> Batch:
        """Enter a batch."""
        return enter_batch(
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
        values: dict[str, object] = {
            "client_id": uuid.uuid4(),
            "moment": moment,
            "weight_g": Decimal(weight_g),
            "scale": self.scale,
            "source": "round",
            "typed": weight_g,
        }
        return ReadingEntry(**{**values, **changes})

    def weigh(self, bar: SampleBar, weight_g: str, *, moment: datetime, **changes: object) -> Reading:
        """Weigh a sample bar."""
        entry = self.reading_entry(weight_g, moment=moment, **changes)
        return weigh(actor=self.actor, bar=bar, entry=entry, at=max(self.now, moment))[0]

    def weigh_series(self, batch: Batch, weights: dict[int, str], *, letters: str = "ABC") -> None:
        """Weigh sample bars on days after the cut, all alike."""
        for day, weight_g in weights.items():
            for letter in letters:
                self.weigh(self.bar(batch, letter), weight_g, moment=batch.cut_at + timedelta(days=day, hours=1))
