"""Which workshop a request is at work in."""

from typing import Any

from rest_framework.exceptions import NotAuthenticated
from rest_framework.permissions import SAFE_METHODS, BasePermission
from rest_framework.request import Request

from curehouse.common.errors import Forbidden
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import DeviceToken, Member
from curehouse.workshops.roles import Right, rights_of_device, rights_of_member
from curehouse.workshops.services.rights import refusal


class WorkshopMember(BasePermission):
    """Let devices and members in that may do this, and say as whom they act (``request.actor``, ``request.rights``)."""

    def has_permission(self, request: Request, view: Any) -> bool:
        """Note who acts; raise 401 for nobody, and 403 for whoever lacks the right that the view asks for.

        Nothing of what is asked for is looked up before, so that a refusal says nothing of what is there.
        """
        if isinstance(request.auth, DeviceToken):
            self._device(request, request.auth)
        elif request.user.is_authenticated:
            self._person(request)
        else:
            raise NotAuthenticated("Send a device's token, or sign in at the pages first.")
        needed = [view.reads] if request.method in SAFE_METHODS else [view.reads, getattr(view, "writes", view.reads)]
        for right in needed:
            if right not in request.rights:
                raise refusal_of(request, right)
        return True

    def _device(self, request: Request, token: DeviceToken) -> None:
        giver = Member.objects.within(token.workshop).of(token.made_by).first()
        request.actor = Actor(workshop=token.workshop, device=token)
        request.rights = rights_of_device(token.reach, giver and giver.role)

    def _person(self, request: Request) -> None:
        member = Member.unscoped.at_work(request.user, request.session)
        if member is None:
            raise Forbidden("no_workshop", "You are not a member of a workshop: ask its owner to let you in.")
        request.actor = Actor(workshop=member.workshop, user=request.user)
        request.member, request.rights = member, rights_of_member(member.role)


def refusal_of(request: Request, right: Right) -> Forbidden:
    """Return what whoever was let in is told, who lacks the right."""
    if isinstance(request.auth, DeviceToken):
        reach = request.auth.get_reach_display()
        return Forbidden("role", f"This device's token does not reach so far ({reach}): ask the owner for another.")
    return refusal(request.member, right)
