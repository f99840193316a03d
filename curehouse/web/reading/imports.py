"""What is shown of files that are brought in."""

from dataclasses import dataclass
from datetime import timedelta

from django.core.paginator import Page, Paginator
from django.urls import reverse

from curehouse.flows.bring_in.kinds import KINDS
from curehouse.flows.bring_in.outcome import Outcome, counted, outcome_of
from curehouse.flows.bring_in.progress import Far
from curehouse.intake.models import Import
from curehouse.web.access import Visit
from curehouse.web.marks import Mark
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.words import count

PAGE_OF_IMPORTS = 25
# Longer than the longest step of a file takes, but for reading a long one.
_A_STEP = timedelta(seconds=30)
_State = Import.State
_MARKS = {
    _State.LAID_OUT: Mark("laid_out", "□", "columns to be named", "state-ochre", "say what its columns are"),
    _State.CHECKING: Mark("checking", "◷", "being checked", "state-water", "the house reads it"),
    _State.CHECKED: Mark("checked", "◇", "checked", "state-ochre", "look at what would come in"),
    _State.BRINGING: Mark("bringing", "◷", "coming in", "state-water", "the house writes it"),
    _State.BROUGHT: Mark("brought", "✓", "brought in", "state-leaf", "all of it is here"),
    _State.FAILED: Mark("failed", "✕", "did not come in", "state-clay", "it says why"),
}


@dataclass(frozen=True, slots=True)
class ImportLine:
    """A file as a line of the list."""

    name: str
    href: str
    note: str
    mark: Mark


def still_words(visit: Visit, brought: Import, far: Far | None) -> str:
    """Return since when nothing has moved, if for longer than a step takes, and when another would take the file up."""
    if far is None or visit.at - far.said_at < _A_STEP:
        return ""
    calendar = Calendar(visit.workshop, visit.at)
    said = f"Nothing has moved since {calendar.moment(far.said_at)}: a long file is read for minutes."
    if brought.claimed_until is None or brought.claimed_until <= visit.at:
        return f"{said} It is taken up anew within a minute."
    return f"{said} If the house was ended meanwhile, it is taken up anew at {calendar.moment(brought.claimed_until)}."


def mark_of_import(state: str) -> Mark:
    """Return the mark of an import's state."""
    return _MARKS[_State(state)]


def kind_label(brought: Import) -> str:
    """Return what a file holds, as the page says it."""
    return KINDS[brought.kind].label if brought.kind in KINDS else brought.kind


def imports_page(visit: Visit, number: str | None) -> tuple[Page, list[ImportLine]]:
    """Return a page of what was laid out and brought in, the newest first."""
    page = Paginator(Import.objects.within(visit.workshop).newest_first(), PAGE_OF_IMPORTS).get_page(number)
    calendar = Calendar(visit.workshop, visit.at)
    return page, [
        ImportLine(
            name=row.name,
            href=reverse("web:import", args=[row.pk]),
            note=f"{kind_label(row)}, {calendar.moment(row.laid_out_at)}",
            mark=mark_of_import(row.state),
        )
        for row in page
    ]


def sums(counts: dict[str, int]) -> list[str]:
    """Return what there is of each thing, leaving out what there is none of."""
    return [counted(what, number) for what, number in counts.items() if number]


@dataclass(frozen=True, slots=True)
class OutcomeShown:
    """What checking came to, in words."""

    outcome: Outcome
    rows: str
    adds: list[str]
    known: list[str]
    refused: str
    more_refused: str
    left_out: str
    can_come_in: bool


def outcome_shown(brought: Import) -> OutcomeShown | None:
    """Return what checking came to, or None where it has not been checked."""
    if brought.outcome is None:
        return None
    found = outcome_of(brought.outcome)
    listed = len({(one.table, one.row) for one in found.refusals})
    hidden = found.refused_rows - listed
    return OutcomeShown(
        outcome=found,
        rows=count(found.rows_read, "row"),
        adds=sums(dict(found.adds)),
        known=sums(dict(found.known)),
        refused=count(found.refused_rows, "row") if found.refused_rows else "",
        more_refused=f"{hidden:,} more rows are refused." if hidden > 0 else "",
        left_out=_left_out(found),
        can_come_in=not found.refused_rows and not found.adds_nothing,
    )


def _left_out(found: Outcome) -> str:
    if not found.left_out_count:
        return ""
    named = ", ".join(found.left_out[:12])
    more = f" and {found.left_out_count - 12} more" if found.left_out_count > 12 else ""
    return f"{named}{more}"
