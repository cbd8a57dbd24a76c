"""The two views across the frame, each in true length: the fork seen square to its axis, the stays in their own planes.

They stand well away from the side view, on layers of their own, so that nobody takes their lines for the frame's.
"""

import numpy as np

from ....model.arrays import Array
from ....model.errors import ModelError
from ....model.frame.bicycle import Bicycle
from ....model.frame.layout import FrameLayout, lay_out
from ....model.tubes.places import AtJoint
from ....model.tubes.plan import SHELL, TubeRole
from ....model.tubes.tube import Tube
from ....model.words import spoken
from .dxf_paper import CENTRE, TEXT_HEIGHT, DxfPaper
from .outline import TIP, path_edges, shell_radius
from .paper import Paper

GAP = 450.0  # mm between the side view with its dimensions and another view
PLATE = 5.0  # mm, thickness a dropout is drawn with


def in_front_view(bicycle: Bicycle) -> list[TubeRole]:
    """The pairs that the front view shows: blades and what else ends at the front dropouts or carries them."""
    return [role for role in bicycle.roles if role.paired and role.region == "fork"]


def in_stays_view(bicycle: Bicycle) -> list[TubeRole]:
    """The pairs that the view of the stays shows: all that end at the rear dropouts."""
    rear = AtJoint("rear_dropout_{side}")
    return [role for role in bicycle.roles if role.paired and role.ends[1] == rear]


def front_view(paper: DxfPaper, bicycle: Bicycle) -> None:
    """Fork and head tube from the front, square to the steering axis; up on the paper is up the axis.

    Raises
    ------
    ModelError
        When the bicycle does not place all its tubes.
    """
    if bicycle.suspension is not None:
        raise ModelError(
            "the suspension fork is a given part; its own papers show it from the front"
        )
    d = bicycle.dimensions
    f = bicycle.fittings
    layout = lay_out(bicycle)
    middle = d.front_axle.x + d.wheel_radius_front + GAP + f.front_hub_spacing
    foot = np.array(d.fork_offset_foot)
    level = d.front_axle.y  # the hub lies at the same height as in the side view

    def to_paper(points: Array) -> Array:  # seen from the front the rider's right is on the left
        return np.column_stack(
            [middle - points[:, 2], level + (points[:, :2] - foot) @ np.array(d.axis_up)]
        )

    for role in in_front_view(bicycle):
        for member in role.members:
            path = to_paper(_path(layout, member))
            _stay(paper, "FRONT_VIEW", path, bicycle.tubes.get(role.name))
    crown = level + d.fork_length
    bottom = level + d.fork_length + d.lower_stack
    paper.line("FRONT_VIEW_CENTRE_LINES", (middle, level - 40), (middle, bottom + d.head_tube + 40))
    half = f.front_hub_spacing / 2
    paper.line("FRONT_VIEW_CENTRE_LINES", (middle - half, level), (middle + half, level))
    head = bicycle.tubes.get("head_tube")
    if head is not None:
        top = bottom + d.head_tube
        # up to the head tube's own kinks, so that a tapered one shows its cone
        down = np.array([0.0, *head.kinks(d.head_tube), d.head_tube])
        half_widths = head.widths(d.head_tube, down) / 2
        left = np.column_stack([middle - half_widths, top - down])
        right = np.column_stack([middle + half_widths, top - down])
        paper.polyline("FRONT_VIEW", [*left, *right[::-1]], closed=True)
    blade = np.array(layout.joints[bicycle.plan.role("fork_blade").joint(0, "right")])
    blades = float(abs(blade[2]))
    # Blades that begin at a crown's race level stand on it; those of other forks where they do.
    if "crown_right" not in (member.start for member in layout.members):
        crown = float(to_paper(blade[None])[0, 1])
    paper.aligned(
        "FRONT_VIEW_DIMENSIONS", "front hub <>", (middle - half, level), (middle + half, level), -70
    )
    # Blades that rise to the steerer have no distance there.
    if blades:
        paper.aligned(
            "FRONT_VIEW_DIMENSIONS",
            "blades <>",
            (middle - blades, crown),
            (middle + blades, crown),
            -50,
            -120,
        )
    paper.distance(
        "FRONT_VIEW_DIMENSIONS",
        "fork length on axis <>",
        (middle + half, level),
        (middle + blades, level + d.fork_length),
        (middle + half + 60, 0),
        90,
    )
    _caption(
        paper,
        "FRONT_VIEW",
        "Fork from the front, square to the steering axis",
        (middle, level - 150),
    )


def stays_view(paper: DxfPaper, bicycle: Bicycle) -> None:
    """Chainstays and seatstays from above, each pair in its own plane; drive side at the bottom of the paper.

    Raises
    ------
    ModelError
        When the bicycle does not place all its tubes.
    """
    d = bicycle.dimensions
    f = bicycle.fittings
    layout = lay_out(bicycle)
    # below the ground, where nothing of the side view lies
    level = d.ground_y - 2.5 * GAP
    half = f.bb_shell_width / 2
    shell = shell_radius(bicycle)
    origin = np.array([0.0, level])
    for k, role in enumerate(in_stays_view(bicycle)):
        if k:
            # beside the last ones, as far as this pair is long
            reach = float(np.ptp(_path(layout, role.members[0])[:, :2], axis=0).max())
            step = max(d.front_axle.x + d.wheel_radius_front, 1.2 * reach + GAP / 2)
            origin = origin + np.array([step, 0.0])
        if role.mitred_start[:1] == (SHELL,):
            corners = [
                (origin[0] - shell, level - half),
                (origin[0] + shell, level - half),
                (origin[0] + shell, level + half),
                (origin[0] - shell, level + half),
            ]
            paper.polyline("STAYS_VIEW", corners, closed=True)
        _pair(paper, bicycle, layout, role, origin)
        if role.mitred_start[:1] == (SHELL,):
            right = origin[0] + shell
            paper.aligned(
                "STAYS_VIEW_DIMENSIONS",
                "shell <>",
                (right, level - half),
                (right, level + half),
                -120,
                90,
            )


def _pair(
    paper: DxfPaper,
    bicycle: Bicycle,
    layout: FrameLayout,
    role: TubeRole,
    origin: Array,
) -> None:
    """Two stays, their joint at `origin`, running back (to the left) to the hub."""
    hub = bicycle.fittings.rear_hub_spacing / 2
    name = role.name
    for side in ("right", "left"):
        path = _path(layout, f"{name}_{side}")
        along = (path[-1] - path[0])[:2] / np.linalg.norm((path[-1] - path[0])[:2])
        # along the stay and out of the plane: its true length lies in the paper
        flat = np.column_stack([-(path - path[0])[:, :2] @ along, -path[:, 2]]) + origin
        _stay(paper, "STAYS_VIEW", flat, bicycle.tubes.get(name))
    back = origin[0] - float(np.linalg.norm((path[-1] - path[0])[:2]))
    y = origin[1]
    paper.line("STAYS_VIEW_CENTRE_LINES", (origin[0] + 60, y), (back - 60, y))
    paper.line("STAYS_VIEW_CENTRE_LINES", (back, y - hub), (back, y + hub))
    for sign in (1, -1):  # the dropouts, bearing on the hub
        plate = [(back - 10, y + sign * hub), (back + TIP + 8, y + sign * hub)]
        paper.polyline(
            "STAYS_VIEW", [*plate, *((x, z + sign * PLATE) for x, z in plate[::-1])], closed=True
        )
    paper.aligned("STAYS_VIEW_DIMENSIONS", "rear hub <>", (back, y - hub), (back, y + hub), 60)
    spacing = 2 * abs(float(path[0, 2]))
    # Stays that begin on one point have none.
    if spacing:
        paper.aligned(
            "STAYS_VIEW_DIMENSIONS",
            "spacing <>",
            (origin[0], y - spacing / 2),
            (origin[0], y + spacing / 2),
            -70,
            90,
        )
    paper.distance(
        "STAYS_VIEW_DIMENSIONS",
        f"{spoken(name)} <>",
        (back, y + hub),
        (origin[0], y + spacing / 2),
        (0, y + hub + 60),
        0,
    )
    _caption(
        paper,
        "STAYS_VIEW",
        f"{role.label.capitalize()} in their plane, drive side below",
        ((origin[0] + back) / 2, y - hub - 80),
    )


def _path(layout: FrameLayout, name: str) -> Array:
    return np.array(next(m.path for m in layout.members if m.name == name))


def _stay(paper: Paper, layer: str, path: Array, tube: Tube | None) -> None:
    """Centre-line, and both edges up to the dropout where the diameter is known."""
    if len(path) == 2:
        paper.line(f"{layer}_CENTRE_LINES", *path)
    else:
        paper.polyline(f"{layer}_CENTRE_LINES", path)
    if tube is None:
        return
    # across: from above an oval shows its width
    left, right = path_edges(path, tube, across=True)
    paper.polyline(layer, [*left, *right[::-1]], closed=True)


def _caption(paper: DxfPaper, layer: str, words: str, at: tuple[float, float]) -> None:
    paper.text(layer, words, at, TEXT_HEIGHT, CENTRE)
