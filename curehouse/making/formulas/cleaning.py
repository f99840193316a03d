"""What is typed into a formula's lines, made clean or answered in words."""

from dataclasses import replace
from decimal import ROUND_CEILING, ROUND_DOWN, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal

from curehouse.common.errors import Invalid
from curehouse.common.units import SMALLEST_G
from curehouse.core.chemistry.acids import ACIDS
from curehouse.making.fats import fat_kinds
from curehouse.making.formulas.entries import FormulaEntry, LineEntry, Per, Role
from curehouse.making.formulas.known import Known
from curehouse.making.formulas.masses import field_of
from curehouse.making.formulas.names import key_called
from curehouse.making.liquids import liquid_kinds

_SHARE_STEP = Decimal("0.0001")
_AMOUNT_STEP = Decimal("0.000001")
_CERTIFICATE_STEP = Decimal("0.01")
# With the doubt of a certificate a value stays between 60 and 400 mg KOH per g.
_CERTIFIED_LOW, _CERTIFIED_HIGH = Decimal("60.31"), Decimal("398.00")
_LONGEST_NAME = 120
MOST_LINES = 60
_MOST_DAYS = 730
_TOO_LARGE = Decimal(10**7)
_ORDER = [*Role]
_LEAST_C, _MOST_C = Decimal(-5), Decimal(100)
_LARGEST_SUPERFAT = Decimal("0.5")
_BELOW_ZERO = (
    "Below 0\u00a0% there is more lye than the fats can take, and these bars would burn skin: "
    "set a superfat of 0\u00a0% or more; 5\u00a0% is usual."
)


def cleaned(entry: FormulaEntry, known: Known) -> FormulaEntry:
    """Return *entry* with each line's name and row of the catalogue found, in the order of their roles.

    Figures are rounded to what is kept of them, so that a formula read back is worked out alike; those
    that lye is weighed by, so that it never becomes more.
    """
    _check_settings(entry)
    in_order = sorted(entry.lines, key=lambda line: _ORDER.index(Role(line.role)))
    return replace(
        entry,
        lines=[_cleaned_line(line, known) for line in in_order],
        # With 0 added a hair below 0 is no minus 0.
        superfat=entry.superfat.quantize(_SHARE_STEP, rounding=ROUND_CEILING) + 0,
        liquid=_rounded(entry.liquid, entry.liquid_per, _SHARE_STEP),
        fats_g=None if entry.fats_g is None else _rounded(entry.fats_g, Per.GRAMS),
        naoh_share=entry.naoh_share.quantize(_SHARE_STEP),
        naoh_purity=_share(entry.naoh_purity, ROUND_CEILING),
        koh_purity=_share(entry.koh_purity, ROUND_CEILING),
        front_c=entry.front_c.quantize(Decimal("0.1")),
    )


def _rounded(amount: Decimal, per: str, share_step: Decimal = _AMOUNT_STEP) -> Decimal:
    """Return an amount as it is kept; what is no figure, or far too large for one, is answered by who counts with it."""
    if not amount.is_finite() or abs(amount) > _TOO_LARGE:
        return amount
    # Of fats and acids down: more of them would ask for more lye than those that were typed.
    return amount.quantize(SMALLEST_G, rounding=ROUND_DOWN) if per == Per.GRAMS else amount.quantize(share_step)


def _share(share: Decimal | None, rounding: str = ROUND_HALF_EVEN) -> Decimal | None:
    return None if share is None else share.quantize(_SHARE_STEP, rounding=rounding)


def _check_settings(entry: FormulaEntry) -> None:
    if entry.superfat.is_finite() and entry.superfat < 0:
        # Before it is rounded: what is kept is 0 or more, and a hair below it is below it.
        raise Invalid("superfat_below_zero", _BELOW_ZERO, field="superfat")
    if not entry.superfat.is_finite() or not entry.superfat <= _LARGEST_SUPERFAT:
        raise Invalid("superfat", "The superfat lies between 0 and 50\u00a0%; 5\u00a0% is usual.", field="superfat")
    if not entry.naoh_share.is_finite() or not 0 <= entry.naoh_share <= 1:
        raise Invalid("fraction", "The share of sodium hydroxide lies between 0 and 100\u00a0%.", field="naoh_share")
    for name, purity in (("naoh_purity", entry.naoh_purity), ("koh_purity", entry.koh_purity)):
        if purity is not None and not (purity.is_finite() and 0 < purity <= Decimal("1.005")):
            raise Invalid("purity", "A purity lies above 0 and up to 100\u00a0%, as on the certificate.", field=name)
    for name, material in (("naoh_from", entry.naoh_from), ("koh_from", entry.koh_from)):
        if material is not None and material.kind != "lye":
            raise Invalid("kind", f"{material} is not written down as lye: choose another.", field=name)
    if not entry.front_c.is_finite() or not _LEAST_C <= entry.front_c <= _MOST_C:
        raise Invalid("temperature", "The liquid in front has between −5 and 100 °C: check the figure.", field="front_c")
    if entry.min_days is not None and not 1 <= entry.min_days <= _MOST_DAYS:
        raise Invalid("days", f"The minimum cure lies between 1 and {_MOST_DAYS} days.", field="min_days")
    if not 1 <= len(entry.lines) <= MOST_LINES:
        raise Invalid("lines", f"A formula has between 1 and {MOST_LINES} lines.", field="lines")
    if any(line.role not in Role.values for line in entry.lines):
        raise Invalid("role", f"A line is one of: {', '.join(Role.values)}.", field="lines")


_OF_KIND = {
    Role.FAT: ("fat",),
    Role.LIQUID: ("liquid",),
    Role.ACID: ("additive", "liquid"),
    Role.ADDITIVE: ("additive", "liquid", "fat"),
    Role.FRAGRANCE: ("fragrance",),
    Role.COLOUR: ("colour", "additive"),
}


def _cleaned_line(line: LineEntry, known: Known) -> LineEntry:
    role, key, name = Role(line.role), line.key, " ".join(line.name.split())
    if line.material is not None:
        if line.material.kind not in _OF_KIND[role]:
            raise Invalid(
                "kind",
                f"{line.material} is written down as {line.material.get_kind_display()}: choose another as {role.label}.",
                field=field_of(line),
            )
        name = line.material.name
        if role in (Role.FAT, Role.LIQUID):
            key = key or known.key_of(line.material)
    rows = {Role.FAT: fat_kinds(), Role.LIQUID: liquid_kinds()}.get(role)
    if rows is not None and line.material is None:
        key = key or key_called(name, rows)
    if rows is not None and key:
        if key not in rows:
            raise Invalid("key", f"This {role.label} is not in the list: choose one.", field=field_of(line), key=key)
        name = name if line.material is not None or name else rows[key].name
    if role is Role.ACID:
        key, name = _cleaned_acid(line, key, name)
    if not name or len(name) > _LONGEST_NAME or not name.isprintable():
        raise Invalid("missing", f"Say which {role.label} it is, in up to 120 characters.", field=field_of(line))
    if role is Role.LIQUID and line.goes_in not in ("front", "trace"):
        raise Invalid("place", f"{name} goes in front with the lye or at trace: choose one.", field="liquids")
    _check_shares(line, name)
    return replace(
        line,
        key=key,
        name=name,
        amount=None if line.amount is None else _rounded(line.amount, line.per),
        goes_in=line.goes_in if role is Role.LIQUID else "",
        strength=_share(line.strength, ROUND_FLOOR),
        saponification=None
        if line.saponification is None
        else line.saponification.quantize(_CERTIFICATE_STEP, rounding=ROUND_FLOOR),
        water_fraction=_share(line.water_fraction),
        fat_fraction=_share(line.fat_fraction),
        most_share=_share(line.most_share),
    )


def _cleaned_acid(line: LineEntry, key: str, name: str) -> tuple[str, str]:
    if key not in ACIDS:
        raise Invalid("acid", f"This acid is not in the list: choose one of {', '.join(ACIDS)}.", field="acids", key=key)
    if line.form and line.form not in ACIDS[key]:
        raise Invalid("form", f"{key.capitalize()} acid comes as {', '.join(ACIDS[key])}: choose one.", field="acids")
    return key, name or f"{key} acid"


def _check_shares(line: LineEntry, name: str) -> None:
    for what, share in (
        ("water part", line.water_fraction),
        ("fat", line.fat_fraction),
        ("strength", line.strength),
        ("maximum", line.most_share),
    ):
        if share is not None and not (share.is_finite() and 0 <= share <= 1):
            raise Invalid("fraction", f"{name}: its {what} lies between 0 and 100\u00a0%.", field=field_of(line))
    for what, share in (("strength", _share(line.strength, ROUND_FLOOR)), ("maximum", _share(line.most_share))):
        if share == 0:
            raise Invalid("fraction", f"{name}: its {what} is more than 0: leave it empty if unknown.", field=field_of(line))
    value = line.saponification
    if value is not None and not (value.is_finite() and _CERTIFIED_LOW <= value <= _CERTIFIED_HIGH):
        raise Invalid(
            "saponification",
            f"{name}: a saponification value in mg KOH per g lies between 60 and 400: check the figure and its unit.",
            field=field_of(line),
        )
