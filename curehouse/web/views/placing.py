"""What the pages that put bars somewhere have in common."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from curehouse.common.errors import Conflict, DomainError
from curehouse.making.models import Batch
from curehouse.web.access import Visit
from curehouse.web.errors import add_to_form
from curehouse.web.forms.places import FullPosition, PlacingForm
from curehouse.web.once import once


def batch_here(visit: Visit, pk: int) -> Batch:
    """Return a batch of this workshop."""
    return Batch.objects.within(visit.workshop).select_related("formula", "workshop", "version").get_here(pk, what="batch")


def batch_on_the_racks(visit: Visit, pk: int) -> Batch:
    """Return a batch of this workshop that is curing."""
    batch = batch_here(visit, pk)
    if batch.state != Batch.State.CURING:
        raise Conflict("not_curing", f"{batch} has no bars on the racks.")
    return batch


def placed_once(request: HttpRequest, visit: Visit, form: PlacingForm, work: Callable[[], str]) -> HttpResponse | None:
    """Do *work* once, as ``done_once`` does; a full position is asked about with its two ways out."""
    if request.method != "POST" or not form.is_valid():
        return None
    try:
        return once(request, visit, work)
    except DomainError as error:
        if error.code == "position_full":
            form.full = FullPosition.of(error)
        else:
            add_to_form(form, error)
        return None


def where_to(written: list) -> str:
    """Return the places that bars went to, in words."""
    return "; ".join(f"{row.bars} at {row.target}" for row in written)
