"""The bicycle with what it carries, ready for modes: rider, wheels, bags and parts as lumps, tyres as springs."""

from dataclasses import dataclass, field, replace
from typing import Literal

from ..arrays import Xyz
from ..cases.library import AXLE_GRIPPED, FRONT_ROLLS, steering_lock
from ..cases.wheels import sideways_stiffness
from ..errors import ModelError
from ..frame.bicycle import Bicycle, PartMasses, Positive, luggage_words
from ..frame.carried import carried_masses
from ..frame.layout import FrameLayout, lay_out
from ..frame.mesh import MeshOptions, mesh
from ..mechanics.frame_model import FrameModel, LoadCase, RigidLink, Spring

Supports = Literal["rigid", "tyres", "free"]
SUPPORTS: tuple[Supports, ...] = ("rigid", "tyres", "free")


@dataclass(frozen=True)
class VibrationParts(Positive):
    """What the tubes and the fit sheet do not say, and tyres other than the bicycle's own. Stiffness N/mm.

    tyre_vertical : one tyre; tyre_sideways : tyre and wheel in series; None: as the bicycle has them, which is as in
    the static cases on wheels (`cases.wheels`). rider : share of the rider's mass that moves with the frame;
    below a few Hz all of him, above about 5 Hz much less (his body is soft). masses : lumps on the mesh, which
    weighs its own seat post, bar and stem.
    """

    tyre_vertical: float | None = None
    tyre_sideways: float | None = None
    rider: float = 1.0
    masses: PartMasses = field(default_factory=PartMasses)

    def __post_init__(self) -> None:
        super().__post_init__()
        if 0.0 in (self.tyre_vertical, self.tyre_sideways):
            raise ModelError(
                "a tyre spring of zero holds nothing; choose supports 'free' for a bicycle in the air"
            )


def vibration_model(
    bicycle: Bicycle,
    supports: Supports = "tyres",
    parts: VibrationParts | None = None,
    options: MeshOptions | None = None,
    layout: FrameLayout | None = None,
) -> tuple[FrameModel, LoadCase]:
    """The mesh with all lumped masses (rotary inertia on), and a load case without loads that holds it.

    rigid : axles held as in the static cases. tyres : a spring up-and-down and one sideways under each wheel, the
    rear wheel kept upright and from rolling. free : nothing holds it, the steering is loose. In the first two the
    hands lock the steering.

    Raises
    ------
    ModelError
        For supports of another name, and as `mesh` does.
    """
    if supports not in SUPPORTS:
        raise ModelError(f"supports '{supports}' are not known; known: {', '.join(SUPPORTS)}")
    parts = _of_the_bicycle(parts or VibrationParts(), bicycle)
    if bicycle.as_ridden is not bicycle:
        bicycle = bicycle.as_ridden
        layout = None
    layout = layout or lay_out(bicycle)
    # The mesh weighs its tubes; what hangs on it comes as lumps.
    base = mesh(bicycle, options, layout)
    extra, links = _contacts(bicycle, layout, base)
    model = replace(
        base,
        nodes={**base.nodes, **extra},
        rigid_links=(*base.rigid_links, *links),
        masses=tuple(m for m in carried_masses(bicycle, parts.masses, parts.rider) if m.m),
        rotary=True,
    )
    return model, _case(bicycle, layout, supports, parts)


def _of_the_bicycle(parts: VibrationParts, bicycle: Bicycle) -> VibrationParts:
    """With the bicycle's own tyres where none are given."""
    if parts.tyre_vertical is None:
        parts = replace(parts, tyre_vertical=bicycle.loads.tyre_stiffness)
    if parts.tyre_sideways is None:
        parts = replace(parts, tyre_sideways=sideways_stiffness(bicycle))
    return parts


def _contacts(
    bicycle: Bicycle, layout: FrameLayout, base: FrameModel
) -> tuple[dict[str, Xyz], tuple[RigidLink, ...]]:
    """Tyre contacts under the axles, stiffly joined to them, where the mesh has none."""
    d = bicycle.dimensions
    nodes = {}
    links = []
    for end, radius in (("rear", d.wheel_radius_rear), ("front", d.wheel_radius_front)):
        if f"{end}_contact" not in base.nodes:
            # A rigid arm from axle to road: tyre springs act where the rubber meets it.
            x, y, _ = layout.joints[f"{end}_axle"]
            nodes[f"{end}_contact"] = (x, y - radius, 0.0)
            links.append(RigidLink(f"{end}_axle", f"{end}_contact"))
    return nodes, tuple(links)


def _case(
    bicycle: Bicycle, layout: FrameLayout, supports: Supports, parts: VibrationParts
) -> LoadCase:
    # Without hands the steering is a free motion, not a mode.
    lock = (steering_lock(bicycle, layout),)
    holding: dict[str, tuple[int, ...]] = {}
    words = "nothing holds the bicycle, the steering is loose"
    springs: tuple[Spring, ...] = ()
    if supports == "rigid":
        holding = {"rear_axle": AXLE_GRIPPED, "front_axle": FRONT_ROLLS}
        springs = lock
        words = (
            "rear axle held and kept upright, free to turn about itself; front axle held up-and-down and "
            "sideways; steering locked by the hands"
        )
    elif supports == "tyres":
        # Up-and-down and sideways only: a tyre does not hold the wheel from rolling.
        up = parts.tyre_vertical or 0.0
        across = parts.tyre_sideways or 0.0
        tyre = (0.0, up, across, 0.0, 0.0, 0.0)
        springs = (
            *(Spring(f"{end}_tyre", f"{end}_contact", None, tyre) for end in ("rear", "front")),
            *lock,
        )
        holding = {"rear_axle": (1, 0, 0, 1, 0, 0)}
        words = (
            f"each tyre a spring of {up:g} N/mm up-and-down and {across:.4g} N/mm "
            "sideways with its wheel; rear wheel kept upright and from rolling; steering locked by the hands"
        )
    touching = {"rear_axle": "rear wheel", "front_axle": "front wheel"}
    return LoadCase(
        f"vibration_{supports}",
        supports=holding,
        springs=springs,
        title=f"Vibration, supports {supports}",
        notes="; ".join((words, *assumptions(bicycle, parts))),
        touching=touching,
        source="common practice, no source",
    )


def assumptions(bicycle: Bicycle, parts: VibrationParts) -> tuple[str, ...]:
    """Every assumption of the lumped masses, a sentence each."""
    loads = bicycle.loads
    masses = parts.masses
    riders = " and ".join(f"{rider.name}'s {mass:g} kg" for rider, mass in bicycle.aboard)
    return (
        f"{parts.rider:.0%} of the {riders} move with the frame as lumps on saddle, bars and "
        "bottom bracket in the shares of the sheet",
        f"drivetrain {masses.drivetrain:g}, saddle without post {masses.saddle:g}, levers {masses.levers:g} kg "
        "(workshop values, no source)",
        f"wheels stiff, inertia {masses.ring_share:g} x mass x radius² about the axle, half of it across; they spin "
        "freely, without gyroscopic effect",
        f"bags {loads.front_luggage:.3g} kg front, {loads.rear_luggage:.3g} kg rear: {luggage_words(bicycle.plan)}, "
        f"radius of gyration {masses.bag_gyration:g} mm",
    )
