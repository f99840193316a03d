"""Who did what: written with the deed, once, from where it was asked, and in no words of a stranger's making."""

import csv
import io
import json
import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from curehouse.common.visitors import device_words, one_line, remote_address
from curehouse.settings.env import networks
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import AuditEntry, DeviceToken, Member, Workshop
from curehouse.workshops.services import give_token
from curehouse.workshops.services.audit import note
from curehouse.workshops.services.people import remove_member
from tests.web.test_people import member_of
from tests.web.test_set_up_page import TYPED
from tests.web.visitor import Visitor
from tests.world import PASSWORD, World

pytestmark = pytest.mark.django_db
PHONE = "Mozilla/5.0 (Android 14; Mobile; rv:131.0) Gecko/131.0 Firefox/131.0"
V1 = "/api/v1/"


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Any) -> None:
    settings.DATA_FOLDER = tmp_path


def trail(world: World) -> list[AuditEntry]:
    return list(AuditEntry.objects.within(world.workshop).newest_first())


def said(world: World) -> list[str]:
    return [entry.said for entry in trail(world)]


def test_a_form_that_is_done_is_noted_with_who_what_and_from_where(world: World) -> None:
    batch = world.batch(position=world.position(world.rack()))
    visitor = Visitor(world)
    visitor.client.defaults |= {"HTTP_USER_AGENT": PHONE, "REMOTE_ADDR": "192.0.2.7"}
    assert visitor.post("batch_take_out", batch.pk, bars=2, purpose="gift", forced_reason="a neighbour").status_code == 302
    (entry,) = trail(world)
    assert (entry.signed_by, entry.code) == (world.owner.name, "batch_take_out")
    assert entry.said == f"Took bars out: {batch}"
    assert entry.address == reverse("web:batch", args=[batch.pk])
    assert (entry.from_address, entry.from_device) == ("192.0.2.7", "Firefox on Android")


def test_a_form_that_is_sent_twice_is_noted_once_and_one_that_is_refused_is_not(world: World) -> None:
    visitor, key = Visitor(world), str(uuid.uuid4())
    for _ in range(2):
        assert visitor.post("scales", form_key=key, name="Post scale", step_g="1").status_code == 302
    assert visitor.post("scales", name="Post scale", step_g="1").status_code == 200
    assert said(world) == ["Added a scale: Post scale"]


def test_a_deed_that_fails_after_its_work_leaves_neither_work_nor_line(world: World, monkeypatch: Any) -> None:
    def fault(**_said: Any) -> None:
        raise RuntimeError

    monkeypatch.setattr("curehouse.web.once.finish_submission", fault)
    visitor = Visitor(world)
    with pytest.raises(RuntimeError):
        visitor.post("devices", name="Rack tablet", reach="weighs")
    assert trail(world) == []
    assert not DeviceToken.objects.within(world.workshop).exists()


class Sender:
    """A device that sends to the API."""

    def __init__(self, world: World) -> None:
        _token, secret = give_token(actor=world.actor, name="Rack tablet", reach="works", at=world.now)
        self.client = Client(headers={"Authorization": f"Bearer {secret}", "User-Agent": "rackd/2.1 (arm)"})

    def post(self, path: str, body: Any, **headers: str) -> Any:
        return self.client.post(V1 + path, json.dumps(body), content_type="application/json", headers=headers)


def weighing(world: World, batch: Any, letter: str) -> dict[str, Any]:
    moment = world.days_ago(0.01).isoformat()
    return {"bar": world.bar(batch, letter).pk, "client_id": str(uuid.uuid4()), "weight_g": "120.0", "moment": moment}


def test_what_a_device_sends_is_noted_as_the_devices_and_once_for_a_whole_list(world: World) -> None:
    batch, sender = world.batch(), Sender(world)
    rows = [weighing(world, batch, letter) for letter in "AB"]
    assert sender.post("readings/bulk/", {"readings": rows}).status_code == 201
    assert sender.post("readings/bulk/", {"readings": rows}).status_code == 200
    (entry,) = trail(world)
    assert (entry.signed_by, entry.said, entry.from_device) == ("Rack tablet", "Sent weighings: 2 written", "rackd")


def test_a_weighing_that_is_sent_again_is_noted_once(world: World) -> None:
    batch, sender = world.batch(), Sender(world)
    row = weighing(world, batch, "A")
    assert [sender.post("readings/", row).status_code for _ in range(2)] == [201, 200]
    assert said(world) == [f"Weighed a sample bar: {batch}, bar A, 120 g"]


def test_a_request_that_is_sent_again_under_its_key_is_noted_once_and_a_refused_one_not(world: World) -> None:
    sender, key = Sender(world), f'"{uuid.uuid4()}"'
    body = {"name": "Post scale", "step_g": "1"}
    assert [sender.post("scales/", body, **{"Idempotency-Key": key}).status_code for _ in range(2)] == [201, 201]
    assert sender.post("scales/", body).status_code == 400
    assert said(world) == ["Added a scale: Post scale"]


def test_coming_going_and_a_wrong_password_are_noted_and_who_lives_here_not_is_named_nowhere(world: World) -> None:
    client = Client()
    for email, password in [
        (world.owner.email, "a wrong password"),
        ("stranger@elsewhere.example", "a wrong password"),
        (world.owner.email, PASSWORD),
    ]:
        client.post(reverse("web:sign_in"), {"email": email, "password": password})
    client.post(reverse("web:sign_out"))
    assert [entry.code for entry in trail(world)] == ["sign_out", "sign_in", "sign_in_wrong"]
    assert AuditEntry.unscoped.count() == 3
    kept = str(list(AuditEntry.unscoped.values()))
    assert "stranger" not in kept
    assert "a wrong password" not in kept


def test_a_person_is_noted_in_each_of_their_workshops_and_nowhere_else(world: World, stranger: World) -> None:
    Visitor(world).post("password", present_password=PASSWORD, password="quiet-linden-stairs-9")
    assert said(world) == ["Changed their password"]
    assert trail(stranger) == []


def test_who_takes_anothers_name_changes_nothing_that_stands_and_is_told_from_them(world: World) -> None:
    wren = member_of(world, "wren@fennelyard.example", "helper")
    visitor, owner = Visitor(world), Visitor(world)
    visitor.client.force_login(wren.user)
    before, key = wren.user.name, f"person {wren.user_id}"
    at = reverse("web:you")
    for name in ("Wren of the yard", world.owner.name):
        assert visitor.client.post(at, {"name": name, "email": wren.user.email}).status_code == 302
    renamed = [(entry.signed_by, entry.said) for entry in trail(world) if entry.code == "you"]
    words = "Changed their name or address: from"
    assert renamed == [
        ("Wren of the yard", f"{words} Wren of the yard to {world.owner.name}"),
        (before, f"{words} {before} to Wren of the yard"),
    ]
    owner.post("scales", name="Post scale", step_g="1")
    text = b"".join(owner.get("list_trail_csv").streaming_content).decode("utf-8-sig")
    listed = list(csv.reader(io.StringIO(text), delimiter=";" if ";" in text.partition("\n")[0] else ","))
    assert [row[1:3] for row in listed[1:4]] == [
        [world.owner.name, f"person {world.owner.pk}"],
        ["Wren of the yard", key],
        [before, key],
    ]


def test_nobody_chooses_what_the_trail_says_by_where_they_ask_to_be_led(world: World) -> None:
    someone = reverse("web:member", args=[Member.objects.within(world.workshop).get().pk])
    rule = {"min_days": 30, "weekly_loss_limit_pct": "0.7", "latest_day": 60}
    assert Visitor(world).post("ready_rule", next=someone, **rule).url == someone
    (entry,) = trail(world)
    assert (entry.said, entry.address) == ("Changed the ready rule", reverse("web:ready_rule"))


def test_another_address_to_sign_in_with_stands_in_the_trail_with_both(world: World) -> None:
    Visitor(world).post("you", name=world.owner.name, email="otti@fennelyard.example", present_password=PASSWORD)
    assert said(world) == ["Changed their name or address: from ottilie@fennelyard.example to otti@fennelyard.example"]


def test_opening_the_house_is_its_first_line(client: Client, db: None) -> None:
    answer = client.post(reverse("web:set_up"), TYPED, SERVER_NAME="localhost")
    assert answer.status_code == 302, answer.content.decode()
    (entry,) = AuditEntry.objects.within(Workshop.objects.get())
    assert (entry.said, entry.signed_by) == ("Opened the house: Fennel Yard Soapworks", "Ottilie Brandt")


def test_a_command_of_the_shell_signs_with_its_name(world: World, tmp_path: Any) -> None:
    file = tmp_path / "mills.csv"
    file.write_text("Supplier\nBergmühle\n", encoding="utf-8")
    call_command("bring_in", "suppliers", str(file))
    (entry,) = trail(world)
    assert (entry.signed_by, entry.said) == ("manage.py bring_in", "Brought a file in: mills.csv")


@pytest.mark.parametrize("evil", ["a\r\n2026-01-01 forged line", "a\x00\x1b[31mred", "a\u202egnp.exe", "a\u2028b"])
def test_what_a_stranger_calls_himself_begins_no_line_of_its_own(world: World, evil: str) -> None:
    visitor = Visitor(world)
    visitor.client.defaults["HTTP_USER_AGENT"] = evil + "x" * 5000
    visitor.post("scales", name="Post scale", step_g="1")
    (entry,) = trail(world)
    assert entry.from_device.isprintable()
    assert len(entry.from_device) <= 80
    assert one_line(f"Scale {evil}", longest=300).isprintable()


@pytest.mark.parametrize(
    ("agent", "words"),
    [
        ("Mozilla/5.0 (iPhone; CPU iPhone OS 17_5 like Mac OS X) Version/17.5 Safari/604.1", "Safari on an iPhone"),
        ("Mozilla/5.0 (Windows NT 10.0; Win64) Chrome/129.0 Safari/537.36 Edg/129.0", "Edge on Windows"),
        ("Mozilla/5.0 (X11; Linux x86_64) AppleWebKit/537.36 Chrome/129.0 Safari/537.36", "Chrome on Linux"),
        ("curl/8.5.0", "curl"),
        ("", "a device without a name"),
    ],
)  # fmt: skip
def test_a_browser_is_told_in_words(agent: str, words: str) -> None:
    assert device_words(agent) == words


@pytest.mark.parametrize(
    ("trusted", "near", "said_to_be", "address"),
    [
        ("", "192.0.2.7", "198.51.100.9", "192.0.2.7"),
        ("192.0.2.7", "192.0.2.7", "198.51.100.9", "198.51.100.9"),
        ("192.0.2.7", "192.0.2.7", "6.6.6.6, 198.51.100.9", "198.51.100.9"),
        ("192.0.2.0/24", "192.0.2.7", "198.51.100.9, 192.0.2.8", "198.51.100.9"),
        ("192.0.2.7", "192.0.2.7", "what\r\never", "192.0.2.7"),
        ("192.0.2.7", "192.0.2.7", "", "192.0.2.7"),
        ("", "::ffff:192.0.2.7", "", "192.0.2.7"),
        ("", "", "198.51.100.9", ""),
    ],
)
def test_a_forwarded_address_counts_only_from_a_proxy_that_is_named(
    settings: Any, monkeypatch: Any, trusted: str, near: str, said_to_be: str, address: str
) -> None:
    monkeypatch.setenv("CUREHOUSE_TRUSTED_PROXIES", trusted)
    settings.TRUSTED_PROXIES = networks("CUREHOUSE_TRUSTED_PROXIES")
    assert remote_address({"REMOTE_ADDR": near, "HTTP_X_FORWARDED_FOR": said_to_be}) == address


def a_trail(world: World) -> None:
    for number, words in enumerate(("Cut a batch: Castile 1", "Weighed a sample bar: Castile 1", "=HYPERLINK(1)")):
        note(actor=world.actor, code="batch_cut", said=words, address="/batches/1/", at=world.days_ago(number))


def test_the_owner_reads_the_trail_newest_first_in_pages(world: World) -> None:
    for number in range(120):
        note(actor=world.actor, code="weigh", said=f"Deed {number}.", at=world.days_ago(0) - timedelta(minutes=120 - number))
    visitor = Visitor(world)
    words = visitor.words("trail")
    assert words.index("Deed 119.") < words.index("Deed 118.") < words.index("Deed 70.")
    assert "Deed 69." not in words
    assert "1 of 3" in words
    assert "Deed 19." in visitor.words("trail", query="?page=3")


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("", {"Cut", "Weighed", "HYPERLINK"}),
        ("?q=castile+WEIGHED", {"Weighed"}),
        ("?q=/batches/1", {"Cut", "Weighed", "HYPERLINK"}),
        ("?day=2026-03-09", {"Weighed"}),
        ("?day=2026-03-09&q=cut", set()),
        ("?who=shell", set()),
        ("?day=yesterday", set()),
        ("?day=9999-12-31", set()),
        ("?day=0001-01-01", set()),
        ("?who=u999999", set()),
    ],
)
def test_the_trail_is_found_by_who_day_and_words_and_so_is_what_is_taken_along(
    world: World, query: str, found: set[str]
) -> None:
    a_trail(world)
    visitor = Visitor(world)
    answer = b"".join(visitor.get("list_trail_csv", query=query).streaming_content).decode()
    for word in ("Cut", "Weighed", "HYPERLINK"):
        assert (word in visitor.words("trail", query=query)) == (word in found)
        assert (word in answer) == (word in found)


@pytest.mark.parametrize("day", ["9999-12-31", "0001-01-01", "1999-12-31", "2101-01-01", "yesterday"])
def test_a_day_that_is_none_is_said_in_words(world: World, day: str) -> None:
    page = Visitor(world).client.get(reverse("web:trail"), {"day": day})
    assert "is not a day: choose one, like 2026-03-10." in page.content.decode()


def test_the_trail_is_found_by_a_person_who_left_and_by_a_device(world: World) -> None:
    person = member_of(world, "wren@fennelyard.example", "maker").user
    token, _secret = give_token(actor=world.actor, name="Rack tablet", reach="works", at=world.now)
    note(actor=Actor(workshop=world.workshop, user=person), code="weigh", said="By Wren.", at=world.now)
    note(actor=Actor(workshop=world.workshop, device=token), code="weigh", said="By a tablet.", at=world.now)
    remove_member(actor=world.actor, member=Member.objects.within(world.workshop).get(user=person), at=world.now)
    visitor = Visitor(world)
    for who, is_found, is_not in ((f"u{person.pk}", "By Wren.", "By a tablet."), (f"d{token.pk}", "By a tablet.", "By Wren.")):
        words = visitor.words("trail", query=f"?who={who}")
        assert is_found in words
        assert is_not not in words


def test_a_cell_of_the_trail_runs_nothing(world: World) -> None:
    a_trail(world)
    text = b"".join(Visitor(world).get("list_trail_csv").streaming_content).decode()
    assert ",=HYPERLINK" not in text
    assert "HYPERLINK" in text


def test_nobody_but_the_owner_reads_the_trail(world: World) -> None:
    for number, role in enumerate(("maker", "helper", "reader")):
        client = Client()
        client.force_login(member_of(world, f"wren{number}@fennelyard.example", role).user)
        for name in ("trail", "list_trail_csv", "list_trail_xlsx"):
            assert client.get(reverse(f"web:{name}")).status_code == 403


def test_the_queries_of_the_trail_do_not_grow(world: World) -> None:
    visitor, counts = Visitor(world), []
    for _ in range(2):
        a_trail(world)
        counts.append(visitor.queries("trail"))
    assert counts[0] == counts[1]


def test_a_write_costs_the_trail_one_statement_that_writes(world: World) -> None:
    visitor = Visitor(world)
    with CaptureQueriesContext(connection) as captured:
        assert visitor.post("scales", name="Post scale", step_g="1").status_code == 302
    table = AuditEntry._meta.db_table
    assert sum(f'"{table}"' in query["sql"] for query in captured) == 1


def test_mail_is_the_whole_houses_so_each_workshop_reads_that_it_was_set_up(world: World, stranger: World) -> None:
    call_command(
        "mail_setup", url="smtp://127.0.0.1:9", sender="house@fennelyard.example", to="a@b.example", keep_anyway=True
    )  # fmt: skip
    call_command("mail_setup", forget=True)
    for one in (world, stranger):
        assert said(one) == ["Removed the mail set-up", "Set up mail"]
        assert {entry.signed_by for entry in trail(one)} == {"manage.py mail_setup"}
        assert "127.0.0.1" not in str(said(one))
