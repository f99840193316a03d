"""The second step of signing in: which codes open, how often, and what is kept of them."""

import base64
from datetime import UTC, datetime, timedelta

import pyotp
import pytest
from django.core import serializers
from django.test import override_settings

from curehouse.common.errors import Conflict, Invalid
from curehouse.workshops.changes import let_in_anew
from curehouse.workshops.models import RecoveryCode, SecondStep
from curehouse.workshops.services import second_step
from curehouse.workshops.services.second_step import (
    RECOVERY_CODES,
    Way,
    address_for_app,
    new_seed,
    renew_codes,
    secret_of,
    switch_off_by_password,
    switch_on,
    use_code,
)
from tests.world import PASSWORD, World

pytestmark = pytest.mark.django_db
SEED = "a seed of a test"


def code_at(at: datetime, seed: str = SEED) -> str:
    return pyotp.TOTP(secret_of(seed)).at(at)


def switched_on(world: World) -> list[str]:
    said = {"code": code_at(world.now), "present_password": PASSWORD}
    return switch_on(person=world.owner, seed=SEED, at=world.now, **said)


def use(world: World, typed: str, *, later: timedelta = timedelta(0)) -> Way | None:
    return use_code(person=world.owner, typed=typed, at=world.now + later)


# RFC 6238, Appendix B (SHA-1), the last six of the eight digits there.
@pytest.mark.parametrize(
    ("unix_time", "code"),
    [
        (59, "287082"),
        (1111111109, "081804"),
        (1111111111, "050471"),
        (1234567890, "005924"),
        (2000000000, "279037"),
        (20000000000, "353130"),
    ],
)
def test_codes_are_those_of_the_standard(world: World, monkeypatch: pytest.MonkeyPatch, unix_time: int, code: str) -> None:
    secret = base64.b32encode(b"12345678901234567890").decode()
    monkeypatch.setattr(second_step, "secret_of", lambda seed: secret)
    SecondStep.objects.create(person=world.owner, seed=SEED, on_since=world.now, last_step=0)
    at = datetime.fromtimestamp(unix_time, UTC)
    assert use_code(person=world.owner, typed=code, at=at) is Way.APP
    assert use_code(person=world.owner, typed=code, at=at) is None


@pytest.mark.parametrize(("steps_off", "opens"), [(-2, False), (-1, True), (0, True), (1, True), (2, False)])
def test_a_clock_may_be_one_step_off(world: World, steps_off: int, opens: bool) -> None:
    switched_on(world)
    later = timedelta(minutes=10)
    typed = code_at(world.now + later + timedelta(seconds=30 * steps_off))
    assert use(world, typed, later=later) is (Way.APP if opens else None)


def test_a_code_opens_once_and_none_before_it_after(world: World) -> None:
    switched_on(world)
    assert use(world, code_at(world.now)) is None, "it was used up by switching on"
    later = timedelta(minutes=5)
    before, now = code_at(world.now + later - timedelta(seconds=30)), code_at(world.now + later)
    assert use(world, f" {now[:3]} {now[3:]} ", later=later) is Way.APP
    assert use(world, now, later=later) is None
    assert use(world, now, later=later + timedelta(seconds=30)) is None
    assert use(world, before, later=later) is None
    assert use(world, code_at(world.now + later + timedelta(seconds=30)), later=later + timedelta(seconds=30)) is Way.APP


def test_a_recovery_code_opens_once_however_it_is_typed(world: World) -> None:
    codes = switched_on(world)
    assert len(set(codes)) == RECOVERY_CODES
    assert use(world, codes[3].upper().replace("-", " ")) is Way.RECOVERY
    assert use(world, codes[3]) is None
    assert use(world, codes[4]) is Way.RECOVERY
    assert RecoveryCode.objects.unused(world.owner.second_step).count() == RECOVERY_CODES - 2


def test_codes_open_for_their_person_only(world: World, stranger: World) -> None:
    codes = switched_on(world)
    theirs = new_seed()
    said = {"code": code_at(world.now, theirs), "present_password": PASSWORD}
    switch_on(person=stranger.owner, seed=theirs, at=world.now, **said)
    assert use_code(person=stranger.owner, typed=codes[0], at=world.now) is None
    later = world.now + timedelta(minutes=5)
    assert use_code(person=stranger.owner, typed=code_at(later), at=later) is None


@pytest.mark.parametrize("typed", ["", "-", "000000", "12345", "१२३४५६", "ß" * 16, "a" * 200])
def test_what_is_no_code_opens_nothing(world: World, typed: str) -> None:
    switched_on(world)
    assert use(world, typed) is None


def test_where_it_is_off_no_code_opens(world: World) -> None:
    assert use(world, code_at(world.now)) is None


@pytest.mark.parametrize(("wrong", "code"), [("code", "code"), ("present_password", "present_password")])
def test_it_goes_on_only_with_a_right_code_and_the_password(world: World, wrong: str, code: str) -> None:
    said = {"code": code_at(world.now), "present_password": PASSWORD} | {wrong: "000000"}
    with pytest.raises(Invalid) as refused:
        switch_on(person=world.owner, seed=SEED, at=world.now, **said)
    assert refused.value.code == code
    assert not SecondStep.objects.exists()


def test_an_app_is_not_put_in_anothers_place(world: World) -> None:
    switched_on(world)
    other = new_seed()
    with pytest.raises(Conflict, match="on already"):
        switch_on(
            person=world.owner, seed=other, code=code_at(world.now, other), present_password=PASSWORD, at=world.now
        )  # fmt: skip


def test_new_codes_put_the_old_ones_out(world: World) -> None:
    old = switched_on(world)
    said = {"person": world.owner, "present_password": PASSWORD}
    new = renew_codes(codes_set=1, **said)
    assert use(world, old[0]) is None
    assert use(world, new[0]) is Way.RECOVERY
    with pytest.raises(Conflict, match="were made since"):
        renew_codes(codes_set=1, **said)
    assert use(world, new[1]) is Way.RECOVERY


def test_off_needs_the_password_and_takes_everything_with_it(world: World) -> None:
    codes = switched_on(world)
    with pytest.raises(Invalid, match="present password is not right"):
        switch_off_by_password(person=world.owner, present_password="quiet-linden-stairs")
    switch_off_by_password(person=world.owner, present_password=PASSWORD)
    assert (SecondStep.objects.count(), RecoveryCode.objects.count()) == (0, 0)
    assert use(world, codes[0]) is None
    for late in (
        lambda: switch_off_by_password(person=world.owner, present_password=PASSWORD),
        lambda: renew_codes(person=world.owner, present_password=PASSWORD, codes_set=1),
    ):
        with pytest.raises(Conflict, match="is off"):
            late()


def test_whoever_holds_the_house_switches_it_off(world: World) -> None:
    switched_on(world)
    let_in_anew(person=world.owner, password="")
    assert not SecondStep.objects.exists()


def test_a_copy_of_the_tables_makes_no_code(world: World) -> None:
    """Neither the secret nor a recovery code stands there; with another secret key the seed makes another secret."""
    codes = switched_on(world)
    kept = serializers.serialize("json", [*SecondStep.objects.all(), *RecoveryCode.objects.all()]).lower()
    secret = secret_of(SEED)
    raw = base64.b32decode(secret)
    for one in (secret.lower(), raw.hex(), *codes, *[code.replace("-", "") for code in codes]):
        assert one not in kept
    with override_settings(SECRET_KEY="another" * 9):
        assert secret_of(SEED) != secret
        assert use(world, codes[0]) is Way.RECOVERY, "a lost secret key shuts nobody out who kept the codes"


def test_what_an_app_reads(world: World) -> None:
    address = address_for_app(person=world.owner, seed=SEED)
    assert address == f"otpauth://totp/Curehouse:ottilie%40fennelyard.example?secret={secret_of(SEED)}&issuer=Curehouse"
    read = pyotp.parse_uri(address)
    assert (read.at(world.now), len(base64.b32decode(secret_of(SEED)))) == (code_at(world.now), 20)
