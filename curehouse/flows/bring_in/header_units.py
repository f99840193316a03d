"""What the header of a column says its figures are in: a unit, a per cent sign, or nothing.

A unit that is not known is handed on as it is written, so that it is refused where a cell's own would be.
"""

import csv
import re
import unicodedata
from enum import Enum, auto
from importlib.resources import files

from curehouse.flows.bring_in.options import UNIT_WORDS

PIECES = "pieces"
PERCENT = "%"
_OUNCES_OF_A_LIQUID = "floz"
_BRACKETS = re.compile(r"[(\[](.*?)[)\]]")


def _words() -> dict[str, frozenset[str]]:
    """Return words of several languages by what they are; *other* are units from which no mass follows."""
    text = files("curehouse.flows.bring_in").joinpath("data/header_units.csv").read_text("utf-8")
    return {row["what"]: frozenset(row["words"].split("|")) for row in csv.DictReader(text.splitlines())}


_WORDS = _words()
PIECES_WORDS, DAY_WORDS, WEEK_WORDS = _WORDS["pieces"], _WORDS["days"], _WORDS["weeks"]
WEEKS = "weeks"


class Holds(Enum):
    """What the cells of a column are."""

    WORDS = auto()
    DAY = auto()
    DAYS = auto()
    MASS = auto()
    # A mass, or a number of pieces.
    AMOUNT = auto()
    # A mass, or a share of the fats.
    PART = auto()
    # A share of the fresh bar.
    BAR_SHARE = auto()
    PER_CENT = auto()
    MONEY = auto()
    FIGURE = auto()


FIGURES = frozenset(Holds) - {Holds.WORDS, Holds.DAY}
MASSES = frozenset({Holds.MASS, Holds.AMOUNT, Holds.PART})
SHARES = frozenset({Holds.BAR_SHARE, Holds.PER_CENT})


def _folded(text: str) -> str:
    return "".join(one for one in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(one))


def _all_folded(what: str) -> frozenset[str]:
    return frozenset(map(_folded, _WORDS[what]))


_UNITS = {
    **dict.fromkeys(_all_folded("pieces"), PIECES),
    **{_folded(word): unit for word, unit in UNIT_WORDS.items()},
    **{word: word for word in _all_folded("other")},
}
_TIMES = {
    **dict.fromkeys(_all_folded("days"), "days"),
    **dict.fromkeys(_all_folded("weeks"), WEEKS),
    **{word: word for word in _all_folded("time")},
}
_BARS = _all_folded("pieces") | _all_folded("bars")
_NUMBERED = frozenset({"no", "nr", "number"})
_PERCENT_WORDS, _OF, _FATS, _LYE = map(_all_folded, ("per cent", "of", "fats", "lye"))


def words_of(header: str) -> list[str]:
    """Return the words of a header, small and without marks; a per cent sign is a word, and so is ``fl oz``."""
    words: list[str] = []
    for word in re.findall(r"%|[^\W_]+", re.sub(r"(\d)(?=[^\W\d_])", r"\1 ", _folded(header))):
        if words and words[-1] in ("fl", "fluid") and UNIT_WORDS.get(word) == "oz":
            words[-1] = _OUNCES_OF_A_LIQUID
        else:
            words.append(PERCENT if word in _PERCENT_WORDS else word)
    return words


def is_unit(word: str) -> bool:
    """Return whether a word of :func:`words_of` is a unit, known or not, or per cent."""
    return word in _UNITS or word == PERCENT


def unit_called(word: str) -> str:
    """Return a unit as :func:`unit_in` names it, or what stands there."""
    return _joined([_UNITS.get(one, one) for one in words_of(word)])


def outside_brackets(header: str) -> str:
    """Return a header without what stands in its brackets."""
    return _BRACKETS.sub(" ", header)


def in_brackets(header: str) -> list[str]:
    """Return what stands in the brackets of a header."""
    return _BRACKETS.findall(header)


def unit_in(header: str, holds: Holds) -> str:
    """Return the unit that a header names for its figures, in brackets or as its last word, or nothing.

    That is ``g``, ``kg``, ``oz``, ``lb``, ``pieces``, ``days``, ``weeks``, ``%``, ``% of oils``, or what is not
    known as it stands.
    """
    if holds is Holds.DAYS:
        return _joined([_TIMES[word] for word in words_of(header) if word in _TIMES])
    if holds not in MASSES | SHARES:
        return ""
    told = [_named(words_of(text), holds, is_bracket=True) for text in in_brackets(header)]
    told.append(_named(words_of(outside_brackets(header)), holds, is_bracket=False))
    return _joined([one for one in told if one])


def bar_in(header: str) -> str:
    """Return the bar that a header of weights names in brackets, or nothing: ``A`` of ``Weight (A)``, ``1`` of ``(Stück 1)``.

    A letter that is a unit (g, l, t) is one.
    """
    return next(filter(None, map(_bar, in_brackets(header))), "")


def _bar(text: str) -> str:
    shown, words = re.findall(r"[^\W_]+", text), words_of(text)
    named = [word for word in words if word not in _NUMBERED]
    if len(words) == 1 and len(text.strip()) == 1 and text.strip().isalpha() and words[0] not in _UNITS:
        return text.strip()
    is_mark = len(named) == 2 and named[0] in _BARS and re.fullmatch(r"[0-9]{1,3}|[a-z][0-9]{0,2}", named[1])
    return shown[-1] if is_mark and len(shown[-1]) == len(named[1]) else ""


def _joined(units: list[str]) -> str:
    """Return the one unit of a list; of several that differ what stands there, which is none."""
    return " ".join(dict.fromkeys(units))


def _named(words: list[str], holds: Holds, *, is_bracket: bool) -> str:
    if PERCENT in words:
        return _share_of(words if is_bracket else words[words.index(PERCENT) :], is_bracket=is_bracket)
    if is_bracket and holds is Holds.BAR_SHARE and set(words) & (_FATS | _LYE):
        return f"{PERCENT} of {' '.join(word for word in words if word not in _OF)}"
    places = range(len(words)) if is_bracket else range(len(words))[-1:]
    if is_bracket and holds is Holds.MASS and _bar(" ".join(words)):
        return ""
    found = [_UNITS[words[place]] for place in places if words[place] in _UNITS]
    many = [words[place - 1] for place in places if place and words[place] in _UNITS and words[place - 1].isdecimal()]
    if found:
        return " ".join([*(number for number in many if number != "1"), _joined(found)])
    looks_like_one = is_bracket and len(words) == 1 and len(words[0]) <= 2 and words[0].isalpha() and holds in MASSES
    return words[0] if looks_like_one else ""


def _share_of(words: list[str], *, is_bracket: bool) -> str:
    """Return of what a share is one: ``%``, or ``% of oils``."""
    rest = [word for word in words if word != PERCENT]
    # Behind a sign that stands free a noun follows its “of”: “Water % of oils”, but “% fat”.
    if not is_bracket and not (rest and rest[0] in _OF):
        return PERCENT
    whole = [word for word in rest if word not in _OF]
    if any(word in _UNITS for word in whole):
        return " ".join(words)
    return f"{PERCENT} of {' '.join(whole)}" if whole else PERCENT


def fits(unit: str, holds: Holds) -> bool:
    """Return whether figures in *unit* are what a column holds; a unit that is not known fits where a mass would."""
    is_share, of = unit.startswith(PERCENT), set(unit.split()[2:])
    if holds is Holds.BAR_SHARE:
        return not unit or (is_share and not of & (_FATS | _LYE))
    if holds is Holds.PER_CENT:
        return not unit or is_share
    if holds is Holds.PART:
        return not is_share or not of or bool(of & _FATS)
    return not is_share or holds not in MASSES
