"""At the table: what was weighed so far, judged by the low end of its superfat, and what to do about it.

The middle never counts here. Lye can be mended with fat as long as it has not met the fats at trace;
after that, and whatever was doubted, nobody can tell any more what a bar is: the pour is stopped.
"""

import math
from collections.abc import Collection
from dataclasses import dataclass, replace
from enum import StrEnum

from .alkali import Alkali
from .poured import Part, Pour
from .superfat import Superfat

# More fat than this share of what is in the pot is another batch, and a weight that slipped: our own bound, no source.
MOST_MORE_FAT = 0.25
# A low end is read to the tenth of a point.
_AS_READ = 0.001
_NOISE = 1e-12


class Answer(StrEnum):
    """What is to be done; each is worse than the one before it."""

    SAFE = "safe"
    AS_READ = "as_read"
    ADD_FAT = "add_fat"
    STOP = "stop"


class Why(StrEnum):
    """Why a pour is stopped."""

    UNDISSOLVED = "undissolved"
    WRONG_ALKALI = "other_lye"
    DOUBTED = "doubted"
    NOT_KNOWN = "not_known"
    TOO_MUCH_LYE = "too_much_lye"
    TOO_LITTLE_WATER = "little_water"
    AFTER_TRACE = "after_trace"


@dataclass(frozen=True, slots=True)
class Remedy:
    """So many grams more of one fat (``part`` counts the fats of the pour from 0), and what the batch is with them.

    ``fats_g`` are all fats then, ``superfat`` its ends then: the low one is 0 or above, and with one step of
    the scale less it is not.
    """

    part: int
    add_g: float
    fats_g: float
    superfat: Superfat


@dataclass(frozen=True, slots=True)
class AtTable:
    """The answer to what was weighed: ``why`` where it is to stop, ``remedies`` (least fat first) where fat mends it."""

    answer: Answer
    superfat: Superfat | None
    why: tuple[Why, ...] = ()
    remedies: tuple[Remedy, ...] = ()

    @property
    def low(self) -> float | None:
        """The low end of the superfat of the fats (0.05 is 5 %), None where it is not known."""
        return None if self.superfat is None else self.superfat.of_fats.low


def at_table(
    pour: Pour,
    *,
    planned: Collection[Alkali],
    is_past_trace: bool = False,
    doubts: Collection[Why] = (),
    read_low: float = 0.0,
) -> AtTable:
    """Return what to do with *pour*: its parts weighed as they were, those still to come as they are meant.

    Parameters
    ----------
    planned
        The alkalis that the formula has; any other is the wrong one.
    is_past_trace
        Lye and fats have met.
    doubts
        What a person saw or doubts.
    read_low
        The low end (share, 0.05 is 5 %) that a person read and confirmed with the formula; a low end below 0 but
        not below this is ``AS_READ``: no worse than what was confirmed, and its alkalinity check a condition.
    """
    found = pour.superfat()
    why = list(dict.fromkeys(doubts))
    if any(part.alkali not in planned for part in pour.lye if part.mass_g > 0):
        why.append(Why.WRONG_ALKALI)
    if found is None or why:
        return AtTable(Answer.STOP, found, tuple(why) if found is not None else (*why, Why.NOT_KNOWN))
    if found.of_fats.low >= 0:
        return AtTable(Answer.SAFE, found)
    if is_held(found, read_low):
        return AtTable(Answer.AS_READ, found, remedies=() if is_past_trace else remedies_of(pour))
    if is_past_trace:
        return AtTable(Answer.STOP, found, (Why.AFTER_TRACE,))
    remedies = remedies_of(pour)
    if not remedies:
        return AtTable(Answer.STOP, found, (Why.TOO_MUCH_LYE,))
    return AtTable(Answer.ADD_FAT, found, remedies=remedies)


def is_held(found: Superfat | None, read_low: float) -> bool:
    """Return whether a superfat needs nothing: its low end is 0 or above, or no worse than what was confirmed.

    A middle below 0 is caustic, whatever was confirmed.
    """
    if found is None:
        return False
    low = found.of_fats.low
    return low >= 0 or (low >= min(0.0, read_low) - _AS_READ and read_low < 0 <= found.of_fats.middle)


def most_steps(pour: Pour, lye: Part, step_g: float, most: int, *, read_low: float) -> int:
    """Return how many steps of *lye* (at most *most*) may go into *pour* besides what is in it, and all is held still.

    0 where not even what is in it is held; a pour whose superfat is not known is not cut down.
    """

    def found(steps: int) -> Superfat | None:
        return replace(pour, lye=(*pour.lye, replace(lye, mass_g=steps * step_g))).superfat()

    if most < 1 or (full := found(most)) is None or is_held(full, read_low):
        return most
    # More lye is never safer, so the most steps are found by halving.
    fits, over = 0, most
    while over - fits > 1:
        middle = (fits + over) // 2
        fits, over = (middle, over) if is_held(found(middle), read_low) else (fits, middle)
    return fits


def remedies_of(pour: Pour) -> tuple[Remedy, ...]:
    """Return how much more of each fat brings the low end of the superfat to 0 or above, the least first.

    In whole steps of the scale for fats, weighed by itself; fats that would take more than
    `MOST_MORE_FAT` of what is in the pot are left out, and so are those of which nothing is known.
    """
    fats_g = math.fsum(part.mass_g for part in pour.fats)
    most = math.floor(MOST_MORE_FAT * fats_g / pour.scales.step_g * (1 + _NOISE))
    found = [_remedy(pour, number, most, fats_g) for number, part in enumerate(pour.fats) if part.value is not None]
    return tuple(sorted((one for one in found if one is not None), key=lambda one: (one.add_g, one.part)))


def with_more(pour: Pour, part: int, add_g: float) -> Pour:
    """Return *pour* with *add_g* grams more of a fat, weighed by themselves."""
    more: Part = replace(pour.fats[part], mass_g=add_g, is_rest=False)
    return replace(pour, fats=(*pour.fats, more))


def _remedy(pour: Pour, number: int, most: int, fats_g: float) -> Remedy | None:
    def low(steps: int) -> float:
        found = with_more(pour, number, steps * pour.scales.step_g).superfat()
        return -math.inf if found is None else found.of_fats.low

    if most < 1 or low(most) < 0:
        return None
    # More fat is never worse, so the fewest steps are found by halving.
    least, enough = 0, most
    while enough - least > 1:
        middle = (least + enough) // 2
        least, enough = (least, middle) if low(middle) >= 0 else (middle, enough)
    # Written out as people would, 283.5 and not 283.50000000000006.
    add_g = float(f"{enough * pour.scales.step_g:.13g}")
    mended = with_more(pour, number, add_g).superfat()
    return None if mended is None else Remedy(number, add_g, fats_g + add_g, mended)
