"""The rooms: what their air is like, which racks stand there."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from curehouse.common.errors import Conflict
from curehouse.curing.models import Rack, RackRoom, Room, RoomReading
from curehouse.curing.services.rooms import add_room, rename_room
from curehouse.flows.log_air import log_air, withdraw
from curehouse.flows.stand_rack import stand_rack
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.rooms import AirForm, RackRoomForm, RoomForm, WithdrawForm
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.rooms import air_words, read_room, room_lines
from curehouse.web.walking import number_in
from curehouse.workshops.roles import Right

_SENDS = ["GET", "HEAD", "POST"]


@require_http_methods(_SENDS)
@for_members(needs=Right.SEE, to_write=Right.MAKE)
def rooms(request: HttpRequest, visit: Visit) -> HttpResponse:
    """List the rooms; write one down."""
    request.room = "racks"
    form = RoomForm(request.POST or None)

    def work() -> str:
        return reverse("web:room", args=[add_room(workshop=visit.workshop, name=form.cleaned_data["name"]).pk])

    answer = done_once(request, visit, form, work)
    return answer or render(request, "web/rooms/rooms.html", {"form": form, "lines": room_lines(visit)})


@require_http_methods(_SENDS)
@for_members(needs=Right.SEE, to_write=Right.MAKE)
def room(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Show a room's log; give the room another name."""
    request.room = "racks"
    row = Room.objects.within(visit.workshop).get_here(pk, what="room")
    name = row.name
    form = RoomForm(request.POST or None, initial={"name": name})

    def work() -> str:
        messages.success(request, f"{name} is called {rename_room(room=row, name=form.cleaned_data['name'])} now.")
        return reverse("web:room", args=[pk])

    answer = done_once(request, visit, form, work)
    row.name = name
    view = read_room(visit, row, span=number_in(request, "days"), number=request.GET.get("page"))
    return answer or render(request, "web/rooms/room.html", {"form": form, "view": view})


@require_http_methods(_SENDS)
@for_members(needs=Right.SEE, to_write=Right.LOG_ROOM)
def room_air(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Write down what the instruments in a room show."""
    request.room = "racks"
    form = AirForm(request.POST or None, workshop=visit.workshop, initial={"room": number_in(request, "room")})
    form.order_fields(["room", "humidity_pct", "temperature", "degrees", "moment"])

    def work() -> str:
        chosen = form.cleaned_data["room"]
        row, is_new = log_air(actor=visit.actor, room=chosen, entry=form.entry(visit), at=visit.at)
        if not is_new:
            raise Conflict("sent_before", "This was written down before.")
        messages.success(request, f"{chosen}: {air_words(row.humidity_pct, row.temperature_c, visit.workshop)} is kept.")
        return reverse("web:room", args=[chosen.pk])

    return done_once(request, visit, form, work) or render(request, "web/rooms/air.html", {"form": form})


@require_http_methods(_SENDS)
@for_members(needs=Right.SEE, to_write=Right.LOG_ROOM)
def air_withdraw(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Withdraw a reading that is wrong."""
    request.room = "racks"
    row = RoomReading.objects.within(visit.workshop).select_related("room").get_here(pk, what="reading")
    form = WithdrawForm(request.POST or None)
    said = air_words(row.humidity_pct, row.temperature_c, visit.workshop)

    def work() -> str:
        withdraw(actor=visit.actor, reading=row, reason=form.cleaned_data["reason"], at=visit.at)
        messages.success(request, f"{said} is withdrawn: it stays on record, and counts no more.")
        return reverse("web:room", args=[row.room_id])

    when = Calendar(visit.workshop, visit.at).moment(row.moment)
    page = {"form": form, "reading": row, "said": said, "when": when}
    return done_once(request, visit, form, work) or render(request, "web/rooms/withdraw.html", page)


@require_http_methods(_SENDS)
@for_members(needs=Right.SEE, to_write=Right.MAKE)
def rack_room(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Say in which room a rack stands, and since when."""
    request.room = "racks"
    rack = Rack.objects.within(visit.workshop).get_here(pk, what="rack")
    said = RackRoom.objects.within(visit.workshop).filter(rack=rack).select_related("room").order_by("pk")
    newest = said.last()
    form = RackRoomForm(request.POST or None, workshop=visit.workshop, initial={"room": newest and newest.room_id})
    form.order_fields(["room", "since"])

    def work() -> str:
        values = form.cleaned_data
        stand_rack(actor=visit.actor, rack=rack, room=values["room"], since=values["since"], at=visit.at)
        messages.success(request, f"{rack} stands in {values['room']}.")
        return reverse("web:rack", args=[pk])

    page = {"form": form, "rack": rack, "said": said, "has_rooms": form.fields["room"].queryset.exists()}
    return done_once(request, visit, form, work) or render(request, "web/rooms/rack_room.html", page)
