"""Cases of ``check_runs``: what stands in the file, held for what it must be, and the answers.

All weights in a file are grams, days are dates, shares are basis points (hundredths of a per cent).
"""

import math
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from curehouse.commands.house.files import Fields
from curehouse.commands.house.refusal import Refused
from curehouse.core.stock.explode import Parts, blends_first, check_nothing_lost, explode, needs_of
from curehouse.core.stock.netting import RunCheck, check_run
from curehouse.core.stock.storeroom import Arrival, DeliveryDays, Lot, OpenOrder, Run, Storeroom
from curehouse.core.stock.supplied import Taken

_WHOLE_BP = 10_000


def answer(case: Fields) -> dict[str, Any]:
    """Return whether the new run of *case* can be poured, what it needs and lacks, and when it first can.

    Raises
    ------
    Refused
        Something is missing in the case or cannot be so; the text says what and where.
    """
    today = case.day("as_of")
    blends = {blend: _shares(case.inner("blends"), blend) for blend in case.inner("blends").names()}
    formulas = {formula: _shares(case.inner("formulas"), formula) for formula in case.inner("formulas").names()}
    lead = case.inner("lead_days")
    room = Storeroom(
        lots=[_lot(one, today) for one in case.each("lots")],
        orders=[_order(one) for one in case.each("open_orders")],
        delivery={material: DeliveryDays(lead.days(material), lead.days(material)) for material in lead.names()},
    )
    try:
        blends_first(blends)
        check_nothing_lost(blends)
        others = [_run(one, formulas, blends) for one in case.each("planned_runs")]
        new = _run(case.inner("new_run"), formulas, blends)
        return _plain(new, check_run(new, others, room, today))
    except ValueError as error:
        raise Refused(f"{case.where}: {error}.") from error


def _shares(lists: Fields, name: str) -> Parts:
    return tuple((one.text("item"), one.number("bp", above=0) / _WHOLE_BP) for one in lists.each(name))


def _lot(one: Fields, today: int) -> Lot:
    last_day = one.day("best_before")
    # A file says nothing of when a lot came: it is here, and one that expired before today came before that.
    received = min(today, last_day)
    return Lot(one.text("lot"), one.text("material"), one.grams("quantity_g"), received, last_day, not one.flag("quarantined"))


def _order(one: Fields) -> OpenOrder:
    comes = Arrival(one.day("expected"), one.day("best_before"))
    return OpenOrder(one.text("order"), one.text("material"), one.grams("quantity_g"), comes, comes)


def _run(one: Fields, formulas: Mapping[str, Parts], blends: Mapping[str, Parts]) -> Run:
    needs = explode(needs_of(formulas, one.text("formula"), one.number("oil_g", above=0)), blends)
    return Run(one.text("run"), one.day("date"), {material: _half_up(grams) for material, grams in needs.items()})


def _half_up(grams: float) -> int:
    if not math.isfinite(grams):
        raise ValueError("a run needs more of something than can be reckoned: check its oil_g and the bp of its formula")
    # A share of hundredths of a per cent is not exact in floating point; a ten millionth of a gram is no weight.
    return math.floor(grams + 0.5 + 1e-7)


def _plain(run: Run, found: RunCheck) -> dict[str, Any]:
    prospect = found.likely
    return {
        "needs": dict(run.needs),
        "feasible_on_date": prospect.possible,
        "shortages": [
            {
                "material": one.material,
                "quantity_g": one.likely.short_g,
                "needed_by": _iso(run.day),
                "order_by": _iso(one.order_by),
                "too_late": one.too_late,
            }
            for one in found.materials
            if one.likely.short_g
        ],
        "earliest_existing_supply": _iso(prospect.first_day),
        "earliest_with_order_today": _iso(prospect.first_day_if_ordered_today),
        "allocation_on_earliest": None
        if prospect.first_day is None
        else {material: _lots(takes) for material, takes in prospect.takes_on_first_day.items()},
    }


def _lots(takes: Sequence[Taken]) -> list[dict[str, Any]]:
    return [{"lot": one.supply, "quantity_g": one.amount} for one in takes]


def _iso(day: int | None) -> str | None:
    return None if day is None else date.fromordinal(day).isoformat()
