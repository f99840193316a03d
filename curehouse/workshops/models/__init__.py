from curehouse.workshops.models.house import (
    DeviceToken,
    Member,
    Scale,
    ScaleCheck,
    ScaleTare,
    Signed,
    Submission,
    User,
    Workshop,
)
from curehouse.workshops.models.joining import Invitation
from curehouse.workshops.models.sessions import PersonSession
from curehouse.workshops.models.trail import AuditEntry

__all__ = [
    "AuditEntry",
    "DeviceToken",
    "Invitation",
    "Member",
    "PersonSession",
    "Scale",
    "ScaleCheck",
    "ScaleTare",
    "Signed",
    "Submission",
    "User",
    "Workshop",
]
