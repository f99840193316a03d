"""From a lot to the batches it went into, also through what was made from it first."""

from django.db.models import QuerySet

from curehouse.making.models import BatchUse
from curehouse.workshops.models import Workshop
from inventory.blends import lots_with
from inventory.models import Lot, MakingTake, Movement


def uses_through(workshop: Workshop, lot: Lot) -> QuerySet[BatchUse]:
    """Return what batches took of *lot* itself and of every lot it went into, blends within blends included."""
    lots = {lot.pk, *(one.pk for one in lots_with(workshop, lot))}
    return BatchUse.objects.within(workshop).filter(movement__lot__in=lots).in_force()


def batches_by(workshop: Workshop, movement: Movement) -> set[int]:
    """Return the keys of the batches that took a movement, or took of what was made by it."""
    took = BatchUse.objects.within(workshop).filter(movement=movement)
    made = MakingTake.objects.within(workshop).filter(movement=movement).select_related("making__lot").first()
    found = took if made is None else uses_through(workshop, made.making.lot)
    return set(found.values_list("batch_id", flat=True))
