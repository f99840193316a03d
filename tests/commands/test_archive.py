"""Backups that are broken, hostile or on odd disks are answered in one sentence."""

import errno
import json
import random
import sqlite3
import tracemalloc
import zipfile
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from curehouse.commands.house import archive
from curehouse.commands.house.refusal import Refused
from tests.house import free_port, run_manage

NOW = datetime(2026, 3, 10, 9, 0, tzinfo=UTC)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = tmp_path / "house"
    folder.mkdir()
    with closing(sqlite3.connect(folder / archive.DATABASE)) as database:
        database.execute("CREATE TABLE django_migrations (id INTEGER)")
        database.execute("CREATE TABLE bars (weight TEXT)")
        database.executemany("INSERT INTO bars VALUES (?)", [(f"{n * 7919 % 1000} g",) for n in range(500)])
        database.commit()
    (folder / "secret-key").write_text("fennel-yard")
    return folder


def test_a_backup_with_a_changed_byte_is_restored_whole_or_refused_and_leaves_nothing(folder: Path, tmp_path: Path) -> None:
    whole = tmp_path / "whole.backup"
    archive.write(whole, folder, at=NOW)
    data, dice = whole.read_bytes(), random.Random(7)
    refused = 0
    for number in range(200):
        broken = bytearray(data)
        for _change in range(dice.choice((1, 1, 3, 20))):
            broken[dice.randrange(len(broken))] = dice.randrange(256)
        source, target = tmp_path / "broken.backup", tmp_path / f"target{number}"
        source.write_bytes(broken)
        target.mkdir()
        try:
            archive.restore(source, target)
        except Refused:
            refused += 1
            assert list(target.iterdir()) == []
    assert refused > 100


def test_only_a_file_is_restored(tmp_path: Path) -> None:
    for source in (Path("/dev/zero"), tmp_path, tmp_path / "nowhere.backup"):
        target = tmp_path / f"for-{source.name}"
        target.mkdir()
        with pytest.raises(Refused, match="isn't a file"):
            archive.restore(source, target)


def test_restore_is_refused_where_the_data_is_kept_elsewhere(tmp_path: Path) -> None:
    env = {"DATABASE_URL": "postgres://postgres@127.0.0.1/nowhere"}
    words = ("start", "--port", str(free_port()), "--restore", str(tmp_path / "any.backup"))
    refused = run_manage(*words, data=tmp_path / "data", env=env)
    assert (refused.returncode, refused.stdout.count("\n")) == (2, 1)
    assert "DATABASE_URL leads elsewhere" in refused.stdout


def test_a_disk_without_links_gets_its_backup_all_the_same(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_links(*_args: object) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr("os.link", no_links)
    target = tmp_path / "stick.backup"
    assert archive.write(target, folder, at=NOW) == target.stat().st_size > 0
    with pytest.raises(Refused, match="exists already"):
        archive.write(target, folder, at=NOW)
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


def test_a_damaged_source_is_answered_in_words(folder: Path, tmp_path: Path) -> None:
    (folder / archive.DATABASE).write_bytes(b"no database at all, but long enough to be read" * 200)
    with pytest.raises(Refused, match="can't be written"):
        archive.write(tmp_path / "none.backup", folder, at=NOW)
    assert not (tmp_path / "none.backup").exists()


def test_a_disk_without_links_that_fills_keeps_no_part_of_a_backup(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_links(*_args: object) -> None:
        monkeypatch.setattr("os.fsync", full)
        raise OSError(errno.EPERM, "Operation not permitted")

    def full(*_args: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("os.link", no_links)
    with pytest.raises(Refused, match="No space left on device"):
        archive.write(tmp_path / "stick.backup", folder, at=NOW)
    assert [path.name for path in tmp_path.iterdir()] == ["house"]


def test_a_disk_that_is_full_before_anything_is_unpacked_leaves_the_folder_empty(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole, target = tmp_path / "whole.backup", tmp_path / "target"
    archive.write(whole, folder, at=NOW)
    target.mkdir()

    def full(*_args: object, **_options: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("tempfile.mkdtemp", full)
    with pytest.raises(Refused, match="No space left on device"):
        archive.restore(whole, target)
    assert list(target.iterdir()) == []


@pytest.mark.parametrize("name", ["secret-key", archive.DATABASE])
def test_a_move_that_fails_leaves_the_folder_empty(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    whole, target = tmp_path / "whole.backup", tmp_path / "target"
    archive.write(whole, folder, at=NOW)
    target.mkdir()
    rename = Path.rename

    def fails(path: Path, to: Path) -> Path:
        if path.name == name:
            raise OSError(errno.EIO, "Input/output error")
        return rename(path, to)

    monkeypatch.setattr(Path, "rename", fails)
    with pytest.raises(Refused, match="Input/output error"):
        archive.restore(whole, target)
    monkeypatch.undo()
    assert list(target.iterdir()) == []
    archive.restore(whole, target)
    assert sorted(path.name for path in target.iterdir()) == [archive.DATABASE, "secret-key"]


def test_a_word_on_itself_that_swells_is_no_backup(folder: Path, tmp_path: Path) -> None:
    bomb, target = tmp_path / "bomb.backup", tmp_path / "target"
    target.mkdir()
    about = json.dumps({"format": archive.FORMAT, "made_at": " " * 50_000_000})
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr(archive.ABOUT, about)
        packed.write(folder / archive.DATABASE, archive.DATABASE)
    tracemalloc.start()
    try:
        with pytest.raises(Refused, match="about.json is larger than a backup writes it"):
            archive.restore(bomb, target)
        assert tracemalloc.get_traced_memory()[1] < 20_000_000
    finally:
        tracemalloc.stop()
    assert list(target.iterdir()) == []
