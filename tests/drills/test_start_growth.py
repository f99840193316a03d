"""The demo, and the same command on PostgreSQL and Redis."""

import os
import re
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import psycopg
import pytest
import redis
from psycopg import sql
from psycopg.conninfo import conninfo_to_dict

from tests.house import PATIENCE_SECONDS, RunningHouse, free_port, run_manage, wait_until
from tests.present import POSTGRES_URL, REDIS_URL

DATABASE = f"curehouse_start_{os.getpid()}"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """Open a demo house, end it, and return its folder and what it printed."""
    data = tmp_path_factory.mktemp("demo") / "data"
    return data, _open_demo(data)


def _open_demo(data: Path) -> str:
    with RunningHouse(data, "--demo", ready_within=180) as house:
        wait_until(lambda: "Ctrl-C ends it." in house.output(), seconds=PATIENCE_SECONDS, what="the greeting")
    return house.output()


def _sign_in(said: str) -> list[tuple[str, str]]:
    return re.findall(r"sign in as (\S+@\S+) with the password (\S+)", said)


def test_demo_opens_once_and_says_how_to_sign_in_each_time(demo: tuple[Path, str]) -> None:
    data, said = demo
    again = _open_demo(data)
    assert len(_sign_in(said)) == 1
    assert _sign_in(again) == _sign_in(said)
    assert "set-up" not in said + again


def test_house_that_is_ended_while_its_demo_is_written_has_written_nothing(tmp_path: Path) -> None:
    with RunningHouse(tmp_path / "data", "--demo", wait=False) as house:
        wait_until(lambda: "Opening the demo" in house.output(), seconds=PATIENCE_SECONDS, what="the demo's beginning")
        assert house.stop() == 0
    with closing(sqlite3.connect(tmp_path / "data" / "curehouse.sqlite3")) as connection:
        assert connection.execute("SELECT count(*) FROM workshops_workshop").fetchone() == (0,)
    assert not (tmp_path / "data" / "demo.json").exists()


def test_demo_is_refused_in_a_house_where_a_workshop_lives(demo: tuple[Path, str], tmp_path: Path) -> None:
    data = shutil.copytree(demo[0], tmp_path / "data")
    (data / "demo.json").unlink()
    refused = run_manage("start", "--port", str(free_port()), "--demo", data=data)
    assert refused.returncode == 2
    assert refused.stdout.startswith("Curehouse: --demo needs a house of its own, and a workshop lives in this one already;")


@pytest.fixture
def servers() -> Iterator[dict[str, str]]:
    """Make an empty database and an empty queue of its own, and return their addresses."""
    with psycopg.connect(POSTGRES_URL, autocommit=True) as connection:
        connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(DATABASE)))
        try:
            facts = conninfo_to_dict(POSTGRES_URL)
            url = f"postgres://{facts['user']}@{facts['host']}:{facts.get('port', 5432)}/{DATABASE}"
            yield {"DATABASE_URL": url, "REDIS_URL": REDIS_URL}
        finally:
            connection.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(DATABASE)))


@pytest.mark.needs("postgresql", "redis")
def test_house_stands_on_postgresql_and_redis(tmp_path: Path, servers: dict[str, str]) -> None:
    with RunningHouse(tmp_path / "data", env=servers) as house:
        assert house.status("/healthz") == 200
        wait_until(lambda: house.manage("health", "--worker").returncode == 0, seconds=PATIENCE_SECONDS, what="the worker")
        assert not (house.data / "curehouse.sqlite3").exists()
        assert any(b"celery" in key for key in redis.Redis.from_url(REDIS_URL).scan_iter("*"))
        backup = house.manage("backup", str(tmp_path / "house.backup"))
        assert backup.returncode == 2
        assert "pg_dump" in backup.stdout
        assert not (tmp_path / "house.backup").exists()
    with psycopg.connect(servers["DATABASE_URL"]) as connection:
        assert connection.execute("SELECT count(*) FROM django_migrations").fetchone() != (0,)
