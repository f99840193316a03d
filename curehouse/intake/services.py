"""The only writer of imports, of what columns were said to be, and of the rows that came in."""

import logging
from collections.abc import Collection, Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction

from curehouse.common.claims import claim
from curehouse.common.constraints import answered
from curehouse.common.errors import Conflict
from curehouse.common.locking import lock_rows
from curehouse.common.nudges import nudge
from curehouse.common.steps import A_STEP, in_steps
from curehouse.common.uploads import NO_FILE, Kept
from curehouse.intake.models import BroughtRow, ColumnMemory, Import
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Workshop

logger = logging.getLogger(__name__)

TASK = "jobs.bring_in"
# Longer than the largest file takes, so that a lease that ran out means a dead worker.
LEASE = timedelta(minutes=10)
_State = Import.State
# Whoever asks once more, in a second window, is told what is true by now.
_ON_THEIR_WAY = {
    _State.CHECKING: ("not_checked", "is being checked: wait until that has ended."),
    _State.BRINGING: ("under_way", "is coming in already: wait until that has ended."),
    _State.BROUGHT: ("brought", "is brought in already: there is nothing more to do."),
}


@transaction.atomic
def write_import(
    *,
    actor: Actor,
    kind: str,
    name: str,
    kept: Kept,
    options: dict[str, Any],
    at: datetime,
    beside_name: str = "",
    beside: Kept = NO_FILE,
) -> Import:
    """Write that a file is here; *beside* is the table that goes with it."""
    row = Import.unscoped.create(
        workshop=actor.workshop,
        kind=kind,
        name=name,
        sha256=kept.sha256,
        kept_as=kept.name,
        beside_name=beside_name,
        beside_sha256=beside.sha256,
        beside_kept_as=beside.name,
        state=_State.LAID_OUT,
        options=options,
        laid_out_at=at,
        changed_at=at,
        **actor.signature,
    )
    logger.info("file laid out: workshop=%s import=%s kind=%s", actor.workshop.pk, row.pk, kind)
    return row


def lock_import(brought: Import) -> Import:
    """Return *brought* fresh and locked until the transaction ends."""
    return lock_rows(Import.unscoped.select_related("workshop", "by_user", "by_device"), [brought.pk])[brought.pk]


@transaction.atomic
def begin_checking(*, brought: Import, options: dict[str, Any], at: datetime) -> Import:
    """Let the worker check the file as *options* say; what was found before is forgotten."""
    row = lock_import(brought)
    if row.state == _State.BROUGHT:
        raise Conflict("brought", f"{row} is brought in already: choose the file again to bring in what is new in it.")
    if row.state in (_State.CHECKING, _State.BRINGING):
        raise Conflict("under_way", f"{row} is {row.get_state_display()}: wait until that has ended.")
    row.state, row.options, row.outcome, row.said, row.changed_at = _State.CHECKING, options, None, "", at
    row.claimed_until = None
    row.save(update_fields=["state", "options", "outcome", "said", "changed_at", "claimed_until"])
    nudge(TASK, row.workshop_id, row.pk)
    return row


@transaction.atomic
def lay_out_anew(*, brought: Import, options: dict[str, Any], at: datetime) -> Import:
    """Let a file that has not come in be read another way; what was found before is forgotten."""
    row = lock_import(brought)
    if row.state in (_State.BROUGHT, _State.CHECKING, _State.BRINGING):
        raise Conflict("under_way", f"{row} is {row.get_state_display()}: choose the file again to read it another way.")
    row.state, row.options, row.outcome, row.said, row.changed_at = _State.LAID_OUT, options, None, "", at
    row.save(update_fields=["state", "options", "outcome", "said", "changed_at"])
    return row


@transaction.atomic
def begin_bringing(*, brought: Import, at: datetime) -> Import:
    """Let the worker bring in what was checked; refused while a row of it is refused."""
    row = lock_import(brought)
    if row.state in _ON_THEIR_WAY:
        code, said = _ON_THEIR_WAY[_State(row.state)]
        raise Conflict(code, f"{row} {said}")
    if row.state != _State.CHECKED or row.outcome is None:
        raise Conflict("not_checked", f"{row} has not been checked: check it first.")
    if row.outcome["refused_rows"]:
        raise Conflict(
            "refused_rows", "All of a file comes in or nothing: mend the rows that are refused, then choose it again."
        )
    row.state, row.changed_at, row.claimed_until = _State.BRINGING, at, None
    row.save(update_fields=["state", "changed_at", "claimed_until"])
    nudge(TASK, row.workshop_id, row.pk)
    return row


def claim_import(*, workshop_id: int, import_id: int, at: datetime) -> Import | None:
    """Claim an import that is under way and return it, or None where it is not, or another has it."""
    row = Import.unscoped.filter(workshop_id=workshop_id, pk=import_id)
    if not claim(row.under_way(), at=at, lease=LEASE):
        return None
    return row.select_related("workshop", "by_user", "by_device").get()


@transaction.atomic
def end_step(*, brought: Import, state: str, outcome: dict[str, Any] | None, at: datetime, said: str = "") -> Import:
    """Note what came of checking or bringing (inside the transaction that did it)."""
    row = lock_import(brought)
    row.state, row.outcome, row.said, row.changed_at, row.claimed_until = state, outcome, said[:400], at, None
    row.save(update_fields=["state", "outcome", "said", "changed_at", "claimed_until"])
    logger.info("import: workshop=%s import=%s state=%s", row.workshop_id, row.pk, state)
    return row


@transaction.atomic
def remember_columns(*, workshop: Workshop, kind: str, said: Mapping[str, str]) -> None:
    """Keep what each header was said to be."""
    for header, key in sorted(said.items()):
        ColumnMemory.unscoped.update_or_create(workshop=workshop, kind=kind, header=memory_key(header), defaults={"key": key})


def memory_key(header: str) -> str:
    """Return a header as it is remembered."""
    return " ".join(header.lower().split())[:120]


def remembered_columns(*, workshop: Workshop, kind: str) -> dict[str, str]:
    """Return what headers were said to be, by :func:`memory_key`."""
    return dict(ColumnMemory.objects.within(workshop).filter(kind=kind).values_list("header", "key"))


def brought_before(*, workshop: Workshop, kind: str, keys: Iterable[str]) -> set[str]:
    """Return which of *keys* came in before."""
    found = set()
    for part in in_steps(keys):
        found |= set(BroughtRow.objects.within(workshop).filter(kind=kind, key__in=part).values_list("key", flat=True))
    return found


def booked_before(*, workshop: Workshop, kind: str, keys: Iterable[str]) -> dict[str, list[int]]:
    """Return which of *keys* came in before, each with the keys of the movements it came in as; none where none were noted."""
    found: dict[str, list[int]] = {}
    for part in in_steps(keys):
        rows = BroughtRow.objects.within(workshop).filter(kind=kind, key__in=part)
        found |= {key: booked or [] for key, booked in rows.values_list("key", "booked")}
    return found


@transaction.atomic
def note_brought(
    *,
    workshop: Workshop,
    kind: str,
    keys: Iterable[str],
    brought: Import | None,
    booked: Mapping[str, list[int]] | None = None,
    again: Collection[str] = (),
) -> None:
    """Note that rows came in, and as which movements (*booked*, by key); those of *again* came before and were taken back."""
    booked = {} if booked is None else booked
    rows = {
        key: BroughtRow(workshop=workshop, kind=kind, key=key, brought_by=brought, booked=booked.get(key)) for key in keys
    }  # fmt: skip
    meanwhile = Conflict("sent_before", "A row of this file was brought in just now: check the file again.")
    with answered(BroughtRow, {"broughtrow_once": meanwhile}):
        BroughtRow.unscoped.bulk_create([row for key, row in rows.items() if key not in again], batch_size=A_STEP)
    for part in in_steps(sorted(again)):
        for before in BroughtRow.objects.within(workshop).filter(kind=kind, key__in=part):
            before.brought_by, before.booked = brought, booked.get(before.key)
            before.save(update_fields=["brought_by", "booked"])
