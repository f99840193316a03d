"""The pages of the cure answer a stranger's number as they answer one that is nowhere."""

import pytest

from curehouse.notices.models import Notice
from curehouse.web.routes import racks
from tests.web.on_round import set_clock
from tests.web.visitor import Visitor, dry_batch
from tests.world import World

_NUMBERED = [route.name for route in racks.urlpatterns if "<int:pk>" in str(route.pattern)]
_POST_ONLY = {"position_capacity", "position_place", "notice_done"}
_GET_ONLY = {"position", "batch", "batch_verdict", "batch_record"}


@pytest.fixture
def next_door(stranger: World) -> dict[str, int]:
    rack = stranger.rack()
    place = stranger.position(rack)
    batch = dry_batch(stranger, position=place)
    notice = Notice.objects.within(stranger.workshop).open().get()
    return {"rack": rack.pk, "position": place.pk, "batch": batch.pk, "bar": stranger.bar(batch).pk, "notice": notice.pk}


@pytest.mark.parametrize("name", _NUMBERED)
def test_a_strangers_number_is_not_here(
    world: World, next_door: dict[str, int], name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    set_clock(monkeypatch, world.now)
    visitor = Visitor(world)
    pk = next_door[name.split("_")[0]]
    if name not in _POST_ONLY:
        assert visitor.get(name, pk).status_code == 404
    if name not in _GET_ONLY:
        assert visitor.post(name, pk).status_code == 404


@pytest.mark.parametrize("name", ["today", "racks", "rack_new", "notices"])
def test_nobody_sees_a_page_without_signing_in(world: World, name: str) -> None:
    visitor = Visitor(world)
    visitor.client.logout()
    assert visitor.get(name).status_code == 302
    assert visitor.get(name).url.startswith("/sign-in/")


def test_a_strangers_place_cannot_be_chosen(world: World, next_door: dict[str, int], monkeypatch: pytest.MonkeyPatch) -> None:
    set_clock(monkeypatch, world.now)
    visitor = Visitor(world)
    page = visitor.post("batch_place", world.batch().pk, position=next_door["position"], bars="1", moved_at="")
    assert "This is not in the list any more" in page.content.decode()
