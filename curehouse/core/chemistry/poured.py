"""The superfat of a pour: as it was reckoned, and as it is by the lots that really went in."""

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from .alkali import Alkali
from .bounds import Bounds, total
from .fats import mol_per_g
from .scale import Scales, weighed
from .superfat import Superfat, TooSmall, superfat


@dataclass(frozen=True, slots=True)
class Part:
    """Fat or lye of a pour: grams of it, and what counts for it.

    ``value`` is the saponification value in mg KOH per g, or the purity (0-1) of an ``alkali``; None
    where it is not known. ``material`` and ``key`` say which material of the storeroom, or row of the
    list, it is; ``is_typed`` that a person typed its figure into the formula; ``is_certified`` that it is
    a certificate's or typed and no range's (None: not kept). ``is_rest`` was not weighed by itself, so
    that the scale adds no doubt of its own. ``published`` is what the list, or the trade, says of it where
    ``value`` lies outside: a slip of the pen must not make lye look harmless, so both count (`Pour.superfat`).
    """

    mass_g: float
    value: Bounds | None
    alkali: Alkali | None = None
    material: int | None = None
    key: str = ""
    is_typed: bool = False
    is_rest: bool = False
    is_certified: bool | None = None
    published: Bounds | None = None

    def mol(self, step_g: float) -> Bounds | None:
        """Return its equivalents of alkali, in mol, weighed on a scale of *step_g* grams a step; None where not known."""
        if self.value is None:
            return None
        mass_g = weighed(self.mass_g, 0.0 if self.is_rest else step_g)
        per_g = mol_per_g(self.value) if self.alkali is None else self.value.times(1 / self.alkali.g_per_mol)
        return mass_g.part_of(per_g)


@dataclass(frozen=True, slots=True)
class Pour:
    """What went into a pour as far as lye is concerned; ``acids_mol`` and ``milk_mol`` in mol of alkali."""

    fats: tuple[Part, ...]
    lye: tuple[Part, ...]
    acids_mol: Bounds
    milk_mol: Bounds
    scales: Scales

    @property
    def is_odd(self) -> bool:
        """A figure that counts lies outside of what is published or usual: only a check settles it."""
        return any(part.published is not None for part in (*self.fats, *self.lye))

    def superfat(self) -> Superfat | None:
        """Return the superfat, or None where what one of its parts takes or brings is not known, nor its fats to the scale.

        Where a figure lies outside of what is published its ends are the outer ones of both.
        """
        found = self._by_values()
        if found is None or not self.is_odd:
            return found
        listed = replace(self, fats=_as_published(self.fats), lye=_as_published(self.lye))._by_values()
        return found if listed is None else found.or_as(listed)

    def _by_values(self) -> Superfat | None:
        fats = [part.mol(self.scales.step_g) for part in self.fats]
        lye = [part.mol(self.scales.fine_step_g) for part in self.lye]
        known_fats, known_lye = [one for one in fats if one is not None], [one for one in lye if one is not None]
        if len(known_fats) < len(fats) or len(known_lye) < len(lye):
            return None
        fats_mol, lye_mol = total(known_fats), total(known_lye)
        try:
            return superfat(fats_mol=fats_mol, milk_mol=self.milk_mol, acids_mol=self.acids_mol, lye_mol=lye_mol)
        except TooSmall:
            # It was poured all the same: of what it is nobody knows.
            return None

    def with_lots(self, booked: Sequence[tuple[int | None, Part]]) -> "Pour":
        """Return the pour with the lots that were *booked*: each with the number of the part it is of, None of none.

        Fats and lye keep their weighed mass, and what was not booked stays as it was reckoned. Where
        more lye was booked than weighed, all of it counts: that is the dangerous side.
        """
        fats = [one for one in booked if one[1].alkali is None]
        lye = [one for one in booked if one[1].alkali is not None]
        lye_g = math.fsum(part.mass_g for part in self.lye)
        most_g = max(lye_g, math.fsum(part.mass_g for _number, part in lye))
        return replace(
            self,
            fats=_filled(self.fats, fats, math.fsum(part.mass_g for part in self.fats)),
            lye=_filled(self.lye, lye, most_g),
        )

    def as_plain(self) -> dict[str, Any]:
        """Return it as plain data, to be kept; see `pour_from_plain`."""
        return asdict(self)


def _as_published(parts: tuple[Part, ...]) -> tuple[Part, ...]:
    return tuple(part if part.published is None else replace(part, value=part.published) for part in parts)


def _filled(parts: tuple[Part, ...], booked: Sequence[tuple[int | None, Part]], whole_g: float) -> tuple[Part, ...]:
    """Return what was booked, and as much of *parts* as makes *whole_g* grams with it.

    What is missing is missing where less was booked than reckoned; the scale's doubt is counted once a part.
    """
    booked_g = math.fsum(part.mass_g for _number, part in booked)
    if booked_g <= 0:
        return parts
    fits = min(1.0, whole_g / booked_g)
    taken = tuple(replace(part, mass_g=part.mass_g * fits) for _number, part in booked)
    of_part = [math.fsum(part.mass_g for number, part in booked if number == index) for index in range(len(parts))]
    lacking = [max(0.0, part.mass_g - mass_g) for part, mass_g in zip(parts, of_part, strict=True)]
    rest_g, lack_g = whole_g - booked_g * fits, math.fsum(lacking)
    if rest_g <= whole_g * 1e-9:
        return taken
    shares = [lack / lack_g for lack in lacking] if lack_g else [part.mass_g / whole_g for part in parts]
    rests = [
        replace(part, mass_g=rest_g * share, is_rest=part.is_rest or mass_g > 0)
        for part, share, mass_g in zip(parts, shares, of_part, strict=True)
        if share > 0
    ]
    return (*taken, *rests)


def pour_from_plain(plain: dict[str, Any]) -> Pour:
    """Return the pour that `Pour.as_plain` gave."""

    def bounds(value: dict[str, float] | None) -> Bounds | None:
        return None if value is None else Bounds(**value)

    def parts(rows: list[dict[str, Any]]) -> tuple[Part, ...]:
        return tuple(
            Part(
                **{
                    **row,
                    "value": bounds(row["value"]),
                    "alkali": Alkali(row["alkali"]) if row["alkali"] else None,
                    # Not kept of older pours.
                    "published": bounds(row.get("published")),
                }
            )
            for row in rows
        )

    return Pour(
        fats=parts(plain["fats"]),
        lye=parts(plain["lye"]),
        acids_mol=Bounds(**plain["acids_mol"]),
        milk_mol=Bounds(**plain["milk_mol"]),
        scales=Scales(**plain["scales"]),
    )
