"""A check that failed is seen wherever the bars are, whatever the state of their cure."""

import pytest

from tests.web.on_round import set_clock
from tests.web.visitor import Visitor, assess, dry_batch, each_place, pass_or_fail
from tests.world import World

FAILED = "▲ check failed"


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    set_clock(monkeypatch, world.now)
    return Visitor(world)


def _curing(world: World, **where: object) -> object:
    batch = world.batch(cut_days_ago=21, **where)
    world.weigh_series(batch, {0: "130.0", 7: "126.0", 14: "123.0"})
    assess(world, batch)
    return batch


def test_a_curing_batch_whose_check_failed_says_so_beside_its_state(visitor: Visitor, world: World) -> None:
    place = each_place(world)()
    batch = _curing(world, position=place)
    pass_or_fail(world, batch, passed=False)
    assert f"◷ day 21 {FAILED}" in visitor.words("batch", batch.pk)
    assert f"◷ curing {FAILED}" in visitor.words("bench")
    assert f"◷ curing {FAILED}" in visitor.words("position", place.pk)
    racks = visitor.get("racks").content.decode()
    assert f">{FAILED}</text>" in racks
    assert f"{batch}: curing, day 21, check failed, 24 bars" in visitor.words("racks")
    assert f"{FAILED} : its last safety check failed" in visitor.words("racks"), "in the legend"


def test_a_curing_batch_without_a_place_says_it_too(visitor: Visitor, world: World) -> None:
    world.rack()
    pass_or_fail(world, _curing(world), passed=False)
    assert f"◷ curing {FAILED}" in visitor.words("racks").split("Without a place")[1]


def test_a_later_check_that_passed_takes_the_mark_away(visitor: Visitor, world: World) -> None:
    batch = _curing(world, position=each_place(world)())
    for passed in (False, True):
        pass_or_fail(world, batch, passed=passed)
    for page in (visitor.words("bench"), visitor.words("racks"), visitor.words("batch", batch.pk).split("Safety check")[0]):
        assert "check failed" not in page


def test_a_state_that_says_so_itself_says_it_once(visitor: Visitor, world: World) -> None:
    batch = dry_batch(world, position=each_place(world)())
    pass_or_fail(world, batch, passed=False)
    assert visitor.words("bench").count(FAILED) == 1
    assert visitor.get("racks").content.decode().count(f">{FAILED}</text>") == 1


def test_many_failed_checks_take_no_more_queries(visitor: Visitor, world: World) -> None:
    place = each_place(world)
    counts = []
    for many in (1, 3):
        for _ in range(many):
            pass_or_fail(world, _curing(world, position=place()), passed=False)
        visitor.queries("racks")
        counts.append((visitor.queries("racks"), visitor.queries("bench")))
    assert counts[0] == counts[1]
