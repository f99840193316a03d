"""The demo's formulas: written down when the house opened, poured from since, one of them changed lately. All invented."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from decimal import Decimal

from curehouse.flows.demo_goods import LYE, MILKS, MIX_SHARE, RECIPES
from curehouse.flows.demo_mix import write_mix
from curehouse.flows.demo_story import FORMULAS
from curehouse.making.formulas.entries import FormulaEntry, LineEntry, Per, Role
from curehouse.making.models import FormulaVersion
from curehouse.making.services.formulas import write_formula, write_version
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Scale
from inventory.models import Material

# When they were written down, before the first soap was poured.
_DAYS_AGO = 195
_ROLES = {"fat": Role.FAT, "fragrance": Role.FRAGRANCE, "colour": Role.COLOUR, "additive": Role.ADDITIVE}


@dataclass(frozen=True, slots=True)
class _Written:
    """How a formula was written down: its superfat, how much of fats, and why so."""

    superfat: Decimal
    fats_g: int
    note: str


_WRITTEN = {
    "Goat & oat": _Written(Decimal("0.06"), 2040, "Oat flour stirred into a little of the olive oil first."),
    "Sheep's milk plain": _Written(
        Decimal("0.04"), 2064, "All of the liquid is milk, frozen in slush. Its own fat brings the superfat up."
    ),
    "Harbour charcoal": _Written(Decimal("0.05"), 2208, "Charcoal into the castor oil, then sieved in."),
    "Old olive": _Written(Decimal("0.065"), 2280, "Slow. Leave it in the mould for two days."),
}
_CHANGED = "Goat & oat"
# Of the fats, as both suppliers say of theirs; invented.
_MOST_SCENT = Decimal("0.03")


def write_formulas(
    *, actor: Actor, materials: Mapping[str, Material], scales: tuple[Scale, Scale], at: datetime
) -> dict[str, FormulaVersion]:
    """Write the formulas down, as of the opening; return their first versions by name."""
    written_at = at - timedelta(days=_DAYS_AGO)
    return {
        name: write_formula(actor=actor, entry=_entry(name, materials, scales), at=written_at) for name in _WRITTEN
    }  # fmt: skip


def change_one(
    *,
    actor: Actor,
    materials: Mapping[str, Material],
    scales: tuple[Scale, Scale],
    version: FormulaVersion,
    at: datetime,
) -> None:
    """Change the formula that was poured most: more milk at trace, as much less water in front, and a fragrance mix."""
    note = "More milk: it was hardly noticed before. Now with the hedgerow mix."
    entry = _entry(_CHANGED, materials, scales, front=Decimal("0.155"), note=note)
    scent = LineEntry(
        Role.FRAGRANCE,
        material=write_mix(actor=actor, materials=materials, at=at),
        per=Per.FATS,
        amount=Decimal(MIX_SHARE),
        most_share=_MOST_SCENT,
    )
    entry = replace(entry, lines=[*entry.lines, scent])
    write_version(actor=actor, formula=version.formula, entry=entry, at=at - timedelta(days=2))


def _entry(
    name: str,
    materials: Mapping[str, Material],
    scales: tuple[Scale, Scale],
    *,
    front: Decimal | None = None,
    note: str = "",
) -> FormulaEntry:
    written, fine = _WRITTEN[name], scales[0]
    lines = [
        LineEntry(_ROLES[materials[good].kind], material=materials[good], per=Per.FATS, amount=Decimal(share))
        for good, share in RECIPES[name].items()
    ]
    liquids = FORMULAS[name].liquids
    for index, (kind, share, place) in enumerate(liquids):
        is_rest = index == len(liquids) - 1
        lines.append(
            LineEntry(
                Role.LIQUID,
                key=kind,
                material=materials[MILKS[kind]] if kind in MILKS else None,
                per=Per.REST if is_rest else Per.FATS,
                amount=None if is_rest else (front or share),
                goes_in=place,
            )
        )
    return FormulaEntry(
        name=name,
        lines=lines,
        superfat=written.superfat,
        liquid=sum((share for _kind, share, _place in liquids), Decimal(0)),
        liquid_per=Per.FATS,
        fats_g=Decimal(written.fats_g),
        naoh_from=materials[LYE],
        scale=scales[1],
        fine_scale=fine,
        note=note or written.note,
    )
