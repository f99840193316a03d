"""What the house knows of the batches of a file, looked up in a few queries for all of them."""

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import TypeVar

from curehouse.curing.models import Position, Reading, SampleBar
from curehouse.flows.bring_in.batch_plan import BatchPlan
from curehouse.making.models import Batch
from curehouse.workshops.models import Workshop

Key = TypeVar("Key")
_MOST_KEYS = 500


@dataclass(slots=True)
class Known:
    """Batches by their mark in small letters, sample bars by batch and mark, places by name."""

    batches: dict[str, Batch] = field(default_factory=dict)
    bars: dict[int, dict[str, datetime | None]] = field(default_factory=dict)
    places: dict[str, Position] = field(default_factory=dict)

    def bars_of(self, batch: Batch | None) -> dict[str, datetime | None]:
        """Return a batch's sample bars by their marks in small letters, each with when it was gone, if it is."""
        return {} if batch is None else self.bars.get(batch.pk, {})


def _parts(keys: Sequence[Key]) -> Iterable[Sequence[Key]]:
    return (keys[start : start + _MOST_KEYS] for start in range(0, len(keys), _MOST_KEYS))


def known_to(workshop: Workshop, plans: Sequence[BatchPlan]) -> Known:
    """Look up what is here of what *plans* name."""
    found = Known()
    wanted = {plan.mark.casefold() for plan in plans}
    named = Batch.objects.within(workshop).filter(is_brought_in=True).exclude(known_as="").select_related("formula")
    found.batches = {row.known_as.casefold(): row for row in named if row.known_as.casefold() in wanted}
    for part in _parts([row.pk for row in found.batches.values()]):
        bars = SampleBar.objects.within(workshop).filter(batch__in=part)
        for batch, letter, ended_at in bars.values_list("batch", "letter", "ended_at"):
            found.bars.setdefault(batch, {})[letter.casefold()] = ended_at
    if any("place" in plan.facts for plan in plans):
        rows = Position.objects.within(workshop).select_related("rack")
        found.places = {str(row).casefold(): row for row in rows}
    return found


def weights_here(workshop: Workshop, client_ids: Sequence[uuid.UUID]) -> dict[uuid.UUID, Decimal]:
    """Return the grams of the weighings that came in under these ids."""
    found: dict[uuid.UUID, Decimal] = {}
    for part in _parts(client_ids):
        found.update(Reading.objects.within(workshop).filter(client_id__in=part).values_list("client_id", "weight_g"))
    return found
