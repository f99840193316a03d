"""What people and scales change of themselves after the first day."""

import logging
import re
from datetime import datetime
from decimal import Decimal

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from curehouse.common.constraints import answered
from curehouse.common.errors import Conflict, Invalid
from curehouse.common.locking import lock_rows
from curehouse.common.units import SMALLEST_G, from_grams
from curehouse.workshops.models import DeviceToken, Invitation, Scale, ScaleTare, User
from curehouse.workshops.services import add_scale, add_tare, clean_email, clean_name, clean_signature, retire_scale
from curehouse.workshops.services.brake import forget_all
from curehouse.workshops.services.second_step import check_present_password, own_row, switch_off
from curehouse.workshops.sessions import end_other_sessions

logger = logging.getLogger(__name__)

_LONGEST_SCALE_NAME = 80
# As `_name_with_step` writes it.
_STEP_IN_NAME = re.compile(r" \(steps of [^()]*\)$")


@transaction.atomic
def change_person(*, person: User, name: str, email: str, present_password: str) -> User:
    """Change a person's own name and the address they sign in with.

    Another address needs the present password: whoever finds a phone lying open must not be able
    to take the house over. Raises ``Invalid`` (email_taken, present_password, ...).
    """
    row = own_row(person)
    clean, address = clean_signature(name, field="name", what="Your name"), clean_email(email)
    if address != row.email:
        check_present_password(row, present_password)
    row.name, row.email = clean, address
    try:
        with transaction.atomic():
            row.save(update_fields=["name", "email"])
    except IntegrityError as error:
        raise Invalid("email_taken", "This e-mail address is somebody else's here: type another.", field="email") from error
    logger.info("person changed: user=%s", row.pk)
    return row


@transaction.atomic
def change_password(*, person: User, present_password: str, password: str) -> User:
    """Change a person's own password, which ends every session begun with the old one.

    The door keeps the session it is asked in. Raises ``Invalid`` (present_password, password).
    """
    row = own_row(person)
    check_present_password(row, present_password)
    try:
        validate_password(password, user=row)
    except ValidationError as error:
        raise Invalid("password", " ".join(error.messages), field="password") from error
    row.set_password(password)
    row.save(update_fields=["password"])
    logger.info("password changed: user=%s", row.pk)
    return row


@transaction.atomic
def let_in_anew(*, person: User, password: str) -> bool:
    """Give a person a new password by whoever holds the house itself.

    All their sessions end, their second step is off, every brake lets go; return whether the second step was
    on. An empty *password* leaves the one they have. Raises ``Invalid`` (password).
    """
    row = own_row(person)
    if password:
        try:
            validate_password(password, user=row)
        except ValidationError as error:
            raise Invalid("password", " ".join(error.messages), field="password") from error
        row.set_password(password)
        row.save(update_fields=["password"])
    was_on = switch_off(person=row)
    end_other_sessions(person=row, keep=None)
    forget_all()
    logger.info("let in anew: user=%s password=%s", row.pk, bool(password))
    return was_on


def left_open_by(person: User, *, at: datetime) -> tuple[int, int]:
    """Return how many devices that a person let in, and invitations that they gave, still let somebody in."""
    devices = DeviceToken.unscoped.valid().filter(made_by=person).count()
    return devices, Invitation.unscoped.open(at).filter(made_by=person).count()


@transaction.atomic
def change_scale(*, scale: Scale, name: str, step_g: Decimal, at: datetime) -> Scale:
    """Rename a scale, or give it another step; return the scale that is in use from now on.

    What was weighed is judged by the step of its scale, read anew each time. So another step is
    another row: the old one is retired under a name that says its step, the new one takes its name and the
    tares that it can show.
    Raises ``Conflict`` (retired) and ``Invalid`` (name_taken, step, ...).
    """
    row = lock_rows(Scale.objects.within(scale.workshop), [scale.pk])[scale.pk]
    if row.retired_at is not None:
        raise Conflict("retired", f"{row.name} is out of use: add a scale instead.")
    if step_g == row.step_g:
        return _rename(row, name)
    _rename(row, _name_with_step(row))
    new = add_scale(workshop=scale.workshop, name=name, step_g=step_g)
    for tare in ScaleTare.objects.within(scale.workshop).in_use().filter(scale=row, weight_g__gte=step_g - SMALLEST_G):
        add_tare(scale=new, name=tare.name, weight_g=tare.weight_g)
    retire_scale(scale=row, at=at)
    return new


def scale_in_place_of(scale: Scale) -> Scale | None:
    """Return the scale in use that took the name of the retired *scale* when it got another step, or None."""
    name = _STEP_IN_NAME.sub("", scale.name)
    return Scale.objects.within(scale.workshop).in_use().filter(name=name).exclude(pk=scale.pk).first()


def _rename(scale: Scale, name: str) -> Scale:
    clean = clean_name(name, field="name", what="The scale's name", longest=_LONGEST_SCALE_NAME)
    taken = Invalid("name_taken", f"There is a scale called {clean} already: choose another name.", field="name")
    scale.name = clean
    with answered(Scale, {"scale_name_once": taken}):
        scale.save(update_fields=["name"])
    return scale


def _name_with_step(scale: Scale) -> str:
    """Return a free name that says the step: ``Kitchen scale (steps of 0.1 g)``."""
    unit = scale.workshop.unit
    step = f"{from_grams(scale.step_g, unit):.3f}".rstrip("0").rstrip(".")
    taken = set(Scale.objects.within(scale.workshop).values_list("name", flat=True))
    count, mark = 1, f" (steps of {step} {unit})"
    while (name := scale.name[: _LONGEST_SCALE_NAME - len(mark)].rstrip() + mark) in taken:
        count += 1
        mark = f" (steps of {step} {unit}, {count})"
    return name
