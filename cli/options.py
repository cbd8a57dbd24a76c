"""Options that several subcommands share, and the one way they read their input."""

from collections.abc import Callable, Mapping
from dataclasses import fields
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from ..model.errors import InputError
from ..model.joints.shape import KINDS, JointKind

# the readers bring numpy: half the time that --help or a typing error would wait for
if TYPE_CHECKING:
    from ..converters.inputs import Reading, Wheels

MOST_SCALE = 1000  # no sheet of a bicycle is drawn smaller or larger

Command = TypeVar("Command", bound=Callable[..., Any])

input_argument = click.argument("source", metavar="INPUT", type=click.Path(path_type=Path))
json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print one JSON object instead of tables."
)
supports_option = click.option(
    "--supports",
    type=click.Choice(["rigid", "tyres", "free"]),
    default="tyres",
    show_default=True,
    help="What holds the bicycle when it vibrates: rigid axles, tyre springs, nothing.",
)
sheet_option = click.option(
    "--sheet", type=click.Path(path_type=Path), help="Fit sheet (CSV or XLSX) for a drawing."
)


def gathered(**kinds: type) -> Callable[[Command], Command]:
    """Options put together into frozen values: ``gathered(kept=Kept)`` hands the command one `kept: Kept`.

    Stands next to the function, so that the options above it still see their own names.
    """

    def wrap(command: Command) -> Command:
        @wraps(command)
        def called(**given: Any) -> Any:
            for name, kind in kinds.items():
                own = {field.name: given.pop(field.name) for field in fields(kind)}
                given[name] = kind(**own)
            return command(**given)

        return called  # type: ignore[return-value]

    return wrap


def force_option(command: Command) -> Command:
    """--force; without it an output that exists is refused before anything is read or worked out."""

    @wraps(command)
    def checked(**given: Any) -> Any:
        from ..converters.files.writing import refuse_existing

        # before the work: an hour's search must not end at a file that exists
        # commands with one output and with several are treated alike
        outputs = given.get("outputs") or [given.get("output")]
        inputs = [
            v
            for name, v in given.items()
            # `output` is written and `store` is both, so neither counts as an input
            if isinstance(v, Path) and name not in ("output", "store")
        ]
        inputs += given.get("sources", ())
        refuse_existing(
            # a folder is written into, and each of its files is then checked by its writer
            (path for path in outputs if path is not None and not path.is_dir()),
            given["force"],
            inputs,
        )
        return command(**given)

    return click.option("--force", is_flag=True, help="Replace the output file if it exists.")(
        checked
    )  # type: ignore[return-value]


def paths_in(source: Path, how: Mapping[str, Any]) -> list[Path]:
    """Every file that a command reads: the input, its sheet, its load cases."""
    return [source, *(value for value in how.values() if isinstance(value, Path))]


def paper_option(command: Command) -> Command:
    """--paper: what the printer takes."""
    return click.option(
        "--paper",
        default="A4",
        show_default=True,
        type=click.Choice(["A4", "Letter"]),
        help="Paper of the printer; what is larger is tiled or goes on the next page.",
    )(command)


def shell_option(command: Command) -> Command:
    """--shell: what tubes and stays are mitred to at the bottom bracket."""
    return click.option(
        "--shell",
        default=40.0,
        show_default=True,
        help="Outside diameter of the bottom bracket shell, mm.",
    )(command)


def reading_options(command: Command) -> Command:
    """Whatever says how the input is read, put into `how`: from --sheet and --units to --set and --joints."""
    for option in (
        click.option(
            "--set",
            "settings",
            multiple=True,
            metavar="NAME=VALUE",
            help="Set any item of the sheet, such as fork_offset=55, tyre=42, stack=600 or rider_mass=90 (mm, kg, N, "
            "degrees, or with the unit); bicycle_type=racing sets the loads of ISO 4210.",
        ),
        click.option(
            "--keep",
            multiple=True,
            metavar="ITEM",
            help="What stays when the side view changes, such as trail or stack; else every dimension but the changed.",
        ),
        click.option(
            "--follow",
            multiple=True,
            metavar="ITEM",
            help="What follows, such as head_angle for a kept trail; else the usual one (fork offset).",
        ),
        click.option(
            "--joints",
            type=click.Choice(KINDS),
            help="How all tubes are joined, whatever the sheet's column 'joint' says: rigid as beams are, bare weld, "
            "brazed fillet, or lug.",
        ),
        click.option(
            "--tolerance-deg", default=0.1, show_default=True, help="Tolerance on angles, degrees."
        ),
        click.option(
            "--tolerance-mm", default=1.0, show_default=True, help="Tolerance on lengths, mm."
        ),
        click.option(
            "--pick",
            multiple=True,
            metavar="MEMBER=HANDLE",
            help="Say which drawn entity is which member, such as top_tube=4F, or a length that no line shows, as "
            "lower_stack=12mm.",
        ),
        click.option(
            "--layers",
            type=click.Path(path_type=Path),
            help="TOML file: layer name, or 'colour 1' -> member, frame, wheel or ignore.",
        ),
        click.option(
            "--plan",
            metavar="PLAN",
            help="Kind of frame that a drawing without a sheet shows, such as mixte; all: droptrail new --plan list.",
        ),
        click.option("--scale", metavar="1:N", help="Scale of the drawing, such as 1:10."),
        click.option(
            "--units", type=click.Choice(["mm", "cm", "m", "inch"]), help="Unit of the drawing."
        ),
        sheet_option,
    ):
        # decorators stack from below, so the list runs from the last shown to the first
        command = option(command)
    return command


def own_cases_option(help_text: str) -> Callable[[Command], Command]:
    """--cases, which goes into `how`."""
    return click.option(
        "--cases",
        "own_cases",
        type=click.Path(path_type=Path),
        metavar="FILE.toml",
        help=help_text,
    )


def case_options(command: Command) -> Command:
    """--case as `names`; --cases and --wheels, which go into `how`."""
    # the outermost stands first in --help
    standing = click.option(
        "--wheels",
        type=click.Choice(["rigid", "springs"]),
        default="rigid",
        show_default=True,
        help="Axles held as the load case says, or standing on wheels and tyres as springs (tyre_stiffness, "
        "tyre_side_stiffness, wheel_side_stiffness in the sheet or by --set, N/mm).",
    )
    own = own_cases_option(
        "Load cases of your own (METHODS.md, section 10); without --case these are solved."
    )
    named = click.option(
        "--case",
        "names",
        multiple=True,
        metavar="NAME",
        help="Load case; may be given several times.",
    )
    return named(own(standing(command)))


def mesh_options(command: Command) -> Command:
    """--euler, --element-length, --rigid-zones, given to the command as one `mesh`."""

    @wraps(command)
    # the three leave the keyword list here and come back as one value
    def meshed(euler: bool, element_length: float, rigid_zones: bool, **given: Any) -> Any:
        from ..model.frame.mesh import MeshOptions

        return command(
            mesh=MeshOptions(element_length, shear=not euler, rigid_zones=rigid_zones), **given
        )

    wrapped: Any = meshed
    for option in (
        click.option(
            "--rigid-zones", is_flag=True, help="Tube ends inside the neighbouring tube are rigid."
        ),
        click.option(
            "--element-length",
            type=click.FloatRange(1, 500),
            default=60.0,
            show_default=True,
            help="Longest element, mm.",
        ),
        click.option(
            "--euler", is_flag=True, help="Leave out shear flexibility (Euler-Bernoulli beams)."
        ),
    ):
        wrapped = option(wrapped)
    return wrapped  # type: ignore[no-any-return]


def read(
    source: Path,
    sheet: Path | None,
    units: str | None,
    scale: str | None,
    layers: Path | None,
    pick: tuple[str, ...],
    tolerance_mm: float,
    tolerance_deg: float,
    settings: tuple[str, ...],
    own_cases: Path | None = None,
    keep: tuple[str, ...] = (),
    follow: tuple[str, ...] = (),
    wheels: "Wheels" = "rigid",
    joints: JointKind | None = None,
    plan: str | None = None,
) -> "Reading":
    """Read the input the way the shared options say."""
    from ..converters.inputs import ReadOptions, read_input

    # a tolerance of nan or a thousand would pass everything
    for name, value in (("mm", tolerance_mm), ("deg", tolerance_deg)):
        # written so that nan fails as well
        if not 0 <= value <= 100:
            raise click.UsageError(f"--tolerance-{name} {value:g}: give a number from 0 to 100")
    options = ReadOptions(
        units,
        _scale(scale),
        _layer_map(layers),
        _pairs("--pick", pick) or None,
        tolerance_mm,
        tolerance_deg,
        settings,
        own_cases,
        keep,
        follow,
        wheels,
        joints,
        plan,
    )
    return read_input(source, sheet, options)


def _scale(text: str | None) -> float | None:
    """mm of bicycle per mm of drawing: 10 for `1:10`."""
    if text is None:
        return None
    # 1/10 is what a title block often prints
    paper, colon, real = text.replace("/", ":").partition(":")
    # 10 alone is a tenth to some and ten times to others: asked, not guessed
    if not colon and text.replace(".", "", 1).isdigit():
        raise click.UsageError(f"--scale {text}: 1:{text} or {text}:1? Give both numbers")
    try:
        value = float(real) / float(paper)
    except (ValueError, ZeroDivisionError, OverflowError):
        # falls out of the range below, so the one message serves for all
        value = 0.0
    # a scale beyond that is a slip, such as 1:25.4 x 1000
    if not 1 / MOST_SCALE <= value <= MOST_SCALE:
        raise click.UsageError(
            f"--scale {text}: give it as 1:1, 1:10 or 2:1, from 1:{MOST_SCALE} to {MOST_SCALE}:1"
        )
    return value


def _layer_map(path: Path | None) -> dict[str, str] | None:
    if path is None:
        return None
    from ..converters.files.strict_toml import read_toml

    table = read_toml(path)
    # a file may hold the lines under [layers] or bare
    entries = table.get("layers", table)
    if not isinstance(entries, dict) or not all(isinstance(v, str) for v in entries.values()):
        raise InputError(
            f'{path.name}: each line must be "layer name" = "member", such as "FRAME-TT" = "top_tube"'
        )
    return dict(entries)


def _pairs(option: str, items: tuple[str, ...]) -> dict[str, str]:
    pairs = {}
    for item in items:
        name, sign, value = item.partition("=")
        # an empty side would pick nothing, in silence
        if not sign or not name.strip() or not value.strip():
            raise click.UsageError(f"{option} {item}: give it as MEMBER=HANDLE")
        pairs[name.strip()] = value.strip()
    return pairs
