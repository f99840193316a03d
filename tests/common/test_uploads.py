"""Attached content: whole or not there, and part of a backup."""

import errno
import os
import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from curehouse.commands.house import archive
from curehouse.common import uploads
from curehouse.common.full_disk import no_room


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, settings) -> Path:
    settings.DATA_FOLDER = tmp_path / "house"
    settings.DATA_FOLDER.mkdir()
    return settings.DATA_FOLDER


def test_what_is_kept_is_read_again_and_by_its_owner_only() -> None:
    digest = uploads.keep(b"98.5 %")
    assert uploads.read(digest) == b"98.5 %"
    assert uploads.path_of(digest).stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("digest", ["", "../secret-key", "A" * 64, "a" * 63, "a" * 64 + "/.."])
def test_only_a_digest_leads_to_a_file(digest: str) -> None:
    with pytest.raises(ValueError, match="no SHA-256"):
        uploads.path_of(digest)


def test_a_full_disk_leaves_no_part_of_a_file(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_args: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patch, pytest.raises(OSError, match="No space left"):
        patch.setattr(os, "fsync", full)
        uploads.keep(b"98.5 %")
    assert [path for path in folder.rglob("*") if path.is_file()] == []
    assert uploads.read(uploads.keep(b"98.5 %")) == b"98.5 %"


def test_papers_do_not_fill_the_disk_that_weighings_are_kept_on(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One workshop's uploads would stop the others' rounds."""
    left = shutil.disk_usage(folder).free
    monkeypatch.setattr(uploads, "LEFT_FREE_BYTES", left + 2**40)
    with pytest.raises(OSError, match="No space left") as refused:
        uploads.keep(b"98.5 %")
    assert no_room(refused.value) is not None
    source = folder / "list.csv"
    source.write_bytes(b"98.5 %")
    with pytest.raises(OSError, match="No space left"):
        uploads.keep_file(source)
    assert [path for path in folder.rglob("*") if path.is_file()] == [source]
    monkeypatch.undo()
    assert uploads.LEFT_FREE_BYTES >= 50 * 2**20


def test_content_that_was_cut_short_is_written_anew() -> None:
    digest = uploads.keep(b"98.5 %")
    uploads.path_of(digest).write_bytes(b"98")
    assert uploads.read(uploads.keep(b"98.5 %")) == b"98.5 %"


def test_a_backup_carries_what_was_attached(folder: Path, tmp_path: Path, settings) -> None:
    with closing(sqlite3.connect(folder / archive.DATABASE)) as database:
        database.execute("CREATE TABLE django_migrations (id INTEGER)")
        database.commit()
    digest = uploads.keep(b"a certificate" * 1000)
    archive.write(tmp_path / "whole.backup", folder, at=datetime(2026, 3, 10, tzinfo=UTC))
    settings.DATA_FOLDER = tmp_path / "restored"
    settings.DATA_FOLDER.mkdir()
    archive.restore(tmp_path / "whole.backup", settings.DATA_FOLDER)
    assert uploads.read(digest) == b"a certificate" * 1000
