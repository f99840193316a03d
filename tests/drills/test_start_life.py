"""``manage.py start`` from its first page to its end, however the end comes."""

import os
import signal
import socket
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import psutil
import pytest

from tests.house import PATIENCE_SECONDS, REPOSITORY, RunningHouse, clean_environment, free_port, run_manage, wait_until

IGNORING_SIGINT = ("sh", "-c", 'trap "" INT; exec "$@"', "sh")
BACK_WITHIN_SECONDS = 120


@pytest.fixture(scope="module")
def lasting(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningHouse]:
    with RunningHouse(tmp_path_factory.mktemp("life") / "data") as running:
        yield running


@pytest.fixture
def house(lasting: RunningHouse) -> RunningHouse:
    """Return one house for the whole file, opened again if the test before ended it."""
    if not lasting.tree():
        lasting.start()
    return lasting


def test_start_serves_its_pages_and_says_where(house: RunningHouse) -> None:
    assert house.status("/") == 200
    wait_until(lambda: "Ctrl-C ends it." in house.output(), seconds=PATIENCE_SECONDS, what="the greeting")
    assert f"open at http://127.0.0.1:{house.port}/" in house.output()
    assert f"http://127.0.0.1:{house.port}/set-up/?key=" in house.output()


def test_start_listens_on_this_computer_only(house: RunningHouse) -> None:
    listening = {
        connection.laddr.ip
        for process in house.tree()
        for connection in process.net_connections(kind="inet")
        if connection.status == psutil.CONN_LISTEN
    }
    assert listening == {"127.0.0.1"}


def test_what_the_house_writes_is_its_owners_alone(house: RunningHouse) -> None:
    files = [path for path in house.data.rglob("*") if path.is_file() and "static" not in path.parts]
    assert {path.name for path in files} >= {"curehouse.sqlite3", "secret-key", "web.log"}
    assert [path for path in files if path.stat().st_mode & 0o077] == []


def test_health_tells_a_server_that_answers_from_one_that_does_not(house: RunningHouse) -> None:
    web = house.manage("health", "--web", house.base_url)
    assert (web.returncode, web.stdout) == (0, "well\n")
    database = house.manage("health")
    assert (database.returncode, database.stdout) == (0, "well\n")
    nobody = house.manage("health", "--web", f"http://127.0.0.1:{free_port()}")
    assert nobody.returncode == 1
    assert "does not answer" in nobody.stdout


def test_second_start_on_the_same_folder_is_refused(house: RunningHouse) -> None:
    second = house.manage("start", "--port", str(free_port()))
    assert second.returncode == 2
    assert second.stdout.splitlines() == [
        f"Curehouse: a house already lives in {house.data} (process {house.tree()[0].pid}); stop it first,"
        " or choose another folder with --data."
    ]
    assert house.is_healthy()


@pytest.mark.parametrize("victim", ["web", "web's worker", "worker"])
def test_killed_child_comes_back(house: RunningHouse, victim: str) -> None:
    role = victim.split("'")[0]
    before = house.child(role)
    family = [before, *before.children(recursive=True)]
    (family[-1] if victim == "web's worker" else before).kill()
    wait_until(
        lambda: not any(p.is_running() for p in family) and _child_pid(house, role) not in (None, before.pid),
        seconds=BACK_WITHIN_SECONDS,
        what=f"another {role}",
    )
    wait_until(house.is_healthy, seconds=BACK_WITHIN_SECONDS, what="the web server")
    wait_until(lambda: house.manage("health", "--worker").returncode == 0, seconds=BACK_WITHIN_SECONDS, what="worker")
    assert f"The {role} ended (" in house.output()


def _child_pid(house: RunningHouse, role: str) -> int | None:
    try:
        return house.child(role).pid
    except (AssertionError, psutil.NoSuchProcess):
        return None


def test_killed_supervisor_leaves_nothing_behind_and_the_folder_opens_again(house: RunningHouse) -> None:
    assert len(house.tree()) >= 4
    house.kill()
    wait_until(lambda: not house.alive(), seconds=PATIENCE_SECONDS, what="the end of every process")
    house.start()
    assert house.status("/healthz") == 200


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT], ids=["SIGTERM", "Ctrl-C"])
def test_signal_ends_the_house_with_zero_and_leaves_no_process(house: RunningHouse, number: int) -> None:
    assert house.stop(number) == 0
    assert house.alive() == []


def test_ctrl_c_ends_a_house_that_a_shell_started_in_its_background(tmp_path: Path) -> None:
    with RunningHouse(tmp_path / "data", before=IGNORING_SIGINT) as house:
        assert house.stop(signal.SIGINT) == 0


def test_taken_port_is_refused_before_anything_is_made(tmp_path: Path) -> None:
    with closing(socket.socket()) as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        refused = run_manage("start", "--port", str(port), data=tmp_path / "data")
    assert refused.returncode == 2
    assert refused.stdout == (f"Curehouse: port {port} is taken by another program; choose another with --port.\n")
    assert not (tmp_path / "data" / "curehouse.sqlite3").exists()


def test_folder_that_cannot_be_made_is_refused_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    refused = run_manage("start", data=tmp_path / "file" / "data")
    assert refused.returncode == 2
    assert refused.stdout == (
        f"Curehouse: the data folder {tmp_path}/file/data can't be written (Not a directory); make room or"
        " rights there, or choose another with --data.\n"
    )


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--port", "eighty"], "argument --port: 'eighty' is no port; write a number from 1 to 65535"),
        (["--cert", "a.pem"], "HTTPS needs both files: --key is missing."),
        (["--lan", "fennel"], "--lan fennel is no IPv4 address; write four numbers"),
        (["--lan", "192.0.2.7"], "--lan 192.0.2.7 is no address of this computer"),
        (["--restore", "/nowhere.backup"], "--restore /nowhere.backup isn't a file"),
    ],
)
def test_wrong_option_is_answered_in_one_line(tmp_path: Path, words: list[str], sentence: str) -> None:
    refused = run_manage("start", "--port", str(free_port()), *words, data=tmp_path / "data")
    assert refused.returncode == 2
    assert refused.stdout.startswith(f"Curehouse: {sentence}")
    assert refused.stdout.count("\n") == 1


def test_damaged_database_is_refused_in_one_line(tmp_path: Path) -> None:
    data = tmp_path / "data"
    data.mkdir()
    (data / "curehouse.sqlite3").write_bytes(b"milk and lye, not a database" * 300)
    refused = run_manage("start", "--port", str(free_port()), data=data)
    assert refused.returncode == 2
    assert refused.stdout.startswith(f"Curehouse: the database {data}/curehouse.sqlite3 is damaged (")
    assert refused.stdout.count("\n") == 1


def test_database_of_a_newer_version_is_refused(tmp_path: Path) -> None:
    data = tmp_path / "data"
    assert run_manage("migrate", "--verbosity", "0", data=data).returncode == 0
    with closing(sqlite3.connect(data / "curehouse.sqlite3")) as connection, connection:
        connection.execute(
            "INSERT INTO django_migrations (app, name, applied) VALUES ('curing', '9999_from_tomorrow', '2099-01-01')"
        )
    refused = run_manage("start", "--port", str(free_port()), data=data)
    assert refused.returncode == 2
    assert "was used by a newer version of Curehouse (curing.9999_from_tomorrow)" in refused.stdout
    assert refused.stdout.count("\n") == 1


@pytest.mark.parametrize(
    ("variable", "scheme", "sentence"),
    [
        ("DATABASE_URL", "postgres://maker:fennelsecret@", "the database nowhere on 127.0.0.1 can't be used ("),
        ("REDIS_URL", "redis://:fennelsecret@", "the queue redis://"),
    ],
)
def test_server_that_does_not_answer_is_named_in_one_line_without_its_password(
    tmp_path: Path, variable: str, scheme: str, sentence: str
) -> None:
    url = f"{scheme}127.0.0.1:{free_port()}/" + ("nowhere" if variable == "DATABASE_URL" else "0")
    refused = run_manage("start", "--port", str(free_port()), data=tmp_path / "data", env={variable: url})
    assert refused.returncode == 2
    assert refused.stdout.startswith(f"Curehouse: {sentence}")
    assert refused.stdout.count("\n") == 1
    assert "fennelsecret" not in refused.stdout


def test_child_that_watches_its_parent_ends_with_it(tmp_path: Path) -> None:
    """The way taken where the kernel can't tell a child that its parent died (macOS)."""
    port = free_port()
    starter = (
        "import os, subprocess, sys, time\n"
        "subprocess.Popen([sys.executable, '-m', 'curehouse.commands.house.child', 'web', '--tie', 'watch',"
        f" '--parent', str(os.getpid()), '--host', '127.0.0.1', '--port', '{port}'], start_new_session=True)\n"
        "time.sleep(120)\n"
    )
    env = clean_environment({"CUREHOUSE_DATA": str(tmp_path / "data")})
    parent = subprocess.Popen([sys.executable, "-c", starter], env=env, cwd=REPOSITORY)
    try:
        wait_until(lambda: _accepts(port), seconds=PATIENCE_SECONDS, what="the web server")
        family = psutil.Process(parent.pid).children(recursive=True)
        assert len(family) >= 2
    finally:
        parent.kill()
        parent.wait()
    gone, left = psutil.wait_procs(family, timeout=60)
    for process in left:
        os.kill(process.pid, signal.SIGKILL)
    assert left == []
    assert len(gone) == len(family)


def _accepts(port: int) -> bool:
    with closing(socket.socket()) as line:
        return line.connect_ex(("127.0.0.1", port)) == 0
