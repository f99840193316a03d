"""Writing notices with their causes, and ending them when the cause has changed."""

import logging
from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction

from curehouse.common.nudges import nudge
from curehouse.notices.kinds import Kind
from curehouse.notices.letters import digest_body, digest_title
from curehouse.notices.models import Delivery, Notice, Subscription
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import User, Workshop

logger = logging.getLogger(__name__)

_LONGEST_REASON = 300


@transaction.atomic
def tell(
    *,
    workshop: Workshop,
    key: str,
    kind: str,
    about: str,
    mark: str,
    title: str,
    body: str,
    path: str,
    at: datetime,
    sends: bool = True,
) -> Notice | None:
    """Write a notice and what is to leave the house of it; None where *key* was told before.

    Call it in the transaction of the cause. Who is sent it depends on the kind: see
    :meth:`SubscriptionQuerySet.to_be_told`. Unless it *sends*, it stands on Today and in the next digest only.
    """
    notice, is_new = Notice.unscoped.get_or_create(
        workshop=workshop,
        key=key,
        defaults={
            "kind": kind,
            "about": about,
            "mark": mark,
            "title": title,
            "body": body,
            "path": path,
            "written_at": at,
        },
    )
    if not is_new:
        return None
    deliveries = Delivery.unscoped.bulk_create(
        Delivery(workshop=workshop, notice=notice, user_id=wish.user_id, channel=wish.channel, next_try_at=at)
        for wish in Subscription.objects.within(workshop).to_be_told(kind).order_by("pk")
        if sends
    )
    for delivery in deliveries:
        nudge("jobs.deliver", workshop.pk, delivery.pk)
    logger.info("notice told: workshop=%s notice=%s key=%s", workshop.pk, notice.pk, key)
    return notice


def restate(*, notice: Notice, key: str, body: str, title: str | None = None, mark: str | None = None) -> None:
    """Let an open notice that is sent to nobody say the same of its thing for another reason or day."""
    notice.key, notice.body, notice.title = key, body, notice.title if title is None else title
    notice.mark = notice.mark if mark is None else mark
    notice.save(update_fields=["key", "body", "title", "mark"])
    logger.info("notice restated: workshop=%s notice=%s key=%s", notice.workshop_id, notice.pk, key)


def bring_back(*, notice: Notice, body: str) -> None:
    """Let a notice that is sent to nobody stand again: what ended it has changed back."""
    notice.state, notice.closed_why, notice.closed_at, notice.body = Notice.State.OPEN, "", None, body
    notice.save(update_fields=["state", "closed_why", "closed_at", "body"])
    logger.info("notice stands again: workshop=%s notice=%s key=%s", notice.workshop_id, notice.pk, notice.key)


def end_episode(*, notice: Notice) -> None:
    """Free the key of a notice whose cause is over, so that it is told again when it comes again.

    Such a notice stands under ``kind:about`` while its cause lasts, seen to or not.
    """
    notice.key = f"{notice.key}:{notice.pk}"
    notice.save(update_fields=["key"])


@transaction.atomic
def tell_morning(*, workshop: Workshop, day: date, at: datetime) -> Notice | None:
    """Write the digest of what is open on the morning of *day*; nothing open, no digest.

    The digest of the day before ends: what it repeated is in this one or seen to.
    """
    about = f"workshop:{workshop.pk}"
    close(workshop=workshop, about=about, kinds=[Kind.MORNING], reason="The next morning has come.", at=at)
    standing = list(Notice.objects.within(workshop).open().order_by("pk"))
    if not standing:
        return None
    return tell(
        workshop=workshop,
        key=f"{Kind.MORNING}:{day}",
        kind=Kind.MORNING,
        about=about,
        mark="",
        title=digest_title(workshop_name=workshop.name, day=day, notices=standing),
        body=digest_body(standing),
        path="/",
        at=at,
    )


def withdraw(*, workshop: Workshop, about: str, reason: str, at: datetime, kinds: Sequence[str] | None = None) -> int:
    """End the open notices about a thing because things have changed; return how many ended."""
    return _end_notices(workshop, about, kinds, state=Notice.State.WITHDRAWN, reason=reason, at=at)


def close(*, workshop: Workshop, about: str, reason: str, at: datetime, kinds: Sequence[str] | None = None) -> int:
    """End the open notices about a thing because it was seen to; return how many ended."""
    return _end_notices(workshop, about, kinds, state=Notice.State.DONE, reason=reason, at=at)


def see_to(*, actor: Actor, notice: Notice, at: datetime) -> int:
    """End a notice because a person says it is seen to; what else says the same of the thing ends with it."""
    reason = f"Seen to by {actor.user or actor.device}."
    return close(workshop=actor.workshop, about=notice.about, kinds=[notice.kind], reason=reason, at=at)


@transaction.atomic
def see_to_all(*, actor: Actor, notices: Sequence[Notice], at: datetime) -> int:
    """End several notices because a person says they are seen to; return how many ended."""
    return sum(see_to(actor=actor, notice=notice, at=at) for notice in notices)


@transaction.atomic
def _end_notices(workshop: Workshop, about: str, kinds: Sequence[str] | None, *, state: str, reason: str, at: datetime) -> int:
    """End notices and what of them has not left the house.

    A delivery that is being sent right now is left to its sender, who notes what came of it; one
    that was cut off before may have gone out, and says so.
    """
    why = reason[:_LONGEST_REASON]
    wanted = Notice.objects.within(workshop).to_end(about=about, kinds=None if kinds is None else list(kinds))
    ended = list(wanted.values_list("pk", flat=True))
    Notice.objects.within(workshop).filter(pk__in=ended).update(state=state, closed_why=why, closed_at=at)
    waiting = Delivery.objects.within(workshop).filter(notice__in=ended, state=Delivery.State.WAITING)
    end = {"ended_at": at, "last_error": why, "claimed_until": None}
    waiting.filter(unsure_attempts=0).update(state=Delivery.State.WITHDRAWN, **end)
    waiting.filter(unsure_attempts__gt=0).update(state=Delivery.State.UNKNOWN, **end)
    for pk in ended:
        logger.info("notice ended: workshop=%s notice=%s state=%s", workshop.pk, pk, state)
    return len(ended)


@transaction.atomic
def subscribe(*, workshop: Workshop, user: User, channel: str, at_once: bool = True, morning: bool = True) -> Subscription:
    """Note what a person wants to be told by a channel, or change what they wanted."""
    wishes = {"at_once": at_once, "morning": morning}
    subscription, _ = Subscription.unscoped.update_or_create(workshop=workshop, user=user, channel=channel, defaults=wishes)
    return subscription
