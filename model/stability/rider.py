"""The rider's upper body in the wobble model: it leans at the hip and twists on the spine, on springs and dampers."""

from dataclasses import dataclass
from math import isfinite

from ..errors import ModelError
from .lateral import Joint
from .whipple import RigidBody


@dataclass(frozen=True)
class Twist:
    """The spine's: the upper body turns about the upright `x` m before the rear contact, N*m/rad and N*m*s/rad."""

    x: float
    stiffness: float
    damping: float

    def __post_init__(self) -> None:
        if not all(isfinite(n) and n >= 0 for n in (self.stiffness, self.damping)):
            raise ModelError("rider's spine: stiffness and damping must be numbers of zero or more")


@dataclass(frozen=True)
class LeaningRider:
    """A rider's upper body, which leans about a fore-aft line `height` m above the road, N*m/rad and N*m*s/rad.

    twist : about the upright as well; None: the shoulders keep square to the saddle. name : whose, before the names of
    his joints.
    """

    body: RigidBody
    height: float
    stiffness: float
    damping: float
    twist: Twist | None = None
    name: str = "rider"

    def __post_init__(self) -> None:
        if not all(isfinite(n) and n >= 0 for n in (self.height, self.stiffness, self.damping)):
            raise ModelError("rider: height, stiffness and damping must be numbers of zero or more")

    @property
    def joints(self) -> tuple[Joint, ...]:
        # z points down, so a height is negative.
        lean = Joint(f"{self.name} lean", (1.0, 0.0), (0.0, -self.height))
        if self.twist is None:
            return (lean,)
        return (lean, Joint(f"{self.name} twist", (0.0, 1.0), (self.twist.x, 0.0)))

    @property
    def springs(self) -> tuple[tuple[str, float, float], ...]:
        """(joint, stiffness, damping) of hip and spine."""
        lean = (f"{self.name} lean", self.stiffness, self.damping)
        if self.twist is None:
            return (lean,)
        return (lean, (f"{self.name} twist", self.twist.stiffness, self.twist.damping))


@dataclass(frozen=True)
class RiderBehind:
    """Somebody behind the first rider: he leans and twists on a saddle of his own, and holds a bar that does not steer.

    saddle, bar : places of the frame, see `shimmy`. stiffness N*m/rad, damping N*m*s/rad : of his arms, between his
    upper body and his bar, about a line as slanted as the steering axis.
    """

    rider: LeaningRider
    saddle: str
    bar: str
    stiffness: float
    damping: float

    def __post_init__(self) -> None:
        if not all(isfinite(n) and n >= 0 for n in (self.stiffness, self.damping)):
            raise ModelError(
                f"{self.rider.name}'s arms: stiffness and damping must be numbers of zero or more"
            )
