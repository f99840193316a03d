"""What keeps bars from anybody: it stands with whatever is foretold of them."""

from dataclasses import asdict

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from curehouse.curing.models import Forecast, LabelWeight
from curehouse.curing.obstacles import obstacles_of


class ObstacleOut(serializers.Serializer):
    """What stands in the way of a batch's bars now, and what to do about it."""

    code = serializers.CharField(help_text="check_failed, check_needed, held or too_soft.")
    says = serializers.CharField()


class Obstructed(serializers.ModelSerializer):
    """A row that speaks of bars to come; it is fetched with obstacles."""

    in_the_way = serializers.SerializerMethodField(
        help_text="What stands in the way of its bars now, the gravest first, whatever is foretold."
    )

    @extend_schema_field(ObstacleOut(many=True))
    def get_in_the_way(self, row: Forecast | LabelWeight) -> list[dict[str, str]]:
        """Return what keeps its bars in the house."""
        return [asdict(one) for one in obstacles_of(row)]
