"""What is said at the table, held to how the pour stands: what is off is asked about before it is written."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from curehouse.common.errors import Conflict, Invalid, NotHere
from curehouse.common.time import local_day
from curehouse.common.units import LARGEST_G, SMALLEST_G
from curehouse.core.chemistry.at_table import Answer, Why
from curehouse.making.formulas.entries import Role
from curehouse.making.models import PourStep
from curehouse.making.pouring.sheet import LYE
from curehouse.making.pouring.table import Kind, Line, Table, doubt_of, is_off, read_table
from curehouse.making.pouring.words import answer_words, low_words, off_words, shown_g, water_words
from curehouse.workshops.models import Scale
from inventory.models import Irregular, Lot, Material
from inventory.services.entries import clean_reason, clean_text
from inventory.solutions import is_dissolved

COLDEST_C, HOTTEST_C = Decimal(-30), Decimal(150)
_LONGEST = 400
_UNDISSOLVED_STAYS = (
    "That lye was seen undissolved is not taken back: stir, strain and look again, and say that all of it is dissolved. "
    "Or stop the pour."
)
_LOOKED_BEFORE_TRACE = (
    "Lye and fats have met, so what was seen of the lye before stays: was some of it undissolved, say that you doubt it."
)
_AFTER_TRACE = "Lye and fats have met, so nothing of them is weighed any more: note it as a deviation, or stop the pour."


@dataclass(frozen=True, slots=True)
class Said:
    """One thing said at the table, under an id that its client made.

    A weighing names its line of the sheet (``slot``), its lot and scale (the line's own where none is named) and grams;
    ``is_part`` says that more of it comes, ``is_mend`` that this fat is added to make the lye safe, ``stands`` that
    a person lets it stand though it is not as meant. ``corrects`` is the key of the step in whose place it comes.
    """

    kind: str
    client_id: UUID
    slot: str = ""
    lot: Lot | None = None
    amount_g: Decimal | None = None
    scale: Scale | None = None
    celsius: Decimal | None = None
    words: str = ""
    stands: bool = False
    is_part: bool = False
    is_mend: bool = False
    corrects: int | None = None


def check_step(table: Table, said: Said, corrects: PourStep | None, *, at: datetime) -> dict[str, Any]:
    """Return the columns of a step that may be written; *table* is how the pour stands without the one it *corrects*.

    Raises ``Invalid`` for what cannot be, ``Conflict`` for what is not its turn, or is asked about first.
    """
    if said.kind not in (Kind.CAUTION, Kind.NOTE, Kind.DOUBT) and table.said(Kind.CAUTION) is None:
        raise Conflict("cautions_first", "Read the cautions first, and say that everybody at the table did.", field="kind")
    if said.kind == Kind.WEIGHED:
        return _weighed(table, said, corrects, at=at)
    if said.kind == Kind.UNSAID:
        return _unsaid(table, said, corrects)
    if corrects is not None and doubt_of(corrects) is Why.UNDISSOLVED:
        raise Conflict("undissolved", _UNDISSOLVED_STAYS, field="corrects")
    if said.kind in (Kind.NOTE, Kind.DEVIATION, Kind.DOUBT):
        return {"words": clean_reason(said.words, ask="Say what it is: whoever reads this later wants to know.", field="words")}
    if said.kind == Kind.TRACE and corrects is not None and any(step.pk > corrects.pk for step in table.steps):
        # Told later, what was changed after trace would count as changed before it.
        raise Conflict("past_trace", "More was said since trace, so it stays as it is: note what was different.", field="kind")
    _check_turn(table, said, corrects)
    words = clean_text(said.words, field="words", what="The note", longest=_LONGEST)
    if said.kind in (Kind.LYE_TEMP, Kind.FATS_TEMP):
        return {"words": words, "celsius": _celsius(table, said), "stands": said.stands}
    return {"words": words}


def _unsaid(table: Table, said: Said, corrects: PourStep | None) -> dict[str, Any]:
    if corrects is not None and doubt_of(corrects) is Why.UNDISSOLVED and not table.is_past_trace:
        raise Conflict("undissolved", _UNDISSOLVED_STAYS, field="corrects")
    if corrects is not None and corrects.kind == Kind.DISSOLVED and table.is_past_trace:
        raise Conflict("past_trace", _LOOKED_BEFORE_TRACE, field="corrects")
    is_reckoned = corrects is not None and corrects.kind == Kind.WEIGHED and table.decides(corrects.slot)
    later = [step for step in table.steps if corrects is not None and step.pk > corrects.pk]
    if table.is_past_trace and corrects is not None and (is_reckoned or corrects.kind == Kind.DOUBT):
        raise Conflict("past_trace", _AFTER_TRACE, field="corrects")
    if corrects is not None and corrects.kind == Kind.TRACE and later:
        said_since = "More was said since trace, so it stays: note it as a deviation, or stop the pour."
        raise Conflict("past_trace", said_since, field="corrects")
    return {"words": clean_reason(said.words, ask="Say why it was said by mistake.", field="words")}


def _check_turn(table: Table, said: Said, corrects: PourStep | None) -> None:
    """Refuse what was said already, and what comes before what it rests on."""
    if said.kind == Kind.DISSOLVED and table.is_past_trace:
        raise Conflict("past_trace", _LOOKED_BEFORE_TRACE, field="kind")
    before = table.told(said.kind)
    if corrects is None and before is not None:
        raise Conflict("said_already", f"{before.signed_by} said this already: go on with the next step.", field="kind")
    if said.kind == Kind.CAUTION:
        return
    # Lye that was seen undissolved is settled by another look, and by nothing else.
    found = table.found_if_dissolved if said.kind == Kind.DISSOLVED else table.found
    if found.answer is Answer.STOP and table.must_stop or found.answer is Answer.ADD_FAT and table.has_lye:
        raise Conflict("not_safe", f"{answer_words(found)} See to that first.", field="kind")
    decides = [line for line in table.not_weighed if table.decides(line.slot.key)]
    is_after_weighing = said.kind in (Kind.DISSOLVED, Kind.TRACE, Kind.STIRRED, Kind.MOULD, Kind.PLACE)
    if is_after_weighing and decides:
        names = ", ".join(line.slot.name for line in decides)
        raise Conflict("not_weighed", f"Not weighed yet: {names}. Nobody knows what the lye does before that.", field="kind")
    if said.kind in (Kind.DISSOLVED, Kind.TRACE) and table.too_little_water is not None:
        raise Conflict("little_water", water_words(table.too_little_water, table.pour.workshop.unit), field="kind")
    if said.kind == Kind.TRACE and table.looked is None:
        again = "" if table.said(Kind.DISSOLVED) is None else " again: it was weighed, or seen undissolved, since"
        raise Conflict("not_dissolved", f"Look first whether all of the lye is dissolved{again}, and say so.", field="kind")
    if said.kind in (Kind.STIRRED, Kind.MOULD, Kind.PLACE) and not table.is_past_trace:
        raise Conflict("not_traced", "Say first that it has come to trace.", field="kind")


def _celsius(table: Table, said: Said) -> Decimal | None:
    if said.celsius is None:
        return None
    if not said.celsius.is_finite() or not COLDEST_C <= said.celsius <= HOTTEST_C:
        raise Invalid("celsius", f"A temperature lies between {COLDEST_C} and {HOTTEST_C}\u00a0°C.", field="celsius")
    celsius = round(said.celsius, 1)
    low, high = table.band(said.kind)
    if not low <= celsius <= high and not said.stands:
        usual = f"below {high}" if low <= 0 else f"{low} to {high}"
        raise Conflict(
            "off_band",
            f"{celsius}\u00a0°C is outside of what is usual here, {usual}\u00a0°C (common practice, no source): "
            "wait and measure again, or let it stand.",
            field="celsius",
        )
    return celsius


def _weighed(table: Table, said: Said, corrects: PourStep | None, *, at: datetime) -> dict[str, Any]:
    line = table.lines.get(said.slot)
    if line is None:
        raise NotHere("not_here", "There is no such line on the sheet of this pour.", field="slot")
    if table.is_past_trace and corrects is None and table.decides(said.slot):
        raise Conflict("past_trace", _AFTER_TRACE, field="slot")
    scale = _scale(table, said, line)
    lot = _lot(table, said, line)
    amount_g = _amount(table, said, line)
    is_mend = said.is_mend or (corrects is not None and corrects.is_mend)
    step_g = line.step_g if scale is None else scale.step_g
    target_g = _target_g(table, said, line, lot, is_mend=is_mend)
    values = {
        "slot": said.slot, "lot": lot, "amount_g": amount_g, "target_g": target_g or Decimal(0), "scale": scale,
        "step_g": step_g, "stands": said.stands, "is_mend": is_mend, "words": _why_irregular(table, said, lot, at=at),
    }  # fmt: skip
    if said.stands:
        return values
    if target_g is None:
        which = "its lot" if lot is None else f"{lot}"
        asked = f"How strong {which} is, is not known: type the figure of its certificate, or choose another lot."
        raise Conflict("no_purity", asked, field="lot")
    if lot is not None and line.slot.material is not None and lot.material_id != line.slot.material:
        asked = f"{lot} is not the {line.slot.name} of this formula: choose another lot, or let it stand."
        raise Conflict("other_material", asked, field="lot")
    if line.slot.role == Role.ACID and line.slot.material is not None and lot is None and amount_g > 0:
        asked = (
            f"No lot is named, so nobody can tell that it is {line.slot.name}: it is not counted on, and less lye is meant. "
            "Choose its lot, or let it stand."
        )
        raise Conflict("no_lot", asked, field="lot")
    is_rest_to_come = said.is_part and amount_g < target_g
    is_as_shown = not is_off(amount_g, shown_g(line, target_g, table.pour.workshop.unit), step_g)
    if is_off(amount_g, target_g, step_g) and not is_as_shown and not is_rest_to_come:
        raise _off_target(table, line, PourStep(pour=table.pour, kind=Kind.WEIGHED, **values), corrects)
    return values


def _off_target(table: Table, line: Line, row: PourStep, corrects: PourStep | None) -> Conflict:
    says = off_words(line, row.amount_g, row.target_g, table.pour.workshop.unit)
    data: dict[str, Any] = {
        "target_g": f"{row.target_g}",
        "amount_g": f"{row.amount_g}",
        "is_over": row.amount_g > row.target_g,
    }
    if table.decides(line.slot.key) or line.slot.role == Role.LIQUID:
        # What would be, were it written: no row of the house has this key.
        would = read_table(table.pour, [*table.steps, _as_row(row)])
        if table.decides(line.slot.key):
            found = would.found
            data["answer"] = found.answer.value
            says = f"{says} {answer_words(found)}" if would.has_lye else f"{says} {low_words(found)}"
        if would.too_little_water is not None:
            says = f"{says} {water_words(would.too_little_water, table.pour.workshop.unit)}"
    if corrects is None and row.amount_g > row.target_g and not table.is_past_trace:
        says += " If some can still be taken out, take it out and weigh again."
    return Conflict("off_target", f"{says} Does it stand?", field="amount_g", **data)


def _as_row(row: PourStep) -> PourStep:
    row.pk, row.stands = -1, True
    return row


def _amount(table: Table, said: Said, line: Line) -> Decimal:
    if said.amount_g is None:
        raise Invalid("missing", f"Type what the scale shows for {line.slot.name}.", field="amount_g")
    if not said.amount_g.is_finite() or not 0 <= said.amount_g <= LARGEST_G:
        raise Invalid("mass", f"{line.slot.name}: a weight is 0 or more, and at most a tonne.", field="amount_g")
    amount_g = said.amount_g.quantize(SMALLEST_G)
    if amount_g == 0 and line.slot.role == LYE and not any(row.amount_g > 0 for one in table.lyes for row in table.rows(one)):
        raise Invalid("mass", "Without lye it is no soap: weigh it, or stop the pour.", field="amount_g")
    return amount_g


def _target_g(table: Table, said: Said, line: Line, lot: Lot | None, *, is_mend: bool) -> Decimal | None:
    if line.slot.role == LYE:
        return table.lye_left_g(line.slot, lot)
    if not is_mend:
        return line.target_g
    remedies = [one for one in table.found.remedies if table.slot_of(one).key == said.slot] if table.has_lye else []
    if not remedies and not said.is_mend:
        # What was added is told otherwise, and no more of it is wanted now.
        return Decimal(0)
    if not remedies:
        raise Conflict("no_remedy", "This fat does not make the lye safe: look at the pour again.", field="slot")
    return Decimal(str(min(one.add_g for one in remedies))).quantize(SMALLEST_G)


def _scale(table: Table, said: Said, line: Line) -> Scale | None:
    if said.scale is None:
        return line.scale
    if said.scale.pk not in {scale.pk for scale in table.scales}:
        raise NotHere("not_here", "There is no such scale in use in this workshop.", field="scale")
    return said.scale


def _lot(table: Table, said: Said, line: Line) -> Lot | None:
    lot = said.lot
    if lot is None:
        return None
    if lot.workshop_id != table.pour.workshop_id:
        raise NotHere("not_here", "There is no such lot in this workshop.", field="lot")
    if lot.material.measure != Material.Measure.GRAMS or (lot.material.kind == Material.Kind.LYE) != (line.slot.role == LYE):
        raise Invalid("lot", f"{lot} cannot be {line.slot.name}: choose a lot of it, or note what went in.", field="lot")
    if line.slot.role == Role.ACID and lot.material_id != line.slot.material:
        # What takes no lye in the place of an acid leaves all of that lye in the bars.
        raise Invalid("lot", f"{lot} cannot be {line.slot.name}: leave the acid out, weighed as 0, and note it.", field="lot")
    if line.slot.role == LYE and is_dissolved(lot):
        # Its water would have to be left out in front, which is weighed before the lye.
        said_so = (
            f"{lot} is lye that was dissolved beforehand: at the table dry lye is weighed. Choose a lot of dry lye, or stop "
            "this pour and enter its batch by the formula's weighing sheet, which says how much water to leave out."
        )
        raise Invalid("dissolved", said_so, field="lot")
    if line.slot.role == Role.FAT and lot.material.kind != Material.Kind.FAT:
        raise Invalid("lot", f"{lot} is no fat: choose a lot of {line.slot.name}.", field="lot")
    return lot


def _why_irregular(table: Table, said: Said, lot: Lot | None, *, at: datetime) -> str:
    """Return what is said of a weighing; of a lot that is not in order it must say why."""
    irregular = "" if lot is None else lot.irregular_on(local_day(at, table.pour.workshop.time_zone))
    if not irregular:
        return clean_text(said.words, field="words", what="The note", longest=_LONGEST)
    ask = f"{lot} is {Irregular(irregular).label}: choose another, or say why it is used all the same."
    return clean_reason(said.words, ask=ask, field="words")
