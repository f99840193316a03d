"""The only writer of files that are attached to lots."""

import logging
import unicodedata
from datetime import datetime

from django.db import transaction

from curehouse.common import uploads
from curehouse.common.errors import Invalid
from curehouse.workshops.actors import Actor
from inventory.models import Lot, LotFile

logger = logging.getLogger(__name__)

MOST_BYTES = 10 * 2**20
LONGEST_NAME = 120
TEXT = "text/plain"
# By their first bytes: what a browser or a phone says of a file is only what it is called.
_BEGINNINGS = {
    b"%PDF-": "application/pdf",
    b"\x89PNG\r\n\x1a\n": "image/png",
    b"\xff\xd8\xff": "image/jpeg",
}

KINDS = (*_BEGINNINGS.values(), "image/webp", "image/heic", TEXT)


def content_type_of(content: bytes) -> str:
    """Return what *content* is, or say which kinds of files are taken."""
    for beginning, kind in _BEGINNINGS.items():
        if content.startswith(beginning):
            return kind
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "image/webp"
    if content[4:12] in {b"ftypheic", b"ftypheix", b"ftypmif1"}:
        return "image/heic"
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError:
        text = "\x00"
    if all(character in "\t\r\n\f" or unicodedata.category(character) != "Cc" for character in text):
        return TEXT
    raise Invalid(
        "file_kind", "This kind of file is not taken: attach a PDF, a picture (JPEG, PNG, WebP, HEIC) or a text.", field="file"
    )


def clean_file_name(name: str) -> str:
    """Return a name that is only a name: no folders, no marks that hide or turn text."""
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    plain = " ".join("".join(one if one.isprintable() else " " for one in last).split()).strip(". ")
    if not plain:
        raise Invalid("missing", "The file has no name: give it one.", field="file")
    stem, dot, ending = plain.rpartition(".")
    if len(plain) > LONGEST_NAME and dot and len(ending) <= 8:
        return stem[: LONGEST_NAME - len(ending) - 1] + dot + ending
    return plain[:LONGEST_NAME]


def attach_file(*, actor: Actor, lot: Lot, name: str, content: bytes, at: datetime) -> LotFile:
    """Attach a paper to *lot*: its content into the data folder first, then its row.

    Whatever comes between leaves content that nothing points at, never a row without its content.
    """
    if not content:
        raise Invalid("empty", "The file is empty: choose it again.", field="file")
    if len(content) > MOST_BYTES:
        megabytes = len(content) / 2**20
        raise Invalid(
            "too_large", f"The file has {megabytes:.1f} MB: keep it to {MOST_BYTES // 2**20} MB.", field="file"
        )  # fmt: skip
    kind, plain = content_type_of(content), clean_file_name(name)
    digest = uploads.keep(content)
    with transaction.atomic():
        row = LotFile.unscoped.create(
            workshop=actor.workshop,
            lot=lot,
            name=plain,
            content_type=kind,
            size_bytes=len(content),
            sha256=digest,
            at=at,
            **actor.signature,
        )
    logger.info("file attached: workshop=%s lot=%s file=%s bytes=%s", actor.workshop.pk, lot.pk, row.pk, row.size_bytes)
    return row
