"""A disk that is full is said in words, with nothing half-written: on pages, at the API, at the set-up.

The errors are the ones SQLite, PostgreSQL and the kernel give; they come after the row was written.
"""

import errno
import logging
import sqlite3
from collections.abc import Callable
from contextlib import closing

import psycopg
import pytest
from django.db import OperationalError
from django.test import Client
from django.urls import reverse

from curehouse.common import full_disk
from curehouse.common.full_disk import no_room
from curehouse.curing.models import Reading
from curehouse.workshops.models import User, Workshop
from tests.api.device import Device, problem, reading
from tests.web.reading_pages import send, words_of
from tests.web.test_set_up_page import TYPED
from tests.world import World

SENTENCE = "The disk of this house is full, so this was not kept: let somebody make room on it, then send it again."


def sqlite_full() -> Exception:
    """Return SQLite's own error, as Django hands it on."""
    with closing(sqlite3.connect(":memory:")) as small:
        small.execute("CREATE TABLE t (x)")
        small.execute("PRAGMA max_page_count = 2")
        with pytest.raises(sqlite3.OperationalError) as full:
            small.execute("INSERT INTO t VALUES (zeroblob(100000))")
    return _from_driver(full.value)


def postgresql_full() -> Exception:
    return _from_driver(psycopg.errors.DiskFull("could not extend file"))


def file_full() -> Exception:
    return OSError(errno.ENOSPC, "No space left on device")


def _from_driver(cause: Exception) -> Exception:
    error = OperationalError(str(cause))
    error.__cause__ = cause
    return error


@pytest.fixture(params=[sqlite_full, postgresql_full, file_full])
def fills(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    """Return a way to let the disk fill up when the house comes to a step."""

    def fill(step: str) -> None:
        def full(*_: object, **__: object) -> None:
            raise request.param()

        monkeypatch.setattr(step, full)

    return fill


def test_a_page_says_it_and_nothing_was_changed(
    world: World, client: Client, fills: Callable[[str], None], caplog: pytest.LogCaptureFixture
) -> None:
    client.force_login(world.owner)
    bar = world.bar(world.batch())
    fills("curehouse.flows.end_bar.renew_due")
    with caplog.at_level(logging.ERROR):
        logging.getLogger("curehouse").addHandler(caplog.handler)
        answer = send(client, "bar_gone", bar.pk, why="sold early")
        logging.getLogger("curehouse").removeHandler(caplog.handler)
    assert answer.status_code == 507
    words = words_of(answer)
    assert SENTENCE in words
    assert "No room left" in words
    assert "not kept: code=no_room" in caplog.text
    bar.refresh_from_db()
    assert bar.ended_at is None


def test_the_api_says_it_in_a_problem_and_the_weighing_can_be_sent_again(
    world: World, fills: Callable[[str], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    device = Device(world)
    sent = reading(world.bar(world.batch()), "120.0", world.now)
    with monkeypatch.context():
        fills("curehouse.flows.weigh.renew_due")
        body = problem(device.post("readings/", sent), 507, "no_room")
        assert body["detail"] == SENTENCE
        assert not Reading.objects.within(world.workshop).exists()
        monkeypatch.undo()
    assert device.post("readings/", sent).status_code == 201


def test_the_set_up_says_it_and_can_be_sent_again(
    client: Client, db: None, fills: Callable[[str], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    fills("curehouse.flows.set_up.subscribe")
    answer = client.post(reverse("web:set_up"), TYPED, SERVER_NAME="localhost")
    assert answer.status_code == 507
    assert SENTENCE in words_of(answer)
    assert not Workshop.objects.exists()
    assert not User.objects.exists()
    monkeypatch.undo()
    assert client.post(reverse("web:set_up"), TYPED, SERVER_NAME="localhost").url == reverse("web:today")


@pytest.mark.parametrize("path", ["/sign-in/", "/api/v1/batches/"])
def test_a_session_that_cannot_be_kept_is_answered_alike(
    client: Client, world: World, fills: Callable[[str], None], path: str
) -> None:
    client.raise_request_exception = False
    fills("django.contrib.sessions.middleware.SessionMiddleware.process_response")
    answer = client.get(path)
    assert answer.status_code == 507
    assert SENTENCE in answer.content.decode()
    assert ("problem+json" in answer["Content-Type"]) == path.startswith("/api/")


def test_an_error_that_speaks_of_no_room_is_told_from_others(monkeypatch: pytest.MonkeyPatch) -> None:
    with closing(sqlite3.connect(":memory:")) as database, pytest.raises(sqlite3.OperationalError) as wrong:
        database.execute("SELEKT 1")
    assert no_room(_from_driver(wrong.value)) is None
    assert no_room(OSError(errno.EACCES, "Permission denied")) is None
    with pytest.raises(sqlite3.OperationalError) as cannot_open:
        sqlite3.connect("/nowhere/at/all.sqlite3")
    assert no_room(_from_driver(cannot_open.value)) is None
    monkeypatch.setattr(full_disk, "_HARDLY_ANY_BYTES", 1 << 62)
    assert no_room(_from_driver(cannot_open.value)) is not None
