"""How many grams each line of a formula is: shares worked out, the rest of the liquid found.

What does not add up is answered in words: a formula whose parts make no whole would pour something
else than what stands on the page.
"""

from decimal import ROUND_HALF_EVEN, Decimal

from curehouse.common.errors import Invalid
from curehouse.common.units import LARGEST_G, SMALLEST_G, show_mass
from curehouse.making.formulas.entries import FormulaEntry, LineEntry, Per, Role
from curehouse.making.formulas.known import Known

_SHARE_NOISE = Decimal("0.00005")
_LIQUID_NOISE = Decimal("0.05")
_LARGEST_SHARE = Decimal(10)


def percent(share: Decimal) -> str:
    """Return a share in per cent: ``62.5 %``."""
    shown = f"{share * 100:.2f}".rstrip("0").rstrip(".")
    return f"{shown}\u00a0%"


def fats_total_g(entry: FormulaEntry) -> Decimal:
    """Return the mass of the fats in grams, or say what their lines lack."""
    fats = entry.of(Role.FAT)
    if not fats:
        raise Invalid("no_fats", "A formula has fats: name at least one.", field="fats")
    for line in fats:
        _check_amount(line, (Per.GRAMS, Per.FATS))
    if len({line.per for line in fats}) > 1:
        raise Invalid("fats_mixed", "Write all fats in grams, or all as shares: not some of each.", field="fats")
    total = sum((line.amount or Decimal(0) for line in fats), Decimal(0))
    if fats[0].per == Per.GRAMS:
        return _in_bounds(total, what="The fats together", field="fats")
    if entry.fats_g is None:
        raise Invalid("missing", "The mass of all fats is missing: shares need the size of a batch.", field="fats_g")
    if abs(total - 1) > _SHARE_NOISE:
        raise Invalid(
            "shares", f"The fats make {percent(total)} together: change them until they make 100\u00a0%.", field="fats"
        )
    return _in_bounds(entry.fats_g, what="The mass of all fats", field="fats_g")


def liquid_total_g(entry: FormulaEntry, fats_g: Decimal) -> Decimal:
    """Return the total liquid in grams."""
    if entry.liquid_per not in (Per.GRAMS, Per.FATS):
        raise Invalid("per", "The total liquid is in grams or a share of the fats: choose one.", field="liquid")
    if not entry.liquid.is_finite() or entry.liquid <= 0:
        raise Invalid("not_positive", "The total liquid must be more than 0.", field="liquid")
    if entry.liquid_per == Per.FATS:
        if entry.liquid > _LARGEST_SHARE:
            raise Invalid("too_large", "The total liquid is over ten times the fats: check the figure.", field="liquid")
        return _in_bounds(fats_g * entry.liquid, what="The total liquid", field="liquid")
    return _in_bounds(entry.liquid, what="The total liquid", field="liquid")


def line_masses_g(entry: FormulaEntry, known: Known, *, unit: str) -> list[Decimal]:
    """Return the grams of each line, in their order."""
    fats_g = fats_total_g(entry)
    liquid_g = liquid_total_g(entry, fats_g)
    whole = {Per.FATS: fats_g, Per.LIQUID: liquid_g}
    liquids = [line for line in entry.of(Role.LIQUID) if not known.is_powder(line)]
    rests = [line for line in liquids if line.per == Per.REST]
    if len(rests) > 1:
        raise Invalid("two_rests", "Only one liquid can be the rest: give the others their amounts.", field="liquids")
    masses = {id(line): _mass_g(line, whole, is_fluid=line in liquids) for line in entry.lines if line not in rests}
    named_g = sum((masses[id(line)] for line in liquids if line not in rests), Decimal(0))
    for line in rests:
        masses[id(line)] = _rest_g(line, liquid_g - named_g, unit)
    if not liquids:
        raise Invalid("no_liquid", "Name at least one liquid, and where it goes in.", field="liquids")
    if not rests and abs(named_g - liquid_g) > _LIQUID_NOISE:
        raise Invalid(
            "liquid_sum",
            f"The liquids make {show_mass(named_g, unit)} together, and the total says {show_mass(liquid_g, unit)}: "
            "let one of them be the rest, or change the total.",
            field="liquids",
        )
    return [masses[id(line)] for line in entry.lines]


def _rest_g(line: LineEntry, rest_g: Decimal, unit: str) -> Decimal:
    if line.amount is not None:
        raise Invalid("rest_amount", f"{line.name} is the rest: leave its amount empty.", field="liquids")
    if rest_g < SMALLEST_G:
        over = show_mass(-rest_g, unit)
        raise Invalid(
            "no_rest",
            f"Nothing is left for {line.name}: the other liquids are {over} over the total, or make all of it. "
            "Take less of them, or leave it out.",
            field="liquids",
        )
    return rest_g


def _mass_g(line: LineEntry, whole: dict[str, Decimal], *, is_fluid: bool) -> Decimal:
    of_liquid = (Per.LIQUID, Per.REST) if is_fluid else ()
    _check_amount(line, (Per.GRAMS, Per.FATS, *of_liquid))
    amount = line.amount or Decimal(0)
    grams = amount if line.per == Per.GRAMS else amount * whole[line.per]
    return _in_bounds(grams, what=line.name, field=field_of(line))


def field_of(line: LineEntry) -> str:
    """Return what the lines of its role are called among what is typed."""
    return {Role.FAT: "fats", Role.LIQUID: "liquids", Role.ACID: "acids"}.get(Role(line.role), "extras")


def _check_amount(line: LineEntry, allowed: tuple[str, ...]) -> None:
    if line.per not in allowed:
        raise Invalid("per", f"{line.name}: say its amount in another way, such as grams.", field=field_of(line))
    if line.amount is None:
        raise Invalid("missing", f"{line.name}: its amount is missing.", field=field_of(line))
    if not line.amount.is_finite() or line.amount <= 0:
        raise Invalid("not_positive", f"{line.name}: its amount must be more than 0.", field=field_of(line))
    if line.per != Per.GRAMS and line.amount > _LARGEST_SHARE:
        raise Invalid("too_large", f"{line.name}: check the share, it is over 1000\u00a0%.", field=field_of(line))


def _in_bounds(grams: Decimal, *, what: str, field: str) -> Decimal:
    if not grams.is_finite() or not SMALLEST_G / 2 <= grams <= LARGEST_G:
        raise Invalid("mass", f"{what}: the mass must be more than 0 and at most a tonne.", field=field)
    return max(SMALLEST_G, grams.quantize(SMALLEST_G, rounding=ROUND_HALF_EVEN))
