"""What is done through the API is noted, once a request, in the transaction that does it."""

from collections.abc import Callable, Mapping
from datetime import datetime, time, timedelta
from types import MappingProxyType
from typing import Any

from django.db import transaction
from rest_framework.request import Request
from rest_framework.response import Response

from curehouse.common.time import local_day, local_moment
from curehouse.common.visitors import origin_of
from curehouse.flows.deeds import sentence
from curehouse.flows.named import has_name, name_of, word_of
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import AuditEntry
from curehouse.workshops.services.audit import note

# The deed of an address, by its method and name.
DEEDS: Mapping[tuple[str, str], str] = MappingProxyType(
    {
        ("POST", "scales"): "scale_add",
        ("POST", "scale-checks"): "scale_check",
        ("POST", "scale-tares"): "tare_add",
        ("POST", "tare-retire"): "tare_retire",
        ("POST", "formulas"): "formula_new",
        ("POST", "formula-versions"): "formula_change",
        ("POST", "formula-retire"): "formula_retire",
        ("POST", "formula-take-up"): "formula_retire",
        ("POST", "markets"): "market_new",
        ("PATCH", "market"): "market_change",
        ("POST", "market-call-off"): "market_call_off",
        ("POST", "pours"): "version_pour",
        ("POST", "pour-steps"): "pour_step",
        ("POST", "pour-finish"): "pour_finish",
        ("POST", "pour-stop"): "pour_stop",
        ("POST", "runs"): "version_run",
        ("POST", "run-move"): "run_move",
        ("POST", "run-call-off"): "run_call_off",
        ("POST", "run-reserve"): "run_reserve",
        ("POST", "run-places"): "run_places",
        ("POST", "run-pour"): "run_pour",
        ("PATCH", "material-facts"): "material_facts",
        ("POST", "batches"): "batch_new",
        ("POST", "batch-cut"): "batch_cut",
        ("POST", "batch-cut-notes"): "batch_cut_note",
        ("POST", "batch-checks"): "batch_check",
        ("POST", "batch-take-outs"): "batch_take_out",
        ("POST", "batch-labels"): "batch_label",
        ("POST", "batch-uses"): "batch_use",
        ("POST", "sample-bars"): "batch_mark",
        ("POST", "sample-bar-end"): "bar_gone",
        ("POST", "readings"): "weigh",
        ("POST", "readings-bulk"): "weigh_many",
        ("POST", "reading-keep"): "reading_keep",
        ("POST", "reading-correct"): "reading_correct",
        ("POST", "reading-strike"): "reading_strike",
        ("POST", "racks"): "rack_new",
        ("PATCH", "rack"): "rack_change",
        ("POST", "rack-rooms"): "rack_room",
        ("POST", "rooms"): "room_new",
        ("PATCH", "room"): "room_change",
        ("POST", "room-log"): "room_air",
        ("POST", "room-log-bulk"): "room_airs",
        ("POST", "room-reading-withdraw"): "air_withdraw",
        ("PATCH", "position"): "position_capacity",
        ("POST", "placements"): "batch_place",
        ("POST", "placements-move"): "batch_move",
        ("POST", "placements-turn"): "batch_turn",
        ("POST", "turning"): "batches_turn",
        ("POST", "notice-attend"): "notice_done",
        ("POST", "materials"): "material_new",
        ("PATCH", "material"): "material_edit",
        ("POST", "material-recipes"): "material_recipe",
        ("POST", "material-makings"): "material_make",
        ("POST", "material-retire"): "material_retire",
        ("POST", "material-take-up"): "material_retire",
        ("POST", "suppliers"): "supplier_new",
        ("PATCH", "supplier"): "supplier_edit",
        ("POST", "supplier-retire"): "supplier_retire",
        ("POST", "supplier-take-up"): "supplier_retire",
        ("PATCH", "supplier-terms"): "supplier_terms",
        ("POST", "offers"): "offer_new",
        ("PATCH", "offer"): "offer_change",
        ("POST", "offer-end"): "offer_end",
        ("POST", "orders"): "order_write",
        ("POST", "order-send"): "order_send",
        ("POST", "order-promise"): "order_promise",
        ("POST", "order-call-off"): "order_call_off",
        ("POST", "order-receive"): "order_receive",
        ("POST", "proposals"): "orders_propose",
        ("POST", "material-put-offs"): "material_put_off",
        ("POST", "material-wanted"): "material_wanted",
        ("POST", "lots"): "receive",
        ("POST", "lot-rulings"): "lot_rule",
        ("POST", "lot-corrections"): "lot_correct",
        ("POST", "lot-values"): "lot_value",
        ("POST", "lot-files"): "lot_paper",
        ("POST", "lot-receipts"): "lot_more",
        ("POST", "lot-counts"): "lot_count",
        ("POST", "store-count-end"): "store_count_end",
        ("POST", "lot-write-offs"): "lot_write_off",
        ("POST", "lot-returns"): "lot_give_back",
        ("POST", "movement-reversal"): "movement_take_back",
        ("POST", "count-reversal"): "count_take_back",
        ("POST", "imports"): "import_lay_out",
        ("POST", "import-checks"): "import_check",
        ("POST", "import-bringing"): "import_bring",
        ("POST", "hold-lift"): "hold_lift",
    }
)
# Answered 200, such a weighing was here before, and nothing was done.
_SENT_BEFORE = {"weigh", "weigh_many", "reading_correct", "room_air", "room_airs"}
# What a sensor sends all day long: of each room its first of a day leaves a line, for the log itself has every reading.
_DAILY = {"room_air", "room_airs"}
# What a list of things is called that were sent at once.
_COUNTED = "written"
_OF_A_BATCH = "batch"


def noted(work: Callable[..., Response], at: datetime, request: Request, *args: Any, **kwargs: Any) -> Response:
    """Do *work* and note it in one transaction; what is refused leaves no line, and what has no words is not done."""
    code = DEEDS[(request.method, request.resolver_match.url_name)]
    with transaction.atomic():
        response = work(request, *args, **kwargs)
        if response.status_code < 400 and not (code in _SENT_BEFORE and response.status_code == 200):
            address = response.get("Location", request.path)
            if code in _DAILY and _stands_today(request.actor, code, address, at):
                return response
            note(
                actor=request.actor,
                code=code,
                said=sentence(code, _about(request, response)),
                address=address,
                origin=origin_of(request.META),
                at=at,
            )
    return response


def _stands_today(actor: Actor, code: str, address: str, at: datetime) -> bool:
    """Return whether the trail has a line of a device's, of the same, on the workshop's day of a moment."""
    zone = actor.workshop.time_zone
    begins = local_moment(local_day(at, zone), time(), zone)
    today = AuditEntry.objects.within(actor.workshop).between(begins, at + timedelta(microseconds=1))
    return actor.device is not None and today.filter(by_device=actor.device, code=code, address=address).exists()


def _about(request: Request, response: Response) -> str:
    """Return what it was done to: the thing in the address, how many came at once, or the name that was sent."""
    workshop, match = request.actor.workshop, request.resolver_match
    answered = response.data if isinstance(response.data, dict) else {}
    if told := getattr(request, "about", ""):
        return told
    if "pk" in match.kwargs:
        return name_of(workshop, word_of(match.route), match.kwargs["pk"])
    if _COUNTED in answered:
        return f"{answered[_COUNTED]} written"
    word = word_of(f"{match.route}<int:pk>")
    if "id" in answered and has_name(word):
        return name_of(workshop, word, answered["id"])
    if _OF_A_BATCH in answered:
        return name_of(workshop, "batches", answered[_OF_A_BATCH])
    return ""
