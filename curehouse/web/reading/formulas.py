"""What the pages of formulas show: what to weigh, what it will be, and what was found about it."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.core.paginator import Page, Paginator
from django.urls import reverse
from django.utils.safestring import SafeString

from curehouse.common.units import show_at_least, show_mass
from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.chemistry.bounds import Bounds
from curehouse.core.chemistry.fatty_acids import GROUP_WORDS, Groups, grouped
from curehouse.core.chemistry.finding import Finding, Level
from curehouse.core.chemistry.findings import Judged
from curehouse.core.chemistry.formula import Figures
from curehouse.core.chemistry.liquids import LiquidKind, Place
from curehouse.core.chemistry.lye import LyeAmount
from curehouse.core.chemistry.words import superfat_words
from curehouse.making.formulas.adapter import Planned
from curehouse.making.formulas.costs import cost_of
from curehouse.making.formulas.entries import GoesIn, Role
from curehouse.making.formulas.settings import Setting
from curehouse.making.formulas.sizes import ScaleCan
from curehouse.making.models import Batch, Formula, FormulaVersion
from curehouse.making.services.formulas import told_in, unread_values
from curehouse.web.access import Visit
from curehouse.web.drawing.liquid_split import LiquidSplit, Part, draw_for_any_screen
from curehouse.web.marks import Mark, mark_of
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.formula_lots import lye_note, weigh_note
from curehouse.web.reading.formula_values import CountedLine, counted_lines
from curehouse.web.reading.made_before import MadeBefore, dissolved_note, dissolved_said, lye_weight, made_before, made_note
from curehouse.web.reading.weights import step, weight, weight_at_least
from curehouse.web.reading.words import count
from curehouse.workshops.roles import Right

PAGE_OF_FORMULAS = 40
_MOST_BATCHES = 12
# Below it a setting has a low end under 0 on published figures (common practice sets 2 % at the least).
_LOW_SETTING = 0.02
ALKALI_WORDS = {Alkali.NAOH: "sodium hydroxide (NaOH)", Alkali.KOH: "potassium hydroxide (KOH)"}
_LEVEL_MARKS = {"refusal": "refused", "warning": "warned", "note": "noted"}


def percent(share: float) -> str:
    """Return a share as people read it: ``4.9 %``."""
    return f"{share * 100:.1f}".removesuffix(".0").replace("-", "−") + "\u00a0%"


def ends(bounds: Bounds) -> str:
    """Return the ends of a share: ``20.9 to 21.3 %``."""
    return _from_to(percent(bounds.low), percent(bounds.high), "\u00a0%")


def superfat_ends(bounds: Bounds) -> str:
    """Return the ends of a superfat, neither better than it is: ``1.2 to 8.8 %``."""
    return _from_to(superfat_words(bounds.low), superfat_words(bounds.high, up=True), "\u00a0%")


def masses(bounds: Bounds, unit: str) -> str:
    """Return the ends of a mass: ``1100.2 to 1180.9 g``."""
    return _from_to(show_mass(bounds.low, unit), show_mass(bounds.high, unit), f" {unit}")


def _from_to(low: str, high: str, unit: str) -> str:
    return low if low == high else f"{low.removesuffix(unit)} to {high}"


def setting_said(one: Setting) -> str:
    """Return in words which superfat to set for the one that is wanted with the milk's fat."""
    wanted = percent(one.effective)
    if not one.may_be_poured:
        return (
            f"No setting brings {wanted}: the milk’s fat alone brings more. With less milk fat, or a higher wanted figure, "
            "there is one; below 0 nothing may be poured."
        )
    said = f"For {wanted} with the milk’s fat set a superfat of {one.setting * 100:.2f}\u00a0% over the fats alone."
    if one.finding is not None:
        low = superfat_words(float(one.finding.figures["low_share"]))
        return (
            f"{said} May be caustic: the superfat of the fats may then really be as low as {low}. "
            "It takes certificates and the alkalinity check."
        )
    near = " So near to 0 it takes certificates and the alkalinity check." if one.setting < _LOW_SETTING else ""
    return f"{said}{near}"


@dataclass(frozen=True, slots=True)
class WeighLine:
    """One thing to weigh: its name, how much, and what is said beside it."""

    name: str
    amount: str
    share: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class WeighGroup:
    """Lines that go in together."""

    heading: str
    lines: list[WeighLine]
    is_lye: bool = False


@dataclass(frozen=True, slots=True)
class Told:
    """A finding in words, with its mark."""

    tag: Mark
    says: str
    remedy: str


@dataclass(frozen=True, slots=True)
class GroupLine:
    """A physical group of fatty acids and its share."""

    name: str
    share: str


@dataclass(frozen=True, slots=True)
class FormulaView:
    """A formula worked out, as its page shows it."""

    groups: list[WeighGroup]
    in_place: list[str]
    figures: list[tuple[str, str, str]]
    to_read: list[Told]
    notes: list[Told]
    fatty_acids: list[GroupLine]
    fatty_acids_of: str
    is_refused: bool
    is_unread: bool
    smallest: str
    split: SafeString | str
    counted: list[CountedLine]


def findings_told(findings: Sequence[Finding], unit: str) -> list[Told]:
    """Return findings in words, the gravest first."""
    said = [(finding, told_in(finding, unit)) for finding in findings]
    return [Told(mark_of(_LEVEL_MARKS[finding.level.value]), words.says, words.remedy) for finding, words in said]


def read_planned(one: Planned, found: Judged, visit: Visit, *, in_own_size: bool = False) -> FormulaView:
    """Return a plan as its page shows it; what it costs only to who may know."""
    unit = visit.workshop.unit
    figures = found.figures
    grave = [finding for finding in found.findings if finding.level is not Level.NOTE]
    light = [finding for finding in found.findings if finding.level is Level.NOTE]
    known = grouped(one.profiles)
    is_unread = bool(unread_values(found, one.entry.confirmed))
    # What must not be poured is not weighed out, nor by a value that nobody read yet.
    lye = () if figures is None or found.is_refused or is_unread else figures.lye
    before = made_before(visit, one, lye)
    return FormulaView(
        groups=_weigh_groups(one, lye, before, unit, in_own_size=in_own_size),
        in_place=dissolved_said(before, one, unit),
        figures=[] if figures is None else [*_figures(figures, unit), *_cost(one, figures, visit)],
        to_read=findings_told(grave, unit),
        notes=findings_told(light, unit),
        fatty_acids=[GroupLine(GROUP_WORDS[each.group], percent(each.share)) for each in known.shares],
        fatty_acids_of=_known_part(known),
        is_refused=found.is_refused,
        is_unread=is_unread,
        smallest="" if figures is None else _smallest(figures, unit),
        split="" if figures is None else draw_for_any_screen(_split(one, figures, unit)),
        counted=counted_lines(one),
    )


def _cost(one: Planned, figures: Figures, visit: Visit) -> list[tuple[str, str, str]]:
    cost = cost_of(one, figures) if visit.may(Right.SEE_COSTS) else None
    if cost is None:
        return []
    beside = f"without {', '.join(cost.unknown)}" if cost.unknown else "by the lots it takes"
    return [("what goes in costs", f"{cost.total} {visit.workshop.currency}", beside)]


def _known_part(known: Groups) -> str:
    return "" if known.known > 0.9995 else f"of {percent(known.known)} of the fats; of the others they are not known"


def _smallest(figures: Figures, unit: str) -> str:
    steady = show_at_least(figures.smallest.steady_fats_g, unit)
    if figures.smallest.safe_fats_g is None:
        return (
            "No scale makes this formula safe at its low end: that takes certificates or a higher superfat. "
            f"From {steady} of fats on the scale itself takes less than half a point."
        )
    safe = show_at_least(figures.smallest.safe_fats_g, unit)
    return (
        f"On these scales make it with {safe} of fats or more; with less the low end of its superfat falls below 0. "
        f"From {steady} on the scale takes less than half a point."
    )


def _split(one: Planned, figures: Figures, unit: str) -> LiquidSplit:
    def parts(place: Place) -> tuple[Part, ...]:
        return tuple(
            Part(each.name, each.mass_g, show_mass(each.mass_g, unit), each.made_of.water.middle)
            for each in one.formula.liquids
            if each.place is place and each.kind is not LiquidKind.POWDER
        )

    return LiquidSplit(
        front=parts(Place.FRONT),
        trace=parts(Place.TRACE),
        front_shown=show_mass(figures.front_g, unit),
        trace_shown=show_mass(figures.trace_g, unit),
        total=f"{show_mass(figures.liquid_g, unit)}, {_of_fats(figures, unit)}",
    )


def _of_fats(figures: Figures, unit: str) -> str:
    """Return which part of the fats the total liquid is, and how much of it the acids bring."""
    brought = f", {show_mass(figures.acids_water_g, unit)} of it the acids’ water" if figures.acids_water_g else ""
    return f"{percent(figures.liquid_share)} of the fats{brought}"


def fats_of(one: Planned) -> Decimal:
    """Return the fats of a plan in grams."""
    return sum((mass for line, mass in zip(one.entry.lines, one.masses_g, strict=True) if line.role == Role.FAT), Decimal(0))


@dataclass(frozen=True, slots=True)
class ScaleLine:
    """From how much fat on one scale can do a formula."""

    name: str
    step: str
    safe: str
    steady: str


def scale_lines(found: Sequence[ScaleCan], unit: str) -> list[ScaleLine]:
    """Return what each scale can do."""
    return [
        ScaleLine(
            one.scale.name,
            step(one.scale, unit),
            "with none: it takes certificates" if one.safe_g is None else f"{show_at_least(one.safe_g, unit)} of fats",
            f"{show_at_least(one.steady_g, unit)} of fats",
        )
        for one in found
    ]


# With less of these than the lye was worked out for, it would be too much.
_TAKES_LYE = (Role.FAT, Role.ACID)


def _weigh_groups(
    one: Planned, amounts: Sequence[LyeAmount], before: MadeBefore, unit: str, *, in_own_size: bool
) -> list[WeighGroup]:
    pairs = list(zip(one.entry.lines, one.masses_g, strict=True))
    fats_g = fats_of(one)

    def lines(*roles: str, goes_in: str = "") -> list[WeighLine]:
        return [
            WeighLine(
                line.name,
                (weight_at_least if line.role in _TAKES_LYE else weight)(mass, unit),
                percent(float(mass / fats_g)),
                made_note(before, one, line, mass, unit) or weigh_note(one, line, mass, unit, in_own_size=in_own_size),
            )
            for line, mass in pairs
            if line.role in roles and line.goes_in == goes_in
        ]

    lye = [_lye_line(amount, unit, one) for amount in amounts]
    lye += [
        WeighLine(f"or {found.lot}", "–" if found.why_not else lye_weight(found.weigh_g, unit), "", dissolved_note(found))
        for found in before.lye
    ]
    groups = [
        WeighGroup("Fats", lines(Role.FAT)),
        WeighGroup("Lye", lye, is_lye=True),
        WeighGroup("In front, with the lye", lines(Role.LIQUID, goes_in=GoesIn.FRONT)),
        WeighGroup("At trace", lines(Role.LIQUID, goes_in=GoesIn.TRACE)),
        WeighGroup("Acids", lines(Role.ACID)),
        WeighGroup("Fragrance, colour and other additions", lines(Role.FRAGRANCE, Role.COLOUR, Role.ADDITIVE)),
    ]
    return [group for group in groups if group.lines]


def _lye_line(amount: LyeAmount, unit: str, one: Planned) -> WeighLine:
    return WeighLine(ALKALI_WORDS[amount.alkali], lye_weight(amount.weigh_g, unit), note=lye_note(amount, one, unit))


def _figures(figures: Figures, unit: str) -> list[tuple[str, str, str]]:
    """Return the figures of the whole: what it is, how much, and between what ends or of what."""
    superfat = figures.superfat
    shown = [
        ("superfat", superfat_words(superfat.of_fats.middle), f"may be {superfat_ends(superfat.of_fats)}"),
        ("total liquid", show_mass(figures.liquid_g, unit), _of_fats(figures, unit)),
        ("water in the fresh bar", percent(figures.water_share.middle), f"{ends(figures.water_share)}"),
        ("water that must dry out", show_mass(figures.free_water_g.middle, unit), masses(figures.free_water_g, unit)),
        ("the whole batch, fresh", show_mass(figures.batch_g.middle, unit), masses(figures.batch_g, unit)),
        ("the whole batch, dry", show_mass(figures.dry_g.middle, unit), masses(figures.dry_g, unit)),
    ]
    if figures.milk_g > 0:
        effective = superfat.effective
        shown[1:1] = [("with the milk’s fat", superfat_words(effective.middle), f"may be {superfat_ends(effective)}")]
        shown[3:3] = [("milk", percent(figures.milk_share), "of the liquid")]
    return shown


@dataclass(frozen=True, slots=True)
class FormulaLineOfList:
    """A formula as a line of the list."""

    name: str
    href: str
    note: str


def formula_page(visit: Visit, *, search: str, number: str | None) -> tuple[Page, list[FormulaLineOfList]]:
    """Return a page of the workshop's formulas, by name."""
    found = Formula.objects.within(visit.workshop).matching(search).with_newest_version().in_use_first()
    page = Paginator(found, PAGE_OF_FORMULAS).get_page(number)
    versions = FormulaVersion.objects.within(visit.workshop).in_bulk([row.newest_version for row in page if row.newest_version])
    return page, [_line_of_list(row, versions.get(row.newest_version), visit.workshop.unit) for row in page]


def _line_of_list(row: Formula, version: FormulaVersion | None, unit: str) -> FormulaLineOfList:
    poured = count(row.batch_count, "batch", "batches") if row.batch_count else "not poured yet"
    if version is None:
        said = "no lines yet"
    else:
        superfat = superfat_words(float(version.superfat))
        said = f"version {version.number}, {superfat} superfat, {weight(version.fats_g, unit)} of fats"
    retired = "out of use; " if row.retired_at else ""
    return FormulaLineOfList(row.name, reverse("web:formula", args=[row.pk]), f"{retired}{said}; {poured}")


@dataclass(frozen=True, slots=True)
class VersionLine:
    """A version in the list of a formula's versions."""

    name: str
    href: str
    said: str
    is_shown: bool


def version_lines(visit: Visit, formula: Formula, shown: FormulaVersion) -> list[VersionLine]:
    """Return the versions of a formula that are in force, the newest first."""
    calendar = Calendar(visit.workshop, visit.at)
    versions = FormulaVersion.objects.within(visit.workshop).filter(formula=formula).in_force().with_batches().newest_first()
    return [
        VersionLine(
            f"Version {version.number}",
            reverse("web:formula_version", args=[version.pk]),
            f"{calendar.day(version.written_at)}, {'poured' if version.is_poured else 'not poured yet'}",
            version.pk == shown.pk,
        )
        for version in versions
    ]


@dataclass(frozen=True, slots=True)
class PouredLine:
    """A batch in the list of a formula's batches."""

    name: str
    href: str
    said: str


def batches_of(visit: Visit, formula: Formula) -> list[PouredLine]:
    """Return the newest batches of a formula."""
    calendar = Calendar(visit.workshop, visit.at)
    found = Batch.objects.within(visit.workshop).filter(formula=formula).select_related("formula", "version").newest_first()
    return [
        PouredLine(
            str(batch),
            reverse("web:batch", args=[batch.pk]),
            f"{calendar.day(batch.poured_at)}, {_from_version(batch)}",
        )
        for batch in found[:_MOST_BATCHES]
    ]


def _from_version(batch: Batch) -> str:
    return "entered by hand" if batch.version is None else f"from version {batch.version.number}"
