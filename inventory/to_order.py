"""What the house knows of each material's ordering: the order on which it waits for a decision, or until when it is put off."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from curehouse.workshops.models import Workshop
from inventory.models import Proposal, PutOff


@dataclass(frozen=True, slots=True)
class ToOrder:
    """By the key of the material: what the house would order it with, and what a person put off."""

    proposed: Mapping[int, Proposal]
    put_off: Mapping[int, PutOff]


def read_to_order(*, workshop: Workshop, on: date) -> ToOrder:
    """Read it as it was kept, working nothing out: two queries, however many materials there are."""
    proposed = Proposal.objects.within(workshop).by_material()
    put_off = PutOff.objects.within(workshop).on(on)
    return ToOrder(proposed, {key: row for key, row in put_off.items() if key not in proposed})


def keys_to_order(*, workshop: Workshop) -> set[int]:
    """Return the keys of the materials that wait on an order."""
    return set(Proposal.objects.within(workshop).by_material())
