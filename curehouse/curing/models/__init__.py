from curehouse.curing.models.forecasts import CureCalibration, CureLearning, CurePrior, CureRecord, Forecast
from curehouse.curing.models.kept_places import ExpectedCure, KeptPlace
from curehouse.curing.models.labels import LabelWeight
from curehouse.curing.models.places import Occupancy, Placement, Position, Rack
from curehouse.curing.models.rooms import RackRoom, Room, RoomDay, RoomReading, RoomWithdrawal
from curehouse.curing.models.turning import Turning
from curehouse.curing.models.verdicts import Assessment, Cure
from curehouse.curing.models.weighing import Reading, ReadingReview, SampleBar

__all__ = [
    "Assessment",
    "Cure",
    "CureCalibration",
    "CureLearning",
    "CurePrior",
    "CureRecord",
    "ExpectedCure",
    "Forecast",
    "KeptPlace",
    "LabelWeight",
    "Occupancy",
    "Placement",
    "Position",
    "Rack",
    "RackRoom",
    "Reading",
    "ReadingReview",
    "Room",
    "RoomDay",
    "RoomReading",
    "RoomWithdrawal",
    "SampleBar",
    "Turning",
]
