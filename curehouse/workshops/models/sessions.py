"""Where people are signed in: the row a session is kept in says whose it is, and from where."""

from django.conf import settings
from django.contrib.sessions.base_session import AbstractBaseSession
from django.db import models

from curehouse.workshops.models.trail import LONGEST_DEVICE
from curehouse.workshops.queries import PersonSessionQuerySet


class PersonSession(AbstractBaseSession):
    """A browser's session; without a person until somebody signs in."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, null=True, related_name="+")
    begun_at = models.DateTimeField()
    seen_at = models.DateTimeField()
    from_address = models.CharField(max_length=45, blank=True)
    from_device = models.CharField(max_length=LONGEST_DEVICE, blank=True)

    objects = PersonSessionQuerySet.as_manager()

    class Meta:
        verbose_name = "session"
