"""The page that lays a formula's batches over each other: from their own weights, and what the house has learnt."""

from datetime import timedelta
from typing import Any

import pytest

from curehouse.curing.models import CurePrior
from curehouse.flows.foretell import learn_and_foretell
from curehouse.making.models import Batch, Formula
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.formula_cures import read_formula_cures
from tests.flows.test_foretell import cured
from tests.web.on_round import set_clock
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    set_clock(monkeypatch, world.now)
    return Visitor(world)


def read(world: World, formula: Formula) -> Any:
    return read_formula_cures(formula, world.workshop, Calendar(world.workshop, world.now))


def learnt(world: World, *, batches: int = 3) -> list[Batch]:
    found = [cured(world, days_ago=60 - 4 * n, number=n, last=35, sample_bars=1) for n in range(batches)]
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    return found


def test_a_line_is_the_mean_of_its_bars_since_the_pour(world: World) -> None:
    batch = world.batch(cut_days_ago=20)
    at = batch.cut_at
    for letter, first, later in (("A", "130.0", "123.5"), ("B", "120.0", "115.2"), ("C", "100.0", "50.0")):
        # C was first weighed a week after the cut: what it weighed at the cut is not known.
        world.weigh(world.bar(batch, letter), first, moment=at + timedelta(days=7 if letter == "C" else 0, hours=1))
        world.weigh(world.bar(batch, letter), later, moment=at + timedelta(days=14, hours=1))
    (line,) = read(world, batch.formula).overlay.lines
    lag = (at - batch.poured_at).total_seconds() / 86_400
    assert [round(left, 6) for _, left in line.points] == [100.0, round((95.0 + 96.0) / 2, 6)]
    assert line.points[1][0] == pytest.approx(14 + 1 / 24 + lag)


def test_what_is_expected_is_the_newest_priors_from_the_cut_on(world: World) -> None:
    batches = learnt(world)
    cures = read(world, batches[0].formula)
    prior = CurePrior.objects.within(world.workshop).order_by("-version").first()
    lag = (batches[0].cut_at - batches[0].poured_at).total_seconds() / 86_400
    assert cures.overlay.expected[0].day == pytest.approx(lag)
    assert cures.overlay.expected[0].middle_pct == 100.0
    assert cures.overlay.expected[-1].day >= 56
    assert f"(version {prior.version})" in cures.rests_on
    assert [day for day, _ in cures.expected] == [7, 14, 21, 28, 42, 56]
    assert all(
        low > high
        for low, high in zip(
            [95.5, *(float(v) for _, v in cures.expected)], [float(v) for _, v in cures.expected][1:], strict=False
        )
    )


def test_before_anything_is_learnt_lines_stand_alone_and_the_page_says_why(world: World, visitor: Visitor) -> None:
    batch = cured(world, days_ago=21, last=14)
    words = visitor.words("formula_cures", batch.formula_id)
    assert "comes once a night has learnt" in words
    assert "Goat & oat 1" in words
    assert "Expected" not in words


def test_a_dozen_are_drawn_and_the_table_has_all(world: World) -> None:
    batches = [cured(world, days_ago=60 - 2 * n, last=14, sample_bars=1) for n in range(14)]
    cures = read(world, batches[0].formula)
    assert [line.short for line in cures.overlay.lines] == [f"{batch.number}" for batch in reversed(batches[2:])]
    assert len(cures.lines) == 14
    assert [line.is_drawn for line in cures.lines] == [True] * 12 + [False] * 2
    assert cures.not_drawn == "The newest 12 are drawn; the table has 14."


def test_a_batch_that_was_not_weighed_at_the_cut_is_listed_and_not_drawn(world: World) -> None:
    batch = world.batch(cut_days_ago=20)
    world.weigh_series(batch, {7: "120.0", 14: "118.0"})
    cures = read(world, batch.formula)
    assert cures.overlay is None
    assert [(line.stands, line.is_drawn) for line in cures.lines] == [("not weighed at the cut", False)]


def test_the_table_reads_no_figure_across_a_long_gap(world: World) -> None:
    batch = world.batch(cut_days_ago=50)
    world.weigh_series(batch, {0: "130.0", 13: "120.0", 49: "115.0"})
    (line,) = read(world, batch.formula).lines
    left = dict(line.left)
    assert left[7] != "–" and left[14] != "–"
    assert {left[day] for day in (21, 28, 42)} == {"–"}


def test_the_formulas_page_leads_there_and_an_empty_one_says_what_comes(world: World, visitor: Visitor) -> None:
    poured = world.batch(cut_days_ago=None)
    assert "Laid over each other" in visitor.words("formula", poured.formula_id)
    assert "No batch is cut yet" in visitor.words("formula_cures", poured.formula_id)


def test_the_page_takes_as_many_queries_for_ten_batches_as_for_one(world: World, visitor: Visitor) -> None:
    formula = learnt(world, batches=1)[0].formula_id
    few = visitor.queries("formula_cures", formula)
    for n in range(9):
        cured(world, days_ago=50 - n, last=14, sample_bars=2)
    # Session, person, membership, formula, batches, weighings, what was learnt and its prior; the count in the title.
    assert visitor.queries("formula_cures", formula) == few == 9
