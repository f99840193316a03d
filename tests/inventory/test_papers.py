"""Papers of a lot: kept by what they hold, named by what they are."""

from pathlib import Path

import pytest

from curehouse.common import uploads
from curehouse.common.errors import Invalid
from inventory.models import LotFile
from inventory.services import papers
from inventory.services.papers import attach_file, clean_file_name
from tests.papers import PDF
from tests.world import World


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, settings) -> Path:
    settings.DATA_FOLDER = tmp_path
    return tmp_path


def attach(world: World, name: str = "certificate.pdf", content: bytes = PDF) -> LotFile:
    return attach_file(actor=world.actor, lot=world.lot(), name=name, content=content, at=world.now)


def test_a_paper_is_kept_in_the_data_folder_by_its_digest(world: World, folder: Path) -> None:
    row = attach(world)
    assert uploads.read(row.sha256) == PDF
    assert uploads.path_of(row.sha256).is_relative_to(folder / "uploads")
    assert (row.name, row.content_type, row.size_bytes) == ("certificate.pdf", "application/pdf", len(PDF))


def test_the_same_paper_for_two_lots_is_kept_once(world: World, folder: Path) -> None:
    assert attach(world).sha256 == attach(world, "again.pdf").sha256
    assert len([path for path in folder.rglob("*") if path.is_file()]) == 1


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
