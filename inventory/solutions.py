"""Lye that was dissolved here beforehand: what stands in each lot of it, by what went into it as it was made."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from itertools import groupby
from math import inf, prod

from curehouse.workshops.models import Workshop
from inventory.models import Lot, Making, MakingTake, Material, Movement

_Kind = Movement.Kind
# What is written off so is water that is gone: the lye in it stays.
_DRIED = ("dried", "drying", "evaporat", "steam", "water", "concentrat", "verdunst", "verdampf", "trockn", "trocken")


@dataclass(frozen=True, slots=True)
class Step:
    """What changed a lot by *change_g*, where *held_g* were booked of it: a use, or a count or drying that misses some."""

    moment: datetime
    held_g: Decimal
    change_g: Decimal
    is_use: bool = False
    is_count: bool = False
    is_dried: bool = False

    @property
    def is_loss(self) -> bool:
        """Return whether what is missing may be water that dried out."""
        return self.is_dried or (self.is_count and self.change_g < 0)


# Grams that were to be there, and that were found.
Left = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Solution:
    """A lot of one dry lye in water: *made_g* grams came of the grams *taken* of lots of that lye, and of water.

    *steps* is what became of it since, as it happened, without what was taken back.
    """

    lot: Lot
    made_g: Decimal
    taken: tuple[tuple[Lot, Decimal], ...]
    steps: tuple[Step, ...] = field(default=())

    @property
    def dry(self) -> Material:
        """Return the lye that is dissolved in it."""
        return self.taken[0][0].material

    @property
    def share(self) -> Decimal:
        """Return the grams of that lye, as it was weighed, in a gram of it; what was lost counts as water."""
        return sum((grams for _lot, grams in self.taken), Decimal(0)) / self.made_g

    @property
    def missing_g(self) -> Decimal:
        """Return what was missing of it by counts, used by nobody: it may have been water that dried out."""
        return -sum((step.change_g for step in self.steps if step.is_loss), Decimal(0))

    def left(self, since: datetime | None = None) -> tuple[Left, ...]:
        """Return of each time that some was missing, after *since*, how much was booked and how much was found."""
        return tuple(_left(step.held_g, -step.change_g) for step in self.steps if step.is_loss and _is_after(step, since))

    def left_at_uses(self, since: datetime | None = None) -> tuple[Left, ...]:
        """Return the same for that of its uses, after *since*, when it can have been the strongest.

        What a count misses may have been gone before the first use since the last count.
        """
        worst: tuple[Left, ...] = ()
        for number, step in enumerate(self.steps):
            if not step.is_use or not _is_after(step, since):
                continue
            before = tuple(
                _left(one.held_g, -one.change_g) for one in self.steps[:number] if one.is_loss and _is_after(one, since)
            )
            found = next((one for one in self.steps[number:] if one.is_count or one.is_dried), None)
            ahead = () if found is None or not found.is_loss else (_left(step.held_g, -found.change_g),)
            worst = max(worst, (*before, *ahead), key=_times)
        return worst


def _left(held_g: Decimal, missing_g: Decimal) -> Left:
    return float(held_g), float(held_g - missing_g)


def _is_after(step: Step, since: datetime | None) -> bool:
    return since is None or step.moment > since


def _times(left: Sequence[Left]) -> float:
    return prod(booked_g / found_g if found_g > 0 else inf for booked_g, found_g in left)


def is_dissolved(lot: Lot) -> bool:
    """Return whether a lot is lye that was dissolved here."""
    return lot.material.kind == Material.Kind.LYE and Making.objects.within(lot.workshop).filter(lot=lot).exists()


def solutions_of(workshop: Workshop, lots: Collection[int]) -> dict[int, Solution | None]:
    """Return by its key each of *lots* that is lye made here; None where what is in it is not known. Two queries.

    It is not known once something that it took was taken back, and of anything but one dry lye and water.
    """
    if not lots:
        return {}
    takes = MakingTake.objects.within(workshop).filter(making__lot__in=lots, making__lot__material__kind=Material.Kind.LYE)
    rows = takes.select_related("making__lot__material", "movement__lot__material", "movement__corrected_by").order_by("pk")
    by_lot: dict[int, list[MakingTake]] = {}
    for row in rows:
        by_lot.setdefault(row.making.lot_id, []).append(row)
    steps = _steps_of(workshop, by_lot) if by_lot else {}
    return {lot: _solution(rows[0].making, rows, steps.get(lot, ())) for lot, rows in by_lot.items()}


def _steps_of(workshop: Workshop, lots: Collection[int]) -> dict[int, tuple[Step, ...]]:
    """Return what became of lots (keys), as it happened: what takes back or restates a row stands with it."""
    names = ("lot", "moment", "told_at", "told_as", "is_a", "found_for", "amount", "reason")
    rows = Movement.objects.within(workshop).filter(lot__in=lots).with_what_they_follow()
    found: dict[int, list[Step]] = {}
    held: dict[int, Decimal] = {}
    in_order = rows.order_by("lot", "moment", "told_at", "told_as", "pk").values_list(*names)
    for (lot, moment, _told_at, _told_as), at_once in groupby(in_order, _place):
        told = list(at_once)
        before, change_g = held.get(lot, Decimal(0)), sum((row[6] for row in told), Decimal(0))
        held[lot] = before + change_g
        if change_g:
            # What was found for a use is of that use.
            *_where, kind, found_for, _amount, reason = next((row for row in told if row[5] is None), told[0])
            is_dried = kind == _Kind.WRITE_OFF and any(word in reason.casefold() for word in _DRIED)
            is_count = kind == _Kind.COUNT and found_for is None
            step = Step(moment, before, change_g, kind == _Kind.USE, is_count, is_dried)
            found.setdefault(lot, []).append(step)
    return {lot: tuple(steps) for lot, steps in found.items()}


def _place(row: tuple) -> tuple:
    return row[:4]


def _solution(making: Making, rows: list[MakingTake], steps: tuple[Step, ...]) -> Solution | None:
    kept = [row for row in rows if row.movement is not None]
    taken = tuple((row.movement.lot, row.amount_g) for row in kept)
    if not taken or any(hasattr(row.movement, "corrected_by") for row in kept):
        return None
    if any(lot.material.kind != Material.Kind.LYE for lot, _grams in taken) or len({lot.material_id for lot, _g in taken}) > 1:
        return None
    found = Solution(making.lot, making.made_g, taken, steps)
    return found if found.share < 1 else None
