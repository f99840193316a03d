"""Who works in a workshop: what they are there, and that they leave. One owner there always is.

Every change goes under the lock of the workshop's row and looks again, so two owners who remove
each other at one moment leave one.
"""

import logging
from datetime import datetime

from django.db import transaction

from curehouse.common.errors import Conflict, Invalid
from curehouse.common.locking import lock_rows
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import DeviceToken, Invitation, Member, User, Workshop
from curehouse.workshops.roles import Right
from curehouse.workshops.services.rights import check_right

logger = logging.getLogger(__name__)


def lock_people(workshop: Workshop) -> None:
    """Let nobody else change who works here until this transaction ends."""
    lock_rows(Workshop.objects.all(), [workshop.pk])


def _place_now(workshop: Workshop, member: Member) -> Member:
    row = Member.objects.within(workshop).select_related("user").filter(pk=member.pk).first()
    if row is None:
        raise Conflict("left", f"{member.user.name} does not work here any more.")
    return row


def _check_not_last_owner(workshop: Workshop, row: Member, what: str) -> None:
    others = Member.objects.within(workshop).owners().exclude(pk=row.pk)
    if row.role == Member.Role.OWNER and not others.exists():
        raise Conflict(
            "last_owner", f"{row.user.name} is the last owner of {workshop} and cannot {what}: make somebody else owner first."
        )


@transaction.atomic
def change_role(*, actor: Actor, member: Member, role: str, at: datetime) -> Member:
    """Make a member something else; raises ``Conflict`` (last_owner, left), ``Forbidden``, ``Invalid`` (role)."""
    if role not in Member.Role.values:
        raise Invalid("role", "Choose what this person is here.", field="role")
    lock_people(actor.workshop)
    check_right(actor, Right.KEEP_HOUSE)
    row = _place_now(actor.workshop, member)
    if role != Member.Role.OWNER:
        _check_not_last_owner(actor.workshop, row, "become anything else")
    row.role = role
    row.save(update_fields=["role"])
    if role != Member.Role.OWNER:
        _withdraw_invitations(row, at=at)
    logger.info("role changed: workshop=%s user=%s role=%s", actor.workshop.pk, row.user_id, role)
    return row


@transaction.atomic
def remove_member(*, actor: Actor, member: Member, at: datetime) -> Member:
    """End somebody's place here at once: their sessions and their devices reach this workshop no more."""
    lock_people(actor.workshop)
    check_right(actor, Right.KEEP_HOUSE)
    row = _place_now(actor.workshop, member)
    _check_not_last_owner(actor.workshop, row, "be removed")
    return _end(row, by=actor.user, at=at)


@transaction.atomic
def leave(*, actor: Actor, at: datetime) -> Member:
    """End one's own place; the last owner cannot."""
    lock_people(actor.workshop)
    row = Member.objects.within(actor.workshop).select_related("user").filter(user=actor.user).first()
    if row is None:
        raise Conflict("left", "You do not work here any more.")
    _check_not_last_owner(actor.workshop, row, "leave")
    return _end(row, by=actor.user, at=at)


def _withdraw_invitations(row: Member, *, at: datetime) -> None:
    """Withdraw what an owner who is none any more gave: by a link kept back they would come in again."""
    given = Invitation.objects.within(row.workshop).filter(made_by=row.user, accepted_at__isnull=True)
    given.filter(withdrawn_at__isnull=True).update(withdrawn_at=at)


def _end(row: Member, *, by: User | None, at: datetime) -> Member:
    row.left_at, row.ended_by = at, by
    row.save(update_fields=["left_at", "ended_by"])
    # For good: whoever comes back lets their devices in anew.
    DeviceToken.objects.within(row.workshop).filter(made_by=row.user, revoked_at__isnull=True).update(revoked_at=at)
    _withdraw_invitations(row, at=at)
    logger.info("member left: workshop=%s user=%s", row.workshop_id, row.user_id)
    return row
