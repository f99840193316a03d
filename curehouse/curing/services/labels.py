"""The only writer of label weights."""

import logging
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from curehouse.common.errors import Conflict
from curehouse.curing.labels import LabelAsked, find_label
from curehouse.curing.models import LabelWeight
from curehouse.curing.services.cures import lock_cure
from curehouse.making.leaving import GO_TO_NOBODY, obstacles_now
from curehouse.making.models import Batch
from curehouse.making.services import lock_batch
from curehouse.workshops.actors import Actor

logger = logging.getLogger(__name__)


@transaction.atomic
def keep_label(*, actor: Actor, batch: Batch, asked: LabelAsked, at: datetime, seen: str = "") -> LabelWeight:
    """Work the label weight out and keep it with its batch; nobody says what it is to be.

    Bars that a person found to go to nobody get none. *seen* is the basis of the figure somebody looked at: where there
    is another forecast by now, or another number of bars, it is refused.
    """
    row = lock_batch(batch)
    cure = lock_cure(workshop=actor.workshop, batch_id=batch.pk)
    forecast = None if cure is None else cure.forecast
    found = find_label(batch=row, workshop=actor.workshop, forecast=forecast, asked=asked)
    for obstacle in obstacles_now(row):
        if obstacle.code in GO_TO_NOBODY:
            raise Conflict(obstacle.code, obstacle.says)
    if seen and seen != found.basis:
        raise Conflict("moved_on", "The forecast or the bars have changed since you looked: see what the label may say now.")
    if found.label is None or found.weight_g is None:
        raise Conflict("no_label", "No weight is as sure as that: weigh once more, or ask for less.")
    label = LabelWeight.unscoped.create(
        workshop=actor.workshop,
        batch=row,
        forecast=forecast,
        rule=asked.rule,
        wrap=asked.wrap,
        packed_on=asked.packed_on,
        shelf_months=asked.shelf_months,
        probability=Decimal(asked.probability),
        bars=found.bars,
        weight_g=found.weight_g,
        chance=found.label.probability,
        written_at=at,
        **actor.signature,
    )
    cure.label = label
    cure.save(update_fields=["label"])
    logger.info("label weight kept: workshop=%s batch=%s", actor.workshop.pk, batch.pk)
    return label
