"""Pours at the table: what is under way, and each thing that was said of it while it was."""

from django.db import models
from django.db.models import Q

from curehouse.making.models.batches import Batch
from curehouse.making.models.formulas import FormulaVersion
from curehouse.making.models.runs import Run
from curehouse.making.queries import PourQuerySet, PourStepQuerySet
from curehouse.workshops.models import Scale, Signed
from curehouse.workshops.scoping import ScopedLedger, ScopedManager, ScopedModel
from inventory.models import Lot


class Pour(ScopedModel, Signed):
    """A pour of a version of a formula, of a run or without one, from the first caution to its batch.

    ``sheet`` is what is to be weighed, as it was worked out when the pour was begun: what is changed of a
    material later changes no pour that is under way. Nothing of the storeroom moves before its end.
    """

    class State(models.TextChoices):
        OPEN = "open", "under way"
        FINISHED = "finished", "finished"
        STOPPED = "stopped", "stopped"

    version = models.ForeignKey(FormulaVersion, on_delete=models.PROTECT, related_name="pours")
    run = models.ForeignKey(Run, on_delete=models.PROTECT, null=True, related_name="pours")
    batch = models.OneToOneField(Batch, on_delete=models.PROTECT, null=True, related_name="pour")
    state = models.CharField(max_length=10, choices=State.choices, default=State.OPEN)
    fats_g = models.DecimalField(max_digits=10, decimal_places=3, help_text="The oils it is meant to have, in grams.")
    sheet = models.JSONField(help_text="What is to be weighed, as worked out when it was begun; see making/pouring/sheet.py.")
    begun_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)

    unscoped = PourQuerySet.as_manager()
    objects = ScopedManager.from_queryset(PourQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["run"], condition=Q(state="open"), name="pour_one_open_of_a_run", violation_error_code="pour_open"
            ),
            models.CheckConstraint(condition=Q(fats_g__gt=0), name="pour_fats_positive", violation_error_code="not_positive"),
            models.CheckConstraint(
                condition=Q(state="open", batch__isnull=True, ended_at__isnull=True)
                | Q(state="finished", batch__isnull=False, ended_at__isnull=False)
                | Q(state="stopped", ended_at__isnull=False),
                name="pour_state",
                violation_error_code="state",
            ),
        ]
        indexes = [
            # PourQuerySet.under_way: the few at the table.
            models.Index(fields=["workshop", "id"], condition=Q(state="open"), name="pour_under_way"),
        ]

    def __str__(self) -> str:
        return f"{self.version.formula.name}, begun {self.begun_at:%-d %b %Y}"


class PourStep(ScopedLedger, Signed):
    """One thing that was said at the table; sent twice it is there once, by the id its client gave it.

    A weighing has what was meant, what was weighed (0: left out), of which lot, and the step of its scale, all in
    grams. ``stands`` says that a person let it stand though it is not as meant. ``corrects`` is the row in whose
    place it stands; ``unsaid`` puts nothing there.
    """

    class Kind(models.TextChoices):
        CAUTION = "caution", "cautions read"
        WEIGHED = "weighed", "weighed"
        DISSOLVED = "dissolved", "lye dissolved"
        LYE_TEMP = "lye_temp", "temperature of the lye"
        FATS_TEMP = "fats_temp", "temperature of the fats"
        TRACE = "trace", "at trace"
        STIRRED = "stirred", "stirred in at trace"
        MOULD = "mould", "in the mould"
        PLACE = "place", "put aside"
        DEVIATION = "deviation", "deviation"
        NOTE = "note", "note"
        DOUBT = "doubt", "doubt"
        UNSAID = "unsaid", "said by mistake"
        FINISHED = "finished", "finished"
        STOPPED = "stopped", "stopped"

    pour = models.ForeignKey(Pour, on_delete=models.PROTECT, related_name="steps")
    client_id = models.UUIDField()
    kind = models.CharField(max_length=10, choices=Kind.choices)
    slot = models.CharField(max_length=10, blank=True, help_text="Of a weighing: which line of the sheet.")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, null=True, related_name="+")
    target_g = models.DecimalField(max_digits=13, decimal_places=3, null=True)
    amount_g = models.DecimalField(max_digits=13, decimal_places=3, null=True)
    scale = models.ForeignKey(Scale, on_delete=models.PROTECT, null=True, related_name="+")
    step_g = models.DecimalField(max_digits=15, decimal_places=12, null=True)
    celsius = models.DecimalField(max_digits=4, decimal_places=1, null=True)
    words = models.CharField(max_length=400, blank=True)
    stands = models.BooleanField(default=False)
    is_mend = models.BooleanField(default=False, help_text="Fat that was added to make the lye safe: no lye is meant for it.")
    corrects = models.OneToOneField("self", on_delete=models.PROTECT, null=True, related_name="corrected_by")
    at = models.DateTimeField()

    unscoped = PourStepQuerySet.as_manager()
    objects = ScopedManager.from_queryset(PourStepQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["client_id", "workshop"], name="pourstep_client_id_once", violation_error_code="sent_before"
            ),
            models.CheckConstraint(
                condition=Q(kind="weighed", amount_g__gte=0, target_g__gte=0, step_g__gt=0) & ~Q(slot="")
                | (
                    ~Q(kind="weighed")
                    & Q(slot="", amount_g__isnull=True, target_g__isnull=True, step_g__isnull=True, lot__isnull=True)
                ),
                name="pourstep_weighed",
                violation_error_code="mass",
            ),
            models.CheckConstraint(
                condition=Q(celsius__isnull=True) | Q(kind__in=["lye_temp", "fats_temp"]),
                name="pourstep_celsius",
                violation_error_code="celsius",
            ),
            models.CheckConstraint(
                condition=~Q(kind__in=["deviation", "note", "doubt", "unsaid", "stopped"]) | ~Q(words=""),
                name="pourstep_words",
                violation_error_code="missing",
            ),
            models.CheckConstraint(
                condition=~Q(kind="unsaid") | Q(corrects__isnull=False),
                name="pourstep_unsaid_what",
                violation_error_code="missing",
            ),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()
