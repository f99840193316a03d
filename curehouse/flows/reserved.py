"""What is reserved for runs, as the core takes it."""

from collections.abc import Collection
from datetime import date

from curehouse.core.stock import storeroom as core
from curehouse.making.models import Reservation, Run
from curehouse.workshops.models import Workshop
from inventory.adapter import key_of_lot


def run_key(run: Run) -> str:
    """Return what a planned run is called in the core."""
    return f"run {run.pk}"


def reserved_runs(workshop: Workshop, today: date, materials: Collection[int] | None = None) -> dict[str, tuple[Run, core.Run]]:
    """Return by their keys the runs of which something is still to be taken, of all or of some *materials*; one query.

    In the order of their turns: what was poured is gone, though nobody booked it yet; then who was announced first.
    """
    needs: dict[int, dict[str, float]] = {}
    water_g: dict[int, dict[str, float]] = {}
    keeps: dict[int, dict[str, str]] = {}
    runs: dict[int, Run] = {}
    rows = Reservation.objects.within(workshop)
    for row in (rows if materials is None else rows.filter(material__in=materials)).standing():
        runs[row.run_id] = row.run
        needs.setdefault(row.run_id, {})[str(row.material_id)] = float(row.amount_g)
        water_g.setdefault(row.run_id, {})[str(row.material_id)] = float(row.water_g)
        if row.stands_in_id is not None:
            keeps.setdefault(row.run_id, {})[str(row.material_id)] = key_of_lot(row.stands_in_id)
    announced = sorted(runs.values(), key=lambda run: (run.state == Run.State.PLANNED, run.announced_on, run.pk))
    return {
        run_key(run): (
            run,
            core.Run(
                key=run_key(run),
                day=max(run.pour_on, today).toordinal(),
                needs=needs[run.pk],
                turn=turn,
                water_g=water_g[run.pk],
                keeps=keeps.get(run.pk, {}),
            ),
        )
        for turn, run in enumerate(announced)
    }
