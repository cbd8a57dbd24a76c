"""What is asked of a drawing and what is read from it, as values."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from ....model.arrays import Array
from ....model.findings import Finding
from ....model.geometry.dimensions import FrameDimensions
from ....model.tubes.plan import FramePlan
from ..drawing import Drawing
from ..linework.plane import Vec
from .free_lines import NO_LINES, FreeLines
from .labels import TextLabel
from .precision import Precision


@dataclass(frozen=True)
class Told:
    """What the user says of a drawing.

    units, scale : unit of the drawing ("mm", "inch" ...) and N of a scale 1:N. layers : layer name -> member.
    pick : member -> handle[,handle]. loose : members whose upper end joins a tube that is not among the lines.
    """

    units: str | None = None
    scale: float | None = None
    layers: Mapping[str, str] | None = None
    pick: Mapping[str, str] | None = None
    loose: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Transform:
    """How the drawing was turned into the bicycle's axes (origin bottom bracket, x forward, y up, mm).

    rotation_deg: the bicycle's forward direction in the drawing, or backward when mirrored; mirrored: it faces
    left; flipped: it stands on its head; offset: the bottom bracket in drawing units.
    """

    mm_per_unit: float
    rotation_deg: float
    mirrored: bool
    flipped: bool
    offset: Vec


@dataclass(frozen=True)
class SideView:
    """A recognised side view.

    dimensions : exact measured values; optional ones None when not drawn. diameters : outside diameters by tube,
    None where only a centre-line is drawn. rim_radii : "front", "rear", None when not drawn. labels : how every
    curve was taken. lines : member -> its polyline in drawing units, for pictures; paths : the same (k, 2) in mm from
    the bottom bracket, x forward, y up. crown_height : mm from the blades' upper ends to the fork's, where a crown is
    drawn. lower_race : mm from the race to a line across below it that may be the race instead. placing : items of a
    named plan as drawn, mm. extents : member -> its ends as drawn (2, 2), mm from the bottom bracket.
    score, runner_up : shares of
    what a complete clean drawing earns. unit : what one drawing unit was taken as. free : lines that are no
    member's and lie on none. plan : the kind of frame that the reader was told, None where nobody said. joints :
    joint of that plan -> where the drawing may show it, mm from the bottom bracket. tyres_unlikely : a wheel is an arc
    that is dashed or on a layer for other things.
    """

    dimensions: FrameDimensions
    diameters: Mapping[str, float | None]
    rim_radii: Mapping[str, float | None]
    labels: tuple[TextLabel, ...]
    lines: Mapping[str, tuple[Vec, ...]]
    points: Mapping[str, Vec]
    transform: Transform
    unit: str
    score: float
    runner_up: float | None
    precision: Precision
    findings: tuple[Finding, ...]
    drawing: Drawing
    free: FreeLines = NO_LINES
    plan: FramePlan | None = None
    joints: Mapping[str, tuple[Vec, ...]] = field(default_factory=dict)
    paths: Mapping[str, Array] = field(default_factory=dict)
    crown_height: float = 0.0
    lower_race: float = 0.0
    placing: Mapping[str, float] = field(default_factory=dict)
    extents: Mapping[str, Array] = field(default_factory=dict)
    tyres_unlikely: bool = False
