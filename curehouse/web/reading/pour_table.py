"""What the screen of a pour shows: the step that is next by its rows, or one that was asked for."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType

from django.urls import reverse

from curehouse.common.time import day_words
from curehouse.common.units import from_grams, show_at_least, show_at_most
from curehouse.core.chemistry.at_table import Answer, Why
from curehouse.core.chemistry.words import superfat_words
from curehouse.flows.use_stock import propose
from curehouse.making.formulas.entries import Role
from curehouse.making.models import Pour, PourStep, Run
from curehouse.making.pouring.sheet import LYE
from curehouse.making.pouring.table import Kind, Line, Table
from curehouse.making.pouring.words import MENDABLE, answer_words, water_words, weight_words, when_words, whole_words
from curehouse.web.access import Visit
from curehouse.web.reading.days import Calendar
from inventory.models import Lot, Material

_MOST_LOTS = 20
_TITLES: Mapping[str, str] = MappingProxyType(
    {
        Kind.CAUTION: "Before you begin",
        Kind.DISSOLVED: "Lye into the liquid",
        Kind.LYE_TEMP: "How warm is the lye?",
        Kind.FATS_TEMP: "How warm are the fats?",
        Kind.TRACE: "Lye into the fats",
        Kind.STIRRED: "Stir in at trace",
        Kind.MOULD: "Into the mould",
        Kind.PLACE: "Put it aside",
    }
)
_DONE: Mapping[str, str] = MappingProxyType(
    {
        Kind.CAUTION: "Read by everybody here",
        Kind.DISSOLVED: "All of it is dissolved",
        Kind.LYE_TEMP: "Measured",
        Kind.FATS_TEMP: "Measured",
        Kind.TRACE: "It is at trace",
        Kind.STIRRED: "All is stirred in",
        Kind.MOULD: "It is in the mould",
        Kind.PLACE: "It is put aside",
    }
)
PLACES = ("Open, in the room", "Covered, in the room", "Insulated", "In the fridge", "In the freezer")


@dataclass(frozen=True, slots=True)
class StepRow:
    """A step in the list of all: what was said of it, and where it is looked at again."""

    name: str
    href: str
    is_done: bool
    is_here: bool
    said: str


@dataclass(frozen=True, slots=True)
class SaidRow:
    """What was said of the step that is shown; it can be corrected, or was said by mistake."""

    pk: int
    words: str
    by: str
    href: str


@dataclass(frozen=True, slots=True)
class MendLine:
    """A fat that makes the lye safe: how much of it, and what the whole recipe is with it."""

    words: str
    figures: str
    href: str


@dataclass(frozen=True, slots=True)
class PourScreen:
    """One step a screen. ``kind`` says which: weigh, temp, tick, mend, stop, end; ``figure`` is what is meant, the largest."""

    key: str
    kind: str
    title: str
    number: int
    of: int
    now: str
    done_word: str
    figure: str
    hint: str
    is_kept: bool
    is_lye: bool
    lots: tuple[tuple[str, str], ...]
    lot: str
    scale: str
    verdict: str
    verdict_css: str
    mends: tuple[MendLine, ...]
    steps: tuple[StepRow, ...]
    said: tuple[SaidRow, ...]
    unread: tuple[str, ...]
    can_mend: bool = False
    can_look: bool = False
    water: str = ""
    water_href: str = ""


@dataclass(frozen=True, slots=True)
class Asked:
    """What an address asks for besides the next step: which step, with which lot, mended or corrected."""

    step: str = ""
    lot: Lot | None = None
    is_mend: bool = False
    corrects: int | None = None


def read_screen(visit: Visit, table: Table, asked: Asked) -> PourScreen:
    """Return what the page of a pour under way shows: the step asked for, else what is to be seen to, else the next."""
    key = asked.step if asked.step in table.order else ""
    if not key and table.must_stop:
        return _screen(visit, table, asked, key="", kind="stop", title="Stop")
    if not key and table.wants_fat:
        return _screen(visit, table, asked, key="", kind="mend", title="Before trace only")
    key = key or table.next or ""
    if not key:
        return _screen(visit, table, asked, key="", kind="end", title="All is done")
    if key in table.lines:
        return _screen(visit, table, asked, key=key, kind="weigh", title=table.lines[key].slot.name)
    kind = "temp" if key in (Kind.LYE_TEMP, Kind.FATS_TEMP) else "tick"
    return _screen(visit, table, asked, key=key, kind=kind, title=_TITLES[key])


def _screen(visit: Visit, table: Table, asked: Asked, *, key: str, kind: str, title: str) -> PourScreen:
    line = table.lines.get(key)
    lots = _lots(visit, table, line) if line is not None else []
    lot = _lot_shown(visit, table, line, lots, asked) if line is not None else None
    shown = [*lots, lot] if lot is not None and lot not in lots else lots
    today = Calendar(visit.workshop, visit.at).today
    return PourScreen(
        key=key,
        kind=kind,
        title=title,
        number=table.order.index(key) + 1 if key else len(table.order),
        of=len(table.order),
        now=_now(visit, table, key, line),
        done_word=_DONE.get(key, "Weighed"),
        figure=_figure(visit, table, line, lot, asked),
        hint=_hint(visit, table, key, line),
        is_kept=line is not None and line.slot.material is not None,
        is_lye=line is not None and line.slot.role == LYE,
        lots=tuple((f"{one.pk}", _lot_words(visit, one, today)) for one in shown),
        lot="" if lot is None else f"{lot.pk}",
        scale="" if line is None or line.scale is None else f"{line.scale.pk}",
        verdict=answer_words(table.found) if table.has_lye or table.must_stop else "",
        verdict_css={Answer.SAFE: "leaf", Answer.AS_READ: "ochre"}.get(table.found.answer, "clay"),
        mends=_mends(visit, table),
        steps=_steps(visit, table, key),
        said=_said(visit, table, key),
        unread=table.sheet.unread,
        can_mend=not table.is_past_trace and set(table.found.why) <= MENDABLE,
        can_look=not table.is_past_trace and table.found.why == (Why.UNDISSOLVED,),
        water=(water := _water(visit, table, line, key)),
        water_href=_water_href(table, key) if water else "",
    )


def _lots(visit: Visit, table: Table, line: Line) -> list[Lot]:
    if line.slot.material is None:
        return []
    lots = Lot.objects.within(visit.workshop).filter(material=line.slot.material)
    return list(lots.in_stock().named().first_expired_first()[:_MOST_LOTS])


def _lot_shown(visit: Visit, table: Table, line: Line, lots: list[Lot], asked: Asked) -> Lot | None:
    """Return the lot that is chosen: as asked for, as it was, or the first that is taken by its best-before and in order."""
    if asked.lot is not None:
        return asked.lot
    before = [row.lot for row in line.rows if row.pk == asked.corrects]
    if before:
        return before[0]
    if not lots:
        return None
    material: Material = lots[0].material
    day = Calendar(visit.workshop, visit.at).today
    meant_g = max(line.target_g or Decimal(1), Decimal(1))
    takes = propose(workshop=visit.workshop, material=material, amount=meant_g, day=day).takes
    taken = {row.lot_id for row in line.rows}
    return next((lot for lot, _grams in takes if lot.pk not in taken), takes[0][0] if takes else lots[0])


def _lot_words(visit: Visit, lot: Lot, today) -> str:  # noqa: ANN001  (a day)
    irregular = lot.irregular_on(today)
    said = [f"lot {lot.number}", irregular] if irregular else [f"lot {lot.number}"]
    said += [f"by {day_words(lot.best_before, today=today)}"] if lot.best_before else []
    return ", ".join([*said, show_at_most(lot.on_hand, visit.workshop.unit)])


def _target(table: Table, line: Line, lot: Lot | None, asked: Asked) -> Decimal | None:
    if asked.is_mend:
        grams = [one.add_g for one in table.found.remedies if table.slot_of(one).key == line.slot.key]
        return Decimal(str(min(grams))) if grams else line.target_g
    row = next((row for row in line.rows if row.pk == asked.corrects), None)
    if line.slot.role == LYE:
        left = table.lye_left_g(line.slot, lot)
        return None if left is None else left + (Decimal(0) if row is None else row.amount_g)
    if row is not None:
        others = sum((one.amount_g for one in line.rows if one.pk != row.pk), Decimal(0))
        return max(Decimal(0), (line.slot.target_g or Decimal(0)) - others)
    return line.target_g


def _figure(visit: Visit, table: Table, line: Line | None, lot: Lot | None, asked: Asked) -> str:
    if line is None:
        return ""
    if line.is_done and not line.target_g and not asked.is_mend and asked.corrects is None:
        # A nought would read as none of it: what was weighed, against what was meant.
        return f"{weight_words(line, line.weighed_g, visit.workshop.unit)} weighed"
    grams = _target(table, line, lot, asked)
    return "" if grams is None else weight_words(line, grams, visit.workshop.unit)


_WEIGH: Mapping[str, str] = MappingProxyType(
    {
        Role.FAT: "Weigh it into the pot.",
        Role.ACID: "Weigh it, and dissolve it in the liquid in front before the lye.",
        LYE: "Goggles and gloves on. Weigh it dry, into a dry cup of its own: not into the liquid yet.",
    }
)


def _now(visit: Visit, table: Table, key: str, line: Line | None) -> str:
    """Return what to do now, in a sentence or two."""
    has_milk, unit = table.sheet.has_milk_in_front, visit.workshop.unit
    if line is not None and line.slot.role == Role.LIQUID and not line.slot.is_at_trace:
        milk = "Weigh it frozen, into the jug for the lye, and stand the jug in ice water."
        return milk if line.slot.is_milk else "Weigh it into the jug for the lye."
    if line is not None:
        return _WEIGH.get(line.slot.role, "Weigh it and set it aside: it goes in at trace.")
    lye = ", ".join(show_at_most(one.weighed_g, unit) for one in table.lines.values() if one.slot.role == LYE)
    stirred = [one for one in table.lines.values() if one.slot.is_at_trace and one.weighed_g]
    words: dict[str, str] = {
        Kind.CAUTION: "Read these aloud to everybody who is at the table.",
        Kind.DISSOLVED: (
            f"Lye ({lye}) into the liquid, slowly, never the liquid onto the lye. "
            + ("A little at a time, in ice water, below 30\u00a0°C. " if has_milk else "")
            + "Stir, then strain it and look: undissolved lye hides in what is cloudy."
        ),
        Kind.LYE_TEMP: "Wait until it has come into its band.",
        Kind.FATS_TEMP: "Wait until they have come into their band.",
        Kind.TRACE: "Lye into the fats, and mix until it leaves a trace. From here on nothing can be mended.",
        Kind.STIRRED: "Stir in: " + ", ".join(f"{one.slot.name} {show_at_most(one.weighed_g, unit)}" for one in stirred) + ".",
        Kind.MOULD: "Gloves stay on: fresh soap is still caustic.",
        Kind.PLACE: "Milk heats a batch: into the cold where a gel is unwanted." if has_milk else "Where does it stand now?",
    }
    return words.get(key, "")


def _water(visit: Visit, table: Table, line: Line | None, key: str) -> str:
    """Return what is said, before the lye goes in, where the water in front cannot dissolve it."""
    is_asked = key in (Kind.DISSOLVED, Kind.TRACE) or (line is not None and line.slot.role in (Role.LIQUID, LYE))
    if table.is_past_trace or not is_asked or table.too_little_water is None:
        return ""
    return water_words(table.too_little_water, visit.workshop.unit)


def _water_href(table: Table, key: str) -> str:
    """Return where more of what dissolves the lye is weighed; nothing where one is at it."""
    able = (name for name, line in table.lines.items() if line.slot.dissolving and line.slot.role == Role.LIQUID)
    first = next(able, key)
    return "" if first == key else f"?step={first}"


def _hint(visit: Visit, table: Table, key: str, line: Line | None) -> str:
    if line is not None:
        step = show_at_most(from_grams(line.step_g, "g"), visit.workshop.unit)
        done = show_at_most(line.weighed_g, visit.workshop.unit)
        meant = "" if line.meant_g is None else f", of {weight_words(line, line.meant_g, visit.workshop.unit)} that were meant"
        mend = f", {show_at_most(line.mend_g, visit.workshop.unit)} of it to make the lye safe" if line.mend_g else ""
        already = f"{done} weighed already{mend}{meant}. " if line.rows else ""
        if not line.rows and line.slot.role == LYE and line.target_g == 0 and table.has_lye:
            already = "The other lye is as much as all of it may be: none of this one any more, so type 0. "
        return f"{already}Give or take {step}, a step of the scale; what is further off is asked about."
    if key in (Kind.LYE_TEMP, Kind.FATS_TEMP):
        low, high = table.band(key)
        band = f"below {high}" if low <= 0 else f"{low} to {high}"
        return f"Usually {band}\u00a0°C (common practice, no source)."
    return ""


def _mends(visit: Visit, table: Table) -> tuple[MendLine, ...]:
    if table.is_past_trace or not table.has_lye:
        return ()
    unit, page = visit.workshop.unit, reverse("web:pour", args=[table.pour.pk])
    best = {}
    for one in table.found.remedies:
        best.setdefault(table.slot_of(one).key, one)
    lye_g = sum((line.weighed_g for line in table.lines.values() if line.slot.role == LYE), Decimal(0))
    return tuple(
        MendLine(
            words=f"Add {whole_words(show_at_least(one.add_g, unit))} of {table.lines[key].slot.name}",
            figures=(
                f"Then {whole_words(show_at_least(one.fats_g, unit))} of fats to {show_at_most(lye_g, unit)} of lye, "
                f"superfat at the least {superfat_words(one.superfat.of_fats.low)}, "
                f"at the most {superfat_words(one.superfat.of_fats.high, up=True)}."
            ),
            href=f"{page}?step={key}&mend=1",
        )
        for key, one in best.items()
    )


def name_of(table: Table, key: str) -> str:
    """Return what a step is called."""
    return table.lines[key].slot.name if key in table.lines else _TITLES[key]


def _steps(visit: Visit, table: Table, here: str) -> tuple[StepRow, ...]:
    page = reverse("web:pour", args=[table.pour.pk])
    return tuple(
        StepRow(
            name=name_of(table, key),
            href=f"{page}?step={key}",
            is_done=table.is_done(key),
            is_here=key == here,
            said="; ".join(_step_words(visit, step) for step in _steps_of(table, key)),
        )
        for key in table.order
    )


def said_of_all(visit: Visit, table: Table) -> Iterator[tuple[str, str]]:
    """Yield each step with what was said of it, and by whom, in the order of the table."""
    for key in table.order:
        said = [f"{_step_words(visit, step)} ({_by(visit, step)})" for step in _steps_of(table, key)]
        yield name_of(table, key), "; ".join(said) or "not said"


def _steps_of(table: Table, key: str) -> list[PourStep]:
    if key in table.lines:
        return list(table.lines[key].rows)
    return [step for step in table.steps if step.kind == key]


def _step_words(visit: Visit, step: PourStep) -> str:
    if step.kind == Kind.WEIGHED:
        said = show_at_most(step.amount_g, visit.workshop.unit) if step.amount_g else "left out"
        of = f" of lot {step.lot.number}" if step.lot is not None else ""
        return f"{said}{of}{', let stand' if step.stands else ''}"
    if step.kind in (Kind.LYE_TEMP, Kind.FATS_TEMP):
        return "not measured" if step.celsius is None else f"{step.celsius}\u00a0°C"
    return step.words or "done"


def _by(visit: Visit, step: PourStep) -> str:
    return f"{step.signed_by}, {when_words(step.at, visit.workshop, at=visit.at)}"


def _said(visit: Visit, table: Table, key: str) -> tuple[SaidRow, ...]:
    page = reverse("web:pour", args=[table.pour.pk])
    return tuple(
        SaidRow(
            pk=step.pk,
            words=_step_words(visit, step),
            by=_by(visit, step),
            href=f"{page}?step={key}&corrects={step.pk}",
        )
        for step in (_steps_of(table, key) if key else [])
    )


def notes_of(visit: Visit, table: Table) -> list[str]:
    """Return what was noted besides, with who noted it."""
    kinds = (Kind.NOTE, Kind.DEVIATION, Kind.DOUBT)
    return [
        f"{Kind(step.kind).label.capitalize()}: {step.words} ({_by(visit, step)})" for step in table.steps if step.kind in kinds
    ]


def open_pour_of(visit: Visit, run: Run) -> int | None:
    """Return the key of the pour that is under way of *run*, None where none is."""
    return Pour.objects.within(visit.workshop).under_way().filter(run=run).values_list("pk", flat=True).first()


def under_way(visit: Visit) -> list[Pour]:
    """Return the pours that are at the table now; one query."""
    return list(Pour.objects.within(visit.workshop).under_way())
