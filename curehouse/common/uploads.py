"""Files that people attach, kept in the data folder under the SHA-256 of what they hold.

The same content is kept once, however often it is attached; nothing is ever replaced. A backup
carries the folder (``commands/house/archive.py``).
"""

import errno
import hashlib
import os
import re
import secrets
import shutil
from io import BytesIO
from pathlib import Path
from typing import BinaryIO

from django.conf import settings
from django.utils.http import content_disposition_header

FOLDER = "uploads"
# Papers and spreadsheets leave so much of the disk to weighings, which are told no when it is full.
LEFT_FREE_BYTES = 100 * 2**20
_DIGEST = re.compile(r"[0-9a-f]{64}")


def path_of(sha256: str) -> Path:
    """Return where content with this digest lies; raises ``ValueError`` for what is no digest."""
    if not _DIGEST.fullmatch(sha256):
        raise ValueError(f"no SHA-256: {sha256!r}")
    return Path(settings.DATA_FOLDER) / FOLDER / sha256[:2] / sha256


def keep(content: bytes) -> str:
    """Keep *content* and return its SHA-256; once it returns, the content outlasts a power cut.

    Written beside the folder and linked into it whole, so that a backup that runs meanwhile finds
    no half of a file. Raises ``OSError`` where the disk is full or read-only.
    """
    return _kept(BytesIO(content), hashlib.sha256(content).hexdigest(), len(content))


def keep_file(path: Path) -> str:
    """Keep what the file at *path* holds, as :func:`keep` does, without holding it in memory."""
    with path.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
        size_bytes = file.tell()
        file.seek(0)
        return _kept(file, digest, size_bytes)


def _kept(content: BinaryIO, digest: str, size_bytes: int) -> str:
    target = path_of(digest)
    if target.is_file() and target.stat().st_size == size_bytes:
        return digest
    if shutil.disk_usage(settings.DATA_FOLDER).free - size_bytes < LEFT_FREE_BYTES:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
    target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    draft = Path(settings.DATA_FOLDER) / f".upload-{secrets.token_hex(8)}"
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
    return digest


def _sync_folder(folder: Path) -> None:
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def read(sha256: str) -> bytes:
    """Return the content with this digest; raises ``FileNotFoundError`` where it is not kept."""
    return path_of(sha256).read_bytes()


def handing_out(name: str) -> dict[str, str]:
    """Return the headers under which a kept file goes out: to be saved under *name*, and no page of the house.

    The name is written as RFC 6266 has it, other letters than ASCII's as RFC 8187. A browser that shows the file all the
    same runs nothing in it and counts it as of no site.
    """
    disposition = content_disposition_header(as_attachment=True, filename=name) or "attachment"
    return {"Content-Disposition": disposition, "Content-Security-Policy": "sandbox; default-src 'none'"}
