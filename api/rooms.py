"""Rooms, and the log of their air: sent by a sensor one by one or many at once, listed, withdrawn.

A sensor's token reaches what is sent here and nothing else: it may not even look.
"""

from collections import Counter
from typing import Any

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from api.errors import row_faults
from api.fields import DayField, FigureField, KeyField, MomentField, TextField
from api.filtering import ChoiceFilter, DayFilter, FlagFilter, KeyFilter, MomentFilter
from api.views import Body, Detail, Listing, WorkshopView
from curehouse.common.errors import Invalid
from curehouse.curing.models import Rack, RackRoom, Room, RoomDay, RoomReading
from curehouse.curing.services.room_log import AirEntry, is_passed_over
from curehouse.curing.services.rooms import add_room, rename_room
from curehouse.flows.log_air import MOST_ROWS, log_air, log_air_many, sensed, withdraw
from curehouse.flows.stand_rack import stand_rack
from curehouse.flows.weigh_many import RowFault, RowsRefused
from curehouse.workshops.roles import Right


class RoomOut(serializers.ModelSerializer):
    """A room. The first one is that of every rack of which nobody said where it stands."""

    class Meta:
        model = Room
        fields = read_only_fields = ["id", "name"]


class RoomIn(Body):
    """A room's name."""

    name = TextField(max_length=200)


class AirOut(serializers.ModelSerializer):
    """The air of a room at a moment; withdrawn it stays on record, and counts no more."""

    is_withdrawn = serializers.BooleanField(read_only=True)
    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = RoomReading
        fields = read_only_fields = [
            "id",
            "room",
            "moment",
            "humidity_pct",
            "temperature_c",
            "source",
            "is_withdrawn",
            "signed_by",
            "received_at",
        ]


class AirIn(Body):
    """The air of a room: relative humidity in %, and the temperature in °C where it is known."""

    moment = MomentField(help_text="When it was read.")
    humidity_pct = FigureField(max_digits=12, decimal_places=6)
    temperature_c = FigureField(max_digits=12, decimal_places=6, required=False, allow_null=True, default=None)


class AirsIn(Body):
    """Up to a thousand readings of one room."""

    readings = AirIn(many=True)


class AirRowOut(serializers.Serializer):
    """What became of one reading: ``sent_before`` if the same sensor sent its moment earlier.

    ``passed_over`` if another of the same quarter of an hour came first: that one is kept, and its id and moment are said.
    """

    id = serializers.IntegerField()
    moment = serializers.DateTimeField()
    result = serializers.ChoiceField(choices=["written", "sent_before", "passed_over"])


class AirRowsOut(serializers.Serializer):
    """What became of the readings, in the order they were sent."""

    written = serializers.IntegerField()
    sent_before = serializers.IntegerField()
    passed_over = serializers.IntegerField()
    readings = AirRowOut(many=True)


class AirDayOut(serializers.ModelSerializer):
    """The means of a local day: what the forecasts hear of a room once the day is over."""

    humidity_pct = serializers.FloatField(read_only=True)
    temperature_c = serializers.FloatField(read_only=True, allow_null=True)

    class Meta:
        model = RoomDay
        fields = read_only_fields = ["id", "room", "day", "readings", "humidity_pct", "temperature_c"]


class StandOut(serializers.ModelSerializer):
    """Where a rack stands from a day on (null: ever since); the later row counts from its own day."""

    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = RackRoom
        fields = read_only_fields = ["id", "rack", "room", "since", "signed_by", "written_at"]


class StandIn(Body):
    """The room a rack stands in, and the day it came there; null where it always stood there."""

    room = KeyField()
    since = DayField(required=False, allow_null=True, default=None)


class WithdrawIn(Body):
    """Why a reading is withdrawn."""

    reason = TextField(max_length=200)


class AirFilters(filters.FilterSet):
    """Which readings."""

    room = KeyFilter(field_name="room")
    source = ChoiceFilter(choices=RoomReading.Source.choices)
    is_withdrawn = FlagFilter(field_name="is_withdrawn")
    moment_after = MomentFilter(field_name="moment", lookup_expr="gte")
    moment_before = MomentFilter(field_name="moment", lookup_expr="lt")


class AirDayFilters(filters.FilterSet):
    """Which days."""

    day_after = DayFilter(field_name="day", lookup_expr="gte")
    day_before = DayFilter(field_name="day", lookup_expr="lt")


def rooms_shown(view: WorkshopView) -> QuerySet[Room]:
    """Return the rooms."""
    return Room.objects.within(view.workshop)


def airs_shown(view: WorkshopView) -> QuerySet[RoomReading]:
    """Return the readings with all that is shown of them."""
    return RoomReading.objects.within(view.workshop).with_withdrawn().select_related("by_user", "by_device")


class Rooms(Listing):
    """The workshop's rooms."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Room
    serializer_class = RoomOut
    ordering_fields = ("name", "id")
    ordering = "id"
    rows = rooms_shown

    @extend_schema(request=RoomIn, responses={201: RoomOut})
    def post(self, request: Request) -> Response:
        """Write a room down."""
        return self.made(add_room(workshop=self.workshop, name=self.body(RoomIn)["name"]).pk)


class OneRoom(Detail):
    """A room."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Room
    serializer_class = RoomOut
    rows = rooms_shown

    @extend_schema(request=RoomIn, responses={200: RoomOut})
    def patch(self, request: Request, pk: int) -> Response:
        """Give a room another name."""
        rename_room(room=self.here(rooms_shown(self), pk, what="room"), name=self.body(RoomIn)["name"])
        return Response(self.shown(pk))


class _Logging(WorkshopView):
    """What sending one reading and sending many have in common: it is all a sensor's token reaches."""

    reads = Right.LOG_ROOM
    writes = Right.LOG_ROOM
    model = RoomReading
    pagination_class = None
    filter_backends = ()
    http_method_names = ("post", "options")

    def entry(self, sent: dict[str, Any]) -> AirEntry:
        """Return a reading that was sent."""
        return sensed(self.actor, **sent)

    def room(self, pk: int) -> Room:
        """Return the room it is about."""
        return self.here(rooms_shown(self), pk, what="room")


class LogAir(_Logging):
    """Sending a reading."""

    serializer_class = AirOut
    rows = airs_shown

    @extend_schema(request=AirIn, responses={201: AirOut, 200: AirOut})
    def post(self, request: Request, pk: int) -> Response:
        """Send a reading of a room; of a sensor the first of each quarter of an hour is kept, by its moment (UTC).

        Answered 201 it was written. Answered 200 nothing was: the answer is the reading that is kept, by its ``moment``
        the one that was sent before or another of the same quarter of an hour.
        """
        room = self.room(pk)
        row, is_new = log_air(actor=self.actor, room=room, entry=self.entry(self.body(AirIn)), at=self.at)
        return Response(self.shown(row.pk), status=status.HTTP_201_CREATED if is_new else status.HTTP_200_OK)


def _became(entry: AirEntry, row: RoomReading, *, is_new: bool) -> str:
    if is_new:
        return "written"
    return "passed_over" if is_passed_over(entry, row) else "sent_before"


class LogAirs(_Logging):
    """Sending many readings."""

    serializer_class = AirRowsOut

    @extend_schema(request=AirsIn, responses={201: AirRowsOut, 200: AirRowsOut})
    def post(self, request: Request, pk: int) -> Response:
        """Send up to 1,000 readings of a room: of each quarter of an hour the first is written, or none of all if one is wrong.

        Those sent before are answered again, others of the same quarter of an hour are passed over.
        """
        room, entries = self.room(pk), self._entries(request.data)
        results = log_air_many(actor=self.actor, room=room, entries=entries, at=self.at)
        rows = [
            {"id": row.pk, "moment": row.moment, "result": _became(entry, row, is_new=is_new)}
            for entry, (row, is_new) in zip(entries, results, strict=True)
        ]
        became = Counter(row["result"] for row in rows)
        body = {"readings": rows, **{name: became[name] for name in ("written", "sent_before", "passed_over")}}
        answer = status.HTTP_201_CREATED if became["written"] else status.HTTP_200_OK
        return Response(self.get_serializer(body).data, status=answer)

    def _entries(self, data: Any) -> list[AirEntry]:
        """Return the readings that were sent; every one that cannot be read is named."""
        sent = data["readings"] if isinstance(data, dict) and set(data) == {"readings"} else None
        if not isinstance(sent, list):
            raise Invalid("rows", "Send an object with one field, readings, a list of readings.", field="readings")
        if not 1 <= len(sent) <= MOST_ROWS:
            raise Invalid("rows", f"Send between 1 and {MOST_ROWS} readings at a time.", field="readings")
        reader, entries, faults = AirIn(), [], list[RowFault]()
        for index, one in enumerate(sent):
            try:
                entries.append(self.entry(reader.run_validation(one)))
            except serializers.ValidationError as error:
                faults += row_faults(index, error)
        if faults:
            raise RowsRefused(faults, rows=len(sent))
        return entries


class Airs(Listing):
    """The readings of all rooms."""

    reads = Right.SEE
    model = RoomReading
    serializer_class = AirOut
    filterset_class = AirFilters
    ordering_fields = ("moment", "received_at", "id")
    ordering = "-moment"
    rows = airs_shown


class OneAir(Detail):
    """A reading of a room."""

    reads = Right.SEE
    model = RoomReading
    serializer_class = AirOut
    rows = airs_shown


class WithdrawAir(Detail):
    """Withdrawing a reading."""

    reads = Right.SEE
    writes = Right.LOG_ROOM
    model = RoomReading
    serializer_class = AirOut
    rows = airs_shown
    http_method_names = ("post", "options")

    @extend_schema(request=WithdrawIn, responses={200: AirOut})
    def post(self, request: Request, pk: int) -> Response:
        """Withdraw a wrong reading: it stays on record, and counts no more."""
        reading = self.here(airs_shown(self), pk, what="reading")
        withdraw(actor=self.actor, reading=reading, reason=self.body(WithdrawIn)["reason"], at=self.at)
        return Response(self.shown(pk))


class AirDays(Listing):
    """A room's log, day by day."""

    reads = Right.SEE
    model = RoomDay
    serializer_class = AirDayOut
    filterset_class = AirDayFilters
    ordering_fields = ("day", "id")
    ordering = "-day"

    def rows(self) -> QuerySet[RoomDay]:
        """Return the days of the room in the address."""
        room = self.here(rooms_shown(self), self.kwargs["pk"], what="room")
        return RoomDay.objects.within(self.workshop).filter(room=room).with_readings()


class RackStands(Listing):
    """Where a rack stands, and stood."""

    reads = Right.SEE
    writes = Right.MAKE
    model = RackRoom
    serializer_class = StandOut
    ordering_fields = ("id",)
    ordering = "-id"

    def rows(self) -> QuerySet[RackRoom]:
        """Return what was said of the rack in the address."""
        rack = self.here(Rack.objects.within(self.workshop), self.kwargs["pk"], what="rack")
        return RackRoom.objects.within(self.workshop).filter(rack=rack).select_related("by_user", "by_device")

    @extend_schema(request=StandIn, responses={201: StandOut})
    def post(self, request: Request, pk: int) -> Response:
        """Say in which room a rack stands from a day on, or has ever since."""
        rack, sent = self.here(Rack.objects.within(self.workshop), pk, what="rack"), self.body(StandIn)
        room = self.here(rooms_shown(self), sent["room"], what="room", field="room")
        row = stand_rack(actor=self.actor, rack=rack, room=room, since=sent["since"], at=self.at)
        return Response(self.shown(row.pk), status=status.HTTP_201_CREATED)
