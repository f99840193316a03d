"""The fatty acids of fats, grouped by what they are: short, long, with one double bond or with more."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

# Atomic weights of IUPAC, g/mol.
_C, _H, _O = 12.011, 1.008, 15.999
# Glycerol less three waters, per fatty acid: what an acid gains as a third of a fat, g/mol.
_GLYCEROL_THIRD = (3 * _C + 2 * _H) / 3
_KOH_MG_PER_MOL = 56105.6


class Group(StrEnum):
    """A physical kind of fatty acids."""

    SHORT = "short"
    LONG = "long"
    ONE_DOUBLE = "one_double"
    MORE_DOUBLE = "more_double"


GROUP_WORDS = {
    Group.SHORT: "short (up to 14 carbon atoms)",
    Group.LONG: "long, saturated (16 and more)",
    Group.ONE_DOUBLE: "with one double bond",
    Group.MORE_DOUBLE: "with two or more double bonds",
}


@dataclass(frozen=True, slots=True)
class FattyAcid:
    """A fatty acid by its carbon atoms, double bonds and hydroxyl groups."""

    carbons: int
    double_bonds: int = 0
    hydroxyls: int = 0

    @property
    def g_per_mol(self) -> float:
        """Molar mass in g/mol, from its sum formula."""
        hydrogens = 2 * (self.carbons - self.double_bonds)
        return self.carbons * _C + hydrogens * _H + (2 + self.hydroxyls) * _O

    @property
    def group(self) -> Group:
        """What it is physically; double bonds tell before length."""
        if self.double_bonds:
            return Group.ONE_DOUBLE if self.double_bonds == 1 else Group.MORE_DOUBLE
        return Group.SHORT if self.carbons <= 14 else Group.LONG


# By the names that tables of fatty acids use: carbon atoms and double bonds.
FATTY_ACIDS = {
    "c4_0": FattyAcid(4),
    "c6_0": FattyAcid(6),
    "c8_0": FattyAcid(8),
    "c10_0": FattyAcid(10),
    "c12_0": FattyAcid(12),
    "c14_0": FattyAcid(14),
    "c16_0": FattyAcid(16),
    "c16_1": FattyAcid(16, 1),
    "c18_0": FattyAcid(18),
    "c18_1": FattyAcid(18, 1),
    "c18_1_oh": FattyAcid(18, 1, 1),
    "c18_2": FattyAcid(18, 2),
    "c18_3": FattyAcid(18, 3),
    "c20_0": FattyAcid(20),
    "c20_1": FattyAcid(20, 1),
    "c22_0": FattyAcid(22),
    "c22_1": FattyAcid(22, 1),
}


def check_profile(profile: Mapping[str, float]) -> None:
    """Refuse a profile that names no known fatty acid or adds up to more than the fat.

    Raises
    ------
    ValueError
        If so. Shares are grams per gram of the fat's fatty acids, 0 or more; up to a hundredth over
        1 is a table's rounding.
    """
    if not profile or not profile.keys() <= FATTY_ACIDS.keys():
        raise ValueError("a profile names fatty acids of the table")
    if min(profile.values()) < 0 or not 0 < math.fsum(profile.values()) <= 1.01:
        raise ValueError("the shares of a profile are 0 or more and make up to 1")


def saponification_value(profile: Mapping[str, float]) -> float:
    """Return the saponification value, in mg KOH per g, of a fat that is all triglyceride of *profile*.

    SV = 56105.6 n / (m + g n), with m the sum of the shares w, n the sum of w / M (mol of fatty
    acids per g) and g = 12.683 g/mol, a third of glycerol less the water. What a real fat holds
    besides (unsaponifiables, water) makes its value a little lower.
    """
    check_profile(profile)
    mol = math.fsum(share / FATTY_ACIDS[name].g_per_mol for name, share in profile.items())
    return _KOH_MG_PER_MOL * mol / (math.fsum(profile.values()) + _GLYCEROL_THIRD * mol)


@dataclass(frozen=True, slots=True)
class GroupShare:
    """A group and its share (0-1) of the fatty acids that are known."""

    group: Group
    share: float


@dataclass(frozen=True, slots=True)
class Groups:
    """The groups of a formula's fats, largest first; ``known`` is the part of the fats (0-1) that they speak of."""

    shares: tuple[GroupShare, ...]
    known: float


def grouped(fats: Sequence[tuple[float, Mapping[str, float] | None]]) -> Groups:
    """Return the groups of fats given as (grams, profile), where a profile that is not known is None.

    What a profile leaves unnamed is left out: the shares are of the acids that are named, and make 1.
    """
    named: dict[Group, list[float]] = {group: [] for group in Group}
    known_g: list[float] = []
    for mass_g, profile in fats:
        if profile is None:
            continue
        check_profile(profile)
        known_g.append(mass_g)
        for name, share in profile.items():
            named[FATTY_ACIDS[name].group].append(mass_g * share)
    sums = {group: math.fsum(parts) for group, parts in named.items()}
    whole_g, all_g = math.fsum(sums.values()), math.fsum(mass_g for mass_g, _ in fats)
    if not whole_g:
        return Groups((), 0.0)
    largest_first = sorted(sums.items(), key=lambda item: (-item[1], item[0]))
    return Groups(tuple(GroupShare(group, mass_g / whole_g) for group, mass_g in largest_first), math.fsum(known_g) / all_g)
