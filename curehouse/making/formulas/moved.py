"""How far the lye of poured versions moves with what is known of a material.

The lines of a version stay as they were poured. What its materials are made of is known of the material,
so an edit of it moves the lye that every version with it asks for.
"""

import hashlib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import ROUND_DOWN, Decimal
from itertools import groupby

from curehouse.common.errors import DomainError
from curehouse.common.time import local_day
from curehouse.common.units import SMALLEST_G, show_at_most
from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.chemistry.formula import planned_lye
from curehouse.making.formulas.adapter import planned
from curehouse.making.formulas.cleaning import cleaned
from curehouse.making.formulas.entries import FormulaEntry, entry_of
from curehouse.making.formulas.known import known_of
from curehouse.making.formulas.sizes import as_weighed
from curehouse.making.lye import alkalis_in_words
from curehouse.making.models import FormulaLine, FormulaVersion, MaterialFacts
from curehouse.workshops.models import Scale, Workshop

# Lye that moves by less than both is the same.
_SAME_G, _SAME_PART = Decimal("0.1"), Decimal("0.001")
# So many versions are worked out, the newest of them; a house has not near as many.
MOST_VERSIONS = 2000
# So many are named, those that move the furthest.
MOST_NAMED = 5


@dataclass(frozen=True, slots=True)
class Lye:
    """The lye of a version in its own size in grams, cut off to the milligram: by its scale, and before its steps."""

    naoh_g: Decimal
    koh_g: Decimal
    exact_naoh_g: Decimal
    exact_koh_g: Decimal

    @property
    def exact_g(self) -> Decimal:
        """All of it, before the steps of the scale."""
        return self.exact_naoh_g + self.exact_koh_g

    def is_as(self, other: "Lye") -> bool:
        """Return whether *other* asks for as much of each alkali."""
        pairs = (
            (self.naoh_g, other.naoh_g),
            (self.koh_g, other.koh_g),
            (self.exact_naoh_g, other.exact_naoh_g),
            (self.exact_koh_g, other.exact_koh_g),
        )
        return all(abs(one - two) < _SAME_G and abs(one - two) <= _SAME_PART * two for one, two in pairs)

    def said(self, unit: str, *, exact: bool) -> str:
        """Return it in words, never rounded up."""
        naoh_g, koh_g = (self.exact_naoh_g, self.exact_koh_g) if exact else (self.naoh_g, self.koh_g)
        return alkalis_in_words(naoh_g + koh_g, koh_g, lambda grams: show_at_most(grams, unit))


@dataclass(frozen=True, slots=True)
class Move:
    """A poured version whose lye was another before an edit; ``now`` is None where none can be worked out any more."""

    version: FormulaVersion
    before: Lye
    now: Lye | None

    @property
    def part(self) -> Decimal:
        """How far it moves, as a part of what it was."""
        if self.now is None or not self.before.exact_g:
            return Decimal(1)
        each = (
            abs(self.now.exact_naoh_g - self.before.exact_naoh_g),
            abs(self.now.exact_koh_g - self.before.exact_koh_g),
        )
        return sum(each) / self.before.exact_g

    def said(self, unit: str) -> str:
        """Return in words what moves how far: ``Goat, version 3: lye from 132.4 g to 134.1 g``."""
        exact = self.now is not None and (self.now.naoh_g, self.now.koh_g) == (self.before.naoh_g, self.before.koh_g)
        was = self.before.said(unit, exact=exact)
        if self.now is None:
            return f"{self.version}: lye {was} before, and none that can be worked out any more"
        return f"{self.version}: lye from {was} to {self.now.said(unit, exact=exact)}"


def poured_lye(
    *, workshop: Workshop, materials: Collection[int], at: datetime, facts: Mapping[int, MaterialFacts] | None = None
) -> dict[int, tuple[FormulaVersion, Lye | None]]:
    """Return the lye of the poured versions with one of *materials* (keys), by their keys, as it is worked out now.

    *facts* by the keys of their materials count over those that are written. Seven queries however many
    versions they are, one where there are none.
    """
    rows = FormulaVersion.objects.within(workshop).poured_with(materials)
    rows = rows.select_related("formula", "naoh_from", "koh_from", "scale", "fine_scale").order_by("-pk")[:MOST_VERSIONS]
    versions = {version.pk: version for version in rows}
    if not versions:
        return {}
    lines = FormulaLine.objects.within(workshop).filter(version__in=versions).select_related("material")
    by_version = groupby(lines.order_by("version", "place"), key=lambda line: line.version_id)
    entries = {pk: entry_of(versions[pk], list(own)) for pk, own in by_version}
    named = [one for entry in entries.values() for one in (*(line.material for line in entry.lines), *_lyes(entry))]
    known = known_of(workshop=workshop, materials=named, on=local_day(at, workshop.time_zone))
    known = replace(known, facts={**known.facts, **(facts or {})})
    scales = list(Scale.objects.within(workshop).in_use())

    def lye(entry: FormulaEntry) -> Lye | None:
        try:
            one = as_weighed(planned(cleaned(entry, known), known, unit=workshop.unit, scales=scales))
            amounts = planned_lye(one.formula)
        except (DomainError, ValueError):
            return None
        weigh, exact = ({each.alkali: _down(grams) for each, grams in pairs} for pairs in (
            [(each, each.weigh_g) for each in amounts], [(each, each.exact_g) for each in amounts],
        ))  # fmt: skip
        none = Decimal(0)
        return Lye(
            weigh.get(Alkali.NAOH, none), weigh.get(Alkali.KOH, none), exact.get(Alkali.NAOH, none), exact.get(Alkali.KOH, none)
        )

    return {pk: (versions[pk], lye(entry)) for pk, entry in entries.items()}


def _lyes(entry: FormulaEntry) -> tuple:
    return (entry.naoh_from, entry.koh_from)


def _down(grams: float) -> Decimal:
    return Decimal(str(grams)).quantize(SMALLEST_G, rounding=ROUND_DOWN)


Poured = Mapping[int, tuple[FormulaVersion, Lye | None]]


def moves(before: Poured, now: Poured) -> list[Move]:
    """Return the versions whose lye is another now, those first that move the furthest; none that had no lye before."""
    found = [
        Move(version, was, now[pk][1])
        for pk, (version, was) in before.items()
        if was is not None and pk in now and ((is_now := now[pk][1]) is None or not is_now.is_as(was))
    ]
    return sorted(found, key=lambda move: (-move.part, -move.version.pk))


def moves_said(found: Sequence[Move], unit: str) -> str:
    """Return in words what moves: the first by name, the others by number."""
    said = "; ".join(move.said(unit) for move in found[:MOST_NAMED])
    more = len(found) - MOST_NAMED
    return said if more <= 0 else f"{said}; and {more} more"


def read_as(found: Sequence[Move]) -> str:
    """Return what says that just these moves were read: with other figures it is another."""
    plain = "\n".join(f"{move.version.pk} {move.before} {move.now}" for move in sorted(found, key=lambda one: one.version.pk))
    return hashlib.sha256(plain.encode()).hexdigest()[:24]


def as_data(found: Sequence[Move]) -> list[dict[str, object]]:
    """Return the first of what moves, for a program; masses in grams."""
    return [
        {
            "version": move.version.pk,
            "formula_name": move.version.formula.name,
            "number": move.version.number,
            "naoh_g_before": f"{move.before.naoh_g}",
            "koh_g_before": f"{move.before.koh_g}",
            "naoh_g": None if move.now is None else f"{move.now.naoh_g}",
            "koh_g": None if move.now is None else f"{move.now.koh_g}",
        }
        for move in found[:MOST_NAMED]
    ]
