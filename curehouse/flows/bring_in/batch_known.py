"""What the house knows of the batches of a file, looked up in a few queries for all of them."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import TypeVar

from curehouse.common.steps import in_steps
from curehouse.curing.models import Position, Reading, SampleBar
from curehouse.making.models import Batch
from curehouse.workshops.models import Workshop

Key = TypeVar("Key")


@dataclass(slots=True)
class Known:
    """Batches by their mark in small letters, sample bars by batch and mark."""

    batches: dict[str, Batch] = field(default_factory=dict)
    bars: dict[int, dict[str, datetime | None]] = field(default_factory=dict)

    def bars_of(self, batch: Batch | None) -> dict[str, datetime | None]:
        """Return a batch's sample bars by their marks in small letters, each with when it was gone, if it is."""
        return {} if batch is None else self.bars.get(batch.pk, {})


def marks_here(workshop: Workshop) -> dict[str, int]:
    """Return the keys of the batches that were brought in, by their mark in small letters."""
    named = Batch.objects.within(workshop).filter(is_brought_in=True).exclude(known_as="")
    return {mark.casefold(): key for mark, key in named.values_list("known_as", "pk")}


def places_here(workshop: Workshop) -> dict[str, Position]:
    """Return the places on the racks by their name in small letters."""
    rows = Position.objects.within(workshop).select_related("rack")
    return {str(row).casefold(): row for row in rows}


def known_to(workshop: Workshop, keys: Sequence[int]) -> Known:
    """Look batches up with their sample bars."""
    found = Known()
    for part in in_steps(keys):
        rows = Batch.objects.within(workshop).filter(pk__in=part).select_related("formula")
        found.batches |= {row.known_as.casefold(): row for row in rows}
        bars = SampleBar.objects.within(workshop).filter(batch__in=part)
        for batch, letter, ended_at in bars.values_list("batch", "letter", "ended_at"):
            found.bars.setdefault(batch, {})[letter.casefold()] = ended_at
    return found


def weights_here(workshop: Workshop, client_ids: Sequence[uuid.UUID]) -> dict[uuid.UUID, Decimal]:
    """Return the grams of the weighings that came in under these ids."""
    found: dict[uuid.UUID, Decimal] = {}
    for part in in_steps(client_ids):
        found.update(Reading.objects.within(workshop).filter(client_id__in=part).values_list("client_id", "weight_g"))
    return found
