"""What to tell whom: the outbox.

A notice is written in the transaction of its cause, with a key that says what it is about, so a
cause that is worked on twice tells once. Deliveries are what goes out of the house; they are
claimed with a lease and always end in a state a person can see.
"""

from django.conf import settings
from django.db import models
from django.db.models import Q

from curehouse.notices.queries import DeliveryQuerySet, NoticeQuerySet, SubscriptionQuerySet
from curehouse.workshops.scoping import ScopedManager, ScopedModel


class Notice(ScopedModel):
    """Something a person should know, in its own words; it does not know what a batch is."""

    class State(models.TextChoices):
        OPEN = "open", "open"
        DONE = "done", "done"
        WITHDRAWN = "withdrawn", "withdrawn"

    key = models.CharField(max_length=120, help_text="What it is about, once: ready:batch:12:3.")
    kind = models.CharField(max_length=20)
    about = models.CharField(max_length=60, help_text="The thing it is about: batch:12.")
    mark = models.CharField(max_length=12, blank=True, help_text="The state whose mark stands beside it.")
    title = models.CharField(max_length=200)
    body = models.TextField()
    path = models.CharField(max_length=200, help_text="Where to go in the house.")
    state = models.CharField(max_length=9, choices=State.choices, default=State.OPEN)
    closed_why = models.CharField(max_length=300, blank=True)
    closed_at = models.DateTimeField(null=True)
    written_at = models.DateTimeField()

    unscoped = NoticeQuerySet.as_manager()
    objects = ScopedManager.from_queryset(NoticeQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "key"], name="notice_key_once"),
            models.CheckConstraint(
                condition=Q(state="open", closed_at__isnull=True) | (~Q(state="open") & Q(closed_at__isnull=False)),
                name="notice_closed_has_moment",
            ),
        ]
        indexes = [
            # NoticeQuerySet.open: Today and the count in every page's title.
            models.Index(fields=["workshop", "-id"], condition=Q(state="open"), name="notice_open"),
            # NoticeQuerySet.about: withdrawing what has changed.
            models.Index(fields=["workshop", "about"], condition=Q(state="open"), name="notice_open_about"),
        ]

    def __str__(self) -> str:
        return self.title


class Delivery(ScopedModel):
    """One notice on its way to one person by one channel."""

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        SENDING = "sending", "being sent"
        SENT = "sent", "sent"
        SENT_PERHAPS_TWICE = "twice", "sent, perhaps twice"
        UNKNOWN = "unknown", "perhaps sent"
        FAILED = "failed", "not sent"
        NO_MAIL = "no_mail", "no mail set up"
        WITHDRAWN = "withdrawn", "withdrawn"

    class Channel(models.TextChoices):
        EMAIL = "email", "e-mail"

    notice = models.ForeignKey(Notice, on_delete=models.PROTECT, related_name="deliveries")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    channel = models.CharField(max_length=8, choices=Channel.choices)
    state = models.CharField(max_length=10, choices=State.choices, default=State.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    unsure_attempts = models.PositiveSmallIntegerField(default=0, help_text="Attempts cut off before their end was known.")
    next_try_at = models.DateTimeField()
    claimed_until = models.DateTimeField(null=True)
    last_error = models.CharField(max_length=300, blank=True)
    ended_at = models.DateTimeField(null=True)

    unscoped = DeliveryQuerySet.as_manager()
    objects = ScopedManager.from_queryset(DeliveryQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["notice", "user", "channel"], name="delivery_once"),
        ]
        indexes = [
            # DeliveryQuerySet.due: the tick, in all workshops.
            models.Index(fields=["next_try_at"], condition=Q(state__in=["waiting", "sending"]), name="delivery_due"),
            # DeliveryQuerySet.without_mail: the tick, once mail is set up.
            models.Index(fields=["ended_at"], condition=Q(state="no_mail"), name="delivery_no_mail"),
        ]

    def __str__(self) -> str:
        return f"{self.get_channel_display()}: {self.get_state_display()}"


class Subscription(ScopedModel):
    """A person's wish to be told by a channel."""

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    channel = models.CharField(max_length=8, choices=Delivery.Channel.choices)
    at_once = models.BooleanField(
        default=True, help_text="Ready, check due, check failed, may be caustic, too soft: when it happens."
    )
    morning = models.BooleanField(default=True, help_text="The morning digest.")

    unscoped = SubscriptionQuerySet.as_manager()
    objects = ScopedManager.from_queryset(SubscriptionQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "user", "channel"], name="subscription_once"),
        ]

    def __str__(self) -> str:
        return f"{self.user} by {self.get_channel_display()}"
