"""docker-compose.yml without Docker: its schema, and its commands against real servers.

The schema is the one of the Compose Specification (compose-spec.io) that check-jsonschema ships.
"""

import os
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

import psycopg
import pytest
import yaml
from psycopg import sql
from psycopg.conninfo import conninfo_to_dict

from tests.house import PATIENCE_SECONDS, REPOSITORY, clean_environment, free_port, wait_until
from tests.present import POSTGRES_URL, REDIS_URL

FILE = REPOSITORY / "docker-compose.yml"
SERVICES: dict[str, Any] = yaml.safe_load(FILE.read_text(encoding="utf-8"))["services"]
OURS = ("web", "worker", "beat")
DATABASE = f"curehouse_compose_{os.getpid()}"
_VARIABLE = re.compile(r"\$\{(\w+)(?::([-?])([^}]*))?\}")


def test_compose_file_follows_the_compose_specification() -> None:
    checked = subprocess.run(
        [sys.executable, "-m", "check_jsonschema", "--builtin-schema", "vendor.compose-spec", str(FILE)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert checked.returncode == 0, checked.stdout + checked.stderr


def test_compose_file_names_every_service_and_hands_no_line_to_a_shell() -> None:
    assert set(SERVICES) == {"postgres", "redis", *OURS}
    for name, service in SERVICES.items():
        assert service["healthcheck"]["test"][0] == "CMD", name
        assert isinstance(service.get("command", []), list), name


def test_compose_file_has_no_secret_of_its_own() -> None:
    text = FILE.read_text(encoding="utf-8")
    assert re.findall(r"\$\{(SECRET_KEY|POSTGRES_PASSWORD):\?", text) == [
        "POSTGRES_PASSWORD",
        "SECRET_KEY",
        "POSTGRES_PASSWORD",
    ]


def test_compose_file_hands_on_every_setting_that_readme_lists() -> None:
    table = (REPOSITORY / "README.md").read_text(encoding="utf-8").partition("| setting |")[2].partition("\n\n")[0]
    first_cells = " ".join(re.findall(r"^\| (.*?) \|", table, re.MULTILINE))
    listed = set(re.findall(r"`([A-Z_]+)`", first_cells))
    assert {"DATABASE_URL", "PUBLIC_URL", "CSRF_TRUSTED_ORIGINS"} <= listed
    for service in OURS:
        # Behind a proxy others could read the error pages that DEBUG shows.
        assert set(SERVICES[service]["environment"]) == listed - {"DEBUG"}, service


def _filled(text: str, values: dict[str, str]) -> str:
    """Put *values* for the file's variables, as Compose does; a required one must be there."""

    def value(match: re.Match[str]) -> str:
        name, kind, default = match.groups()
        if name in values:
            return values[name]
        assert kind == "-", f"{name} must be set"
        return str(default)

    return _VARIABLE.sub(value, text)


@pytest.fixture
def database() -> Iterator[str]:
    """Make an empty database and return its address."""
    with psycopg.connect(POSTGRES_URL, autocommit=True) as connection:
        connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(DATABASE)))
        try:
            facts = conninfo_to_dict(POSTGRES_URL)
            yield f"postgres://{facts['user']}@{facts['host']}:{facts.get('port', 5432)}/{DATABASE}"
        finally:
            connection.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(DATABASE)))


def _environment(service: str, data: Path, database: str) -> dict[str, str]:
    """Return the service's environment: the file's, with servers and folder of this computer."""
    values = {"SECRET_KEY": "fennel-yard-compose-test-0123456789", "POSTGRES_PASSWORD": "not-asked-for-here"}
    declared = {name: _filled(text, values) for name, text in SERVICES[service]["environment"].items()}
    assert "@postgres:5432/" in declared["DATABASE_URL"]
    assert declared["REDIS_URL"].startswith("redis://redis:6379/")
    scripts = str(Path(sys.executable).parent)
    here = {"DATABASE_URL": database, "REDIS_URL": REDIS_URL, "CUREHOUSE_DATA": str(data), "PATH": scripts}
    return clean_environment(declared | here)


def _here(words: list[str], port: int) -> list[str]:
    return [word.replace("8000", str(port)).replace("0.0.0.0", "127.0.0.1") for word in words]


@contextmanager
def _running(service: str, env: dict[str, str], port: int, log: Path) -> Iterator[subprocess.Popen[bytes]]:
    with log.open("wb") as out:
        process = subprocess.Popen(
            _here(SERVICES[service]["command"], port),
            env=env,
            cwd=REPOSITORY,
            stdout=out,
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )
    try:
        yield process
    finally:
        if process.poll() is None:
            process.kill()
            process.wait()


@pytest.mark.needs("postgresql", "redis")
def test_services_become_healthy_and_end_with_zero(tmp_path: Path, database: str) -> None:
    port = free_port()
    with ExitStack() as stack:
        running = {}
        for service in OURS:
            env = _environment(service, tmp_path / "data", database)
            log = tmp_path / f"{service}.log"
            running[service] = stack.enter_context(_running(service, env, port, log))
            check = _here(SERVICES[service]["healthcheck"]["test"][1:], port)

            def healthy(check: list[str] = check, env: dict[str, str] = env, service: str = service) -> bool:
                assert running[service].poll() is None, (tmp_path / f"{service}.log").read_text()
                asked = subprocess.run(check, env=env, cwd=REPOSITORY, capture_output=True, timeout=120, check=False)
                return asked.returncode == 0

            wait_until(healthy, seconds=PATIENCE_SECONDS, what=f"{service}: {shlex.join(check)}")
        # Through a container's network the owner comes as a stranger and needs the key.
        assert "/set-up/?key=" in (tmp_path / "web.log").read_text()
        for process in running.values():
            process.terminate()
        assert {service: process.wait(60) for service, process in running.items()} == dict.fromkeys(OURS, 0)


@pytest.mark.long
def test_image_builds_by_its_own_install_line_in_a_fresh_environment(tmp_path: Path) -> None:
    recipe = SERVICES["web"]["build"]["dockerfile_inline"]
    line = next(line for line in recipe.splitlines() if line.startswith("RUN [") and "install" in line)
    words = yaml.safe_load(line.removeprefix("RUN "))
    source = tmp_path / "house"
    shutil.copytree(REPOSITORY, source, ignore=shutil.ignore_patterns(".git", "var", ".venv", "*.egg-info", "tests"))
    subprocess.run([sys.executable, "-m", "venv", str(tmp_path / "fresh")], check=True)
    python = str(tmp_path / "fresh" / "bin" / "python")
    subprocess.run([python, *words[1:]], cwd=source, check=True, timeout=900)
    env = clean_environment({"CUREHOUSE_DATA": str(tmp_path / "data")})
    checked = subprocess.run([python, "manage.py", "check"], cwd=source, env=env, capture_output=True, text=True, check=False)
    assert checked.returncode == 0, checked.stderr
