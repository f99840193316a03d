"""Backups: one ZIP file with everything a house needs to stand again.

``about.json`` (format, moment), ``curehouse.sqlite3``, and where they exist ``secret-key``,
``mail.json`` and ``uploads/…``. Nothing else is ever written or accepted.
"""

import json
import lzma
import os
import secrets
import shutil
import sqlite3
import stat
import tempfile
import zipfile
import zlib
from contextlib import closing, suppress
from datetime import datetime
from pathlib import Path, PurePosixPath

from curehouse.commands.house.folder import LOCK, check_lived_in
from curehouse.commands.house.refusal import Refused
from curehouse.commands.house.soundness import DATABASE, fault_in

FORMAT = 1
ABOUT = "about.json"
SINGLE_FILES = ("secret-key", "mail.json")
UPLOADS = "uploads"
MAX_BYTES = 20 * 2**30
MAX_MEMBERS = 100_000
MAX_ABOUT_BYTES = 10_000
_BLOCK = 1 << 20
# What zipfile lets through when an archive is cut off, mangled or made by hand.
_BROKEN = (
    zipfile.BadZipFile,
    zipfile.LargeZipFile,
    zlib.error,
    lzma.LZMAError,
    EOFError,
    ValueError,
    NotImplementedError,
    RuntimeError,
)


def write(target: Path, folder: Path, *, at: datetime) -> int:
    """Write a backup of the house in *folder*, which may be running, to *target*; return its bytes.

    The file is readable by its owner only, appears under its name when it is whole, and never
    replaces another.

    Raises
    ------
    Refused
        *target* exists, there is no database yet, or a file can't be written.
    """
    check_target(target)
    check_lived_in(folder)
    draft = target.with_name(f".{target.name}.{secrets.token_hex(4)}")
    try:
        with tempfile.TemporaryDirectory(dir=target.parent, prefix=".backup-") as aside:
            copy = Path(aside) / DATABASE
            _copy_database(folder / DATABASE, copy)
            _pack(draft, folder, copy, at)
        _put_in_place(draft, target)
        return target.stat().st_size
    except FileExistsError as error:
        raise Refused(f"{target} exists already; a backup replaces nothing, give another name.") from error
    except OSError as error:
        raise Refused(f"the backup {target} can't be written ({error.strerror}).") from error
    except sqlite3.Error as error:
        raise Refused(f"the backup {target} can't be written ({error}).") from error
    finally:
        draft.unlink(missing_ok=True)


def check_target(target: Path) -> None:
    """Raise Refused if there is something at *target* already."""
    if target.exists():
        raise Refused(f"{target} exists already; a backup replaces nothing, give another name.")


def _put_in_place(draft: Path, target: Path) -> None:
    """Give the whole file its name, unless another has it."""
    try:
        os.link(draft, target)
    except FileExistsError:
        raise
    except OSError:
        # Sticks and cards (FAT) know no links: copied to a name nobody has, or taken away again.
        out = target.open("xb")
        try:
            with draft.open("rb") as whole, out:
                shutil.copyfileobj(whole, out)
                out.flush()
                os.fsync(out.fileno())
        except BaseException:
            target.unlink()
            raise


def _copy_database(source: Path, copy: Path) -> None:
    # SQLite's own backup: one consistent moment, while others go on writing.
    with closing(sqlite3.connect(source, timeout=20)) as running, closing(sqlite3.connect(copy)) as aside:
        running.backup(aside)
        # A copy in WAL mode would want two more files beside it.
        aside.execute("PRAGMA journal_mode=DELETE")


def _pack(draft: Path, folder: Path, database: Path, at: datetime) -> None:
    descriptor = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "wb") as stream:
        with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as packed:
            packed.writestr(ABOUT, json.dumps({"format": FORMAT, "made_at": at.isoformat()}))
            packed.write(database, DATABASE)
            for name in SINGLE_FILES:
                if (folder / name).is_file():
                    packed.write(folder / name, name)
            for path in sorted((folder / UPLOADS).rglob("*")):
                if path.is_file() and not path.is_symlink():
                    # Whose row could not be written goes away again; found gone before anything of it is packed.
                    with suppress(FileNotFoundError):
                        packed.write(path, path.relative_to(folder).as_posix())
        stream.flush()
        os.fsync(stream.fileno())


def restore(source: Path, folder: Path) -> None:
    """Unpack the backup *source* into the empty *folder*; a broken one leaves it empty.

    Raises
    ------
    Refused
        The folder isn't empty, or the file is no whole backup of a house.
    """
    if not source.is_file():
        raise Refused(f"--restore {source} isn't a file.")
    if any(path.name != LOCK for path in folder.iterdir()):
        raise Refused(f"--restore needs an empty folder, and {folder} isn't; choose a new one with --data.")
    try:
        with tempfile.TemporaryDirectory(dir=folder, prefix=".restore-", ignore_cleanup_errors=True) as name:
            _unpack(source, Path(name))
            _move_in(Path(name), folder)
    except OSError as error:
        raise Refused(f"--restore {source} can't be unpacked ({error.strerror or error}).") from error
    except _BROKEN as error:
        raise Refused(
            f"--restore {source} is no whole backup (cut short, changed, or another file); copy it anew or take another."
        ) from error


def _move_in(aside: Path, folder: Path) -> None:
    """Move what was unpacked into *folder*, or none of it."""
    moved: list[Path] = []
    try:
        # The database comes last: a house that finds one finds its secret beside it.
        for path in sorted(aside.iterdir(), key=lambda path: path.name == DATABASE):
            moved.append(path.rename(folder / path.name))
    except BaseException:
        for path in reversed(moved):
            path.rename(aside / path.name)
        raise


def _unpack(source: Path, aside: Path) -> None:
    with zipfile.ZipFile(source) as packed:
        members = packed.infolist()
        _check_members(source, members, free=shutil.disk_usage(aside).free)
        for member in members:
            if member.filename != ABOUT:
                _unpack_member(packed, member, aside / member.filename)
        about = _read_about(packed)
    try:
        known = json.loads(about).get("format") == FORMAT
    except (ValueError, AttributeError):
        known = False
    if not known or not (aside / DATABASE).is_file():
        raise Refused(f"--restore {source} wasn't written by `manage.py backup` of this version.")
    _check_database(source, aside / DATABASE)


def _read_about(packed: zipfile.ZipFile) -> bytes:
    """Return the archive's word on itself; a line or two, whatever it says of its size."""
    if ABOUT not in packed.namelist():
        return b""
    with packed.open(ABOUT) as stream:
        about = stream.read(MAX_ABOUT_BYTES + 1)
    if len(about) > MAX_ABOUT_BYTES:
        raise Refused(f"--restore {packed.filename} is no whole backup: {ABOUT} is larger than a backup writes it.")
    return about


def _check_members(source: Path, members: list[zipfile.ZipInfo], *, free: int) -> None:
    names = [member.filename for member in members]
    if len(set(names)) != len(names) or len(names) > MAX_MEMBERS:
        raise Refused(f"--restore {source} holds a name twice or too many files.")
    for member in members:
        if not _is_known(member):
            raise Refused(f"--restore {source} holds {member.filename!r}, which belongs to no backup.")
    size = sum(member.file_size for member in members)
    if size > min(MAX_BYTES, free):
        raise Refused(f"--restore {source} needs {size // 2**20 + 1} MB, more than there is room for.")


def _is_known(member: zipfile.ZipInfo) -> bool:
    mode = member.external_attr >> 16
    if not member.filename or member.is_dir() or (stat.S_IFMT(mode) and not stat.S_ISREG(mode)):
        return False
    if member.filename in (ABOUT, DATABASE, *SINGLE_FILES):
        return True
    parts = member.filename.split("/")
    path = PurePosixPath(member.filename)
    return (
        len(parts) > 1
        and parts[0] == UPLOADS
        and not path.is_absolute()
        and not {"", ".", ".."} & set(parts)
        and "\\" not in member.filename
    )


def _unpack_member(packed: zipfile.ZipFile, member: zipfile.ZipInfo, target: Path) -> None:
    target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    descriptor = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    left = member.file_size
    with os.fdopen(descriptor, "wb") as out, packed.open(member) as stream:
        while block := stream.read(_BLOCK):
            left -= len(block)
            if left < 0:
                raise zipfile.BadZipFile(f"{member.filename} is larger than it says")
            out.write(block)
        out.flush()
        os.fsync(out.fileno())


def _check_database(source: Path, path: Path) -> None:
    fault = fault_in(path, thorough=True)
    if fault is None:
        with closing(sqlite3.connect(path)) as connection:
            found = connection.execute("SELECT count(*) FROM sqlite_master WHERE name = 'django_migrations'").fetchone()[0]
        fault = None if found else "it is empty"
    if fault is not None:
        raise Refused(f"--restore {source} holds a damaged database ({fault}).")
