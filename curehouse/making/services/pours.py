"""What holds a pour to the version of the formula it was made from."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import ROUND_DOWN, Decimal

from curehouse.common.errors import Conflict, Invalid
from curehouse.common.units import SMALLEST_G, show_at_least, show_at_most, show_mass
from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.chemistry.finding import Finding, lowest_read
from curehouse.core.chemistry.lye import LyeAmount
from curehouse.core.chemistry.poured import Pour
from curehouse.core.chemistry.words import superfat_words
from curehouse.making.formulas.adapter import Planned
from curehouse.making.formulas.pours import PourFound, pour_found
from curehouse.making.formulas.reading import kept
from curehouse.making.formulas.since import since_pour
from curehouse.making.lye import alkalis_in_words, is_kept_as_confirmed
from curehouse.making.models import Batch, Formula, FormulaVersion
from curehouse.making.services.formulas import lock_formula, plan, told_in
from curehouse.workshops.models import Workshop

# With less than this part of the lye by its formula a batch is no soap: a slip of the pen.
_LEAST_PART = 0.7
# Within this part of the lye two batches had as much: rounding to a scale's step, and no lot.
_SAME_LYE = 0.005


def formula_to_pour(*, workshop: Workshop, version: FormulaVersion) -> Formula:
    """Return the formula of *version*, locked so that it is not written anew before the pour is kept."""
    formula = lock_formula(version.formula)
    if not FormulaVersion.objects.within(workshop).in_force().filter(pk=version.pk).exists():
        raise Conflict(
            "version_replaced",
            f"{version} was written anew meanwhile: begin the batch from the formula again.",
            field="version",
        )
    return formula


@dataclass(frozen=True, slots=True)
class Held:
    """A pour held to its formula: whether a person confirmed its lye, whether it needs a check, and what went in."""

    lye_confirmed: bool
    needs_check: bool
    pour: Pour | None = None


def held_to_version(
    *,
    workshop: Workshop,
    version: FormulaVersion,
    fats_g: Decimal,
    lye_g: Decimal,
    is_confirmed: bool,
    poured_at: datetime,
    at: datetime,
    koh_g: Decimal | None = None,
) -> Held:
    """Hold a pour to the version of the formula it was made from.

    Raises ``Conflict`` (lye_doubtful) for lye that is too much for these fats, that may be caustic
    further than was read when the formula was kept, or that is far too little, which nobody confirmed,
    and for what the lots of today say that nobody read: recording never blocks what was poured, but a
    slip is asked about.
    """
    if lye_g >= fats_g:
        raise Invalid(
            "lye_over_fats", "More lye than fats: check both weights before anyone touches this batch.", field="lye_g"
        )
    try:
        # By the lots that were in order on the day of the pour, whenever it is told.
        one = plan(workshop=workshop, entry=kept(version).entry, at=poured_at)
        found = pour_found(one, fats_g=fats_g, lye_g=lye_g, koh_g=koh_g)
    except Invalid:
        # What cannot be worked out any more was poured all the same.
        is_odd = is_kept_as_confirmed(
            fats_g=fats_g, lye_g=lye_g, koh_g=koh_g or Decimal(0), liquids_g=(), unit=workshop.unit, is_confirmed=is_confirmed
        )
        return Held(lye_confirmed=is_odd, needs_check=True)
    meant_g = found.lye_by_formula_g
    if meant_g is None:
        return Held(lye_confirmed=False, needs_check=True, pour=found.pour)
    # To the tenth of a point, as people read it.
    is_lower = found.low < lowest_read(version.confirmed) - 0.001
    is_doubtful = found.is_caustic or is_lower or float(lye_g) < meant_g * _LEAST_PART
    unread = [finding for finding in found.to_confirm if _is_unread(finding, version)]
    if (is_doubtful or unread) and not is_confirmed:
        weighed = _Weighed(fats_g, lye_g, koh_g)
        is_hidden = any(finding.is_of_a_value for finding in unread)
        unread_said = _unread_said(unread, version, workshop.unit) if unread else ""
        if unread and not is_hidden:
            unread_said += f" {lye_today_said(version, one, found.lye_by_formula or (), fats_g, at=at)}"
        doubt = _Doubt(is_doubtful, unread_said, is_hidden=is_hidden)
        raise _doubt(found, version, weighed, workshop.unit, doubt)
    return Held(is_doubtful or bool(unread), found.needs_check, found.pour)


# By the lye that was really weighed these are asked about, not by the formula's.
_BY_WEIGHT = frozenset({"may_be_caustic", "batch_too_small"})


def _is_unread(finding: Finding, version: FormulaVersion) -> bool:
    """Return whether nobody confirmed a finding, with the figure of today, when *version* was kept."""
    return finding.code not in _BY_WEIGHT and finding.was_read(version.confirmed) is None


def _unread_said(unread: Sequence[Finding], version: FormulaVersion, unit: str) -> str:
    told = (told_in(finding, unit) for finding in unread)
    said = " ".join(f"{words.says} {words.remedy}" for words in told)
    return f"Nobody read this of {version} yet, for it is so since: {said}"


def lye_today_said(version: FormulaVersion, one: Planned, lye: Sequence[LyeAmount], fats_g: Decimal, *, at: datetime) -> str:
    """Return in words what the lye of a poured version is today, how far from the last batch's, and why.

    *lye* is that of *one* for *fats_g* grams of fats. Nothing for what was not poured yet, or has no lye
    today. One query, and one more where what is known of a material was changed since.
    """
    unit = version.workshop.unit
    last = Batch.objects.within(version.workshop).filter(version=version).select_related("formula").newest_first().first()
    if last is None or not lye or not last.fats_g or not last.lye_g:
        return ""
    koh_g = _down(sum(amount.weigh_g for amount in lye if amount.alkali is Alkali.KOH))
    lye_g = _down(sum(amount.weigh_g for amount in lye if amount.alkali is Alkali.NAOH)) + koh_g
    before_g = last.lye_g * fats_g / last.fats_g
    more = float(lye_g / before_g) - 1
    now = alkalis_in_words(lye_g, koh_g, lambda grams: show_at_most(grams, unit))
    since = since_pour(one, last, at=at)
    by = "by what is known of its materials today" if since.by_material else "for the lots of today"
    said = f"The lye is worked out {by}: {now} for {show_at_least(fats_g, unit)} of fats."
    if abs(more) < _SAME_LYE and not since.by_material:
        return f"{said} {last} had as much for its fats."
    than = "more" if more > 0 else "less"
    had = f"{last} had {show_at_most(before_g, unit)} for as much fat: today it is {100 * abs(more):.1f}\u00a0% {than}."
    return " ".join(each for each in (said, had, since.said) if each)


@dataclass(frozen=True, slots=True)
class _Weighed:
    fats_g: Decimal
    lye_g: Decimal
    koh_g: Decimal | None


@dataclass(frozen=True, slots=True)
class _Doubt:
    """What is asked of a pour; ``is_hidden``: by a value that nobody read no lye is named."""

    is_of_lye: bool
    unread_said: str
    is_hidden: bool


def _down(grams: float) -> Decimal:
    return Decimal(str(grams)).quantize(SMALLEST_G, rounding=ROUND_DOWN)


def _doubt(found: PourFound, version: FormulaVersion, weighed: _Weighed, unit: str, doubt: _Doubt) -> Conflict:
    by_formula_g, lye_g = found.lye_by_formula_g or 0.0, weighed.lye_g
    shown = alkalis_in_words(lye_g, weighed.koh_g, lambda grams: show_mass(grams, unit))
    meant_koh_g = _down(found.koh_by_formula_g)
    meant_g = _down(by_formula_g - found.koh_by_formula_g) + meant_koh_g
    said = "far less than these fats have"
    if found.is_caustic:
        said = "more than these fats can take"
    elif float(lye_g) >= by_formula_g * _LEAST_PART:
        said = f"so much that the superfat may be as low as {superfat_words(found.low)}, lower than was read with the formula"
    # What must not be poured is not weighed out here either.
    meant = alkalis_in_words(meant_g, meant_koh_g, lambda grams: show_at_most(grams, unit))
    by_formula = f"by {version} {show_at_least(weighed.fats_g, unit)} of fats have {meant}"
    if found.is_refused_formula:
        by_formula = f"and {version} is refused today, so no amount of it is named: its page says why"
    elif doubt.is_hidden:
        by_formula = f"and a value of {version} is doubted that nobody read yet, so no amount of it is named"
    of_lye = f"{shown} of lye is {said}: {by_formula}. Check both weights before anyone touches this batch."
    return Conflict(
        "lye_doubtful",
        " ".join(one for one in (of_lye if doubt.is_of_lye else "", doubt.unread_said) if one),
        field="lye_g",
        lye_g=f"{lye_g:.3f}",
        koh_g=f"{weighed.koh_g or 0:.3f}",
        guess_g=None if found.is_refused_formula or doubt.is_hidden else f"{meant_g}",
        guess_koh_g=None if found.is_refused_formula or doubt.is_hidden else f"{meant_koh_g}",
        is_swapped=False,
        by_formula=True,
    )
