"""A workshop is opened, by the first run or by an owner who has one: with a scale, and who is told what."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from curehouse.common.errors import Conflict
from curehouse.common.locking import lock_alone, lock_rows
from curehouse.notices.models import Delivery
from curehouse.notices.services import subscribe
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import User, Workshop
from curehouse.workshops.roles import Right
from curehouse.workshops.services import add_scale, make_person, open_workshop
from curehouse.workshops.services.rights import check_right


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkshopEntry:
    """What a workshop begins with."""

    workshop_name: str
    unit: str
    time_zone: str
    currency: str
    round_days: tuple[int, ...]
    scale_name: str
    scale_step_g: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUpEntry(WorkshopEntry):
    """What the first page asks for."""

    owner_name: str
    email: str
    password: str


def is_set_up() -> bool:
    """Return whether somebody has set this house up already."""
    return Workshop.objects.exists()


@transaction.atomic
def set_up(*, entry: SetUpEntry, at: datetime) -> tuple[User, Workshop]:
    """Open the house; only the first caller may."""
    lock_alone("set-up")
    if is_set_up():
        raise Conflict("set_up", "This house is set up already: sign in.")
    owner = make_person(email=entry.email, name=entry.owner_name, password=entry.password, at=at)
    return owner, _open(owner=owner, entry=entry, at=at)


@transaction.atomic
def open_another(*, actor: Actor, entry: WorkshopEntry, at: datetime) -> Workshop:
    """Open another workshop of the person who acts, who keeps the house of one; nothing of the one is in the other.

    Raises ``Forbidden`` (role, left), and ``Conflict`` where they are in one of that name: sent twice it opens one.
    """
    person = lock_rows(User.objects.all(), [actor.user.pk])[actor.user.pk]
    check_right(actor, Right.KEEP_HOUSE)
    name = " ".join(entry.workshop_name.split())
    if any(place.name.casefold() == name.casefold() for place in Workshop.objects.of(person)):
        raise Conflict(
            "workshop_name_taken",
            f"You have a workshop called {name} already: choose another name, or go there under Your workshops.",
            field="workshop_name",
        )
    return _open(owner=person, entry=entry, at=at)


def _open(*, owner: User, entry: WorkshopEntry, at: datetime) -> Workshop:
    workshop = open_workshop(
        owner=owner,
        name=entry.workshop_name,
        unit=entry.unit,
        time_zone=entry.time_zone,
        currency=entry.currency,
        round_days=entry.round_days,
        at=at,
    )
    add_scale(workshop=workshop, name=entry.scale_name, step_g=entry.scale_step_g)
    subscribe(workshop=workshop, user=owner, channel=Delivery.Channel.EMAIL)
    return workshop
