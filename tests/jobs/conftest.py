from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest
from django.db import connection

from curehouse.flows.tick import look_for_due


@pytest.fixture(autouse=True)
def _no_mail_kept(settings, tmp_path: Path) -> None:
    settings.DATA_FOLDER = tmp_path


@pytest.fixture
def nudged_at(django_capture_on_commit_callbacks) -> Callable[[datetime], list[tuple[str, tuple[int, ...]]]]:
    """Let the tick look at a moment and return what it nudged."""

    def look(at: datetime) -> list[tuple[str, tuple[int, ...]]]:
        connection.run_on_commit.clear()  # what made it due has committed long ago
        with django_capture_on_commit_callbacks() as callbacks:
            look_for_due(at)
        return [(one.task_name, one.ids) for one in callbacks]

    return look
