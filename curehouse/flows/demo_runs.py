"""The demo's planned runs: what is to be poured next, one of them moved, one called off. All invented."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from decimal import Decimal

from curehouse.common.time import local_day
from curehouse.making.formulas.reading import newest_version
from curehouse.making.models import FormulaVersion, Run
from curehouse.making.services.runs import call_off_run, move_run, plan_run
from curehouse.workshops.actors import Actor

# The formula, in how many days, grams of oils, how many days ago it was announced, and the note.
_PLANNED = (
    ("Sheep's milk plain", 3, 2064, 12, ""),
    ("Harbour charcoal", 6, 2208, 9, "For the quay market."),
    ("Goat & oat", 10, 4080, 15, "Both moulds."),
    ("Old olive", 24, 2280, 20, ""),
    ("Goat & oat", 31, 6120, 4, "For the end of the year."),
)
_MOVED = ("Harbour charcoal", 13, "the charcoal is still on its way")
_CALLED_OFF = ("Old olive", "olives first: the new oil comes in a month")


def plan_runs(*, actor: Actor, versions: Mapping[str, FormulaVersion], at: datetime) -> list[Run]:
    """Plan what is poured next, by each formula as it is in force."""
    today = local_day(at, actor.workshop.time_zone)
    runs = []
    for name, days, fats_g, announced, note in _PLANNED:
        version = newest_version(versions[name].formula)
        if version is None:
            continue
        # As of its announcement, but by the formula of today: what was poured since stays as it was.
        run = plan_run(
            actor=actor,
            version=version,
            fats_g=Decimal(fats_g),
            pour_on=today + timedelta(days=days),
            note=note,
            at=at - timedelta(days=announced),
        )
        runs.append(run)
    moved, called_off = (next(run for run in runs if run.formula.name == name) for name in (_MOVED[0], _CALLED_OFF[0]))
    soon = at - timedelta(days=1)
    move_run(actor=actor, run=moved, pour_on=today + timedelta(days=_MOVED[1]), why=_MOVED[2], at=soon)
    call_off_run(actor=actor, run=called_off, why=_CALLED_OFF[1], at=soon)
    return runs
