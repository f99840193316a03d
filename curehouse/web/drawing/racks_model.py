"""What a rack holds, and its list in words."""

from dataclasses import dataclass

from curehouse.web.marks import Mark, mark_of


@dataclass(frozen=True, slots=True)
class StandingBatch:
    """A batch's bars on one position; `water_left` is 0..1 of its water, None if not known.

    A `note` takes the place of the state's word, the mark stays ("6–17 Mar"), and is `said` in its own words
    where nothing is seen ("ready from 6 to 17 Mar"); `beside` is one more
    mark, on a line of its own.
    """

    name: str
    state: str
    bars: int
    href: str
    water_left: float | None = None
    sample_bars: int = 0
    note: str = ""
    said: str = ""
    beside: Mark | None = None

    @property
    def state_lines(self) -> tuple[tuple[str, str], ...]:
        """Return what is said of its state, line by line, each with the class that colours it."""
        mark = mark_of(self.state)
        own = (f"{mark.mark} {self.note or mark.word}", mark.css)
        return (own, (str(self.beside), self.beside.css)) if self.beside else (own,)


@dataclass(frozen=True, slots=True)
class RackPosition:
    """A stretch of board for `capacity` bars; `free_note` says until when the rest is free, `free_by` when all of it is."""

    name: str
    capacity: int
    batches: tuple[StandingBatch, ...] = ()
    href: str = ""
    free_note: str = ""
    free_by: str = ""

    @property
    def used(self) -> int:
        return sum(batch.bars for batch in self.batches)

    @property
    def free(self) -> int:
        return max(self.capacity - self.used, 0)


@dataclass(frozen=True, slots=True)
class RackLevel:
    """One level of a rack, its positions from left to right."""

    name: str
    positions: tuple[RackPosition, ...]


@dataclass(frozen=True, slots=True)
class RackDrawing:
    """A rack as it is to be drawn, top level first; `key` makes ids unique on a page."""

    name: str
    levels: tuple[RackLevel, ...]
    href: str = ""
    key: str = "rack"


def place_name(level: RackLevel, position: RackPosition) -> str:
    """Return how a place on a rack is called."""
    return ", ".join(name for name in (level.name, position.name) if name)


def batch_sentence(batch: StandingBatch) -> str:
    """Return a batch on the rack in words: name, state, bars, water."""
    mark = mark_of(batch.state)
    note = batch.said or batch.note
    state = f"{mark.word}, {note}" if note else mark.word
    state += f", {batch.beside.word}" if batch.beside else ""
    water = "water left not known" if batch.water_left is None else f"{100 * batch.water_left:.0f} % of its water left"
    bars = "1 bar" if batch.bars == 1 else f"{batch.bars} bars"
    return f"{batch.name}: {state}, {bars}, {water}"


def position_sentence(position: RackPosition) -> str:
    """Return how full a position is, in words."""
    notes = "".join(f", {note}" for note in (position.free_note, position.free_by) if note)
    return f"{position.used} of {position.capacity} bars{notes}"
