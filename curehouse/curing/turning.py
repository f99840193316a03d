"""Which batches' bars are to be turned, in walking order."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from curehouse.common.time import local_day, local_moment
from curehouse.curing.models import Occupancy, Placement, Turning
from curehouse.making.models import Batch
from curehouse.workshops.models import Workshop


@dataclass(frozen=True, slots=True)
class ToTurn:
    """A batch whose bars are to be turned: since which day, when they were turned last (None: never), where they stand."""

    batch: Batch
    due_on: date
    last_at: datetime | None
    stands: tuple[Occupancy, ...]


def to_turn(*, workshop: Workshop, at: datetime) -> list[ToTurn]:
    """Return the batches whose bars are to be turned, as one walks past them, those without a place last (four queries)."""
    every, today, zone = workshop.turn_every_days, local_day(at, workshop.time_zone), workshop.time_zone
    if every is None:
        return []
    first = local_moment(today - timedelta(days=workshop.turn_for_days), time(), zone)
    curing = Batch.objects.within(workshop).filter(state=Batch.State.CURING, cut_at__gte=first, cut_at__lte=at)
    batches = list(curing.select_related("formula").order_by("number"))
    if not batches:
        return []
    stands = _stands(workshop, batches)
    last = last_turned(workshop, batches, stands)
    found = []
    for batch in batches:
        due_on = local_day(last.get(batch.pk, batch.cut_at), zone) + timedelta(days=every)
        if due_on <= today:
            found.append(ToTurn(batch, due_on, last.get(batch.pk), tuple(stands.get(batch.pk, ()))))
    order = {pk: place for place, pk in enumerate(stands)}
    return sorted(found, key=lambda one: (order.get(one.batch.pk, len(order)), one.batch.number))


def _stands(workshop: Workshop, batches: Sequence[Batch]) -> dict[int, list[Occupancy]]:
    """Return where bars of batches stand, the batch that one passes first before the others."""
    stands: dict[int, list[Occupancy]] = defaultdict(list)
    for row in Occupancy.objects.within(workshop).standing().filter(batch__in=batches):
        stands[row.batch_id].append(row)
    return dict(stands)


def last_turned(workshop: Workshop, batches: Sequence[Batch], stands: Mapping[int, Sequence[Occupancy]]) -> dict[int, datetime]:
    """Return when all bars of batches were turned last, by their keys: together, or place by place (two queries)."""
    last = Turning.objects.within(workshop).last_of(batches)
    at_places = Placement.objects.within(workshop).last_turned(batches)
    for batch in batches:
        here = stands.get(batch.pk, ())
        moments = [at_places.get((batch.pk, row.position_id)) for row in here]
        if not here or None in moments or sum(row.bars for row in here) < batch.bars_left:
            continue
        whole = min(moments)
        last[batch.pk] = max(last.get(batch.pk, whole), whole)
    return last
