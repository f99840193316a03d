"""Which lots of the storeroom the figures of a formula stand for."""

from collections.abc import Sequence
from decimal import Decimal

from curehouse.common.units import show_mass
from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.chemistry.lye import LyeAmount
from curehouse.core.chemistry.words import share_words
from curehouse.making.formulas.adapter import Planned
from curehouse.making.formulas.entries import LineEntry, Per, Role
from curehouse.making.formulas.lots import Take, lacking_g, of_material, wanted_of


def line_note(one: Planned, line: LineEntry, unit: str) -> str:
    """Return by which lots the figure of a fat or a liquid counts, the form of an acid, and what is not here."""
    found = of_material(one.taken, line.material)
    wanted_g = Decimal(0) if line.material is None else wanted_of(one.entry.lines, one.masses_g)[line.material.pk]
    short = _short(found, wanted_g, unit)
    if line.role == Role.FAT:
        said = _of_lots(found, "saponification", "mg KOH per g", line.saponification)
        # What is not here may be of any lot.
        open_too = ", counted by its range" if short and line.saponification is None and said else ""
        return _both(said, f"{short}{open_too}")
    if line.role == Role.LIQUID and line.fat_fraction is None:
        return _both(_of_lots(found, "fat", "% fat"), short)
    return _both(_acid_said(line), short) if line.role == Role.ACID else short


def _acid_said(line: LineEntry) -> str:
    """Return which form of an acid is meant, and how strong, as far as it is typed: another form eats other lye."""
    strength = "" if line.strength is None else f"{(line.strength * 100).normalize():f}\u00a0% strong"
    return ", ".join(one for one in (line.form, strength) if one)


def weigh_note(one: Planned, line: LineEntry, mass_g: Decimal, unit: str, *, in_own_size: bool) -> str:
    """Return what stands beside a weight: by which lots it counts, and in a formula's own size what was written down."""
    is_typed = in_own_size and line.per == Per.GRAMS and line.amount is not None
    written = show_mass(line.amount, unit) if is_typed else ""
    rounded = f"written down as {written}, rounded to your scale" if written not in ("", show_mass(mass_g, unit)) else ""
    return _both(line_note(one, line, unit), rounded)


def _both(said: str, short: str) -> str:
    return "; ".join(one for one in (said, short) if one)


def _short(found: Sequence[Take], wanted_g: Decimal, unit: str) -> str:
    """Return what is wanted beyond all lots that may be used; empty where they hold enough, and where there are none."""
    lacking = lacking_g(found, wanted_g)
    return f"{show_mass(lacking, unit)} more than is here" if lacking else ""


def _of_lots(found: Sequence[Take], name: str, unit: str, typed: Decimal | None = None) -> str:
    """Return whose figure counts: of several lots, and of what is typed, which; the lowest value stands for them all."""
    said = [f"lot {take.of.lot.number}: {_figure(take, name, unit)}" for take in found]
    if not any(take.figure(name) is not None or take.of.odd for take in found):
        return ""
    if typed is not None:
        return f"typed {typed.normalize():f}, {' and '.join(said)}; the lowest counts"
    if len(found) == 1:
        return f"counted with {said[0]}" if found[0].figure(name) is not None else said[0].replace(": says", " says", 1)
    rule = "the lowest counts" if name == "saponification" else "counted at their mean"
    return f"taken from {' and '.join(said)}; {rule}"


def _figure(take: Take, name: str, unit: str) -> str:
    figure, odd = take.figure(name), next(iter(take.of.odd), None)
    if figure is None and odd is not None:
        return f"says {odd.name} {odd.value.normalize():f}, which is no {unit} and is not counted"
    return "no certificate" if figure is None else f"{figure.normalize():f} {unit}"


def lye_note(amount: LyeAmount, one: Planned, unit: str) -> str:
    """Return as how pure a lye counts, by which lots, and what is not here."""
    is_naoh = amount.alkali is Alkali.NAOH
    material = one.entry.naoh_from if is_naoh else one.entry.koh_from
    own = one.entry.naoh_purity if is_naoh else one.entry.koh_purity
    said = f"counted {share_words(amount.purity.middle)} pure"
    found = of_material(one.taken, material)
    short = _short(found, Decimal(str(amount.weigh_g)), unit)
    if own is not None and any(take.figure("purity") is not None for take in found):
        lots = " and ".join(f"lot {take.of.lot.number}: {_figure(take, 'purity', '%')}" for take in found)
        said += f": typed {(own * 100).normalize():f} %, {lots}; the purest counts"
    elif own is None and len(found) == 1 and (found[0].figure("purity") is not None or found[0].of.odd):
        said += f", by lot {found[0].of.lot.number}: {_figure(found[0], 'purity', '%')}"
    elif own is None and len(found) > 1:
        lots = " and ".join(f"lot {take.of.lot.number}: {_figure(take, 'purity', '%')}" for take in found)
        said += f": taken from {lots}; the purest counts"
    open_too = ", counted as pure" if short and own is None and is_naoh else ""
    return _both(said, f"{short}{open_too}")
