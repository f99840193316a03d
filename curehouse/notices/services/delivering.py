"""One attempt to deliver: claimed before, noted after, and always ending in a visible state."""

import logging
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Case, F, PositiveSmallIntegerField, When

from curehouse.common.claims import claim
from curehouse.common.nudges import nudge
from curehouse.common.time import local_day
from curehouse.notices.channels.outcome import End, Outcome
from curehouse.notices.kinds import Kind
from curehouse.notices.letters import digest_body, digest_title
from curehouse.notices.models import Delivery, Notice
from curehouse.notices.queries import STALE_AFTER
from curehouse.notices.services.telling import close
from curehouse.workshops.models import Member

logger = logging.getLogger(__name__)

# Longer than an attempt can take (channels.email), so that a lease that ran out means a dead worker.
LEASE = timedelta(seconds=60)
RETRY_AFTER = tuple(timedelta(minutes=minutes) for minutes in (1, 5, 15, 60, 240, 720))
# Once cut off and sent again is "perhaps twice"; a second time nobody is mailed a third.
MOST_UNSURE = 2

_State = Delivery.State


@transaction.atomic
def begin_attempt(*, workshop_id: int, delivery_id: int, mail_is_set_up: bool, at: datetime) -> Delivery | None:
    """Claim a delivery that is due and return it to be sent, or None.

    None where it is gone, not due, claimed by another, or has come to its end here: because the
    notice no longer stands, its reader left, it is too old, or no mail is set up. A delivery found
    *sending* was cut off between its sending and its marking: that counts as unsure.
    """
    row = Delivery.unscoped.filter(workshop_id=workshop_id, pk=delivery_id)
    was_cut_off = When(state=_State.SENDING, then=F("unsure_attempts") + 1)
    if not claim(
        row.due(at=at),
        at=at,
        lease=LEASE,
        state=_State.SENDING,
        attempts=F("attempts") + 1,
        unsure_attempts=Case(was_cut_off, default=F("unsure_attempts"), output_field=PositiveSmallIntegerField()),
    ):
        return None
    delivery = row.select_related("notice", "user", "workshop").get()
    end = _end_instead(delivery, mail_is_set_up=mail_is_set_up, at=at)
    if end is None:
        return delivery
    state, reason = end
    delivery.attempts -= 1
    _finish(delivery, state, reason, at=at)
    return None


def _end_instead(delivery: Delivery, *, mail_is_set_up: bool, at: datetime) -> tuple[str, str] | None:
    """Return the state and reason with which *delivery* ends unsent, or None if it is to be sent."""
    notice = delivery.notice
    if delivery.unsure_attempts >= MOST_UNSURE:
        return _State.UNKNOWN, "Cut off twice while it was being sent."
    if notice.kind == Kind.MORNING and notice.state == Notice.State.OPEN:
        _bring_up_to_date(notice, at=at)
    if notice.state != Notice.State.OPEN:
        return _unsent(delivery, _State.WITHDRAWN), notice.closed_why
    if not delivery.user.is_active or not Member.objects.within(delivery.workshop).of(delivery.user).exists():
        return _unsent(delivery, _State.WITHDRAWN), "The reader no longer works here."
    if not mail_is_set_up:
        return _unsent(delivery, _State.NO_MAIL), ""
    if notice.written_at < at - STALE_AFTER:
        return _unsent(delivery, _State.FAILED), _with_cause("It could not be sent within a day.", delivery.last_error)
    return None


def _bring_up_to_date(digest: Notice, *, at: datetime) -> None:
    """Let a digest say what is open when it goes out, or end it if all of it was seen to."""
    standing = list(Notice.objects.within(digest.workshop).open().order_by("pk"))
    if standing:
        workshop = digest.workshop
        day = local_day(digest.written_at, workshop.time_zone)
        digest.title = digest_title(workshop_name=workshop.name, day=day, notices=standing)
        digest.body = digest_body(standing)
        digest.save(update_fields=["title", "body"])
        return
    reason = "All that it repeated was seen to."
    close(workshop=digest.workshop, about=digest.about, kinds=[Kind.MORNING], reason=reason, at=at)
    digest.refresh_from_db()


@transaction.atomic
def end_attempt(*, delivery: Delivery, outcome: Outcome, at: datetime) -> Delivery | None:
    """Note what came of the attempt *delivery* was claimed for; None if the lease was lost to another."""
    row = Delivery.unscoped.filter(pk=delivery.pk, state=_State.SENDING, attempts=delivery.attempts)
    if not row.exists():
        logger.warning("mail noted too late: workshop=%s delivery=%s", delivery.workshop_id, delivery.pk)
        return None
    if outcome.end is End.SENT:
        return _finish(delivery, _State.SENT_PERHAPS_TWICE if delivery.unsure_attempts else _State.SENT, "", at=at)
    if outcome.is_for_all:
        _let_the_others_wait(outcome.reason, at=at)
    delivery.unsure_attempts += outcome.end is End.UNSURE
    is_last = delivery.attempts > len(RETRY_AFTER) or delivery.unsure_attempts >= MOST_UNSURE
    if is_last or outcome.end is End.REFUSED:
        return _finish(delivery, _unsent(delivery, _State.FAILED), outcome.reason, at=at)
    return _put_back(delivery, outcome.reason, at=at)


def _let_the_others_wait(reason: str, *, at: datetime) -> None:
    """Put back what is due, for it would fail alike: one letter tries the way, the others follow it.

    They have not been tried: no attempt is counted, and they wait no longer than after a first one.
    """
    until = at + RETRY_AFTER[0]
    waiting = Delivery.unscoped.filter(state=_State.WAITING, next_try_at__lt=until)
    number = waiting.update(next_try_at=until, last_error=_short(reason))
    if number:
        logger.info("deliveries put back until the mail server answers: number=%s", number)


def _unsent(delivery: Delivery, state: str) -> str:
    """Return *state*, unless an earlier attempt may have got through."""
    return _State.UNKNOWN if delivery.unsure_attempts else state


def _with_cause(sentence: str, cause: str) -> str:
    return f"{sentence} {cause}".strip()


def _put_back(delivery: Delivery, reason: str, *, at: datetime) -> Delivery:
    delivery.next_try_at = at + RETRY_AFTER[delivery.attempts - 1]
    return _write(delivery, _State.WAITING, reason, ended_at=None)


def _finish(delivery: Delivery, state: str, reason: str, *, at: datetime) -> Delivery:
    return _write(delivery, state, reason, ended_at=at)


def _write(delivery: Delivery, state: str, reason: str, *, ended_at: datetime | None) -> Delivery:
    delivery.state = state
    delivery.last_error = _short(reason)
    delivery.claimed_until = None
    delivery.ended_at = ended_at
    delivery.save(
        update_fields=[
            "state",
            "last_error",
            "claimed_until",
            "ended_at",
            "next_try_at",
            "attempts",
            "unsure_attempts",
        ]
    )
    logger.info(
        "delivery: workshop=%s notice=%s delivery=%s state=%s attempts=%s",
        delivery.workshop_id,
        delivery.notice_id,
        delivery.pk,
        state,
        delivery.attempts,
    )
    return delivery


def _short(reason: str) -> str:
    return reason[: Delivery._meta.get_field("last_error").max_length]


@transaction.atomic
def revive_without_mail(*, at: datetime) -> int:
    """Let what ended for want of mail go out after all, if it is open and not a day old; return how many."""
    found = list(Delivery.unscoped.without_mail(at=at).select_for_update(of=("self",)))
    for delivery in found:
        delivery.next_try_at = at
        _write(delivery, _State.WAITING, "", ended_at=None)
        nudge("jobs.deliver", delivery.workshop_id, delivery.pk)
    return len(found)
