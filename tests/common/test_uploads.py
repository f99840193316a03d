"""Attached content: whole or not there, and part of a backup."""

import errno
import hashlib
import os
import shutil
import sqlite3
import zipfile
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from curehouse.commands.house import archive
from curehouse.commands.house.refusal import Refused
from curehouse.common import uploads
from curehouse.common.errors import Conflict
from curehouse.common.full_disk import no_room


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, settings) -> Path:
    settings.DATA_FOLDER = tmp_path / "house"
    settings.DATA_FOLDER.mkdir()
    return settings.DATA_FOLDER


def test_what_is_kept_is_read_again_and_by_its_owner_only() -> None:
    kept = uploads.keep(b"98.5 %")
    assert uploads.read(kept) == b"98.5 %"
    assert kept.sha256 == hashlib.sha256(b"98.5 %").hexdigest()
    assert uploads.path_of(kept.name).stat().st_mode & 0o077 == 0


def test_what_a_killed_process_left_half_written_goes_after_a_day(folder: Path) -> None:
    now = datetime(2026, 3, 10, 9, tzinfo=UTC)
    old, young, other = (folder / name for name in (".upload-00ff", ".upload-11ee", "upload-list.csv"))
    for path, hours in ((old, 25), (young, 23), (other, 25)):
        path.write_bytes(b"half")
        os.utime(path, (now.timestamp() - hours * 3600,) * 2)
    kept = uploads.keep(b"whole")
    assert uploads.forget_drafts(at=now) == 1
    assert not old.exists()
    assert young.exists() and other.exists()
    assert uploads.read(kept) == b"whole"


def test_a_name_says_nothing_of_what_is_kept(folder: Path) -> None:
    """The same content gets another name each time, from the file as from memory, and is found by no digest of it."""
    source = folder / "list.csv"
    source.write_bytes(b"98.5 %")
    kept = [uploads.keep(b"98.5 %"), uploads.keep(b"98.5 %"), uploads.keep_file(source)]
    assert len({one.name for one in kept}) == 3
    assert len({one.sha256 for one in kept}) == 1
    digests = {hashlib.new(how, b"98.5 %").hexdigest() for how in ("sha256", "sha3_256", "blake2s")}
    assert not digests & {path.name for path in folder.rglob("*")}
    assert [uploads.read(one) for one in kept] == [b"98.5 %"] * 3


@pytest.mark.parametrize("name", ["", "../secret-key", "A" * 64, "a" * 63, "a" * 64 + "/.."])
def test_only_a_kept_name_leads_to_a_file(name: str) -> None:
    with pytest.raises(ValueError, match="nothing is kept under such a name"):
        uploads.path_of(name)


@pytest.mark.parametrize("now", [b"98", b"99.5 %", b""])
def test_content_that_was_changed_is_told_in_words_and_never_read(now: bytes) -> None:
    kept = uploads.keep(b"98.5 %")
    assert uploads.checked_path(kept) == uploads.path_of(kept.name)
    uploads.path_of(kept.name).write_bytes(now)
    for ask in (uploads.read, uploads.checked_path):
        with pytest.raises(Conflict, match="not the file that was put there") as refused:
            ask(kept)
        assert refused.value.code == "content_changed"


def test_what_was_kept_under_its_digest_is_read_as_before() -> None:
    digest = hashlib.sha256(b"98.5 %").hexdigest()
    uploads.path_of(digest).parent.mkdir(parents=True)
    uploads.path_of(digest).write_bytes(b"98.5 %")
    assert uploads.read(uploads.Kept(digest, digest)) == b"98.5 %"


def test_what_no_row_could_be_written_for_is_taken_back_and_nothing_else(folder: Path) -> None:
    stays = uploads.keep(b"98.5 %")
    with uploads.taken_back(stays):
        pass
    gone = uploads.keep(b"98.5 %")
    with pytest.raises(KeyError), uploads.taken_back(gone, uploads.NO_FILE):
        raise KeyError
    assert [path for path in folder.rglob("*") if path.is_file()] == [uploads.path_of(stays.name)]


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


@pytest.fixture
def backup(folder: Path, tmp_path: Path) -> Iterator[Callable[[], Path]]:
    """Return how a backup of the house is made."""
    with closing(sqlite3.connect(folder / archive.DATABASE)) as database:
        database.execute("CREATE TABLE django_migrations (id INTEGER)")
        database.commit()

    def made() -> Path:
        archive.write(tmp_path / "whole.backup", folder, at=datetime(2026, 3, 10, tzinfo=UTC))
        return tmp_path / "whole.backup"

    return made


def restored(source: Path, settings: Any) -> None:
    settings.DATA_FOLDER = source.parent / "restored"
    settings.DATA_FOLDER.mkdir()
    archive.restore(source, settings.DATA_FOLDER)


def test_a_backup_carries_what_was_attached(backup: Callable[[], Path], settings: Any) -> None:
    kept = uploads.keep(b"a certificate" * 1000)
    restored(backup(), settings)
    assert uploads.read(kept) == b"a certificate" * 1000


def test_a_backup_whose_attached_file_was_damaged_is_refused(backup: Callable[[], Path], settings: Any) -> None:
    content = os.urandom(5000)  # Cannot be packed smaller, so that it stands in the archive as it is.
    uploads.keep(content)
    source = backup()
    whole = source.read_bytes()
    middle = whole.index(content[2000:2100])
    source.write_bytes(whole[:middle] + bytes([whole[middle] ^ 1]) + whole[middle + 1 :])
    with pytest.raises(Refused, match="no whole backup"):
        restored(source, settings)
    assert list(settings.DATA_FOLDER.iterdir()) == []


def test_a_file_that_was_exchanged_in_a_backup_is_told_in_words_once_it_is_asked_for(
    backup: Callable[[], Path], tmp_path: Path, settings: Any
) -> None:
    """One that makes the archive whole again all the same is found out by the row's SHA-256."""
    kept = uploads.keep(b"98.5 %")
    with zipfile.ZipFile(backup()) as whole, zipfile.ZipFile(tmp_path / "other.backup", "w") as other:
        for name in whole.namelist():
            other.writestr(name, b"99.9 %" if name.endswith(kept.name) else whole.read(name))
    restored(tmp_path / "other.backup", settings)
    assert uploads.path_of(kept.name).read_bytes() == b"99.9 %"
    with pytest.raises(Conflict, match="not the file that was put there"):
        uploads.read(kept)


def test_a_file_that_is_taken_back_while_a_backup_runs_leaves_the_backup_whole(
    backup: Callable[[], Path], monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    stays, goes = uploads.keep(b"98.5 %"), uploads.keep(b"99 %")
    write = zipfile.ZipFile.write

    def late(packed: zipfile.ZipFile, path: Path, name: str) -> None:
        if str(path).endswith(goes.name):
            path.unlink()
        write(packed, path, name)

    with monkeypatch.context() as patch:
        patch.setattr(zipfile.ZipFile, "write", late)
        source = backup()
    restored(source, settings)
    assert uploads.read(stays) == b"98.5 %"
    with pytest.raises(FileNotFoundError):
        uploads.read(goes)
