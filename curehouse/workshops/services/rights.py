"""Whether somebody may do something now, and the one sentence by which they are told that they may not."""

from curehouse.common.errors import Forbidden
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Member
from curehouse.workshops.roles import Right, Role, rights_of_member, who_may


def check_right(actor: Actor, right: Right) -> None:
    """Raise ``Forbidden`` (role, left) unless the person who acts may do this, as things stand now.

    Doors ask before anything is looked up. What changes who may do what asks again, under its lock:
    since the door asked, the asker may have become something else.
    """
    place = None if actor.user is None else Member.objects.within(actor.workshop).of(actor.user).first()
    if place is None:
        raise Forbidden("left", f"You do not work in {actor.workshop} any more.")
    if right not in rights_of_member(place.role):
        raise refusal(place, right)


def refusal(place: Member, right: Right) -> Forbidden:
    """Return what somebody in *place* is told, who lacks the right: whose it is, and whom to ask."""
    owners = " or ".join(owner.user.name for owner in Member.objects.within(place.workshop).owners())
    return Forbidden(
        "role", f"This is for {who_may(right)} of {place.workshop}, and you are {Role(place.role).one} here: ask {owners}."
    )
