"""Tubes condensed to their joints against static condensation of the same elements and closed forms."""

from dataclasses import replace

import numpy as np
import pytest
from droptrail.model.cases.library import load_cases
from droptrail.model.errors import ModelError
from droptrail.model.frame.bicycle import Fittings
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import MeshOptions, mesh
from droptrail.model.mechanics.beam import Beams, spd_inverse
from droptrail.model.mechanics.frame_model import Element, FrameModel
from droptrail.model.reanalysis.condensed import joint_nodes, segments
from droptrail.model.tubes.sections import round_tube
from helpers_bicycle import STEEL, tourer

BENT = Fittings(stay_curve=8.0, blade_straight=150.0)


def meshed(bicycle, options=None):
    layout = lay_out(bicycle)
    model = mesh(bicycle, options, layout)
    return layout, model, joint_nodes(model, load_cases(bicycle, layout))


def guyan(model, member, i, j):
    """(12, 12) K_bb - K_bi K_ii^-1 K_ib of a member's own elements between two of its nodes (Guyan 1965)."""
    beams = Beams.of(model)
    inside, reached = [], False
    for k, element in enumerate(model.elements):
        if element.member == member:
            reached = reached or element.i == i
            if reached:
                inside.append(k)
            if element.j == j:
                break
    dofs = np.unique(beams.dofs[inside])
    place = {dof: k for k, dof in enumerate(dofs)}
    total = np.zeros((len(dofs), len(dofs)))
    for k in inside:
        rows = [place[dof] for dof in beams.dofs[k]]
        total[np.ix_(rows, rows)] += beams.k_global[k]
    ends = [place[6 * model.node_index[n] + d] for n in (i, j) for d in range(6)]
    rest = np.setdiff1d(np.arange(len(dofs)), ends)
    middle = np.linalg.solve(total[np.ix_(rest, rest)], total[np.ix_(rest, ends)])
    return total[np.ix_(ends, ends)] - total[np.ix_(ends, rest)] @ middle


def relative(matrix, truth):
    scale = np.sqrt(np.outer(truth.diagonal(), truth.diagonal()))
    return np.abs((matrix - truth) / scale).max()


@pytest.mark.parametrize("fittings", [None, BENT], ids=["straight", "bent stays and blades"])
def test_every_segment_equals_static_condensation_of_its_elements(fittings):
    layout, model, keep = meshed(tourer(fittings=fittings))
    beams, seen = Beams.of(model), 0
    for member in layout.members:
        for segment in segments(beams, member.name, keep):
            condensed = segment.deformation.T @ segment.stiffness @ segment.deformation
            assert relative(condensed, guyan(model, member.name, segment.i, segment.j)) < 1e-8, (
                segment
            )
            seen += 1
    assert seen > 15


def test_the_comparison_notices_a_wrong_segment():
    _layout, model, keep = meshed(tourer())
    segment = segments(Beams.of(model), "top_tube", keep)[0]
    wrong = segment.deformation.T @ (1.0001 * segment.stiffness) @ segment.deformation
    assert relative(wrong, guyan(model, "top_tube", segment.i, segment.j)) > 1e-5


def test_rigid_motion_deforms_nothing():
    layout, model, keep = meshed(tourer(fittings=BENT))
    for member in layout.members:
        for segment in segments(Beams.of(model), member.name, keep):
            at = [np.array(model.nodes[n]) for n in (segment.i, segment.j)]
            shift = np.array([1.0, 2.0, 3.0])
            for turn in np.eye(3):
                motion = np.concatenate([v for x in at for v in (np.cross(turn, x) + shift, turn)])
                assert np.abs(segment.deformation @ motion).max() < 1e-10


def test_a_plain_tube_is_the_textbook_cantilever():
    """Tip deflection P L^3 / 3EI + P L / GA_s, slope P L^2 / 2EI, stretch PL / EA, twist TL / GJ (Timoshenko beam)."""
    section, length, pieces = round_tube(31.8, 0.9, STEEL.nu), 600.0, 7
    nodes = {f"n{k}": (length * k / pieces, 0.0, 0.0) for k in range(pieces + 1)}
    elements = tuple(
        Element(f"e{k}", f"n{k}", f"n{k + 1}", section, STEEL, (0.0, 1.0, 0.0), "bar")
        for k in range(pieces)
    )
    (segment,) = segments(Beams.of(FrameModel(nodes, elements)), "bar", set())
    e, g, f = STEEL.E, STEEL.G, segment.flexibility
    bend = length**3 / (3 * e * section.Iz) + length / (g * section.Asy)
    assert np.allclose(
        [f[0, 0], f[1, 1], f[2, 2], f[3, 3]],
        [length / (e * section.A), bend, bend, length / (g * section.J)],
        rtol=1e-12,
    )
    assert np.allclose(
        [f[1, 5], f[2, 4], f[5, 5]],
        [
            length**2 / (2 * e * section.Iz),
            -(length**2) / (2 * e * section.Iy),
            length / (e * section.Iz),
        ],
        rtol=1e-12,
    )


def test_joints_are_kept_and_inner_nodes_go():
    _layout, model, keep = meshed(tourer())
    assert {"bottom_bracket", "top_tube_head_node", "rear_axle", "steerer_upper", "saddle"} <= keep
    assert not any(":" in node for node in keep)
    seat = segments(Beams.of(model), "seat_tube", keep)
    assert [s.i for s in seat] == [
        "bottom_bracket",
        "seat_tube_seatstay_node",
        "seat_tube_top_tube_node",
    ]


def test_refuses_what_it_cannot_condense():
    _layout, model, keep = meshed(tourer(), MeshOptions(element_length=500.0))
    first = next(k for k, e in enumerate(model.elements) if e.member == "top_tube")
    released = replace(
        model,
        elements=tuple(
            replace(e, releases=(5,)) if k == first else e for k, e in enumerate(model.elements)
        ),
    )
    with pytest.raises(ModelError, match="top tube: an element has end releases"):
        segments(Beams.of(released), "top_tube", keep)
    turned = replace(
        model,
        elements=tuple(
            replace(e, i=e.j, j=e.i) if k == first else e for k, e in enumerate(model.elements)
        ),
    )
    with pytest.raises(ModelError, match="not a single chain"):
        segments(Beams.of(turned), "top_tube", keep)


def test_inverse_of_badly_scaled_matrices():
    rng = np.random.default_rng(3)
    half = rng.normal(size=(4, 6, 6)) * np.logspace(-6, 6, 6)[:, None]
    matrix = half @ np.swapaxes(half, 1, 2)
    scale = np.sqrt(np.einsum("nii->ni", matrix))
    unit = spd_inverse(matrix) @ matrix * scale[:, :, None] / scale[:, None, :]
    assert np.abs(unit - np.eye(6)).max() < 1e-6
