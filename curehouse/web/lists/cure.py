"""Batches, their weighings and what else is on record of them; the racks."""

from decimal import Decimal

from django.http import QueryDict

from curehouse.curing.models import Occupancy, Placement, Position, Reading
from curehouse.curing.queries.weighing import ASKED, CORRECTED, COUNTS, STRUCK
from curehouse.making.models import Batch, BatchUse, SafetyCheck, TakeOut
from curehouse.web.access import Visit
from curehouse.web.lists.table import ListOut, TableOut, amount, mass, measured_in, wall
from curehouse.web.marks import mark_of
from curehouse.workshops.roles import Right
from inventory.models import Irregular

_STANDING = {COUNTS: "counts", ASKED: "in doubt, left out of the verdict", CORRECTED: "corrected since", STRUCK: "struck out"}


def _batch(visit: Visit, pk: int | None) -> Batch:
    return Batch.objects.within(visit.workshop).select_related("formula").get_here(pk or 0, what="batch")


def _batch_headers(unit: str) -> tuple[str, ...]:
    return (
        "Formula",
        "Number",
        "Known as",
        "State",
        "Poured",
        "Cut",
        "Bars cut",
        "Bars left",
        f"Fats, {unit}",
        f"Lye, {unit}",
        f"NaOH of it, {unit}",
        f"KOH of it, {unit}",
        "Water share, %",
        "Weekly loss, %",
        "Total loss, %",
        "Water left, %",
        "Note",
    )


def _batches(visit: Visit, query: QueryDict, _pk: int | None) -> TableOut:
    unit = visit.workshop.unit
    found = Batch.objects.within(visit.workshop).matching(query.get("q", "").replace("\x00", " ")[:120])
    rows = found.with_last_check().select_related("formula", "cure__assessment").open_first()

    def line(batch: Batch) -> list[object]:
        cure = getattr(batch, "cure", None)
        is_curing = batch.state == Batch.State.CURING and cure is not None
        newest = cure.assessment if cure else None
        return [
            batch.formula.name,
            batch.number,
            batch.known_as,
            mark_of(cure.shown_as if is_curing else batch.state).word,
            wall(batch.poured_at, visit) if batch.pour_known else None,
            wall(batch.cut_at, visit),
            batch.bars_cut or None,
            batch.bars_left,
            mass(batch.fats_g, visit),
            mass(batch.lye_g, visit),
            mass(batch.naoh_g, visit),
            mass(batch.koh_g, visit),
            round(Decimal(str(100 * batch.water_share)), 2),
            *(
                None if newest is None or one is None else round(Decimal(str(one)), 3)
                for one in (
                    newest and newest.weekly_loss_pct,
                    newest and newest.total_loss_pct,
                    newest and newest.water_left_pct,
                )
            ),
            batch.note,
        ]

    return TableOut(_batch_headers(unit), (line(batch) for batch in rows.iterator(chunk_size=500)))


def _weighings(visit: Visit, _query: QueryDict, pk: int | None) -> TableOut:
    batch = _batch(visit, pk)
    rows = (
        Reading.objects.within(visit.workshop)
        .filter(bar__batch=batch)
        .with_standing()
        .select_related("bar", "scale", "by_user", "by_device")
        .order_by("-moment", "bar__letter", "-pk")
    )
    headers = (
        "Batch",
        "Bar",
        "Weighed",
        "Day",
        f"Weight, {visit.workshop.unit}",
        "It",
        "Asked about as",
        "Scale",
        "Firmness",
        "By",
    )

    def line(row: Reading) -> list[object]:
        days = (row.moment - batch.cut_at).total_seconds() / 86400 if batch.cut_at else 0
        return [
            str(batch),
            row.bar.letter,
            wall(row.moment, visit),
            round(Decimal(max(days, 0)), 2),
            mass(row.weight_g, visit),
            _STANDING[row.standing],
            row.doubt.replace("_", " "),
            row.scale.name if row.scale else "",
            row.firmness,
            row.signed_by,
        ]

    return TableOut(headers, (line(row) for row in rows.iterator(chunk_size=1000)))


def _places(visit: Visit, _query: QueryDict, pk: int | None) -> TableOut:
    batch = _batch(visit, pk)
    rows = Placement.objects.within(visit.workshop).filter(batch=batch).newest_first()
    lines = (
        [wall(row.at, visit), row.get_act_display(), row.bars, str(row.origin or ""), str(row.target or ""), row.signed_by]
        for row in rows
    )
    return TableOut(("When", "What", "Bars", "From", "To", "By"), lines)


def _checks(visit: Visit, _query: QueryDict, pk: int | None) -> TableOut:
    rows = SafetyCheck.objects.within(visit.workshop).filter(batch=_batch(visit, pk)).newest_first()
    lines = (
        [wall(row.at, visit), "passed" if row.passed else "failed", row.method, row.value, row.limit, row.note, row.signed_by]
        for row in rows.select_related("by_user", "by_device")
    )
    return TableOut(("When", "It has", "Method", "Found", "Limit then", "Note", "By"), lines)


def _taken(visit: Visit, _query: QueryDict, pk: int | None) -> TableOut:
    rows = TakeOut.objects.within(visit.workshop).filter(batch=_batch(visit, pk)).order_by("-at", "-id")
    lines = (
        [wall(row.at, visit), row.bars, row.get_purpose_display(), row.forced_reason, row.signed_by]
        for row in rows.select_related("by_user", "by_device")
    )
    return TableOut(("When", "Bars", "What for", "Why, not ready then", "By"), lines)


def _stock(visit: Visit, _query: QueryDict, pk: int | None) -> TableOut:
    uses = BatchUse.objects.within(visit.workshop).filter(batch=_batch(visit, pk)).in_force().order_by("pk")

    def line(use: BatchUse) -> list[object]:
        lot = use.movement.lot
        irregular = Irregular(use.irregular).label if use.irregular else ""
        return [
            wall(use.movement.moment, visit),
            lot.material.name,
            lot.number,
            lot.supplier_lot,
            amount(-use.movement.amount, lot.material, visit),
            measured_in(lot.material, visit),
            irregular,
            use.reason,
            use.signed_by,
        ]

    headers = ("When", "Material", "Lot", "Supplier's lot", "Amount", "Unit", "Not in order then", "Why", "By")
    return TableOut(headers, (line(use) for use in uses.select_related("by_user", "by_device")))


def _racks(visit: Visit, _query: QueryDict, _pk: int | None) -> TableOut:
    standing: dict[int, list[str]] = {}
    for row in Occupancy.objects.within(visit.workshop).standing().select_related("batch__formula"):
        standing.setdefault(row.position_id, []).append(f"{row.batch}: {row.bars}")
    rows = Position.objects.within(visit.workshop).in_walking_order()
    lines = (
        [row.rack.name, row.level, row.place, row.capacity_bars, row.bars_held, "; ".join(standing.get(row.pk, ()))]
        for row in rows
    )
    return TableOut(("Rack", "Level", "Place", "Holds bars", "Bars there", "Batches"), lines)


LISTS = (
    ListOut("batches", "bench/batches", "Batches", _batches, Right.SEE),
    ListOut("weighings", "batches/<int:pk>/weighings", "Weighings", _weighings, Right.SEE),
    ListOut("batch_places", "batches/<int:pk>/places", "Places", _places, Right.SEE),
    ListOut("batch_checks", "batches/<int:pk>/checks", "Safety checks", _checks, Right.SEE),
    ListOut("batch_taken", "batches/<int:pk>/taken", "Taken out", _taken, Right.SEE),
    ListOut("batch_stock", "batches/<int:pk>/stock", "Took from the storeroom", _stock, Right.SEE),
    ListOut("racks", "racks/places", "Racks", _racks, Right.SEE),
)
