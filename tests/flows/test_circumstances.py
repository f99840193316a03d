"""What is known of a batch besides its cure reaches its verdict and its early warning as a cause, with its figures."""

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from curehouse.core.cure.forecast.prior import cold_prior
from curehouse.core.cure.formula_curve import expected_curve
from curehouse.core.cure.rule import BatchAtMoment, Circumstances
from curehouse.curing.adapter import batch_at, batch_rows, limits_of, verdict_at
from curehouse.curing.circumstances import with_circumstances
from curehouse.curing.models import Assessment, Cure, CureLearning, CurePrior, CureRecord, Forecast, Room, RoomReading
from curehouse.curing.services.places import move, place
from curehouse.curing.services.room_log import AirEntry
from curehouse.curing.services.rooms import add_room
from curehouse.flows.assess import assess_batch
from curehouse.flows.enter_batch import RackEntry, enter_batch
from curehouse.flows.forecast_notices import renew_all_outlooks
from curehouse.flows.log_air import log_air_many
from curehouse.flows.stand_rack import stand_rack
from curehouse.making.fats import fat_kinds
from curehouse.making.models import Batch
from curehouse.making.services import BatchEntry, LiquidEntry
from curehouse.making.services.formulas import write_formula
from curehouse.notices.models import Notice
from tests.formulas import fat, formula_entry, liquid
from tests.world import World

pytestmark = pytest.mark.django_db
Pour = Callable[..., Batch]


@pytest.fixture
def pour(world: World) -> Pour:
    """Return how a batch of a formula of olive and coconut is poured, 32 % of liquid and 5 % of superfat asked."""
    return pouring(world)


def pouring(world: World, **changes: Any) -> Pour:
    lines = (fat("olive", "700"), fat("coconut", "300"), liquid("water", "320"))
    entry = formula_entry(lines=lines, liquid=Decimal(320), superfat=Decimal("0.05"), **changes)
    version = write_formula(actor=world.actor, entry=entry, at=world.now)

    def poured(*, lye_g: str = "142", liquid_g: str = "320", cut_days_ago: int = 61, **changes: Any) -> Batch:
        batch_entry = BatchEntry(
            formula_name="",
            version=version,
            poured_at=world.now - timedelta(days=cut_days_ago + 1),
            cut_at=world.now - timedelta(days=cut_days_ago),
            bars=11,
            fats_g=Decimal(1000),
            lye_g=Decimal(lye_g),
            liquids=(LiquidEntry("water", Decimal(liquid_g)),),
            **changes,
        )
        rack = RackEntry(sample_bars=3)
        return Batch.objects.within(world.workshop).get(
            pk=enter_batch(actor=world.actor, entry=batch_entry, rack=rack, at=world.now).pk
        )

    return poured


def seen(world: World, batch: Batch) -> BatchAtMoment:
    known = batch_at(batch_rows(batch), world.workshop, moment=world.now)
    return with_circumstances(known, batch, limits_of(batch, world.workshop))


def beside(world: World, batch: Batch) -> Circumstances:
    return seen(world, batch).circumstances


def learnt(world: World) -> CurePrior:
    """Let the house have learnt what is usual of such bars, and nothing else."""
    prior = CurePrior.unscoped.create(
        workshop=world.workshop,
        version=1,
        fingerprint="usual",
        method="by hand",
        prior=cold_prior().as_plain(),
        cures=0,
        learnt_at=world.now,
    )
    CureLearning.unscoped.create(workshop=world.workshop, stages=[[None, prior.pk]])
    return prior


def double_bonds(key: str) -> float:
    """Return by hand the part of a fat's named fatty acids that have double bonds."""
    acids = fat_kinds()[key].fatty_acids
    return sum(share for name, share in acids.items() if name.split("_")[1] != "0") / sum(acids.values())


def test_what_its_formula_asks_is_known_of_a_batch(world: World, pour: Pour) -> None:
    found = beside(world, pour())
    assert found.planned_liquid_pct == pytest.approx(32)
    olive, coconut = fat_kinds()["olive"].saponification, fat_kinds()["coconut"].saponification
    takes_g = (700 * olive.middle + 300 * coconut.middle) / 1000 / 56.106 * 39.997
    assert found.lye_of_asked_pct == pytest.approx(100 * 142 / (takes_g * 0.95), abs=0.05)
    # Of each fat nearly all acids are named; the shares of the two differ by half a point in how much.
    assert found.double_bonds_pct == pytest.approx(70 * double_bonds("olive") + 30 * double_bonds("coconut"), abs=0.3)
    assert found.drying is None and found.room_humidity_pct is None


def test_less_lye_than_asked_is_seen_whichever_alkali_it_is(world: World, pour: Pour) -> None:
    whole = beside(world, pour()).lye_of_asked_pct
    # 28.4 g NaOH are 28.4 x 56.106 / 39.997 = 39.8 g KOH.
    both = pouring(world, name="Both", naoh_share=Decimal("0.8"), koh_purity=Decimal(1))
    mixed = beside(world, both(lye_g="153.438", koh_g=Decimal("39.838"), lye_confirmed=True)).lye_of_asked_pct
    short = beside(world, pour(lye_g="132.06", lye_confirmed=True)).lye_of_asked_pct
    assert whole is not None
    assert mixed == pytest.approx(whole, abs=0.05)
    assert short == pytest.approx(0.93 * whole, abs=0.05)


def test_of_a_batch_without_a_formula_nothing_is_asked(world: World) -> None:
    assert beside(world, world.batch(cut_days_ago=60)) == Circumstances()


def test_what_it_lost_stands_beside_what_the_house_expects(world: World, pour: Pour) -> None:
    prior, batch = learnt(world), pour()
    world.weigh_series(batch, {0: "130.0", 7: "126.0", 14: "124.0"})
    drying = beside(world, batch).drying
    assert drying is not None
    assert drying.loss_pct == pytest.approx(100 * 6 / 130)
    assert drying.day == pytest.approx(14, abs=0.1)
    (point,) = expected_curve(prior.prior, batch.formula.name, water_share=batch.water_share, days=[drying.day])
    assert (drying.low_pct, drying.high_pct) == (100 - point.high_pct, 100 - point.low_pct)
    assert drying.low_pct < drying.middle_pct < drying.high_pct


def test_four_queries_tell_it_and_only_of_a_batch_that_is_too_soft(
    world: World, pour: Pour, django_assert_num_queries: Any
) -> None:
    learnt(world)
    batch = pour()
    world.weigh_series(batch, {0: "130.0", 7: "126.0", 14: "124.0"})
    rows, limits = batch_rows(batch), limits_of(batch, world.workshop)
    known = batch_at(rows, world.workshop, moment=batch.cut_at + timedelta(days=15))
    with django_assert_num_queries(0):
        verdict_at(rows, world.workshop, moment=batch.cut_at + timedelta(days=15))
    batch = Batch.objects.within(world.workshop).select_related("formula").get(pk=batch.pk)
    batch.workshop = world.workshop
    with django_assert_num_queries(4):
        with_circumstances(known, batch, limits)


def test_a_batch_too_soft_says_its_causes_by_their_strength(world: World, pour: Pour) -> None:
    learnt(world)
    batch = pour(lye_g="132", liquid_g="400", lye_confirmed=True)
    world.weigh_series(batch, {0: "130.0", 7: "127.0", 14: "125.0", 46: "119.6", 53: "118.5", 60: "117.4"})
    assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now)
    row = Assessment.objects.within(world.workshop).filter(batch=batch).order_by("-pk")[0]
    assert row.state == "too_soft"
    told = [(one["code"], one["text"].replace("\u00a0", " ")) for one in row.reasons if one["code"].startswith("cause")]
    # In widths of what is usual: (98 - 92.8) / 4, (40 - 32 - 1) / 10, then by what is expected; water at 26 % is 1 / 5.
    assert [code for code, _ in told] == ["cause_lye_short", "cause_liquid", "cause_slow_drying", "cause_others"]
    said = dict(told)
    assert said["cause_slow_drying"].startswith("By day 60 it had lost 9.7 % of its weight, ")
    assert "short of what its formula asks for these fats" in said["cause_lye_short"]
    assert "Its liquid was 40 % of the fats, 8 points of them more than its formula asks (32 %)" in said["cause_liquid"]
    assert any("weigh the lye to the formula" in step for step in row.advice)


def test_an_early_warning_names_them_too(world: World, pour: Pour) -> None:
    batch = pour(lye_g="132", liquid_g="400", cut_days_ago=20, lye_confirmed=True)
    world.weigh_series(batch, {0: "130.0", 7: "127.0", 14: "125.0"})
    record = CureRecord.unscoped.create(workshop=world.workshop, fingerprint="1", content={})
    row = Forecast.unscoped.create(
        workshop=world.workshop,
        batch=batch,
        moment=batch.cut_at + timedelta(days=15),
        method="by hand",
        fingerprint="1",
        record=record,
        asked={"rule": {"min_days": 28, "latest_day": 56, "horizon_days": 126}, "days": []},
        foretold={"ready_day": {"p10": 70.0, "p50": 80.0, "p90": 90.0}, "soft_probability": 0.7, "weighings": 3},
        written_at=world.now,
    )
    Cure.objects.within(world.workshop).filter(batch=batch).update(forecast=row)
    renew_all_outlooks(workshop=world.workshop, at=world.now)
    body = Notice.objects.within(world.workshop).get(kind="soft_likely").body.replace("\u00a0", " ")
    _chance, lye, liquid_said, *rest = body.splitlines()
    assert lye.startswith("Its lye was 7.2 % short of what its formula asks for these fats")
    assert liquid_said.startswith("Its liquid was 40 % of the fats, 8 points of them more than its formula asks (32 %)")
    assert any(one.startswith("Next time weigh the lye to the formula") for one in rest)


def damp_room(world: World, humidity: str, *, days: int = 61, name: str = "Cellar") -> Room:
    room = add_room(workshop=world.workshop, name=name)
    entries = [
        AirEntry(world.days_ago(day), Decimal(humidity), Decimal(18), RoomReading.Source.FORM, f"{day}") for day in range(days)
    ]
    log_air_many(actor=world.actor, room=room, entries=entries, at=world.now)
    return room


def test_a_humid_room_is_a_cause_with_its_figure_and_ranked_by_it(world: World, pour: Pour) -> None:
    learnt(world)
    damp_room(world, "72")
    batch = pour(lye_g="132", liquid_g="400", lye_confirmed=True)
    world.weigh_series(batch, {0: "130.0", 7: "127.0", 14: "125.0", 46: "119.6", 53: "118.5", 60: "117.4"})
    assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now)
    row = Assessment.objects.within(world.workshop).filter(batch=batch).order_by("-pk")[0]
    told = [(one["code"], one["text"].replace("\u00a0", " ")) for one in row.reasons if one["code"].startswith("cause")]
    # (72 - 60) / 20 lies between (40 - 32 - 1) / 10 and what it lost beside what was expected.
    assert [code for code, _ in told] == ["cause_lye_short", "cause_liquid", "cause_humid_room", "cause_others"]
    assert dict(told)["cause_humid_room"] == "Its room was at 72 % humidity; 40 to 60 % is usual."


def test_the_air_is_that_of_where_the_batch_stood_when(world: World, pour: Pour) -> None:
    """Thirty days in the cellar at 80 %, from then on in the loft at 50 %."""
    cellar, loft = damp_room(world, "80"), damp_room(world, "50", name="Loft")
    down, up = world.rack("Down"), world.rack("Up")
    batch = pour()
    for rack, room in ((down, cellar), (up, loft)):
        stand_rack(actor=world.actor, rack=rack, room=room, since=None, at=world.now)
    here, there = world.position(down), world.position(up)
    place(actor=world.actor, batch=batch, position=here, bars=11, moved_at=batch.cut_at, at=world.now)
    assert beside(world, batch).room_humidity_pct == 80
    moved_at = batch.cut_at + timedelta(days=31)
    move(actor=world.actor, batch=batch, origin=here, target=there, bars=11, moved_at=moved_at, at=world.now)
    # 31 of 61 days in the cellar and 30 in the loft; the log has no day of the cut itself.
    assert beside(world, batch).room_humidity_pct == pytest.approx((30 * 80 + 31 * 50) / 61)


def test_of_a_log_with_too_few_days_nothing_is_said(world: World, pour: Pour) -> None:
    damp_room(world, "80", days=25)
    assert beside(world, pour()).room_humidity_pct is None
