"""What whoever holds the house does for somebody who is shut out."""

from io import StringIO

import pyotp
import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from curehouse.commands.management.commands import let_in
from curehouse.workshops.models import AuditEntry, DoorCount
from curehouse.workshops.services import give_token, revoke_token
from curehouse.workshops.services.invitations import invite
from curehouse.workshops.services.second_step import secret_of, switch_on
from tests.world import PASSWORD, World

pytestmark = pytest.mark.django_db


def run(*words: str) -> str:
    out = StringIO()
    call_command("let_in", *words, stdout=out)
    return out.getvalue()


def test_its_help_names_the_folder_of_the_house() -> None:
    assert "--data DIR" in let_in.Command().create_parser("manage.py", "let_in").format_help()


def sign_in(email: str, password: str) -> int:
    return Client().post(reverse("web:sign_in"), {"email": email, "password": password}).status_code


def shut_out(world: World) -> Client:
    inside = Client()
    inside.post(reverse("web:sign_in"), {"email": world.owner.email, "password": PASSWORD})
    while sign_in(world.owner.email, "wrong-wrong-wrong") != 429:
        pass
    return inside


def test_a_made_password_lets_in_at_once_and_ends_every_session(world: World) -> None:
    inside = shut_out(world)
    said = run(" Ottilie@FennelYard.example ", "--make-password")
    password = said.strip().rpartition(" ")[2]
    assert inside.get("/").status_code == 302
    assert sign_in(world.owner.email, PASSWORD) == 200
    assert sign_in(world.owner.email, password) == 302
    entry = AuditEntry.objects.within(world.workshop).get(code="let_in")
    assert (entry.said, entry.signed_by) == ("Was let in anew from the shell", "manage.py let_in")
    assert password not in str(list(AuditEntry.unscoped.values_list()))


def test_the_password_may_stay(world: World) -> None:
    inside = shut_out(world)
    run(world.owner.email, "--keep-password")
    assert (inside.get("/").status_code, DoorCount.objects.count()) == (302, 0)
    assert sign_in(world.owner.email, PASSWORD) == 302


def test_whose_phone_is_lost_comes_in_by_the_password_alone(world: World) -> None:
    code = pyotp.TOTP(secret_of("a seed")).at(world.now)
    switch_on(person=world.owner, seed="a seed", code=code, present_password=PASSWORD, at=world.now)
    client = Client()
    sent = {"email": world.owner.email, "password": PASSWORD}
    assert client.post(reverse("web:sign_in"), sent).url.startswith("/sign-in/code/")
    assert "Their second step was on, and is off now." in run(world.owner.email, "--keep-password")
    assert client.post(reverse("web:sign_in"), sent).url == "/"
    entry = AuditEntry.objects.within(world.workshop).get(code="let_in")
    assert entry.said == "Was let in anew from the shell: their second step is off"
    assert "second step" not in run(world.owner.email, "--keep-password"), "nothing is said of what was not on"


def test_what_somebody_in_their_place_may_have_left_open_is_told(world: World) -> None:
    assert "Still open" not in run(world.owner.email, "--keep-password")
    for name in ("Rack tablet", "Door tablet"):
        token, _secret = give_token(actor=world.actor, name=name, reach="works", at=world.now)
    revoke_token(token=token, at=world.now)
    invite(actor=world.actor, role="owner", email="", at=timezone.now())
    said = run(world.owner.email, "--keep-password")
    assert "Still open: devices they let in (1), invitations they gave (1)." in said


def test_an_address_nobody_has_names_those_that_somebody_has(world: World) -> None:
    with pytest.raises(CommandError, match=r"Nobody signs in with wren@x.example here; these do: ottilie@fennelyard.example"):
        run("wren@x.example", "--make-password")


def test_without_a_terminal_it_says_what_to_give(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(let_in.sys, "stdin", StringIO())
    with pytest.raises(CommandError, match="give --make-password or --keep-password"):
        run(world.owner.email)


@pytest.mark.parametrize(("first", "second", "words"), [("short", "short", "too short"), ("lantern-7", "x", "not the same")])
def test_a_password_that_will_not_do_changes_nothing(
    world: World, monkeypatch: pytest.MonkeyPatch, first: str, second: str, words: str
) -> None:
    typed = iter([first, second])
    monkeypatch.setattr(let_in, "getpass", lambda _prompt: next(typed))
    monkeypatch.setattr(let_in.sys.stdin, "isatty", lambda: True, raising=False)
    inside = shut_out(world)
    with pytest.raises(CommandError, match=words):
        run(world.owner.email)
    assert inside.get("/").status_code == 200
    assert not AuditEntry.objects.within(world.workshop).filter(code="let_in").exists()
