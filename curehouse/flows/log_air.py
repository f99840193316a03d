"""The air of a room is written down: by a sensor, one reading or many, and by hand.

A reading wants no forecast anew by itself: see :mod:`curehouse.flows.hear_rooms`.
"""

from collections.abc import Sequence
from datetime import UTC, datetime
from decimal import Decimal

from django.db import transaction

from curehouse.common.errors import DomainError
from curehouse.curing.models import Room, RoomReading, RoomWithdrawal
from curehouse.curing.services.room_log import AirEntry, check_air, fault_of, record_air, withdraw_air
from curehouse.flows.weigh_many import RowFault, RowsRefused
from curehouse.workshops.actors import Actor

MOST_ROWS = 1000


def sensed(actor: Actor, *, moment: datetime, humidity_pct: Decimal, temperature_c: Decimal | None) -> AirEntry:
    """Return a reading as a sensor sends it: of one sensor the first of each quarter of an hour is kept.

    What a day comes to hardly changes by more, and a log that grew by each second would grow without end.
    """
    who = f"d{actor.device.pk}" if actor.device else f"u{actor.user.pk}" if actor.user else "house"
    utc = moment.astimezone(UTC)
    quarter = utc.replace(minute=utc.minute // 15 * 15, second=0, microsecond=0)
    return AirEntry(
        utc, humidity_pct, temperature_c, RoomReading.Source.SENSOR,
        key=f"{who}:{quarter:%Y-%m-%dT%H:%M}/15", old_key=f"{who}:{utc.isoformat()}",
    )  # fmt: skip


@transaction.atomic
def log_air(*, actor: Actor, room: Room, entry: AirEntry, at: datetime) -> tuple[RoomReading, bool]:
    """Write a reading down, and return it with whether it is new; sent before with other figures it is refused."""
    clean = check_air(entry, at=at)
    ((row, is_new),) = record_air(actor=actor, room=room, entries=[clean], at=at)
    fault = fault_of(clean, row)
    if fault is not None:
        raise fault
    return row, is_new


@transaction.atomic
def log_air_many(*, actor: Actor, room: Room, entries: Sequence[AirEntry], at: datetime) -> list[tuple[RoomReading, bool]]:
    """Write many readings down, all or none; each is returned with whether it is new."""
    faults: list[RowFault] = []
    clean: list[AirEntry] = []
    for index, entry in enumerate(entries):
        try:
            clean.append(check_air(entry, at=at))
        except DomainError as error:
            faults.append(RowFault(index, error))
    if faults:
        raise RowsRefused(faults, rows=len(entries))
    results = record_air(actor=actor, room=room, entries=clean, at=at)
    others = [fault_of(entry, row) for entry, (row, _is_new) in zip(clean, results, strict=True)]
    faults = [RowFault(index, fault) for index, fault in enumerate(others) if fault is not None]
    if faults:
        raise RowsRefused(faults, rows=len(entries))
    return results


def withdraw(*, actor: Actor, reading: RoomReading, reason: str, at: datetime) -> RoomWithdrawal:
    """Withdraw a reading that is wrong; the night makes anew what heard it."""
    return withdraw_air(actor=actor, reading=reading, reason=reason, at=at)
