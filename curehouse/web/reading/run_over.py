"""What became of a run that is not planned any more: whoever comes to move it, or to call it off, is told."""

from dataclasses import dataclass

from django.urls import reverse

from curehouse.making.models import Run, RunChange
from curehouse.web.access import Visit
from curehouse.web.reading.days import Calendar


@dataclass(frozen=True, slots=True)
class RunOver:
    """What became of a run, and where to go from there."""

    said: str
    batch_name: str
    batch_href: str
    again_href: str


def read_over(visit: Visit, run: Run) -> RunOver | None:
    """Return what became of a run, as it stands by now; None while it is planned."""
    row = Run.objects.within(visit.workshop).select_related("batch__formula").get(pk=run.pk)
    if row.state == Run.State.PLANNED:
        return None
    changes = RunChange.objects.within(visit.workshop).filter(run=row, what=row.state)
    last = changes.select_related("by_user", "by_device").order_by("-at", "-pk").first()
    said = f"This run was {row.get_state_display()}"
    if last is not None:
        when = Calendar(visit.workshop, visit.at).moment(last.at)
        said += f" {when}, by {last.signed_by}{': ' if last.why else ''}{last.why}"
    return RunOver(
        said=f"{said}.",
        batch_name=str(row.batch) if row.batch else "",
        batch_href=reverse("web:batch", args=[row.batch_id]) if row.batch else "",
        again_href=reverse("web:version_run", args=[row.version_id]),
    )
