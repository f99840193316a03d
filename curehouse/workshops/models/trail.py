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
    by_name = models.CharField(
        max_length=120, blank=True, help_text="What the person or the device was called then; empty in the oldest entries."
    )
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
        """Return the name of who did it, as it was then: a person who takes another later changes nothing here."""
        if self.command:
            return f"manage.py {self.command}"
        return self.by_name or super().signed_by

    @property
    def signed_as(self) -> str:
        """Return who did it by what never changes: ``person 3``, ``device 7``; nothing for the shell and the house."""
        if self.by_device_id is not None:
            return f"device {self.by_device_id}"
        return "" if self.command or self.by_user_id is None else f"person {self.by_user_id}"
