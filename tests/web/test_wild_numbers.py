"""Whatever is typed where a number belongs, the answer is a page that says so, and nothing is written."""

import pytest

from curehouse.curing.models import Placement, Rack
from curehouse.making.models import Batch
from tests.web.on_round import set_clock
from tests.web.visitor import Visitor
from tests.world import World

WILD = ["9" * 400, "-" + "9" * 400, "9" * 29, "1e400", "NaN", "Infinity", "٣", "0.5", "\x00", " "]

FIELDS = [
    *[("rack_new", name) for name in ("levels", "places", "capacity_bars")],
    *[("batch_new", name) for name in ("bars", "sample_bars", "fats_g", "lye_g", "water_share_stated")],
    *[("batch_cut", name) for name in ("bars", "sample_bars")],
    ("batch_place", "bars"),
    *[("ready_rule", name) for name in ("min_days", "latest_day", "weekly_loss_limit_pct", "water_left_limit_pct")],
]


@pytest.mark.parametrize(("page", "field"), FIELDS)
def test_a_wild_number_is_answered_by_its_page(world: World, monkeypatch: pytest.MonkeyPatch, page: str, field: str) -> None:
    set_clock(monkeypatch, world.now)
    visitor = Visitor(world)
    args = {
        "batch_cut": lambda: (world.batch(cut_days_ago=None).pk,),
        "batch_place": lambda: (world.batch().pk,),
    }.get(page, tuple)()
    world.workshop.refresh_from_db()
    rule = [world.workshop.min_days, world.workshop.latest_day, world.workshop.weekly_loss_limit_pct]
    before = (Rack.unscoped.count(), Batch.unscoped.count(), Batch.unscoped.filter(state="curing").count())
    for wild in WILD:
        answer = visitor.post(page, *args, **{field: wild})
        assert answer.status_code in (200, 302, 400), (wild, answer.status_code)
    assert (Rack.unscoped.count(), Batch.unscoped.count(), Batch.unscoped.filter(state="curing").count()) == before
    assert Placement.unscoped.count() == 0
    world.workshop.refresh_from_db()
    assert [world.workshop.min_days, world.workshop.latest_day, world.workshop.weekly_loss_limit_pct] == rule
