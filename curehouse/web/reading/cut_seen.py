"""What was seen at a batch's cut, and how the cut balances, in words."""

from collections.abc import Iterable
from dataclasses import dataclass

from curehouse.curing.cut_balance import CutBalance, cut_balance
from curehouse.curing.models import Reading
from curehouse.making.models import Batch, CutNote
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.weights import weight
from curehouse.web.reading.words import count


@dataclass(frozen=True, slots=True)
class CutWords:
    """What counts of a cut, what was said before it, and how it balances."""

    now: str
    by: str
    earlier: tuple[str, ...]
    balance: str
    is_off: bool


def read_cut(batch: Batch, readings: Iterable[Reading], calendar: Calendar) -> CutWords:
    """Return what was seen at a cut (two queries at most)."""
    unit = batch.workshop.unit
    rows = list(CutNote.objects.within(batch.workshop).filter(batch=batch).newest_first())
    newest = rows[0] if rows else None
    balance = cut_balance(batch, newest, readings)
    return CutWords(
        now="" if newest is None else seen_words(newest, unit),
        by="" if newest is None else _by(newest, calendar),
        earlier=tuple(f"{seen_words(row, unit)} {_by(row, calendar)}" for row in rows[1:]),
        balance="" if balance is None else _balance_words(balance, unit),
        is_off=balance is not None and balance.is_worth_a_look,
    )


def seen_words(row: CutNote, unit: str) -> str:
    """Return what somebody saw: ``Gel: seen in part. Trimmings: 120 g. The knife dragged.``"""
    gel = f"Gel: {row.get_gel_display() or 'nobody looked'}."
    trim = "not weighed" if row.trim_g is None else "none" if not row.trim_g else weight(row.trim_g, unit)
    return " ".join(one for one in (gel, f"Trimmings: {trim}.", row.note) if one)


def _by(row: CutNote, calendar: Calendar) -> str:
    return f"Said {calendar.moment(row.written_at)} by {row.signed_by}."


def _balance_words(balance: CutBalance, unit: str) -> str:
    poured, cut = round(balance.poured_g, 1), round(balance.cut_g, 1)
    off = round(100 * abs(balance.off), 1)
    apart = "as much" if not off else f"{off} % {'more' if balance.off > 0 else 'less'}"
    bars = f"{count(balance.bars, 'bar')} of {weight(round(balance.mean_g, 1), unit)} in the mean"
    trim = f" and {weight(balance.trim_g, unit)} of trimmings" if balance.trim_g else ""
    said = (
        f"{bars}{trim} come to {weight(cut, unit)} on the day of the cut; fats, lye and liquids were {weight(poured, unit)}: "
        f"{apart}. Scent and other additions are not counted, and some water leaves in the mould."
    )
    if not balance.is_worth_a_look:
        return said
    return f"{said} That is worth a look: bars miscounted, a weight misread, trimmings left out, or another amount poured."
