"""Six body styles from one set of measures. A new body style is one more entry in BODIES.

`u` runs from front bumper to rear bumper; `v` from the centre line over the roof and down to the sill.
"""

from __future__ import annotations

from dataclasses import dataclass

GAP = 6.0


@dataclass(frozen=True, slots=True)
class PartName:
    """`key` without its side; the names are British and American English."""

    key: str
    name: str
    name_us: str


TAILGATE = PartName("tailgate", "tailgate", "liftgate")
DROP_TAILGATE = PartName("tailgate", "tailgate", "tailgate")
BOOT_LID = PartName("boot-lid", "boot lid", "trunk lid")
REAR_DOORS = PartName("rear-doors", "rear doors", "rear doors")
FRONT_DOOR = PartName("front-door", "front door", "front door")
ONLY_DOOR = PartName("front-door", "door", "door")
REAR_DOOR = PartName("rear-door", "rear door", "rear door")
SLIDING_DOOR = PartName("sliding-door", "sliding door", "sliding door")
REAR_QUARTER = PartName("rear-quarter", "rear quarter", "quarter panel")
BED_SIDE = PartName("bed-side", "bed side", "bed side")
SIDE_PANEL = PartName("side-panel", "side panel", "side panel")


@dataclass(frozen=True, slots=True)
class Body:
    """Everything that differs between body styles, in drawing units."""

    key: str
    name: str
    american: str = ""  # where it is another word
    nose: float = 10
    bumper: float = 50
    bonnet: float = 100
    screen: float = 42
    roof: float = 176
    rear_glass: float = 26
    tail: float = 98  # tailgate, boot lid, or open bed with its tailgate
    bed: float = 0  # the open part of `tail`
    rear_bumper: float = 50
    first_door: float = 98
    second_door: float = 92  # 0 = one door a side
    half_middle: float = 53  # half the width of bonnet, roof and tail
    window_line: float = 100
    sill_line: float = 148
    wheel: float = 36
    rear_axle: float = 0  # 0 = worked out from the doors
    tail_slope: float = 30
    quarter_top: float = 62  # how far up the quarter reaches: the roof, or the window line below a boot
    tail_part: PartName = TAILGATE
    first_door_part: PartName = FRONT_DOOR
    second_door_part: PartName = REAR_DOOR
    quarter_part: PartName = REAR_QUARTER

    @property
    def name_us(self) -> str:
        return self.american or self.name


@dataclass(frozen=True, slots=True)
class Stations:
    """Where along the vehicle each piece begins and ends, worked out from a body's measures."""

    front_bumper: tuple[float, float]
    bonnet: tuple[float, float]
    roof: tuple[float, float]
    tail: tuple[float, float]
    rear_bumper: tuple[float, float]
    first_door: tuple[float, float]
    doors_end: float
    front_axle: float
    rear_axle: float
    length: float


def stations(b: Body) -> Stations:
    bumper_end = b.nose + b.bumper
    bonnet = (bumper_end + GAP, bumper_end + GAP + b.bonnet)
    roof = (bonnet[1] + b.screen, bonnet[1] + b.screen + b.roof)
    tail = (roof[1] + b.rear_glass, roof[1] + b.rear_glass + b.tail)
    rear_end = tail[1] + GAP + b.rear_bumper
    door = (bonnet[1] + 10, bonnet[1] + 10 + b.first_door)
    doors_end = door[1] + (GAP + b.second_door if b.second_door else 0)
    return Stations(
        front_bumper=(b.nose, bumper_end),
        bonnet=bonnet,
        roof=roof,
        tail=tail,
        rear_bumper=(tail[1] + GAP, rear_end),
        first_door=door,
        doors_end=doors_end,
        front_axle=bonnet[0] + min(58, bonnet[1] + 4 - bonnet[0] - b.wheel - 8),
        rear_axle=b.rear_axle or doors_end + 34,
        length=rear_end + 10,
    )


SUV = Body("suv", "SUV")
HATCHBACK = Body(
    "hatchback",
    "hatchback",
    bonnet=84,
    roof=150,
    tail=74,
    rear_glass=24,
    first_door=96,
    second_door=80,
    tail_slope=26,
)
SALOON = Body(
    "saloon",
    "saloon",
    "sedan",
    bonnet=104,
    roof=126,
    rear_glass=44,
    tail=64,
    first_door=92,
    second_door=82,
    quarter_top=76,
    tail_slope=8,
    tail_part=BOOT_LID,
)
COUPE = Body(
    "coupe",
    "coupe",
    bonnet=112,
    roof=104,
    rear_glass=50,
    tail=56,
    first_door=124,
    second_door=0,
    quarter_top=76,
    tail_slope=8,
    tail_part=BOOT_LID,
    first_door_part=ONLY_DOOR,
)
PICKUP = Body(
    "pickup",
    "pickup",
    roof=126,
    rear_glass=14,
    tail=156,
    bed=104,
    first_door=88,
    second_door=74,
    quarter_top=100,
    rear_axle=432,
    tail_slope=0,
    tail_part=DROP_TAILGATE,
    quarter_part=BED_SIDE,
)
VAN = Body(
    "van",
    "van",
    bonnet=84,
    screen=44,
    roof=296,
    rear_glass=10,
    tail=74,
    first_door=92,
    second_door=112,
    wheel=34,
    rear_axle=456,
    tail_slope=22,
    tail_part=REAR_DOORS,
    second_door_part=SLIDING_DOOR,
    quarter_part=SIDE_PANEL,
)

BODIES: tuple[Body, ...] = (SALOON, HATCHBACK, SUV, PICKUP, COUPE, VAN)
