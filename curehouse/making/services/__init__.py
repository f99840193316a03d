"""The only writers of formulas, batches and what went into them."""

from curehouse.making.services.batches import (
    LONGEST_NOTE,
    METHOD_REMEDY,
    MOST_BARS,
    VALUE_REMEDY,
    BatchEntry,
    LiquidEntry,
    TakeOutEntry,
    computed_water_share,
    cut_batch,
    formula_called,
    last_check_passed,
    lock_batch,
    lock_batches,
    record_check,
    take_out,
    write_batch,
)
from curehouse.making.services.brought import BatchTook, BroughtBatch, bring_batch_uses, bring_batches
from curehouse.making.services.cut_notes import LONGEST_CUT_NOTE, CutSeen, note_cut
from curehouse.making.services.uses import hold_batch, lift_hold, record_use

__all__ = [
    "LONGEST_CUT_NOTE",
    "LONGEST_NOTE",
    "VALUE_REMEDY",
    "METHOD_REMEDY",
    "MOST_BARS",
    "BatchEntry",
    "BatchTook",
    "BroughtBatch",
    "CutSeen",
    "LiquidEntry",
    "TakeOutEntry",
    "bring_batch_uses",
    "bring_batches",
    "computed_water_share",
    "cut_batch",
    "formula_called",
    "last_check_passed",
    "hold_batch",
    "lift_hold",
    "lock_batch",
    "lock_batches",
    "note_cut",
    "record_check",
    "record_use",
    "take_out",
    "write_batch",
]
