"""Notices: what stands, how the earlier ones ended, how each left the house."""

import uuid

import pytest
from django.urls import reverse

from curehouse.notices.models import Delivery, Notice
from curehouse.notices.services import see_to, tell, tell_morning
from tests.web.on_round import set_clock
from tests.web.visitor import Visitor, assess, dry_batch, pass_or_fail, ready_batch
from tests.world import World


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    set_clock(monkeypatch, world.now)
    return Visitor(world)


def _tell(world: World, number: int) -> Notice:
    key = f"ready:batch:{number}:1"
    said = {"title": f"Batch {number} is ready", "body": "It is.", "path": "/", "mark": "ready", "kind": "ready"}
    return tell(workshop=world.workshop, key=key, about=f"batch:{number}", at=world.now, **said)


def _open(world: World) -> Notice:
    return Notice.objects.within(world.workshop).open().get()


def test_an_open_notice_says_what_it_is_about_in_full(visitor: Visitor, world: World) -> None:
    batch = dry_batch(world)
    words = visitor.words("notices")
    assert f"{batch} is dry enough: check due Tue 10 Mar, 10:00 ◇ check due" in words
    assert "Do the safety check by your own written limit" in words
    assert "E-mail to Ottilie Brandt: waiting to be sent" in words


def test_a_notice_seen_to_moves_to_the_earlier_ones_and_says_by_whom(visitor: Visitor, world: World) -> None:
    dry_batch(world)
    assert visitor.post("notice_done", _open(world).pk).status_code == 302
    words = visitor.words("notices")
    assert "Nothing is open." in words
    assert "Done Tue 10 Mar, 10:00: Seen to by Ottilie Brandt." in words.split("Earlier")[1]
    assert "not sent, it was no longer news" in words


def test_seeing_to_a_notice_twice_changes_nothing_more(visitor: Visitor, world: World) -> None:
    dry_batch(world)
    notice, key = _open(world), str(uuid.uuid4())
    for form_key in (key, key, ""):
        assert visitor.post("notice_done", notice.pk, form_key=form_key).status_code == 302
    notice.refresh_from_db()
    assert notice.state == "done"


def test_a_withdrawn_notice_says_what_has_changed(visitor: Visitor, world: World) -> None:
    batch = dry_batch(world)
    pass_or_fail(world, batch, passed=True)
    assess(world, batch)
    earlier = visitor.words("notices").split("Earlier")[1]
    assert f"Withdrawn Tue 10 Mar, 10:00: Changed meanwhile: {batch} is now “ready”." in earlier


@pytest.mark.parametrize(
    ("state", "said"),
    [
        ("waiting", "waiting to be sent"),
        ("sending", "being sent"),
        ("sent", "sent, Tue 10 Mar, 10:00"),
        ("twice", "sent, perhaps twice, Tue 10 Mar, 10:00"),
        ("unknown", "perhaps sent: look in the mailbox, Tue 10 Mar, 10:00 (no such mailbox)"),
        ("failed", "not sent, Tue 10 Mar, 10:00 (no such mailbox)"),
        ("no_mail", "no mail set up, Tue 10 Mar, 10:00"),
        ("withdrawn", "not sent, it was no longer news, Tue 10 Mar, 10:00"),
    ],
)
def test_each_delivery_says_how_it_stands(visitor: Visitor, world: World, state: str, said: str) -> None:
    dry_batch(world)
    ended = None if state in ("waiting", "sending") else world.now
    Delivery.objects.within(world.workshop).update(state=state, ended_at=ended, last_error="no such mailbox")
    assert f"E-mail to Ottilie Brandt: {said}" in visitor.words("notices")


def test_the_morning_digest_is_listed_but_never_open(visitor: Visitor, world: World) -> None:
    dry_batch(world)
    tell_morning(workshop=world.workshop, day=world.now.date(), at=world.now)
    before, after = visitor.words("notices").split("Earlier")
    assert "one thing to see to" in after
    assert "one thing to see to" not in before


def test_earlier_notices_come_page_by_page(visitor: Visitor, world: World) -> None:
    for number in range(1, 33):
        see_to(actor=world.actor, notice=_tell(world, number), at=world.now)
    _tell(world, 90)
    first = visitor.words("notices")
    assert "Batch 32 is ready" in first
    assert "Batch 2 is ready" not in first
    assert "Page 1 of 2 Older" in first
    second = visitor.words("notices", query="?page=2")
    assert "Batch 2 is ready" in second
    assert "Batch 90 is ready" not in second
    assert "Page 1 of 2" in visitor.words("notices", query="?page=many")


def test_notices_take_as_many_queries_for_twenty_as_for_two(visitor: Visitor, world: World) -> None:
    ready_batch(world)
    _tell(world, 77)
    few = visitor.queries("notices")
    for number in range(80, 98):
        notice = _tell(world, number)
        if number % 2:
            see_to(actor=world.actor, notice=notice, at=world.now)
    # Session, person, membership, earlier: their number, the page, their deliveries; open and their deliveries; the count.
    assert visitor.queries("notices") == few == 9


def test_notices_of_another_workshop_stay_there(visitor: Visitor, stranger: World) -> None:
    dry_batch(stranger, formula_name="Next door")
    assert "Next door" not in visitor.words("notices")
    assert visitor.post("notice_done", _open(stranger).pk).status_code == 404
    assert _open(stranger).state == "open"


def _tell_to_weigh(world: World, number: int) -> Notice:
    said = {"title": f"Weigh batch {number}", "body": "It is due.", "path": "/", "mark": "", "kind": "weigh"}
    return tell(workshop=world.workshop, key=f"weigh:batch:{number}:1", about=f"batch:{number}", at=world.now, **said)


def test_batches_to_weigh_are_one_row_as_the_count_says_and_one_press_sees_to_all(visitor: Visitor, world: World) -> None:
    shown = [_tell_to_weigh(world, number) for number in (1, 2, 3)]
    _tell(world, 9)
    page = visitor.get("notices").content.decode()
    assert "Weigh 3 batches" in page
    assert "Weigh batch 2" in page
    assert page.count(">Seen to") == 2, "one for the round, one for what is ready"
    assert 'class="count">2<' in page
    came_since = _tell_to_weigh(world, 4)
    assert visitor.post("notices_folded_done", notice=[notice.pk for notice in shown]).status_code == 302
    words = visitor.words("notices")
    assert "Seen to: 3 batches to weigh." in words
    still_open = Notice.objects.within(world.workshop).open()
    assert {notice.title for notice in still_open} == {came_since.title, "Batch 9 is ready"}


def test_one_batch_to_weigh_is_a_row_as_any_other(visitor: Visitor, world: World) -> None:
    _tell_to_weigh(world, 1)
    words = visitor.words("notices")
    assert "Weigh batch 1" in words
    assert "Seen to all" not in words


def test_what_is_to_be_weighed_next_door_is_not_seen_to(visitor: Visitor, stranger: World) -> None:
    theirs = _tell_to_weigh(stranger, 1)
    visitor.post("notices_folded_done", notice=[theirs.pk])
    assert _open(stranger).state == "open"


def _tell_stock(world: World, kind: str, number: int) -> Notice:
    about = f"lot:{number}"
    said = {"title": f"Oil {number} {kind}", "body": f"{number} g left.\nDo it.", "path": "/", "mark": kind, "kind": kind}
    return tell(workshop=world.workshop, key=f"{kind}:{about}", about=about, at=world.now, **said)


def test_what_the_storeroom_wants_is_one_row_and_its_own_press(visitor: Visitor, world: World) -> None:
    stock = [_tell_stock(world, kind, number) for kind, number in (("expiring", 1), ("expiring", 2), ("expired", 3))]
    weigh = [_tell_to_weigh(world, number) for number in (1, 2)]
    page = visitor.get("notices")
    text = page.content.decode()
    assert "The storeroom: 1 lot has expired, 2 lots to use up in time" in text
    assert text.index("Oil 3") < text.index("Oil 1") < text.index("Oil 2")
    assert 'class="count">2<' in text, "one round and one look into the storeroom"
    keys = [fold.form_key for fold in page.context["folds"]]
    assert [fold.url for fold in page.context["folds"]] == [reverse("web:round"), reverse("web:storeroom")]
    for key, rows, said in zip(keys, (weigh, stock), ("2 batches to weigh", "3 things in the storeroom"), strict=True):
        visitor.post("notices_folded_done", form_key=key, notice=[notice.pk for notice in rows])
        assert f"Seen to: {said}." in visitor.words("notices")
    assert not Notice.objects.within(world.workshop).open().exists()
