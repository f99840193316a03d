"""From which lot a use of the past came: the one that is named, or those that were to be used up first."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal

from curehouse.flows.bring_in.laid_aside import Kept
from curehouse.flows.bring_in.lines import Line, row_key
from inventory.models import MOST_ON_HAND, Lot, Material
from inventory.services.recounts import Counts, count_after


@dataclass(frozen=True, slots=True)
class GoneLot:
    """A lot that the house does not know and of which nothing is left: it came in with what was used of it."""

    material: str
    supplier_lot: str
    received_on: date
    amount: Decimal

    @property
    def key(self) -> str:
        """Return what tells it from all others."""
        return row_key(self.material, self.supplier_lot)


@dataclass(frozen=True, slots=True)
class OpenLot:
    """No lot is named: what its material's lots hold still, by the key of the material."""

    material: int


class UseLots:
    """The lots of the materials that a list names, what is left of each, and those that are gone.

    What a list names takes from its lot first (`lot_for`); then what names none, in the order in which it
    happened (`shared_out`). What a count after it lacked already leaves what is left.
    """

    def __init__(self, lots: Iterable[Lot], counts: Counts, *, at: datetime) -> None:
        self._lots: dict[int, list[Lot]] = {}
        for lot in lots:
            self._lots.setdefault(lot.material_id, []).append(lot)
        self.by_key = {lot.pk: lot for found in self._lots.values() for lot in found}
        self._rest = {key: lot.on_hand for key, lot in self.by_key.items()}
        self._counts, self._at = counts, at
        self.gone: Kept[GoneLot] = Kept()

    def lot_for(
        self, line: Line, material_key: int | None, *, moment: datetime, day: date, amount: Decimal
    ) -> Lot | GoneLot | OpenLot | None:
        """Return the lot that a line is about, or None where it is refused."""
        lots, name = self._lots.get(material_key or 0, []), line.facts.get("supplier_lot", "")
        if name:
            lots = _called(lots, name)
        fits = [lot for lot in lots if lot.received_on <= day]
        if name and lots and not fits:
            line.refuse("used_on", f"comes before {lots[0]} came in, on {lots[0].received_on}: check the day")
            return None
        if name and fits:
            self._take(fits[0], amount, moment)
            return fits[0]
        if any(not lot.irregular_on(day) for lot in fits):
            return OpenLot(material_key or 0)
        return self._gone(line, name, day=day, amount=amount)

    def shared_out(self, of: OpenLot, *, moment: datetime, day: date, amount: Decimal) -> dict[int, Decimal]:
        """Return how much was of which lot, by their keys: of each what it holds still, the first expired first.

        What is over was of the first of them all the same: it was found there.
        """
        taken: dict[int, Decimal] = {}
        fits = [lot for lot in self._lots[of.material] if lot.received_on <= day and not lot.irregular_on(day)]
        for lot in fits:
            left = amount - sum(taken.values())
            part = left if self.is_lacked(lot.pk, moment) else min(left, max(self._rest[lot.pk], Decimal(0)))
            if part > 0:
                taken[lot.pk] = part
                self._take(lot, part, moment)
        if (over := amount - sum(taken.values())) > 0:
            first = self.by_key[next(iter(taken), fits[0].pk)]
            taken[first.pk] = taken.get(first.pk, Decimal(0)) + over
            self._take(first, over, moment)
        return taken

    def is_lacked(self, lot: int | None, moment: datetime) -> bool:
        """Return whether a count of a lot (by its key) after *moment* lacked already what was used then."""
        return count_after(self._counts.get(lot or 0, ()), moment, written_at=self._at) is not None

    def found(self) -> list[tuple[Material, Decimal]]:
        """Return of which materials more was used than their lots held, and how much more."""
        over: dict[int, Decimal] = {}
        for key, rest in self._rest.items():
            if rest < 0:
                material = self.by_key[key].material_id
                over[material] = over.get(material, Decimal(0)) - rest
        return [(self._lots[key][0].material, amount) for key, amount in over.items()]

    def _take(self, lot: Lot, amount: Decimal, moment: datetime) -> None:
        if not self.is_lacked(lot.pk, moment):
            self._rest[lot.pk] -= amount

    def _gone(self, line: Line, name: str, *, day: date, amount: Decimal) -> GoneLot | None:
        used = GoneLot(line.facts["material"].casefold(), name, day, amount)
        lot = self.gone.setdefault(used.key, used)
        if lot is used:
            return used
        if lot.amount + amount > MOST_ON_HAND:
            line.refuse("amount", f"comes to more than {MOST_ON_HAND} with the uses before: name the lots")
            return None
        lot = replace(lot, amount=lot.amount + amount, received_on=min(lot.received_on, day))
        self.gone.change(lot.key, lot)
        return lot


def _called(lots: list[Lot], name: str) -> list[Lot]:
    """Return the lots of a supplier's lot number, or of the house's own where no supplier's fits."""
    theirs = [lot for lot in lots if lot.supplier_lot.casefold() == name.casefold()]
    return theirs or [lot for lot in lots if f"{lot.number}" == name.casefold().removeprefix("lot").strip()]
