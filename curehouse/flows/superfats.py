"""What a batch really took decides its superfat: worked out anew, and told where it may be caustic by it."""

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from curehouse.core.chemistry.words import superfat_words
from curehouse.flows.verdict_notices import about
from curehouse.making.models import Batch
from curehouse.making.services import last_check_passed
from curehouse.making.services.superfats import Renewed, renew_superfat, superfat_today
from curehouse.notices.kinds import Kind
from curehouse.notices.models import Notice
from curehouse.notices.services import tell, withdraw


def superfat_said(batch: Batch) -> str:
    """Return in words what the superfat of *batch* is; empty where nothing was reckoned of it."""
    if batch.reckoned is None and batch.superfat_middle is None:
        return ""
    by = "by the lots it took" if batch.superfat_by_lots else "as reckoned from its formula"
    if batch.superfat_middle is None:
        return "Its superfat is not known: a saponification value or purity is missing, or the scale too coarse."
    middle, low = superfat_words(float(batch.superfat_middle)), superfat_words(float(batch.superfat_low))
    high = superfat_words(float(batch.superfat_high), up=True)
    low = low.removesuffix("\u00a0%")
    return f"Its superfat is {middle} (may be {low} to {high}), {by}."


# Half a point is more than the steps of a usual scale move it by.
_MATERIAL = 0.005


def superfat_said_today(batch: Batch) -> str:
    """Return in words what the superfat of *batch* would be by what is known of its fats today, where that differs.

    What was reckoned stays: it is what the batch was poured, confirmed and checked by.
    """
    if batch.superfat_middle is None or (found := superfat_today(batch)) is None:
        return ""
    now = found.of_fats
    kept = [float(one) for one in (batch.superfat_low, batch.superfat_middle, batch.superfat_high)]
    ends = zip((now.low, now.middle, now.high), kept, strict=True)
    turned = now.low < 0 <= kept[0]
    if not turned and all(abs(today - then) < _MATERIAL for today, then in ends):
        return ""
    low = superfat_words(now.low).removesuffix("\u00a0%")
    said = (
        f"The ranges of its fats were changed since: by them it would be {superfat_words(now.middle)} "
        f"(may be {low} to {superfat_words(now.high, up=True)}). What was reckoned then stays."
    )
    return f"{said} It may be caustic by them: check it before its bars leave." if turned else said


def what_next(batch: Batch) -> str:
    """Return what to do with a batch that may be caustic by its lots."""
    if last_check_passed(batch):
        return "Its safety check was passed before this was known: check it once more before its bars leave."
    return "Its bars go to nobody before its safety check is passed."


@transaction.atomic
def renew_superfats(*, batches: Iterable[Batch], at: datetime) -> list[Batch]:
    """Work out anew the superfat of *batches* (locked by the caller); return those that need their check since now."""
    renewed = [renew_superfat(batch=batch, at=at) for batch in batches]
    return [one.batch for one in renewed if one is not None and _told(one, at=at)]


def _told(one: Renewed, *, at: datetime) -> bool:
    """Tell of a batch that may be caustic by its lots, and take back what is so no more."""
    batch, thing = one.batch, about(one.batch.pk)
    if one.needs_check == one.needed_check:
        return False
    if not one.needs_check:
        reason = f"What was booked changed. {superfat_said(batch)}"
        withdraw(workshop=batch.workshop, about=thing, kinds=[Kind.CAUSTIC], reason=reason, at=at)
        return False
    so_far = Notice.objects.within(batch.workshop).filter(kind=Kind.CAUSTIC, about=thing).count()
    sentences = [superfat_said(batch), what_next(batch)]
    if left := batch.bars_cut - batch.bars_left:
        sentences.append(f"{left} of its bars left the cure already: look where they are.")
    tell(
        workshop=batch.workshop,
        key=f"{Kind.CAUSTIC}:{thing}:{so_far + 1}",
        kind=Kind.CAUSTIC,
        about=thing,
        mark="caustic",
        title=f"{batch} may be caustic",
        body="\n".join(sentences),
        path=f"/batches/{batch.pk}/",
        at=at,
    )
    return True
