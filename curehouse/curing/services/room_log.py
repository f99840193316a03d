"""The only writer of what the air of rooms is like: readings, those withdrawn, and what each day comes to.

The room is locked while its log is written to, so that of two that send the same reading at once one writes it.
"""

import logging
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import ROUND_HALF_EVEN, Decimal

from django.db import transaction
from django.db.models import F

from curehouse.common.errors import Conflict, Invalid
from curehouse.common.locking import lock_rows
from curehouse.common.steps import A_STEP, in_steps
from curehouse.common.time import CLOCK_SLACK, local_day
from curehouse.curing.models import Room, RoomDay, RoomReading, RoomWithdrawal
from curehouse.curing.services.rooms import move_back_heard
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Workshop

logger = logging.getLogger(__name__)

LONGEST_REASON = 200
FIRST_YEAR = 1990
LOWEST_C, HIGHEST_C = Decimal(-20), Decimal(60)
_HUNDREDTH = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class AirEntry:
    """The air of a room at a moment: humidity in %, temperature in °C; ``key`` is the same each time it is sent.

    ``old_key`` is the key under which it may be on record since another time.
    """

    moment: datetime
    humidity_pct: Decimal
    temperature_c: Decimal | None
    source: str
    key: str
    typed: str = ""
    old_key: str = ""


def celsius_of(fahrenheit: Decimal) -> Decimal:
    """Return °C of °F, to the hundredth."""
    return ((fahrenheit - 32) * 5 / 9).quantize(_HUNDREDTH, rounding=ROUND_HALF_EVEN)


def check_air(entry: AirEntry, *, at: datetime) -> AirEntry:
    """Return an entry to the hundredth; raises :class:`Invalid` where it can be the air of no room."""
    if not (entry.humidity_pct.is_finite() and 0 <= entry.humidity_pct <= 100):
        said = "The humidity lies between 0 and 100 %: check the figure."
        raise Invalid("humidity", said, field="humidity_pct")
    celsius = entry.temperature_c
    if celsius is not None and not (celsius.is_finite() and LOWEST_C <= celsius <= HIGHEST_C):
        said = "A room has between −20 and 60 °C (−4 and 140 °F): check the figure, and whether it is in °C or °F."
        raise Invalid("temperature", said, field="temperature_c")
    if entry.moment > at + CLOCK_SLACK:
        raise Invalid("future", "The time lies in the future: check the clock it comes from.", field="moment")
    if entry.moment.year < FIRST_YEAR:
        raise Invalid("past", f"The time lies before {FIRST_YEAR}: check the clock it comes from.", field="moment")
    return replace(
        entry,
        humidity_pct=entry.humidity_pct.quantize(_HUNDREDTH, rounding=ROUND_HALF_EVEN),
        temperature_c=None if celsius is None else celsius.quantize(_HUNDREDTH, rounding=ROUND_HALF_EVEN),
    )


def known_air(room: Room, keys: Sequence[str]) -> dict[str, RoomReading]:
    """Return by their keys the readings of a room that came in before."""
    found: dict[str, RoomReading] = {}
    for part in in_steps(sorted(keys)):
        found |= {row.key: row for row in RoomReading.objects.within(room.workshop).filter(room=room, key__in=part)}
    return found


def _same(row: RoomReading, entry: AirEntry) -> bool:
    return (row.humidity_pct, row.temperature_c) == (entry.humidity_pct, entry.temperature_c)


def another_value(row: RoomReading) -> Conflict:
    """Return what is said of a reading that came before with other figures."""
    warm = "" if row.temperature_c is None else f" and {row.temperature_c.normalize():f} °C"
    return Conflict(
        "another_value",
        f"Of that moment {row.humidity_pct.normalize():f} %{warm} came in before, and stays: withdraw it if it was wrong.",
        field="humidity_pct",
    )


@transaction.atomic
def record_air(*, actor: Actor, room: Room, entries: Sequence[AirEntry], at: datetime) -> list[tuple[RoomReading, bool]]:
    """Write readings of a room (checked by :func:`check_air`), each with whether it is new.

    One that came before is the row that is there, as it was sent first: the caller holds its figures against it. Where
    a key stands for a stretch of time that is the first of the stretch, and what it says of another moment is passed over.
    """
    workshop = actor.workshop
    locked = lock_rows(Room.unscoped.select_related("workshop"), [room.pk])[room.pk]
    first: dict[str, AirEntry] = {}
    for entry in entries:
        first.setdefault(entry.key, entry)
    known = _known(locked, list(first.values()))
    fresh = [
        RoomReading(
            workshop=workshop,
            room=locked,
            key=entry.key,
            moment=entry.moment,
            humidity_pct=entry.humidity_pct,
            temperature_c=entry.temperature_c,
            typed=entry.typed,
            source=entry.source,
            received_at=at,
            **actor.signature,
        )
        for key, entry in first.items()
        if key not in known
    ]
    RoomReading.unscoped.bulk_create(fresh, batch_size=A_STEP)
    _add_to_days(locked, fresh, workshop)
    written = {row.key: row for row in fresh}
    out, told = [], set()
    for entry in entries:
        out.append((known.get(entry.key) or written[entry.key], entry.key in written and entry.key not in told))
        told.add(entry.key)
    return out


def _known(room: Room, entries: Sequence[AirEntry]) -> dict[str, RoomReading]:
    rows = known_air(room, [key for entry in entries for key in (entry.key, entry.old_key) if key])
    found = {entry.key: rows.get(entry.key) or rows.get(entry.old_key) for entry in entries}
    return {key: row for key, row in found.items() if row is not None}


def is_passed_over(entry: AirEntry, row: RoomReading) -> bool:
    """Return whether *row*, which stands for *entry*, is of another moment: what the entry says of its own is not kept."""
    return row.moment != entry.moment


def fault_of(entry: AirEntry, row: RoomReading) -> Conflict | None:
    """Return what is wrong with sending *entry* where *row* came before, or None where it says the same."""
    return None if is_passed_over(entry, row) or _same(row, entry) else another_value(row)


def _hundredths(value: Decimal) -> int:
    return int(value.scaleb(2))


def _sums(rows: Sequence[RoomReading], time_zone: str) -> dict[date, list[int]]:
    days: dict[date, list[int]] = defaultdict(lambda: [0, 0, 0, 0])
    for row in rows:
        day = days[local_day(row.moment, time_zone)]
        day[0] += 1
        day[1] += _hundredths(row.humidity_pct)
        if row.temperature_c is not None:
            day[2] += 1
            day[3] += _hundredths(row.temperature_c)
    return days


def _add_to_days(room: Room, rows: Sequence[RoomReading], workshop: Workshop, sign: int = 1) -> None:
    """Add readings of a room (locked) to what their days come to, or take them off."""
    days = _sums(rows, workshop.time_zone)
    if not days:
        return
    here = set(RoomDay.objects.within(workshop).filter(room=room, day__in=days).values_list("day", flat=True))
    RoomDay.unscoped.bulk_create(
        [
            RoomDay(
                workshop=workshop, room=room, day=day, readings=sums[0], humidity_sum=sums[1],
                temperatures=sums[2], temperature_sum=sums[3],
            )
            for day, sums in sorted(days.items())
            if day not in here
        ],
        batch_size=A_STEP,
    )  # fmt: skip
    for day in sorted(here):
        sums = [sign * one for one in days[day]]
        RoomDay.objects.within(workshop).filter(room=room, day=day).update(
            readings=F("readings") + sums[0],
            humidity_sum=F("humidity_sum") + sums[1],
            temperatures=F("temperatures") + sums[2],
            temperature_sum=F("temperature_sum") + sums[3],
        )
    move_back_heard(rooms=[room], day=min(days))


@transaction.atomic
def withdraw_air(*, actor: Actor, reading: RoomReading, reason: str, at: datetime) -> RoomWithdrawal:
    """Withdraw a reading that is wrong: it stays on record, and counts no more."""
    clean = " ".join(reason.split())
    if not clean or len(clean) > LONGEST_REASON:
        said = f"Say why it is withdrawn, in up to {LONGEST_REASON} characters."
        raise Invalid("reason", said, field="reason")
    room = lock_rows(Room.unscoped.select_related("workshop"), [reading.room_id])[reading.room_id]
    if RoomWithdrawal.objects.within(actor.workshop).filter(reading=reading).exists():
        raise Conflict("withdrawn", "This reading was withdrawn before.", field="reading")
    row = RoomWithdrawal.unscoped.create(
        workshop=actor.workshop, reading=reading, reason=clean, at=at, **actor.signature
    )  # fmt: skip
    _add_to_days(room, [reading], actor.workshop, sign=-1)
    logger.info("room reading withdrawn: workshop=%s reading=%s", actor.workshop.pk, reading.pk)
    return row


@transaction.atomic
def reckon_room_days(*, workshop: Workshop) -> None:
    """Reckon anew what each day comes to, after the time zone changed: days begin elsewhere."""
    rooms = lock_rows(Room.unscoped.all(), Room.objects.within(workshop).values_list("pk", flat=True))
    RoomDay.objects.within(workshop).filter(room__in=rooms).delete()
    for room in rooms.values():
        days = RoomDay.objects.within(workshop).reckoned(room=room, time_zone=workshop.time_zone)
        RoomDay.unscoped.bulk_create(days, batch_size=A_STEP)
        if days:
            move_back_heard(rooms=[room], day=days[0].day)
