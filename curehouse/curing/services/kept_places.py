"""The only writer of places that are kept for runs.

Whoever keeps some locks the positions first and then reads the shelf: of two people who plan at the same moment one
sees what the other was given.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from curehouse.common.locking import lock_rows
from curehouse.curing.models import ExpectedCure, KeptPlace, Position
from curehouse.making.models import Run
from curehouse.workshops.models import Workshop


@dataclass(frozen=True, slots=True)
class CureToCome:
    """What is expected of a cure that is still to come; see :class:`curehouse.curing.models.ExpectedCure`."""

    bars: int
    pour_on: date
    cut_on: date
    half_dry_on: date | None
    stays_until: date
    is_told: bool


def lock_places(workshop: Workshop) -> None:
    """Lock the workshop's positions until the transaction ends."""
    lock_rows(Position.unscoped.all(), Position.objects.within(workshop).values_list("pk", flat=True))


@transaction.atomic
def keep_places(*, run: Run, cure: CureToCome, places: Sequence[tuple[Position, int]], at: datetime) -> ExpectedCure:
    """Keep places (positions with bars, locked) for a run (locked) in the stead of those that were kept for it."""
    let_places_go(run=run)
    row = ExpectedCure.unscoped.create(
        workshop=run.workshop,
        run=run,
        bars=cure.bars,
        pour_on=cure.pour_on,
        cut_on=cure.cut_on,
        half_dry_on=cure.half_dry_on,
        stays_until=cure.stays_until,
        is_told=cure.is_told,
        written_at=at,
    )
    KeptPlace.unscoped.bulk_create(
        KeptPlace(workshop=run.workshop, cure=row, position=position, bars=bars) for position, bars in places
    )
    return row


@transaction.atomic
def let_places_go(*, run: Run) -> None:
    """Forget what was expected of the cure of a run (locked), and the places kept for it."""
    KeptPlace.objects.within(run.workshop).filter(cure__run=run).delete()
    ExpectedCure.objects.within(run.workshop).filter(run=run).delete()
