"""The only writer of formulas with their versions and lines."""

import logging
from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from curehouse.common.constraints import answered
from curehouse.common.errors import Conflict, Invalid
from curehouse.common.locking import lock_rows
from curehouse.common.time import local_day
from curehouse.common.units import OUNCE, show_mass
from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.chemistry.finding import Finding, Level
from curehouse.core.chemistry.findings import Judged, judge
from curehouse.core.chemistry.superfat import TooSmall
from curehouse.core.chemistry.words import Words, told
from curehouse.making.formulas.adapter import Planned, planned
from curehouse.making.formulas.called import row_in_words, rows_of_all
from curehouse.making.formulas.cleaning import cleaned
from curehouse.making.formulas.entries import FormulaEntry, LineEntry, line_values
from curehouse.making.formulas.known import Known, known_of
from curehouse.making.formulas.masses import field_of
from curehouse.making.formulas.names import alkali_by_name, is_called_lye
from curehouse.making.formulas.reading import kept
from curehouse.making.models import Formula, FormulaLine, FormulaVersion, Pour
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Scale, Workshop
from curehouse.workshops.services import clean_name
from inventory.blends import holds_lye, recipes_of, was_made
from inventory.services.entries import clean_note

logger = logging.getLogger(__name__)

# The lines whose lye or water is worked out from what they are; what is mixed beforehand is none of these.
RECKONED_ROLES = (FormulaLine.Role.FAT, FormulaLine.Role.LIQUID, FormulaLine.Role.ACID)


def plan(*, workshop: Workshop, entry: FormulaEntry, at: datetime) -> Planned:
    """Return *entry* as the core takes it, with what the house knows of its materials on that day; or say what is wrong."""
    materials = [*(line.material for line in entry.lines), entry.naoh_from, entry.koh_from]
    known = known_of(workshop=workshop, materials=materials, on=local_day(at, workshop.time_zone))
    scales = list(Scale.objects.within(workshop).in_use())
    return planned(cleaned(entry, known), known, unit=workshop.unit, scales=scales)


def judged(one: Planned) -> Judged:
    """Return figures and findings of a plan; fats that no scale can tell from nothing are answered in words."""
    try:
        return judge(one.formula)
    except TooSmall as error:
        raise Invalid(
            "too_small", "These fats are too little for the scale: make a larger batch, or choose a finer scale.", field="fats"
        ) from error
    except ValueError as error:
        said = "These figures cannot be worked out together: check the masses, purities and shares that are typed."
        raise Invalid("not_worked_out", said) from error


def told_in(finding: Finding, unit: str) -> Words:
    """Return what a finding says and its remedy, with its masses in *unit*."""
    return told(finding, lambda grams: show_mass(grams, unit, decimals=3 if unit == OUNCE else None))


def _sentence(finding: Finding, unit: str) -> str:
    words = told_in(finding, unit)
    return f"{words.says} {words.remedy}"


def _hold_to(found: Judged, entry: FormulaEntry, unit: str) -> list[str]:
    """Refuse what must not be poured, and what nobody said they read; return what was confirmed, with its figures."""
    refused = [finding for finding in found.findings if finding.level is Level.REFUSAL]
    if refused:
        said = " ".join(_sentence(finding, unit) for finding in refused)
        raise Invalid("formula_refused", said, codes=sorted({finding.code for finding in refused}))
    asked = [finding for finding in found.findings if finding.needs_confirming]
    if not all(finding.is_among(entry.confirmed) for finding in asked):
        said = " ".join(_sentence(finding, unit) for finding in asked)
        codes = sorted({finding.code for finding in asked})
        to_confirm = [finding.read_as for finding in asked]
        if entry.confirmed:
            said = f"It is not what you read before any more. {said}"
        raise Conflict("formula_unconfirmed", said, field="confirmed", codes=codes, confirm=to_confirm)
    return sorted({finding.read_as for finding in asked})


def unread_values(found: Judged, confirmed: Sequence[str]) -> list[Finding]:
    """Return what is doubted of the values that lye is weighed by and was not *confirmed*: until then no lye is shown."""
    doubted = [finding for finding in found.findings if finding.needs_confirming and finding.is_of_a_value]
    return [finding for finding in doubted if finding.was_read(confirmed) is None]


def _check_lyes(entry: FormulaEntry) -> None:
    """Refuse a lye that is the other one by its name: a gram of one brings 1.4 times what a gram of the other does.

    And one among the lines: weighed out beside the lye that is worked out, it would go in twice.

    Asked where a formula is written, not where it is worked out: what was poured from it can be recorded all the same.
    """
    for name, material, alkali in (("naoh_from", entry.naoh_from, Alkali.NAOH), ("koh_from", entry.koh_from, Alkali.KOH)):
        if material is not None and alkali_by_name(material.name) not in (None, alkali):
            raise Invalid("other_lye", f"{material} is the other lye by its name: choose another.", field=name)
    for line in entry.lines:
        name = line.name if line.material is None else line.material.name
        if is_called_lye(name) or (line.material is not None and line.material.kind == "lye"):
            raise Invalid(
                "lye_line",
                f"{name} is lye, and lye is worked out from the fats: take it out of the lines, or it is weighed twice. "
                "Where it comes from is chosen as the lye of the formula.",
                field=field_of(line),
            )


def _check_blends(workshop: Workshop, entry: FormulaEntry) -> None:
    """Refuse as the lye what is made from lye, for it would be weighed as if it were lye alone, and lye within a line.

    And as a fat, a liquid or an acid what is made from others or goes into it: its figures do not follow its parts.
    """
    recipes = recipes_of(workshop)
    for name, material in (("naoh_from", entry.naoh_from), ("koh_from", entry.koh_from)):
        if material is not None and (material.pk in recipes or was_made(material)):
            said = f"{material} is made from others, and lye is weighed out dry: choose the lye that it is made from."
            raise Invalid("made_lye", said, field=name)
    mixed = recipes.keys() | {part.material_id for one in recipes.values() for part, _share in one.shares}
    for line in entry.lines:
        if line.material is not None and line.role in RECKONED_ROLES and line.material.pk in mixed:
            said = (
                f"{line.material} is made from others, or goes into what is, and a formula would reckon with it as if it "
                "were one thing: choose another."
            )
            raise Invalid("mixed_line", said, field=field_of(line))
        if line.material is not None and line.material.pk in recipes and holds_lye(workshop, line.material, recipes):
            said = f"{line.material} holds lye, and lye is worked out from the fats: take it out of the lines."
            raise Invalid("lye_line", said, field=field_of(line))


def _check_keys(entry: FormulaEntry, known: Known) -> None:
    """Refuse a row of the list in a line whose material is another one: what it is, the material says."""
    rows = rows_of_all()
    for line in entry.lines:
        if line.role not in ("fat", "liquid") or line.material is None or line.key not in rows:
            continue
        key = known.key_of(line.material)
        if key in rows and key != line.key:
            raise Invalid(
                "other_key",
                f"{line.material} is {row_in_words(rows[key])}, and its line says {row_in_words(rows[line.key])}: "
                "leave the row of the list out, or say where the material stands in the storeroom what it is.",
                field=field_of(line),
            )


def check_formula(*, workshop: Workshop, entry: FormulaEntry, at: datetime) -> None:
    """Hold a formula to all that is asked of one that is to be written; nothing is written."""
    clean_name(entry.name, field="name", what="The formula's name")
    clean_note(entry.note)
    _check_lyes(entry)
    _check_blends(workshop, entry)
    one = plan(workshop=workshop, entry=entry, at=at)
    _check_keys(entry, one.known)
    _hold_to(judged(one), one.entry, workshop.unit)


@transaction.atomic
def write_formula(*, actor: Actor, entry: FormulaEntry, at: datetime) -> FormulaVersion:
    """Write a new formula with its first version; a name that has a version already is taken."""
    name = clean_name(entry.name, field="name", what="The formula's name")
    workshop = actor.workshop
    known = Formula.objects.within(workshop).filter(name__iexact=name).first()
    if known is None:
        taken = Conflict("name_taken", f"There is a formula called {name} already: choose another name.", field="name")
        with answered(Formula, {"formula_name_once": taken}):
            known = Formula.unscoped.create(workshop=workshop, name=name)
    elif FormulaVersion.objects.within(workshop).filter(formula=lock_formula(known)).exists():
        raise Conflict(
            "name_taken", f"There is a formula called {known} already: change that one, or choose another name.", field="name"
        )
    return _write_version(actor, known, entry, at=at)


@transaction.atomic
def write_version(
    *, actor: Actor, formula: Formula, entry: FormulaEntry, over: int | None = None, at: datetime
) -> FormulaVersion:
    """Write a formula anew: under the same number while nothing was poured from it, else under the next.

    *over* is the key of the version that was changed; if another has come since, it is refused, so
    that nobody's change is lost unseen.
    """
    row = lock_formula(formula)
    if row.retired_at is not None:
        raise Conflict("retired", f"{row} is out of use: put it into use again, then change it.", field="name")
    newest = FormulaVersion.objects.within(actor.workshop).filter(formula=row).newest_first().first()
    if over is not None and newest is not None and newest.pk != over:
        raise Conflict(
            "written_meanwhile",
            f"{row} was changed meanwhile (version {newest.number}): open it anew and make your change there.",
        )
    name = clean_name(entry.name, field="name", what="The formula's name")
    if name != row.name:
        _rename(row, name)
    return _write_version(actor, row, entry, at=at)


def _rename(formula: Formula, name: str) -> None:
    taken = Conflict("name_taken", f"There is a formula called {name} already: choose another name.", field="name")
    if Formula.objects.within(formula.workshop).filter(name__iexact=name).exclude(pk=formula.pk).exists():
        raise taken
    formula.name = name
    with answered(Formula, {"formula_name_once": taken}):
        formula.save(update_fields=["name"])


@transaction.atomic
def retire_formula(*, formula: Formula, at: datetime) -> Formula:
    """Take a formula out of use; its versions and what was poured from it stay."""
    row = lock_formula(formula)
    if row.retired_at is None:
        row.retired_at = at
        row.save(update_fields=["retired_at"])
    return row


@transaction.atomic
def take_up_formula(*, formula: Formula) -> Formula:
    """Put a formula into use again; not one that takes by now what no formula may take."""
    row = lock_formula(formula)
    newest = FormulaVersion.objects.within(row.workshop).filter(formula=row).newest_first().first()
    if newest is not None:
        entry = kept(newest).entry
        _check_lyes(entry)
        _check_blends(row.workshop, entry)
    row.retired_at = None
    row.save(update_fields=["retired_at"])
    return row


def lock_formula(formula: Formula) -> Formula:
    """Return *formula* fresh and locked until the transaction ends."""
    return lock_rows(Formula.unscoped.all(), [formula.pk])[formula.pk]


def _write_version(actor: Actor, formula: Formula, entry: FormulaEntry, *, at: datetime) -> FormulaVersion:
    workshop = actor.workshop
    _check_lyes(entry)
    _check_blends(workshop, entry)
    one = plan(workshop=workshop, entry=entry, at=at)
    _check_keys(entry, one.known)
    entry = one.entry
    confirmed = _hold_to(judged(one), entry, workshop.unit)
    if formula.min_days != entry.min_days:
        formula.min_days = entry.min_days
        formula.save(update_fields=["min_days"])
    number, revision = _next_number(workshop, formula)
    in_grams = entry.liquid_per == FormulaLine.Per.GRAMS
    version = FormulaVersion.unscoped.create(
        workshop=workshop,
        formula=formula,
        number=number,
        revision=revision,
        fats_g=sum((mass for line, mass in zip(one.entry.lines, one.masses_g, strict=True) if line.role == "fat"), Decimal(0))
        if entry.fats_g is None
        else entry.fats_g,
        superfat=entry.superfat,
        naoh_share=entry.naoh_share,
        naoh_purity=entry.naoh_purity,
        koh_purity=entry.koh_purity,
        naoh_from=entry.naoh_from,
        koh_from=entry.koh_from,
        liquid_g=entry.liquid if in_grams else None,
        liquid_share=None if in_grams else entry.liquid,
        front_c=entry.front_c,
        scale=entry.scale,
        fine_scale=entry.fine_scale,
        note=clean_note(entry.note),
        confirmed=confirmed,
        written_at=at,
        **actor.signature,
    )
    FormulaLine.unscoped.bulk_create(_rows(version, one))
    logger.info("formula written: workshop=%s formula=%s version=%s", workshop.pk, formula.pk, version.pk)
    return version


def _next_number(workshop: Workshop, formula: Formula) -> tuple[int, int]:
    newest = FormulaVersion.objects.within(workshop).filter(formula=formula).with_batches().newest_first().first()
    if newest is None:
        return 1, 1
    # What is at the table right now is as good as poured: its batch is written by this very version.
    is_poured = newest.is_poured or Pour.objects.within(workshop).under_way().filter(version=newest).exists()
    return (newest.number + 1, 1) if is_poured else (newest.number, newest.revision + 1)


def _rows(version: FormulaVersion, one: Planned) -> Sequence[FormulaLine]:
    return [
        FormulaLine(
            workshop=version.workshop, version=version, place=place, **{**line_values(line), "key": _own_key(line, one)}
        )
        for place, line in enumerate(one.entry.lines)
    ]


def _own_key(line: LineEntry, one: Planned) -> str:
    """Return the row of the list that a line names itself.

    What its material is says the material, also where that is corrected later.
    """
    is_its_materials = line.material is not None and line.key == one.known.key_of(line.material)
    return "" if is_its_materials else line.key
