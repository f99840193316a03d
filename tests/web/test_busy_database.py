"""A database that others keep locked is said in words, with when to send again and nothing half-written.

The errors are the ones SQLite and PostgreSQL give (SQLITE_BUSY; SQLSTATE 55P03, 40P01, 40001).
"""

import sqlite3
from contextlib import closing
from pathlib import Path

import psycopg
import pytest
from django.db import OperationalError
from django.test import Client

from curehouse.common.busy import busy
from curehouse.curing.models import Reading
from tests.api.device import Device, problem, reading
from tests.web.reading_pages import send, words_of
from tests.world import World

SENTENCE = "The house is busy writing, so this was not kept: send it again in a few seconds, it is then done once."


def sqlite_locked(folder: Path) -> Exception:
    """Return SQLite's own error: one connection writes, the other does not wait."""
    path = folder / "locked.sqlite3"
    with closing(sqlite3.connect(path, isolation_level=None)) as one, closing(sqlite3.connect(path, timeout=0)) as other:
        one.execute("BEGIN IMMEDIATE")
        with pytest.raises(sqlite3.OperationalError) as locked:
            other.execute("CREATE TABLE t (x)")
    return locked.value


@pytest.fixture(
    params=[
        sqlite_locked,
        lambda _: psycopg.errors.LockNotAvailable("canceling statement due to lock timeout"),
        lambda _: psycopg.errors.DeadlockDetected("deadlock detected"),
        lambda _: psycopg.errors.SerializationFailure("could not serialize access"),
    ],
    ids=["sqlite", "lock", "deadlock", "serialization"],
)
def stuck(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the house wait in vain after the row was written."""
    cause = request.param(tmp_path)

    def wait_in_vain(*_: object, **__: object) -> None:
        raise OperationalError("as the driver says") from cause

    monkeypatch.setattr("curehouse.flows.weigh.renew_due", wait_in_vain)
    monkeypatch.setattr("curehouse.flows.end_bar.renew_due", wait_in_vain)


@pytest.mark.usefixtures("stuck")
def test_a_device_is_told_when_to_send_its_weighing_again(world: World) -> None:
    answer = Device(world).post("readings/", reading(world.bar(world.batch()), "120.0", world.now))
    assert problem(answer, 503, "busy")["detail"] == SENTENCE
    assert answer["Retry-After"] == "5"
    assert not Reading.objects.within(world.workshop).exists()


@pytest.mark.usefixtures("stuck")
def test_a_page_says_that_the_house_is_busy_and_nothing_was_changed(world: World, client: Client) -> None:
    client.force_login(world.owner)
    bar = world.bar(world.batch())
    answer = send(client, "bar_gone", bar.pk, why="sold early")
    assert (answer.status_code, answer["Retry-After"]) == (503, "5")
    assert SENTENCE in words_of(answer)
    bar.refresh_from_db()
    assert bar.ended_at is None


def test_another_error_of_the_database_is_not_called_busy() -> None:
    assert busy(OperationalError("no such table: t")) is None
    assert busy(ValueError("busy")) is None
