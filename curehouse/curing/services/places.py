"""The only writer of placements: bars come to a position, move, are turned, leave.

A position's count is raised by one conditional write, so that of two people who fill the last
places at the same moment one is refused; a CHECK constraint stands behind it. Locks are taken
batch first, then positions, all of them at once and in key order.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import Literal

from django.db import transaction
from django.db.models import F, Sum

from curehouse.common.errors import Conflict, Invalid
from curehouse.common.locking import lock_rows
from curehouse.curing.models import Cure, Occupancy, Placement, Position
from curehouse.making.models import Batch
from curehouse.making.services import lock_batch
from curehouse.workshops.actors import Actor

WhenFull = Literal["refuse", "raise", "elsewhere"]


def bars_without_place(batch: Batch) -> int:
    """Return how many of *batch*'s bars stand at no position."""
    placed = Occupancy.objects.within(batch.workshop).filter(batch=batch).aggregate(bars=Sum("bars"))["bars"] or 0
    return batch.bars_left - placed


def _walk_from(position: Position) -> list[Position]:
    """Return every position of the workshop in walking order, *position* first."""
    walk = list(Position.objects.within(position.workshop).in_walking_order())
    start = next(index for index, other in enumerate(walk) if other.pk == position.pk)
    return walk[start:] + walk[:start]


def _full(position: Position, wanted: int, *, origin: Position | None) -> Conflict:
    """Return the refusal; ``elsewhere`` lists the free positions in the order in which they would be filled."""
    here, *others = _walk_from(position)
    elsewhere = [
        {"position": other.pk, "name": str(other), "free": other.bars_free}
        for other in others
        if other.bars_free > 0 and other != origin
    ]
    others_free = sum(other["free"] for other in elsewhere)
    remedy = f"raise its capacity to {here.bars_held + wanted}"
    if others_free:
        remedy += f", or put the other {wanted - here.bars_free} elsewhere ({others_free} places are free)"
    return Conflict(
        "position_full",
        f"{here} holds {here.bars_held} of {here.capacity_bars} bars, so {wanted} more do not fit: {remedy}.",
        field="position",
        position=here.pk,
        held=here.bars_held,
        capacity=here.capacity_bars,
        free=here.bars_free,
        raise_to=here.bars_held + wanted,
        rest=wanted - here.bars_free,
        elsewhere=elsewhere[:12],
    )


def _lock(positions: Sequence[Position], when_full: WhenFull) -> None:
    """Lock every position that may be filled or emptied, before the first is."""
    keys: Iterable[int] = [position.pk for position in positions]
    if when_full == "elsewhere":
        keys = Position.objects.within(positions[0].workshop).values_list("pk", flat=True)
    lock_rows(Position.unscoped.all(), keys)


def _fill(position: Position, bars: int) -> bool:
    """Raise the position's count if the bars fit; return whether they did."""
    fits = Position.unscoped.filter(pk=position.pk, capacity_bars__gte=F("bars_held") + bars)
    return fits.update(bars_held=F("bars_held") + bars) == 1


def _empty(position_id: int, bars: int) -> None:
    Position.unscoped.filter(pk=position_id).update(bars_held=F("bars_held") - bars)


def _balance(batch: Batch, position_id: int, change: int) -> None:
    row, _made = Occupancy.unscoped.get_or_create(
        workshop=batch.workshop, batch=batch, position_id=position_id, defaults={"bars": 0}
    )
    Occupancy.unscoped.filter(pk=row.pk).update(bars=F("bars") + change)


def _write(
    actor: Actor, batch: Batch, bars: int, act: str, *, origin: int | None, target: int | None, moved_at: datetime, at: datetime
) -> Placement:
    return Placement.unscoped.create(
        workshop=actor.workshop,
        batch=batch,
        act=act,
        bars=bars,
        origin_id=origin,
        target_id=target,
        at=moved_at,
        written_at=at,
        **actor.signature,
    )


def _spread(
    position: Position, bars: int, when_full: WhenFull, *, origin: Position | None = None
) -> list[tuple[Position, int]]:
    """Return where the bars go, having raised the counts of those positions (locked by the caller)."""
    if _fill(position, bars):
        return [(position, bars)]
    if when_full == "raise":
        Position.unscoped.filter(pk=position.pk).update(capacity_bars=F("bars_held") + bars, bars_held=F("bars_held") + bars)
        return [(position, bars)]
    if when_full == "refuse":
        raise _full(position, bars, origin=origin)
    chosen: list[tuple[Position, int]] = []
    for other in _walk_from(position):
        part = min(bars, other.bars_free)
        if part and other != origin and _fill(other, part):
            chosen.append((other, part))
            bars -= part
    if not chosen:
        raise Conflict("house_full", "Every position is full: raise a capacity or add a rack.", field="position")
    return chosen


def _moment(batch: Batch, moved_at: datetime, at: datetime) -> None:
    if batch.state != Batch.State.CURING:
        raise Conflict("not_curing", f"{batch} has no bars on the racks.", field="batch")
    if moved_at > at:
        raise Invalid("future", "The time lies in the future: enter it once it is done.", field="at")
    if moved_at < batch.cut_at:
        raise Invalid("before_cut", f"{batch} was not cut yet at that time: check the time.", field="at")


def _note_moved(batch: Batch, moved_at: datetime, at: datetime) -> None:
    """Let a batch be foretold anew that stood elsewhere before it was last weighed: it may hear another room's log."""
    weighed_since = Cure.objects.within(batch.workshop).going_on().filter(last_weighed_at__gte=moved_at - timedelta(days=1))
    weighed_since.filter(batch=batch).update(forecast_wanted_at=at)


@transaction.atomic
def place(
    *,
    actor: Actor,
    batch: Batch,
    position: Position,
    bars: int,
    moved_at: datetime,
    at: datetime,
    when_full: WhenFull = "refuse",
) -> list[Placement]:
    """Put bars that stand nowhere at a position.

    Over its capacity: refused (with the two ways out in the error's data), or its capacity raised,
    or the rest put elsewhere in walking order; what fits nowhere stays without a place. Nothing
    fits anywhere: refused.
    """
    row = lock_batch(batch)
    _moment(row, moved_at, at)
    loose = bars_without_place(row)
    if not 1 <= bars <= loose:
        raise Invalid(
            "bars",
            f"{loose} bars of {row} are without a place: place 1 to {loose}."
            if loose
            else f"Every bar of {row} has a place: move them instead.",
            field="bars",
        )
    _note_moved(row, moved_at, at)
    _lock([position], when_full)
    written = []
    for target, part in _spread(position, bars, when_full):
        _balance(row, target.pk, part)
        written.append(_write(actor, row, part, Placement.Act.PLACED, origin=None, target=target.pk, moved_at=moved_at, at=at))
    return written


def _standing_at(batch: Batch, position: Position) -> int:
    row = Occupancy.objects.within(batch.workshop).filter(batch=batch, position=position).first()
    return row.bars if row else 0


@transaction.atomic
def move(
    *,
    actor: Actor,
    batch: Batch,
    origin: Position,
    target: Position,
    bars: int,
    moved_at: datetime,
    at: datetime,
    when_full: WhenFull = "refuse",
) -> list[Placement]:
    """Carry bars from one position to another; over capacity as in :func:`place`.

    With "elsewhere", what fits nowhere stays where it stands.
    """
    row = lock_batch(batch)
    _moment(row, moved_at, at)
    here = _standing_at(row, origin)
    if not 1 <= bars <= here:
        raise Invalid(
            "bars",
            f"{here} bars of {row} stand at {origin}: move 1 to {here}." if here else f"No bars of {row} stand at {origin}.",
            field="bars",
        )
    if origin.pk == target.pk:
        raise Invalid("same_place", "The bars stand there already: choose another position.", field="position")
    _note_moved(row, moved_at, at)
    _lock([origin, target], when_full)
    _empty(origin.pk, bars)
    written = []
    for to, part in _spread(target, bars, when_full, origin=origin):
        _balance(row, origin.pk, -part)
        _balance(row, to.pk, part)
        written.append(_write(actor, row, part, Placement.Act.MOVED, origin=origin.pk, target=to.pk, moved_at=moved_at, at=at))
        bars -= part
    if bars:
        # What fits nowhere else stays where it stands.
        _fill(origin, bars)
    return written


@transaction.atomic
def turn(*, actor: Actor, batch: Batch, position: Position, moved_at: datetime, at: datetime) -> Placement:
    """Note that a batch's bars at a position were turned."""
    row = lock_batch(batch)
    _moment(row, moved_at, at)
    here = _standing_at(row, position)
    if not here:
        raise Invalid("bars", f"No bars of {row} stand at {position}.", field="position")
    return _write(actor, row, here, Placement.Act.TURNED, origin=position.pk, target=position.pk, moved_at=moved_at, at=at)


@transaction.atomic
def take_away(*, actor: Actor, batch: Batch, bars: int, moved_at: datetime, at: datetime) -> list[Placement]:
    """Free the places of bars that left *batch* (locked, its count already lowered).

    Bars without a place go first; then the last positions in walking order are emptied.
    """
    placed = list(Occupancy.objects.within(actor.workshop).filter(batch=batch).standing())
    surplus = sum(row.bars for row in placed) - batch.bars_left
    lock_rows(Position.unscoped.all(), [row.position_id for row in placed])
    written = []
    for row in reversed(placed):
        part = min(max(surplus, 0), row.bars, bars)
        if not part:
            break
        _empty(row.position_id, part)
        _balance(batch, row.position_id, -part)
        written.append(
            _write(actor, batch, part, Placement.Act.TAKEN, origin=row.position_id, target=None, moved_at=moved_at, at=at)
        )
        surplus -= part
    return written
