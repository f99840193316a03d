"""``1.000``: one gram or a thousand? The mark of thousands in one country is the decimal one in the next."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

# One mark before exactly three digits; nobody writes 0.250 for 250.
_TWO_WAYS = re.compile(r"[1-9]\d{0,2}[.,]\d{3}", re.ASCII)
_MANY = 1000
# No pot of a small workshop holds more fats.
_MOST_FATS_G = Decimal(100_000)


@dataclass(frozen=True, slots=True)
class MassQuestion:
    """A mass that reads two ways: as typed, or with its mark taken for one of thousands.

    ``name`` is the input's. ``few_typed`` and ``many`` are texts that read one way only.
    """

    name: str
    label: str
    typed: str
    few: str
    few_typed: str
    many: str
    unit: str

    @property
    def asked(self) -> str:
        """Return the question: ``Fats read “1.000”: is that 1 g or 1000 g?``."""
        return f"{self.label} “{self.typed}”: is that {self.few} {self.unit} or {self.many} {self.unit}?"


def reads_two_ways(text: str) -> bool:
    """Return whether the mark in *text* may be one of thousands."""
    return _TWO_WAYS.fullmatch(text.strip()) is not None


def fats_may_be_many(fats_g: Decimal) -> bool:
    """Return whether a thousand times *fats_g* grams could have been poured."""
    return fats_g * _MANY <= _MOST_FATS_G


def liquid_may_be_many(mass_g: Decimal, fats_g: Decimal) -> bool:
    """Return whether a thousand times *mass_g* grams of a liquid go with *fats_g* grams of fats."""
    return mass_g * _MANY <= fats_g


def many_times(mass_g: Decimal) -> Decimal:
    """Return the grams meant where the mark is one of thousands."""
    return mass_g * _MANY


def question(name: str, label: str, typed: str, unit: str) -> MassQuestion:
    """Return what to ask about *typed*, which reads two ways."""
    text = typed.strip().replace(",", ".")
    few = text.rstrip("0").rstrip(".")
    # A figure to the milligram would be asked about again.
    few_typed = f"{few}0" if reads_two_ways(few) else few
    return MassQuestion(name, label, typed.strip(), few, few_typed, text.replace(".", ""), unit)


def as_kept(prefilled: Iterable[tuple[str, str]]) -> str:
    """Return those of (input, text) that read two ways but come from an earlier batch, for a hidden input."""
    return " ".join(f"{name}={text}" for name, text in prefilled if reads_two_ways(text))


def with_the_answer(data: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return what was sent, with the answer to a question in the place of its mass."""
    name, _, text = data.get("take_mass", "").partition("=")
    if name not in data or not text:
        return data
    return {**{key: data[key] for key in data if key != "take_mass"}, name: text}
