"""Invitations: who is let into a workshop, by a link that works once."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from curehouse.workshops.models.house import Member
from curehouse.workshops.queries import InvitationQuerySet
from curehouse.workshops.scoping import ScopedManager, ScopedModel


class Invitation(ScopedModel):
    """A place in a workshop for whoever brings its secret, of which only the SHA-256 is kept."""

    role = models.CharField(max_length=10, choices=Member.Role.choices)
    email = models.CharField(max_length=254, blank=True, help_text="Who it was meant for, if that was said.")
    digest = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    accepted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    accepted_at = models.DateTimeField(null=True)
    withdrawn_at = models.DateTimeField(null=True)

    unscoped = InvitationQuerySet.as_manager()
    objects = ScopedManager.from_queryset(InvitationQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(accepted_at__isnull=True, accepted_by__isnull=True)
                | Q(accepted_at__isnull=False, accepted_by__isnull=False, withdrawn_at__isnull=True),
                name="invitation_ends_once",
                violation_error_code="ended",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_role_display()}, {self.email}" if self.email else self.get_role_display()
