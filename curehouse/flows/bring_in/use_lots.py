"""From which lot a use of the past came: the one that is named, or the one that was to be used up first."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from curehouse.flows.bring_in.laid_aside import Kept
from curehouse.flows.bring_in.lines import Line, row_key
from inventory.models import MOST_ON_HAND, Lot


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


class UseLots:
    """The lots of the materials that a list names, and those that are gone."""

    def __init__(self, lots: Iterable[Lot]) -> None:
        self._lots: dict[int, list[Lot]] = {}
        for lot in lots:
            self._lots.setdefault(lot.material_id, []).append(lot)
        self.by_key = {lot.pk: lot for found in self._lots.values() for lot in found}
        self.gone: Kept[GoneLot] = Kept()

    def lot_for(self, line: Line, material_key: int | None, *, day: date, amount: Decimal) -> Lot | GoneLot | None:
        """Return the lot that a line is about, or None where it is refused."""
        lots, name = self._lots.get(material_key or 0, []), line.facts.get("supplier_lot", "")
        if name:
            lots = _called(lots, name)
        fits = [lot for lot in lots if lot.received_on <= day]
        if name and lots and not fits:
            line.refuse("used_on", f"comes before {lots[0]} came in, on {lots[0].received_on}: check the day")
            return None
        if name and fits:
            return fits[0]
        in_order = next((lot for lot in fits if not lot.irregular_on(day)), None)
        return in_order or self._gone(line, name, day=day, amount=amount)

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
