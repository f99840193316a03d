from curehouse.workshops.models.door import DoorCount
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
from curehouse.workshops.models.second_step import RecoveryCode, SecondStep
from curehouse.workshops.models.sessions import PersonSession
from curehouse.workshops.models.trail import AuditEntry

__all__ = [
    "AuditEntry",
    "DeviceToken",
    "DoorCount",
    "Invitation",
    "Member",
    "PersonSession",
    "RecoveryCode",
    "Scale",
    "ScaleCheck",
    "ScaleTare",
    "SecondStep",
    "Signed",
    "Submission",
    "User",
    "Workshop",
]
