"""A safety check is recorded, and the batch is assessed anew."""

from datetime import datetime

from django.db import transaction

from curehouse.curing.services.cures import note_news
from curehouse.flows.assess import assess_batch
from curehouse.making.models import Batch, SafetyCheck
from curehouse.making.services import lock_batch, record_check
from curehouse.workshops.actors import Actor


@transaction.atomic
def check(
    *, actor: Actor, batch: Batch, method: str, value: str, passed: bool, note: str, checked_at: datetime, at: datetime
) -> SafetyCheck:
    """Record a person's pass or fail of a batch's alkalinity."""
    row = record_check(
        actor=actor,
        batch=lock_batch(batch),
        method=method,
        value=value,
        passed=passed,
        note=note,
        checked_at=checked_at,
        at=at,
    )
    note_news(workshop=actor.workshop, batch_id=batch.pk, at=at)
    # At once, not when the worker comes round: a batch whose check failed is ready for nobody.
    assess_batch(workshop_id=actor.workshop.pk, batch_id=batch.pk, at=at)
    return row
