"""The workshop a request is at work in."""

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.views import WorkshopView
from curehouse.workshops.models import Workshop
from curehouse.workshops.roles import Right


@extend_schema_field({"type": "string", "pattern": "^[0-9]{2}:[0-9]{2}:[0-9]{2}$", "example": "06:30:00"})
class WallTimeField(serializers.TimeField):
    """A time on the workshop's clock; as it has no offset, it is no “time” of RFC 3339."""


class WorkshopOut(serializers.ModelSerializer):
    """What the workshop chose for itself."""

    morning_at = WallTimeField(read_only=True)

    class Meta:
        model = Workshop
        fields = read_only_fields = [
            "id",
            "name",
            "unit",
            "time_zone",
            "currency",
            "round_days",
            "morning_at",
            "min_days",
            "weekly_loss_limit_pct",
            "latest_day",
            "water_left_limit_pct",
            "check_method",
            "check_limit",
            "turn_every_days",
            "turn_for_days",
        ]
        extra_kwargs = {"round_days": {"help_text": "Weekdays of the round, Monday is 0."}}


class TheWorkshop(WorkshopView):
    """The workshop's units, time zone and ready rule; they are changed on its page."""

    reads = Right.SEE_ROUND
    serializer_class = WorkshopOut
    model = Workshop

    def get(self, request: Request) -> Response:
        """Show it."""
        return Response(self.get_serializer(self.workshop).data)
