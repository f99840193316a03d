"""What was seen at a batch's cut: gel, trimmings, a note."""

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import ChoiceField, GramsField, TextField
from api.views import Body, Listing
from curehouse.making.models import Batch, CutNote
from curehouse.making.services import LONGEST_CUT_NOTE, CutSeen, note_cut
from curehouse.workshops.roles import Right


class CutNoteOut(serializers.ModelSerializer):
    """What somebody said of the cut; the newest one counts, in place of those before it."""

    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = CutNote
        fields = read_only_fields = ["id", "batch", "gel", "trim_g", "note", "signed_by", "written_at"]


class CutNoteIn(Body):
    """What is seen at the cut, whole: what is left out is not known."""

    gel = ChoiceField(choices=CutNote.Gel.choices, allow_blank=True, help_text="Empty: nobody looked.")
    trim_g = GramsField(required=False, allow_null=True, default=None, help_text="0 where there were no trimmings.")
    note = TextField(max_length=LONGEST_CUT_NOTE, required=False, allow_blank=True, default="")


class CutNotes(Listing):
    """What was seen at the cut of one batch."""

    reads = Right.SEE
    writes = Right.POUR
    model = CutNote
    serializer_class = CutNoteOut
    ordering_fields = ("id",)
    ordering = "-id"

    def _batch(self) -> Batch:
        batches = Batch.objects.within(self.workshop).select_related("formula")
        return self.here(batches, self.kwargs["pk"], what="batch")

    def rows(self) -> QuerySet[CutNote]:
        """Return what was said of the batch's cut."""
        return CutNote.objects.within(self.workshop).filter(batch=self._batch()).select_related("by_user", "by_device")

    @extend_schema(request=CutNoteIn, responses={201: CutNoteOut})
    def post(self, request: Request, pk: int) -> Response:
        """Say what was seen at the cut; it counts in place of what was said before."""
        batch = self._batch()
        row = note_cut(actor=self.actor, batch=batch, seen=CutSeen(**self.body(CutNoteIn)), at=self.at)
        return Response(self.get_serializer(row).data, status=status.HTTP_201_CREATED)
