"""The health page and the set-up key."""

import json
from functools import partial
from pathlib import Path

import pytest
from django.db import OperationalError, connection
from django.test import Client, RequestFactory, override_settings

from curehouse.common import health
from curehouse.common.health import DatabaseFile, healthz
from curehouse.common.setup_key import setup_key


def test_healthz_answers_without_sign_in(client: Client, db: None) -> None:
    answer = client.get("/healthz")
    assert answer.status_code == 200
    assert answer.json() == {"status": "ok", "database": "ok"}


def test_healthz_answers_503_and_tells_nothing_when_the_database_is_gone(monkeypatch: pytest.MonkeyPatch) -> None:
    def gone() -> None:
        raise OperationalError("password of maker at 192.0.2.7 was refused")

    monkeypatch.setattr(connection, "cursor", gone)
    answer = healthz(RequestFactory().get("/healthz"))
    assert answer.status_code == 503
    assert json.loads(answer.content) == {"status": "failing", "database": "failing"}


@pytest.mark.parametrize("replaced", [False, True])
def test_healthz_answers_503_when_the_database_file_is_gone_from_under_it(
    db: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, replaced: bool
) -> None:
    path = tmp_path / "curehouse.sqlite3"
    path.write_bytes(b"as it was opened")
    monkeypatch.setattr(health, "database_file", partial(lambda file: file, DatabaseFile(path)))
    assert healthz(RequestFactory().get("/healthz")).status_code == 200
    path.rename(tmp_path / "aside")
    if replaced:
        path.write_bytes(b"another")
    assert healthz(RequestFactory().get("/healthz")).status_code == 503


def test_setup_key_is_short_steady_and_hangs_on_the_secret() -> None:
    with override_settings(SECRET_KEY="fennel"):
        first = setup_key()
        assert first == setup_key()
    with override_settings(SECRET_KEY="thistle"):
        assert setup_key() != first
    assert len(first) == 12
    assert set(first) <= set("abcdefghijklmnopqrstuvwxyz234567")
