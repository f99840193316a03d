"""The only writer of weighings and of what people say of them."""

import logging
import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from curehouse.common.constraints import answered
from curehouse.common.errors import Conflict, Invalid
from curehouse.common.time import CLOCK_SLACK, local_day
from curehouse.curing.doubts import DoubtFound
from curehouse.curing.models import Reading, ReadingReview, SampleBar
from curehouse.workshops.actors import Actor
from curehouse.workshops.changes import scale_in_place_of
from curehouse.workshops.models import Scale

logger = logging.getLogger(__name__)

LARGEST_BAR_G = Decimal("20000")


@dataclass(frozen=True, slots=True)
class ReadingEntry:
    """A weighing as it comes in: whose id is the client's, whose moment is the scale's."""

    client_id: uuid.UUID
    moment: datetime
    weight_g: Decimal
    scale: Scale | None
    source: str
    firmness: str = ""
    dent_mm: Decimal | None = None
    dent_tool: str = ""
    typed: str = ""
    unit: str = "g"


def _check_scale(entry: ReadingEntry, *, time_zone: str) -> None:
    """Refuse a weighing on a scale that was out of use by then: its step is not what the weight was shown in."""
    scale = entry.scale
    if scale is None or scale.retired_at is None or entry.moment <= scale.retired_at:
        return
    successor = scale_in_place_of(scale)
    remedy = "send the id of the scale it stood on, or leave the scale out"
    if successor is not None:
        remedy = f"{successor.name} is id {successor.pk} now, send that"
    raise Conflict(
        "scale_retired",
        f"{scale.name} is out of use since {local_day(scale.retired_at, time_zone)}: {remedy}.",
        field="scale",
        **({} if successor is None else {"scale": successor.pk}),
    )


def check_entry(bar: SampleBar, entry: ReadingEntry, *, time_zone: str, at: datetime, corrects: Reading | None = None) -> None:
    """Refuse a weighing that cannot be right, whatever is on record of its bar.

    What stands in for *corrects* at its moment may keep its scale, whatever has become of that.
    """
    batch = bar.batch
    scale_pk = entry.scale.pk if entry.scale else None
    if corrects is None or (scale_pk, entry.moment) != (corrects.scale_id, corrects.moment):
        _check_scale(entry, time_zone=time_zone)
    if not 0 < entry.weight_g <= LARGEST_BAR_G:
        raise Invalid("weight", "The weight must be more than 0 g and at most 20 kg.", field="weight")
    if entry.moment > at + CLOCK_SLACK:
        raise Invalid("future", "The weighing lies in the future: check the clock of the device.", field="moment")
    if batch.cut_at is None:
        raise Conflict("not_cut", f"{batch} is not cut yet: enter the cut first.", field="bar")
    if bar.ended_at is not None and entry.moment >= bar.ended_at:
        raise Conflict("bar_ended", f"Bar {bar.letter} is not weighed any more: {bar.ended_why}.", field="bar")
    cut_day = local_day(batch.cut_at, time_zone)
    if entry.moment < batch.cut_at and local_day(entry.moment, time_zone) < cut_day:
        raise Invalid("before_cut", f"{batch} was cut on {cut_day}: a weighing cannot come before it.", field="moment")
    if entry.firmness and entry.firmness not in Reading.Firmness.values:
        raise Invalid("firmness", "Firmness is dents, gives or firm, or left out.", field="firmness")
    if entry.dent_mm is not None and (entry.dent_mm < 0 or not entry.dent_tool.strip()):
        raise Invalid("dent_tool", "Millimetres need the needle and load they were made with.", field="dent_tool")


def _row(actor: Actor, bar: SampleBar, entry: ReadingEntry, doubt: DoubtFound | None, *, at: datetime) -> Reading:
    """Return a row to be written; it is told keys only, since of many rows each object told costs time."""
    return Reading(
        workshop_id=actor.workshop.pk,
        bar_id=bar.pk,
        client_id=entry.client_id,
        moment=entry.moment,
        weight_g=entry.weight_g,
        scale_id=entry.scale.pk if entry.scale else None,
        firmness=entry.firmness,
        dent_mm=entry.dent_mm,
        dent_tool=" ".join(entry.dent_tool.split())[:80],
        doubt=doubt.kind if doubt else "",
        doubt_guess_g=doubt.guess_g if doubt else None,
        doubt_detail=doubt.detail if doubt else {},
        source=entry.source,
        received_at=at,
        by_user_id=actor.user.pk if actor.user else None,
        by_device_id=actor.device.pk if actor.device else None,
    )


def check_same(bar: SampleBar, entry: ReadingEntry, *, earlier: tuple[int, Decimal, datetime]) -> None:
    """Refuse *entry* if what came in under its id (bar, weight, moment) was another weighing."""
    if (bar.pk, entry.weight_g, entry.moment) != earlier:
        raise Conflict(
            "id_used", "This weighing's id was used for another weighing: send it with an id of its own.", field="client_id"
        )


def find_sent(*, actor: Actor, bar: SampleBar, entry: ReadingEntry) -> Reading | None:
    """Return the reading that came in before under this client id, or None.

    The same id with another bar, weight or moment is refused: the device mixed two up.
    """
    row = Reading.objects.within(actor.workshop).filter(client_id=entry.client_id).select_related("bar").first()
    if row is not None:
        check_same(bar, entry, earlier=(row.bar_id, row.weight_g, row.moment))
    return row


@transaction.atomic
def record_reading(*, actor: Actor, bar: SampleBar, entry: ReadingEntry, doubt: DoubtFound | None, at: datetime) -> Reading:
    """Write a weighing, with the doubt it raised if it did."""
    check_entry(bar, entry, time_zone=actor.workshop.time_zone, at=at)
    row = _row(actor, bar, entry, doubt, at=at)
    row.bar, row.scale = bar, entry.scale
    sent = Conflict("id_used", "This weighing came in just now from somewhere else.", field="client_id")
    with answered(Reading, {"reading_client_id_once": sent}):
        row.save(force_insert=True)
    logger.info("reading: workshop=%s bar=%s reading=%s doubt=%s", actor.workshop.pk, bar.pk, row.pk, row.doubt or "-")
    return row


@transaction.atomic
def record_readings(
    *, actor: Actor, entries: Sequence[tuple[SampleBar, ReadingEntry, DoubtFound | None]], at: datetime
) -> list[Reading]:
    """Write many weighings in one statement; the caller has left out those sent before."""
    for bar, entry, _doubt in entries:
        check_entry(bar, entry, time_zone=actor.workshop.time_zone, at=at)
    sent = Conflict(
        "id_used", "Some of these weighings came in just now from somewhere else: send them again.", field="client_id"
    )
    with answered(Reading, {"reading_client_id_once": sent}):
        return Reading.unscoped.bulk_create(_row(actor, bar, entry, doubt, at=at) for bar, entry, doubt in entries)


def sent_before(*, actor: Actor, client_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, Reading]:
    """Return the readings that came in before under these client ids."""
    rows = Reading.objects.within(actor.workshop).filter(client_id__in=list(client_ids))
    return {row.client_id: row for row in rows}


@transaction.atomic
def correct_reading(*, actor: Actor, reading: Reading, entry: ReadingEntry, doubt: DoubtFound | None, at: datetime) -> Reading:
    """Write the weighing that stands in for *reading*; the old row stays and points nowhere else."""
    check_entry(reading.bar, entry, time_zone=actor.workshop.time_zone, at=at, corrects=reading)
    if Reading.objects.within(actor.workshop).filter(corrects=reading).exists():
        raise Conflict("corrected", "This weighing was corrected already: correct the newer one.", field="reading")
    row = _row(actor, reading.bar, entry, doubt, at=at)
    row.bar, row.scale, row.corrects = reading.bar, entry.scale, reading
    sent = Conflict("id_used", "This weighing came in just now from somewhere else.", field="client_id")
    with answered(Reading, {"reading_client_id_once": sent}):
        row.save(force_insert=True)
    return row


@transaction.atomic
def review_reading(*, actor: Actor, reading: Reading, decision: str, reason: str, at: datetime) -> ReadingReview:
    """Write that a person keeps a weighing as it is, or strikes it out (with a reason)."""
    why = " ".join(reason.split())[:200]
    if decision == ReadingReview.Decision.STRUCK and not why:
        raise Invalid("missing", "Say why the weighing is struck out, such as wrong batch.", field="reason")
    if Reading.objects.within(actor.workshop).filter(corrects=reading).exists():
        raise Conflict("corrected", "This weighing was corrected already: look at the newer one.", field="reading")
    return ReadingReview.unscoped.create(
        workshop=actor.workshop, reading=reading, decision=decision, reason=why, at=at, **actor.signature
    )
