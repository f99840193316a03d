"""The Storeroom: materials, lots, what came and went, who sells."""

from decimal import Decimal

from django.http import QueryDict

from curehouse.making.fats import fat_kinds
from curehouse.making.liquids import liquid_kinds
from curehouse.web.access import Visit
from curehouse.web.lists.table import ListOut, TableOut, amount, measured_in, wall
from curehouse.web.marks import mark_of
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.storeroom import lot_state, shown_materials
from curehouse.workshops.roles import Right
from inventory.adapter import covers
from inventory.models import Count, Lot, Material, Movement, StoreCount, Supplier
from inventory.queries.lots import LotQuerySet
from inventory.queries.movements import MovementQuerySet
from inventory.to_order import ToOrder, read_to_order


def _ordering(row: Material, known: ToOrder) -> list[object]:
    """Return the order on which a material waits, and until when, or until when and why it is put off."""
    if row.retired_at is not None:
        return ["", None, None, ""]
    proposed, put_off = known.proposed.get(row.pk), known.put_off.get(row.pk)
    waits = ["", None] if proposed is None else [str(proposed.order), proposed.decide_by]
    return [*waits, *([None, ""] if put_off is None else [put_off.until, put_off.why])]


def _materials(visit: Visit, query: QueryDict, _pk: int | None) -> TableOut:
    today = Calendar(visit.workshop, visit.at).today
    search, show = query.get("q", "").replace("\x00", " ").strip()[:120], query.get("show", "")
    ordering = read_to_order(workshop=visit.workshop, on=today)
    rows = shown_materials(visit, search=search, show=show, known=ordering).with_stock(on=today)
    known = covers(workshop=visit.workshop, at=visit.at)

    def line(row: Material) -> list[object]:
        cover = known.get(row.pk)
        days = None if cover is None or cover.days is None else round(Decimal(str(cover.days)), 1)
        week = None if cover is None or cover.a_day is None else Decimal(str(round(cover.a_day * 7, 3)))
        return [
            row.name,
            row.get_kind_display(),
            measured_in(row, visit),
            amount(row.usable, row, visit),
            amount(row.on_hand, row, visit),
            *_ordering(row, ordering),
            days,
            amount(week, row, visit),
            wall(row.retired_at, visit),
            "part of it" if row.on_hand_is_estimated else "",
        ]

    headers = (
        "Material",
        "Kind",
        "Unit",
        "Usable",
        "On hand",
        "To order with",
        "Decide by",
        "Put off until",
        "Put off because",
        "Lasts days at the recent rate",
        "Used a week lately",
        "Out of use since",
        "Estimated",
    )
    return TableOut(headers, (line(row) for row in rows))


_LOT_HEADERS = (
    "Material",
    "Lot",
    "Supplier",
    "Supplier's lot",
    "Received",
    "Best before",
    "On hand",
    "Unit",
    "It is",
    "Estimated",
)
_COST_HEADERS = ("Cost of a gram or a piece", "Currency")


def _lot_lines(visit: Visit, rows: LotQuerySet) -> TableOut:
    today, with_costs = Calendar(visit.workshop, visit.at).today, visit.may(Right.SEE_COSTS)
    lines = (
        [
            row.material.name,
            row.number,
            row.supplier.name if row.supplier else "",
            row.supplier_lot,
            row.received_on,
            row.best_before,
            amount(row.on_hand, row.material, visit),
            measured_in(row.material, visit),
            mark_of(lot_state(row, today)).word,
            "yes" if row.is_estimated else "",
            *([row.unit_cost, visit.workshop.currency if row.unit_cost is not None else ""] if with_costs else []),
        ]
        for row in rows.named().iterator(chunk_size=500)
    )
    return TableOut(_LOT_HEADERS + _COST_HEADERS if with_costs else _LOT_HEADERS, lines)


def _lots(visit: Visit, _query: QueryDict, _pk: int | None) -> TableOut:
    return _lot_lines(visit, Lot.objects.within(visit.workshop).by_material_here_first())


def _lots_of_material(visit: Visit, _query: QueryDict, pk: int | None) -> TableOut:
    material = Material.objects.within(visit.workshop).get_here(pk or 0, what="material")
    return _lot_lines(visit, Lot.objects.within(visit.workshop).filter(material=material).here_first())


def _lots_of_supplier(visit: Visit, _query: QueryDict, pk: int | None) -> TableOut:
    supplier = Supplier.objects.within(visit.workshop).get_here(pk or 0, what="supplier")
    return _lot_lines(visit, Lot.objects.within(visit.workshop).filter(supplier=supplier).newest_first())


def _movement_lines(visit: Visit, rows: MovementQuerySet) -> TableOut:
    related = ("lot__material", "by_user", "by_device", "batch_use__batch__formula", "corrected_by")
    headers = (
        "When",
        "Material",
        "Lot",
        "What",
        "Amount",
        "Unit",
        "Batch",
        "Reason",
        "Taken back",
        "By",
        "Written",
        "Estimated",
    )

    def line(row: Movement) -> list[object]:
        use = getattr(row, "batch_use", None)
        return [
            wall(row.moment, visit),
            row.lot.material.name,
            row.lot.number,
            row.get_kind_display(),
            amount(row.amount, row.lot.material, visit),
            measured_in(row.lot.material, visit),
            str(use.batch) if use else "",
            row.reason,
            "yes" if hasattr(row, "corrected_by") else "",
            row.signed_by,
            wall(row.written_at, visit),
            "yes" if row.is_estimate else "",
        ]

    return TableOut(
        headers,
        (line(row) for row in rows.newest_first().with_their_counts().select_related(*related).iterator(chunk_size=1000)),
    )


def _movements(visit: Visit, _query: QueryDict, _pk: int | None) -> TableOut:
    return _movement_lines(visit, Movement.objects.within(visit.workshop))


def _lot(visit: Visit, pk: int | None) -> Lot:
    return Lot.objects.within(visit.workshop).named().get_here(pk or 0, what="lot")


def _movements_of_lot(visit: Visit, _query: QueryDict, pk: int | None) -> TableOut:
    return _movement_lines(visit, Movement.objects.within(visit.workshop).filter(lot=_lot(visit, pk)))


def _counts_of_lot(visit: Visit, _query: QueryDict, pk: int | None) -> TableOut:
    lot = _lot(visit, pk)
    rows = Count.objects.within(visit.workshop).filter(lot=lot).newest_first().select_related("by_user", "by_device")
    lines = (
        [
            wall(row.moment, visit),
            str(lot),
            amount(row.counted, lot.material, visit),
            amount(row.expected, lot.material, visit),
            measured_in(lot.material, visit),
            row.reason,
            row.signed_by,
            "takes a count back" if row.takes_back_id else "taken back" if row.is_taken_back else "",
            "yes" if row.is_estimate else "",
        ]
        for row in rows.with_what_took_them_back()
    )
    return TableOut(("When", "Lot", "Counted", "Booked", "Unit", "Reason", "By", "Taken back", "Estimated"), lines)


def _store_counts(visit: Visit, _query: QueryDict, _pk: int | None) -> TableOut:
    rows = StoreCount.objects.within(visit.workshop).with_figures().newest_first().select_related("by_user", "by_device")
    lines = (
        [
            wall(row.begun_at, visit), wall(row.ended_at, visit), row.lots_counted, row.lots_differing, row.lots_by_eye,
            row.lots_left, row.signed_by,
        ]
        for row in rows
    )  # fmt: skip
    headers = ("Begun", "Ended", "Lots counted", "Not as booked", "Judged by eye", "Lots not counted", "Begun by")
    return TableOut(headers, lines)


def _counts_of_walk(visit: Visit, _query: QueryDict, pk: int | None) -> TableOut:
    walk = StoreCount.objects.within(visit.workshop).get_here(pk or 0, what="store count")
    rows = Count.objects.within(visit.workshop).filter(store_count=walk).with_what_took_them_back().order_by("pk")
    with_costs = visit.may(Right.SEE_COSTS)

    def line(row: Count) -> list[object]:
        lot, differs = row.lot, row.counted - row.expected
        cost = None if lot.unit_cost is None else (differs * lot.unit_cost).quantize(Decimal("0.01"))
        return [
            wall(row.moment, visit), lot.material.name, lot.number, amount(row.counted, lot.material, visit),
            amount(row.expected, lot.material, visit), amount(differs, lot.material, visit), measured_in(lot.material, visit),
            "yes" if row.is_estimate else "", row.reason, row.signed_by, "yes" if row.is_taken_back else "",
            *([cost, visit.workshop.currency if cost is not None else ""] if with_costs else []),
        ]  # fmt: skip

    headers = ("When", "Material", "Lot", "Counted", "Booked", "Difference", "Unit", "Estimated", "Reason", "By", "Taken back")
    headers = (*headers, "Difference at cost", "Currency") if with_costs else headers
    return TableOut(headers, (line(row) for row in rows.select_related("lot__material", "by_user", "by_device")))


def _suppliers(visit: Visit, _query: QueryDict, _pk: int | None) -> TableOut:
    rows = Supplier.objects.within(visit.workshop).in_use_first()
    lines = ([row.name, row.contact, row.note, wall(row.retired_at, visit)] for row in rows)
    return TableOut(("Supplier", "Contact", "Note", "Out of use since"), lines)


def _fats(_visit: Visit, _query: QueryDict, _pk: int | None) -> TableOut:
    lines = (
        [one.name, one.saponification_low, one.saponification_high, one.allergen, one.source, one.how_sure]
        for one in fat_kinds().values()
    )
    headers = ("Fat", "Saponification value, from, mg KOH/g", "Saponification value, to, mg KOH/g", "Allergen", "Source")
    return TableOut((*headers, "How sure"), lines)


def _liquids(_visit: Visit, _query: QueryDict, _pk: int | None) -> TableOut:
    lines = (
        [
            one.name,
            one.kind,
            one.water_fraction,
            _part(one.made_of.fat.middle),
            _part(one.made_of.sugar),
            one.allergen,
            one.source,
        ]
        for one in liquid_kinds().values()
    )
    headers = ("Liquid", "Kind", "Water, part of its mass", "Fat, part of its mass", "Sugar, part of its mass")
    return TableOut((*headers, "Allergen", "Source"), lines)


def _part(share: float) -> Decimal:
    return Decimal(f"{share:.4f}")


LISTS = (
    ListOut("fats", "storeroom/fats", "Fats", _fats, Right.SEE),
    ListOut("liquids", "storeroom/liquids", "Liquids and powders", _liquids, Right.SEE),
    ListOut("materials", "storeroom/materials", "Materials", _materials, Right.SEE),
    ListOut("lots", "storeroom/lots", "Lots", _lots, Right.SEE),
    ListOut("movements", "storeroom/movements", "What came and went", _movements, Right.SEE),
    ListOut("material_lots", "materials/<int:pk>/lots", "Lots", _lots_of_material, Right.SEE),
    ListOut("supplier_lots", "suppliers/<int:pk>/lots", "Lots", _lots_of_supplier, Right.SEE),
    ListOut("lot_movements", "lots/<int:pk>/movements", "What came and went", _movements_of_lot, Right.SEE),
    ListOut("lot_counts", "lots/<int:pk>/counts", "Counts", _counts_of_lot, Right.SEE),
    ListOut("store_counts", "storeroom/counts", "Store counts", _store_counts, Right.SEE),
    ListOut("store_count", "store-counts/<int:pk>", "What was counted", _counts_of_walk, Right.SEE),
    ListOut("suppliers", "suppliers", "Suppliers", _suppliers, Right.SEE),
)
