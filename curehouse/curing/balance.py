"""Whether the counts kept for speed are those the ledgers come to.

A position's ``bars_held`` and the occupancies are balances of the placements, a batch's
``bars_left`` is one of its take-outs; a room's days are the sums of its readings. Everything is summed in the database.
"""

from dataclasses import dataclass

from django.db.models import Sum

from curehouse.curing.models import Occupancy, Placement, Position, Room, RoomDay
from curehouse.making.models import Batch, TakeOut


@dataclass(frozen=True, slots=True)
class Difference:
    """A count that is not what its ledger comes to."""

    what: str
    kept: int
    reckoned: int

    def __str__(self) -> str:
        return f"{self.what}: {self.kept} kept, {self.reckoned} by the ledger"


def _standing_by_the_ledger() -> dict[tuple[int, int], int]:
    """Return bars by batch and position, those that came less those that went."""
    standing: dict[tuple[int, int], int] = {}
    for end, sign in (("target", 1), ("origin", -1)):
        ends = Placement.unscoped.filter(**{f"{end}__isnull": False}).order_by()
        for batch, position, bars in ends.values_list("batch", end).annotate(sum=Sum("bars")):
            standing[batch, position] = standing.get((batch, position), 0) + sign * bars
    return standing


def _of_occupancies(standing: dict[tuple[int, int], int]) -> list[Difference]:
    kept = {(row.batch_id, row.position_id): row.bars for row in Occupancy.unscoped.all()}
    return [
        Difference(f"bars of batch {key[0]} at position {key[1]}", kept.get(key, 0), standing.get(key, 0))
        for key in sorted({*kept, *standing})
        if kept.get(key, 0) != standing.get(key, 0)
    ]


def _of_positions(standing: dict[tuple[int, int], int]) -> list[Difference]:
    held: dict[int, int] = {}
    for (_batch, position), bars in standing.items():
        held[position] = held.get(position, 0) + bars
    return [
        Difference(f"bars held at position {pk}", kept, held.get(pk, 0))
        for pk, kept in Position.unscoped.order_by("pk").values_list("pk", "bars_held")
        if kept != held.get(pk, 0)
    ]


def _of_batches() -> list[Difference]:
    taken = dict(TakeOut.unscoped.order_by().values_list("batch").annotate(sum=Sum("bars")))
    # What left a batch before it was brought in from a file is on record nowhere.
    here = Batch.unscoped.exclude(state=Batch.State.CLOSED, is_brought_in=True)
    left = here.order_by("pk").values_list("pk", "bars_left", "bars_cut")
    return [
        Difference(f"bars left of batch {pk}", kept, cut - taken.get(pk, 0))
        for pk, kept, cut in left
        if kept != cut - taken.get(pk, 0)
    ]


def differences() -> list[Difference]:
    """Return every count in the house that its ledger does not bear out; none is as it must be."""
    standing = _standing_by_the_ledger()
    return [*_of_occupancies(standing), *_of_positions(standing), *_of_batches()]


def room_differences() -> list[Difference]:
    """Return every day of a room's log that is not what its readings come to."""
    found = []
    for room in Room.unscoped.select_related("workshop").order_by("pk"):
        reckoned = {row.day: row for row in RoomDay.unscoped.reckoned(room=room, time_zone=room.workshop.time_zone)}
        kept = {row.day: row for row in RoomDay.unscoped.filter(room=room).with_readings()}
        for day in sorted({*reckoned, *kept}):
            for name in ("readings", "humidity_sum", "temperatures", "temperature_sum"):
                pair = [getattr(rows.get(day), name, 0) for rows in (kept, reckoned)]
                if pair[0] != pair[1]:
                    found.append(Difference(f"{name} of room {room.pk} on {day}", pair[0], pair[1]))
    return found
