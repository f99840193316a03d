"""Somebody comes into a workshop by an invitation, and is told its notices from then on."""

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from curehouse.notices.models import Delivery
from curehouse.notices.services import subscribe
from curehouse.workshops.models import Invitation, Member, User
from curehouse.workshops.services import make_person
from curehouse.workshops.services.invitations import accept


@dataclass(frozen=True, slots=True)
class Newcomer:
    """What somebody who is new to the house says of themselves."""

    name: str
    email: str
    password: str


@transaction.atomic
def join(*, invitation: Invitation, person: User, at: datetime) -> Member:
    """Let somebody in who is known to the house; raises ``Gone`` and ``Conflict``."""
    member = accept(invitation=invitation, person=person, at=at)
    subscribe(workshop=member.workshop, user=person, channel=Delivery.Channel.EMAIL)
    return member


@transaction.atomic
def join_new(*, invitation: Invitation, newcomer: Newcomer, at: datetime) -> Member:
    """Let somebody in who is new; raises ``Invalid`` besides, and then nobody was written."""
    person = make_person(email=newcomer.email, name=newcomer.name, password=newcomer.password, at=at)
    return join(invitation=invitation, person=person, at=at)
