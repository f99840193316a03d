"""Inviting somebody into a workshop, by a link that lets one person in, once, within a week."""

import logging
import secrets
from datetime import datetime, timedelta

from django.db import transaction

from curehouse.common.errors import Conflict, Gone, Invalid, NotHere
from curehouse.common.locking import lock_rows
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Invitation, Member, User
from curehouse.workshops.roles import Right
from curehouse.workshops.services.house import clean_email, digest_of
from curehouse.workshops.services.people import lock_people
from curehouse.workshops.services.rights import check_right

logger = logging.getLogger(__name__)

GOOD_FOR = timedelta(days=7)
_LONGEST_SECRET = 100


@transaction.atomic
def invite(*, actor: Actor, role: str, email: str, at: datetime) -> tuple[Invitation, str]:
    """Write an invitation; return it with its secret, which is shown once and not kept."""
    if role not in Member.Role.values:
        raise Invalid("role", "Choose what the person will be here.", field="role")
    lock_people(actor.workshop)
    check_right(actor, Right.KEEP_HOUSE)
    secret = secrets.token_urlsafe(32)
    invitation = Invitation.unscoped.create(
        workshop=actor.workshop,
        role=role,
        email=clean_email(email) if email.strip() else "",
        digest=digest_of(secret),
        made_by=actor.user,
        made_at=at,
        expires_at=at + GOOD_FOR,
    )
    logger.info("invited: workshop=%s invitation=%s", actor.workshop.pk, invitation.pk)
    return invitation, secret


@transaction.atomic
def withdraw(*, actor: Actor, invitation: Invitation, at: datetime) -> Invitation:
    """Let an invitation let nobody in any more; raises ``Conflict`` (used, withdrawn)."""
    check_right(actor, Right.KEEP_HOUSE)
    row = lock_rows(Invitation.objects.within(actor.workshop), [invitation.pk])[invitation.pk]
    if row.accepted_at is not None:
        raise Conflict("used", "This invitation was taken already: remove the person instead.")
    if row.withdrawn_at is not None:
        raise Conflict("withdrawn", "This invitation was withdrawn already.")
    row.withdrawn_at = at
    row.save(update_fields=["withdrawn_at"])
    return row


def find_invitation(*, secret: str, at: datetime) -> Invitation:
    """Return the invitation with this secret; raises ``NotHere``, or ``Gone`` (used, withdrawn, expired)."""
    rows = Invitation.unscoped.select_related("workshop", "made_by").filter(digest=digest_of(secret[:_LONGEST_SECRET]))
    invitation = rows.first()
    if invitation is None:
        raise NotHere("no_invitation", "There is no such invitation: check that the whole link was copied.")
    _check_open(invitation, at)
    return invitation


def _check_open(invitation: Invitation, at: datetime) -> None:
    ask = f"ask {invitation.made_by.name} for another"
    if invitation.accepted_at is not None:
        raise Gone("used", f"This invitation was used already; it lets one person in, once: {ask}.")
    if invitation.withdrawn_at is not None:
        raise Gone("withdrawn", f"This invitation was withdrawn: {ask}.")
    if invitation.expires_at <= at:
        raise Gone("expired", f"This invitation was good for {GOOD_FOR.days} days, which are over: {ask}.")
    if not Member.objects.within(invitation.workshop).owners().filter(user=invitation.made_by).exists():
        raise Gone("withdrawn", f"Whoever gave this invitation may not invite any more: ask an owner of {invitation.workshop}.")


@transaction.atomic
def accept(*, invitation: Invitation, person: User, at: datetime) -> Member:
    """Let *person* in by an invitation; of two at one moment one comes in.

    Raises ``Gone`` (used, withdrawn, expired) and ``Conflict`` (member_once: they are in already, and
    the invitation stays as it is).
    """
    lock_people(invitation.workshop)
    rows = Invitation.objects.within(invitation.workshop).select_related("made_by")
    row = lock_rows(rows, [invitation.pk])[invitation.pk]
    _check_open(row, at)
    if Member.objects.within(invitation.workshop).filter(user=person).exists():
        raise Conflict("member_once", f"You work in {invitation.workshop} already; the invitation is still good for another.")
    row.accepted_at, row.accepted_by = at, person
    row.save(update_fields=["accepted_at", "accepted_by"])
    member = Member.unscoped.create(workshop=invitation.workshop, user=person, role=row.role, joined_at=at)
    logger.info("joined: workshop=%s user=%s invitation=%s", invitation.workshop.pk, person.pk, row.pk)
    return member
