"""A form with a file that is sent again: the same file is kept once, another one is not taken for it."""

import uuid
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse

from inventory.models import Lot, LotFile
from tests.web.reading_pages import words_of
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Any) -> None:
    settings.DATA_FOLDER = tmp_path


def send(world: World, lot: Lot, key: str, name: str, content: bytes) -> HttpResponse:
    return Visitor(world).post("lot_paper", lot.pk, form_key=key, file=SimpleUploadedFile(name, content))


def test_another_file_under_the_key_of_a_form_is_not_taken_for_the_first(world: World) -> None:
    lot, key = world.lot("500"), str(uuid.uuid4())
    for _ in range(2):
        assert send(world, lot, key, "a.txt", b"saponification 190").status_code == 302
    for name, content in (("b.txt", b"saponification 190"), ("a.txt", b"saponification 191")):
        again = send(world, lot, key, name, content)
        assert again.status_code == 200
        assert "This form was sent before with other content" in words_of(again)
    (kept,) = LotFile.objects.within(world.workshop)
    assert kept.name == "a.txt"
    assert send(world, lot, str(uuid.uuid4()), "b.txt", b"purity 99").status_code == 302
    assert LotFile.objects.within(world.workshop).count() == 2
