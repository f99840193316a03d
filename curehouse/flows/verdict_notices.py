"""Which change of a cure is told, and in which words; and a safety check that failed."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from curehouse.common.time import day_words, local_day
from curehouse.core.cure.advice import AFTER_FAILED_CHECK
from curehouse.curing.models import Cure
from curehouse.curing.models.verdicts import CHECK_FAILED, State
from curehouse.curing.outlook import TO_COME
from curehouse.making.leaving import GO_TO_NOBODY, obstacles_now
from curehouse.making.models import Batch, BatchHold, SafetyCheck
from curehouse.notices.kinds import FORETOLD, PROMISED, Kind
from curehouse.notices.models import Notice
from curehouse.notices.services import close, tell, withdraw

# "Not weighed" is told by the morning's list of what is due.
TOLD = {
    State.READY: "{batch} is ready",
    State.CHECK_DUE: "{batch} is dry enough: check due",
    State.TOO_SOFT: "{batch} is too soft",
    State.LOOK_AGAIN: "{batch}: look again",
}
FAILED = "{batch}: its safety check failed"
DRY_BUT_FAILED = "{batch} is dry enough, but its last safety check failed"


def about(batch_id: int) -> str:
    """Return the name under which notices speak of a batch."""
    return f"batch:{batch_id}"


def end_promises(*, batch: Batch, at: datetime) -> None:
    """Take back what was foretold of bars that go to nobody now."""
    stays = [one for one in obstacles_now(batch) if one.code in GO_TO_NOBODY]
    if stays:
        withdraw(workshop=batch.workshop, about=about(batch.pk), kinds=PROMISED, reason=stays[0].says, at=at)


@transaction.atomic
def tell_of_check(*, cure: Cure, checks: Sequence[SafetyCheck], at: datetime) -> bool:
    """Tell of the batch's last check (*checks* are newest first) if it failed, once a check.

    A later check ends what was told of an earlier one. Return whether something was told anew.
    """
    if not checks:
        return False
    last, workshop, thing = checks[0], cure.workshop, about(cure.batch_id)
    today = local_day(at, workshop.time_zone)
    made_on = day_words(local_day(last.at, workshop.time_zone), today=today)
    if last.passed:
        reason = f"A later safety check passed, on {made_on}."
        kinds = [Kind.CHECK_FAILED, Kind.CAUSTIC]
        close(workshop=workshop, about=thing, kinds=kinds, reason=reason, at=at)
        return False
    key = f"{Kind.CHECK_FAILED}:{thing}:{last.pk}"
    if Notice.objects.within(workshop).filter(key=key).exists():
        return False
    reason = f"Checked on {made_on}, and it failed."
    withdraw(workshop=workshop, about=thing, kinds=[Kind.CHECK_FAILED, Kind.CHECK_DUE, *PROMISED], reason=reason, at=at)
    note = f" ({last.note.rstrip('.')})" if last.note else ""
    sentences = (
        f"It failed on {made_on}, by {last.signed_by}: {last.method}, {last.value.rstrip('.')}{note}.",
        f"Your limit: {last.limit.rstrip('.')}.",
        "These bars go to nobody.",
        AFTER_FAILED_CHECK,
    )
    tell(
        workshop=workshop,
        key=key,
        kind=Kind.CHECK_FAILED,
        about=thing,
        mark=CHECK_FAILED,
        title=FAILED.format(batch=cure.batch),
        body="\n".join(sentences),
        path=f"/batches/{cure.batch_id}/",
        at=at,
    )
    return True


@transaction.atomic
def tell_of_change(*, cure: Cure, at: datetime, failure_told: bool = False, sends: bool = True) -> None:
    """Withdraw what was said of the batch's earlier state, and say the new one if it is told.

    With *failure_told* the check that failed was told just now, and "dry enough" would be no news beside it.
    Unless it *sends*, the notice stays in the house.
    """
    batch, assessment = cure.batch, cure.assessment
    failed = cure.shown_as == CHECK_FAILED
    now = FAILED.format(batch=batch) if failed else f"{batch} is now “{cure.get_state_display()}”"
    withdraw(
        workshop=cure.workshop,
        about=about(batch.pk),
        kinds=[str(state) for state in TOLD],
        reason=f"Changed meanwhile: {now}.",
        at=at,
    )
    if cure.state not in TO_COME:
        # What is measured answers what was foretold.
        withdraw(workshop=cure.workshop, about=about(batch.pk), kinds=FORETOLD, reason=f"{now}.", at=at)
    if cure.state not in TOLD or (failed and failure_told):
        return
    sentences = [reason["text"] for reason in assessment.reasons] + list(assessment.advice)
    hold = BatchHold.objects.within(cure.workshop).filter(batch=batch).standing().first()
    if hold is not None:
        sentences.insert(0, f"It is held: {hold.cause}. Its bars go to nobody until a person lifts the hold.")
    tell(
        workshop=cure.workshop,
        key=f"{cure.state}:{about(batch.pk)}:{cure.episode}",
        kind=cure.state,
        about=about(batch.pk),
        mark=cure.shown_as,
        title=(DRY_BUT_FAILED if failed else TOLD[State(cure.state)]).format(batch=batch),
        body="\n".join(sentences),
        path=f"/batches/{batch.pk}/",
        at=at,
        sends=sends,
    )
