"""The worker answers the news about one batch; what it cannot answer does not keep the others waiting."""

from datetime import datetime

from curehouse.curing.services.cures import put_off_assessment
from curehouse.flows.assess import assess_batch


def answer_news(*, workshop_id: int, batch_id: int, at: datetime) -> None:
    """Assess a batch with news; where that fails, put it behind all others and raise what it raised.

    The tick takes the oldest news first and so many at a time: a few batches that fail each time
    would otherwise be all it ever takes.
    """
    answered = False
    try:
        assess_batch(workshop_id=workshop_id, batch_id=batch_id, at=at)
        answered = True
    finally:
        if not answered:
            put_off_assessment(batch_id=batch_id, at=at)
