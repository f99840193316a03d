"""Years of a workshop's records, written in bulk: for measuring, not for testing rules."""

import uuid
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from itertools import count

from django.utils import timezone

from curehouse.curing.models import Assessment, Cure, Occupancy, Placement, Position, Reading, SampleBar
from curehouse.curing.services.racks import add_rack
from curehouse.flows.set_up import set_up
from curehouse.making.models import Batch, BatchLiquid, Formula, SafetyCheck, TakeOut
from curehouse.notices.models import Notice
from tests.world import set_up_entry

OPEN_BATCHES = 40
BARS_A_BATCH = 5
WEIGHINGS_A_BAR = 10
BARS_A_PLACE = 30
_WEEK = timedelta(days=7)


def furnish(batches: int) -> dict[str, object]:
    """Write a workshop with so many batches, the newest forty still standing; return its addresses."""
    now = timezone.now().astimezone(UTC)
    owner, workshop = set_up(entry=set_up_entry(round_days=(now.weekday(),)), at=now - timedelta(days=1900))
    for name in ("North wall", "Window rack", "Cellar stairs"):
        add_rack(workshop=workshop, name=name, levels=5, places=3, capacity_bars=BARS_A_PLACE)
    formulas = Formula.unscoped.bulk_create(Formula(workshop=workshop, name=f"Formula {n}") for n in range(24))
    written = _write_batches(workshop, formulas, batches, now)
    bars = SampleBar.unscoped.bulk_create(
        SampleBar(workshop=workshop, batch=batch, letter="ABCDE"[n], ended_at=None if batch.state == "curing" else now)
        for batch in written
        for n in range(BARS_A_BATCH)
    )
    readings = _write_readings(workshop, bars, now)
    _write_verdicts(workshop, written, readings, now)
    _write_places(workshop, written, now)
    newest = written[-1]
    return {"owner": owner, "today": "/", "racks": "/racks/", "round": "/round/", "batch": f"/batches/{newest.pk}/"}


def _write_batches(workshop: object, formulas: list[Formula], batches: int, now: datetime) -> list[Batch]:
    rows = []
    for n in range(batches):
        standing = n >= batches - OPEN_BATCHES
        cut_at = now - timedelta(days=63 if standing else 100 + (batches - n) * 0.9)
        rows.append(
            Batch(
                workshop=workshop,
                formula=formulas[n % len(formulas)],
                number=n + 1,
                state="curing" if standing else "closed",
                poured_at=cut_at - timedelta(days=1),
                cut_at=cut_at,
                bars_cut=24,
                bars_left=24 if standing else 0,
                fats_g=Decimal(2000),
                lye_g=Decimal(280),
                water_share_computed=Decimal("0.2"),
                written_at=cut_at,
            )
        )
    written = Batch.unscoped.bulk_create(rows, batch_size=500)
    workshop.last_batch_number = batches
    workshop.save(update_fields=["last_batch_number"])
    BatchLiquid.unscoped.bulk_create(
        (
            BatchLiquid(workshop=workshop, batch=batch, kind="water", mass_g=Decimal(640), water_fraction=Decimal(1))
            for batch in written
        ),
        batch_size=500,
    )
    _write_ends(workshop, written, now)
    return written


def _write_ends(workshop: object, written: list[Batch], now: datetime) -> None:
    SafetyCheck.unscoped.bulk_create(
        (
            SafetyCheck(
                workshop=workshop,
                batch=row,
                at=row.cut_at + 5 * _WEEK,
                method="strip",
                value="9.5",
                limit="10",
                passed=True,
                written_at=now,
            )
            for row in written
        ),
        batch_size=500,
    )
    TakeOut.unscoped.bulk_create(
        (
            TakeOut(
                workshop=workshop,
                batch=row,
                at=row.cut_at + 9 * _WEEK,
                bars=24,
                purpose="sale",
                state_then="ready",
                written_at=now,
            )
            for row in written
            if row.state == "closed"
        ),
        batch_size=500,
    )


def _write_readings(workshop: object, bars: list[SampleBar], now: datetime) -> list[Reading]:
    rows = []
    for place, bar in enumerate(bars):
        for week in range(WEIGHINGS_A_BAR):
            moment = min(bar.batch.cut_at + week * _WEEK, now - timedelta(days=6))
            weight_g = Decimal(str(round(120 * (1 - 0.13 * (1 - 0.7**week)) + place % 7 * 0.3, 1)))
            rows.append(
                Reading(
                    workshop=workshop,
                    bar=bar,
                    client_id=uuid.uuid4(),
                    moment=moment,
                    weight_g=weight_g,
                    source="round",
                    received_at=moment,
                )
            )
    return Reading.unscoped.bulk_create(rows, batch_size=500)


def _write_verdicts(workshop: object, batches: list[Batch], readings: list[Reading], now: datetime) -> None:
    said = [{"code": "weekly_loss", "text": "Losing 0.9 % a week; dry enough at 0.75 % or less.", "figures": []}]
    rows = [
        Assessment(
            workshop=workshop,
            batch=reading.bar.batch,
            moment=reading.moment,
            cause="reading",
            reading=reading,
            method="measured-1",
            state="curing",
            age_days=(reading.moment - reading.bar.batch.cut_at).days,
            dry_enough=False,
            weekly_loss_pct=0.9,
            total_loss_pct=11.0,
            water_left_pct=45.0,
            reasons=said,
            advice=["Weigh again in a week."],
            figures={},
            written_at=reading.received_at,
        )
        for reading in readings
    ]
    written = Assessment.unscoped.bulk_create(rows, batch_size=500)
    _write_cures(workshop, batches, written, readings, now)
    _write_notices(workshop, batches, now)


def _write_cures(
    workshop: object, batches: list[Batch], written: list[Assessment], readings: list[Reading], now: datetime
) -> None:
    newest = {row.batch_id: row for row in written}
    last = {row.bar.batch_id: row for row in readings}
    Cure.unscoped.bulk_create(
        (
            Cure(
                workshop=workshop,
                batch=batch,
                state="curing",
                state_since=batch.cut_at,
                assessment=newest[batch.pk],
                last_reading=last[batch.pk],
                last_weighed_at=last[batch.pk].moment,
                due_on=now.date() if batch.state == "curing" else None,
                ended_at=None if batch.state == "curing" else now,
            )
            for batch in batches
        ),
        batch_size=500,
    )


def _write_notices(workshop: object, batches: list[Batch], now: datetime) -> None:
    Notice.unscoped.bulk_create(
        (
            Notice(
                workshop=workshop,
                key=f"ready:batch:{batch.pk}:1",
                kind="ready",
                about=f"batch:{batch.pk}",
                mark="ready",
                title=f"Batch {batch.number} is ready",
                body="It is ready.",
                path=f"/batches/{batch.pk}/",
                state="open" if batch.number % (len(batches) // 10) == 0 else "done",
                closed_at=None if batch.number % (len(batches) // 10) == 0 else now,
                written_at=now,
            )
            for batch in batches
        ),
        batch_size=500,
    )


def _write_places(workshop: object, batches: list[Batch], now: datetime) -> None:
    positions = list(Position.unscoped.filter(workshop=workshop).order_by("pk"))
    turns = count()
    history, standing = [], []
    for batch in batches:
        position = positions[next(turns) % len(positions)]
        history.append(
            Placement(workshop=workshop, batch=batch, act="placed", bars=24, target=position, at=batch.cut_at, written_at=now)
        )
        standing.append(Occupancy(workshop=workshop, batch=batch, position=position, bars=24 if batch.state == "curing" else 0))
    Placement.unscoped.bulk_create(history, batch_size=500)
    Occupancy.unscoped.bulk_create(standing, batch_size=500)
    for position in positions:
        position.capacity_bars = 60
        position.bars_held = sum(row.bars for row in standing if row.position_id == position.pk)
    Position.unscoped.bulk_update(positions, ["capacity_bars", "bars_held"])
