"""Questions about the log of rooms."""

from typing import Any, Self
from zoneinfo import ZoneInfo

from django.db.models import Count, Exists, F, OuterRef, Sum
from django.db.models.functions import TruncDate

from curehouse.workshops.scoping import ScopedLedgerQuerySet, ScopedQuerySet


class RoomReadingQuerySet(ScopedLedgerQuerySet):
    """Readings of rooms' air."""

    def with_withdrawn(self) -> Self:
        """Add ``is_withdrawn``."""
        gone = self.model._meta.get_field("withdrawal").related_model.unscoped.filter(reading=OuterRef("pk"))
        return self.annotate(is_withdrawn=Exists(gone))

    def standing(self) -> Self:
        """Return those that were not withdrawn."""
        return self.filter(withdrawal__isnull=True)

    def newest_first(self) -> Self:
        """Return them newest first, with who sent them at hand."""
        return self.select_related("room", "by_user", "by_device").order_by("-moment", "-id")


class RoomDayQuerySet(ScopedQuerySet):
    """Days of rooms' logs."""

    def with_readings(self) -> Self:
        """Return the days on which something was read, oldest first."""
        return self.filter(readings__gt=0).order_by("room", "day")

    def reckoned(self, *, room: Any, time_zone: str) -> list[Any]:
        """Return what the days of a room come to by its readings, as rows that are not written."""
        rows = self.model._meta.get_field("room").related_model._meta.get_field("readings").related_model.unscoped
        by_day = rows.filter(room=room, withdrawal__isnull=True).annotate(on=TruncDate("moment", tzinfo=ZoneInfo(time_zone)))
        sums = (
            by_day.order_by("on")
            .values("on")
            .annotate(
                readings=Count("pk"),
                humidity=Sum(F("humidity_pct") * 100),
                temperatures=Count("temperature_c"),
                temperature=Sum(F("temperature_c") * 100),
            )
        )
        return [
            self.model(
                workshop_id=room.workshop_id, room=room, day=one["on"], readings=one["readings"],
                humidity_sum=round(one["humidity"]), temperatures=one["temperatures"],
                temperature_sum=round(one["temperature"] or 0),
            )
            for one in sums
        ]  # fmt: skip
