"""A nudge goes out after the commit, and a broker that is down fails nothing."""

import pytest
from celery import current_app
from django.db import transaction
from kombu.exceptions import OperationalError

from curehouse.common.nudges import nudge


@pytest.fixture
def sent(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, tuple[int, ...]]]:
    messages: list[tuple[str, tuple[int, ...]]] = []
    monkeypatch.setattr(current_app, "send_task", lambda name, args, **_: messages.append((name, args)))
    return messages


def test_a_nudge_waits_for_the_commit(db, sent, django_capture_on_commit_callbacks) -> None:
    with django_capture_on_commit_callbacks(execute=True), transaction.atomic():
        nudge("jobs.assess", 1, 2)
        assert sent == []
    assert sent == [("jobs.assess", (1, 2))]


def test_a_nudge_of_work_that_was_undone_is_never_sent(db, sent, django_capture_on_commit_callbacks) -> None:
    undone = pytest.raises(RuntimeError, match="undone")
    with django_capture_on_commit_callbacks(execute=True), undone, transaction.atomic():
        nudge("jobs.assess", 1, 2)
        raise RuntimeError("undone")
    assert sent == []


def test_a_broker_that_is_down_is_logged_and_fails_nothing(
    db, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture, django_capture_on_commit_callbacks
) -> None:
    def down(*_args: object, **_kwargs: object) -> None:
        raise OperationalError("connection refused")

    monkeypatch.setattr(current_app, "send_task", down)
    with django_capture_on_commit_callbacks(execute=True):
        nudge("jobs.assess", 1, 2)
    assert "nudge lost" in caplog.text
