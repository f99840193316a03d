"""What stands where now, read once for a whole page."""

from collections import defaultdict
from collections.abc import Iterable

from curehouse.curing.models import Occupancy
from curehouse.making.models import Batch
from curehouse.web.reading.words import count

NOWHERE = "without a place"


class Standing:
    """The occupancies of some batches, in walking order (see ``OccupancyQuerySet.standing``)."""

    def __init__(self, rows: Iterable[Occupancy]) -> None:
        self._of_batch: dict[int, list[Occupancy]] = defaultdict(list)
        self._at: dict[int, list[Occupancy]] = defaultdict(list)
        for row in rows:
            self._of_batch[row.batch_id].append(row)
            self._at[row.position_id].append(row)

    def of_batch(self, batch_id: int) -> list[Occupancy]:
        """Return where a batch's bars stand."""
        return self._of_batch.get(batch_id, [])

    def at(self, position_id: int) -> list[Occupancy]:
        """Return what stands at a position."""
        return self._at.get(position_id, [])

    def loose(self, batch: Batch) -> int:
        """Return how many of a batch's bars stand nowhere."""
        return batch.bars_left - sum(row.bars for row in self.of_batch(batch.pk))

    def place_words(self, batch_id: int) -> str:
        """Return a batch's first place, and how many more there are."""
        rows = self.of_batch(batch_id)
        if not rows:
            return NOWHERE
        first, more = str(rows[0].position), len(rows) - 1
        return f"{first} and {count(more, 'more place', 'more places')}" if more else first
