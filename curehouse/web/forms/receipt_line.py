"""One line of a delivery: its fields, what is said in them, and the slips that are asked about before anything is booked."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from django import forms

from curehouse.common.units import LARGEST_G
from curehouse.web.forms.amounts import DayField, ReasonField, unit_field
from curehouse.web.forms.fields import NumberField, TextField, WholeField
from curehouse.web.forms.offers import MoneyField
from curehouse.workshops.models import Workshop
from inventory.models import MOST_PACKS, Lot, Material, OrderLine

# So many lot numbers on one line; a further one comes in by itself.
LOTS = 3
STANDING = [
    (Lot.Standing.RELEASED, "released: looked at, papers in order, may be used"),
    (Lot.Standing.QUARANTINE, "in quarantine: waits for its papers or a test"),
]
NOT_TAKEN, ENDS = "not_taken", "ends"
# What a person says of packs that are more than were to come: the very number that was asked about.
REALLY = "really"
_DAMAGED_ARE = [("quarantine", "kept, in quarantine"), (NOT_TAKEN, "not taken: still owed")]
_REST = [("", "is still to come"), (ENDS, "will not come")]
_OF_A_LOT = ("supplier_lot", "best_before", "amount")
_FROM_LIST = {"invalid_choice": "Choose from the list."}

Said = dict[str, Any]


def fields_of_line(line: OrderLine, workshop: Workshop) -> dict[str, forms.Field]:
    """Return the fields of a line, by what they say of it."""
    name, fields = line.material.name, {}
    for lot in range(LOTS):
        fields |= _fields_of_lot(line, workshop, lot)
    fields["standing"] = forms.ChoiceField(
        label="It is", required=False, choices=[("", "as said above"), *((value, value.label) for value, _word in STANDING)],
        error_messages=_FROM_LIST,
    )  # fmt: skip
    fields["why"] = ReasonField(label="What was checked, or what it waits for", required=False)
    fields["damaged"] = WholeField(
        what=f"The number of damaged packs of {name}", least=0, most=MOST_PACKS, required=False, label="Damaged packs",
        help_text="Beside the packs that came whole.",
    )  # fmt: skip
    fields["damaged_are"] = forms.ChoiceField(
        label="They are", required=False, choices=_DAMAGED_ARE, initial="quarantine", error_messages=_FROM_LIST
    )  # fmt: skip
    fields["damaged_why"] = ReasonField(label="What is wrong with them", required=False)
    fields["price"] = MoneyField(
        what=f"The price of {name}", label="A pack cost", workshop=workshop, places=4, required=False
    )  # fmt: skip
    fields["changes_offer"] = forms.BooleanField(required=False, label="It costs that from now on")
    fields["rest"] = forms.ChoiceField(label="What did not come", required=False, choices=_REST, error_messages=_FROM_LIST)
    fields["rest_why"] = ReasonField(label="Why it will not come", required=False)
    return fields


def _fields_of_lot(line: OrderLine, workshop: Workshop, lot: int) -> dict[str, forms.Field]:
    name, is_counted = line.material.name, line.material.measure == Material.Measure.PIECES
    packs, best_before = f"The number of packs of {name}", f"The best-before of {name}"
    fields: dict[str, forms.Field] = {
        f"packs_{lot}": WholeField(
            what=packs, least=0, most=MOST_PACKS, required=False, label="Packs of this lot" if lot else "Packs that came"
        ),
        f"supplier_lot_{lot}": TextField(
            what="The supplier's lot number", longest=120, required=False, label="Supplier’s lot number"
        ),
        f"best_before_{lot}": DayField(what=best_before, required=False, label="Best before"),
        f"amount_{lot}": NumberField(
            what=f"The amount of {name}", above=Decimal(0), most=LARGEST_G, required=False,
            label="Holds in all" + (", pieces" if is_counted else ""),
            help_text="Only where it is not what so many packs hold.",
        ),
    }  # fmt: skip
    if not is_counted:
        unit = unit_field(workshop)
        unit.initial, unit.required = str(workshop.unit), False
        fields[f"unit_{lot}"] = unit
    return fields


def packs_of(said: Said) -> int:
    """Return of how many packs a line tells, whole and damaged."""
    return sum(said[f"packs_{lot}"] or 0 for lot in range(LOTS)) + (said["damaged"] or 0)


def more_than_asked(line: OrderLine, said: Said) -> int:
    """Return of how many packs a line tells where that is more than were to come; 0 where it is not, or no more was."""
    packs = packs_of(said)
    return packs if 0 < line.open_packs < packs else 0


def slips_of(line: OrderLine, said: Said, *, really: str) -> Iterator[tuple[str, str]]:
    """Yield what cannot be meant as it is typed: the field, and what to do.

    More than was to come is believed once a person said that just so many packs came (*really*).
    """
    name, packs, to_come = line.material.name, packs_of(said), line.open_packs
    whole, damaged = packs - (said["damaged"] or 0), said["damaged"] or 0
    if more_than_asked(line, said) and really != str(packs):
        ask = "If some of them came damaged, only the others came whole." if damaged else "Check the figures."
        yield "packs_0", f"That makes {packs} packs of {name}, and {to_come} were to come. {ask}"
    for lot in range(LOTS):
        kept_damaged = lot == 0 and damaged and said["damaged_are"] != NOT_TAKEN
        if not said[f"packs_{lot}"] and not kept_damaged and any(said[f"{one}_{lot}"] for one in _OF_A_LOT):
            yield f"packs_{lot}", f"Say how many packs of {name} are of this lot, or clear what is typed of it."
    if said["damaged_why"] and not damaged:
        yield "damaged", f"Say how many packs of {name} are damaged, or clear what is wrong with them."
    kept = whole if said["damaged_are"] == NOT_TAKEN else packs
    if said["rest"] == ENDS and kept >= to_come:
        came = f"All {to_come} packs of {name} came by this" if to_come else f"No more of {name} was to come"
        yield "rest", f"{came}, so there is no rest: put the packs right, or leave the rest as still to come."
    elif said["rest_why"] and said["rest"] != ENDS:
        yield "rest", f"{name}: choose that it will not come, or clear why."
    if not kept:
        yield from _of_nothing(line, said)


def _of_nothing(line: OrderLine, said: Said) -> Iterator[tuple[str, str]]:
    """Yield what is said of packs though none came."""
    nothing = f"Nothing of {line.material.name} came by this"
    if said["changes_offer"] or said["price"] not in (None, line.price):
        yield "price", f"{nothing}, so nothing was paid for it: put the packs right, or the price as it was ordered."
    if said["why"]:
        yield "why", f"{nothing}: put the packs right, or clear this."
