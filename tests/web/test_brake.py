"""Guessing at the door: how many tries are looked at, for whom, and who comes in meanwhile."""

import base64
import re
import uuid
import zlib
from collections import Counter
from contextlib import suppress
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.hashers import MD5PasswordHasher
from django.core import signing
from django.http import HttpResponse
from django.test import Client, override_settings
from django.urls import reverse
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from curehouse.common.visitors import address_block
from curehouse.flows.join import Newcomer, join_new
from curehouse.workshops.changes import change_password
from curehouse.workshops.models import AuditEntry, DeviceToken, DoorCount, SecondStep, User
from curehouse.workshops.services import brake, give_token
from curehouse.workshops.services.brake import (
    ACCOUNT,
    ADDRESS,
    DEVICE,
    INVITATION,
    PRESENT,
    TOKEN,
    Limit,
    Try,
    forget_ended,
    take,
)
from curehouse.workshops.services.invitations import invite
from tests.web.reading_pages import words_of
from tests.world import PASSWORD, World

pytestmark = pytest.mark.django_db
WRONG = "quiet-linden-stairs"
NOBODY = "nobody@fennelyard.example"


class Hashes:
    """Counts how often a password is digested."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.times = 0
        digest = MD5PasswordHasher.encode

        def counted(hasher: MD5PasswordHasher, *said: Any) -> str:
            self.times += 1
            return digest(hasher, *said)

        monkeypatch.setattr(MD5PasswordHasher, "encode", counted)


@pytest.fixture
def hashes(monkeypatch: pytest.MonkeyPatch) -> Hashes:
    return Hashes(monkeypatch)


def sign_in(email: str, password: str = WRONG, *, client: Client | None = None, source: str = "192.0.2.1") -> HttpResponse:
    return (client or Client()).post(
        reverse("web:sign_in"), {"email": email, "password": password}, REMOTE_ADDR=source
    )  # fmt: skip


def tried(email: str, *, times: int, source: str = "192.0.2.{}") -> list[int]:
    return [sign_in(email, source=source.format(number % 250)).status_code for number in range(times)]


def test_of_guesses_at_one_account_ten_are_looked_at_wherever_they_come_from(world: World, hashes: Hashes) -> None:
    statuses = tried(world.owner.email, times=25)
    assert statuses == [200] * ACCOUNT.tries + [429] * (25 - ACCOUNT.tries)
    assert ACCOUNT.tries == hashes.times == AuditEntry.objects.within(world.workshop).filter(code="sign_in_wrong").count() == 10
    # Nor does the right one come in, so an answer tells nothing of the password.
    assert sign_in(world.owner.email, PASSWORD, source="198.51.100.7").status_code == 429


def test_of_guesses_from_one_address_thirty_are_looked_at_whatever_the_account(world: World) -> None:
    statuses = [sign_in(f"somebody{number}@fennelyard.example").status_code for number in range(40)]
    assert statuses == [200] * ADDRESS.tries + [429] * 10
    assert sign_in("somebody1@fennelyard.example", source="192.0.2.2").status_code == 200


def test_what_an_address_tries_beyond_its_number_shuts_no_account(world: World) -> None:
    for number in range(ADDRESS.tries):
        sign_in(f"somebody{number}@fennelyard.example")
    for _ in range(ACCOUNT.tries + 1):
        assert sign_in(world.owner.email).status_code == 429
    assert sign_in(world.owner.email, PASSWORD, source="192.0.2.2").status_code == 302


@pytest.mark.parametrize("state", ["works here", "shut out", "nobody"])
def test_whether_there_is_such_an_account_shows_nowhere(world: World, hashes: Hashes, state: str) -> None:
    """The same words, the same status, the same work of the hasher; locked or not."""
    User.objects.filter(pk=world.owner.pk).update(is_active=state != "shut out")
    email = NOBODY if state == "nobody" else world.owner.email
    answers = [sign_in(email) for _ in range(ACCOUNT.tries + 1)]
    assert hashes.times == ACCOUNT.tries
    said = [words_of(answer).replace(email, "…") for answer in answers]
    assert len(set(said[:-1])) == 1
    assert "do not belong together" in said[0]
    assert answers[-1].status_code == 429
    assert 0 < int(answers[-1]["Retry-After"]) <= ACCOUNT.window.total_seconds()
    assert "Too many tries: none is looked at now. Try again in 15 minutes" in said[-1]
    assert DoorCount.objects.filter(refused_at__isnull=False).count() == 1


def test_who_signed_in_from_a_browser_before_comes_in_from_it_while_others_guess(world: World) -> None:
    known = Client()
    assert sign_in(world.owner.email, PASSWORD, client=known).status_code == 302
    known.post(reverse("web:sign_out"))
    tried(world.owner.email, times=ACCOUNT.tries + 5)
    for number in range(ADDRESS.tries):
        sign_in(f"somebody{number}@fennelyard.example")
    assert sign_in(world.owner.email, PASSWORD, client=Client()).status_code == 429
    assert sign_in(world.owner.email, PASSWORD, client=known).status_code == 302


def test_a_known_browser_has_a_number_of_its_own(world: World) -> None:
    known = Client()
    sign_in(world.owner.email, PASSWORD, client=known)
    known.post(reverse("web:sign_out"))
    statuses = [sign_in(world.owner.email, client=known).status_code for _ in range(DEVICE.tries + 3)]
    assert statuses == [200] * DEVICE.tries + [429] * 3
    assert sign_in(world.owner.email, PASSWORD).status_code == 302, "what it tried counts against nobody else"


@pytest.mark.parametrize("how", ["another's", "made up", "of another house"])
def test_a_browser_is_known_to_the_account_it_signed_in_to_only(world: World, how: str) -> None:
    stranger = Client()
    if how == "another's":
        invitation, _secret = invite(actor=world.actor, role="maker", email="", at=world.now)
        newcomer = Newcomer("Wren", "wren@fennelyard.example", PASSWORD)
        wren = join_new(invitation=invitation, newcomer=newcomer, at=world.now).user
        sign_in(wren.email, PASSWORD, client=stranger)
        stranger.post(reverse("web:sign_out"))
    elif how == "made up":
        stranger.cookies["known-here"] = "e30:1xxxxx:abc"
    else:
        with override_settings(SECRET_KEY="x" * 60):
            forged = signing.dumps({world.owner.email: ["abc", "def"]}, salt="curehouse.known-browser")
        stranger.cookies["known-here"] = forged
    tried(world.owner.email, times=ACCOUNT.tries)
    assert sign_in(world.owner.email, PASSWORD, client=stranger).status_code == 429


def laid_in(world: World, browsers: int) -> list[Client]:
    """Return so many browsers that signed in and out: who knows the password makes as many as they like."""
    known = [Client() for _ in range(browsers)]
    for browser in known:
        assert sign_in(world.owner.email, PASSWORD, client=browser).status_code == 302
        browser.post(reverse("web:sign_out"))
    return known


def test_browsers_laid_in_before_the_second_step_try_no_more_codes_than_one(world: World) -> None:
    """Else whoever knows the password, against whom the second step is switched on, has any number of tries."""
    known = laid_in(world, 4)
    SecondStep.objects.create(person=world.owner, seed="a seed", on_since=world.now, last_step=0)
    looked_at = 0
    for browser in known:
        for number in range(DEVICE.tries):
            if sign_in(world.owner.email, PASSWORD, client=browser).status_code == 302:
                answer = browser.post(reverse("web:sign_in_code"), {"code": f"no code {number}"}, REMOTE_ADDR="192.0.2.1")
                looked_at += answer.status_code == 200
    assert 0 < looked_at <= ACCOUNT.tries


def test_browsers_that_knew_the_old_password_guess_no_more_often_than_others(world: World) -> None:
    known = laid_in(world, 3)
    change_password(person=world.owner, present_password=PASSWORD, password="another-linden-stair")
    statuses = Counter(sign_in(world.owner.email, client=browser).status_code for browser in known for _ in range(DEVICE.tries))
    assert statuses == {200: ACCOUNT.tries, 429: 2 * ACCOUNT.tries}


def test_the_cookie_of_a_known_browser_is_for_the_door_only(world: World) -> None:
    with override_settings(SESSION_COOKIE_SECURE=True):
        cookie = sign_in(world.owner.email, PASSWORD).cookies["known-here"]
    assert (cookie["httponly"], cookie["samesite"], cookie["path"], cookie["secure"]) == (True, "Lax", "/sign-in/", True)


def readings_of(cookie: str) -> list[bytes]:
    """Return what can be read in a cookie by whoever holds it and knows no secret: as it stands, decoded, unpacked."""
    found = [cookie.encode()]
    for part in re.split(r"[.:]", cookie):
        for begins in range(4):
            with suppress(ValueError):
                found.append(base64.urlsafe_b64decode(part[begins:] + "=" * (-len(part[begins:]) % 4)))
    for one in list(found):
        with suppress(zlib.error):
            found.append(zlib.decompress(one))
    return found


def test_no_cookie_tells_whom_a_browser_is_known_to(world: World) -> None:
    client = Client()
    sign_in(world.owner.email, PASSWORD, client=client)
    assert "known-here" in client.cookies
    name, _at, domain = world.owner.email.partition("@")
    for cookie in client.cookies.values():
        for reading in readings_of(cookie.value):
            assert not any(word.encode() in reading.lower() for word in (name, domain, world.owner.email)), cookie.key
    before = signing.dumps({world.owner.email: 1}, salt="curehouse.known-browser")
    assert any(name.encode() in reading for reading in readings_of(before)), "else this test would see nothing"


def test_a_browser_that_was_known_by_its_address_stays_known_and_is_told_it_no_more(world: World) -> None:
    known = Client()
    sign_in(world.owner.email, PASSWORD, client=known)
    known.post(reverse("web:sign_out"))
    salt = "curehouse.known-browser"
    (kept,) = signing.loads(known.cookies["known-here"].value, salt=salt).values()
    known.cookies["known-here"] = signing.dumps({world.owner.email: kept}, salt=salt)
    tried(world.owner.email, times=ACCOUNT.tries)
    assert sign_in(world.owner.email, PASSWORD, client=known).status_code == 302
    now = signing.loads(known.cookies["known-here"].value, salt=salt)
    assert list(now.values()) == [kept]
    assert "@" not in str(now)


def test_the_mark_of_an_account_is_another_in_every_house(world: World) -> None:
    def mark() -> str:
        cookie = sign_in(world.owner.email, PASSWORD).cookies["known-here"].value
        return next(iter(signing.loads(cookie, salt="curehouse.known-browser")))

    here = mark()
    assert mark() == here
    with override_settings(SECRET_KEY="x" * 60):
        assert mark() != here


def test_whoever_comes_in_begins_anew(world: World) -> None:
    for _ in range(4):
        tried(world.owner.email, times=ACCOUNT.tries - 1)
        assert sign_in(world.owner.email, PASSWORD, source="192.0.2.251").status_code == 302


def test_a_count_ends_a_quarter_of_an_hour_after_the_last_that_was_looked_at(world: World) -> None:
    one, at = Try(Limit("account", 3, timedelta(minutes=15)), "somebody"), world.now
    assert [take(one, at=at + timedelta(minutes=number)) for number in range(4)] == [0, 0, 0, 14 * 60]
    assert take(one, at=at + timedelta(minutes=17) - timedelta(seconds=1)) == 1, "what is not looked at makes it no longer"
    assert take(one, at=at + timedelta(minutes=17)) == 0
    assert forget_ended(at=at + timedelta(minutes=31)) == 0
    assert forget_ended(at=at + timedelta(minutes=32)) == 1


def test_at_the_seam_of_two_counts_no_more_are_looked_at_than_the_number(world: World) -> None:
    """Late in one and early in the next: nineteen, where a count ended so long after its first try."""
    one, began, seam = Try(ACCOUNT, "somebody"), world.now, world.now + ACCOUNT.window
    assert take(one, at=began) == 0
    late = [take(one, at=seam - timedelta(seconds=1)) for _ in range(ACCOUNT.tries)]
    early = [take(one, at=seam + timedelta(seconds=number)) for number in range(ACCOUNT.tries)]
    assert [*late, *early].count(0) == ACCOUNT.tries - 1


@given(gaps_seconds=st.lists(st.integers(0, 1000) | st.sampled_from([0, 1, 299, 300, 301, 899, 900, 901]), max_size=40))
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_within_no_quarter_of_an_hour_are_more_looked_at_than_the_number(world: World, gaps_seconds: list[int]) -> None:
    limit = Limit("account", 3, timedelta(minutes=15))
    one, at, looked_at = Try(limit, str(uuid.uuid4())), world.now, []
    for gap in gaps_seconds:
        at += timedelta(seconds=gap)
        if take(one, at=at) == 0:
            looked_at.append(at)
    for first, beyond in zip(looked_at, looked_at[limit.tries :], strict=False):
        assert beyond - first >= limit.window


def test_a_try_that_was_slow_to_be_counted_ends_no_count_earlier(world: World) -> None:
    """Moments come from requests, and those overtake each other."""
    one = Try(Limit("account", 3, timedelta(minutes=15)), "somebody")
    for seconds in (0, 60, 30):
        assert take(one, at=world.now + timedelta(seconds=seconds)) == 0
    assert take(one, at=world.now + timedelta(minutes=15, seconds=59)) == 1


@pytest.mark.parametrize(
    ("address", "block"),
    [("192.0.2.1", "192.0.2.1"), ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"), ("2001:db8:1:2::9", "2001:db8:1:2::/64")],
)
def test_an_address_is_counted_by_what_one_house_has_to_itself(address: str, block: str) -> None:
    assert address_block(address) == block


def test_what_a_request_says_of_its_address_counts_behind_a_proxy_that_was_named_only(world: World) -> None:
    def passed_on(number: int) -> int:
        headers = {"X-Forwarded-For": f"203.0.113.{number}"}
        sent = {"email": f"somebody{number}@fennelyard.example", "password": WRONG}
        return Client(headers=headers).post(reverse("web:sign_in"), sent, REMOTE_ADDR="192.0.2.1").status_code

    assert [passed_on(number) for number in range(ADDRESS.tries + 1)][-1] == 429


def test_no_address_and_no_name_stands_in_the_counts(world: World) -> None:
    tried(world.owner.email, times=2)
    kept = str(list(DoorCount.objects.values_list()))
    assert "192.0.2" not in kept
    assert "ottilie" not in kept


def test_wrong_tokens_of_the_api_are_counted_by_address_and_a_right_one_is_never_held_up(world: World) -> None:
    secret = give_token(actor=world.actor, name="Rack tablet", reach="works", at=world.now)[1]
    asked = [Client(headers={"Authorization": f"Bearer ch_{n}"}).get("/api/v1/workshop/") for n in range(TOKEN.tries + 2)]
    assert [one.status_code for one in asked] == [401] * TOKEN.tries + [429] * 2
    assert (asked[-1].json()["code"], int(asked[-1]["Retry-After"]) > 0) == ("too_many_tries", True)
    assert Client(headers={"Authorization": f"Bearer {secret}"}).get("/api/v1/workshop/").status_code == 200
    assert DeviceToken.objects.within(world.workshop).count() == 1


def link_of(world: World) -> str:
    return invite(actor=world.actor, role="maker", email="", at=timezone.now())[1]


def join_as(secret: str, email: str, *, password: str = "tin bucket harvest 9", source: str = "192.0.2.1") -> HttpResponse:
    said = {"invitation": secret, "name": "Wren", "email": email, "password": password}
    return Client().post(reverse("web:join"), said, REMOTE_ADDR=source)


def test_who_holds_an_invitation_learns_of_few_addresses_whether_they_are_somebodys(world: World, hashes: Hashes) -> None:
    secret = link_of(world)
    answers = [join_as(secret, world.owner.email, source=f"192.0.2.{number}") for number in range(INVITATION.tries + 2)]
    assert [one.status_code for one in answers] == [200] * INVITATION.tries + [429] * 2
    assert "is in use already" in words_of(answers[0])
    assert "in use" not in words_of(answers[-1])
    assert (int(answers[-1]["Retry-After"]) > 0, answers[-1]["Referrer-Policy"]) == (True, "strict-origin")
    assert hashes.times == INVITATION.tries
    # Nor does an address that is nobody's tell anything then, and it makes nobody.
    assert join_as(secret, NOBODY).status_code == 429
    assert not User.objects.filter(email=NOBODY).exists()
    assert join_as(link_of(world), NOBODY).status_code == 302, "another invitation has a number of its own"


def test_from_one_address_few_are_learnt_of_by_any_number_of_invitations(world: World) -> None:
    statuses = [join_as(link_of(world), world.owner.email).status_code for _ in range(ADDRESS.tries + 2)]
    assert statuses == [200] * ADDRESS.tries + [429] * 2


def test_who_joins_or_types_something_else_wrong_has_tried_nothing(world: World) -> None:
    secret = link_of(world)
    for _ in range(INVITATION.tries + 2):
        assert "too short" in words_of(join_as(secret, NOBODY, password="short"))
    assert join_as(secret, NOBODY).status_code == 302
    assert not DoorCount.objects.filter(tries__gt=0).exists()


def test_who_changes_their_own_address_learns_of_few_whether_they_are_somebodys(world: World, stranger: World) -> None:
    client = Client()
    client.force_login(world.owner)
    page = {"name": "Ottilie", "email": stranger.owner.email, "present_password": PASSWORD}
    statuses = [client.post(reverse("web:you"), page).status_code for _ in range(PRESENT.tries + 1)]
    assert statuses == [200] * PRESENT.tries + [429]
    assert not AuditEntry.objects.within(world.workshop).filter(code="present_password_wrong").exists()


def test_set_up_keys_are_counted_by_address(db: None) -> None:
    page = reverse("web:set_up")
    asked = [Client().get(f"{page}?key=guess{n}", REMOTE_ADDR="192.0.2.9") for n in range(TOKEN.tries + 1)]
    assert [one.status_code for one in asked] == [403] * TOKEN.tries + [429]
    assert int(asked[-1]["Retry-After"]) > 0


# A number in what is written for people, and the one that counts.
TOLD = {
    "DEVELOPERS.md": [
        (r"once nothing was looked at for (\d+) minutes", ACCOUNT.window.total_seconds() / 60),
        (r"(\d+) tries for an account from anywhere", ACCOUNT.tries),
        (r"(\d+) from one address \(of IPv6, its /64\)", ADDRESS.tries),
        (r"(\d+) from a browser that signed in to the account before", DEVICE.tries),
        (r"(\d+) wrong tokens of the API or set-up keys from one address", TOKEN.tries),
        (r"has (\d+) tries of its own for each person", PRESENT.tries),
        (r"braked by address and invitation \((\d+)\)", INVITATION.tries),
        (r"of codes (\d+) a day are looked at", brake.CODE.tries),
    ],
    "README.md": [
        (r"(\w+) wrong passwords for an account", ACCOUNT.tries),
        (r"or (\w+) from one address, and none is looked at for a quarter of an hour", ADDRESS.tries),
        (r"(\w+) wrong codes in a day", brake.CODE.tries),
    ],
}
_IN_WORDS = {"ten": 10, "twenty": 20, "thirty": 30}


@pytest.mark.parametrize(("guide", "words", "counts"), [(guide, *one) for guide, all_of in TOLD.items() for one in all_of])
def test_the_numbers_stand_in_the_guide(guide: str, words: str, counts: float) -> None:
    text = (Path(__file__).parents[2] / guide).read_text("utf-8")
    (told,) = re.findall(words, text)
    assert (int(told) if told.isdigit() else _IN_WORDS[told.lower()]) == counts


def test_the_windows_are_as_long_as_the_guides_say() -> None:
    assert {one.window for one in (ACCOUNT, ADDRESS, DEVICE, INVITATION, PRESENT, TOKEN)} == {timedelta(minutes=15)}
    assert brake.CODE.window == timedelta(days=1)
