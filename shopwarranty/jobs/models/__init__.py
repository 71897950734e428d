from .job import Job, JobSession, Reading
from .methods import Deviation, FieldValue, Method, MethodVersion, ShopField
from .panels import LayingEvent, PanelIntake, PanelMember, PanelWork, RemovedItem
from .photos import Photo
from .pieces import FilmPiece, Place, ShopPanel, ShopPlace
from .vehicles import HolderLink, Holding, Party, Plate, Vehicle

__all__ = [
    "Deviation",
    "FieldValue",
    "FilmPiece",
    "HolderLink",
    "Holding",
    "Job",
    "JobSession",
    "LayingEvent",
    "Method",
    "MethodVersion",
    "PanelIntake",
    "PanelMember",
    "PanelWork",
    "Party",
    "Photo",
    "Place",
    "Plate",
    "Reading",
    "RemovedItem",
    "ShopField",
    "ShopPanel",
    "ShopPlace",
    "Vehicle",
]
