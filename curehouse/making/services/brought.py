"""The writer of batches that were made before the house knew of them."""

import logging
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from curehouse.common.constraints import answered
from curehouse.common.errors import Conflict
from curehouse.making.models import Batch, BatchHold, BatchUse, Formula
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Workshop
from curehouse.workshops.services import clean_name, reserve_batch_numbers
from inventory.models import Irregular, Movement

logger = logging.getLogger(__name__)

# SQLite takes a few thousand values in one statement.
_MOST_AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class BroughtBatch:
    """A batch as a file knows it: ``bars`` is 0, the pour and the masses (grams) are None where it does not.

    ``water_share`` (0-1) is what the file states. One that is over comes in closed. ``needs_check``: its lye is doubtful.
    """

    known_as: str
    formula_name: str
    cut_at: datetime
    water_share: Decimal
    is_over: bool
    bars: int = 0
    poured_at: datetime | None = None
    fats_g: Decimal | None = None
    lye_g: Decimal | None = None
    koh_g: Decimal | None = None
    needs_check: bool = False
    note: str = ""


def _formulas(workshop: Workshop, names: Sequence[str]) -> tuple[dict[str, Formula], int]:
    """Return formulas by name in small letters, writing those that are new, and how many these are."""
    found = {formula.name.casefold(): formula for formula in Formula.objects.within(workshop)}
    new: dict[str, Formula] = {}
    for name in names:
        if name.casefold() not in found and name.casefold() not in new:
            clean = clean_name(name, field="formula", what="The formula's name")
            new[name.casefold()] = Formula(workshop=workshop, name=clean)
    Formula.unscoped.bulk_create(new.values())
    return found | new, len(new)


@transaction.atomic
def bring_batches(*, actor: Actor, entries: Sequence[BroughtBatch], at: datetime) -> list[Batch]:
    """Write batches under house numbers of their own, in the order given; return them in that order."""
    if not entries:
        return []
    workshop = actor.workshop
    formulas, _new = _formulas(workshop, [entry.formula_name for entry in entries])
    first = reserve_batch_numbers(workshop=workshop, count=len(entries))
    taken = Conflict("name_taken", "A batch of this name was brought in just now: check the file again.", field="batch")
    with answered(Batch, {"batch_known_as_once": taken}):
        batches = Batch.unscoped.bulk_create(
            Batch(
                workshop=workshop,
                formula=formulas[entry.formula_name.casefold()],
                number=first + index,
                known_as=entry.known_as,
                is_brought_in=True,
                state=Batch.State.CLOSED if entry.is_over else Batch.State.CURING,
                poured_at=entry.poured_at or entry.cut_at,
                pour_known=entry.poured_at is not None,
                cut_at=entry.cut_at,
                bars_cut=entry.bars,
                bars_left=0 if entry.is_over else entry.bars,
                fats_g=entry.fats_g,
                lye_g=entry.lye_g,
                koh_g=entry.koh_g,
                needs_check=entry.needs_check,
                check_by_formula=entry.needs_check,
                water_share_stated=entry.water_share,
                note=entry.note,
                written_at=at,
                **actor.signature,
            )
            for index, entry in enumerate(entries)
        )
    logger.info("batches brought in: workshop=%s batches=%s", workshop.pk, len(batches))
    return batches


@dataclass(frozen=True, slots=True)
class BatchTook:
    """A movement of the storeroom that a batch (locked by the caller) took, and why its lot was not in order, if so."""

    batch: Batch
    movement: Movement
    irregular: str


@transaction.atomic
def bring_batch_uses(*, actor: Actor, took: Sequence[BatchTook], at: datetime) -> list[BatchUse]:
    """Note what batches took; a lot that was not in order holds its batch, as it does in ``record_use``."""
    uses = BatchUse.unscoped.bulk_create(
        [
            BatchUse(
                workshop=actor.workshop, batch=one.batch, movement=one.movement, irregular=one.irregular,
                reason=one.movement.reason, written_at=at, **actor.signature,
            )
            for one in took
        ],
        batch_size=_MOST_AT_ONCE,
    )  # fmt: skip
    BatchHold.unscoped.bulk_create(
        BatchHold(
            workshop=actor.workshop,
            batch=use.batch,
            use=use,
            cause=f"{use.movement.lot} was {Irregular(use.irregular).label} when it went in",
            reason=use.reason,
            at=at,
            **actor.signature,
        )
        for use in uses
        if use.irregular
    )
    return uses
