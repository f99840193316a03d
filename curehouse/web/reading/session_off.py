"""What is said of a round's weights that are off alike: a tray, a tare, another zero, and not a fault of each bar."""

from collections import defaultdict
from collections.abc import Sequence

from curehouse.common.units import show_mass
from curehouse.core.cure.doubt import DoubtKind
from curehouse.core.cure.session_off import SessionOff, session_off
from curehouse.curing.models import Reading

_SLIPS = frozenset({DoubtKind.SWAPPED_DIGITS, DoubtKind.DECIMAL_SLIP})


def sessions_said(weighed: Sequence[Reading], unit: str) -> dict[int | None, str]:
    """Return by scale what to say of its weights that are off alike, of the scales of which something is.

    Parameters
    ----------
    weighed
        The day's weighings that count or are asked about, in the order they were made. What was asked about and kept
        is off all the same.
    """
    by_scale: dict[int | None, list[Reading]] = defaultdict(list)
    for row in weighed:
        by_scale[row.scale_id].append(row)
    said = {scale: _said(_bars(rows), unit) for scale, rows in by_scale.items()}
    return {scale: words for scale, words in said.items() if words}


def said_so_far(reading: Reading, weighed: Sequence[Reading], unit: str) -> str:
    """Return what to ask about a weighing that is off as those just before it are, in one line; nothing if it is not."""
    until = next((place for place, row in enumerate(weighed, 1) if row.pk == reading.pk), 0)
    bars = _bars([row for row in weighed[:until] if row.scale_id == reading.scale_id])
    off = session_off([_difference_g(row) for row in bars], still=True)
    if off is None:
        return ""
    if off.bars != off.in_all:
        before = f"So were {off.bars - 1} of the {off.in_all - 1} bars before"
    else:
        before = "So was the bar before" if off.bars == 2 else f"So were the {off.bars - 1} bars before"
    # A phone has room for a line or two between the weight and its keys.
    return f"{before}, by {_far(off, unit)}: {'tare forgotten?' if off.least_g > 0 else 'scale not at zero?'}"


def _bars(rows: Sequence[Reading]) -> list[Reading]:
    """Return of each bar its newest weighing, at the newest's place."""
    newest = {row.bar_id: row.pk for row in rows}
    return [row for row in rows if newest[row.bar_id] == row.pk]


def _said(bars: Sequence[Reading], unit: str) -> str:
    off = session_off([_difference_g(row) for row in bars])
    return "" if off is None else _words(off, bars, unit)


def _difference_g(row: Reading) -> float | None:
    if not row.doubt:
        return None
    difference_g = float(row.doubt_detail["difference_g"])
    # Two bars too light alike are more often two slips of a hand than a scale set to zero with something on it.
    return None if difference_g < 0 and row.doubt in _SLIPS else difference_g


def _far(off: SessionOff, unit: str) -> str:
    return " to ".join(dict.fromkeys(show_mass(abs(grams), unit) for grams in (off.least_g, off.most_g)))


def _words(off: SessionOff, bars: Sequence[Reading], unit: str) -> str:
    far = _far(off, unit)
    if off.least_g > 0:
        return f"{_who(off, bars)} weigh {far} more than expected: was something on the scale with them, or the tare forgotten?"
    return f"{_who(off, bars)} weigh {far} less than expected: was the scale set to zero with something on it?"


def _who(off: SessionOff, bars: Sequence[Reading]) -> str:
    """Return which bars they are: all of them, or from which bar on."""
    is_whole = off.in_all == len(bars)
    if is_whole and off.bars == 2:
        return "Both bars"
    if is_whole:
        return f"All {off.bars} bars" if off.bars == len(bars) else f"{off.bars} of {len(bars)} bars"
    first, last = (f"{bars[place].bar.batch}, bar {bars[place].bar.letter}" for place in (off.first, off.last))
    so_many = f"{off.bars} bars in a row" if off.bars == off.in_all else f"{off.bars} of {off.in_all} bars in a row"
    return f"{so_many}, from {first} on," if off.last == len(bars) - 1 else f"{so_many}, from {first} to {last},"
