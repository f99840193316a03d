"""What a thing of a workshop is called, by the word that stands before its key in an address."""

import re
from collections.abc import Callable
from typing import Any, NamedTuple

from curehouse.curing.models import Position, Rack, Reading, Room, RoomReading, SampleBar
from curehouse.intake.models import Import
from curehouse.making.models import Batch, BatchHold, Formula, FormulaVersion, Pour, Run
from curehouse.notices.models import Notice
from curehouse.selling.models import Market
from curehouse.workshops.models import DeviceToken, Invitation, Member, Scale, ScaleTare, Workshop
from curehouse.workshops.scoping import ScopedModel
from inventory.models import Count, Lot, LotFile, Material, Movement, Offer, Order, StoreCount, Supplier

_KEY = re.compile(r"(?P<word>[a-z-]+)/<int:pk>")


class _Kind(NamedTuple):
    model: type[ScopedModel]
    with_it: tuple[str, ...] = ()
    words: Callable[[Any], str] = str


_BATCH = _Kind(Batch, ("formula",))
_BAR = _Kind(SampleBar, ("batch__formula",), lambda bar: f"{bar.batch}, bar {bar.letter}")
_FILE = _Kind(LotFile, ("lot__material",), lambda file: f"{file.name} of {file.lot}")
_KINDS = {
    "batches": _BATCH,
    "sample-bars": _BAR,
    "round": _BAR,
    "readings": _Kind(
        Reading,
        ("bar__batch__formula",),
        lambda reading: f"{reading.bar.batch}, bar {reading.bar.letter}, {reading.weight_g.normalize():f} g",
    ),
    "holds": _Kind(BatchHold, ("batch__formula",), lambda hold: str(hold.batch)),
    "formulas": _Kind(Formula),
    "runs": _Kind(Run, ("formula",)),
    "pours": _Kind(Pour, ("version__formula",)),
    "versions": _Kind(FormulaVersion, ("formula",)),
    "racks": _Kind(Rack),
    "rooms": _Kind(Room),
    "room-readings": _Kind(RoomReading, ("room",), lambda reading: f"{reading.room}, {reading}"),
    "positions": _Kind(Position, ("rack",)),
    "lots": _Kind(Lot, ("material",)),
    "materials": _Kind(Material),
    "markets": _Kind(Market),
    "suppliers": _Kind(Supplier),
    "offers": _Kind(Offer, ("material", "supplier")),
    "orders": _Kind(Order, ("supplier",)),
    "movements": _Kind(Movement, ("lot__material",), lambda movement: str(movement.lot)),
    "counts": _Kind(Count, ("lot__material",), lambda count: str(count.lot)),
    "store-counts": _Kind(StoreCount, (), lambda walk: f"begun {walk.begun_at:%Y-%m-%d %H:%M} UTC"),
    "files": _FILE,
    "papers": _FILE,
    "imports": _Kind(Import),
    "notices": _Kind(Notice),
    "scales": _Kind(Scale),
    "tares": _Kind(ScaleTare, ("scale",), lambda tare: f"{tare.name} on {tare.scale}"),
    "devices": _Kind(DeviceToken),
    "people": _Kind(Member, ("user",), lambda member: member.user.name),
    "invitations": _Kind(Invitation),
}


def word_of(route: str) -> str:
    """Return the word before the key of a route, ``batches`` of ``batches/<int:pk>/cut/``; nothing where it has none."""
    found = _KEY.search(route)
    return found["word"] if found else ""


def has_name(word: str) -> bool:
    """Return whether what a key after *word* is of has a name of its own."""
    return word in _KINDS


def name_of(workshop: Workshop, word: str, pk: int) -> str:
    """Return the name of the thing that *word* and *pk* say, nothing where it is not here.

    Raises ``LookupError`` for a word nobody has named yet.
    """
    kind = _KINDS.get(word)
    if kind is None:
        raise LookupError(f"flows/named.py does not say what the key after “{word}” is of.")
    row = kind.model.objects.within(workshop).select_related(*kind.with_it).filter(pk=pk).first()
    return "" if row is None else kind.words(row)
