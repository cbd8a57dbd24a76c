"""A drawing in doubt on the served page: its lines with those to choose between, each way to settle it a click."""

from typing import Any

from ..converters.drawings.dxf.read_dxf import read_dxf
from ..converters.drawings.labelling.doubt import InDoubtError
from ..converters.files.writing import working_folder
from ..converters.showing.report.doubt import doubt_picture
from .workbench import Upload


def doubt_page(doubt: InDoubtError, upload: Upload) -> dict[str, Any]:
    """The picture, and each proposal with its picks and the text to keep for the command line."""
    with working_folder() as folder:
        path = folder / "drawing.dxf"
        path.write_bytes(upload.data)
        drawing = read_dxf(path)
    picked = [proposal.picks.values() for proposal in doubt.proposals]
    return {
        "picture": doubt_picture(drawing, picked, doubt.lines),
        "options": [
            {"words": one.words, "picks": dict(one.picks), "gives": one.gives}
            for one in doubt.proposals
        ],
    }
