"""The page of a batch says where another amount of lye is booked than went in: dry, or dissolved beforehand."""

from decimal import Decimal

import pytest

from tests.flows.test_lye_in_water import Dissolving
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(world: World) -> Dissolving:
    return Dissolving(world)


def test_half_the_lye_is_booked_and_the_page_says_how_much_is_not(bench: Dissolving) -> None:
    visitor, batch = Visitor(bench.world), bench.poured(bench.soap(), 130)
    assert "are booked" not in visitor.words("batch", batch.pk)
    bench.book(batch, bench.dry, 65)
    assert "Of the 130.0 g of lye that went in, 65.0 g are booked" in visitor.words("batch", batch.pk)
    bench.book(batch, bench.dry, 64)
    assert "are booked" not in visitor.words("batch", batch.pk)
    bench.book(batch, bench.dry, 20)
    assert "149.0 g of lye are booked, and 130.0 g went in" in visitor.words("batch", batch.pk)


def test_lye_that_was_dissolved_counts_as_the_dry_lye_in_it(bench: Dissolving) -> None:
    visitor, batch = Visitor(bench.world), bench.poured(bench.soap(), 130)
    jug = bench.dissolve("300", "300").lot
    bench.book(batch, jug, 130)
    assert "Of the 130.0 g of lye that went in, 65.0 g are booked" in visitor.words("batch", batch.pk)
    bench.book(batch, jug, 130)
    assert "are booked" not in visitor.words("batch", batch.pk)
    assert batch.lye_g == Decimal("130.0")
