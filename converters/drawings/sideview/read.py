"""A drawing file becomes a side view, by the plan that the user names.

view = read_side_view("frame.dxf")
view.dimensions.trail, view.precision.trail, view.findings
"""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from ....model.errors import InputError
from ....model.tubes.plan import FramePlan
from ..drawing import Drawing
from ..dxf.read_dxf import read_dxf
from ..labelling.doubt import InDoubtError
from .recognise import recognise_told
from .side_view import SideView, Told


def read_side_view(
    path: str | Path,
    units: str | None = None,
    scale: float | None = None,
    layers: Mapping[str, str] | None = None,
    pick: Mapping[str, str] | None = None,
    plan: FramePlan | None = None,
) -> SideView:
    """Read a DXF and recognise the side view. plan : the kind of frame, where the user says it. Raises InputError, one
    line naming the file and what to do."""
    drawing = read_dxf(path)
    try:
        return _recognised(drawing, plan, Told(units, scale, layers, pick))
    except InDoubtError as error:
        raise error.again(f"{Path(path).name}: {error.said}", error.readings) from None
    except InputError as error:
        raise InputError(
            f"{Path(path).name}: {error}", lines=error.lines, option=error.option
        ) from None


def _recognised(drawing: Drawing, plan: FramePlan | None, told: Told) -> SideView:
    if plan is None or not plan.followers:
        return replace(recognise_told(drawing, told), plan=plan)
    # loaded here: few drawings show several riders
    from .several_riders import recognise_several

    return recognise_several(drawing, plan, told)
