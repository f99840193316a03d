"""The lot of lye dissolved beforehand that a run was promised stays its own, whatever becomes of other runs."""

from datetime import datetime

from curehouse.core.stock.stand_ins import settle
from curehouse.flows.check_run import planned_sharers
from curehouse.flows.reserved import run_key
from curehouse.making.models import Reservation, Run
from inventory.adapter import lot_key


def keep_chosen_lots(*, run: Run, at: datetime) -> None:
    """Note what a run (locked, its needs reserved) takes in the place of dry lye: what it has already, as long as it can."""
    found = planned_sharers(run.workshop, at, of=run)
    settled = settle(found.here.room.stand_ins, found.here.room.lots, found.runs)
    lots = {lot_key(lot): lot for lot in found.lots}
    chosen = {int(one.instead.material): lots[one.lot] for one in settled.chosen.get(run_key(run), ())}
    for row in Reservation.objects.within(run.workshop).filter(run=run).order_by("pk"):
        lot = chosen.get(row.material_id)
        if row.stands_in_id != (lot and lot.pk):
            row.stands_in = lot
            row.save(update_fields=["stands_in"])
