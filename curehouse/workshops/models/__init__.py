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
from curehouse.workshops.models.trail import AuditEntry

__all__ = [
    "AuditEntry",
    "DeviceToken",
    "Member",
    "Scale",
    "ScaleCheck",
    "ScaleTare",
    "Signed",
    "Submission",
    "User",
    "Workshop",
]
