"""One position of a rack: what stands there, and what might."""

from dataclasses import dataclass
from datetime import date

from curehouse.common.time import day_words
from curehouse.curing.models import Cure, ExpectedCure, Occupancy, Position
from curehouse.curing.shelf import days_kept
from curehouse.making.models import Batch
from curehouse.web.marks import Mark, mark_of
from curehouse.web.reading.racks import beside
from curehouse.web.reading.standing import Standing
from curehouse.web.reading.words import count
from curehouse.workshops.models import Workshop


@dataclass(frozen=True, slots=True)
class Here:
    """A batch's bars at the position."""

    batch: Batch
    name: str
    bars: str
    mark: Mark
    beside: Mark | None


@dataclass(frozen=True, slots=True)
class Waiting:
    """A batch with bars that stand nowhere."""

    batch: Batch
    bars: int

    @property
    def words(self) -> str:
        """Return the batch as a choice: ``Goat & oat 12 (6 bars)``."""
        return f"{self.batch} ({count(self.bars, 'bar')})"


@dataclass(frozen=True, slots=True)
class PositionView:
    """What a position's page shows."""

    position: Position
    here: tuple[Here, ...]
    waiting: tuple[Waiting, ...]
    kept: tuple[str, ...]

    @property
    def filled(self) -> str:
        """Return how full it is."""
        return f"{self.position.bars_held} of {count(self.position.capacity_bars, 'bar')}"


def read_position(workshop: Workshop, position: Position, *, today: date) -> PositionView:
    """Read what stands at *position*, what is kept there and which batches have bars without a place (four queries)."""
    cures = list(Cure.objects.within(workshop).going_on().with_obstacles())
    standing = Standing(Occupancy.objects.within(workshop).standing())
    by_batch = {cure.batch_id: cure for cure in cures}
    here = tuple(
        Here(
            batch=by_batch[row.batch_id].batch,
            name=str(by_batch[row.batch_id].batch),
            bars=count(row.bars, "bar"),
            mark=mark_of(by_batch[row.batch_id].shown_as),
            beside=beside(by_batch[row.batch_id]),
        )
        for row in standing.at(position.pk)
        if row.batch_id in by_batch
    )
    waiting = tuple(Waiting(cure.batch, loose) for cure in cures if (loose := standing.loose(cure.batch)) > 0)
    kept = tuple(_kept(cure, position, today) for cure in ExpectedCure.objects.within(workshop).standing().at(position))
    return PositionView(position=position, here=here, waiting=waiting, kept=kept)


def _kept(cure: ExpectedCure, position: Position, today: date) -> str:
    bars = sum(one.bars for one in cure.places.all() if one.position_id == position.pk)
    first, last = (day_words(day, today=today) for day in days_kept(cure, today))
    return f"{count(bars, 'bar')} of {cure.run.formula.name}, from {first} to {last}"
