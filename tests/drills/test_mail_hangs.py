"""A mail server that takes connections and never says a word holds up no verdict."""

import socket
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from tests.house import PATIENCE_SECONDS, RunningHouse, wait_until

LETTERS = 30
# Each letter waits 8 s for the greeting: by two threads, thirty would take two minutes.
VERDICT_WITHIN_SECONDS = 60.0

TELL_AND_WEIGH = f"""
from datetime import timedelta
from django.db import transaction
from django.utils import timezone
from curehouse.notices.services import tell
from tests.world import World
now = timezone.now()
with transaction.atomic():
    world = World(now=now)
    batch = world.batch(cut_days_ago=30, sample_bars=1)
with transaction.atomic():
    for number in range({LETTERS}):
        tell(workshop=world.workshop, key=f"ready:{{number}}", kind="ready", about=str(number), mark="ready",
             title=f"Letter {{number}}", body="Dry.", path="/", at=now)
world.weigh(world.bar(batch), "130.0", moment=world.days_ago(30))
"""


def rows(data: Path, query: str) -> list[tuple]:
    with closing(sqlite3.connect(data / "curehouse.sqlite3", timeout=20)) as database:
        return database.execute(query).fetchall()


@pytest.fixture
def deaf_port():
    """Listen and take connections, as the kernel does for a program that hangs; answer nothing."""
    with socket.create_server(("127.0.0.1", 0), backlog=128) as deaf:
        yield deaf.getsockname()[1]


def test_verdict_comes_within_seconds_while_the_mail_server_hangs(tmp_path: Path, deaf_port: int) -> None:
    data = tmp_path / "house"
    env = {"EMAIL_URL": f"smtp://127.0.0.1:{deaf_port}", "CUREHOUSE_TICK_SECONDS": "2"}
    with RunningHouse(data, env=env) as house:
        done = house.manage("shell", "--no-imports", "-c", TELL_AND_WEIGH)
        assert done.returncode == 0, done.stdout
        wait_until(
            lambda: rows(data, "SELECT count(*) FROM curing_assessment")[0][0] > 0,
            seconds=VERDICT_WITHIN_SECONDS,
            what="the verdict of the weighing",
        )
        wait_until(
            lambda: rows(data, "SELECT 1 FROM notices_delivery WHERE state = 'waiting' AND last_error != ''"),
            seconds=PATIENCE_SECONDS,
            what="the first letter to give up",
        )
        letters = rows(data, "SELECT state, attempts, last_error FROM notices_delivery ORDER BY attempts DESC")
    assert letters[0][:2] == ("waiting", 1)
    assert {(state, attempts) for state, attempts, _ in letters[1:]} == {("waiting", 0)}
    assert {why for _, _, why in letters} == {
        f"127.0.0.1, port {deaf_port} did not answer in time: check host and port, or try later."
    }
