"""The states of a delivery, attempt by attempt; moments are handed in."""

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta

import pytest
from django.db import connection

from curehouse.flows.deliver import deliver, deliver_in_turn
from curehouse.flows.tick import nudge_next_delivery
from curehouse.notices.channels.outcome import End, Outcome
from curehouse.notices.models import Delivery, Notice
from curehouse.notices.services import begin_attempt, close, end_attempt, revive_without_mail, tell_morning, withdraw
from curehouse.notices.services.delivering import LEASE, RETRY_AFTER
from tests.smtp_peer import SmtpPeer
from tests.world import World

Say = Callable[..., Notice]
Find = Callable[[Notice], Delivery]

SENT = Outcome(End.SENT)
NO = Outcome(End.TRY_AGAIN, "Nothing answers.")
SILENT = Outcome(End.TRY_AGAIN, "It did not answer.", is_for_all=True)
UNSURE = Outcome(End.UNSURE, "The connection broke.")
SECOND = timedelta(seconds=1)


def begin(delivery: Delivery, at: datetime, *, mail: bool = True) -> Delivery | None:
    return begin_attempt(workshop_id=delivery.workshop_id, delivery_id=delivery.pk, mail_is_set_up=mail, at=at)


def attempt(delivery: Delivery, outcome: Outcome, at: datetime) -> Delivery:
    begun = begin(delivery, at)
    assert begun is not None
    ended = end_attempt(delivery=begun, outcome=outcome, at=at)
    assert ended is not None
    return ended


@pytest.fixture
def delivery(tell_ready: Say, delivery_of: Find) -> Delivery:
    return delivery_of(tell_ready())


def test_delivery_is_claimed_by_one_worker_only(world: World, delivery: Delivery) -> None:
    assert begin(delivery, world.now) is not None
    assert begin(delivery, world.now + LEASE - SECOND) is None


def test_delivery_ends_sent_when_the_server_said_yes(world: World, delivery: Delivery) -> None:
    ended = attempt(delivery, SENT, world.now)
    assert (ended.state, ended.attempts, ended.ended_at) == ("sent", 1, world.now)
    assert begin(delivery, world.now + timedelta(days=1)) is None


def test_delivery_is_tried_again_ever_later_and_ends_with_the_reason(world: World, delivery: Delivery) -> None:
    at = world.now
    for pause in RETRY_AFTER:
        waiting = attempt(delivery, NO, at)
        assert (waiting.state, waiting.last_error) == ("waiting", "Nothing answers.")
        assert begin(delivery, at + pause - SECOND) is None
        at += pause
    ended = attempt(delivery, NO, at)
    assert (ended.state, ended.last_error, ended.attempts) == ("failed", "Nothing answers.", len(RETRY_AFTER) + 1)
    assert list(RETRY_AFTER) == sorted(RETRY_AFTER)
    assert at - world.now < timedelta(days=1)


def test_delivery_ends_at_once_when_the_refusal_is_lasting(world: World, delivery: Delivery) -> None:
    ended = attempt(delivery, Outcome(End.REFUSED, "The mail server refused the recipient: 550"), world.now)
    assert (ended.state, ended.last_error) == ("failed", "The mail server refused the recipient: 550")


def test_one_letter_that_found_the_server_silent_lets_the_others_wait_untried(
    world: World, delivery: Delivery, tell_ready: Say, delivery_of: Find
) -> None:
    others = [delivery_of(tell_ready(key=f"ready:batch:{number}:1", about=f"batch:{number}")) for number in (13, 14)]
    later = delivery_of(tell_ready(key="ready:batch:15:1", about="batch:15", at=world.now + timedelta(hours=1)))
    attempt(delivery, SILENT, world.now)
    for other in (*others, later):
        other.refresh_from_db()
    assert {(other.state, other.attempts, other.last_error) for other in others} == {("waiting", 0, "It did not answer.")}
    assert {other.next_try_at for other in others} == {world.now + RETRY_AFTER[0]}
    assert (later.next_try_at, later.last_error) == (world.now + timedelta(hours=1), "")
    assert begin(others[0], world.now + RETRY_AFTER[0]) is not None


def test_one_letter_that_the_server_puts_off_holds_up_no_other(
    world: World, delivery: Delivery, tell_ready: Say, delivery_of: Find
) -> None:
    other = delivery_of(tell_ready(key="ready:batch:13:1", about="batch:13"))
    attempt(delivery, NO, world.now)
    assert begin(other, world.now) is not None


def test_delivery_cut_off_between_send_and_mark_goes_once_more_and_says_so(world: World, delivery: Delivery) -> None:
    assert begin(delivery, world.now) is not None
    ended = attempt(delivery, SENT, world.now + LEASE)
    assert (ended.state, ended.get_state_display()) == ("twice", "sent, perhaps twice")


def test_delivery_cut_off_twice_is_not_sent_a_third_time(world: World, delivery: Delivery, delivery_of: Find) -> None:
    assert begin(delivery, world.now) is not None
    assert begin(delivery, world.now + LEASE) is not None
    assert begin(delivery, world.now + 2 * LEASE) is None
    ended = delivery_of(delivery.notice)
    assert (ended.state, ended.get_state_display(), ended.attempts) == ("unknown", "perhaps sent", 2)


def test_connection_lost_under_way_counts_as_cut_off(world: World, delivery: Delivery) -> None:
    first = attempt(delivery, UNSURE, world.now)
    assert (first.state, first.unsure_attempts) == ("waiting", 1)
    second = attempt(delivery, UNSURE, first.next_try_at)
    assert (second.state, second.unsure_attempts) == ("unknown", 2)


def test_delivery_perhaps_sent_never_ends_as_not_sent(world: World, delivery: Delivery) -> None:
    first = attempt(delivery, UNSURE, world.now)
    ended = attempt(delivery, Outcome(End.REFUSED, "550"), first.next_try_at)
    assert ended.state == "unknown"


def test_delivery_perhaps_sent_never_ends_as_withdrawn(world: World, delivery: Delivery, delivery_of: Find) -> None:
    attempt(delivery, UNSURE, world.now)
    withdraw(workshop=world.workshop, about="batch:12", reason="Too soft now.", at=world.now)
    ended = delivery_of(delivery.notice)
    assert (ended.state, ended.last_error) == ("unknown", "Too soft now.")


def test_mark_comes_too_late_when_another_took_over(world: World, delivery: Delivery, delivery_of: Find) -> None:
    slow = begin(delivery, world.now)
    assert slow is not None
    assert begin(delivery, world.now + LEASE) is not None
    assert end_attempt(delivery=slow, outcome=NO, at=world.now + LEASE) is None
    assert delivery_of(delivery.notice).state == "sending"


def test_notice_withdrawn_while_it_is_being_sent_tells_what_came_of_it(
    world: World, delivery: Delivery, delivery_of: Find
) -> None:
    begun = begin(delivery, world.now)
    assert begun is not None
    withdraw(workshop=world.workshop, about="batch:12", reason="Too soft now.", at=world.now)
    end_attempt(delivery=begun, outcome=SENT, at=world.now)
    assert delivery_of(delivery.notice).state == "sent"


def test_notice_withdrawn_between_two_attempts_is_not_sent(world: World, delivery: Delivery, delivery_of: Find) -> None:
    begun = begin(delivery, world.now)
    assert begun is not None
    withdraw(workshop=world.workshop, about="batch:12", reason="Too soft now.", at=world.now)
    waiting = end_attempt(delivery=begun, outcome=NO, at=world.now)
    assert waiting is not None
    assert begin(delivery, waiting.next_try_at) is None
    ended = delivery_of(delivery.notice)
    assert (ended.state, ended.last_error) == ("withdrawn", "Too soft now.")


def test_reader_who_left_is_not_written_to(world: World, delivery: Delivery, delivery_of: Find) -> None:
    world.owner.is_active = False
    world.owner.save()
    assert begin(delivery, world.now) is None
    assert delivery_of(delivery.notice).state == "withdrawn"


def test_notice_a_day_old_is_not_sent_any_more_and_says_why(world: World, delivery: Delivery, delivery_of: Find) -> None:
    attempt(delivery, NO, world.now)
    assert begin(delivery, world.now + timedelta(days=1, seconds=1)) is None
    ended = delivery_of(delivery.notice)
    assert (ended.state, ended.last_error) == ("failed", "It could not be sent within a day. Nothing answers.")


def test_delivery_that_is_gone_is_left_quietly(world: World, delivery: Delivery) -> None:
    assert deliver(workshop_id=delivery.workshop_id, delivery_id=delivery.pk + 1, at=world.now) is None
    assert deliver(workshop_id=delivery.workshop_id + 1, delivery_id=delivery.pk, at=world.now) is None


def test_delivery_ends_as_no_mail_without_a_mail_server(world: World, delivery: Delivery, delivery_of: Find) -> None:
    assert deliver(workshop_id=delivery.workshop_id, delivery_id=delivery.pk, at=world.now) is None
    ended = delivery_of(delivery.notice)
    assert (ended.state, ended.get_state_display(), ended.attempts) == ("no_mail", "no mail set up", 0)


def test_mail_set_up_later_sends_what_is_open_and_not_a_day_old(world: World, tell_ready: Say, delivery_of: Find) -> None:
    day = timedelta(days=1)
    at = world.now + day
    fresh = tell_ready(key="ready:1", about="batch:1", at=world.now + 2 * SECOND)
    old = tell_ready(key="ready:2", about="batch:2", at=world.now - SECOND)
    closed = tell_ready(key="ready:3", about="batch:3", at=world.now + 2 * SECOND)
    for notice in (fresh, old, closed):
        assert begin(delivery_of(notice), world.now + 3 * SECOND, mail=False) is None
        assert delivery_of(notice).state == "no_mail"
    close(workshop=world.workshop, about="batch:3", reason="Taken out.", at=at)
    assert revive_without_mail(at=at) == 1
    assert [delivery_of(one).state for one in (fresh, old, closed)] == ["waiting", "no_mail", "no_mail"]
    assert attempt(delivery_of(fresh), SENT, at).state == "sent"


def test_digest_says_what_is_open_when_it_goes_out(world: World, tell_ready: Say, delivery_of: Find) -> None:
    tell_ready()
    tell_ready(key="ready:batch:13:1", about="batch:13", title="Mint 13 is ready")
    digest = tell_morning(workshop=world.workshop, day=world.now.date(), at=world.now)
    assert digest is not None
    close(workshop=world.workshop, about="batch:12", reason="Taken out.", at=world.now)
    begun = begin(delivery_of(digest), world.now)
    assert begun is not None
    assert "Mint 13 is ready" in begun.notice.body
    assert "Goat & oat 12" not in begun.notice.body
    assert begun.notice.title.endswith("Tue 10 Mar: one thing to see to")


def test_digest_is_withdrawn_when_all_of_it_was_seen_to(world: World, tell_ready: Say, delivery_of: Find) -> None:
    tell_ready()
    digest = tell_morning(workshop=world.workshop, day=world.now.date(), at=world.now)
    assert digest is not None
    close(workshop=world.workshop, about="batch:12", reason="Taken out.", at=world.now)
    assert begin(delivery_of(digest), world.now) is None
    ended = delivery_of(digest)
    assert (ended.state, ended.last_error) == ("withdrawn", "All that it repeated was seen to.")


def test_flow_sends_by_the_mail_server_named_in_the_environment(
    world: World, delivery: Delivery, peer: SmtpPeer, settings
) -> None:
    settings.EMAIL_URL = peer.url
    sent = deliver(workshop_id=delivery.workshop_id, delivery_id=delivery.pk, at=world.now)
    assert sent is not None
    assert sent.state == "sent"
    assert peer.subjects() == ["Goat & oat 12 is ready"]


def test_letter_waits_its_turn_while_another_is_on_its_way_and_is_nudged_then(
    world: World, delivery: Delivery, tell_ready: Say, delivery_of: Find, settings, django_capture_on_commit_callbacks
) -> None:
    other = delivery_of(tell_ready(key="ready:batch:13:1", about="batch:13"))
    begun, answered = threading.Event(), threading.Event()

    def send(*_: object, **__: object) -> Outcome:
        begun.set()
        assert answered.wait(20)
        return SENT

    def in_turn(row: Delivery) -> bool:
        return deliver_in_turn(workshop_id=row.workshop_id, delivery_id=row.pk, at=world.now)

    with pytest.MonkeyPatch.context() as slow, ThreadPoolExecutor() as pool:
        # What is sent is of no matter here, and a second thread would not see this test's rows.
        slow.setattr("curehouse.flows.deliver.deliver", send)
        first = pool.submit(in_turn, delivery)
        assert begun.wait(20)
        assert in_turn(other) is False
        answered.set()
        assert first.result(20) is True
        assert in_turn(other) is True
    connection.run_on_commit.clear()  # what the telling nudged has come and gone
    with django_capture_on_commit_callbacks() as nudges:
        nudge_next_delivery(at=world.now)
    assert [(one.task_name, one.ids) for one in nudges] == [("jobs.deliver", (world.workshop.pk, delivery.pk))]


def test_flow_waits_and_says_why_when_the_set_up_that_was_kept_is_spoilt(
    world: World, delivery: Delivery, settings, tmp_path
) -> None:
    (tmp_path / "mail.json").write_text("{", encoding="utf-8")
    waiting = deliver(workshop_id=delivery.workshop_id, delivery_id=delivery.pk, at=world.now)
    assert waiting is not None
    assert (waiting.state, waiting.last_error) == (
        "waiting",
        "The mail set-up can't be read: run manage.py mail_setup again.",
    )
