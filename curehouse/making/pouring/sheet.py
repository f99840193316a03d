"""What is to be weighed at a pour, worked out once when it is begun and kept with it."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from curehouse.common.errors import Conflict
from curehouse.core.chemistry.acids import Acid
from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.chemistry.bounds import ZERO, Bounds
from curehouse.core.chemistry.finding import lowest_read
from curehouse.core.chemistry.liquids import Liquid, Place, front_water_g
from curehouse.core.chemistry.poured import Pour as CorePour
from curehouse.core.chemistry.poured import pour_from_plain
from curehouse.core.chemistry.solubility import WARM_C
from curehouse.making.formulas.adapter import Planned
from curehouse.making.formulas.entries import LineEntry, Role
from curehouse.making.formulas.pours import pour_today
from curehouse.making.formulas.reading import kept
from curehouse.making.formulas.sizes import Size, in_size
from curehouse.making.models import FormulaVersion
from curehouse.making.services.formulas import judged, plan, told_in, unread_values
from curehouse.making.services.run_needs import LYE_NAMES
from inventory.models import Material

LYE = "lye"
_LONGEST_LIQUID = 40
# Where each role is weighed: what carries the lye after the fats, and the lye last of all, by what was really weighed.
_TURN = {Role.FAT: 0, Role.LIQUID: 1, Role.ACID: 2, Role.ADDITIVE: 3, Role.FRAGRANCE: 3, Role.COLOUR: 3}


@dataclass(frozen=True, slots=True)
class Slot:
    """One thing to be weighed; ``target_g`` grams, None of lye, which follows from what was weighed before it.

    ``part`` counts the fats, or the lyes, of the sheet's pour from 0. ``mol_per_g`` is what a gram of an acid, or
    the fat of a gram of milk, takes of alkali. ``water`` is the water part of a liquid that is in no list,
    ``dissolving`` what of a gram of it is water in front in which lye dissolves, None where an older sheet does not say.
    """

    key: str
    name: str
    role: str
    material: int | None
    target_g: Decimal | None
    part: int = 0
    goes_in: str = ""
    liquid: str = ""
    water: Decimal | None = None
    is_milk: bool = False
    mol_per_g: Bounds = ZERO
    dissolving: float | None = None

    @property
    def is_fine(self) -> bool:
        """It is weighed on the finer scale."""
        return self.role in (LYE, Role.ACID)

    @property
    def is_at_trace(self) -> bool:
        """It is stirred in at trace."""
        return self.goes_in == Place.TRACE or self.role in (Role.ADDITIVE, Role.FRAGRANCE, Role.COLOUR)


@dataclass(frozen=True, slots=True)
class Sheet:
    """All that is to be weighed, in the order of the table, and what the lye is worked out by.

    ``pour`` has the fats and the lye with what counts for them; ``shares`` is each alkali's share of the
    equivalents; ``read_low`` the lowest superfat that was confirmed with the formula; ``unread`` what nobody
    confirmed yet, in words; ``front_c`` how warm what stands in front is, in °C.
    """

    slots: tuple[Slot, ...]
    pour: CorePour
    superfat: float
    shares: Mapping[Alkali, float]
    read_low: float
    unread: tuple[str, ...]
    scale: int | None
    fine_scale: int | None
    front_c: float = WARM_C

    @property
    def has_milk_in_front(self) -> bool:
        """Milk stands in front with the lye: frozen, and the lye slowly into it."""
        return any(slot.is_milk and slot.goes_in == Place.FRONT for slot in self.slots)

    @property
    def planned(self) -> frozenset[Alkali]:
        """The alkalis of the formula."""
        return frozenset(self.shares)

    def as_plain(self) -> dict[str, Any]:
        """Return it as plain data, to be kept; see `sheet_from_plain`."""
        plain = asdict(replace(self, slots=()))
        plain["slots"] = [_plain_slot(slot) for slot in self.slots]
        plain["pour"] = self.pour.as_plain()
        plain["shares"] = {alkali.value: share for alkali, share in self.shares.items()}
        return plain


def _plain_slot(slot: Slot) -> dict[str, Any]:
    plain = asdict(slot)
    for name in ("target_g", "water"):
        plain[name] = None if plain[name] is None else f"{plain[name]:f}"
    return plain


def sheet_from_plain(plain: Mapping[str, Any]) -> Sheet:
    """Return the sheet that `Sheet.as_plain` gave."""

    def slot(row: Mapping[str, Any]) -> Slot:
        numbers = {name: None if row[name] is None else Decimal(row[name]) for name in ("target_g", "water")}
        return Slot(**{**row, **numbers, "mol_per_g": Bounds(**row["mol_per_g"])})

    return Sheet(
        **{
            **plain,
            "slots": tuple(slot(row) for row in plain["slots"]),
            "pour": pour_from_plain(plain["pour"]),
            "shares": {Alkali(alkali): share for alkali, share in plain["shares"].items()},
            "unread": tuple(plain["unread"]),
        }
    )


def sheet_of(version: FormulaVersion, fats_g: Decimal, *, at: datetime) -> Sheet:
    """Return what a pour of *fats_g* grams of oils by *version* weighs out, by the lots of today.

    Raises ``Conflict`` (no_lye) where no lye may be weighed out by it today: it is refused, its purity is missing,
    or a value of it is doubted that nobody read.
    """
    one = in_size(plan(workshop=version.workshop, entry=kept(version).entry, at=at), Size(fats_g=fats_g))
    found = judged(one)
    confirmed = one.entry.confirmed
    if found.is_refused or found.figures is None or unread_values(found, confirmed):
        raise Conflict(
            "no_lye", f"No lye is weighed out by {version} today: its page says why, and what to do.", field="version"
        )
    unread = [finding for finding in found.findings if finding.needs_confirming and finding.was_read(confirmed) is None]
    words = [told_in(finding, version.workshop.unit) for finding in unread]
    return Sheet(
        slots=(*_of_lines(one), *_of_lye(one)),
        pour=pour_today(one),
        superfat=one.formula.superfat,
        shares={part.alkali: part.share for part in one.formula.lye},
        read_low=lowest_read(confirmed),
        unread=tuple(f"{said.says} {said.remedy}" for said in words),
        scale=None if one.entry.scale is None else one.entry.scale.pk,
        fine_scale=None if one.entry.fine_scale is None else one.entry.fine_scale.pk,
        front_c=one.formula.front_c,
    )


def _of_lines(one: Planned) -> list[Slot]:
    counted = dict.fromkeys(Role.values, 0)
    slots: list[tuple[tuple[int, bool], Slot]] = []
    for number, (line, mass_g) in enumerate(zip(one.entry.lines, one.masses_g, strict=True)):
        part = counted[line.role]
        counted[line.role] += 1
        slot = Slot(key=f"{number}", name=line.name, role=line.role, material=_kept(line.material), target_g=mass_g, part=part)
        if line.role == Role.LIQUID:
            slot = _liquid_slot(slot, line, one.formula.liquids[part])
        elif line.role == Role.ACID:
            acid: Acid = one.formula.acids[part]
            slot = replace(slot, mol_per_g=acid.mol_per_g)
        slots.append(((_TURN[Role(line.role)], slot.is_at_trace), slot))
    # What stands in front before what comes at trace; otherwise as the formula names them.
    return [slot for _turn, slot in sorted(slots, key=lambda one: (one[0][1], one[0][0]))]


def _liquid_slot(slot: Slot, line: LineEntry, liquid: Liquid) -> Slot:
    own = line.water_fraction
    if not line.key and own is None:
        own = Decimal(str(round(liquid.made_of.water.middle, 4)))
    fat = liquid.fat_mol()
    return replace(
        slot,
        goes_in=line.goes_in,
        liquid=line.key or line.name[:_LONGEST_LIQUID],
        water=own,
        is_milk=liquid.is_milk,
        dissolving=front_water_g([liquid]) / liquid.mass_g,
        mol_per_g=Bounds(fat.low / liquid.mass_g, fat.middle / liquid.mass_g, fat.high / liquid.mass_g),
    )


def _of_lye(one: Planned) -> list[Slot]:
    of = {Alkali.NAOH: one.entry.naoh_from, Alkali.KOH: one.entry.koh_from}
    return [
        Slot(
            key=part.alkali.value,
            name=LYE_NAMES[part.alkali] if of[part.alkali] is None else of[part.alkali].name,
            role=LYE,
            material=_kept(of[part.alkali]),
            target_g=None,
            part=number,
        )
        for number, part in enumerate(one.formula.lye)
    ]


def _kept(material: Material | None) -> int | None:
    """Return the key of a material of which lots are booked in grams; what is counted in pieces is weighed without one."""
    return None if material is None or material.measure != Material.Measure.GRAMS else material.pk
