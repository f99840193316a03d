"""A file that takes long to look through holds up nobody who writes meanwhile."""

from functools import partial
from pathlib import Path
from threading import Event
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse

from curehouse.common.file_kinds import kind_of
from inventory.models import Lot, LotFile
from inventory.services import papers
from tests.api.device import V1, Device
from tests.arena import STUCK_SECONDS, Arena
from tests.papers import PDF
from tests.web.visitor import Visitor
from tests.world import World

# Longer than a write takes on a busy computer, and shorter than the database is waited for.
WAITED_SECONDS = 10


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Path) -> None:
    settings.DATA_FOLDER = tmp_path


def by_page(world: World, lot: Lot) -> HttpResponse:
    return Visitor(world).post("lot_paper", lot.pk, file=SimpleUploadedFile("a.pdf", PDF))


def by_device(world: World, lot: Lot, **headers: str) -> HttpResponse:
    device = Device(world)
    return device.client.post(f"{V1}lots/{lot.pk}/files/", {"file": SimpleUploadedFile("a.pdf", PDF)}, headers=headers)


@pytest.mark.parametrize(
    "attach", [by_page, by_device, partial(by_device, **{"Idempotency-Key": '"a"'})], ids=["page", "API", "API, under a key"]
)
def test_others_write_while_a_file_is_looked_through(arena: Arena, monkeypatch: pytest.MonkeyPatch, attach: Any) -> None:
    world = arena.do(World)
    lot = arena.do(partial(world.lot, "500"))
    begun, written, was_written = Event(), Event(), []

    def slowly(content: bytes) -> str:
        begun.set()
        was_written.append(written.wait(WAITED_SECONDS))
        return kind_of(content)

    def write() -> None:
        assert begun.wait(STUCK_SECONDS)
        world.lot("300", material=lot.material)
        written.set()

    monkeypatch.setattr(papers, "kind_of", slowly)
    answer, other = arena.race(partial(attach, world, lot), write)
    assert (answer.status_code in (201, 302), other) == (True, None), answer
    assert was_written == [True]
    assert arena.do(lambda: LotFile.objects.within(world.workshop).count()) == 1
