"""Devices that may weigh in by themselves: let in with a token, shut out."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.workshop import DeviceForm
from curehouse.web.once import once
from curehouse.web.reading.workshop import device_lines
from curehouse.workshops.models import DeviceToken
from curehouse.workshops.roles import Right
from curehouse.workshops.services import give_token, revoke_token


@never_cache
@for_members(needs=Right.KEEP_HOUSE)
def devices(request: HttpRequest, visit: Visit) -> HttpResponse:
    """List the devices; let one in.

    The secret is shown in the answer itself and kept nowhere, so a form sent twice shows it once.
    """
    form = DeviceForm(request.POST or None)
    given: list[tuple[DeviceToken, str]] = []

    def work() -> str:
        given.append(give_token(actor=visit.actor, at=visit.at, **form.cleaned_data))
        return reverse("web:devices")

    answer = done_once(request, visit, form, work)
    if given:
        token, secret = given[0]
        return render(request, "web/workshop/device_given.html", {"token": token, "secret": secret})
    return answer or render(request, "web/workshop/devices.html", {"form": form, "devices": device_lines(visit)})


@require_POST
@for_members(needs=Right.KEEP_HOUSE)
def device_revoke(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Shut a device out."""
    token = DeviceToken.objects.within(visit.workshop).get_here(pk, what="device")

    def work() -> str:
        revoke_token(token=token, at=visit.at)
        messages.success(request, f"{token.name} is shut out from now on.")
        return reverse("web:devices")

    return once(request, visit, work)
