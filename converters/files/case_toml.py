"""Load cases of the builder's own, in TOML: one table per case, in mm, N, N·m and degrees.

The format with an example is in model/METHODS.md, section 10.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from difflib import get_close_matches
from math import isclose
from pathlib import Path
from typing import Any

import numpy as np

from ...model.cases.library import CASES, cases_for, load_cases
from ...model.cases.tools import added, own_load, steering_lock, swallowed
from ...model.errors import InputError
from ...model.frame.bicycle import Bicycle
from ...model.frame.layout import FrameLayout
from ...model.mechanics.frame_model import DOFS, FrameModel, LoadCase, Measure, MemberLoad
from ...model.words import load_words, spoken
from .strict_json import JsonItem
from .strict_toml import read_toml

_CASE_KEYS = ("title", "source", "notes", "steering", "like", "load", "support", "measure")
_LOAD_KEYS = ("at", "force", "moment", "along", "per_mm")
_SUPPORT_KEYS = ("at", "held", "touching")
_MEASURE_KEYS = ("name", "at", "against", "move", "turn", "reference", "title")
_N_M = 1000.0  # N·m to N·mm


def read_cases(
    path: str | Path, bicycle: Bicycle, layout: FrameLayout, model: FrameModel
) -> tuple[LoadCase, ...]:
    """The load cases of a TOML file, checked against the bicycle's model.

    Raises
    ------
    InputError
        Naming file, table and key, the value found and what is expected.
    """
    path = Path(path)
    tables = read_toml(path)
    if not tables:
        raise InputError(
            f"{path.name}: it holds no load case; write one as a table such as [my_case]"
        )
    reader = _CaseReader(bicycle, layout, model)
    return tuple(
        reader.case(name, _table(name, table, path.name)) for name, table in tables.items()
    )


# TOML has no braces: the words of the JSON reader would send the builder looking for them
class _TomlItem(JsonItem):
    """A value of a TOML file, refused in words that fit its brackets."""

    object_wanted = "a table is expected, begun by its name in brackets such as [my_case]"
    list_wanted = "a list such as [0, 0, 200] is expected, or a table in double brackets such as [[my_case.load]]"

    def shown(self) -> str:
        value = self.value
        if isinstance(value, Mapping):
            return f"a table with {_listed(map(str, value)) or 'nothing in it'}"
        if isinstance(value, list):
            return _listed(_TomlItem(v, "").shown() for v in value)
        return repr(value)


def _table(name: str, table: object, source: str) -> JsonItem:
    """The table of one case; refused in words where it is written as a list of cases, or is not a table."""
    if isinstance(table, list) and table and isinstance(table[0], Mapping):
        wanted = str(table[0].get("name", "my_case")).strip().replace(" ", "_") or "my_case"
        raise InputError(
            f"{source}: [[{name}]] is a list of tables; a load case is a table named as the case is, in "
            f"single brackets: [{wanted}], with its loads below as [[{wanted}.load]]"
        )
    if not isinstance(table, Mapping):
        raise InputError(
            f"{source}: '{name}' stands in no load case; begin each load case with its name in brackets, "
            "such as [my_case]"
        )
    return _TomlItem(table, f"{source}: {name}")


class _CaseReader:
    """Reads cases against one bicycle and its model."""

    def __init__(self, bicycle: Bicycle, layout: FrameLayout, model: FrameModel) -> None:
        self.bicycle = bicycle
        self.layout = layout
        self.model = model
        self.known = cases_for(bicycle.plan)
        # a uniform load is stated per tube; the mesh cuts a tube into several elements
        self.members: dict[str, list[str]] = {}
        for element in model.elements:
            self.members.setdefault(element.member, []).append(element.id)

    def case(self, name: str, table: JsonItem) -> LoadCase:
        # results are keyed by the case's name: two of one name would be taken for one another
        if name in CASES or name in self.known:
            raise InputError(
                f"{table.path}: the library has a case of that name; choose another one"
            )
        _known_keys(table, _CASE_KEYS)
        # loads first: their refusals are the commonest, and the notes are made from them
        loads, uniform = self._loads(table)
        base = self._like(table)
        supports, touching = self._supports(table)
        measures = tuple(self._measure(row) for row in table.rows_of("measure"))
        # left to the solver, this would be refused as a mechanism, far from the table to mend
        if not supports and not base.supports:
            raise InputError(
                f"{table.path}: no support; add [[{name}.support]], or like = a case of the library"
            )
        case = replace(
            base,
            name=name,
            title=_text(table, "title") or spoken(name),
            nodal=loads,
            member_loads=uniform,
            source=_text(table, "source") or "the builder's own",
            notes=_text(table, "notes") or self._words(table, base, loads),
            held=_holding(table) or base.held,
        )
        # steering comes from the base case unless the table says otherwise
        case = replace(case, springs=self._springs(table, base))
        if supports:
            # own supports replace the base case's as a whole: a mixture would hold more than anybody meant
            case = replace(case, supports=supports, touching=touching)
        if measures:
            return _with_own_stiffnesses(case, measures)
        # the base case's measures were made for its own loads
        return replace(case, measures=_refitted(case, base.measures))

    def _like(self, table: JsonItem) -> LoadCase:
        wanted = table.maybe("like")
        if wanted is None:
            # the name stays a placeholder; `case` gives the real one
            return LoadCase(str(table.path))
        known = ", ".join(self.known)
        name = wanted.one_of(self.known, f"a case of the library is expected: {known}")
        return load_cases(self.bicycle, self.layout, (name,))[0]

    def _springs(self, table: JsonItem, base: LoadCase) -> Any:
        steering = table.maybe("steering")
        if steering is None:
            return base.springs
        locked = steering.one_of(("locked", "free"), "'locked' or 'free' is expected") == "locked"
        if locked:
            return (steering_lock(self.bicycle, self.layout),)
        return ()

    # six components a node: force in N, then moment, turned from N·m into N·mm
    def _loads(
        self, table: JsonItem
    ) -> tuple[Mapping[str, tuple[float, ...]], tuple[MemberLoad, ...]]:
        nodal: list[tuple[str, tuple[float, ...]]] = []
        uniform: list[MemberLoad] = []
        # a case without loads would show zeros everywhere, which reads like a very stiff frame
        rows = table.rows_of("load")
        if not rows:
            raise InputError(
                f"{table.path}: no load; add [[{table.path.rpartition(' ')[2]}.load]] with at and force"
            )
        for row in rows:
            _known_keys(row, _LOAD_KEYS)
            if row.maybe("along") is not None:
                # a load along a tube has no joint: the rest of the row does not apply
                uniform += self._uniform(row)
                continue
            force = row.maybe("force")
            moment = row.maybe("moment")
            if force is None and moment is None:
                raise InputError(
                    f"{row.path}: state force = [x, y, z] in N, moment = [x, y, z] in N·m, or both"
                )
            if force is None:
                f = (0.0, 0.0, 0.0)
            else:
                f = force.vector()
            if moment is None:
                m = (0.0, 0.0, 0.0)
            else:
                m = moment.vector()
            nodal.append((self._node(row.need("at")), (*f, *(_N_M * v for v in m))))
        # several rows at one joint add up: a rider's weight and a pull may stand apart
        return added(nodal), tuple(uniform)

    def _uniform(self, row: JsonItem) -> list[MemberLoad]:
        if row.maybe("at") is not None or row.maybe("force") is not None:
            raise InputError(
                f"{row.path}: a load stands either at a joint (at, force) or along a tube (along, per_mm)"
            )
        along = row.need("along")
        member = along.one_of(
            self.members, f"a tube or part is expected: {', '.join(self.members)}"
        )
        w = row.need("per_mm").vector()
        # every element gets the same load per mm, so the total does not hang on the mesh
        return [MemberLoad(element, w) for element in self.members[member]]

    def _supports(self, table: JsonItem) -> tuple[dict[str, tuple[int, ...]], dict[str, str]]:
        supports: dict[str, tuple[int, ...]] = {}
        touching: dict[str, str] = {}
        for row in table.rows_of("support"):
            _known_keys(row, _SUPPORT_KEYS)
            node = self._node(row.need("at"))
            if node in supports:
                # two rows would leave open whether the second adds directions or replaces the first
                raise InputError(
                    f"{row.path}.at: '{node}' is held twice; put all directions into one support"
                )
            held = {
                item.one_of(DOFS, f"directions are {' '.join(DOFS)}")
                for item in row.need("held").rows()
            }
            if not held:
                raise InputError(
                    f"{row.path}.held: no direction is named; choose from {' '.join(DOFS)}"
                )
            supports[node] = tuple(int(dof in held) for dof in DOFS)
            if row.maybe("touching") is not None:
                touching[node] = row.need("touching").word()
        return supports, touching

    def _measure(self, row: JsonItem) -> Measure:
        _known_keys(row, _MEASURE_KEYS)
        move = row.maybe("move")
        turn = row.maybe("turn")
        if (move is None) == (turn is None):
            # mm and degrees have no common unit, so one measure cannot hold both
            raise InputError(
                f"{row.path}: state either move = [x, y, z], a direction, or turn = [x, y, z], an axis"
            )
        chosen: JsonItem | None
        if move is not None:
            chosen = move
        else:
            chosen = turn
        assert chosen is not None
        unit = np.array(chosen.direction())
        # of length one: a stiffness is per mm along the direction, whatever numbers were written
        unit = unit / np.linalg.norm(unit)
        weight = np.concatenate([unit, np.zeros(3)] if move is not None else [np.zeros(3), unit])
        weights = [(self._node(row.need("at")), tuple(float(v) for v in weight))]
        if row.maybe("against") is not None:
            # the other node's share counts backwards, so what both do alike drops out
            weights.append((self._node(row.need("against")), tuple(float(-v) for v in weight)))
        reference = row.maybe("reference")
        if reference is None:
            load = None
        else:
            # a turn's reference is written in N·m and used in N·mm
            load = reference.number() * (1.0 if move is not None else _N_M)
        if load is not None and load <= 0:
            row.need("reference").refuse(
                "a positive load is expected; turn the direction round instead"
            )
        return Measure(
            row.need("name").word(),
            tuple(weights),
            "mm" if move is not None else "deg",
            load,
            _text(row, "title"),
        )

    def _node(self, at: JsonItem) -> str:
        node = self.layout.node(at.word())
        # joints with a colon are the mesh's own points, which nobody means by name
        if node not in self.model.node_index:
            joints = [n for n in (*self.model.nodes, *self.layout.same_as) if ":" not in n]
            near = get_close_matches(node, joints, n=1)
            at.refuse(
                f"no such joint{f'; did you mean {near[0]}?' if near else ''}; known: {', '.join(joints)}"
            )
        return node

    def _words(
        self, table: JsonItem, base: LoadCase, loads: Mapping[str, tuple[float, ...]]
    ) -> str:
        """Notes where the builder wrote none: what acts and what holds."""
        acts = [
            f"{np.linalg.norm(load[:3]):.0f} N"
            + (f" and {np.linalg.norm(load[3:]) / _N_M:.0f} N·m" if any(load[3:]) else "")
            + f" at {node.replace('_', ' ')}"
            for node, load in loads.items()
        ]
        return "; ".join([*acts, _holding(table) or f"held as in {base.name}: {base.held}"])


def _holding(table: JsonItem) -> str:
    """In words what the builder's own supports hold; '' where there are none."""
    return "; ".join(
        f"{row.need('at').word().replace('_', ' ')} held in {' '.join(map(str, row.need('held').value))}"
        for row in table.rows_of("support")
    )


def _with_own_stiffnesses(case: LoadCase, measures: Sequence[Measure]) -> LoadCase:
    """Measures the builder wrote; one whose reference load does not make it alone is a movement, as the notes say."""
    kept: list[Measure] = []
    notes = [case.notes]
    for measure in measures:
        own = own_load(case, measure)
        # work-conjugate: a stiffness is shown only where its own load is all that does work there
        if measure.reference is None or (own and isclose(own, measure.reference, rel_tol=1e-9)):
            kept.append(measure)
            continue
        kept.append(replace(measure, reference=None))
        stated = load_words(measure.reference, measure.unit == "deg")
        notes.append(
            f"'{measure.name}' is shown as a movement: {stated} there, that way, is not all that acts, and a "
            "stiffness is one load over its own movement"
        )
    return replace(case, measures=tuple(kept), notes="; ".join(notes))


def _refitted(case: LoadCase, measures: Sequence[Measure]) -> tuple[Measure, ...]:
    """Measures of another case under the loads of this one."""
    out: list[Measure] = []
    for measure in measures:
        if measure.unit != "J":
            # A stiffness stays one where this case's load acts there too, whatever its size.
            own = None if measure.reference is None else own_load(case, measure)
            out.append(replace(measure, reference=own))
        elif not case.member_loads:
            # with loads along tubes the work at the joints alone would be too small a number
            out.append(swallowed(case.nodal, "energy swallowed"))
    return tuple(out)


def _known_keys(table: JsonItem, known: Sequence[str]) -> None:
    unknown = [key for key in table.entries() if key not in known]
    if unknown:
        near = get_close_matches(unknown[0], known, n=1)
        if near:
            hint = f"did you mean '{near[0]}'? "
        else:
            hint = ""
        raise InputError(
            f"{table.path}: '{unknown[0]}' is not known; {hint}known: {_listed(known)}"
        )


def _listed(words: Iterable[str]) -> str:
    return ", ".join(words)


def _text(table: JsonItem, key: str) -> str:
    item = table.maybe(key)
    if item is None:
        return ""
    return item.word()
