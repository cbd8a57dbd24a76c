"""Supports, rigid links and equal dofs as u = T q: every condition is met, nothing else is, and their forces are right.

Outside facts: a rigid body turns as u_s = u_m + theta x r; reactions of statically determinate frames follow from
equilibrium alone.
"""

from dataclasses import replace

import numpy as np
import pytest
from droptrail.model.errors import ModelError
from droptrail.model.mechanics.assembly import spring_matrix
from droptrail.model.mechanics.constraints import Constraints
from droptrail.model.mechanics.frame_model import EqualDofs, FrameModel, LoadCase, RigidLink
from droptrail.model.mechanics.solve import solve
from droptrail.model.tubes.sections import round_tube
from helpers_frames import ALL_SIX, cantilever, random_frame, tube_material
from hypothesis import given, settings
from hypothesis import strategies as st

STEEL = tube_material(205e3, 0.29)
TUBE = round_tube(28.6, 0.9, 0.29)
NODES = {
    "a": (0.0, 0.0, 0.0),
    "b": (300.0, 20.0, -40.0),
    "c": (310.0, -60.0, 70.0),
    "d": (500.0, 0.0, 10.0),
}


def model(**more) -> FrameModel:
    return FrameModel(NODES, (), **more)


def motion(constraints: Constraints, seed: int = 0) -> np.ndarray:
    """(n, 6) any motion that the constraints allow."""
    free = constraints.T.shape[1]
    return np.asarray(constraints.T @ np.random.default_rng(seed).normal(size=free)).reshape(-1, 6)


def link_error(u: np.ndarray, master: int, slave: int) -> float:
    arm = np.subtract(list(NODES.values())[slave], list(NODES.values())[master])
    return max(
        np.abs(u[slave, :3] - u[master, :3] - np.cross(u[master, 3:], arm)).max(),
        np.abs(u[slave, 3:] - u[master, 3:]).max(),
    )


# --- the map ------------------------------------------------------------------------------------------------------
def test_supports_alone_hold_exactly_what_they_name():
    c = Constraints.of(model(), {"b": (1, 0, 1, 0, 0, 1), "d": ALL_SIX})
    held = [6, 8, 11, 18, 19, 20, 21, 22, 23]
    assert c.T.shape == (24, 15)
    assert sorted(c.supported) == held
    assert np.flatnonzero(~motion(c).ravel().astype(bool)).tolist() == held
    free = [k for k in range(24) if k not in held]
    np.testing.assert_array_equal(c.T.toarray()[free], np.eye(15))


def test_a_rigid_link_turns_its_slave_about_the_master():
    c = Constraints.of(model(rigid_links=(RigidLink("b", "c"),)), {})
    u = motion(c)
    assert c.T.shape == (24, 18)
    assert link_error(u, 1, 2) < 1e-12 * np.abs(u).max()
    assert link_error(u, 0, 1) > 0.1  # a and b are not linked
    assert not len(c.supported)


@pytest.mark.parametrize(
    "links",
    [
        (("a", "b"), ("b", "c"), ("c", "d")),
        (("c", "d"), ("b", "c"), ("a", "b")),
        (("a", "b"), ("d", "c"), ("b", "d")),
    ],
    ids=["downwards", "upwards", "mixed"],
)
def test_chains_of_links_move_as_one_body(links):
    c = Constraints.of(model(rigid_links=tuple(RigidLink(*pair) for pair in links)), {})
    assert c.T.shape == (24, 6)
    u = motion(c)
    for other in (1, 2, 3):
        assert link_error(u, 0, other) < 1e-11 * np.abs(u).max()


def test_equal_dofs_share_only_what_they_list():
    c = Constraints.of(model(equal_dofs=(EqualDofs("a", "d", (0, 4)),)), {})
    u = motion(c)
    assert c.T.shape == (24, 22)
    same = u[0] == u[3]
    assert same.tolist() == [True, False, False, False, True, False]


def test_a_support_on_a_slave_holds_its_master_through_the_arm():
    c = Constraints.of(model(rigid_links=(RigidLink("b", "c"),)), {"c": (0, 1, 0, 0, 0, 0)})
    u = motion(c)
    assert c.T.shape == (24, 17)
    assert abs(u[2, 1]) < 1e-12 * np.abs(u).max()
    assert link_error(u, 1, 2) < 1e-11 * np.abs(u).max()


def test_conditions_said_twice_count_once():
    """A closed ring of links, supports on both ends of one: six of the ring's 24 conditions follow from the others."""
    ring = tuple(RigidLink(*pair) for pair in (("a", "b"), ("b", "c"), ("c", "d"), ("d", "a")))
    c = Constraints.of(model(rigid_links=ring), {"a": ALL_SIX, "b": (1, 1, 1, 0, 0, 0)})
    assert c.T.shape == (24, 0)
    assert c.free == 0
    assert len(c.supported) == 6


def test_an_arm_a_kilometre_long_loses_no_condition():
    far = FrameModel(
        {"a": (0.0, 0.0, 0.0), "b": (1e6, 1.0, 1e-3)}, (), rigid_links=(RigidLink("a", "b"),)
    )
    c = Constraints.of(far, {"b": ALL_SIX})
    assert c.T.shape == (12, 0)


def test_a_dof_shared_along_a_chain_and_once_more_is_kept_once():
    """a and b share their x, b and c, then a and c again, which says nothing new; d follows a by a link."""
    ties = tuple(EqualDofs(*pair, (0,)) for pair in (("b", "a"), ("c", "b"), ("c", "a")))
    c = Constraints.of(model(equal_dofs=ties, rigid_links=(RigidLink("a", "d"),)), {})
    u = motion(c)
    assert c.free == 24 - 2 - 6
    assert u[0, 0] == pytest.approx(u[1, 0], rel=1e-12)
    assert u[0, 0] == pytest.approx(u[2, 0], rel=1e-12)
    assert link_error(u, 0, 3) < 1e-11 * np.abs(u).max()


def test_what_cancels_is_no_condition():
    """Two shared dofs along two links hold all turns but one; a support on a turn held already says nothing new."""
    frame = model(
        rigid_links=(RigidLink("b", "a"), RigidLink("c", "a")),
        equal_dofs=(EqualDofs("a", "b", (0,)), EqualDofs("a", "c", (0,))),
    )
    held = Constraints.of(frame, {"b": (0, 0, 0, 0, 1, 0)})
    assert held.free == Constraints.of(frame, {}).free == 24 - 14
    assert len(held.supported) == 0


@settings(deadline=None, max_examples=60)
@given(st.data())
def test_any_conditions_are_all_met_and_no_freedom_is_lost(data):
    """Against dense linear algebra: T spans exactly the null space of all equations."""
    names = list(NODES)
    pairs = st.tuples(st.sampled_from(names), st.sampled_from(names)).filter(lambda p: p[0] != p[1])
    links = tuple(RigidLink(*p) for p in data.draw(st.lists(pairs, max_size=3)))
    ties = tuple(
        EqualDofs(*p, tuple(sorted(d)))
        for p, d in data.draw(
            st.lists(st.tuples(pairs, st.sets(st.integers(0, 5), min_size=1)), max_size=3)
        )
    )
    flags = st.tuples(*(st.integers(0, 1),) * 6)
    supports = data.draw(st.dictionaries(st.sampled_from(names), flags, max_size=2))
    frame = model(rigid_links=links, equal_dofs=ties)
    c = Constraints.of(frame, supports)
    every = all_conditions(frame, supports)
    T = c.T.toarray()
    scale = np.abs(every).max(axis=1, initial=1.0)[:, None] * np.abs(T).max(initial=1.0)
    assert np.abs(every @ T).max(initial=0.0) < 1e-9 * scale.max(initial=1.0)
    rank = (
        np.linalg.matrix_rank(every / np.linalg.norm(every, axis=1, keepdims=True))
        if len(every)
        else 0
    )
    # numpy 1.26 knows no rank of a matrix without columns
    free = np.linalg.matrix_rank(T) if T.size else 0
    assert T.shape[1] == 24 - rank == free
    assert len(c.supported) <= sum(map(sum, supports.values()))


def all_conditions(frame: FrameModel, supports) -> np.ndarray:
    """Written down a second time, as dense rows: cross products by matrix."""
    rows, at = [], frame.node_index
    for link in frame.rigid_links:
        arm = np.subtract(frame.nodes[link.slave], frame.nodes[link.master])
        block = np.zeros((6, 24))
        block[:, 6 * at[link.slave] :][:, :6] = np.eye(6)
        block[:, 6 * at[link.master] :][:, :6] -= np.eye(6)
        for k in range(3):
            block[:3, 6 * at[link.master] + 3 + k] -= np.cross(np.eye(3)[k], arm)
        rows += list(block)
    for tie in frame.equal_dofs:
        for dof in tie.dofs:
            row = np.zeros(24)
            row[6 * at[tie.slave] + dof], row[6 * at[tie.master] + dof] = 1.0, -1.0
            rows.append(row)
    rows += [
        np.eye(24)[6 * at[node] + k]
        for node, flags in supports.items()
        for k in range(6)
        if flags[k]
    ]
    return np.array(rows).reshape(-1, 24)


# --- forces -------------------------------------------------------------------------------------------------------
def test_reactions_of_a_beam_on_linked_supports_follow_from_statics():
    """The supported node hangs under the beam's end on a rigid arm: N and V as loaded, M with the arm's lever."""
    beam = replace(
        cantilever(TUBE, STEEL, 400.0, 2),
        nodes={
            "0": (0.0, 0, 0),
            "1": (200.0, 0, 0),
            "2": (400.0, 0, 0),
            "foot": (30.0, -100.0, 50.0),
        },
        rigid_links=(RigidLink("0", "foot"),),
    )
    case = LoadCase("c", {"2": (700.0, -200.0, 90.0, 0, 0, 0)}, supports={"foot": ALL_SIX})
    result = solve(beam, [case])["c"]
    lever = np.subtract((400.0, 0, 0), (30.0, -100.0, 50.0))
    expected = -np.concatenate([(700.0, -200.0, 90.0), np.cross(lever, (700.0, -200.0, 90.0))])
    assert list(result.reactions) == ["foot"]
    np.testing.assert_allclose(result.reactions["foot"], expected, rtol=1e-9)
    assert np.abs(result.displacement("foot")).max() < 1e-12


@pytest.mark.parametrize("seed", range(6))
def test_links_carry_their_forces_within_the_body(seed):
    """Added up here by hand: loads, reactions and the ground spring balance; the links' own forces are no reaction."""
    frame, case = random_frame(seed)
    result = solve(frame, [case])[case.name]
    assert set(result.reactions) == set(case.supports)
    ground = next(s for s in frame.springs if s.j is None)
    pushed = -spring_matrix(ground) @ result.displacement(ground.i)
    total, size = np.zeros(6), 0.0
    for node, six in (*case.nodal.items(), *result.reactions.items(), (ground.i, pushed)):
        six = np.asarray(six)
        total += [*six[:3], *(six[3:] + np.cross(frame.nodes[node], six[:3]))]
        size += np.abs(six[:3]).sum()
    assert np.abs(total[:3]).max() < 1e-9 * size
    assert np.abs(total[3:]).max() < 1e-9 * size * 400


def test_forces_on_free_dofs_are_not_taken_for_reactions():
    c = Constraints.of(model(), {"a": (1, 0, 0, 0, 0, 0)})
    forces = c.support_forces(np.arange(1.0, 25.0)[:, None])[:, 0]
    assert np.flatnonzero(forces).tolist() == [0]
    assert forces[0] == 1.0


def test_a_support_beside_a_link_takes_its_own_share():
    """u_c follows b; the support holds c's y: its force is found from the multipliers, link forces taken out."""
    frame = model(rigid_links=(RigidLink("b", "c"),))
    held = {"c": (0, 1, 0, 0, 0, 0)}
    c = Constraints.of(frame, held)
    rows = all_conditions(frame, held)
    multipliers = np.random.default_rng(4).normal(size=(len(rows), 1)) * 100
    forces = c.support_forces(rows.T @ multipliers)[:, 0]
    # The support's condition stands last.
    wanted = multipliers[-1, 0]
    assert np.flatnonzero(forces).tolist() == [13]
    assert forces[13] == pytest.approx(wanted, rel=1e-9)


# --- refusals -----------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "supports",
    [
        {"b": (1, 1, 1)},
        {"b": (1, 1, 1, 0, 0, 2)},
        {"b": (1, 1, 1, 0, 0, 0.5)},
        {"b": (1, 1, 1, 0, 0, 0, 0)},
    ],
)
def test_flags_that_are_none_are_refused(supports):
    with pytest.raises(
        ModelError,
        match=r"support at b: six flags 0 or 1 \(ux uy uz rx ry rz\) are needed, got \(1, ",
    ):
        Constraints.of(model(), supports)


def test_a_support_at_a_node_that_is_not_there_is_refused():
    with pytest.raises(ModelError, match="a support names node 'x', which the model does not have"):
        Constraints.of(model(), {"x": ALL_SIX})
