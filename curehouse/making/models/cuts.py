"""What was seen at a cut: a row for each saying, the newest counts."""

from django.db import models
from django.db.models import Q

from curehouse.making.models.batches import Batch
from curehouse.making.queries import CutNoteQuerySet
from curehouse.workshops.models import Signed
from curehouse.workshops.scoping import ScopedLedger, ScopedManager


class CutNote(ScopedLedger, Signed):
    """What somebody saw at the cut of a batch; the newest one counts, and stands in place of those before it."""

    class Gel(models.TextChoices):
        ALL = "all", "seen all through"
        PART = "part", "seen in part"
        NONE = "none", "not seen"

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="cut_notes")
    gel = models.CharField(max_length=4, choices=Gel.choices, blank=True, help_text="Empty: nobody looked.")
    trim_g = models.DecimalField(
        max_digits=10,
        decimal_places=3,
        null=True,
        help_text="The trimmings in grams, 0 where there were none; null: not weighed.",
    )
    note = models.CharField(max_length=400, blank=True)
    written_at = models.DateTimeField()

    unscoped = CutNoteQuerySet.as_manager()
    objects = ScopedManager.from_queryset(CutNoteQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(trim_g__isnull=True) | Q(trim_g__gte=0), name="cutnote_trim", violation_error_code="mass"
            ),
        ]

    def __str__(self) -> str:
        return f"what was seen at the cut, said {self.written_at:%-d %b %Y}"
