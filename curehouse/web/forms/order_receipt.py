"""What came in of an order, line by line: packs, lots, what was damaged, what it cost, what will not come."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms

from curehouse.common.errors import DomainError
from curehouse.flows.receive_order import LineCame, LotCame
from curehouse.web.forms.amounts import DayField, in_grams
from curehouse.web.forms.fields import HouseForm, required
from curehouse.web.forms.receipt_line import (
    ENDS,
    LOTS,
    NOT_TAKEN,
    REALLY,
    STANDING,
    Said,
    fields_of_line,
    more_than_asked,
    slips_of,
)
from curehouse.web.reading.amounts import amount_words
from curehouse.web.reading.words import count
from curehouse.workshops.models import Workshop
from inventory.models import OrderLine

_OF_LINE = {"refused_why": "damaged_why", "refused_packs": "damaged", "rest_why": "rest_why", "price": "price"}
_OF_LOT = {"packs": "packs", "amount": "amount", "best_before": "best_before", "supplier_lot": "supplier_lot"}


@dataclass(frozen=True, slots=True)
class Asked:
    """More packs than were to come, and whether a person said that just so many came."""

    packs: int
    is_answered: bool

    @property
    def words(self) -> str:
        """Return what is said by whoever books so many."""
        return f"{count(self.packs, 'pack')} of it really came"


@dataclass(frozen=True, slots=True)
class LineFields:
    """The bound fields of one line of the order, and what is asked about it."""

    line: OrderLine
    ordered: str
    packs: Any
    first: list[Any]
    more: list[tuple[str, list[Any]]]
    is_opened: bool
    asked: Asked | None


class _Seen(forms.IntegerField):
    """The order's newest step as the page was made; shown again, the page says the newest of now."""

    def __init__(self, newest: int) -> None:
        super().__init__(required=False, widget=forms.HiddenInput, initial=newest)

    def bound_data(self, data: Any, initial: Any) -> Any:
        """Return what the page is made with."""
        return initial


class OrderReceiptForm(HouseForm):
    """What came in. A line of which nothing came says 0 packs."""

    standing = forms.ChoiceField(
        label="What came is", widget=forms.RadioSelect, choices=STANDING,
        error_messages=required("Released or in quarantine", "choose one"),
    )  # fmt: skip

    def __init__(
        self, *args: Any, workshop: Workshop, lines: Sequence[OrderLine], today: date, newest: int, **kwargs: Any
    ) -> None:
        now = {f"l{line.pk}_packs_0": line.open_packs for line in lines} | {f"l{line.pk}_price": line.price for line in lines}
        super().__init__(*args, initial={"received_on": today, **now}, **kwargs)
        self.fields["received_on"] = DayField(what="The day of receipt", label="Came in on")
        self.fields["seen"] = _Seen(newest)
        self._lines, self._workshop, self._newest = lines, workshop, newest
        # By the key of a line: the numbers of its fields whose lots are sent on.
        self._lot_places: dict[int, list[int]] = {}
        # And how many packs are typed where that is more than were to come.
        self._more: dict[int, int] = {}
        for line in lines:
            self.fields |= {f"l{line.pk}_{name}": field for name, field in fields_of_line(line, workshop).items()}

    def clean(self) -> dict[str, Any]:
        """Ask about what cannot be meant as it is typed.

        Not of a page that is older than what came in since: sent twice, it gets its first answer, and else the verb's.
        """
        values = super().clean() or {}
        if values.get("seen") not in (None, self._newest):
            return values
        for line in self._lines:
            start = f"l{line.pk}_"
            # Of a line with a figure that cannot be read, that one is said first.
            if any(name.startswith(start) for name in self.errors):
                continue
            said = self._said(line)
            if packs := more_than_asked(line, said):
                self._more[line.pk] = packs
            for name, remedy in slips_of(line, said, really=self.data.get(f"{start}{REALLY}", "")):
                self.add_error(f"{start}{name}", remedy)
        return values

    def _said(self, line: OrderLine) -> Said:
        """Return what is said of a line, as far as it could be read."""
        start = f"l{line.pk}_"
        return {name.removeprefix(start): value for name, value in self.cleaned_data.items() if name.startswith(start)}

    @property
    def lines(self) -> list[LineFields]:
        """Return the bound fields line by line."""
        return [self._fields_of(line) for line in self._lines]

    def _fields_of(self, line: OrderLine) -> LineFields:
        start = f"l{line.pk}_"

        def some(*names: str) -> list[Any]:
            return [self[f"{start}{name}"] for name in names if f"{start}{name}" in self.fields]

        def lot(number: int) -> list[Any]:
            return some(*(f"{name}_{number}" for name in ("packs", "supplier_lot", "best_before", "amount", "unit")))

        more = [
            ("Damaged", some("damaged", "damaged_are", "damaged_why")),
            ("What did not come", some("rest", "rest_why")),
            ("The price", some("price", "changes_offer")),
            *((f"Another lot number among them, {number}", lot(number)) for number in range(1, LOTS)),
            ("This line", some("amount_0", "unit_0", "standing", "why")),
        ]
        changed = set(self.changed_data) if self.is_bound else set()
        is_opened = any(field.errors or field.name in changed for _name, fields in more for field in fields)
        more_packs = self._more.get(line.pk, 0)
        return LineFields(
            line=line,
            ordered=f"{line.packs} × {amount_words(line.pack, line.material, self._workshop.unit)}",
            packs=self[f"{start}packs_0"],
            first=some("supplier_lot_0", "best_before_0"),
            more=more,
            is_opened=is_opened,
            asked=Asked(more_packs, self.data.get(f"{start}{REALLY}") == str(more_packs)) if more_packs else None,
        )

    def came(self) -> list[LineCame]:
        """Return what came of each line of which anything is said."""
        found = [self._came_of(line) for line in self._lines]
        return [one for one in found if one.lots or one.refused_packs or one.ends_rest]

    def _came_of(self, line: OrderLine) -> LineCame:
        said = self._said(line)
        standing = said["standing"] or self.cleaned_data["standing"]
        places = [number for number in range(LOTS) if said[f"packs_{number}"]]
        self._lot_places[line.pk] = places
        lots = [self._lot(said, number, standing) for number in places]
        damaged, is_kept = said["damaged"] or 0, said["damaged_are"] != NOT_TAKEN
        if damaged and is_kept:
            lots.append(
                LotCame(
                    damaged, supplier_lot=said["supplier_lot_0"], best_before=said["best_before_0"],
                    why=said["damaged_why"], is_damaged=True,
                )
            )  # fmt: skip
        return LineCame(
            line=line.pk, lots=lots, refused_packs=0 if is_kept else damaged, refused_why=said["damaged_why"],
            price=said["price"], ends_rest=said["rest"] == ENDS, rest_why=said["rest_why"],
            changes_offer=said["changes_offer"],
        )  # fmt: skip

    def _lot(self, said: dict[str, Any], number: int, standing: str) -> LotCame:
        amount, unit = said[f"amount_{number}"], said.get(f"unit_{number}")
        if amount is not None and unit:
            amount = in_grams(amount, unit)
        return LotCame(
            packs=said[f"packs_{number}"], amount=amount, supplier_lot=said[f"supplier_lot_{number}"],
            best_before=said[f"best_before_{number}"], standing=standing, why=said["why"],
        )  # fmt: skip

    def place(self, error: DomainError) -> DomainError:
        """Let an error about a line stand beside the field that was typed."""
        line, lot = error.data.get("line"), error.data.get("lot")
        if line is not None:
            name = next(one.material.name for one in self._lines if one.pk == line)
            error.message = error.message if name in error.message else f"{name}: {error.message}"
            if lot is not None and error.field == "why":
                error.field = f"l{line}_damaged_why"
            elif lot is not None and error.field in _OF_LOT and lot < len(self._lot_places[line]):
                error.field = f"l{line}_{_OF_LOT[error.field]}_{self._lot_places[line][lot]}"
            elif error.field in _OF_LINE:
                error.field = f"l{line}_{_OF_LINE[error.field]}"
        return error
