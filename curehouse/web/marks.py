"""The marks of the house: every state is a word beside a mark, defined once."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Mark:
    """How one state is shown: `mark` is a single character, `css` a class that colours it."""

    state: str
    mark: str
    word: str
    css: str
    meaning: str

    def __str__(self) -> str:
        return f"{self.mark} {self.word}"


_ALL = (
    Mark("curing", "◷", "curing", "state-water", "drying on the rack"),
    Mark("check_due", "◇", "check due", "state-leaf", "dry enough, its safety check is due"),
    Mark("check_failed", "▲", "check failed", "state-clay", "its last safety check failed: nobody gets these bars"),
    Mark("caustic", "◬", "may be caustic", "state-clay", "by its formula or its lots: nobody gets these bars unchecked"),
    Mark("ready", "✓", "ready", "state-leaf", "dry enough, safety check passed"),
    Mark("too_soft", "■", "too soft", "state-clay", "past its latest day, or dents though dry"),
    Mark("look_again", "?", "look again", "state-ochre", "a weight is in doubt"),
    # On the curve a weighing is a circle; the dotted one is the weighing that is missing.
    Mark("not_weighed", "◌", "not weighed", "state-ochre", "no weighing for 14 days or more"),
    Mark("soft_likely", "◧", "may stay soft", "state-ochre", "foretold: likelier than not to stay too soft"),
    Mark("ready_soon", "◕", "dry soon", "state-water", "foretold: likelier than not dry enough within a week"),
    Mark("moved", "⇄", "date moved", "state-ochre", "foretold to be dry enough on another day than before"),
    Mark("enough", "⊕", "enough", "state-leaf", "enough of it is free on the day of the run"),
    Mark("perhaps_short", "◒", "perhaps short", "state-ochre", "enough only if what is on its way comes on its likely day"),
    Mark("at_risk", "◓", "at risk", "state-ochre", "what a run takes is there only if orders come on their likely day"),
    Mark("no_place", "⊞", "no place", "state-ochre", "not all bars of a run have a place for the whole of their cure"),
    Mark(
        "milk_freeze",
        "❄",
        "freeze milk",
        "state-water",
        "a run is poured within two days, and its milk wants a night of frost",
    ),
    Mark("market", "⌂", "market", "state-plain", "bars are wanted on this day"),
    Mark("milk_out", "◍", "milk out", "state-water", "the milk of a run that is poured today has to be taken out"),
    Mark("not_told", "≟", "cannot be told", "state-ochre", "no amount is told of something the run takes: see its formula"),
    Mark("short", "○", "short", "state-clay", "less of it is free on the day than the run takes"),
    Mark("planned", "□", "planned", "state-plain", "not poured yet"),
    Mark("poured", "▽", "poured", "state-plain", "in the mould, not cut yet"),
    Mark("released", "→", "released", "state-leaf", "taken out for sale"),
    Mark("rejected", "✕", "rejected", "state-clay", "not to be sold"),
    Mark("closed", "–", "closed", "state-plain", "no bars left"),
    Mark("to_order", "▼", "to order", "state-ochre", "it stands on an order that waits for a decision"),
    Mark(
        "put_off",
        "↷",
        "put off",
        "state-plain",
        "put off by a person, or called off with its order",
    ),
    Mark("in_order", "●", "in order", "state-leaf", "released, and not past its best-before"),
    Mark("expiring", "◔", "expires soon", "state-ochre", "its best-before comes within thirty days"),
    Mark("left_over", "◑", "will be left", "state-ochre", "a good part of it will still be there on its best-before"),
    Mark("expired", "⊗", "expired", "state-clay", "past its best-before: for planning it is not there"),
    Mark("quarantine", "◫", "in quarantine", "state-ochre", "waits for a person to release or reject it"),
    Mark("lot_rejected", "⊘", "rejected", "state-clay", "not to be used"),
    Mark("used_up", "∅", "used up", "state-plain", "nothing of it is left"),
    Mark("estimated", "≈", "estimated", "state-ochre", "judged by eye, and not weighed or counted since"),
    Mark("counted", "☑", "counted", "state-leaf", "all of it is counted on the store count that is under way"),
    Mark("written", "✎", "written", "state-plain", "not sent yet: it can be added to"),
    Mark("sent", "⇢", "sent", "state-water", "on its way"),
    Mark("partly_in", "◐", "partly in", "state-ochre", "some of it is still to come"),
    Mark("in", "◉", "in", "state-leaf", "nothing more of it is to come"),
    Mark("called_off", "⌀", "called off", "state-plain", "nothing of it will come"),
    Mark("order_late", "‼", "late", "state-clay", "past the day on which it was likely to come"),
    Mark("order_decide", "✍", "to decide", "state-ochre", "written by the house: send it, change it, or put it off"),
    Mark("ended", "⊟", "ended", "state-plain", "not sold any more"),
    Mark(
        "held",
        "‖",
        "held",
        "state-clay",
        "its bars go to nobody until a person lifts the hold",
    ),
    Mark("refused", "⊠", "refused", "state-clay", "this formula must not be poured as it is"),
    Mark("warned", "△", "read first", "state-ochre", "what to know, and perhaps change, before it is poured"),
    Mark("noted", "·", "note", "state-plain", "good to know about a formula"),
    Mark("retired", "⊖", "retired", "state-plain", "not bought any more"),
)

MARKS: Mapping[str, Mark] = MappingProxyType({mark.state: mark for mark in _ALL})


def mark_of(state: str) -> Mark:
    """Return the mark of *state*; a state without one is a LookupError that names it."""
    try:
        return MARKS[state]
    except KeyError:
        raise LookupError(f"No mark is defined for the state {state!r}.") from None


def mark_in_the_way(code: str) -> Mark:
    """Return the mark of what stands in the way of a batch's bars (a code of its obstacles)."""
    return MARKS["caustic" if code == "check_needed" else code]


def mark_beside(shown_as: str, obstacles: Iterable[str]) -> Mark | None:
    """Return the mark that stands beside a cure's own: of its obstacles (codes) the gravest that its state does not say."""
    marks = map(mark_in_the_way, obstacles)
    return next((mark for mark in marks if mark.state != shown_as), None)
