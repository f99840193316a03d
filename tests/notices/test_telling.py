from collections.abc import Callable

import pytest

from curehouse.notices.models import Delivery, Notice
from curehouse.notices.services import close, subscribe, tell, tell_morning, withdraw
from tests.world import World

Say = Callable[..., Notice]
Find = Callable[[Notice], Delivery]


def test_notice_is_told_once_when_its_cause_is_worked_on_twice(world: World, tell_ready: Say) -> None:
    first = tell_ready()
    again = tell(
        workshop=world.workshop,
        key=first.key,
        kind="ready",
        about="batch:12",
        mark="ready",
        title="said anew",
        body="",
        path="/",
        at=world.now,
    )
    assert again is None
    assert [one.title for one in Notice.objects.within(world.workshop)] == ["Goat & oat 12 is ready"]
    assert Delivery.objects.within(world.workshop).count() == 1


def test_notice_of_same_key_is_told_in_another_workshop(world: World, tell_ready: Say) -> None:
    tell_ready()
    neighbour = World(name="Next Door", email="neighbour@nextdoor.example")
    told = tell(
        workshop=neighbour.workshop,
        key="ready:batch:12:3",
        kind="ready",
        about="batch:12",
        mark="ready",
        title="Theirs",
        body="",
        path="/",
        at=world.now,
    )
    assert told is not None
    assert told.deliveries.get().user == neighbour.owner


@pytest.mark.parametrize(
    ("kind", "goes_out"),
    [("ready", 1), ("check_due", 1), ("check_failed", 1), ("too_soft", 1), ("look_again", 0), ("weigh", 0)],
)
def test_notice_leaves_the_house_at_once_only_when_it_cannot_wait_for_the_digest(
    tell_ready: Say, kind: str, goes_out: int
) -> None:
    assert tell_ready(kind=kind).deliveries.count() == goes_out


def test_notice_is_nudged_when_its_cause_commits(tell_ready: Say, django_capture_on_commit_callbacks) -> None:
    with django_capture_on_commit_callbacks() as callbacks:
        notice = tell_ready()
    nudged = [(one.task_name, one.ids) for one in callbacks]
    assert nudged == [("jobs.deliver", (notice.workshop_id, notice.deliveries.get().pk))]


def test_subscription_changes_when_made_again(world: World, tell_ready: Say) -> None:
    subscribe(workshop=world.workshop, user=world.owner, channel="email", at_once=False)
    assert tell_ready().deliveries.count() == 0


def test_withdrawn_notice_keeps_its_reason_and_is_not_sent(world: World, tell_ready: Say, delivery_of: Find) -> None:
    notice = tell_ready()
    ended = withdraw(workshop=world.workshop, about="batch:12", reason="Changed meanwhile: too soft.", at=world.now)
    notice.refresh_from_db()
    assert (ended, notice.state, notice.closed_why) == (1, "withdrawn", "Changed meanwhile: too soft.")
    delivery = delivery_of(notice)
    assert (delivery.state, delivery.last_error) == ("withdrawn", "Changed meanwhile: too soft.")


def test_closing_ends_only_the_kinds_named(world: World, tell_ready: Say) -> None:
    ready, weigh = tell_ready(), tell_ready(kind="weigh", key="weigh:batch:12:2026-03-10")
    assert close(workshop=world.workshop, about="batch:12", kinds=["weigh"], reason="Weighed.", at=world.now) == 1
    ready.refresh_from_db()
    weigh.refresh_from_db()
    assert (ready.state, weigh.state) == ("open", "done")


def test_closing_leaves_other_things_and_other_workshops_alone(world: World, tell_ready: Say) -> None:
    neighbour = World(name="Next Door", email="neighbour@nextdoor.example")
    other = tell_ready(about="batch:13", key="ready:batch:13:1")
    assert close(workshop=neighbour.workshop, about="batch:13", reason="x", at=world.now) == 0
    assert close(workshop=world.workshop, about="batch:12", reason="x", at=world.now) == 0
    other.refresh_from_db()
    assert other.state == "open"


def test_digest_repeats_what_is_open_with_its_first_sentence_and_a_link(world: World, tell_ready: Say) -> None:
    tell_ready()
    tell_ready(
        kind="weigh",
        key="weigh:batch:7:2026-03-10",
        about="batch:7",
        title="Weigh Mint 7",
        body="Its sample bars were last weighed on Tue 3 Mar.",
        path="/batches/7/",
    )
    digest = tell_morning(workshop=world.workshop, day=world.now.date(), at=world.now)
    assert digest is not None
    assert digest.title == "Fennel Yard Soapworks, Tue 10 Mar: 2 things to see to"
    assert digest.body == (
        "• Goat & oat 12 is ready\n  It lost 0.41 % in the last seven days.\n"
        "  http://house.example:8000/batches/12/\n\n"
        "• Weigh Mint 7\n  Its sample bars were last weighed on Tue 3 Mar.\n"
        "  http://house.example:8000/batches/7/"
    )
    assert digest.deliveries.count() == 1


def _tell_stock(tell_ready: Say, kind: str, number: int) -> None:
    about = f"lot:{number}"
    words = {"expiring": "expires soon", "expired": "has expired"}[kind]
    title, body = f"Oil {number} {words}", f"{number} g is left. Use it up."
    path = f"/storeroom/{number}/"
    tell_ready(kind=kind, mark=kind, key=f"{kind}:{about}", about=about, title=title, body=body, path=path)


def test_digest_says_what_the_storeroom_wants_as_one_thing_after_the_others(world: World, tell_ready: Say) -> None:
    for number in range(30):
        _tell_stock(tell_ready, "expiring", 100 + number)
    _tell_stock(tell_ready, "expired", 300)
    tell_ready()
    digest = tell_morning(workshop=world.workshop, day=world.now.date(), at=world.now)
    assert digest.title == "Fennel Yard Soapworks, Tue 10 Mar: 2 things to see to"
    lines = digest.body.splitlines()
    assert [lines[0], lines[3]] == ["• Goat & oat 12 is ready", ""]
    assert lines[4:7] == [
        "• The storeroom: 1 lot has expired, 30 lots to use up in time",
        "  Oil 300 has expired: 300 g is left.",
        "  Oil 100 expires soon: 100 g is left.",
    ]
    assert lines[-2:] == ["  and 21 more.", "  http://house.example:8000/storeroom/"]
    assert len(lines) == 17


def test_digest_says_one_thing_of_the_storeroom_as_any_other(world: World, tell_ready: Say) -> None:
    _tell_stock(tell_ready, "expiring", 100)
    digest = tell_morning(workshop=world.workshop, day=world.now.date(), at=world.now)
    assert digest.title.endswith("one thing to see to")
    assert digest.body == "• Oil 100 expires soon\n  100 g is left.\n  http://house.example:8000/storeroom/100/"


def test_digest_is_not_written_when_nothing_is_open(world: World) -> None:
    assert tell_morning(workshop=world.workshop, day=world.now.date(), at=world.now) is None


def test_digest_is_not_counted_among_what_stands_on_today(world: World, tell_ready: Say) -> None:
    tell_ready()
    tell_morning(workshop=world.workshop, day=world.now.date(), at=world.now)
    assert [one.kind for one in Notice.objects.within(world.workshop).open()] == ["ready"]


def test_digest_of_yesterday_ends_when_the_next_morning_comes(world: World, tell_ready: Say, delivery_of: Find) -> None:
    tell_ready()
    yesterday = tell_morning(workshop=world.workshop, day=world.days_ago(1).date(), at=world.days_ago(1))
    today = tell_morning(workshop=world.workshop, day=world.now.date(), at=world.now)
    assert yesterday is not None
    assert today is not None
    assert delivery_of(yesterday).state == "withdrawn"
    assert delivery_of(today).state == "waiting"
