"""Every address that takes a file, found in the URL table and tried as a client would."""

import hashlib
import re
import tempfile
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client

from curehouse.common.upload_quota import most_upload_bytes
from curehouse.intake.models import Import
from curehouse.workshops.services import give_token
from inventory.models import LotFile
from tests import papers
from tests.architecture.addresses import Address, addresses
from tests.papers import DRESSED
from tests.world import World

pytestmark = pytest.mark.django_db

# How much each may take at most, all files of a request together, and which rows it keeps of them.
TAKES_FILES: dict[str, tuple[int, type]] = {
    "web:lot_paper": (10 * 2**20, LotFile),
    "api:lot-files": (10 * 2**20, LotFile),
    "web:imports": (60 * 2**20, Import),
    "api:imports": (60 * 2**20, Import),
}
ALL = [one for one in addresses() if one.name != "api:None"]
TAKERS = [one for one in ALL if one.name in TAKES_FILES]
PAPERS = [one for one in TAKERS if TAKES_FILES[one.name][1] is LotFile]
TABLES = [one for one in TAKERS if one not in PAPERS]


def name_of(address: Address) -> str:
    return f"/{address.route}"


@pytest.fixture
def folder(tmp_path: Path, settings: Any) -> Path:
    settings.DATA_FOLDER = tmp_path / "house"
    settings.DATA_FOLDER.mkdir()
    settings.FILE_UPLOAD_TEMP_DIR = str(tmp_path)
    return settings.DATA_FOLDER


class Spooled:
    """Counts the bytes of requests that were written to the disk."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.bytes = 0
        made = tempfile.NamedTemporaryFile

        def counted(*args: Any, **kwargs: Any) -> Any:
            file = made(*args, **kwargs)
            write = file.write

            def noted(data: bytes) -> int:
                self.bytes += len(data)
                return write(data)

            file.write = noted
            return file

        monkeypatch.setattr(tempfile, "NamedTemporaryFile", counted)


@pytest.fixture
def spooled(monkeypatch: pytest.MonkeyPatch) -> Spooled:
    return Spooled(monkeypatch)


def path_of(address: Address, world: World) -> str:
    """Return the address with a lot of the house in it, or with ids of nothing where it is of something else."""
    return "/" + re.sub(r"<[^>]*>", str(world.lot().pk) if "lots/" in address.route else "1", address.route)


def client_of(address: Address, world: World) -> Client:
    if address.is_api:
        secret = give_token(actor=world.actor, name=f"{uuid.uuid4()}", reach="works", at=world.now)[1]
        return Client(headers={"Authorization": f"Bearer {secret}"}, raise_request_exception=False)
    client = Client(raise_request_exception=False)
    client.force_login(world.owner)
    return client


def send(
    address: Address, world: World, content: bytes, *, name: str = "certificate.pdf", kind: str = "application/pdf"
) -> HttpResponse:
    file = SimpleUploadedFile("x", content, content_type=kind)
    file._name = name  # As a client says it: Django's own classes would clean it first.
    sent = {"file": file} if address in PAPERS else {"file": file, "kind": "batches"}
    client, path = client_of(address, world), path_of(address, world)
    return client.post(path, sent if address.is_api else {"form_key": str(uuid.uuid4()), **sent})


def kept(folder: Path) -> list[Path]:
    return [path for path in folder.parent.rglob("*") if path.is_file()]


def rows_of(address: Address) -> int:
    return TAKES_FILES[address.name][1].unscoped.count()


def test_every_address_that_takes_a_file_is_known_and_says_how_much() -> None:
    """One that is added later stands here with its size, or fails."""
    said = {one.name: most_upload_bytes(one.view) for one in ALL if most_upload_bytes(one.view)}
    assert said == {name: most for name, (most, _model) in TAKES_FILES.items()}
    parsers = {
        one.name
        for one in ALL
        if any(
            parser.media_type != "application/json" for parser in getattr(getattr(one.view, "cls", None), "parser_classes", ())
        )
    }
    assert parsers == {name for name in TAKES_FILES if name.startswith("api:")}


@pytest.mark.parametrize("address", [one for one in ALL if one.name not in TAKES_FILES], ids=name_of)
def test_a_file_sent_to_any_other_address_is_kept_nowhere(
    address: Address, world: World, folder: Path, spooled: Spooled
) -> None:
    """Nor is it written to the disk on its way, whoever sends it."""
    for client in (client_of(address, world), Client(raise_request_exception=False)):
        file = SimpleUploadedFile("certificate.pdf", papers.PDF + b" " * 200_000)
        answer = client.post(path_of(address, world), {"form_key": str(uuid.uuid4()), "file": file})
        assert answer.status_code < 500
    assert spooled.bytes == 0
    assert kept(folder) == []


@pytest.mark.parametrize("address", TAKERS, ids=name_of)
def test_who_has_not_signed_in_fills_no_disk(address: Address, world: World, folder: Path) -> None:
    answer = Client().post(path_of(address, world), {"file": SimpleUploadedFile("certificate.pdf", papers.PDF * 5000)})
    assert answer.status_code in (302, 401)
    assert kept(folder) == []


@pytest.mark.parametrize("address", TAKERS, ids=name_of)
def test_more_than_is_taken_is_refused_by_its_size_and_not_kept(
    address: Address, world: World, folder: Path, spooled: Spooled
) -> None:
    most, _model = TAKES_FILES[address.name]
    answer = send(address, world, papers.PDF + b"x" * (most + 2**20))
    assert answer.status_code in (400, 413)
    assert re.search(r"(MB( are taken)?: (keep it to|split it)|keep each to [0-9]+ MB)", answer.content.decode()), (
        answer.content
    )
    assert rows_of(address) == spooled.bytes == 0
    assert kept(folder) == []


@pytest.mark.parametrize("what", DRESSED)
@pytest.mark.parametrize("address", PAPERS, ids=name_of)
def test_what_is_dressed_as_a_paper_is_refused_in_words_and_not_kept(
    address: Address, what: str, world: World, folder: Path
) -> None:
    content, code = DRESSED[what]
    answer = send(address, world, content)
    if address.is_api:
        assert (answer.status_code, answer.json()["code"], answer.json()["field"]) == (400, code, "file")
    else:
        assert answer.status_code == 200
        assert re.search(r'id="id_file_error"><li>[^<]*(attach|save)', answer.content.decode())
    assert rows_of(address) == 0
    assert kept(folder) == []


# Read as a table these are cells that nothing runs, and what is brought in is never handed out as a file.
ONLY_CELLS = {"a script within a text", "a script of a server"} | {
    what for what, (content, _code) in DRESSED.items() if content.startswith(b"PK") and b"xl/workbook.xml" in content
} - {"a packed folder that says it is a spreadsheet"}


@pytest.mark.parametrize(
    "what",
    [what for what, (_content, code) in DRESSED.items() if code in ("file_runs", "file_kind") and what not in ONLY_CELLS],
)
@pytest.mark.parametrize("address", TABLES, ids=name_of)
def test_what_is_dressed_as_a_table_is_refused_and_not_kept(address: Address, what: str, world: World, folder: Path) -> None:
    content = DRESSED[what][0]
    answer = send(address, world, content, name="log.csv", kind="text/csv")
    assert answer.status_code == (400 if address.is_api else 200), answer.content
    assert rows_of(address) == 0
    assert kept(folder) == []


@pytest.mark.parametrize("said", ["text/html", "image/svg+xml", "application/x-msdownload", "text/html\r\nX-Evil: 1"])
@pytest.mark.parametrize("address", PAPERS, ids=name_of)
def test_what_the_sender_says_of_the_kind_counts_for_nothing(address: Address, said: str, world: World, folder: Path) -> None:
    assert send(address, world, papers.PDF, name="page.html", kind=said).status_code in (201, 302)
    row = LotFile.unscoped.get()
    assert (row.name, row.content_type) == ("page.html.pdf", "application/pdf")


NAMES = {
    "../../../../etc/cron.d/evil.pdf": "evil.pdf",
    "/etc/passwd": "passwd.pdf",
    "..\\..\\windows\\system32\\evil.pdf": "evil.pdf",
    "%2e%2e%2fevil.pdf": "%2e%2e%2fevil.pdf",
    "evil.pdf\r\nSet-Cookie: session=planted": '"evil.pdf',
    "evil\u2028line\u2029s\x85.pdf": "evillines.pdf",
    "\u202efdp.exe": "fdp.exe.pdf",
    "quo\"te'; filename=evil.exe": 'evil.exe".pdf',
    "\x1b[31mred\x1b[0m.pdf": "[31mred[0m.pdf",
    "Säurezahl für Öl.pdf": "Säurezahl für Öl.pdf",
    "日本語.pdf": "日本語.pdf",
    "x" * 400 + ".pdf": "x" * 116 + ".pdf",
    "....": None,
    "\x00": None,
}


def sent_as(address: Address, name: str, content: bytes) -> tuple[bytes, str]:
    """Return a body whose file has exactly this name, with its content type: no client cleans it."""
    head = f'--mark\r\nContent-Disposition: form-data; name="file"; filename="{name}"\r\n\r\n'
    key = f'--mark\r\nContent-Disposition: form-data; name="form_key"\r\n\r\n{uuid.uuid4()}\r\n'
    return (
        b"" if address.is_api else key.encode()
    ) + head.encode() + content + b"\r\n--mark--\r\n", "multipart/form-data; boundary=mark"


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("address", PAPERS, ids=name_of)
def test_a_name_is_only_a_name_on_its_way_in_and_out(address: Address, name: str, world: World, folder: Path) -> None:
    body, kind = sent_as(address, name, papers.PDF)
    answer = client_of(address, world).post(path_of(address, world), body, content_type=kind)
    outside = [
        path for path in kept(folder) if not re.fullmatch(r"uploads/[0-9a-f]{2}/[0-9a-f]{64}", str(path.relative_to(folder)))
    ]
    assert outside == []
    if NAMES[name] is None:
        assert answer.status_code in (200, 400)
        assert LotFile.unscoped.count() == 0
        return
    row = LotFile.unscoped.get()
    assert row.name == NAMES[name]
    assert row.name.isprintable()
    assert "/" not in row.name and "\\" not in row.name and len(row.name) <= 120
    for fetched in fetched_everywhere(world, row):
        assert_handed_out_as_a_paper(fetched, row)


@pytest.mark.parametrize("address", PAPERS, ids=name_of)
def test_nobody_finds_a_file_by_what_it_holds(address: Address, world: World, stranger: World, folder: Path) -> None:
    """Who has the paper too knows neither its name in the folder nor whether another workshop has it."""
    for one in (world, stranger):
        send(address, one, papers.PDF)
    rows = list(LotFile.unscoped.order_by("pk"))
    assert {row.workshop_id for row in rows} == {world.workshop.pk, stranger.workshop.pk}
    assert len({row.kept_as for row in rows}) == len(kept(folder)) == 2
    digest = hashlib.sha256(papers.PDF).hexdigest()
    assert not [path for path in kept(folder) if digest in str(path)]
    assert [path.stat().st_nlink for path in kept(folder)] == [1, 1]


def fetched_everywhere(world: World, row: LotFile) -> Iterator[HttpResponse]:
    for address in ALL:
        if address.name in ("web:lot_file", "api:file-content"):
            yield client_of(address, world).get("/" + re.sub(r"<[^>]*>", str(row.pk), address.route))


def assert_handed_out_as_a_paper(answer: HttpResponse, row: LotFile) -> None:
    said = answer["Content-Disposition"]
    assert said.startswith("attachment; filename")
    assert said.isascii() and said.isprintable()
    encoded = re.fullmatch(r"attachment; filename\*=utf-8''([\w%.!#$&+^`|~-]+)", said)
    plain = re.fullmatch(r'attachment; filename="((?:[^"\\]|\\.)*)"', said)
    shown = unquote(encoded[1]) if encoded else re.sub(r"\\(.)", r"\1", plain[1]) if plain else ""
    assert shown == row.name
    assert (answer["Content-Type"], answer["X-Content-Type-Options"]) == (row.content_type, "nosniff")
    assert "sandbox" in answer["Content-Security-Policy"]
    assert "default-src 'none'" in answer["Content-Security-Policy"]
    assert answer.content == papers.PDF


def test_papers_are_handed_out_at_every_address_that_hands_them_out() -> None:
    """The control: both are looked at."""
    assert {one.name for one in ALL} >= {"web:lot_file", "api:file-content"}


@pytest.mark.parametrize("address", TAKERS, ids=name_of)
def test_a_request_that_breaks_off_keeps_nothing(address: Address, world: World, folder: Path) -> None:
    body, kind = sent_as(address, "certificate.pdf", papers.PDF * 3000)
    answer = client_of(address, world).post(path_of(address, world), body[: len(body) // 2], content_type=kind)
    assert answer.status_code < 500
    assert rows_of(address) == 0
    assert kept(folder) == []
