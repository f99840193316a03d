"""Where everything on a rack stands, before any of it is drawn.

A level's positions share one board while each keeps room for its words; a level of many
positions, or a position of many batches, runs over several boards, one under the other, so
nothing is cut on a phone. Such boards are bracketed and stand apart from the next level's: they
are no levels of their own.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import groupby

from curehouse.web.drawing.racks_model import (
    RackDrawing,
    RackLevel,
    RackPosition,
    StandingBatch,
    place_name,
)
from curehouse.web.drawing.svg import shorten, text_width, wrap

WIDTH = 376.0
POST = 7.0
NAME_FONT = 13.0
STATE_FONT = 12.5
CAPTION_FONT = 12.0
LINE = 16.0
BAR_HEIGHT = 36.0
BOARD = 5.0

_MARGIN = 8.0
_GAP = 12.0
_ROOM = WIDTH - 2 * POST - 2 * _MARGIN
_NOTCH = 9.0
_ABOVE = 12.0
_CAPTION = 21.0
_PAD = 10.0  # between neighbours on a stretch
_LEAST_BATCH = 60.0
_ONE_LINE = 118.0  # a longer name runs over two lines
_MOST_BATCH = 160.0  # what needs more is shortened
_LEAST_FREE = 34.0
_BETWEEN_LEVELS = 16.0  # where a level may have several boards


@dataclass(frozen=True, slots=True)
class Stand:
    """A batch and the stretch of board it has."""

    batch: StandingBatch
    left: float
    width: float
    name_lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Free:
    """The free places at the end of a position, and what is said of them."""

    places: int
    note: str
    left: float
    width: float


@dataclass(frozen=True, slots=True)
class Stretch:
    """A position's part of one board: the batches on it, then what is free."""

    position: RackPosition
    level: RackLevel
    caption: str
    left: float
    width: float
    stands: tuple[Stand, ...]
    free: Free | None


@dataclass(frozen=True, slots=True)
class Board:
    """One board: its stretches, where it begins and the height its bars' feet stand at."""

    stretches: tuple[Stretch, ...]
    top: float
    foot: float
    level: int

    @property
    def bottom(self) -> float:
        return self.foot + BOARD + _CAPTION


@dataclass(frozen=True, slots=True)
class Bracket:
    """What holds the boards of one level together: from the first board to the last."""

    top: float
    bottom: float


@dataclass(frozen=True, slots=True)
class _Part:
    """What of a position goes on one board, and the width its words need; ``short`` is without the level."""

    position: RackPosition
    place: str
    short: str
    filled: str
    batches: tuple[StandingBatch, ...]
    free: int

    @property
    def caption(self) -> str:
        return " · ".join(filter(None, [self.short, self.filled]))

    @property
    def needs(self) -> list[float]:
        needs = [_batch_need(batch) for batch in self.batches]
        return [*needs, _free_need(self.position)] if self.free else needs

    @property
    def need(self) -> float:
        return min(max(sum(self.needs), text_width(self.caption, CAPTION_FONT)), _ROOM)

    @property
    def places(self) -> int:
        return max(sum(batch.bars for batch in self.batches) + self.free, 1)


def boards_of(rack: RackDrawing) -> tuple[Board, ...]:
    """Return the boards of *rack* from top to bottom, at least one for every level."""
    boards: list[Board] = []
    top = 0.0
    packed = [list(_packed(level)) for level in rack.levels]
    between = _BETWEEN_LEVELS if any(len(one) > 1 for one in packed) else 0.0
    for number, (level, level_boards) in enumerate(zip(rack.levels, packed, strict=True)):
        top += between if number else 0.0
        for parts in level_boards:
            stretches = tuple(_stretches(level, parts))
            lines = max(
                (len(stand.name_lines) + len(stand.batch.state_lines) for stretch in stretches for stand in stretch.stands),
                default=1,
            )
            foot = top + _ABOVE + LINE * lines + _NOTCH + BAR_HEIGHT
            boards.append(Board(stretches, top, foot, number))
            top = boards[-1].bottom
    return tuple(boards)


def brackets_of(boards: tuple[Board, ...]) -> tuple[Bracket, ...]:
    """Return a bracket for each level that runs over several boards."""
    levels = [list(group) for _, group in groupby(boards, key=lambda board: board.level)]
    return tuple(Bracket(level[0].foot, level[-1].foot + BOARD) for level in levels if len(level) > 1)


def free_note(position: RackPosition) -> str:
    """Return what stands over the free places of *position*."""
    return position.free_note or f"{position.free} free"


def _batch_need(batch: StandingBatch) -> float:
    """Return the width that keeps each word of the state on its line and the name whole on one or two."""
    name = text_width(batch.name, NAME_FONT)
    if name > _ONE_LINE:
        # Words seldom break in the middle; a little over half lets most names fit on two lines.
        name = max(0.56 * name, *(text_width(word, NAME_FONT) for word in batch.name.split()))
    states = [text_width(line, STATE_FONT) for line, _ in batch.state_lines]
    return min(max(name, *states, _LEAST_BATCH), _MOST_BATCH) + _PAD


def _free_need(position: RackPosition) -> float:
    return max(_LEAST_FREE, min(text_width(free_note(position), CAPTION_FONT), _ROOM / 2)) + _PAD


def _parts(level: RackLevel) -> Iterator[_Part]:
    """Yield the positions of *level*; one with more batches than a board can name, in parts."""
    for position in level.positions:
        place = place_name(level, position)
        short = position.name or place
        # Over an empty place stands how many are free: that is its whole count.
        filled = f"{position.used} of {position.capacity}" if position.batches else ""
        # What stands beside the mark of all that is there is not said once more, and cut for want of room.
        free_by = "" if [batch.note for batch in position.batches] == [position.free_by] else position.free_by
        filled = ", ".join(filter(None, [filled, free_by]))
        batches: list[StandingBatch] = []
        for batch in position.batches:
            if batches and sum(map(_batch_need, [*batches, batch])) > _ROOM:
                yield _Part(position, place, short, filled, tuple(batches), 0)
                place, filled = f"{place_name(level, position)}, continued", ""
                batches, short = [], place
            batches.append(batch)
        last = _Part(position, place, short, filled, tuple(batches), position.free)
        if batches and sum(last.needs) > _ROOM:
            yield replace(last, free=0)
            place = f"{place_name(level, position)}, continued"
            last = _Part(position, place, place, "", (), position.free)
        yield last


def _packed(level: RackLevel) -> Iterator[tuple[_Part, ...]]:
    board: list[_Part] = []
    taken = 0.0
    for part in _parts(level):
        if board and taken + _GAP + part.need > _ROOM:
            yield tuple(board)
            board, taken = [], 0.0
        # The first on a board says which level it is of; its neighbours go by it.
        board.append(part if board else replace(part, short=part.place))
        taken += board[-1].need + (_GAP if len(board) > 1 else 0.0)
    yield tuple(board)


def _stretches(level: RackLevel, parts: tuple[_Part, ...]) -> Iterator[Stretch]:
    """Yield the stretches of one board, shared out by their places."""
    room = _ROOM - _GAP * (len(parts) - 1)
    left = POST + _MARGIN
    needs, places = [part.need for part in parts], [part.places for part in parts]
    # Places that hold the same are as wide as each other, however long their captions.
    alike = len(set(places)) == 1 and max(needs) <= room / len(parts)
    widths = [room / len(parts)] * len(parts) if alike else _shares(places, needs, room)
    for part, width in zip(parts, widths, strict=True):
        yield _stretch(level, part, left, width)
        left += width + _GAP


def _stretch(level: RackLevel, part: _Part, left: float, width: float) -> Stretch:
    """Return *part* with its batches side by side, wide as their bars but never unreadable."""
    counts = [batch.bars for batch in part.batches]
    widths = _shares([*counts, part.free] if part.free else counts, part.needs, width)
    lefts = [left + sum(widths[:number]) for number in range(len(widths))]
    stands = tuple(
        Stand(batch, at, wide, wrap(batch.name, wide - _PAD, NAME_FONT))
        for batch, at, wide in zip(part.batches, lefts, widths, strict=False)
    )
    free = None
    if part.free:
        free = Free(part.free, free_note(part.position), lefts[-1], widths[-1])
    caption = shorten(part.caption, width + _GAP, CAPTION_FONT)
    return Stretch(part.position, level, caption, left, width, stands, free)


def _shares(counts: list[int], needs: list[float], width: float) -> list[float]:
    """Return *width* shared out by *counts*, each at least its need (needs shrink if too wide)."""
    if not counts:
        return []
    shrink = min(1.0, width / sum(needs))
    least = [need * shrink for need in needs]
    spare = width - sum(least)
    wanted = [max(width * count / max(sum(counts), 1) - need, 0.0) for count, need in zip(counts, least, strict=True)]
    total = sum(wanted)
    return [need + (spare * want / total if total else 0.0) for need, want in zip(least, wanted, strict=True)]
