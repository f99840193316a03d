"""Sample bars and their weighings."""

from django.db import models
from django.db.models import Q

from curehouse.curing.queries.weighing import ReadingQuerySet, SampleBarQuerySet
from curehouse.making.models import Batch
from curehouse.workshops.models import Scale, Signed
from curehouse.workshops.scoping import ScopedLedger, ScopedManager, ScopedModel


class SampleBar(ScopedModel):
    """A marked bar that stands for its batch."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="sample_bars")
    letter = models.CharField(max_length=12, help_text="A letter, or what the maker marked it with before it was brought in.")
    ended_at = models.DateTimeField(null=True)
    ended_why = models.CharField(max_length=200, blank=True)

    unscoped = SampleBarQuerySet.as_manager()
    objects = ScopedManager.from_queryset(SampleBarQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["batch", "letter"], name="samplebar_letter_once", violation_error_code="letter_taken"
            ),
        ]

    def __str__(self) -> str:
        return self.letter


class Reading(ScopedLedger, Signed):
    """One weighing of one sample bar.

    ``client_id`` is made where the weight was typed, ``moment`` is when the bar stood on the scale;
    both come from there so that a weighing may arrive late, and twice. ``corrects`` points at the
    row this one replaces. A doubt is what the house asked about when the weight came in; until a
    person has kept or corrected it, the reading is left out of every verdict; the forecast hears it
    all the same, for its own errors are Student's t and pull the less the further off a weight is.
    """

    class Firmness(models.TextChoices):
        DENTS = "dents", "dents"
        GIVES = "gives", "gives"
        FIRM = "firm", "firm"

    class Source(models.TextChoices):
        ROUND = "round", "round"
        PAGE = "page", "page"
        API = "api", "API"
        IMPORT = "import", "import"
        DEMO = "demo", "demo"

    bar = models.ForeignKey(SampleBar, on_delete=models.PROTECT, related_name="readings")
    client_id = models.UUIDField()
    moment = models.DateTimeField()
    weight_g = models.DecimalField(max_digits=9, decimal_places=3)
    scale = models.ForeignKey(Scale, on_delete=models.PROTECT, null=True, related_name="+")
    firmness = models.CharField(max_length=5, choices=Firmness.choices, blank=True)
    dent_mm = models.DecimalField(max_digits=5, decimal_places=2, null=True)
    dent_tool = models.CharField(max_length=80, blank=True, help_text="Needle and load, where millimetres are noted.")
    corrects = models.OneToOneField("self", on_delete=models.PROTECT, null=True, related_name="corrected_by")
    doubt = models.CharField(max_length=20, blank=True)
    doubt_guess_g = models.DecimalField(max_digits=9, decimal_places=3, null=True)
    doubt_detail = models.JSONField(default=dict)
    source = models.CharField(max_length=6, choices=Source.choices)
    received_at = models.DateTimeField()

    unscoped = ReadingQuerySet.as_manager()
    objects = ScopedManager.from_queryset(ReadingQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["client_id", "workshop"], name="reading_client_id_once", violation_error_code="sent_before"
            ),
            models.CheckConstraint(
                condition=Q(weight_g__gt=0), name="reading_weight_positive", violation_error_code="not_positive"
            ),
            models.CheckConstraint(
                condition=Q(dent_mm__isnull=True) | (Q(dent_mm__gte=0) & ~Q(dent_tool="")),
                name="reading_dent_has_tool",
                violation_error_code="dent_tool",
            ),
        ]
        indexes = [
            # ReadingQuerySet.of_bars: a batch's series, in order, for the adapter and the curve.
            models.Index(fields=["bar", "moment", "id"], name="reading_series"),
        ]

    def __str__(self) -> str:
        return f"{self.weight_g} g"


class ReadingReview(ScopedLedger, Signed):
    """What a person said of a reading: keep it as it is, or strike it out; the newest counts."""

    class Decision(models.TextChoices):
        KEPT = "kept", "kept"
        STRUCK = "struck", "struck out"

    reading = models.ForeignKey(Reading, on_delete=models.PROTECT, related_name="reviews")
    decision = models.CharField(max_length=6, choices=Decision.choices)
    reason = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField()

    class Meta:
        indexes = [
            # ReadingQuerySet.with_standing: the newest review of a reading.
            models.Index(fields=["reading", "-id"], name="reading_review_newest"),
        ]

    def __str__(self) -> str:
        return self.decision
