"""Files that people attach, kept in the data folder under random names.

Each is kept as a file of its own, the same content too, so that no name tells what is kept and no two
rows, let alone two workshops, share a file; nothing is ever replaced. The row keeps the name and the
SHA-256 of the content, against which it is held whenever it is read. What was kept before names were
random lies under its SHA-256 still, and rows written then may share it.

A file goes away again only where its row could not be written (:func:`taken_back`). Where the house
dies in between, or a transaction around that one comes to nothing, it stays: in nobody's way, with no
row that leads to it, and taken for nothing else. A backup carries the folder (``commands/house/archive.py``).
"""

import errno
import hashlib
import os
import re
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime, timedelta
from io import BytesIO
from pathlib import Path
from typing import BinaryIO, NamedTuple

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.utils.http import content_disposition_header

from curehouse.common.errors import Conflict

FOLDER = "uploads"
# Papers and spreadsheets leave so much of the disk to weighings, which are told no when it is full.
LEFT_FREE_BYTES = 100 * 2**20
_NAME_BYTES = 32
_DRAFT = ".upload-"
# Longer than anything takes to be written.
_DRAFTS_KEPT_FOR = timedelta(days=1)
_NAME = re.compile(r"[0-9a-f]{64}")


def fingerprint_of(file: UploadedFile) -> str:
    """Return what tells a file that was sent from another: its name and the SHA-256 of all that it holds."""
    digest = hashlib.sha256()
    for chunk in file.chunks():
        digest.update(chunk)
    file.seek(0)
    return f"{file.name} {digest.hexdigest()}"


class Kept(NamedTuple):
    """A file that is kept: under which name, and the SHA-256 of what it holds (both 64 hexadecimal digits)."""

    name: str
    sha256: str


# In place of a second file where there is none.
NO_FILE = Kept("", "")


def path_of(name: str) -> Path:
    """Return where the file kept under *name* lies; raises ``ValueError`` for what is no such name."""
    if not _NAME.fullmatch(name):
        raise ValueError(f"nothing is kept under such a name: {name!r}")
    return Path(settings.DATA_FOLDER) / FOLDER / name[:2] / name


def keep(content: bytes) -> Kept:
    """Keep *content* under a new random name; once it returns, the content outlasts a power cut.

    Written beside the folder and moved into it whole, so that a backup that runs meanwhile finds
    no half of a file. Raises ``OSError`` where the disk is full or read-only.
    """
    return _kept(BytesIO(content), hashlib.sha256(content).hexdigest(), len(content))


def keep_file(path: Path) -> Kept:
    """Keep what the file at *path* holds, as :func:`keep` does, without holding it in memory."""
    with path.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
        size_bytes = file.tell()
        file.seek(0)
        return _kept(file, digest, size_bytes)


def _kept(content: BinaryIO, digest: str, size_bytes: int) -> Kept:
    if shutil.disk_usage(settings.DATA_FOLDER).free - size_bytes < LEFT_FREE_BYTES:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
    name = secrets.token_hex(_NAME_BYTES)
    target = path_of(name)
    target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    draft = Path(settings.DATA_FOLDER) / f"{_DRAFT}{secrets.token_hex(8)}"
    try:
        descriptor = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "wb") as out:
            shutil.copyfileobj(content, out)
            out.flush()
            os.fsync(out.fileno())
        draft.replace(target)
        _sync_folder(target.parent)
    finally:
        draft.unlink(missing_ok=True)
    return Kept(name, digest)


def forget_drafts(*, at: datetime) -> int:
    """Remove the halves of files that a process left which was killed while it wrote them; return how many."""
    forgotten = 0
    for draft in Path(settings.DATA_FOLDER).glob(f"{_DRAFT}*"):
        # What is being written is younger, and what is gone by now was another's to remove.
        with suppress(FileNotFoundError):
            if draft.stat().st_mtime < (at - _DRAFTS_KEPT_FOR).timestamp():
                draft.unlink()
                forgotten += 1
    return forgotten


@contextmanager
def taken_back(*files: Kept) -> Iterator[None]:
    """Remove what was just kept if the block, which writes its rows, fails.

    For use *inside* the transaction that writes them: what fails there is not in the database, while
    a commit that is not answered may have come about, and a row must never be without its file.
    """
    try:
        yield
    except BaseException:
        for one in files:
            if one != NO_FILE:
                path_of(one.name).unlink(missing_ok=True)
        raise


def _sync_folder(folder: Path) -> None:
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def read(kept: Kept) -> bytes:
    """Return the content; raises ``FileNotFoundError`` where it is gone, ``Conflict`` (content_changed) where it is another."""
    content = path_of(kept.name).read_bytes()
    _check(kept, hashlib.sha256(content).hexdigest())
    return content


def checked_path(kept: Kept) -> Path:
    """Return where the content lies once it was found to be what was kept; raises as :func:`read` does."""
    path = path_of(kept.name)
    with path.open("rb") as file:
        _check(kept, hashlib.file_digest(file, "sha256").hexdigest())
    return path


def _check(kept: Kept, digest: str) -> None:
    if digest != kept.sha256:
        raise Conflict(
            "content_changed",
            "What lies in the data folder is not the file that was put there: it was changed or damaged since,"
            " so it is not used. Put the file there once more, or take it from a backup.",
        )


def handing_out(name: str) -> dict[str, str]:
    """Return the headers under which a kept file goes out: to be saved under *name*, and no page of the house.

    The name is written as RFC 6266 has it, other letters than ASCII's as RFC 8187. A browser that shows the file all the
    same runs nothing in it and counts it as of no site.
    """
    disposition = content_disposition_header(as_attachment=True, filename=name) or "attachment"
    return {"Content-Disposition": disposition, "Content-Security-Policy": "sandbox; default-src 'none'"}
