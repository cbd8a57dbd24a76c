"""What the bicycle carries, as lumps at joints: rider, bags, wheels, parts - and the whole bicycle as lumps."""

from collections.abc import Iterator

from ..mechanics.frame_model import NodeMass
from .bicycle import Bicycle, PartMasses, luggage_lumps
from .layout import FrameLayout, Member

TONNE = 1e-3  # kg to tonne


def carried_masses(bicycle: Bicycle, masses: PartMasses, rider_share: float) -> list[NodeMass]:
    """Lumps on a mesh that weighs its own tubes, post, bar and stem, tonne; some may be nought.

    rider_share : of the rider's mass that moves with the frame, on saddle, bars and pedals in the sheet's shares.
    """
    loads = bicycle.loads
    lumps: list[tuple[str, float]] = []
    for rider, whole in bicycle.aboard:
        moving = whole * rider_share
        # Levers and gears are there once; saddle and cranks are everybody's.
        levers = masses.levers if rider == bicycle.plan.riders[0] else 0.0
        lumps += [
            (rider.saddle, moving * loads.saddle_share + masses.saddle),
            (f"{rider.bars}_left", (moving * loads.bar_share + levers) / 2),
            (f"{rider.bars}_right", (moving * loads.bar_share + levers) / 2),
            (rider.bracket, moving * loads.pedal_share + masses.drivetrain),
        ]
    return [
        *(NodeMass(node, mass * TONNE) for node, mass in lumps),
        *_bags(bicycle, masses),
        *_wheels(bicycle, masses),
    ]


def ridden_masses(bicycle: Bicycle, layout: FrameLayout) -> tuple[NodeMass, ...]:
    """The whole ridden bicycle as lumps at its joints, without a mesh, tonne.

    Frame and fork weigh what `PartMasses` says, shared over the tubes by their length, half to each end: then no
    exchanged tube changes the inertia, and a comparison of tubes compares stiffness alone.
    """
    masses = bicycle.part_masses
    fork_tubes = bicycle.plan.fork_tubes
    fork = [m for m in layout.members if m.tube in fork_tubes]
    frame = [m for m in layout.members if m.tube not in bicycle.plan.beside_the_frame]
    parts = (("saddle", masses.seat_post), ("bar_centre", masses.bar_and_stem))
    lumps = (
        *carried_masses(bicycle, masses, 1.0),
        *(NodeMass(node, kg * TONNE) for node, kg in parts),
        *_shared_out(masses.frame, frame, layout),
        *_shared_out(masses.fork, fork, layout),
    )
    # A lump without mass would only add a place.
    return tuple(lump for lump in lumps if lump.m)


def _shared_out(kg: float, members: list[Member], layout: FrameLayout) -> Iterator[NodeMass]:
    total = sum(member.length for member in members)
    for member in members:
        half = kg * TONNE * member.length / total / 2
        yield NodeMass(layout.node(member.start), half)
        yield NodeMass(layout.node(member.end), half)


def _bags(bicycle: Bicycle, masses: PartMasses) -> list[NodeMass]:
    # A bag has size: without it the bicycle would sway too fast.
    square = masses.bag_gyration**2 * TONNE
    return [
        NodeMass(node, kg * TONNE, (kg * square,) * 3)
        for node, kg in luggage_lumps(bicycle.loads, bicycle.plan)
    ]


def _wheels(bicycle: Bicycle, masses: PartMasses) -> list[NodeMass]:
    """A wheel turns freely on its axle, so it adds no inertia about it."""
    loads = bicycle.loads
    d = bicycle.dimensions
    out = []
    for end, mass, radius in (
        ("rear", loads.wheel_mass_rear, d.wheel_radius_rear),
        ("front", loads.wheel_mass_front, d.wheel_radius_front),
    ):
        # Half of the inertia about the axle, as for any thin ring.
        across = masses.ring_share * mass * TONNE * radius**2 / 2
        out.append(NodeMass(f"{end}_axle", mass * TONNE, (across, across, 0.0)))
    return out
