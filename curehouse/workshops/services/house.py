"""The only writer of people, workshops, scales and devices."""

import hashlib
import logging
import secrets
import unicodedata
import zoneinfo
from collections.abc import Sequence
from datetime import datetime, time, timedelta
from decimal import Decimal
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.validators import MaxLengthValidator, validate_email
from django.db import IntegrityError, transaction
from django.utils.crypto import constant_time_compare

from curehouse.common.constraints import answered
from curehouse.common.errors import Conflict, Forbidden, Invalid
from curehouse.common.locking import lock_rows
from curehouse.common.time import local_day
from curehouse.common.units import GRAM, LARGEST_G, OUNCE, SMALLEST_G
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import DeviceToken, Member, Scale, ScaleCheck, ScaleTare, Submission, User, Workshop
from curehouse.workshops.roles import Reach
from curehouse.workshops.services.turn_days import clean_turn_every, clean_turn_for

logger = logging.getLogger(__name__)

DEFAULT_MORNING = time(6, 30)
TOKEN_PREFIX = "ch_"  # noqa: S105  (the mark our tokens start with, not a secret)
# As heavy as the heaviest bar that is weighed.
_HEAVIEST_TARE_G = Decimal(20_000)
# A device that weighs every minute must not write its last use every minute.
_LAST_USE_STEP = timedelta(minutes=10)
# Longer than anybody goes on sending the same thing.
SUBMISSIONS_KEPT_FOR = timedelta(days=30)


def clean_name(text: str, *, field: str, what: str, longest: int = 120, remedy: str = "type a name") -> str:
    """Return a name without stray white space; it must not be empty or hold control characters.

    *remedy* is what to do where it is missing.
    """
    name = " ".join(text.split())
    if not name:
        raise Invalid("missing", f"{what} is missing: {remedy}.", field=field)
    if len(name) > longest:
        raise Invalid("too_long", f"{what} has {len(name)} characters: keep it to {longest}.", field=field)
    if not name.isprintable():
        raise Invalid("not_printable", f"{what} holds characters that cannot be shown: type it again.", field=field)
    return name


def clean_signature(text: str, *, field: str, what: str, longest: int = 120) -> str:
    """Return the name of a person or device, which stands under what they write; the house's own and the shell's are taken."""
    name = clean_name(text, field=field, what=what, longest=longest)
    plain = unicodedata.normalize("NFKC", name).casefold()
    if plain == "curehouse" or plain.startswith("manage.py"):
        raise Invalid("name_taken", f"{what} cannot be {name}: Curehouse signs with it itself. Type another.", field=field)
    return name


def clean_email(text: str) -> str:
    """Return an e-mail address in small letters."""
    address = text.strip().lower()
    try:
        validate_email(address)
        MaxLengthValidator(254)(address)
    except ValidationError as error:
        raise Invalid(
            "email", "The e-mail address does not look complete: type it like ann@example.org.", field="email"
        ) from error
    return address


@transaction.atomic
def make_person(*, email: str, name: str, password: str, at: datetime) -> User:
    """Write a person who can sign in; the password is held to Django's validators."""
    address = clean_email(email)
    person = User(email=address, name=clean_signature(name, field="name", what="Your name"), joined_at=at)
    try:
        validate_password(password, user=person)
    except ValidationError as error:
        raise Invalid("password", " ".join(error.messages), field="password") from error
    person.set_password(password)
    if User.objects.filter(email=address).exists():
        raise Invalid("email_taken", "This e-mail address is in use already: sign in with it.", field="email")
    person.save(force_insert=True)
    return person


def clean_time_zone(text: str) -> str:
    """Return an IANA time zone name that this computer knows."""
    if text not in zoneinfo.available_timezones():
        raise Invalid("time_zone", "The time zone is not known: choose one such as Europe/Berlin.", field="time_zone")
    return text


def clean_round_days(days: Sequence[int]) -> list[int]:
    """Return weekdays (Monday is 0), at least one, in order."""
    chosen = sorted(set(days))
    if not chosen or not all(isinstance(day, int) and 0 <= day <= 6 for day in chosen):
        raise Invalid("round_days", "Choose at least one weekday for the round.", field="round_days")
    return chosen


def clean_currency(text: str) -> str:
    """Return an ISO 4217 code, as far as its shape tells."""
    code = text.strip().upper()
    if not (len(code) == 3 and code.isascii() and code.isalpha()):
        raise Invalid("currency", "The currency is a code of three letters, such as EUR.", field="currency")
    return code


def clean_unit(text: str) -> str:
    """Return g or oz."""
    if text not in {GRAM, OUNCE}:
        raise Invalid("unit", "Weights are shown in g or in oz: choose one.", field="unit")
    return text


@transaction.atomic
def open_workshop(
    *, owner: User, name: str, unit: str, time_zone: str, currency: str, round_days: Sequence[int], at: datetime
) -> Workshop:
    """Write a workshop and its owner's place in it.

    The morning of the day it is opened counts as done: nothing of it could be due yet.
    """
    zone = clean_time_zone(time_zone)
    workshop = Workshop.objects.create(
        name=clean_name(name, field="workshop_name", what="The workshop's name"),
        unit=clean_unit(unit),
        time_zone=zone,
        currency=clean_currency(currency),
        round_days=clean_round_days(round_days),
        morning_at=DEFAULT_MORNING,
        morning_done_on=local_day(at, zone),
        created_at=at,
    )
    Member.unscoped.create(workshop=workshop, user=owner, role=Member.Role.OWNER, joined_at=at)
    logger.info("workshop opened: workshop=%s user=%s", workshop.pk, owner.pk)
    return workshop


_CLEANERS = {
    "name": lambda value: clean_name(value, field="name", what="The workshop's name"),
    "unit": clean_unit,
    "time_zone": clean_time_zone,
    "currency": clean_currency,
    "round_days": clean_round_days,
    "turn_every_days": clean_turn_every,
    "turn_for_days": clean_turn_for,
}
# What money is lost by; None is reckoned.
_MONEY = {
    "late_batch_cost": "What a batch that waits costs", "late_day_cost": "What a day of waiting costs",
    "order_work_cost": "What the work of an order costs",
}  # fmt: skip
_MOST_MONEY = Decimal("9999999.99")
_TEXTS = {"check_method": 120, "check_limit": 200}
_RULE = ("min_days", "latest_day", "weekly_loss_limit_pct", "water_left_limit_pct")
_LATEST_LIMIT_DAYS = 730
_RULE_ANSWERS = {
    "workshop_weekly_loss_limit": Invalid(
        "loss_limit", "The weekly loss must be more than 0 and at most 10 %.", field="weekly_loss_limit_pct"
    ),
    "workshop_days_in_order": Invalid(
        "days_in_order", "The latest day must come after the minimum days, and within two years.", field="latest_day"
    ),
    "workshop_water_left_limit": Invalid(
        "water_limit", "The water left must be more than 0 and less than 100 %, or empty.", field="water_left_limit_pct"
    ),
}


def _clean_choice(name: str, value: Any) -> Any:
    if name in _CLEANERS:
        return _CLEANERS[name](value)
    if name in _TEXTS:
        text = " ".join(str(value).split())
        if len(text) > _TEXTS[name]:
            raise Invalid("too_long", f"Keep this to {_TEXTS[name]} characters.", field=name)
        return text
    if name in _MONEY:
        if value is not None and not 0 <= value <= _MOST_MONEY:
            raise Invalid("money", f"{_MONEY[name]} lies from 0 to {_MOST_MONEY:f}, or is left empty.", field=name)
        return value
    if name in _RULE or name == "morning_at":
        return value
    raise KeyError(name)


def _check_rule(*, min_days: int, latest_day: int, weekly_loss_limit_pct: Any, water_left_limit_pct: Any) -> None:
    """Say what the constraints would refuse, and what does not even fit their columns."""
    if min_days < 1:
        raise Invalid("days", "The minimum days must be 1 or more.", field="min_days")
    if not min_days < latest_day <= _LATEST_LIMIT_DAYS:
        raise _RULE_ANSWERS["workshop_days_in_order"]
    if not Decimal("0.001") <= Decimal(weekly_loss_limit_pct) <= 10:
        raise _RULE_ANSWERS["workshop_weekly_loss_limit"]
    if water_left_limit_pct is not None and not Decimal("0.01") <= Decimal(water_left_limit_pct) <= Decimal("99.99"):
        raise _RULE_ANSWERS["workshop_water_left_limit"]


@transaction.atomic
def change_preferences(*, workshop: Workshop, changes: dict[str, Any]) -> Workshop:
    """Change what a workshop chose for itself; unknown names raise ``KeyError``."""
    chosen = {name: _clean_choice(name, value) for name, value in changes.items()}
    _check_rule(**{name: chosen.get(name, getattr(workshop, name)) for name in _RULE})
    for name, value in chosen.items():
        setattr(workshop, name, value)
    with answered(Workshop, _RULE_ANSWERS):
        workshop.save(update_fields=list(chosen))
    return workshop


def _count_up(workshop: Workshop, counter: str, *, by: int = 1) -> int:
    locked = lock_rows(Workshop.objects.all(), [workshop.pk])[workshop.pk]
    number = getattr(locked, counter) + by
    setattr(locked, counter, number)
    locked.save(update_fields=[counter])
    return number


@transaction.atomic
def next_batch_number(*, workshop: Workshop) -> int:
    """Count one batch up and return its number; two callers never get the same."""
    return _count_up(workshop, "last_batch_number")


@transaction.atomic
def reserve_batch_numbers(*, workshop: Workshop, count: int) -> int:
    """Count *count* batches up and return the first of their numbers."""
    return _count_up(workshop, "last_batch_number", by=count) - count + 1


@transaction.atomic
def next_lot_number(*, workshop: Workshop) -> int:
    """Count one lot up and return its number; two callers never get the same."""
    return _count_up(workshop, "last_lot_number")


@transaction.atomic
def reserve_lot_numbers(*, workshop: Workshop, count: int) -> int:
    """Count *count* lots up and return the first of their numbers."""
    return _count_up(workshop, "last_lot_number", by=count) - count + 1


@transaction.atomic
def next_order_number(*, workshop: Workshop) -> int:
    """Count one order up and return its number; two callers never get the same."""
    return _count_up(workshop, "last_order_number")


@transaction.atomic
def add_scale(*, workshop: Workshop, name: str, step_g: Decimal) -> Scale:
    """Write a scale with its step (the smallest difference it shows), in grams."""
    if not SMALLEST_G <= step_g <= 100:
        raise Invalid("step", "The scale's step lies between 0.001 and 100 g, such as 0.1.", field="step_g")
    clean = clean_name(name, field="name", what="The scale's name", longest=80)
    taken = Invalid("name_taken", f"There is a scale called {clean} already: choose another name.", field="name")
    with answered(Scale, {"scale_name_once": taken}):
        return Scale.unscoped.create(workshop=workshop, name=clean, step_g=step_g)


@transaction.atomic
def retire_scale(*, scale: Scale, at: datetime) -> Scale:
    """Take a scale out of use; what was weighed on it stays on record."""
    scale.retired_at = at
    scale.save(update_fields=["retired_at"])
    return scale


@transaction.atomic
def check_scale(*, actor: Actor, scale: Scale, test_weight_g: Decimal, shown_g: Decimal, at: datetime) -> ScaleCheck:
    """Record what a scale showed for a known weight."""
    if not SMALLEST_G <= test_weight_g <= LARGEST_G:
        raise Invalid("not_positive", "The test weight must be more than 0 g and at most a tonne.", field="test_weight_g")
    if not 0 <= shown_g <= LARGEST_G:
        raise Invalid("shown", "What the scale showed lies between 0 g and a tonne.", field="shown_g")
    return ScaleCheck.unscoped.create(
        workshop=actor.workshop, scale=scale, at=at, test_weight_g=test_weight_g, shown_g=shown_g, **actor.signature
    )


@transaction.atomic
def add_tare(*, scale: Scale, name: str, weight_g: Decimal) -> ScaleTare:
    """Write what stands on a scale and can be forgotten, with its weight in grams."""
    if scale.retired_at is not None:
        raise Conflict("retired", f"{scale.name} is out of use: add the tare to a scale in use.")
    if not SMALLEST_G <= weight_g <= _HEAVIEST_TARE_G:
        raise Invalid("weight", "The tare's weight lies between 0.001 g and 20 kg, such as 84.0.", field="weight_g")
    # Weights are kept in milligrams, a step in ounces is not.
    if weight_g < scale.step_g - SMALLEST_G:
        raise Invalid("weight", "The tare weighs less than the scale shows: leave it out.", field="weight_g")
    clean = clean_name(name, field="name", what="The tare's name", longest=80)
    taken = Invalid("name_taken", f"{scale.name} has a tare called {clean} already: choose another name.", field="name")
    with answered(ScaleTare, {"scaletare_name_once": taken}):
        return ScaleTare.unscoped.create(workshop_id=scale.workshop_id, scale=scale, name=clean, weight_g=weight_g)


@transaction.atomic
def retire_tare(*, tare: ScaleTare, at: datetime) -> ScaleTare:
    """Say that a tare stands on its scale no more; retired twice, the first time counts."""
    if tare.retired_at is None:
        tare.retired_at = at
        tare.save(update_fields=["retired_at"])
    return tare


def digest_of(secret: str) -> str:
    """Return what is kept of a secret of 32 random bytes."""
    return hashlib.sha256(secret.encode()).hexdigest()


@transaction.atomic
def give_token(*, actor: Actor, name: str, reach: str, at: datetime) -> tuple[DeviceToken, str]:
    """Write a device's token; return it with its secret, which is shown once and not kept.

    32 random bytes need no slow hash: a digest suffices to make the stored value useless.
    """
    actor.must_be_a_person("give a device a token")
    if reach not in Reach.values:
        raise Invalid("reach", "Choose what the device may do.", field="reach")
    # Held while it is asked, so that no token is written just after its giver has gone.
    lock_rows(Workshop.objects.all(), [actor.workshop.pk])
    if not Member.objects.within(actor.workshop).of(actor.user).exists():
        raise Forbidden("left", f"You do not work in {actor.workshop} any more.")
    secret = TOKEN_PREFIX + secrets.token_urlsafe(32)
    token = DeviceToken.unscoped.create(
        workshop=actor.workshop,
        name=clean_signature(name, field="name", what="The device's name", longest=80),
        digest=digest_of(secret),
        hint=secret[:8],
        reach=reach,
        made_by=actor.user,
        made_at=at,
    )
    logger.info("token given: workshop=%s token=%s user=%s", actor.workshop.pk, token.pk, actor.user.pk)
    return token, secret


@transaction.atomic
def revoke_token(*, token: DeviceToken, at: datetime) -> DeviceToken:
    """Shut a device out from now on."""
    if token.revoked_at is not None:
        raise Conflict("revoked", "This token was taken back already.")
    token.revoked_at = at
    token.save(update_fields=["revoked_at"])
    return token


def find_token(*, secret: str, at: datetime) -> DeviceToken | None:
    """Return the valid token with this secret, noting its use, or None."""
    digest = digest_of(secret)
    token = DeviceToken.unscoped.valid().select_related("workshop", "made_by").filter(digest=digest).first()
    if token is None or not constant_time_compare(token.digest, digest):
        return None
    # Looked at first: an update that changes nothing would still wait for SQLite's one writer.
    if token.last_used_at is None or token.last_used_at < at - _LAST_USE_STEP:
        DeviceToken.unscoped.filter(pk=token.pk).last_used_before(at - _LAST_USE_STEP).update(last_used_at=at)
    return token


@transaction.atomic
def begin_submission(*, workshop: Workshop, key: str, content: bytes, at: datetime) -> tuple[Submission, bool]:
    """Return the submission under *key* and whether it is new.

    Call it inside the transaction that does the work: of two that arrive together the second
    waits, then finds the first one's answer. Other content under a used key raises ``Conflict``.
    """
    fingerprint = hashlib.sha256(content).hexdigest()
    try:
        with transaction.atomic():
            return Submission.unscoped.create(workshop=workshop, key=key, fingerprint=fingerprint, at=at), True
    except IntegrityError:
        earlier = Submission.objects.within(workshop).get(key=key)
    if earlier.fingerprint != fingerprint:
        raise Conflict("key_used", "This form was sent before with other content: open it anew and send it again.")
    return earlier, False


@transaction.atomic
def finish_submission(*, submission: Submission, answer: dict[str, Any]) -> Submission:
    """Keep what was answered, for the next time the same thing is sent."""
    submission.answer = answer
    submission.save(update_fields=["answer"])
    return submission


@transaction.atomic
def forget_submissions(*, workshop: Workshop, at: datetime) -> int:
    """Forget what was sent over :data:`SUBMISSIONS_KEPT_FOR` ago; return how many keys that were."""
    forgotten, _by_model = Submission.objects.within(workshop).filter(at__lt=at - SUBMISSIONS_KEPT_FOR).delete()
    return forgotten
