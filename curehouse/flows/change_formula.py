"""A formula is written anew; under another name, what is known of its cures is read and learnt anew with it."""

from datetime import datetime

from django.db import transaction

from curehouse.curing.services.forecasts import read_formula_anew
from curehouse.making.formulas.entries import FormulaEntry
from curehouse.making.models import Formula, FormulaVersion
from curehouse.making.services.formulas import lock_formula, write_version
from curehouse.workshops.actors import Actor


@transaction.atomic
def change_formula(
    *, actor: Actor, formula: Formula, entry: FormulaEntry, over: int | None = None, at: datetime
) -> FormulaVersion:
    """Write a formula anew, as `write_version` does; its cures go by its name from now on."""
    name = lock_formula(formula).name
    version = write_version(actor=actor, formula=formula, entry=entry, over=over, at=at)
    if version.formula.name != name:
        read_formula_anew(workshop=actor.workshop, formula=version.formula, at=at)
    return version
