"""Logs stay small, on a full disk too."""

import errno
from pathlib import Path

import pytest

from curehouse.commands.house import logs


def test_a_log_that_cannot_be_copied_is_emptied_all_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_args: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    log = tmp_path / "web.log"
    log.write_bytes(b"x" * (logs.MAX_BYTES + 1))
    monkeypatch.setattr("shutil.copyfile", full)
    logs.keep_small(log)
    assert log.stat().st_size == 0
