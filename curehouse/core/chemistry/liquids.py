"""The liquid: water, milk and powder, in front with the lye and at trace."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from .bounds import ZERO, Bounds, total
from .fats import mol_per_g
from .scale import weighed

# Makers notice milk from a quarter of the liquid on (common practice, no source).
LEAST_NOTICED_MILK = 0.25
# A gram of powder makes about so many grams of milk: whole cow's milk is 12 % solids (USDA SR, NDB 1211).
_MILK_PER_POWDER = 1 / 0.12
# What tables of foods name of 100 g may add up to a little over 100 g.
_TABLE_NOISE = 0.01


class Place(StrEnum):
    """Where a liquid goes in."""

    FRONT = "front"
    TRACE = "trace"


class LiquidKind(StrEnum):
    """What a liquid is, as far as the chemistry asks."""

    WATER = "water"
    MILK = "milk"
    PLANT_MILK = "plant_milk"
    POWDER = "powder"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Composition:
    """What a gram of a liquid is made of, in grams (0-1).

    What ``water``, ``fat`` and ``sugar`` leave over is other solids. ``fat_saponification`` is the
    range of the liquid's own fat in mg KOH per g, needed where there is fat. ``fat_measured`` says
    that the fat is this lot's own figure and not a table's.
    """

    water: Bounds
    fat: Bounds = ZERO
    sugar: float = 0.0
    fat_saponification: Bounds | None = None
    fat_measured: bool = False

    def __post_init__(self) -> None:
        if min(self.water.low, self.fat.low, self.sugar) < 0:
            raise ValueError("the parts of a liquid are 0 or more")
        if not self.water.middle + self.fat.middle + self.sugar <= 1 + _TABLE_NOISE or self.water.high > 1:
            raise ValueError("water, fat and sugar of a liquid make up to 1")
        if self.fat.high > 0 and self.fat_saponification is None:
            raise ValueError("a liquid with fat has the saponification value of its fat")

    @property
    def solids(self) -> float:
        """Protein, ash and whatever else is neither water, fat nor sugar."""
        return max(0.0, 1 - self.water.middle - self.fat.middle - self.sugar)


WATER = Composition(Bounds.exactly(1.0))


@dataclass(frozen=True, slots=True)
class Liquid:
    """A liquid that goes in: ``mass_g`` grams of it, in front with the lye or at trace.

    A powder (`LiquidKind.POWDER`) is weighed dry and counts as no liquid; the water that it is
    stirred with is a line of its own. ``is_thickened`` is asked of plant milks, None if unknown.
    ``unknown`` names the parts (water, fat, sugar) of which nothing is known, and ``counted_as`` what
    they were taken to be.
    """

    name: str
    mass_g: float
    place: Place
    kind: LiquidKind = LiquidKind.WATER
    made_of: Composition = WATER
    is_thickened: bool | None = None
    unknown: tuple[str, ...] = ()
    counted_as: str = ""

    def __post_init__(self) -> None:
        if not 0 < self.mass_g < math.inf:
            raise ValueError("a liquid has a mass above 0 g")

    @property
    def is_milk(self) -> bool:
        """Milk of an animal or a plant, fluid."""
        return self.kind in (LiquidKind.MILK, LiquidKind.PLANT_MILK)

    @property
    def liquid_g(self) -> float:
        """Its part of the total liquid, in grams: all of it, and nothing of a powder."""
        return 0.0 if self.kind is LiquidKind.POWDER else self.mass_g

    def water_g(self, step_g: float = 0.0) -> Bounds:
        """Return its water in grams, which must dry out."""
        return weighed(self.mass_g, step_g).part_of(self.made_of.water)

    def fat_mol(self, step_g: float = 0.0) -> Bounds:
        """Return the equivalents of alkali, in mol, that its own fat takes."""
        value = self.made_of.fat_saponification
        if value is None:
            return ZERO
        return weighed(self.mass_g, step_g).part_of(self.made_of.fat).part_of(mol_per_g(value))


@dataclass(frozen=True, slots=True)
class Split:
    """A planned total of liquid in two parts whose sum it stays; grams."""

    front_g: float
    trace_g: float


def split(*, total_g: float, front_g: float) -> Split:
    """Return what is left for trace when *front_g* grams of a total of *total_g* stand in front.

    Raises
    ------
    ValueError
        If there would be more in front than in total, or either is negative.
    """
    if not 0 <= front_g <= total_g < math.inf:
        raise ValueError("in front goes between 0 g and the total liquid")
    return Split(front_g, total_g - front_g)


def liquid_g(liquids: Sequence[Liquid], place: Place | None = None) -> float:
    """Return the total liquid in grams, or that of one *place*."""
    return math.fsum(one.liquid_g for one in liquids if place is None or one.place is place)


def front_water_g(liquids: Sequence[Liquid]) -> float:
    """Return the water, in grams, in which the lye is dissolved: of a milk its water part, at its low end."""
    front = (one for one in liquids if one.place is Place.FRONT and one.kind is not LiquidKind.POWDER)
    return math.fsum(one.water_g().low for one in front)


def milk_g(liquids: Sequence[Liquid]) -> float:
    """Return how many grams of the total liquid are milk.

    A powder turns the water that is there into milk, wherever it goes in: with 12 % of solids it
    makes about eight times its mass, as far as there is water that is not milk already.
    """
    fluid = math.fsum(one.liquid_g for one in liquids if one.is_milk)
    powder = math.fsum(one.mass_g for one in liquids if one.kind is LiquidKind.POWDER)
    return fluid + min(powder * (_MILK_PER_POWDER - 1), max(0.0, liquid_g(liquids) - fluid))


def free_water(liquids: Sequence[Liquid], step_g: float = 0.0) -> Bounds:
    """Return all water in grams that must dry out (the sum of each liquid's mass times its water)."""
    return total(one.water_g(step_g) for one in liquids)


def milk_fat_mol(liquids: Sequence[Liquid], step_g: float = 0.0) -> Bounds:
    """Return the equivalents of alkali, in mol, that the liquids' own fat takes."""
    return total(one.fat_mol(step_g) for one in liquids)


def sugar_g(liquids: Sequence[Liquid]) -> float:
    """Return the sugar that the liquids bring, in grams."""
    return math.fsum(one.mass_g * one.made_of.sugar for one in liquids)
