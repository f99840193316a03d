"""What the house makes of the weighings."""

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from rest_framework import serializers

from api.filtering import ChoiceFilter, FlagFilter, KeyFilter, MomentFilter
from api.views import Detail, Listing, WorkshopView
from curehouse.curing.models import Assessment, Cure
from curehouse.curing.models.verdicts import State
from curehouse.making.models import Batch
from curehouse.workshops.roles import Right


class FigureOut(serializers.Serializer):
    """A figure behind a reason."""

    name = serializers.CharField()
    value = serializers.FloatField()
    unit = serializers.CharField()


class ReasonOut(serializers.Serializer):
    """A reason in words, with its figures."""

    code = serializers.CharField()
    text = serializers.CharField()
    figures = FigureOut(many=True)


class AssessmentOut(serializers.ModelSerializer):
    """A verdict as of one moment: its state, its figures in per cent, why, and what to do."""

    reasons = ReasonOut(many=True, read_only=True)
    advice = serializers.ListField(child=serializers.CharField(), read_only=True)
    figures = serializers.DictField(read_only=True, help_text="Everything the rule computed, for each sample bar too.")

    class Meta:
        model = Assessment
        fields = read_only_fields = [
            "id",
            "batch",
            "moment",
            "cause",
            "reading",
            "method",
            "state",
            "age_days",
            "dry_enough",
            "weekly_loss_pct",
            "total_loss_pct",
            "water_left_pct",
            "reasons",
            "advice",
            "figures",
            "written_at",
        ]


class AssessmentFilters(filters.FilterSet):
    """Which assessments."""

    batch = KeyFilter(field_name="batch")
    state = ChoiceFilter(choices=State.choices)
    cause = ChoiceFilter(choices=Assessment.Cause.choices)
    moment_after = MomentFilter(field_name="moment", lookup_expr="gte")
    moment_before = MomentFilter(field_name="moment", lookup_expr="lt")
    latest = FlagFilter(method="only_latest", help_text="true: the one that counts, of each batch.")

    def only_latest(self, rows: QuerySet[Assessment], name: str, value: bool) -> QuerySet[Assessment]:  # noqa: FBT001
        """Return the assessment each batch stands at."""
        standing = Cure.objects.within(self.request.actor.workshop).filter(assessment__isnull=False).values("assessment")
        return rows.filter(pk__in=standing) if value else rows


def assessments_shown(view: WorkshopView) -> QuerySet[Assessment]:
    """Return the assessments."""
    return Assessment.objects.within(view.workshop)


class Assessments(Listing):
    """The workshop's assessments."""

    reads = Right.SEE
    model = Assessment
    serializer_class = AssessmentOut
    filterset_class = AssessmentFilters
    ordering_fields = ("moment", "id")
    ordering = "-moment"
    rows = assessments_shown


class OneAssessment(Detail):
    """An assessment."""

    reads = Right.SEE
    model = Assessment
    serializer_class = AssessmentOut
    rows = assessments_shown


class AssessmentsOfBatch(Assessments):
    """The assessments of one batch."""

    def rows(self) -> QuerySet[Assessment]:
        """Return the batch's assessments."""
        batch = self.here(Batch.objects.within(self.workshop), self.kwargs["pk"], what="batch")
        return assessments_shown(self).filter(batch=batch)
