"""Ten simulated batches as a maker would have kept them, ready to be entered into a running house."""

import json
import uuid
from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from tests.brute_force import Row, load
from tests.house import RunningHouse
from tests.world import PASSWORD

BARS_LATER_SECONDS = 20

PREPARE = """
import json
from datetime import datetime, timedelta
from decimal import Decimal
from django.utils import timezone
from curehouse.curing.models import SampleBar
from curehouse.flows.enter_batch import RackEntry, enter_batch
from curehouse.flows.set_up import set_up
from curehouse.making.services import BatchEntry, LiquidEntry
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Scale
from curehouse.flows.check import check
from curehouse.workshops.services import change_preferences, give_token
from tests.world import set_up_entry
now = timezone.now()
owner, workshop = set_up(entry=set_up_entry(time_zone="UTC"), at=now - timedelta(days=200))
actor = Actor(workshop=workshop, user=owner)
_token, secret = give_token(actor=actor, name="Tablet by the racks", reach="works", at=now)
change_preferences(workshop=workshop, changes={"check_limit": "pH 10 or less"})
batches = {}
for name, cut, share, bars, checked in json.loads(ASKED):
    cut_at = datetime.fromisoformat(cut)
    entry = BatchEntry(formula_name=name, poured_at=cut_at - timedelta(days=1), cut_at=cut_at, bars=24,
                       fats_g=Decimal(2000), lye_g=Decimal(280), liquids=[LiquidEntry("water", Decimal(640))],
                       water_share_stated=Decimal(share))
    batch = enter_batch(actor=actor, entry=entry, rack=RackEntry(sample_bars=bars), at=now)
    if checked:
        check(actor=actor, batch=batch, method="strip", value="9.5", passed=True, note="", checked_at=cut_at, at=now)
    letters = SampleBar.objects.within(workshop).filter(batch=batch).order_by("letter")
    batches[name] = {"batch": batch.pk, "bars": [bar.pk for bar in letters]}
scale = Scale.objects.within(workshop).get()
print("PREPARED " + json.dumps({"email": owner.email, "secret": secret, "scale": scale.pk, "batches": batches}))
"""


@dataclass
class Weighing:
    """One weighing to be entered: where, when, what; and what the house made of it."""

    row: Row
    bar_id: int
    moment: datetime
    client_id: str = field(default_factory=lambda: str(uuid.uuid4()))


@dataclass
class Kept:
    """A batch with its weighings in the order they were made."""

    name: str
    batch_id: int
    share: float
    cut_at: datetime
    weighings: list[Weighing]

    def rows_with_exact_days(self) -> list[Row]:
        """Return the weighings with the days since the cut they really have."""
        day = timedelta(days=1)
        return [
            Row(one.row.bar, (one.moment - self.cut_at) / day, one.row.weight_g, one.row.doubtful) for one in self.weighings
        ]


@dataclass(frozen=True)
class Prepared:
    """A house with its batches entered and nothing weighed yet."""

    email: str
    secret: str
    scale_id: int
    batches: list[Kept]
    password: str = PASSWORD


def prepare(house: RunningHouse, names: list[str], *, checked: Collection[str] = ()) -> Prepared:
    """Enter the named batches of ``tests/data`` with dates moved so that the last weighing was just now.

    Those in *checked* passed their safety check at the cut.
    """
    data = load()
    anchor = datetime.now(UTC).replace(microsecond=0) - timedelta(minutes=10)
    cuts = {name: anchor - timedelta(days=data[name][1][-1].day) for name in names}
    asked = json.dumps(
        [
            [name, cuts[name].isoformat(), str(data[name][0]), len({row.bar for row in data[name][1]}), name in checked]
            for name in names
        ]
    )
    done = house.manage("shell", "-c", f"ASKED = {asked!r}\n{PREPARE}")
    said = next((line for line in done.stdout.splitlines() if line.startswith("PREPARED ")), None)
    assert said, done.stdout
    answer = json.loads(said.removeprefix("PREPARED "))
    batches = []
    for name in names:
        share, rows = data[name]
        ids = answer["batches"][name]
        order = sorted({row.bar for row in rows})
        weighings = [
            Weighing(
                row,
                ids["bars"][order.index(row.bar)],
                cuts[name] + timedelta(days=row.day, seconds=BARS_LATER_SECONDS * order.index(row.bar)),
            )
            for row in rows
        ]
        batches.append(Kept(name, ids["batch"], share, cuts[name], weighings))
    return Prepared(answer["email"], answer["secret"], answer["scale"], batches)
