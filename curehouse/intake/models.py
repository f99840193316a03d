"""Files that are brought in: what they are, how their columns are read, how far they have come."""

from django.db import models
from django.db.models import F, Q

from curehouse.intake.queries import ImportQuerySet
from curehouse.workshops.models import Signed
from curehouse.workshops.scoping import ScopedManager, ScopedModel


class Import(ScopedModel, Signed):
    """A file on its way into the house, and what came of it.

    The content lies in the data folder under a random name (``common/uploads.py``); ``beside`` is a
    second table that goes with it. ``options`` and ``outcome`` are what ``flows/bring_in`` keeps there.
    """

    class State(models.TextChoices):
        LAID_OUT = "laid_out", "columns to be named"
        CHECKING = "checking", "being checked"
        CHECKED = "checked", "checked"
        BRINGING = "bringing", "being brought in"
        BROUGHT = "brought", "brought in"
        FAILED = "failed", "did not come in"

    kind = models.CharField(max_length=20)
    name = models.CharField(max_length=120)
    sha256 = models.CharField(max_length=64, help_text="Of what it holds.")
    kept_as = models.CharField(max_length=64, help_text="Its name in the data folder; of old files, their SHA-256.")
    beside_name = models.CharField(max_length=120, blank=True)
    beside_sha256 = models.CharField(max_length=64, blank=True)
    beside_kept_as = models.CharField(max_length=64, blank=True)
    state = models.CharField(max_length=10, choices=State.choices)
    options = models.JSONField(default=dict)
    outcome = models.JSONField(null=True)
    said = models.CharField(max_length=400, blank=True, help_text="Why it failed, in words.")
    laid_out_at = models.DateTimeField()
    changed_at = models.DateTimeField()
    claimed_until = models.DateTimeField(null=True)

    unscoped = ImportQuerySet.as_manager()
    objects = ScopedManager.from_queryset(ImportQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="import_named", violation_error_code="missing"),
            models.CheckConstraint(condition=~Q(kept_as=""), name="import_kept", violation_error_code="missing"),
            models.UniqueConstraint(
                fields=["kept_as"],
                condition=~Q(kept_as=F("sha256")),
                name="import_kept_once",
                violation_error_code="kept_before",
            ),
            models.UniqueConstraint(
                fields=["beside_kept_as"],
                condition=~Q(beside_kept_as=F("beside_sha256")),
                name="import_beside_kept_once",
                violation_error_code="kept_before",
            ),
            models.CheckConstraint(
                condition=Q(beside_sha256="", beside_name="", beside_kept_as="")
                | (~Q(beside_sha256="") & ~Q(beside_name="") & ~Q(beside_kept_as="")),
                name="import_beside_whole",
                violation_error_code="missing",
            ),
        ]
        indexes = [
            # ImportQuerySet.under_way: the tick, in all workshops.
            models.Index(fields=["changed_at"], condition=Q(state__in=["checking", "bringing"]), name="import_under_way"),
            # ImportQuerySet.newest_first: the list of what was brought in.
            models.Index(fields=["workshop", "-id"], name="import_newest"),
        ]

    def __str__(self) -> str:
        return self.name


class ColumnMemory(ScopedModel):
    """What a person said a column is, so that it need not be said again."""

    kind = models.CharField(max_length=20)
    header = models.CharField(max_length=120, help_text="As it stands in the file, in small letters.")
    key = models.CharField(max_length=40, blank=True, help_text="The column it is; empty: it is left out.")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "kind", "header"], name="columnmemory_once"),
        ]

    def __str__(self) -> str:
        return f"{self.header}: {self.key or 'left out'}"


class BroughtRow(ScopedModel):
    """A row that was brought in, by what tells it from all others: it is brought in once."""

    kind = models.CharField(max_length=20)
    key = models.CharField(max_length=64, help_text="SHA-256.")
    brought_by = models.ForeignKey(Import, on_delete=models.PROTECT, null=True, related_name="+", db_index=False)
    booked = models.JSONField(null=True, help_text="Keys of the movements it came in as; null where nobody noted them.")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["workshop", "kind", "key"], name="broughtrow_once", violation_error_code="sent_before"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.key[:8]}"
