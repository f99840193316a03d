"""No path that came from outside leads out of the folder it is meant for."""

import hashlib
import sqlite3
import stat
import zipfile
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from django.test import Client, override_settings

from curehouse.commands.house import archive
from curehouse.commands.house.refusal import Refused
from curehouse.common import uploads
from curehouse.common.errors import Invalid
from curehouse.common.tables import look
from inventory.models import LotFile
from tests import papers
from tests.world import World

SECRET = b"what nobody may read"
UP = [
    "../secret-key", "..%2fsecret-key", "%2e%2e/secret-key", "%2e%2e%2fsecret-key", "..%252fsecret-key", "....//secret-key",
    "..\\secret-key", "..%5csecret-key", "%c0%ae%c0%ae/secret-key", "x/../../secret-key", "./../secret-key", "..;/secret-key",
    "..%00/secret-key", "%00../secret-key", "//secret-key", "web/../../secret-key",
]  # fmt: skip


@pytest.fixture
def house(tmp_path: Path, settings: Any) -> Path:
    """Return a data folder with a secret beside its static files and attached papers."""
    folder = tmp_path / "house"
    (folder / "static" / "web").mkdir(parents=True)
    (folder / "static" / "web" / "app.css").write_bytes(b"body {}")
    (folder / "secret-key").write_bytes(SECRET)
    (tmp_path / "secret-key").write_bytes(SECRET)
    settings.DATA_FOLDER, settings.STATIC_ROOT = folder, folder / "static"
    return folder


@pytest.mark.django_db
@pytest.mark.parametrize("way", UP)
@pytest.mark.parametrize("before", ["/static/", "/static/web/", "/files/", "/api/v1/files/", "/", "/api/", "/uploads/"])
def test_no_address_leads_to_a_file_beside_the_house(house: Path, before: str, way: str) -> None:
    for debug in (False, True):
        with override_settings(WHITENOISE_AUTOREFRESH=debug):
            client = Client(raise_request_exception=False)
            answer = client.get(before + way)
            assert answer.status_code in (301, 302, 400, 404)
            assert SECRET not in (answer.getvalue() if answer.streaming else answer.content)


@pytest.mark.django_db
def test_what_is_meant_to_be_seen_is_found(house: Path) -> None:
    """The control: from that folder files are handed out."""
    with override_settings(WHITENOISE_AUTOREFRESH=True, STATIC_ROOT=house / "static"):
        answer = Client().get("/static/web/app.css")
    assert answer.status_code == 200


@pytest.mark.django_db
def test_a_row_that_was_tampered_with_leads_to_no_other_file(world: World, house: Path) -> None:
    """Somebody who wrote into the database still reads nothing outside of what was attached."""
    for name in ("../../secret-key", "/etc/passwd", "..", "a" * 63 + "/"):
        row = LotFile(workshop=world.workshop, lot=world.lot(), name="x.pdf", content_type="application/pdf", size_bytes=1)
        row.kept_as, row.at, row.by_user = name, world.now, world.owner
        row.sha256 = hashlib.sha256(SECRET).hexdigest()
        row.save()
        client = Client(raise_request_exception=False)
        client.force_login(world.owner)
        for path in (f"/papers/{row.pk}/", f"/files/{row.pk}/", f"/api/v1/files/{row.pk}/content/"):
            answer = client.get(path)
            assert answer.status_code in (404, 500)
            assert SECRET not in answer.content


@pytest.mark.parametrize("name", ["../../secret-key", "/etc/passwd", "A" * 64, "a" * 64 + "\n", "\x00" * 64, "." * 64])
def test_only_a_kept_name_leads_to_what_was_attached(house: Path, name: str) -> None:
    for ask in (uploads.read, uploads.checked_path):
        with pytest.raises(ValueError, match="nothing is kept under such a name"):
            ask(uploads.Kept(name, hashlib.sha256(SECRET).hexdigest()))


def test_a_link_in_the_folder_of_papers_goes_into_no_backup(house: Path, tmp_path: Path) -> None:
    kept = uploads.keep(papers.PDF).name
    (uploads.path_of(kept).parent / ("b" * 64)).symlink_to(house / "secret-key")
    (house / "uploads" / "out").symlink_to(tmp_path)
    with closing(sqlite3.connect(house / archive.DATABASE)) as database:
        database.execute("CREATE TABLE django_migrations (id INTEGER)")
    archive.write(tmp_path / "whole.backup", house, at=datetime(2026, 3, 10, tzinfo=UTC))
    with zipfile.ZipFile(tmp_path / "whole.backup") as packed:
        assert [name for name in packed.namelist() if name.startswith("uploads/")] == [f"uploads/{kept[:2]}/{kept}"]


# --- archives


def member(name: str, mode: int = 0o100600) -> zipfile.ZipInfo:
    one = zipfile.ZipInfo("x")
    one.filename, one.external_attr = name, mode << 16
    return one


OUTSIDE = {
    "up": member("../evil"),
    "up from within": member("uploads/../../evil"),
    "up and down": member("uploads/../secret-key"),
    "from the top": member("/tmp/evil"),
    "from the top of uploads": member("uploads//evil"),
    "here": member("uploads/./evil"),
    "a drive": member("C:\\evil"),
    "a drive with slashes": member("C:/evil"),
    "backslashes": member("uploads\\..\\..\\evil"),
    "another name": member("sitecustomize.py"),
    "another folder": member("static/evil.js"),
    "a log": member("logs/web.log"),
    "a folder": member("uploads/evil/"),
    "a link": member("uploads/evil", stat.S_IFLNK | 0o777),
    "a device": member("uploads/evil", stat.S_IFCHR | 0o666),
    "a pipe": member("uploads/evil", stat.S_IFIFO | 0o666),
    "the database beside itself": member("curehouse.sqlite3-wal"),
    "nothing": member(""),
}


@pytest.mark.parametrize("what", OUTSIDE)
def test_a_backup_with_a_way_out_of_its_folder_is_refused_whole(tmp_path: Path, what: str) -> None:
    source, folder = tmp_path / "evil.backup", tmp_path / "house"
    folder.mkdir()
    with zipfile.ZipFile(source, "w") as packed:
        packed.writestr(archive.ABOUT, '{"format": 1}')
        packed.writestr(OUTSIDE[what], "evil")
    before = sorted(path for path in tmp_path.rglob("*"))
    with pytest.raises(Refused):
        archive.restore(source, folder)
    assert sorted(path for path in tmp_path.rglob("*")) == before
    assert not Path("/tmp/evil").exists()


def test_a_restore_follows_no_link_that_lies_in_the_way(tmp_path: Path) -> None:
    source, folder, elsewhere = tmp_path / "a.backup", tmp_path / "house", tmp_path / "elsewhere"
    folder.mkdir(), elsewhere.mkdir()
    (folder / "uploads").symlink_to(elsewhere)
    with zipfile.ZipFile(source, "w") as packed:
        packed.writestr(archive.ABOUT, '{"format": 1}')
        packed.writestr("uploads/aa/evil", "evil")
    with pytest.raises(Refused, match="empty folder"):
        archive.restore(source, folder)
    assert list(elsewhere.iterdir()) == []


@pytest.mark.parametrize("name", ["../evil.xml", "/tmp/evil.xml", "xl/../../evil.xml", "..\\evil.xml"])
def test_nothing_of_a_spreadsheet_is_unpacked_to_the_disk(tmp_path: Path, name: str) -> None:
    source = tmp_path / "in" / "evil.xlsx"
    source.parent.mkdir()
    source.write_bytes(papers.XLSX)
    with zipfile.ZipFile(source, "a") as packed:
        packed.writestr(member(name), "evil")
    before, here = sorted(tmp_path.rglob("*")), sorted(Path().iterdir())
    try:
        look(source)
    except Invalid as refused:
        assert refused.field == "file"
    assert sorted(tmp_path.rglob("*")) == before
    assert sorted(Path().iterdir()) == here
