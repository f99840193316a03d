"""Which workshop a request is at work in."""

from typing import Any

from rest_framework.exceptions import NotAuthenticated
from rest_framework.permissions import SAFE_METHODS, BasePermission
from rest_framework.request import Request

from curehouse.common.errors import Forbidden
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import DeviceToken, Member


class WorkshopMember(BasePermission):
    """Let devices and members in, and say as whom they act (``request.actor``)."""

    def has_permission(self, request: Request, view: Any) -> bool:
        """Set ``request.actor``; raise 401 for nobody and 403 for somebody without a workshop."""
        if isinstance(request.auth, DeviceToken):
            request.actor = Actor(workshop=request.auth.workshop, device=request.auth)
            return True
        if not request.user.is_authenticated:
            raise NotAuthenticated("Send a device's token, or sign in at the pages first.")
        member = _membership(request)
        if member.role == Member.Role.READER and request.method not in SAFE_METHODS:
            raise Forbidden("reader", "You may look at this workshop's records, not add to them: ask its owner.")
        request.actor = Actor(workshop=member.workshop, user=request.user)
        return True


def _membership(request: Request) -> Member:
    """Return the membership chosen in this session, or the person's oldest."""
    member = Member.unscoped.at_work(request.user, request.session)
    if member is None:
        raise Forbidden("no_workshop", "You are not a member of a workshop: ask its owner to let you in.")
    return member
