"""What came in of an order, line by line: packs, lots, what was damaged, what it cost, what will not come."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms

from curehouse.common.errors import DomainError
from curehouse.common.units import LARGEST_G
from curehouse.flows.receive_order import LineCame, LotCame
from curehouse.web.forms.amounts import DayField, ReasonField, in_grams, unit_field
from curehouse.web.forms.fields import HouseForm, NumberField, TextField, WholeField, required
from curehouse.web.forms.offers import MoneyField
from curehouse.workshops.models import Workshop
from inventory.models import MOST_PACKS, Lot, Material, OrderLine

# So many lot numbers on one line; a further one comes in by itself.
LOTS = 3
_STANDING = [
    (Lot.Standing.RELEASED, "released: looked at, papers in order, may be used"),
    (Lot.Standing.QUARANTINE, "in quarantine: waits for its papers or a test"),
]
_NOT_TAKEN = "not_taken"
_REST = [("", "is still to come"), ("ends", "will not come")]
_OF_LINE = {"refused_why": "damaged_why", "refused_packs": "damaged", "rest_why": "rest_why", "price": "price"}
_OF_LOT = {"packs": "packs", "amount": "amount", "best_before": "best_before", "supplier_lot": "supplier_lot"}


@dataclass(frozen=True, slots=True)
class LineFields:
    """The bound fields of one line of the order."""

    line: OrderLine
    first: list[Any]
    more: list[tuple[str, list[Any]]]
    is_opened: bool


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
        label="What came is", widget=forms.RadioSelect, choices=_STANDING,
        error_messages=required("Released or in quarantine", "choose one"),
    )  # fmt: skip

    def __init__(
        self, *args: Any, workshop: Workshop, lines: Sequence[OrderLine], today: date, newest: int, **kwargs: Any
    ) -> None:
        now = {f"l{line.pk}_packs_0": line.open_packs for line in lines} | {f"l{line.pk}_price": line.price for line in lines}
        super().__init__(*args, initial={"received_on": today, **now}, **kwargs)
        self.fields["received_on"] = DayField(what="The day of receipt", label="Came in on")
        self.fields["seen"] = _Seen(newest)
        self._lines, self._workshop = lines, workshop
        # By the key of a line: the numbers of its fields whose lots are sent on.
        self._lot_places: dict[int, list[int]] = {}
        for line in lines:
            self._add(line)

    def _add(self, line: OrderLine) -> None:
        start, is_counted = f"l{line.pk}_", line.material.measure == Material.Measure.PIECES
        for lot in range(LOTS):
            self.fields[f"{start}packs_{lot}"] = WholeField(
                what="The packs", least=0, most=MOST_PACKS, required=False, label="Packs that came" if not lot else "Packs"
            )  # fmt: skip
            self.fields[f"{start}supplier_lot_{lot}"] = TextField(
                what="The supplier's lot number", longest=120, required=False, label="Supplier’s lot number"
            )  # fmt: skip
            self.fields[f"{start}best_before_{lot}"] = DayField(what="The best-before", required=False, label="Best before")
            self.fields[f"{start}amount_{lot}"] = NumberField(
                what="The amount", above=Decimal(0), most=LARGEST_G, required=False,
                label="Holds in all" + (", pieces" if is_counted else ""),
                help_text="Only where it is not what so many packs hold.",
            )  # fmt: skip
            if not is_counted:
                self.fields[f"{start}unit_{lot}"] = unit_field(self._workshop)
                self.fields[f"{start}unit_{lot}"].initial = str(self._workshop.unit)
                self.fields[f"{start}unit_{lot}"].required = False
        self.fields[f"{start}standing"] = forms.ChoiceField(
            label="It is", required=False, choices=[("", "as said above"), *((value, value) for value, _word in _STANDING)],
            error_messages={"invalid_choice": "Choose what it is from the list."},
        )  # fmt: skip
        self.fields[f"{start}why"] = ReasonField(label="What was checked, or what it waits for", required=False)
        self.fields[f"{start}damaged"] = WholeField(
            what="The damaged packs", least=0, most=MOST_PACKS, required=False, label="Damaged packs",
            help_text="Beside the packs that came whole.",
        )  # fmt: skip
        self.fields[f"{start}damaged_are"] = forms.ChoiceField(
            label="They are", required=False,
            choices=[("quarantine", "kept, in quarantine"), (_NOT_TAKEN, "not taken: still owed")],
            initial="quarantine",
            error_messages={"invalid_choice": "Choose what became of them from the list."},
        )  # fmt: skip
        self.fields[f"{start}damaged_why"] = ReasonField(label="What is wrong with them", required=False)
        self.fields[f"{start}price"] = MoneyField(
            what="The price", label="A pack cost", workshop=self._workshop, places=4, required=False
        )  # fmt: skip
        self.fields[f"{start}changes_offer"] = forms.BooleanField(required=False, label="It costs that from now on")
        self.fields[f"{start}rest"] = forms.ChoiceField(
            label="What did not come", required=False, choices=_REST, error_messages={"invalid_choice": "Choose from the list."}
        )  # fmt: skip
        self.fields[f"{start}rest_why"] = ReasonField(label="Why it will not come", required=False)

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
        return LineFields(line, some("packs_0", "supplier_lot_0", "best_before_0"), more, is_opened)

    def came(self) -> list[LineCame]:
        """Return what came of each line of which anything is said."""
        found = [self._came_of(line) for line in self._lines]
        return [one for one in found if one.lots or one.refused_packs or one.ends_rest]

    def _came_of(self, line: OrderLine) -> LineCame:
        values, start = self.cleaned_data, f"l{line.pk}_"
        said = {name.removeprefix(start): value for name, value in values.items() if name.startswith(start)}
        standing = said["standing"] or values["standing"]
        places = [number for number in range(LOTS) if said[f"packs_{number}"]]
        self._lot_places[line.pk] = places
        lots = [self._lot(said, number, standing) for number in places]
        damaged, is_kept = said["damaged"] or 0, said["damaged_are"] != _NOT_TAKEN
        if damaged and is_kept:
            lots.append(
                LotCame(
                    damaged, supplier_lot=said["supplier_lot_0"], best_before=said["best_before_0"],
                    why=said["damaged_why"], is_damaged=True,
                )
            )  # fmt: skip
        return LineCame(
            line=line.pk, lots=lots, refused_packs=0 if is_kept else damaged, refused_why=said["damaged_why"],
            price=said["price"], ends_rest=said["rest"] == "ends", rest_why=said["rest_why"],
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
            if lot is not None and error.field == "why":
                error.field = f"l{line}_damaged_why"
            elif lot is not None and error.field in _OF_LOT and lot < len(self._lot_places[line]):
                error.field = f"l{line}_{_OF_LOT[error.field]}_{self._lot_places[line][lot]}"
            elif error.field in _OF_LINE:
                error.field = f"l{line}_{_OF_LINE[error.field]}"
        return error
