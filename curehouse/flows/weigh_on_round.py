"""A weighing comes from a page of the round, which may be older than what is on record by now."""

from datetime import datetime

from django.db import transaction

from curehouse.common.errors import Conflict, Invalid
from curehouse.curing.models import Reading, SampleBar
from curehouse.curing.rounds import newest_of_day
from curehouse.curing.services.readings import ReadingEntry, sent_before
from curehouse.flows.weigh import correct, weigh
from curehouse.making.services import lock_batch
from curehouse.workshops.actors import Actor

WEIGHED_TODAY = "weighed_today"


@transaction.atomic
def weigh_on_round(*, actor: Actor, bar: SampleBar, entry: ReadingEntry, seen: int | None, at: datetime) -> Reading:
    """Write a weighing, or return it if it was sent before.

    *seen* is the bar's newest weighing of the day that the page knew of. If there is a newer one,
    somebody weighed the bar meanwhile: ``Conflict`` with the code ``weighed_today``, and nothing
    is written until a person has seen that weight.
    """
    lock_batch(bar.batch)
    sent = sent_before(actor=actor, client_ids=[entry.client_id]).get(entry.client_id)
    if sent is not None and (sent.bar_id, sent.weight_g) == (bar.pk, entry.weight_g):
        return sent
    newest = newest_of_day(bar, workshop=actor.workshop, at=entry.moment)
    if newest is not None and newest.pk != seen:
        raise Conflict(WEIGHED_TODAY, f"Bar {bar.letter} was weighed meanwhile: look at that weight first.", field="weight")
    return weigh(actor=actor, bar=bar, entry=entry, at=at)[0]


@transaction.atomic
def weigh_again_on_round(*, actor: Actor, reading: Reading, entry: ReadingEntry, at: datetime) -> Reading:
    """Write the second look at a weighing that is asked about; the very same weight is no answer."""
    lock_batch(reading.bar.batch)
    sent = sent_before(actor=actor, client_ids=[entry.client_id]).get(entry.client_id)
    if sent is not None and (sent.bar_id, sent.weight_g) == (reading.bar_id, entry.weight_g):
        return sent
    if entry.weight_g == reading.weight_g:
        sentence = "That is the same weight again: keep it, or type what the scale shows now."
        raise Invalid("same_weight", sentence, field="weight")
    return correct(actor=actor, reading=reading, entry=entry, at=at)[0]
