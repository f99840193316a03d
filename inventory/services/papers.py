"""Files that are attached to lots: their only writer, and what they hold."""

import logging
from collections.abc import Container
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from curehouse.common import uploads
from curehouse.common.errors import Invalid, NotHere
from curehouse.common.file_kinds import kind_of, named_as
from curehouse.workshops.actors import Actor
from curehouse.workshops.roles import Right
from inventory.models import Lot, LotFile

logger = logging.getLogger(__name__)

MOST_BYTES = 10 * 2**20
LONGEST_NAME = 120


def too_large(size_bytes: int) -> Invalid:
    """Return what to say of a file of that size."""
    return Invalid(
        "too_large", f"The file has {size_bytes / 2**20:.1f} MB: keep it to {MOST_BYTES // 2**20} MB.", field="file"
    )  # fmt: skip


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


@dataclass(frozen=True)
class Paper:
    """A file that was looked through: under which name it is kept, which of the kinds that are taken it is."""

    name: str
    kind: str
    content: bytes


def look_through(name: str, content: bytes) -> Paper:
    """Return the file if it is taken; raises :class:`Invalid`, and ``Conflict`` (files_busy) while others are at it.

    Takes up to seconds, so it is done before any transaction: on SQLite that would hold up whoever writes meanwhile.
    """
    if not content:
        raise Invalid("empty", "The file is empty: choose it again.", field="file")
    if len(content) > MOST_BYTES:
        raise too_large(len(content))
    kind = kind_of(content)
    return Paper(clean_file_name(named_as(kind, clean_file_name(name))), kind, content)


def attach_file(*, actor: Actor, lot: Lot, paper: Paper, at: datetime, without_prices: bool = False) -> LotFile:
    """Attach what :func:`look_through` took to *lot*: its content into the data folder first, then its row.

    Unless it is said to be *without_prices*, only those who see costs may open it (:func:`may_open`).
    Whatever comes between leaves at most content that nothing points at, never a row without its content.
    """
    kept = uploads.keep(paper.content)
    with transaction.atomic(), uploads.taken_back(kept):
        row = LotFile.unscoped.create(
            workshop=actor.workshop,
            lot=lot,
            name=paper.name,
            content_type=paper.kind,
            size_bytes=len(paper.content),
            sha256=kept.sha256,
            kept_as=kept.name,
            without_prices=without_prices,
            at=at,
            **actor.signature,
        )
    logger.info("file attached: workshop=%s lot=%s file=%s bytes=%s", actor.workshop.pk, lot.pk, row.pk, row.size_bytes)
    return row


def may_open(paper: LotFile, rights: Container[Right]) -> bool:
    """Return whether somebody who has *rights*, of which one is to see the storeroom, may see what the paper holds."""
    return paper.without_prices or Right.SEE_COSTS in rights


def content_of(paper: LotFile) -> bytes:
    """Return what a paper holds; raises ``NotHere`` (content_gone) and ``Conflict`` (content_changed)."""
    try:
        return uploads.read(uploads.Kept(paper.kept_as, paper.sha256))
    except FileNotFoundError as error:
        raise NotHere("content_gone", f"{paper.name} is not in the data folder any more: attach it again.") from error
