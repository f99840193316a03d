"""Who did what, kept for good: one row for each thing that was asked of the house and done."""

from django.db import models

from curehouse.workshops.models.house import Signed
from curehouse.workshops.queries import AuditEntryQuerySet
from curehouse.workshops.scoping import ScopedLedger, ScopedManager

LONGEST_SAID = 300
LONGEST_ADDRESS = 200
LONGEST_DEVICE = 80


class AuditEntry(ScopedLedger, Signed):
    """A deed: when, by whom, what, and from where."""

    at = models.DateTimeField()
    command = models.CharField(max_length=40, blank=True, help_text="The command of the shell that did it, if one did.")
    code = models.CharField(max_length=40, help_text="What was done; these names do not change.")
    said = models.CharField(max_length=LONGEST_SAID, help_text="The same in a sentence, with the thing's name then.")
    address = models.CharField(max_length=LONGEST_ADDRESS, blank=True, help_text="The page of the thing.")
    from_address = models.CharField(max_length=45, blank=True, help_text="The network address it was asked from.")
    from_device = models.CharField(max_length=LONGEST_DEVICE, blank=True, help_text="The browser or device, in words.")

    unscoped = AuditEntryQuerySet.as_manager()
    objects = ScopedManager.from_queryset(AuditEntryQuerySet)()

    class Meta:
        verbose_name_plural = "audit entries"
        indexes = [
            models.Index(fields=["workshop", "at"], name="auditentry_by_moment"),
        ]

    def __str__(self) -> str:
        return self.said

    @property
    def signed_by(self) -> str:
        """Return the name of who did it."""
        return f"manage.py {self.command}" if self.command else super().signed_by
