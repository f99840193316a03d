"""What a spreadsheet shows around a number: the words of its number format, by ECMA-376, part 1, 18.8.31.

A sheet whose cells hold 5 and show “5 kg” means five kilograms; so does one that holds 5000 and shows
it in thousands. A code that its format pads, 7 as L-0007, is that code where words are wanted.
"""

import operator
import re
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache

from curehouse.common.tables.cells import Figure

_PART = re.compile(
    r'"(?P<quoted>[^"]*)"?|\\(?P<escaped>.)|\[\$(?P<money>[^\]-]*)(?:-[^\]]*)?\]|\[(?P<told>[^\]]*)\]|[_*].'
    r"|(?P<general>General)|(?P<fraction>[0#?][0#? ]*(?:\\ )*[0#? ]*/ *(?:[0#?]+|[1-9]\d*))"
    r"|(?P<digits>[0#?][0#?,. ]*(?:[eE][+-][0#?]+)?|\.[0#?]+)|(?P<percent>%)|(?P<end>;)|(?P<plain>.)",
    re.IGNORECASE | re.DOTALL,
)
_IF = re.compile(r"(<=|>=|<>|<|>|=)(-?[0-9.]+)")
_HOLDS = {
    "<": operator.lt, "<=": operator.le, ">": operator.gt, ">=": operator.ge, "=": operator.eq, "<>": operator.ne,
}  # fmt: skip
# What stands around a figure without a meaning of its own.
_SETTING = " \u00a0\u202f\u2009()+-:"


@dataclass(slots=True)
class _Section:
    """A part of a format: for which numbers it is, what it writes around them, and how much they are scaled."""

    holds: str = ""
    than: Decimal = Decimal(0)
    before: str = ""
    behind: str = ""
    scale: Decimal = Decimal(1)
    has_figure: bool = False
    # What is shown, in its order: places for figures (of which words hold none), and words.
    parts: list[tuple[bool, str]] = field(default_factory=list)

    def add(self, text: str) -> None:
        self.parts.append((False, text))
        if self.has_figure:
            self.behind += text
        else:
            self.before += text

    def figure(self, digits: str) -> None:
        # Commas behind the last place show thousands: 5000 is shown as 5.
        self.scale /= 1000 ** (len(digits.rstrip(" ")) - len(digits.rstrip(" ,")))
        self.has_figure, self.behind = True, ""
        self.parts.append((True, digits))

    @property
    def says_nothing(self) -> bool:
        return not self.before and not self.behind and self.scale == 1 and not self.is_code

    @property
    def is_code(self) -> bool:
        """Whether more zeros are shown than a number needs, or its figures stand in groups of their own."""
        runs = [text for is_figure, text in self.parts if is_figure]
        return len(runs) > 1 or any(re.match("#*0[0#]", run) for run in runs)

    def written(self, number: Decimal) -> str:
        """Return *number* as this shows it, or nothing where that is not known for sure."""
        runs = [text for is_figure, text in self.parts if is_figure]
        digits = _digits_of(number, runs) if self.scale == 1 and number >= 0 else []
        if not digits:
            return ""
        left = iter(digits)
        return " ".join("".join(next(left) if is_figure else text for is_figure, text in self.parts).split())


def _digits_of(number: Decimal, runs: list[str]) -> list[str]:
    """Return what stands in each place for figures, or none: of codes in groups, whole numbers; of others, decimals as well."""
    if runs in (["General"], ["general"]):
        return [f"{number.normalize():f}"]
    if len(runs) == 1 and (decimals := re.fullmatch(r"#*0\.(0+)", runs[0])):
        return [f"{number.quantize(Decimal(1).scaleb(-len(decimals[1])), ROUND_HALF_UP):f}"]
    if number != number.to_integral_value() or not all(re.fullmatch("[0#]+", run) for run in runs):
        return []
    places = "".join(runs)
    text = f"{number:.0f}".lstrip("0").rjust(len(places[places.find("0") :]) if "0" in places else 0, "0")
    found = []
    for run in reversed(runs[1:]):
        found.append(text[-len(run) :])
        text = text[: -len(run)]
    return [text, *reversed(found)]


@lru_cache(maxsize=1024)
def _sections(number_format: str) -> tuple[_Section, ...]:
    """Return the parts of a format, or none where no part writes anything around its number."""
    found = [_Section()]
    for part in _PART.finditer(number_format):
        now, kind, text = found[-1], part.lastgroup, part[part.lastgroup] if part.lastgroup else ""
        if kind == "end":
            found.append(_Section())
        elif kind in ("digits", "general"):
            now.figure(text.rstrip(" ") if kind == "digits" else text)
            now.add(text[len(text.rstrip(" ")) :] if kind == "digits" else "")
        elif kind == "fraction":
            # It is read by what is kept, however coarsely it is shown.
            now.figure(text)
        elif kind == "percent":
            now.scale *= 100
            now.add("%")
        elif kind == "told":
            condition = _IF.fullmatch(text)
            if condition is not None:
                now.holds, now.than = condition[1], Decimal(condition[2])
        elif kind is not None:
            now.add(text)
    for one in found:
        one.before, one.behind = one.before.strip(_SETTING), one.behind.strip(_SETTING)
    return () if all(one.says_nothing for one in found) else tuple(found)


def _section_for(number: Decimal, sections: tuple[_Section, ...]) -> _Section:
    if any(one.holds for one in sections):
        return next((one for one in sections if not one.holds or _HOLDS[one.holds](number, one.than)), sections[-1])
    place = 1 if number < 0 and len(sections) > 1 else 2 if not number and len(sections) > 2 else 0
    return sections[place]


def as_shown(number: Decimal, number_format: str) -> Decimal | Figure:
    """Return a number with the words that its format writes around it, or the number where it writes none."""
    sections = _sections(number_format)
    if not sections:
        return number
    section = _section_for(number, sections)
    # A part without a place for figures hides the number, as “-” for nothing does: the number is there all the same.
    if section.says_nothing or not section.has_figure:
        return number
    shown = number * section.scale
    if not (section.before or section.behind or section.is_code):
        return shown
    return Figure(shown, section.before, section.behind, section.written(number))
