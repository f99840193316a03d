"""What the house knows of each material's ordering: the order on which it waits for a decision, or until when it is put off."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, time, timedelta

from curehouse.common.time import local_day, local_moment
from curehouse.workshops.models import Workshop
from inventory.models import Order, OrderLine, OrderStep, Proposal, PutOff

# For so long nothing is proposed of what a person called off before it was sent (our own choice, no source).
CALLED_OFF_FOR_DAYS = 7


@dataclass(frozen=True, slots=True)
class NotNow:
    """A material that is not proposed before a day, and why: a person put it off, or called off the *order* it stood on."""

    material_id: int
    until: date
    why: str
    order: Order | None = None


@dataclass(frozen=True, slots=True)
class ToOrder:
    """By the key of the material: what the house would order it with, and what is not wanted now."""

    proposed: Mapping[int, Proposal]
    put_off: Mapping[int, NotNow]


def read_to_order(*, workshop: Workshop, on: date) -> ToOrder:
    """Read it as it was kept, working nothing out: four queries, however many materials there are."""
    proposed = Proposal.objects.within(workshop).by_material()
    put_off = not_now(workshop=workshop, on=on)
    return ToOrder(proposed, {key: one for key, one in put_off.items() if key not in proposed})


def keys_to_order(*, workshop: Workshop) -> set[int]:
    """Return the keys of the materials that wait on an order."""
    return set(Proposal.objects.within(workshop).by_material())


def not_now(*, workshop: Workshop, on: date) -> dict[int, NotNow]:
    """Return what is not to be proposed on a day, by the key of the material.

    What was put off, and what stood on an order that a person called off before it was sent. What was said last counts,
    but calling an order off does not bring forward what was put off for longer. Three queries, two where nothing was
    called off lately.
    """
    put_off = PutOff.objects.within(workshop).newest_of_each()
    found = {key: NotNow(key, row.until, row.why) for key, row in put_off.items()}
    begins = local_moment(on - timedelta(days=CALLED_OFF_FOR_DAYS - 1), time(), workshop.time_zone)
    steps = OrderStep.objects.within(workshop).by_people().filter(kind=OrderStep.Kind.CALLED_OFF, at__gte=begins)
    called_off = {
        step.order_id: step
        for step in steps.filter(order__sent_on__isnull=True).select_related("order__supplier").order_by("at", "pk")
    }
    lines = OrderLine.objects.within(workshop).filter(order__in=called_off) if called_off else ()
    for line in sorted(lines, key=lambda line: (called_off[line.order_id].at, line.pk)):
        step, key = called_off[line.order_id], line.material_id
        if key in put_off and put_off[key].at >= step.at:
            continue
        until = local_day(step.at, workshop.time_zone) + timedelta(days=CALLED_OFF_FOR_DAYS)
        if key not in found or found[key].until <= until:
            found[key] = NotNow(key, until, f"{step.order} was called off ({step.said})", step.order)
    return {key: one for key, one in found.items() if one.until > on}
