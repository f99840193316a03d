"""A batch on one sheet: whole, whatever is on record of it, and the same number of queries however much that is."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from curehouse.flows.pour import finish
from tests.everything import with_everything
from tests.pouring import Bench
from tests.web.visitor import Visitor, ready_batch
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    monkeypatch.setattr("django.utils.timezone.now", lambda: world.now)
    return Visitor(world)


def test_a_batch_with_everything_has_everything_on_its_sheet(world: World, visitor: Visitor) -> None:
    batch = with_everything(world)
    words = visitor.words("batch_record", batch.pk)
    for said in (
        "From which lots",
        "BM-2210",
        "expired then: three days over, smelt fresh",
        "Was held",
        "24 bars placed at North wall, level 1, place 1",
        "120.2",
        "square 8",
        "By the limit: no darker than square 9",
        "Directive 76/211/EEC, Annex I",
        "2 bars to give away",
        "Looked through",
    ):
        assert said in words, said
    assert reverse("web:batch_record", args=[batch.pk]) in visitor.get("batch", batch.pk).content.decode()


def test_a_batch_of_which_little_is_known_says_so(world: World, visitor: Visitor) -> None:
    batch = world.batch(cut_days_ago=None)
    words = visitor.words("batch_record", batch.pk)
    assert "No lot is booked." in words
    assert "Not checked so far." in words
    assert "Nothing so far." in words
    assert "Weighings" not in words


def test_what_was_said_at_the_table_stands_there_with_who_said_it(world: World, visitor: Visitor) -> None:
    bench = Bench(world)
    pour = bench.begin()
    bench.go_on(pour)
    bench.say(pour, "deviation", words="the mixer stood still for a while")
    batch = finish(actor=world.actor, pour=pour, at=world.now)
    words = visitor.words("batch_record", batch.pk)
    assert "At the table" in words
    assert f"700 g of lot {bench.lots['0'].number} (Ottilie Brandt" in words
    assert "38.0\u00a0°C" in words or "38.0 °C" in words
    assert "Deviation: the mixer stood still for a while" in words


def test_it_takes_as_many_queries_for_a_long_cure_as_for_a_short_one(world: World, visitor: Visitor) -> None:
    short, long = world.batch(cut_days_ago=10), ready_batch(world)
    world.weigh_series(short, {0: "130.0"})
    for number in range(6):
        world.weigh(world.bar(long), f"120.{number}", moment=world.days_ago(0.5 - number / 100))

    def queries(pk: int) -> int:
        with CaptureQueriesContext(connection) as captured:
            assert visitor.get("batch_record", pk).status_code == 200
        return len(captured)

    assert abs(queries(long.pk) - queries(short.pk)) <= 1
