"""The only writer of pours at the table and of what is said at them."""

import logging
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.db import transaction

from curehouse.common.constraints import answered
from curehouse.common.errors import Conflict, Invalid, NotHere
from curehouse.common.locking import lock_rows
from curehouse.making.models import Batch, FormulaVersion, Pour, PourStep, Run
from curehouse.making.pouring.saying import Said, check_step
from curehouse.making.pouring.sheet import sheet_of
from curehouse.making.pouring.table import read_table
from curehouse.making.pouring.words import over_words, when_words
from curehouse.making.services.batches import lock_batch
from curehouse.making.services.pours import formula_to_pour
from curehouse.making.services.runs import clean_fats, still_planned
from curehouse.workshops.actors import Actor

logger = logging.getLogger(__name__)

Kind = PourStep.Kind
ENDS = (Kind.FINISHED, Kind.STOPPED)


@transaction.atomic
def begin_pour(*, actor: Actor, version: FormulaVersion, fats_g: Decimal, run: Run | None = None, at: datetime) -> Pour:
    """Begin a pour of *version*, of a planned run or without one; what is to be weighed is worked out now and kept.

    Raises ``Conflict`` where the run is over or under way already (``pour_open``, with its key), or where no lye
    may be weighed out by the version today (``no_lye``).
    """
    workshop = actor.workshop
    formula = formula_to_pour(workshop=workshop, version=version)
    if run is not None:
        run = still_planned(run)
        if run.formula_id != formula.pk:
            raise Conflict("other_formula", f"The run is of {run.formula}: begin its pour from its own page.", field="run")
        _check_not_open(run, at=at)
    sheet = sheet_of(version, clean_fats(fats_g), at=at)
    taken = Conflict("pour_open", "This run is being poured already: go on with that pour.", field="run")
    with answered(Pour, {"pour_one_open_of_a_run": taken}):
        pour = Pour.unscoped.create(
            workshop=workshop, version=version, run=run, fats_g=clean_fats(fats_g), sheet=sheet.as_plain(), begun_at=at,
            **actor.signature,
        )  # fmt: skip
    logger.info("pour begun: workshop=%s pour=%s", workshop.pk, pour.pk)
    return pour


def _check_not_open(run: Run, *, at: datetime) -> None:
    pour = Pour.objects.within(run.workshop).under_way().filter(run=run).first()
    if pour is not None:
        since = when_words(pour.begun_at, run.workshop, at=at)
        said = f"{pour.signed_by} is pouring this run since {since}: go on with that pour."
        raise Conflict("pour_open", said, field="run", pour=pour.pk)


def lock_pour(pour: Pour) -> Pour:
    """Return *pour* fresh and locked until the transaction ends; it comes before a formula and all else."""
    return lock_rows(Pour.unscoped.select_related("version__formula", "workshop", "run__formula", "batch__formula"), [pour.pk])[
        pour.pk
    ]


def lock_open_pour(pour: Pour, *, at: datetime) -> Pour:
    """Return *pour* fresh and locked; one that is over is a ``Conflict`` that says who ended it, when, and what came of it."""
    row = lock_pour(pour)
    if row.state != Pour.State.OPEN:
        raise Conflict("pour_over", over_words(row, at=at), pour=row.pk, batch=row.batch_id)
    return row


@transaction.atomic
def say_step(*, actor: Actor, pour: Pour, said: Said, at: datetime) -> PourStep:
    """Write down what was said at the table; sent again it is answered with the row that is there.

    What is off is asked about (``Conflict``: ``off_target``, ``off_band``, ``other_material``) until it stands.
    """
    row = lock_pour(pour)
    before = PourStep.objects.within(actor.workshop).filter(client_id=said.client_id).in_order().first()
    if before is not None:
        if before.pour_id != row.pk:
            raise Conflict("sent_before", "This step was sent for another pour already: load the page again.")
        return before
    row = lock_open_pour(row, at=at)
    if said.kind in ENDS or said.kind not in Kind.values:
        raise Invalid("kind", "Say what was done: choose a step of the pour.", field="kind")
    steps = tuple(PourStep.objects.within(actor.workshop).filter(pour=row).in_force().in_order())
    corrects = _corrected(steps, said)
    left = [step for step in steps if corrects is None or step.pk != corrects.pk]
    values = check_step(read_table(row, left), said, corrects, at=at)
    return PourStep.unscoped.create(
        workshop=actor.workshop, pour=row, client_id=said.client_id, kind=said.kind, corrects=corrects, at=at,
        **values, **actor.signature,
    )  # fmt: skip


def _corrected(steps: tuple[PourStep, ...], said: Said) -> PourStep | None:
    if said.corrects is None:
        if said.kind == Kind.UNSAID:
            raise Invalid("missing", "Say which step was said by mistake.", field="corrects")
        return None
    found = next((step for step in steps if step.pk == said.corrects), None)
    if found is None:
        raise NotHere("not_here", "There is no such step in this pour, or it was corrected already.")
    if said.kind not in (Kind.UNSAID, found.kind) or (said.kind == Kind.WEIGHED and said.slot != found.slot):
        raise Invalid("corrects", "A step is corrected by one of its own kind: choose that step again.", field="corrects")
    return found


@transaction.atomic
def end_pour(
    *, actor: Actor, pour: Pour, kind: str, client_id: UUID, words: str = "", batch: Batch | None = None, at: datetime
) -> Pour:
    """End *pour* (locked and open): finished or stopped, and what came of it."""
    PourStep.unscoped.create(
        workshop=actor.workshop, pour=pour, client_id=client_id, kind=kind, words=words, at=at, **actor.signature
    )  # fmt: skip
    pour.state = Pour.State.FINISHED if kind == Kind.FINISHED else Pour.State.STOPPED
    pour.batch, pour.ended_at = batch, at
    pour.save(update_fields=["state", "batch", "ended_at"])
    logger.info("pour ended: workshop=%s pour=%s state=%s", actor.workshop.pk, pour.pk, pour.state)
    return pour


@transaction.atomic
def demand_check(*, batch: Batch) -> Batch:
    """Make the safety check a condition of a batch whose pour was stopped, also once nothing holds it any more."""
    row = lock_batch(batch)
    row.check_by_formula = row.needs_check = True
    row.save(update_fields=["check_by_formula", "needs_check"])
    return row
