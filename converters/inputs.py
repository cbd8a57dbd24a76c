"""One door for every input: a DXF side view, a fit sheet or an analysis model, told apart by what the file is."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from ..model.assumption import Assumed
from ..model.errors import InputError, ModelError
from ..model.findings import Finding
from ..model.frame.bicycle import Bicycle
from ..model.frame.slips import new_slips
from ..model.geometry.dimensions import FrameDimensions
from ..model.geometry.quantities import QUANTITIES
from ..model.geometry.statements import FIELDS
from ..model.joints.shape import JointKind
from ..model.mechanics.frame_model import FrameModel, LoadCase
from ..model.tubes.known_plans import further_ones
from ..model.tubes.plan import FramePlan

# drawings are slow to import; a command on a sheet must not pay for them
from .drawn_plan import (
    drawn_elsewhere,
    of_no_tube,
    plan_of,
    settled_by_plan,
    with_drawn,
    with_usual,
    written_otherwise,
)
from .files.fitsheet.endings import OTHER_PROGRAMS, SHEET_ENDINGS

if TYPE_CHECKING:
    from .drawings.labelling.doubt import InDoubtError
    from .drawings.sideview.side_view import SideView
    from .files.fitsheet.bicycle import SheetReading
    from .files.fitsheet.table import SheetTables

Wheels = Literal["rigid", "springs"]  # what axles stand on in load cases


@dataclass(frozen=True)
class Reading:
    """What came out of the input files.

    Exactly one of `view` / `sheet` / `model` may be the origin; a drawing read with a sheet has both `view`
    and `sheet`, and the bicycle then has the DRAWING's geometry and the sheet's tubes, parts and loads; `stated`
    is the frame the sheet alone describes, None where it does not fix one. own_units : not mm and N, but any set.
    """

    source: str
    sha256: str
    view: "SideView | None" = None
    # quoted: the classes are imported for type checking only
    sheet: "SheetReading | None" = None
    bicycle: Bicycle | None = None
    model: FrameModel | None = None
    cases: tuple[LoadCase, ...] = ()
    stated: FrameDimensions | None = None
    findings: tuple[Finding, ...] = ()
    assumed: tuple[Assumed, ...] = ()
    own_cases: Path | None = None
    wheels: Wheels = "rigid"
    own_units: bool = False

    @property
    def is_changed(self) -> bool:
        """Whether settings moved the side view: a drawing's numbers are then no longer the bicycle's."""
        return any(finding.code == "item-set" for finding in self.findings)

    @property
    def dimensions(self) -> FrameDimensions:
        if self.view is not None and not self.is_changed:
            return self._drawn(self.view.dimensions)
        if self.bicycle is not None:
            return self.bicycle.dimensions
        raise InputError(
            f"{self.source}: points and tubes hold no frame dimensions (angles, trail, drop); give a drawing or a fit "
            "sheet, or ask with solve, check, modes or audit"
        )

    def _drawn(self, measured: FrameDimensions) -> FrameDimensions:
        """With the sheet's top tube, where there is one: a drawing of centre-lines shows none."""
        if self.bicycle is None:
            return measured
        given = self.bicycle.dimensions.given
        mixed = given._replace(rear_bracket=measured.given.rear_bracket)
        return replace(measured, given=mixed)

    def need_bicycle(self) -> Bicycle:
        """The bicycle, or a refusal that says what to give."""
        if self.bicycle is None:
            if self.model is not None:
                what = "a table of points and tubes, or an analysis model,"
            else:
                what = "a drawing alone"
            raise InputError(
                f"{self.source}: {what} does not say which tubes the frame has; give a fit sheet"
                + (" with --sheet" if self.view is not None else "")
            )
        return self.bicycle


@dataclass(frozen=True)
class ReadOptions:
    """How to read: unit and scale of a drawing, layer map, picked curves, closure tolerances, settings to override,
    a TOML file of load cases of one's own, what stays and what follows when settings change the side view, whether
    load cases stand on wheels as springs, how all tubes are joined, whatever the sheet says of each (None: what
    the sheet says), and what kind of frame a drawing shows that comes without a sheet."""

    units: str | None = None
    scale: float | None = None
    layers: Mapping[str, str] | None = None
    pick: Mapping[str, str] | None = None
    # the same tolerances as the command line's, so that a script and a command agree
    tolerance_mm: float = 1.0
    tolerance_deg: float = 0.1
    settings: tuple[str, ...] = ()
    own_cases: Path | None = None
    keep: tuple[str, ...] = ()
    follow: tuple[str, ...] = ()
    wheels: Wheels = "rigid"
    joints: JointKind | None = None
    plan: str | None = None


def read_input(
    path: str | Path, sheet: str | Path | None = None, options: ReadOptions | None = None
) -> Reading:
    """Read a drawing (with or without a sheet), a sheet, or an analysis model.

    Raises
    ------
    InputError
        When a file cannot be read or does not hold what is needed; one line, with the next step.
    """
    path = Path(path)
    options = options or ReadOptions()
    # an option that does nothing would be believed to have been heeded
    _refuse_idle(path, sheet, options)
    # by its ending, not its content: a broken model file must be refused as JSON, not as a drawing
    if path.suffix.lower() == ".json":
        return _from_model(path)
    if _is_table(path):
        reading = _from_table(path, options)
    else:
        reading = _from_drawing(path, None if sheet is None else Path(sheet), options)
    # last, since neither changes what is read, only what is later hung on it
    return replace(reading, own_cases=options.own_cases, wheels=options.wheels)


def _is_table(path: Path) -> bool:
    return path.suffix.lower() in (*SHEET_ENDINGS, *OTHER_PROGRAMS)


def _refuse_idle(path: Path, sheet: str | Path | None, options: ReadOptions) -> None:
    """What was given and would do nothing with this kind of file is refused, so that nobody believes it was heeded."""
    # before any file is opened: a wrong command line should not first cost a slow read
    model = path.suffix.lower() == ".json"
    if not model and not _is_table(path):
        return
    if model:
        kind = "an analysis model"
    else:
        kind = "a fit sheet itself"
    if sheet is not None:
        raise InputError(
            f"{path.name} is {kind}; --sheet belongs to a drawing. To hold a drawing against a sheet give "
            f"the drawing first: droptrail check DRAWING.dxf --sheet {Path(sheet).name}"
        )
    given = [
        f"--{name}"
        for name in ("units", "scale", "layers", "pick", "plan")
        if getattr(options, name)
    ]
    if given:
        raise InputError(
            f"{path.name} is {kind}; {' and '.join(given)} would do nothing here, only for a drawing: "
            "leave it out"
        )
    if model:
        _refuse_idle_settings(path, kind, options)


def _refuse_idle_settings(path: Path, kind: str, options: ReadOptions) -> None:
    """A model holds neither a bicycle nor joints that a setting could change."""
    given = {
        "--set": bool(options.settings),
        "--joints": options.joints is not None,
        "--cases": options.own_cases is not None,
        "--wheels": options.wheels != "rigid",
    }
    idle = [name for name, is_given in given.items() if is_given]
    if idle:
        raise InputError(
            f"{path.name} is {kind}; {' and '.join(idle)} would do nothing here, only for a drawing or a fit sheet: "
            "leave it out"
        )


def file_hash(path: Path) -> str:
    """SHA-256 of a file's bytes, hex. Raises InputError when the file cannot be read."""
    try:
        return sha256(path.read_bytes()).hexdigest()
    except OSError as error:
        raise InputError(f"{path.name}: {error.strerror or error}") from error


def _from_table(path: Path, options: ReadOptions) -> Reading:
    """A fit sheet, or a frame given point by point, which is a model by itself."""
    from .files.fitsheet.table import read_tables

    tables = read_tables(path)
    if not tables.by_hand:
        return _from_sheet(path, tables, options)
    from .files.handmade import hand_frame

    _refuse_idle_settings(path, "a frame of nodes and members", options)
    held = hand_frame(tables)
    return Reading(
        path.name,
        tables.sha256,
        model=held.model,
        cases=held.cases,
        findings=held.findings,
        assumed=held.assumed,
    )


def _from_sheet(path: Path, tables: "SheetTables", options: ReadOptions) -> Reading:
    from .files.fitsheet.bicycle import bicycle_from_sheet
    from .files.fitsheet.statements import fit_sheet

    reading = bicycle_from_sheet(fit_sheet(tables), options.tolerance_mm, options.tolerance_deg)
    bicycle, told = _set(reading.bicycle, options.settings, options.keep, options.follow)
    bicycle, of_joints = _joined(bicycle, options.joints)
    # before joints: a setting may change the tubes' sizes, and the law of a joint hangs on them
    return Reading(
        path.name,
        file_hash(path),
        sheet=reading,
        bicycle=bicycle,
        findings=(
            *reading.findings,
            *told,
            *_said_once(reading),
            # only slips the settings brought in; those of the sheet are among its findings already
            *new_slips(reading.bicycle, bicycle),
            *of_joints,
        ),
        assumed=bicycle.assumed,
    )


def _from_model(path: Path) -> Reading:
    from .files.model_file.read_model import read_model_file

    held = read_model_file(path)
    found = Reading(path.name, file_hash(path), model=held.model, cases=held.cases)
    return replace(found, findings=held.findings, own_units=True)


def _from_drawing(path: Path, sheet: Path | None, options: ReadOptions) -> Reading:
    from .drawings.labelling.doubt import InDoubtError
    from .drawings.sideview.planned_tubes import with_planned
    from .drawings.sideview.read import read_side_view
    from .files.fitsheet.bicycle import bicycle_from_sheet, read_fit_sheet

    table = None if sheet is None else read_fit_sheet(sheet)
    plan = plan_of(path, table, options.plan)

    def read(picks: Mapping[str, str]) -> "SideView":
        pick = {**(options.pick or {}), **picks}
        return read_side_view(path, options.units, options.scale, options.layers, pick, plan)

    try:
        view = read({})
    except InDoubtError as doubt:
        settled = None
        # brackets behind the first are looked for by the reader itself
        if plan is not None and not plan.followers and further_ones(plan.roles):
            settled = settled_by_plan(doubt, plan, read)
        if settled is None:
            # from None: the doubt is what the builder must settle, where it arose says nothing
            raise _with_sheet(doubt, path, sheet, options, plan) from None
        view = settled
    if sheet is None or table is None:
        # read on, these would be dropped in silence: a drawing alone has no tubes and no fittings
        for name, given in (("--set", options.settings), ("--joints", options.joints)):
            if given:
                raise InputError(
                    f"{path.name}: {name} would do nothing with a drawing alone; give its fit sheet with --sheet"
                )
        if plan is not None:
            view = with_usual(view, plan)
            kept = tuple(found for found in view.findings if not of_no_tube(found, plan))
            view = replace(view, findings=(*kept, *written_otherwise(view)))
        return Reading(path.name, file_hash(path), view=view, findings=view.findings)
    drawn = bicycle_from_sheet(
        with_drawn(table, view),
        options.tolerance_mm,
        options.tolerance_deg,
        dimensions=view.dimensions,
    )
    alone = drawn
    # kept unless the sheet stands by itself: then its own findings hold these and more
    doubts = table.findings
    try:
        alone = bicycle_from_sheet(table, options.tolerance_mm, options.tolerance_deg)
        stated: FrameDimensions | None = alone.bicycle.dimensions
        # doubts of the sheet by itself: with the drawing's geometry they would not show
        doubts = alone.findings
    except InputError as error:
        # A sheet of tubes and loads alone is fine beside a drawing; there is just nothing to hold the drawing against.
        stated = None
        doubts = (
            *doubts,
            Finding(
                "sheet-no-frame",
                # a sheet with geometry meant it to be compared; one of tubes alone did not
                "warning" if table.statements else "info",
                f"the drawing could not be held against the sheet: {error}",
            ),
        )
    bicycle, told = _set(drawn.bicycle, options.settings, options.keep, options.follow)
    bicycle, of_joints = _joined(bicycle, options.joints)
    view = with_planned(view, bicycle)
    unread = [*drawn_elsewhere(bicycle, view), *written_otherwise(view)]
    sprung = any(finding.code == "side-fork-sprung" for finding in view.findings)
    if sprung and bicycle.suspension is None:
        unread.append(
            Finding(
                "suspension-fork-not-stated",
                "warning",
                "the drawing shows a suspension fork and the sheet states none, so it is reckoned with as a rigid fork "
                "of blades; write the row 'fork type, suspension' with its stiffness and sag, or 'fork type, rigid'",
                sheet.name,
            )
        )
    # one mark for the pair: either file changed makes it another input
    both = sha256((file_hash(path) + file_hash(sheet)).encode()).hexdigest()
    return Reading(
        f"{path.name} + {sheet.name}",
        both,
        view,
        alone,
        bicycle,
        stated=stated,
        findings=(
            *(found for found in view.findings if not of_no_tube(found, bicycle.plan)),
            *doubts,
            *unread,
            *told,
            *new_slips(drawn.bicycle, bicycle),
            *of_joints,
        ),
        assumed=bicycle.assumed,
    )


def _with_sheet(
    doubt: "InDoubtError",
    path: Path,
    sheet: Path | None,
    options: ReadOptions,
    plan: FramePlan | None,
) -> "InDoubtError":
    """A doubt with the sheet's word: which reading it agrees with, or the lengths that the lines leave open."""
    from .drawings.sideview.read import read_side_view

    stated = _stated(sheet, options)
    known = {name: getattr(stated, name) for name in doubt.asked} if stated else {}
    if not known:
        return doubt.with_word(_sheets_word(doubt.readings, sheet, options))
    picks = {name: f"{value:.6g}mm" for name, value in known.items()}
    try:
        view = read_side_view(
            path,
            options.units,
            options.scale,
            options.layers,
            {**(options.pick or {}), **picks},
            plan,
        )
    except InputError:
        # the sheet's own lengths make no bicycle of these lines: no way to propose
        return doubt
    said = " and ".join(f"{QUANTITIES[name].label} {value:.6g} mm" for name, value in known.items())
    return doubt.with_first(picks, view.dimensions).with_word(
        f". The first is what the sheet states ({said}); take it only if the bicycle is built so, for the check "
        "cannot then tell"
    )


def _stated(sheet: Path | None, options: ReadOptions) -> FrameDimensions | None:
    """The side view of a sheet by itself; None where there is none."""
    from .files.fitsheet.bicycle import bicycle_from_sheet, read_fit_sheet

    if sheet is None:
        return None
    try:
        return bicycle_from_sheet(
            read_fit_sheet(sheet), options.tolerance_mm, options.tolerance_deg
        ).bicycle.dimensions
    except InputError:
        return None


def _sheets_word(
    readings: Sequence[tuple[str, FrameDimensions]], sheet: Path | None, options: ReadOptions
) -> str:
    """Which of the doubtful readings of a drawing its sheet agrees with; never more than a word to the builder, because
    a drawing read by its sheet could not be checked against it."""
    # one reading leaves nothing to choose between
    stated = _stated(sheet, options) if len(readings) > 1 else None
    if stated is None:
        return ""
    apart = {words: _differing(d, stated, options) for words, d in readings}
    agreeing = [words for words, names in apart.items() if not names]
    # two that agree would be no help in choosing
    if len(agreeing) > 1:
        return ""
    differing = []
    for words, names in apart.items():
        # three names are enough to see which lines are meant; the message stays one line
        labels = [QUANTITIES[name].label for name in names[:3]]
        if labels:
            differing.append(f"{words} differs in {', '.join(labels)}")
    others = "; ".join(differing)
    if not agreeing:
        return f". The sheet agrees with neither ({others})"
    return (
        f". The sheet agrees with {agreeing[0]} ({others}); take it only if the lines are meant so, for the check "
        "cannot then tell"
    )


def _differing(d: FrameDimensions, stated: FrameDimensions, options: ReadOptions) -> list[str]:
    """Fields of two side views that are farther apart than the tolerances."""
    found = []
    for name in FIELDS:
        ours = getattr(d, name)
        theirs = getattr(stated, name)
        limit = options.tolerance_deg if QUANTITIES[name].is_angle else options.tolerance_mm
        # either side may leave an item open; what is not there cannot differ
        if ours is not None and theirs is not None and abs(ours - theirs) > limit:
            found.append(name)
    return found


def _said_once(reading: "SheetReading") -> tuple[Finding, ...]:
    """A sheet that gives every number once cannot be held against itself."""
    count = len(reading.statements)
    if reading.closure or not count:
        # a sheet of tubes alone states no geometry that it could say twice
        return ()
    return (
        Finding(
            "sheet-nothing-twice",
            "info",
            f"{count} items, none of them said twice: nothing could be compared; a further one such as stack, trail, "
            "wheelbase or front centre, measured by itself, would show a slip",
            reading.source,
        ),
    )


def with_settings(
    bicycle: Bicycle,
    settings: tuple[str, ...],
    keep: tuple[str, ...] = (),
    follow: tuple[str, ...] = (),
) -> Bicycle:
    """Any items of a sheet set by `name=value` settings, in mm, kg, N and degrees or with their unit.

    keep, follow : what stays and what follows when the side view changes, see `model.geometry.knobs`.

    Raises InputError for an unknown name (listing the known ones) or a value that is not a number.
    """
    return _set(bicycle, settings, keep, follow)[0]


def _set(
    bicycle: Bicycle, settings: tuple[str, ...], keep: tuple[str, ...], follow: tuple[str, ...]
) -> tuple[Bicycle, tuple[Finding, ...]]:
    """The bicycle with the settings, and a word on what they moved in the side view."""
    # imported here: the table of names is large, and most commands set nothing
    from .files.fitsheet.knobs import set_findings, setting, side_view_name, turned

    # a mistyped name is said even where nothing is set and it would decide nothing
    for name in (*keep, *follow):
        side_view_name(name)
    read = [setting(text) for text in settings]
    if not read:
        return bicycle, ()
    result = turned(bicycle, read, keep, follow)
    # told as one word on all settings: what moved is the work of all of them together
    found = set_findings(bicycle, result.bicycle, read, result.followed)
    return result.bicycle, found


def _joined(bicycle: Bicycle, kind: JointKind | None) -> tuple[Bicycle, tuple[Finding, ...]]:
    """The bicycle with all tubes joined in one way, where one is asked for, and what is to be known of its joints."""
    if kind is not None:
        # the command line wins over the sheet's column, as every option does over the input
        bicycle = bicycle.joined(kind)
    # rigid joints have no law to be in doubt of, and need no layout
    if all(joint == "rigid" for joint in bicycle.joints.values()):
        return bicycle, ()
    from ..model.frame.joint_findings import joint_findings
    from ..model.frame.layout import lay_out

    try:
        return bicycle, joint_findings(bicycle, lay_out(bicycle))
    except (
        ModelError
    ):  # a frame that cannot be laid out has no joints yet; who needs them is told why
        return bicycle, ()
