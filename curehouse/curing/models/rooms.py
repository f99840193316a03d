"""Rooms bars cure in, which racks stand there, and the log of their air."""

from django.db import models
from django.db.models import Q

from curehouse.curing.models.places import Rack
from curehouse.curing.queries.rooms import RoomDayQuerySet, RoomReadingQuerySet
from curehouse.workshops.models import Signed
from curehouse.workshops.scoping import ScopedLedger, ScopedManager, ScopedModel


class Room(ScopedModel):
    """A room of the house. The first one entered is that of every rack of which nobody said where it stands.

    ``heard_before`` is the day before which the forecasts know its log; what comes in of an earlier day moves it back.
    """

    name = models.CharField(max_length=80)
    heard_before = models.DateField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "name"], name="room_name_once", violation_error_code="name_taken"),
            models.CheckConstraint(condition=~Q(name=""), name="room_named", violation_error_code="missing"),
        ]

    def __str__(self) -> str:
        return self.name


class RackRoom(ScopedLedger, Signed):
    """Where a rack stands from a day on, or (no day) has stood ever since; the later row counts from its own day."""

    rack = models.ForeignKey(Rack, on_delete=models.PROTECT, related_name="rooms")
    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="racks")
    since = models.DateField(null=True)
    written_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.rack_id} in {self.room_id}"


class RoomReading(ScopedLedger, Signed):
    """The air of a room at a moment: relative humidity in %, and the temperature in °C where it is known.

    ``key`` is the same each time one reading is sent, so that it may come twice. ``typed`` is what a person typed
    where that was °F.
    """

    class Source(models.TextChoices):
        SENSOR = "sensor", "sensor"
        FORM = "form", "form"
        IMPORT = "import", "import"
        DEMO = "demo", "demo"

    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="readings")
    key = models.CharField(max_length=80)
    moment = models.DateTimeField()
    humidity_pct = models.DecimalField(max_digits=5, decimal_places=2)
    temperature_c = models.DecimalField(max_digits=4, decimal_places=2, null=True)
    typed = models.CharField(max_length=40, blank=True)
    source = models.CharField(max_length=6, choices=Source.choices)
    received_at = models.DateTimeField()

    unscoped = RoomReadingQuerySet.as_manager()
    objects = ScopedManager.from_queryset(RoomReadingQuerySet)()

    class Meta:
        verbose_name = "room reading"
        constraints = [
            models.UniqueConstraint(fields=["room", "key"], name="roomreading_once", violation_error_code="sent_before"),
            models.CheckConstraint(
                condition=Q(humidity_pct__gte=0, humidity_pct__lte=100),
                name="roomreading_humidity",
                violation_error_code="humidity",
            ),
            models.CheckConstraint(
                condition=Q(temperature_c__isnull=True) | Q(temperature_c__gte=-20, temperature_c__lte=60),
                name="roomreading_temperature",
                violation_error_code="temperature",
            ),
        ]
        indexes = [
            # RoomReadingQuerySet.newest_first, of one room: its page and list.
            models.Index(fields=["room", "-moment", "-id"], name="roomreading_newest"),
            # The same of all rooms: the API.
            models.Index(fields=["workshop", "-moment", "-id"], name="roomreading_of_all"),
        ]

    def __str__(self) -> str:
        return f"{self.humidity_pct.normalize():f} %"


class RoomWithdrawal(ScopedLedger, Signed):
    """A reading that a person found wrong: it stays on record, and counts no more."""

    reading = models.OneToOneField(RoomReading, on_delete=models.PROTECT, related_name="withdrawal")
    reason = models.CharField(max_length=200)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return self.reason


def mean_of(hundredths: int, readings: int) -> float:
    """Return the mean of readings that add up to so many hundredths, to the hundredth."""
    return round(hundredths / readings / 100, 2)


class RoomDay(ScopedModel):
    """What a room's readings of a local day come to, kept beside them for speed: sums in hundredths, which add exactly.

    ``manage.py verify_rooms`` recomputes it.
    """

    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="days")
    day = models.DateField()
    readings = models.PositiveIntegerField(default=0)
    humidity_sum = models.BigIntegerField(default=0)
    temperatures = models.PositiveIntegerField(default=0)
    temperature_sum = models.BigIntegerField(default=0)

    unscoped = RoomDayQuerySet.as_manager()
    objects = ScopedManager.from_queryset(RoomDayQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["room", "day"], name="roomday_once", violation_error_code="once"),
        ]

    def __str__(self) -> str:
        return f"{self.day}"

    @property
    def humidity_pct(self) -> float:
        """Return the day's mean humidity in %, to the hundredth."""
        return mean_of(self.humidity_sum, self.readings)

    @property
    def temperature_c(self) -> float | None:
        """Return the day's mean temperature in °C, to the hundredth, or None where none was read."""
        return mean_of(self.temperature_sum, self.temperatures) if self.temperatures else None
