"""A backup of a running house stands again in an empty folder, and nothing else does."""

import sqlite3
import zipfile
from contextlib import closing
from pathlib import Path

import pytest

from tests.house import RunningHouse, free_port, run_manage


@pytest.fixture(scope="module")
def backup(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write a backup of a running house that holds a word to know it by, a photo and mail settings."""
    folder = tmp_path_factory.mktemp("backup")
    target = folder / "fennel-yard.backup"
    with RunningHouse(folder / "data") as house:
        (house.data / "mail.json").write_text('{"url": "smtp://127.0.0.1:2525"}')
        (house.data / "uploads" / "photos").mkdir(parents=True)
        (house.data / "uploads" / "photos" / "rack.txt").write_text("a photo")
        with closing(sqlite3.connect(house.data / "curehouse.sqlite3")) as connection, connection:
            connection.execute("CREATE TABLE a_word AS SELECT 'fennel' AS word")
        made = house.manage("backup", str(target))
        assert made.returncode == 0, made.stdout
        assert str(target) in made.stdout
        assert house.is_healthy()
        again = house.manage("backup", str(target))
        assert again.returncode == 2
        assert again.stdout.startswith(f"Curehouse: {target} exists already; a backup replaces nothing")
    return target


def test_backup_is_its_owners_alone_and_leaves_nothing_beside_it(backup: Path) -> None:
    assert backup.stat().st_mode & 0o777 == 0o600
    assert [path.name for path in backup.parent.iterdir() if "backup" in path.name] == [backup.name]


def test_backup_stands_again_in_an_empty_folder_with_the_same_secret(backup: Path, tmp_path: Path) -> None:
    with RunningHouse(tmp_path / "data", "--restore", str(backup)) as house:
        with closing(sqlite3.connect(house.data / "curehouse.sqlite3")) as connection:
            assert connection.execute("SELECT word FROM a_word").fetchone() == ("fennel",)
        old = backup.parent / "data"
        for name in ("secret-key", "mail.json", "uploads/photos/rack.txt"):
            assert (house.data / name).read_bytes() == (old / name).read_bytes()
        assert not list(house.data.glob(".restore-*"))


def test_restore_into_a_folder_that_is_not_empty_is_refused(backup: Path, tmp_path: Path) -> None:
    data = tmp_path / "data"
    data.mkdir()
    (data / "curehouse.sqlite3").write_bytes(b"")
    refused = _restore(backup, data)
    assert refused == (f"Curehouse: --restore needs an empty folder, and {data} isn't; choose a new one with --data.\n")
    assert (data / "curehouse.sqlite3").read_bytes() == b""


@pytest.mark.parametrize(
    ("harm", "sentence"),
    [
        ("cut short", "is no whole backup ("),
        ("not a backup", "is no whole backup ("),
        ("damaged database", "holds a damaged database ("),
        ("way out of the folder", "holds 'uploads/../../thistle.txt', which belongs to no backup."),
        ("foreign file", "holds 'sitecustomize.py', which belongs to no backup."),
        ("link", "holds 'uploads/link', which belongs to no backup."),
        ("no database", "wasn't written by `manage.py backup` of this version."),
    ],
)
def test_broken_backup_is_refused_and_leaves_the_folder_empty(backup: Path, tmp_path: Path, harm: str, sentence: str) -> None:
    broken = tmp_path / "broken.backup"
    _harm(backup, broken, harm)
    data = tmp_path / "data"
    refused = _restore(broken, data)
    assert refused.startswith(f"Curehouse: --restore {broken} {sentence}")
    assert refused.count("\n") == 1
    assert [path.name for path in data.iterdir()] == ["house.lock"]
    assert not (tmp_path / "thistle.txt").exists()


def _restore(archive: Path, data: Path) -> str:
    refused = run_manage("start", "--port", str(free_port()), "--restore", str(archive), data=data)
    assert refused.returncode == 2
    return refused.stdout


def _harm(backup: Path, broken: Path, harm: str) -> None:
    whole = backup.read_bytes()
    if harm == "cut short":
        broken.write_bytes(whole[: len(whole) // 2])
        return
    if harm == "not a backup":
        broken.write_bytes(b"soap" * 1000)
        return
    with zipfile.ZipFile(backup) as old, zipfile.ZipFile(broken, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "curehouse.sqlite3":
                if harm == "no database":
                    continue
                if harm == "damaged database":
                    content = content[:4096] + b"\xff" * 8192 + content[12288:]
            new.writestr(name, content)
        if harm == "way out of the folder":
            new.writestr("uploads/../../thistle.txt", "out")
        if harm == "foreign file":
            new.writestr("sitecustomize.py", "raise SystemExit")
        if harm == "link":
            link = zipfile.ZipInfo("uploads/link")
            link.external_attr = 0o120777 << 16
            new.writestr(link, "/etc/passwd")
