"""Formulas and batches: what is to go in, what was poured, how many bars it gave, and what became of them."""

from curehouse.making.models.batches import (
    Batch,
    BatchHold,
    BatchHoldLift,
    BatchLiquid,
    BatchUse,
    SafetyCheck,
    TakeOut,
)
from curehouse.making.models.cuts import CutNote
from curehouse.making.models.facts import MaterialFacts
from curehouse.making.models.formulas import Formula, FormulaLine, FormulaVersion
from curehouse.making.models.pours import Pour, PourStep
from curehouse.making.models.runs import Reservation, Run, RunChange, Unasked

__all__ = [
    "Batch",
    "BatchHold",
    "BatchHoldLift",
    "BatchLiquid",
    "BatchUse",
    "CutNote",
    "Formula",
    "FormulaLine",
    "FormulaVersion",
    "MaterialFacts",
    "Pour",
    "PourStep",
    "Reservation",
    "Run",
    "RunChange",
    "Unasked",
    "SafetyCheck",
    "TakeOut",
]
