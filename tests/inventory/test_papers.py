"""Papers of a lot: kept under random names, named by what they are."""

import hashlib
from functools import partial
from pathlib import Path
from secrets import token_hex

import pytest
from django.db import IntegrityError

from curehouse.common import uploads
from curehouse.common.errors import Invalid, NotHere
from inventory.models import LotFile
from inventory.services import papers
from inventory.services.papers import attach_file, clean_file_name, content_of, look_through
from tests.arena import Arena
from tests.papers import PDF
from tests.world import World


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, settings) -> Path:
    settings.DATA_FOLDER = tmp_path
    return tmp_path


def attach(world: World, name: str = "certificate.pdf", content: bytes = PDF) -> LotFile:
    return attach_file(actor=world.actor, lot=world.lot(), paper=look_through(name, content), at=world.now)


def files_in(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()]


def test_a_paper_is_kept_in_the_data_folder_under_a_name_of_its_own(world: World, folder: Path) -> None:
    row = attach(world)
    assert content_of(row) == PDF
    assert files_in(folder) == [uploads.path_of(row.kept_as)]
    assert uploads.path_of(row.kept_as).is_relative_to(folder / "uploads")
    assert row.sha256 == hashlib.sha256(PDF).hexdigest() != row.kept_as
    assert (row.name, row.content_type, row.size_bytes) == ("certificate.pdf", "application/pdf", len(PDF))


def test_the_same_paper_of_two_workshops_lies_in_two_files(world: World, stranger: World, folder: Path) -> None:
    """And so do two of one workshop: what becomes of one file touches no other row."""
    rows = [attach(world), attach(world, "again.pdf"), attach(stranger)]
    assert len({row.sha256 for row in rows}) == 1
    assert len({row.kept_as for row in rows}) == len(files_in(folder)) == 3
    uploads.path_of(rows[0].kept_as).unlink()
    with pytest.raises(NotHere, match=r"certificate\.pdf is not in the data folder any more: attach it again"):
        content_of(rows[0])
    assert [content_of(row) for row in rows[1:]] == [PDF, PDF]


def test_a_paper_whose_row_cannot_be_written_leaves_no_file(world: World, stranger: World, folder: Path) -> None:
    with pytest.raises(IntegrityError, match="inside one workshop"):
        attach_file(actor=world.actor, lot=stranger.lot(), paper=look_through("certificate.pdf", PDF), at=world.now)
    assert files_in(folder) == []


def test_no_two_papers_share_a_file_but_those_kept_under_their_digest(arena: Arena) -> None:
    digest, name = "a" * 64, "b" * 64

    def write(kept_as: str) -> None:
        world = World(name=f"House {token_hex(4)}", email=f"{token_hex(4)}@fennelyard.example")
        LotFile.unscoped.create(
            workshop=world.workshop, lot=world.lot(), name="x.pdf", content_type="application/pdf", size_bytes=1,
            sha256=digest, kept_as=kept_as, at=world.now, **world.actor.signature,
        )  # fmt: skip

    for kept_as in (digest, digest, name):
        arena.do(partial(write, kept_as))
    for kept_as, constraint in ((name, "kept_as|lotfile_kept_once"), ("", "lotfile_kept")):
        with pytest.raises(IntegrityError, match=constraint):
            arena.do(partial(write, kept_as))


@pytest.mark.parametrize("content", [b"MZ\x90\x00\x03", b"\x7fELF\x02", b"GIF89a\x01\x00", b"\xff\xfe"])
def test_another_kind_of_file_is_answered_in_words(world: World, folder: Path, content: bytes) -> None:
    with pytest.raises(Invalid, match="attach a PDF, a picture") as refused:
        attach(world, content=content)
    assert refused.value.field == "file"
    assert list(folder.iterdir()) == []


def test_an_empty_and_an_oversized_file_are_answered_in_words(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(papers, "MOST_BYTES", 2**20)
    for content, said in ((b"", "The file is empty"), (b"a" * (2**20 + 1), "keep it to 1 MB")):
        with pytest.raises(Invalid, match=said):
            attach(world, content=content)
    assert attach(world, content=b"a" * 2**20).size_bytes == 2**20


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("certificate.pdf", "certificate.pdf"),
        ("../../etc/passwd", "passwd"),
        ("C:\\papers\\lot 7.pdf", "lot 7.pdf"),
        ("lot\x00\r\n 7.pdf", "lot 7.pdf"),
        ("fdp.\u202eexe", "fdp. exe"),
        (".hidden", "hidden"),
        ("x" * 300 + ".pdf", "x" * 116 + ".pdf"),
        ("y" * 300, "y" * 120),
    ],
)
def test_a_name_is_only_a_name(given: str, kept: str) -> None:
    assert clean_file_name(given) == kept


def test_a_name_that_was_given_an_ending_is_no_longer_than_others(world: World) -> None:
    row = attach(world, "y" * 300)
    assert (len(row.name), row.name[-5:]) == (120, "y.pdf")


@pytest.mark.parametrize("given", ["", "  ", "folder/", "...", "\x00"])
def test_a_file_without_a_name_is_asked_for_one(given: str) -> None:
    with pytest.raises(Invalid, match="no name"):
        clean_file_name(given)
