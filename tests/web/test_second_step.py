"""The second step of signing in: at the door, and on a person's own page."""

from datetime import UTC, datetime, timedelta
from html import unescape
from urllib.parse import unquote

import pyotp
import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from curehouse.web import half_in
from curehouse.web.views import door
from curehouse.workshops.models import AuditEntry, PersonSession, RecoveryCode, SecondStep, User
from curehouse.workshops.services import give_token
from curehouse.workshops.services.brake import ACCOUNT, CODE, DEVICE, PRESENT
from curehouse.workshops.sessions import end_other_sessions
from tests.web.reading_pages import words_of
from tests.world import PASSWORD, World

pytestmark = pytest.mark.django_db
WRONG = "quiet-linden-stairs"
CODE_PAGE = "/sign-in/code/"


class Clock:
    """The clock of the house and of the app, put where a test wants it."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.at = datetime(2026, 3, 10, 8, 0, 5, tzinfo=UTC)
        monkeypatch.setattr(timezone, "now", lambda: self.at)

    def go(self, **by: float) -> None:
        self.at += timedelta(**by)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    return Clock(monkeypatch)


class Owner:
    """Ottilie with her second step on, her app and her recovery codes."""

    def __init__(self, world: World, clock: Clock) -> None:
        self.world, self.clock = world, clock
        self.client = Client()
        self.client.force_login(world.owner)
        page = self.client.get(reverse("web:second_step"))
        secret = page.content.decode().partition('class="command secret">')[2].partition("<")[0].replace(" ", "")
        self.app = pyotp.TOTP(secret)
        self.shown = self.client.post(reverse("web:second_step"), {"code": self.code, "present_password": PASSWORD})
        codes = self.shown.content.decode().partition('class="command secret lines">')[2].partition("<")[0]
        self.codes = codes.split()
        clock.go(minutes=5)

    @property
    def code(self) -> str:
        return self.app.at(self.clock.at)

    def first(self, client: Client, password: str = PASSWORD, **said: str) -> HttpResponse:
        return client.post(reverse("web:sign_in"), {"email": self.world.owner.email, "password": password, **said})

    def second(self, client: Client, code: str, query: str = "", **said: str) -> HttpResponse:
        return client.post(CODE_PAGE + query, {"code": code, **said})

    def half(self, client: Client | None = None) -> Client:
        client = client or Client()
        assert self.first(client).status_code == 302
        return client

    def wrong(self) -> str:
        near = {self.app.at(self.clock.at + timedelta(seconds=30 * off)) for off in (-1, 0, 1)}
        return next(code for code in ("000000", "000001", "000002", "000003") if code not in near)


@pytest.fixture
def owner(world: World, clock: Clock) -> Owner:
    return Owner(world, clock)


def is_in(client: Client) -> bool:
    return client.get(reverse("web:today")).status_code == 200


def deeds(world: World) -> list[str]:
    return list(AuditEntry.objects.within(world.workshop).order_by("pk").values_list("code", flat=True))


def test_password_and_code_let_in_and_each_alone_does_not(owner: Owner, world: World) -> None:
    browser = Client()
    answer = owner.first(browser, next="/racks/")
    assert (answer.status_code, answer.url) == (302, f"{CODE_PAGE}?next=%2Fracks%2F")
    assert not is_in(browser)
    assert deeds(world)[-1] == "sign_in_half", "a password somebody else knows is seen before they have the code"
    answer = owner.second(browser, owner.code, next="/racks/")
    assert (answer.url, is_in(browser)) == ("/racks/", True)
    assert deeds(world)[-1] == "sign_in"
    alone = Client()
    assert owner.second(alone, owner.code).url.startswith(reverse("web:sign_in"))
    assert not is_in(alone)


def test_half_in_nothing_opens(owner: Owner) -> None:
    """No page, no address of the API: whoever has typed the password only is nobody."""
    half = owner.half()
    assert half.get("/you/").url == "/sign-in/?next=/you/"
    assert half.post("/you/second-step/off/", {"present_password": PASSWORD}).status_code == 302
    assert half.get("/api/v1/workshop/").status_code in (401, 403)
    assert PersonSession.objects.filter(pk=half.session.session_key).get().person is None
    assert SecondStep.objects.count() == 1


def test_the_session_has_another_key_after_each_step(owner: Owner) -> None:
    browser = Client()
    session = browser.session
    session["before"] = 1
    session.save()
    keys = [session.session_key]
    browser.cookies["sessionid"] = keys[0]
    owner.half(browser)
    keys.append(browser.session.session_key)
    owner.second(browser, owner.code)
    keys.append(browser.session.session_key)
    assert len(set(keys)) == 3
    assert PersonSession.objects.filter(pk__in=keys[:2]).count() == 0
    assert "half_in" not in browser.session
    assert browser.session.get_expiry_age() > 60 * 60 * 24


def test_half_in_lasts_for_minutes(owner: Owner, clock: Clock) -> None:
    half = owner.half()
    clock.go(seconds=half_in.FOR_SECONDS - 1)
    assert "The second step" in words_of(half.get(CODE_PAGE))
    clock.go(seconds=1)
    assert half.get(CODE_PAGE).url == "/sign-in/?next=%2F"
    answer = half.post(CODE_PAGE, {"code": owner.code}, follow=True)
    assert "That took too long: sign in anew." in words_of(answer)
    assert not is_in(half)


def test_half_in_is_of_one_browser_and_one_password(owner: Owner, world: World) -> None:
    half, other = owner.half(), Client()
    assert owner.second(other, owner.code).url.startswith("/sign-in/")
    assert not is_in(other)
    person = User.objects.get(pk=world.owner.pk)
    person.set_password("lantern-orchard-spoon-8")
    person.save()
    assert owner.second(half, owner.code).url.startswith("/sign-in/")
    assert not is_in(half)


def test_who_is_shut_out_meanwhile_stays_out(owner: Owner, world: World) -> None:
    half = owner.half()
    User.objects.filter(pk=world.owner.pk).update(is_active=False)
    assert owner.second(half, owner.code).url.startswith("/sign-in/")


def test_the_next_page_is_one_of_this_house(owner: Owner) -> None:
    half = owner.half()
    assert owner.second(half, owner.code, query="?next=https://elsewhere.example/", next="//elsewhere.example/").url == "/"


def test_a_code_opens_once(owner: Owner) -> None:
    code = owner.code
    assert owner.second(owner.half(), code).url == "/"
    again = owner.half()
    assert "This code does not open" in words_of(owner.second(again, code))
    assert not is_in(again)


def test_a_recovery_code_opens_once_and_stands_in_the_trail(owner: Owner, world: World) -> None:
    page = owner.half().get(CODE_PAGE + "?recovery=1")
    assert "Recovery code" in words_of(page)
    for number in (0, 1):
        browser = owner.half()
        assert owner.second(browser, owner.codes[number], query="?recovery=1").url == "/"
        assert deeds(world)[-1] == "sign_in_recovery"
    again = owner.half()
    assert "does not open" in words_of(owner.second(again, owner.codes[0], query="?recovery=1"))
    assert not is_in(again)
    assert "8 of ten are unused" in words_of(browser.get(reverse("web:second_step")))


def test_wrong_codes_count_for_the_account_and_the_password_begins_nothing_anew(owner: Owner, world: World) -> None:
    statuses = []
    while 429 not in statuses:
        half = Client()
        statuses.append(owner.first(half).status_code)
        if statuses[-1] == 302:
            statuses.append(owner.second(half, owner.wrong()).status_code)
    # Each of the two steps is a try.
    assert statuses == [302, 200] * (ACCOUNT.tries // 2) + [429]
    assert deeds(world).count("sign_in_code_wrong") == ACCOUNT.tries // 2
    assert owner.second(half, owner.code).url.startswith("/sign-in/")


def test_what_is_braked_at_the_second_step_is_not_looked_at(owner: Owner, world: World) -> None:
    half = owner.half()
    answers = [owner.second(half, owner.wrong()) for _ in range(ACCOUNT.tries)]
    assert [one.status_code for one in answers] == [200] * (ACCOUNT.tries - 1) + [429]
    assert int(answers[-1]["Retry-After"]) > 0
    assert owner.second(half, owner.code).status_code == 429
    assert not is_in(half)
    assert deeds(world).count("sign_in_code_wrong") == ACCOUNT.tries - 1


def test_by_patience_no_more_codes_are_tried_than_a_day_has(owner: Owner, clock: Clock) -> None:
    looked_at = 0
    for _ in range(40):
        half = Client()
        if owner.first(half).status_code == 302:
            looked_at += owner.second(half, owner.wrong()).status_code == 200
        clock.go(minutes=16)
    assert looked_at == CODE.tries


def test_a_known_browser_has_a_number_of_its_own_at_the_second_step(owner: Owner) -> None:
    known = owner.half()
    owner.second(known, owner.code)
    known.post(reverse("web:sign_out"))
    guesser = owner.half()
    for _ in range(ACCOUNT.tries + 2):
        owner.second(guesser, owner.wrong())
    owner.clock.go(seconds=60)
    assert owner.first(Client()).status_code == 429
    assert owner.second(owner.half(known), owner.code).url == "/"
    known.post(reverse("web:sign_out"))
    owner.half(known)
    statuses = [owner.second(known, owner.wrong()).status_code for _ in range(DEVICE.tries)]
    assert statuses == [200] * (DEVICE.tries - 1) + [429]


def test_a_browser_is_not_known_by_the_password_alone(owner: Owner) -> None:
    assert "known-here" not in owner.half().cookies


def test_a_wrong_password_says_nothing_of_the_second_step(owner: Owner, world: World) -> None:
    """As for a name nobody has: the same words, status and cookies, whether it is on or off."""
    on = owner.first(Client(), WRONG)
    nobody = Client().post(reverse("web:sign_in"), {"email": "wren@fennelyard.example", "password": WRONG})
    SecondStep.objects.all().delete()
    off = owner.first(Client(), WRONG)
    said = {words_of(one).replace(world.owner.email, "…").replace("wren@fennelyard.example", "…") for one in (on, nobody, off)}
    assert len(said) == 1
    assert {one.status_code for one in (on, nobody, off)} == {200}
    assert len({tuple(one.cookies) for one in (on, nobody, off)}) == 1


def test_a_device_weighs_on(owner: Owner, world: World) -> None:
    secret = give_token(actor=world.actor, name="Rack tablet", reach="works", at=world.now)[1]
    assert Client(headers={"Authorization": f"Bearer {secret}"}).get("/api/v1/workshop/").status_code == 200


def test_switched_on_it_shows_ten_codes_once_as_text_and_as_a_file(owner: Owner, world: World) -> None:
    page = owner.shown.content.decode()
    assert len(owner.codes) == 10
    as_file = unescape(page.partition('href="data:text/plain;charset=utf-8,')[2].partition('"')[0])
    assert all(code in unquote(as_file) for code in owner.codes)
    assert "no-store" in owner.shown["Cache-Control"]
    later = owner.client.get(reverse("web:second_step"))
    assert "10 of ten are unused" in words_of(later)
    for answer in (later, owner.client.get(reverse("web:second_step_codes")), owner.client.get(reverse("web:you"))):
        text = answer.content.decode()
        assert not [code for code in [*owner.codes, owner.app.secret] if code in text]
    assert deeds(world)[-1] == "second_step_on"
    assert not [code for code in owner.codes if code in str(list(AuditEntry.unscoped.values_list()))]


def test_switching_on_ends_the_other_sessions(world: World, clock: Clock) -> None:
    other = Client()
    other.force_login(world.owner)
    owner = Owner(world, clock)
    assert (is_in(owner.client), is_in(other)) == (True, False)


def test_who_signs_in_just_as_it_goes_on_is_out_again(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever has the password only may try in a loop: between the sign-in and its answer the sessions end."""
    guesser = Client()

    def goes_on(*_: object) -> None:
        SecondStep.objects.create(person=world.owner, seed="a seed", on_since=world.now, last_step=0)
        end_other_sessions(person=world.owner, keep=None)

    monkeypatch.setattr(door, "remember_device", goes_on)
    guesser.post(reverse("web:sign_in"), {"email": world.owner.email, "password": PASSWORD})
    assert SecondStep.objects.count() == 1
    assert not is_in(guesser)


def test_a_page_loaded_anew_shows_the_same_key_and_another_browser_another(world: World) -> None:
    def key(client: Client) -> str:
        return client.get(reverse("web:second_step")).content.decode().partition('secret">')[2].partition("<")[0]

    first, other = Client(), Client()
    for client in (first, other):
        client.force_login(world.owner)
    assert key(first) == key(first) != key(other)
    assert not SecondStep.objects.exists(), "looking switches nothing on"


@pytest.mark.parametrize(
    ("changes", "remedy"),
    [
        ({"code": ""}, "The code is missing: type it."),
        ({"code": "x"}, "The code is not right: type the six digits the app shows now."),
        ({"present_password": ""}, "The present password is missing: type it."),
        ({"present_password": WRONG}, "The present password is not right"),
    ],
)
def test_what_is_wrong_in_switching_on_is_told_its_remedy(
    world: World, clock: Clock, changes: dict[str, str], remedy: str
) -> None:
    client = Client()
    client.force_login(world.owner)
    page = client.get(reverse("web:second_step")).content.decode()
    app = pyotp.TOTP(page.partition('secret">')[2].partition("<")[0].replace(" ", ""))
    said = {"code": app.at(clock.at), "present_password": PASSWORD} | changes
    answer = client.post(reverse("web:second_step"), said)
    assert remedy in words_of(answer)
    assert PASSWORD not in answer.content.decode()
    assert not SecondStep.objects.exists()
    assert (
        client.post(reverse("web:second_step"), said | {"code": app.at(clock.at), "present_password": PASSWORD}).status_code
        == 200
    )
    assert SecondStep.objects.exists()


def test_sent_twice_it_says_that_it_is_on(owner: Owner) -> None:
    again = owner.client.post(reverse("web:second_step"), {"code": owner.code, "present_password": PASSWORD})
    assert "The second step is on already" in words_of(again)
    assert RecoveryCode.objects.count() == 10


def test_new_codes_need_the_password_and_are_shown_once(owner: Owner, world: World) -> None:
    page = reverse("web:second_step_codes")
    assert "is not right" in words_of(owner.client.post(page, {"codes_set": "1", "present_password": WRONG}))
    answer = owner.client.post(page, {"codes_set": "1", "present_password": PASSWORD})
    assert "Your recovery codes" in words_of(answer)
    assert not [code for code in owner.codes if code in answer.content.decode()]
    assert deeds(world)[-2:] == ["present_password_wrong", "second_step_codes"]
    twice = owner.client.post(page, {"codes_set": "1", "present_password": PASSWORD})
    assert "New codes were made since this page was opened" in words_of(twice)


def test_it_goes_off_by_the_password(owner: Owner, world: World) -> None:
    page = reverse("web:second_step_off")
    assert "is not right" in words_of(owner.client.post(page, {"present_password": WRONG}))
    assert SecondStep.objects.exists()
    assert owner.client.post(page, {"present_password": PASSWORD}).url == reverse("web:you")
    assert deeds(world)[-1] == "second_step_off"
    assert "The second step is off already" in words_of(owner.client.post(page, {"present_password": PASSWORD}))
    assert owner.client.get(reverse("web:second_step_codes")).url == reverse("web:second_step")
    browser = Client()
    assert (owner.first(browser).url, is_in(browser)) == ("/", True)


def test_another_password_leaves_it_on(owner: Owner, world: World) -> None:
    new = "lantern-orchard-spoon-8"
    owner.client.post(reverse("web:password"), {"present_password": PASSWORD, "password": new})
    assert owner.first(Client(), new).url.startswith(CODE_PAGE)


@pytest.mark.parametrize("name", ["password", "second_step_off", "second_step_codes", "you"])
def test_the_present_password_is_braked_wherever_it_is_asked_for(owner: Owner, world: World, name: str) -> None:
    said = {"password": "lantern-orchard-spoon-8", "codes_set": "1", "name": "Ottilie", "email": "o@kern.example"}

    def send(password: str) -> HttpResponse:
        return owner.client.post(reverse(f"web:{name}"), {**said, "present_password": password})

    statuses = [send(WRONG).status_code for _ in range(PRESENT.tries + 2)]
    assert statuses == [200] * PRESENT.tries + [429] * 2
    held_up = send(PASSWORD)
    assert (held_up.status_code, int(held_up["Retry-After"]) > 0) == (429, True)
    person = User.objects.get(pk=world.owner.pk)
    assert (person.check_password(PASSWORD), person.email, SecondStep.objects.count()) == (True, world.owner.email, 1)
    assert deeds(world).count("present_password_wrong") == PRESENT.tries


def test_a_right_present_password_costs_no_try_and_does_not_begin_anew(owner: Owner) -> None:
    """Nor does a name that is changed beside a wrong one: it was not looked at."""
    page = {"name": "Ottilie", "email": owner.world.owner.email, "present_password": WRONG}
    off = reverse("web:second_step_off")
    for _ in range(PRESENT.tries - 1):
        assert owner.client.post(off, {"present_password": WRONG}).status_code == 200
        assert owner.client.post(reverse("web:you"), page).status_code == 302
    assert owner.client.post(off, {"present_password": WRONG}).status_code == 200
    assert owner.client.post(off, {"present_password": WRONG}).status_code == 429


def test_who_guesses_at_the_door_keeps_nobody_from_a_new_password(owner: Owner) -> None:
    for _ in range(ACCOUNT.tries + 1):
        owner.first(Client(), WRONG)
    said = {"present_password": PASSWORD, "password": "lantern-orchard-spoon-8"}
    assert owner.client.post(reverse("web:password"), said).status_code == 302
