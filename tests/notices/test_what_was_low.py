"""A house that is there when nothing counts as low any more: what was told of it ends, and everything is read as before."""

from functools import partial

from curehouse.flows.morning import begin_day
from curehouse.notices.models import Notice
from inventory.balance import differences
from inventory.models import Material
from tests.api.device import Device
from tests.arena import Arena
from tests.common.test_guards import guards_in_words
from tests.history import to, to_the_newest
from tests.web.visitor import Visitor
from tests.world import World

BEFORE = [("inventory", "0011_proposals"), ("notices", "0005_at_once_names_what_may_be_caustic")]


def write_as_before(world: World) -> None:
    """Write a level and notices as they stood in the tables of then: one that stands, one seen to, one of another kind."""
    then = to(*BEFORE)
    then.get_model("inventory", "Material")._base_manager.filter(name="Olive oil").update(low_at=500)
    notices = then.get_model("notices", "Notice")._base_manager
    of_house = {"workshop_id": world.workshop.pk, "written_at": world.now, "path": "/storeroom/"}
    low = {"kind": "low", "mark": "low", "title": "Olive oil is low", "body": "300 g is usable.\nOrder more."}
    notices.create(**of_house, **low, key="low:material:1", about="material:1")
    seen = {"state": "done", "closed_at": world.days_ago(1), "closed_why": "Seen to by Ottilie."}
    notices.create(**of_house, **low, **seen, key="low:material:2", about="material:2")
    ready = {"kind": "ready", "mark": "ready", "title": "Oat 1 is ready", "body": "It is."}
    notices.create(**of_house, **ready, key="ready:batch:1:1", about="batch:1")


def stands() -> list[tuple[str, str, str]]:
    return list(Notice.unscoped.order_by("pk").values_list("title", "state", "mark"))


def read(world: World) -> None:
    visitor, device = Visitor(world), Device(world)
    assert "Oat 1 is ready" in visitor.words("today")
    assert "nothing counts as low any more" in visitor.words("notices")
    assert "Olive oil" in visitor.words("storeroom")
    assert [one["kind"] for one in device.rows("notices/")] == ["ready", "low", "low"]
    assert begin_day(workshop_id=world.workshop.pk, at=world.now) is not None
    assert "is low" not in Notice.unscoped.get(kind="morning").body


def test_what_was_told_of_before_has_ended_and_nothing_stumbles_over_it(arena: Arena) -> None:
    guards = arena.do(guards_in_words)
    world = arena.do(World)
    lot = arena.do(lambda: world.lot("300").pk)
    arena.do(partial(write_as_before, world))
    arena.do(to_the_newest)
    assert arena.do(stands) == [
        ("Olive oil is low", "withdrawn", ""),
        ("Olive oil is low", "done", ""),
        ("Oat 1 is ready", "open", "ready"),
    ]
    assert arena.do(lambda: Material.objects.within(world.workshop).get(lots=lot).name) == "Olive oil"
    assert arena.do(differences) == []
    assert arena.do(guards_in_words) == guards
    arena.do(partial(read, world))
