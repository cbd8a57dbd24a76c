"""Rigid links, equal dofs and released ends arranged so that OpenSees can take them.

OpenSees' Transformation handler knows masters and slaves, one level deep: a slave must not be a master too, nor have
a support on a linked dof - there it gives wrong answers without a word. But a rigid body may have any of its nodes
as master, and two nodes that share dofs either of the two; so the ends are chosen here such that supports and
other links sit on masters. What is left over is `chained`.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ...model.mechanics.frame_model import FrameModel

Pair = tuple[int, int, tuple[int, ...]]
"""Node tags of two nodes and the dofs (1-6) they share."""


@dataclass(frozen=True)
class LinkedNodes:
    """rigid : slave tag -> master tag, one level deep. equal : (master, slave, dofs). chained : see above."""

    rigid: Mapping[int, int]
    equal: tuple[Pair, ...]
    chained: bool


def arrange(
    model: FrameModel, supports: Mapping[str, Iterable[int]], twins: Iterable[Pair]
) -> LinkedNodes:
    """Choose masters for the links of a model and the twins of released ends. Tags are 1 + position of the node."""
    index = model.node_index
    held = {
        (1 + index[node], k)
        for node, flags in supports.items()
        for k, f in enumerate(flags, 1)
        if f
    }
    pairs = [twin for twin in twins if twin[2]]
    for link in model.equal_dofs:
        dofs = tuple(dof + 1 for dof in link.dofs)
        pairs.append((1 + index[link.master], 1 + index[link.slave], dofs))
    wanted = {node for node, _ in held}
    for master, slave, _ in pairs:
        wanted |= {master, slave}
    rigid: dict[int, int] = {}
    contested = False
    for body in _rigid_bodies(
        [(1 + index[x.master], 1 + index[x.slave]) for x in model.rigid_links]
    ):
        busy = [node for node in body if node in wanted]
        # What carries a support or another link has to be the master.
        master = (busy or body)[0]
        # Two such nodes in one body cannot both be.
        contested |= len(busy) > 1
        rigid |= {node: master for node in body if node != master}
    equal = tuple(_turned(pair, held, set(rigid.values())) for pair in pairs)
    return LinkedNodes(rigid, equal, contested or _chained(rigid, equal, held))


def _rigid_bodies(links: list[tuple[int, int]]) -> list[list[int]]:
    """Nodes that rigid links make one body, masters before slaves as far as the links go."""
    bodies: list[list[int]] = []
    for master, slave in links:
        touched = [body for body in bodies if master in body or slave in body]
        bodies = [body for body in bodies if body not in touched]
        bodies.append(
            list(dict.fromkeys([*(node for body in touched for node in body), master, slave]))
        )
    return bodies


def _turned(pair: Pair, held: set[tuple[int, int]], masters: set[int]) -> Pair:
    """The pair the other way round where its slave has a support or a rigid body, and its master has not."""
    first, second, dofs = pair

    def busy(node: int) -> bool:
        return node in masters or any((node, dof) in held for dof in dofs)

    if busy(second) and not busy(first):
        return (second, first, dofs)
    return pair


def _chained(rigid: Mapping[int, int], equal: tuple[Pair, ...], held: set[tuple[int, int]]) -> bool:
    linked: list[tuple[int, Iterable[int]]] = [(slave, range(1, 7)) for slave in rigid]
    linked += [(slave, dofs) for _, slave, dofs in equal]
    slaves = [slave for slave, _ in linked]
    masters = {*rigid.values(), *(master for master, _, _ in equal)}
    on_linked = any((slave, dof) in held for slave, dofs in linked for dof in dofs)
    return len(set(slaves)) < len(slaves) or bool(masters & set(slaves)) or on_linked
