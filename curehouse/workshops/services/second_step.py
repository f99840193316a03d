"""The second step of signing in: a code of an app (TOTP, RFC 6238), or a recovery code. The only writer of both.

Codes are made and spelt by pyotp, which does that and nothing else. Not django-otp: it brings devices, a
session and a throttle of its own, beside our brake, and reads a device's last code before it writes it.

The app's secret stands in no table. It is the first 160 bits (RFC 4226, section 4) of an HMAC over a random
seed with the house's secret key, so a copy of the tables alone makes no code; with another secret key every
app's codes end, and the recovery codes still open. These have 80 random bits, for which a digest suffices.
"""

import base64
import hashlib
import logging
import secrets
from datetime import datetime
from enum import StrEnum

import pyotp
from django.db import transaction
from django.db.models import F
from django.utils.crypto import constant_time_compare, salted_hmac

from curehouse.common.errors import Conflict, Invalid
from curehouse.common.locking import lock_rows
from curehouse.workshops.models import RecoveryCode, SecondStep, User

logger = logging.getLogger(__name__)

STEP_SECONDS = 30
RECOVERY_CODES = 10
# A clock may be so many steps off, to either side.
_DRIFT_STEPS = 1
_SECRET_BYTES = 20
_RECOVERY_BYTES = 10
_IN_A_GROUP = 4


class Way(StrEnum):
    """By what somebody passed the second step."""

    APP = "app"
    RECOVERY = "recovery"


def own_row(person: User) -> User:
    """Return a person's row, locked."""
    return lock_rows(User.objects.all(), [person.pk])[person.pk]


def check_present_password(person: User, typed: str) -> None:
    """Raise ``Invalid`` (present_password) unless *typed* is what the person signs in with now."""
    if not person.check_password(typed):
        wrong = "The present password is not right: type the one you sign in with now."
        raise Invalid("present_password", wrong, field="present_password")


def new_seed() -> str:
    """Return what a secret is made of."""
    return secrets.token_urlsafe(32)


def secret_of(seed: str) -> str:
    """Return the secret an app is given, in Base32."""
    digest = salted_hmac("curehouse.second-step", seed, algorithm="sha256").digest()
    return base64.b32encode(digest[:_SECRET_BYTES]).decode()


def address_for_app(*, person: User, seed: str) -> str:
    """Return the ``otpauth`` address that an app reads from a picture."""
    return pyotp.TOTP(secret_of(seed)).provisioning_uri(name=person.email, issuer_name="Curehouse")


@transaction.atomic
def switch_on(*, person: User, seed: str, code: str, present_password: str, at: datetime) -> list[str]:
    """Ask for a code at each sign-in from now on; return the recovery codes, which are kept nowhere.

    Raises ``Conflict`` (second_step_on) and ``Invalid`` (present_password, code); the code is used up.
    """
    row = own_row(person)
    if SecondStep.objects.of(row).exists():
        raise Conflict("second_step_on", "The second step is on already: switch it off first to give another app the key.")
    check_present_password(row, present_password)
    steps = _steps_of(seed, _plain(code), at)
    if not steps:
        raise Invalid(
            "code",
            "The code is not right: type the six digits the app shows now. If they are, set the phone's clock by the network.",
            field="code",
        )
    second = SecondStep.objects.create(person=row, seed=seed, on_since=at, last_step=steps[0])
    logger.info("second step on: user=%s", row.pk)
    return _write_codes(second)


@transaction.atomic
def switch_off_by_password(*, person: User, present_password: str) -> None:
    """Ask for no code any more; raises ``Conflict`` (second_step_off) and ``Invalid`` (present_password)."""
    row = own_row(person)
    check_present_password(row, present_password)
    if not switch_off(person=row):
        raise Conflict("second_step_off", "The second step is off already.")


@transaction.atomic
def switch_off(*, person: User) -> bool:
    """Forget a person's second step with its recovery codes; return whether it was on."""
    gone, _by_model = SecondStep.objects.of(person).delete()
    if gone:
        logger.info("second step off: user=%s", person.pk)
    return bool(gone)


@transaction.atomic
def renew_codes(*, person: User, present_password: str, codes_set: int) -> list[str]:
    """Make new recovery codes in place of those of *codes_set*; return them, the old ones open no more.

    Of two requests that saw the same set one makes codes: the other must not show any that are void
    by then. Raises ``Conflict`` (second_step_off, codes_made) and ``Invalid`` (present_password).
    """
    row = own_row(person)
    check_present_password(row, present_password)
    second = SecondStep.objects.of(row).first()
    if second is None:
        raise Conflict("second_step_off", "The second step is off: switch it on, and you get codes.")
    if not SecondStep.objects.filter(pk=second.pk, codes_set=codes_set).update(codes_set=F("codes_set") + 1):
        raise Conflict("codes_made", "New codes were made since this page was opened: use those, or make others.")
    second.recovery_codes.all().delete()
    logger.info("recovery codes made: user=%s", row.pk)
    return _write_codes(second)


@transaction.atomic
def use_code(*, person: User, typed: str, at: datetime) -> Way | None:
    """Use up the code that was typed; return what it was, or None where it does not open.

    By one conditional UPDATE: of any number of requests with one code, one comes in.
    """
    second = SecondStep.objects.of(person).first()
    if second is None:
        return None
    plain = _plain(typed)
    for step in _steps_of(second.seed, plain, at):
        if SecondStep.objects.filter(pk=second.pk).unused_since(step).update(last_step=step):
            return Way.APP
    unused = RecoveryCode.objects.unused(second).filter(digest=_digest_of(second, plain))
    return Way.RECOVERY if unused.update(used_at=at) else None


def _plain(typed: str) -> str:
    """Return a code without what makes it easier to read."""
    return "".join(typed.split()).replace("-", "").upper()


def _steps_of(seed: str, code: str, at: datetime) -> list[int]:
    """Return the steps around *at* whose code this is: nearly always one or none, the newest first."""
    app, now = pyotp.TOTP(secret_of(seed)), int(at.timestamp()) // STEP_SECONDS
    near = range(now + _DRIFT_STEPS, now - _DRIFT_STEPS - 1, -1)
    return [step for step in near if constant_time_compare(app.generate_otp(step), code)]


def _digest_of(second: SecondStep, code: str) -> str:
    return hashlib.sha256(f"{second.seed}:{code}".encode()).hexdigest()


def _write_codes(second: SecondStep) -> list[str]:
    codes = [base64.b32encode(secrets.token_bytes(_RECOVERY_BYTES)).decode() for _ in range(RECOVERY_CODES)]
    RecoveryCode.objects.bulk_create(RecoveryCode(second_step=second, digest=_digest_of(second, code)) for code in codes)
    return ["-".join(code[at : at + _IN_A_GROUP] for at in range(0, len(code), _IN_A_GROUP)).lower() for code in codes]
