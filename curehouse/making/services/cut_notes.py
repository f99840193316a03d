"""The only writer of what is seen at a cut."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from curehouse.common.errors import Conflict, Invalid
from curehouse.common.units import LARGEST_G, SMALLEST_G
from curehouse.making.models import Batch, CutNote
from curehouse.making.services.batches import lock_batch
from curehouse.workshops.actors import Actor

LONGEST_CUT_NOTE = 400


@dataclass(frozen=True, slots=True)
class CutSeen:
    """What is seen at a cut: how far it gelled (empty: nobody looked), the trimmings (None: not weighed), a note."""

    gel: str = ""
    trim_g: Decimal | None = None
    note: str = ""

    @property
    def is_empty(self) -> bool:
        """Return whether nothing is said."""
        return self == CutSeen()


@transaction.atomic
def note_cut(*, actor: Actor, batch: Batch, seen: CutSeen, at: datetime) -> CutNote:
    """Keep what was seen at the cut of *batch*; the same said again is returned as it is kept."""
    row = lock_batch(batch)
    if row.cut_at is None:
        raise Conflict("not_cut", f"{row} is not cut yet: say what is seen at its cut once it is cut.")
    said = CutSeen(seen.gel, seen.trim_g, " ".join(seen.note.split()))
    _check(said)
    newest = CutNote.objects.within(actor.workshop).filter(batch=row).newest_first().first()
    if newest is None and said.is_empty:
        raise Invalid("nothing", "Nothing is said yet: choose the gel, type the trimmings, or write a note.", field="gel")
    if newest is not None and said == CutSeen(newest.gel, newest.trim_g, newest.note):
        return newest
    return CutNote.unscoped.create(
        workshop=actor.workshop,
        batch=row,
        gel=said.gel,
        trim_g=said.trim_g,
        note=said.note,
        written_at=at,
        **actor.signature,
    )


def _check(said: CutSeen) -> None:
    if said.gel and said.gel not in CutNote.Gel.values:
        raise Invalid("gel", "The gel is seen all through, in part, or not: choose one, or leave it out.", field="gel")
    if said.trim_g is not None and (not 0 <= said.trim_g <= LARGEST_G or 0 < said.trim_g < SMALLEST_G):
        raise Invalid("mass", "The trimmings weigh 0 g or more, and at most a tonne: check the figure.", field="trim_g")
    if len(said.note) > LONGEST_CUT_NOTE:
        raise Invalid("too_long", f"Keep the note on the cut to {LONGEST_CUT_NOTE} characters.", field="note")
