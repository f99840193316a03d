"""The writer of cures and sample bars of batches that come in with their weighings."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from django.db import transaction

from curehouse.curing.models import Cure, Reading, SampleBar
from curehouse.curing.services.cures import next_due_on
from curehouse.making.models import Batch
from curehouse.workshops.models import Workshop

OVER = "the batch was brought in as closed"


@transaction.atomic
def bring_sample_bars(
    *, workshop: Workshop, labels: Sequence[tuple[Batch, str]], at: datetime
) -> dict[tuple[int, str], SampleBar]:
    """Write sample bars under the marks they have; return them by batch and mark in small letters."""
    rows = SampleBar.unscoped.bulk_create(
        SampleBar(
            workshop=workshop,
            batch=batch,
            letter=label,
            ended_at=at if batch.state == Batch.State.CLOSED else None,
            ended_why=OVER if batch.state == Batch.State.CLOSED else "",
        )
        for batch, label in labels
    )
    return {(row.batch_id, row.letter.casefold()): row for row in rows}


@transaction.atomic
def bring_cures(
    *, workshop: Workshop, batches: Sequence[Batch], newest: Mapping[int, Reading], at: datetime
) -> dict[int, Cure]:
    """Write the cures of batches that came in, by batch; *newest* holds the last weighing of each that has one.

    The cure of a closed batch has ended; one that goes on wants its first assessment.
    """
    cures = []
    for batch in batches:
        last, is_over = newest.get(batch.pk), batch.state == Batch.State.CLOSED
        weighed_at = last.moment if last else None
        due_on = None if is_over or last is None else next_due_on(batch=batch, workshop=workshop, last_weighed_at=weighed_at)
        cures.append(
            Cure(
                workshop=workshop,
                batch=batch,
                state_since=batch.cut_at,
                last_reading=last,
                last_weighed_at=weighed_at,
                due_on=due_on,
                assess_wanted_at=None if is_over or last is None else at,
                forecast_wanted_at=None if last is None else at,
                ended_at=at if is_over else None,
            )
        )
    return {cure.batch_id: cure for cure in Cure.unscoped.bulk_create(cures)}
