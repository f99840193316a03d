"""The first run: an owner, a workshop, a scale, and who is told what."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from curehouse.common.errors import Conflict
from curehouse.common.locking import lock_alone
from curehouse.notices.models import Delivery
from curehouse.notices.services import subscribe
from curehouse.workshops.models import User, Workshop
from curehouse.workshops.services import add_scale, make_person, open_workshop


@dataclass(frozen=True, slots=True)
class SetUpEntry:
    """What the first page asks for."""

    owner_name: str
    email: str
    password: str
    workshop_name: str
    unit: str
    time_zone: str
    currency: str
    round_days: tuple[int, ...]
    scale_name: str
    scale_step_g: Decimal


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
    return owner, workshop
