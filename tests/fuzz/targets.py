"""What is fuzzed: one function per door that a stranger's file can come through, and the contract it must keep.

The contract, for any bytes: a result whose numbers are finite, or one FrameError whose message is one printable line;
within TIME and MEMORY where asked. Everything else is a fault, raised here as itself or as a `Broken`.
"""

import contextlib
import json
import os
import random
import resource
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from math import isfinite
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
ROOT = Path(__file__).resolve().parents[2]
DATA, SAMPLES = ROOT / "tests" / "data", ROOT / "sample_drawings"
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

import mutate  # noqa: E402 - the path above makes it importable from anywhere
from droptrail.model.errors import FrameError  # noqa: E402

TIME = (
    20.0  # seconds of processor time; a hang that waits is the fuzzer's own time limit's business
)
MEMORY = 500_000_000  # bytes more than before
LONGEST_MESSAGE = 3_000


class Broken(AssertionError):
    """The contract is broken without an exception of the program's own."""


def workspace() -> Path:
    """A folder in memory where the machine has one; fuzzing writes thousands of files."""
    memory = Path("/dev/shm")
    return Path(
        tempfile.mkdtemp(
            prefix="droptrail-fuzz-", dir=memory if os.access(memory, os.W_OK) else None
        )
    )


FOLDER = workspace()


def keep(target: "Target", data: bytes, limited: bool = False) -> str:
    """Run one input and hold it against the contract; returns 'result' or the refusal's message.

    limited : hold it against TIME and MEMORY too. They depend on the machine, so `make fuzz` asks for them and the
    replay in the tests does not.
    """
    start, before = time.process_time(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    try:
        target.run(data)
        said = "result"
    except FrameError as error:
        said = str(error)
        _check_message(said)
    took = time.process_time() - start
    grown = 1024 * (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)
    if limited and took > TIME:
        raise Broken(f"took {took:.1f} s")
    if limited and grown > MEMORY:
        raise Broken(f"took {grown / 1e6:.0f} MB")
    return said


def _check_message(said: str) -> None:
    if not said.strip() or not said.isprintable():
        raise Broken(f"a message must be one printable line: {said!r}")
    if len(said) > LONGEST_MESSAGE:
        raise Broken(f"a message of {len(said)} characters: {said[:200]!r}")


def _written(data: bytes, ending: str) -> Path:
    path = FOLDER / f"input{ending}"
    path.write_bytes(data)
    return path


def check_finite(value: Any, place: str = "") -> None:
    """Every number in a result is finite."""
    if isinstance(value, dict):
        for key, held in value.items():
            check_finite(held, f"{place}.{key}")
    elif isinstance(value, list | tuple):
        for k, held in enumerate(value):
            check_finite(held, f"{place}[{k}]")
    elif isinstance(value, float) and not isfinite(value):
        raise Broken(f"{place} is {value}, without a finding")


def _check_findings(findings: Any) -> None:
    for finding in findings:
        _check_message(f"{finding.message} {finding.where}")


# --- the doors ------------------------------------------------------------------------------------------------------
def dxf(data: bytes) -> None:
    from droptrail.converters.inputs import read_input
    from droptrail.converters.showing.result_json import geometry_json

    reading = read_input(_written(data, ".dxf"))
    check_finite(geometry_json(reading))
    _check_findings(reading.findings)


def _sheet(path: Path) -> None:
    from droptrail.converters.analysis import model_and_cases
    from droptrail.converters.inputs import read_input
    from droptrail.converters.showing.result_json import geometry_json

    reading = read_input(path)
    check_finite(geometry_json(reading))
    _check_findings(reading.findings)
    model_and_cases(reading)


def sheet(data: bytes) -> None:
    _sheet(_written(data, ".csv"))


def workbook(data: bytes) -> None:
    _sheet(_written(data, ".xlsx"))


def model(data: bytes) -> None:
    from droptrail.converters.analysis import analyse
    from droptrail.converters.inputs import read_input
    from droptrail.converters.showing.result_json import result_json

    reading = read_input(_written(data, ".json"))
    _check_findings(reading.findings)
    if len(reading.model.elements) <= 2_000:
        for result in analyse(reading).results.values():
            check_finite(result_json(result))


def model_modes(data: bytes) -> None:
    from droptrail.converters.inputs import read_input
    from droptrail.validation.vibration import vibrate

    reading = read_input(_written(data, ".json"))
    if len(reading.model.elements) <= 300:
        check_finite(
            vibrate(reading, "tyres", 4, (60.0, 110.0), None).modes.frequencies_hz.tolist()
        )


@cache
def _bicycle() -> Any:
    from droptrail.converters.inputs import read_input

    return read_input(SAMPLES / "tourer_700c.csv").bicycle


@cache
def _drawing() -> Any:
    from droptrail.converters.drawings.dxf.read_dxf import read_dxf

    return read_dxf(SAMPLES / "tourer_700c.dxf")


def layers(data: bytes) -> None:
    from droptrail.cli.options import _layer_map
    from droptrail.converters.drawings.sideview.recognise import recognise

    recognise(_drawing(), layers=_layer_map(_written(data, ".toml")))


def variants(data: bytes) -> None:
    from droptrail.converters.files.choice.variants_table import read_variants

    read_variants(_written(data, ".csv"), _bicycle())


def variants_toml(data: bytes) -> None:
    from droptrail.converters.files.choice.variants_table import read_variants

    read_variants(_written(data, ".toml"), _bicycle())


def options(data: bytes) -> None:
    """Texts of the command line: tube options, limits, objectives, settings; one a line."""
    from droptrail.converters.files.choice.option_text import bound, objective, tube_options
    from droptrail.converters.inputs import with_settings
    from droptrail.model.choice.figures import MASSES

    for line in data.decode("utf-8", "replace").splitlines()[:20]:
        for read in (
            lambda text: tube_options(text, _bicycle()),
            lambda text: bound(text, MASSES),
            lambda text: objective(text, MASSES),
            lambda text: with_settings(_bicycle(), (text,)),
        ):
            try:
                read(line)
            except FrameError as error:
                _check_message(str(error))


def catalogue(data: bytes) -> None:
    from droptrail.converters.files.choice.catalogue import load_catalogue

    load_catalogue(_written(data, ".csv"))


def readings(data: bytes) -> None:
    """A workshop's readings, and its own correction."""
    from droptrail.converters.files.readings import read_corrections, read_readings

    for read in (read_readings, read_corrections):
        try:
            read(_written(data, ".csv"))
        except FrameError as error:
            _check_message(str(error))


@cache
def _laid_out() -> Any:
    from droptrail.model.frame.layout import lay_out
    from droptrail.model.frame.mesh import mesh

    layout = lay_out(_bicycle())
    return layout, mesh(_bicycle(), layout=layout)


def cases(data: bytes) -> None:
    """Load cases in TOML, read and solved."""
    from droptrail.converters.files.case_toml import read_cases
    from droptrail.converters.showing.result_json import result_json
    from droptrail.model.mechanics.solve import solve

    layout, mesh = _laid_out()
    found = read_cases(_written(data, ".toml"), _bicycle(), layout, mesh)
    for result in solve(mesh, found[:3]).values():
        check_finite(result_json(result))


_COMMANDS = (
    ("geometry", "--json"),
    ("solve", "--json"),
    ("model",),
    ("draw", "-o", "OUT.dxf"),
    ("mitre", "-o", "OUT"),
    ("modes", "--json", "--count", "4"),
    ("compare", "--option", "top_tube=25.4,31.8x0.9", "-o", "OUT.csv"),
    ("picture", "-o", "OUT.svg"),
    ("shimmy", "--json", "--draws", "0"),
    ("export", "-o", "OUT.json"),
    ("report", "-o", "OUT.html"),
)


def commands(data: bytes) -> None:
    """A fit sheet put through one whole command; which one, the bytes decide."""
    from droptrail.cli.main import commands as group

    shutil.rmtree(FOLDER / "out", ignore_errors=True)
    (FOLDER / "out").mkdir()
    name, *rest = random.Random(data).choice(_COMMANDS)
    words = [word.replace("OUT", str(FOLDER / "out" / "made")) for word in rest]
    with open(os.devnull, "w", encoding="utf-8") as quiet, contextlib.redirect_stdout(quiet):
        group.main(
            [name, str(_written(data, ".csv")), *words],
            prog_name="droptrail",
            standalone_mode=False,
        )


# --- seeds ------------------------------------------------------------------------------------------------------------
def _files(*patterns: str, largest: int = 40_000) -> Iterator[bytes]:
    for pattern in patterns:
        for path in sorted(ROOT.glob(pattern)):
            if path.stat().st_size <= largest:
                yield path.read_bytes()


def _dxf_seeds() -> Iterator[bytes]:
    yield from _files(
        "tests/data/dxf_good/*.dxf", "tests/data/dxf_bad/*.dxf", "sample_drawings/*.dxf"
    )
    yield from _entity_seeds()


def _entity_seeds() -> Iterator[bytes]:
    """One of every kind of entity that the reader unfolds, small, as text and binary."""
    import io

    import ezdxf

    doc = ezdxf.new("R2000", setup=True)
    space, block = doc.modelspace(), doc.blocks.new("PART")
    block.add_line((0, 0), (500, 0))
    block.add_arc((0, 0), 340, 10, 200)
    space.add_blockref(
        "PART",
        (10, 20),
        {"xscale": 2, "yscale": -1, "rotation": 30, "column_count": 2, "column_spacing": 900},
    )
    space.add_lwpolyline([(0, 0, 0, 0, 0.5), (300, 0, 0, 0, 0), (300, 200, 0, 0, -1)], close=True)
    space.add_polyline2d([(0, 0), (10, 10), (20, 5)])
    space.add_polyline3d([(0, 0, 0), (10, 10, 0), (20, 5, 0)])
    space.add_ellipse((5, 5), (300, 0), 0.5, 0.3, 5)
    space.add_spline([(0, 0), (100, 50), (200, 0), (300, 80)])
    space.add_rational_spline([(0, 0), (100, 50), (200, 0), (300, 80)], [1, 2, 1, 1])
    space.add_circle((0, 76), 348)
    space.add_text("chainstay 445").set_placement((5, 5))
    space.add_mtext("{\\H1x;stack} \\P 592", {"insert": (0, 0)})
    space.add_solid([(0, 0), (10, 0), (0, 10), (10, 10)])
    space.add_linear_dim((0, -50), (0, 0), (445, 0)).render()
    space.add_point((1, 1))
    hatch = space.add_hatch()
    hatch.paths.add_polyline_path([(0, 0), (10, 0), (10, 10)])
    for layer in ("TT", "DT"):
        doc.layers.add(layer)
    words, raw = io.StringIO(), io.BytesIO()
    doc.write(words)
    doc.write(raw, fmt="bin")
    yield words.getvalue().encode()
    yield raw.getvalue()


def _sheet_seeds() -> Iterator[bytes]:
    yield from _files("sample_drawings/*.csv")
    from droptrail.converters.files.fitsheet.starter import write_starter_sheet

    write_starter_sheet(_fresh("starter.csv"))
    yield (FOLDER / "starter.csv").read_bytes()


def _workbook_seeds() -> Iterator[bytes]:
    yield from _files("sample_drawings/*.xlsx")
    from droptrail.converters.files.fitsheet.starter import write_starter_sheet

    write_starter_sheet(_fresh("starter.xlsx"))
    yield (FOLDER / "starter.xlsx").read_bytes()


def _fresh(name: str) -> Path:
    (FOLDER / name).unlink(missing_ok=True)
    return FOLDER / name


def _model_seeds() -> Iterator[bytes]:
    held = json.loads((DATA / "frame_cases.json").read_text(encoding="utf-8"))
    for case in held["cases"].values() if isinstance(held["cases"], dict) else held["cases"]:
        for one in case.get("models", {}).values():
            text = json.dumps(one).encode()
            if len(text) < 12_000:
                yield text


def _heavy_seeds() -> Iterator[bytes]:
    """The same models with a density where they have none."""
    for text in _model_seeds():
        yield text.replace(b'"rho": 0.0', b'"rho": 8e-9').replace(b'"rho": 0}', b'"rho": 8e-9}')


def _text_seeds(*texts: str) -> Callable[[], Iterator[bytes]]:
    return lambda: (text.encode() for text in texts)


_VARIANTS = (
    "variant,tube,outside diameter,wall,butts,taper,oval width,material\nwide,top tube,31.8,0.8/0.5/0.8,"
    "100/60,30/30,,4130\n,down tube,35-32,0.9,,,,\noval,seatstay,16x12,0.7,,,12,stainless\n"
)
_VARIANTS_TOML = '["wide top tube"]\ntop_tube = "31.8x0.8/0.5/0.8@100+30/60"\n[two]\ndown_tube = "35-32x0.9:4130"\n'
_OPTIONS = (
    "top_tube=25.4,28.6x0.8/0.5/0.8@75+30/75+30,30x16x0.9:4130",
    "mass <= 1.9 kg\nframe_mass >= +10%",
    "max mass\nmin frame_mass",
    "rider_mass=90\nside_push=300\nbb_shell_width = 68",
    "seatstay=22.2-14x0.8;present or catalogue",
)


def _case_seeds() -> Iterator[bytes]:
    """The example of the methods page, and a short case."""
    page = (ROOT / "model" / "METHODS.md").read_text(encoding="utf-8")
    yield page.partition("```toml\n")[2].partition("```")[0].encode()
    yield b'[bump]\nlike = "side_push"\nsteering = "free"\n[[bump.load]]\nalong = "top_tube"\nper_mm = [0, -1, 0]\n'


def _sheet_words() -> tuple[str, ...]:
    from droptrail.converters.files.fitsheet.items import ITEMS

    names = (name for item in ITEMS.values() for name in item.names[:2])
    return (
        *names,
        "top tube",
        "down tube",
        "seat tube",
        "chainstay",
        "seatstay",
        "fork blade",
        "steerer",
        "4130",
        "6061-T6",
        "mm",
        "in",
        "deg",
        "%",
        "kg",
        "N",
        "700C",
        "622",
        "straight",
        "along axis",
    )


_DXF_WORDS = (
    "SECTION",
    "ENDSEC",
    "EOF",
    "ENTITIES",
    "BLOCKS",
    "BLOCK",
    "ENDBLK",
    "INSERT",
    "LINE",
    "CIRCLE",
    "ARC",
    "LWPOLYLINE",
    "POLYLINE",
    "VERTEX",
    "SEQEND",
    "SPLINE",
    "ELLIPSE",
    "DIMENSION",
    "HATCH",
    "TEXT",
    "MTEXT",
    "PART",
    "0",
    "HEADTUBE",
    "WHEEL",
)


@dataclass(frozen=True)
class Target:
    """One harness: what runs, from which seeds, bent how."""

    run: Callable[[bytes], None]
    seeds: Callable[[], Iterator[bytes]]
    bend: Callable[[bytes, random.Random, mutate.Bytes], bytes]
    largest: int = 60_000


TARGETS = {
    "dxf": Target(dxf, _dxf_seeds, mutate.text(2, _DXF_WORDS)),
    "sheet": Target(sheet, _sheet_seeds, mutate.text(1, _sheet_words()), 8_000),
    "workbook": Target(workbook, _workbook_seeds, mutate.workbook(_sheet_words()), 30_000),
    "model": Target(model, _model_seeds, mutate.tree, 30_000),
    "model-modes": Target(model_modes, _heavy_seeds, mutate.tree, 30_000),
    "layers": Target(
        layers,
        _text_seeds(
            '[layers]\n"TOP_TUBE" = "top_tube"\nFORK = "fork"\n',
            'SEAT_TUBE = "frame"\nBB_SHELL = "ignore"\n',
        ),
        mutate.text(1, ("top_tube", "wheel_front", "ignore", "frame", "TOP_TUBE", "0")),
        2_000,
    ),
    "variants": Target(
        variants,
        _text_seeds(_VARIANTS, _VARIANTS.replace(",", ";")),
        mutate.text(1, _sheet_words()),
        4_000,
    ),
    "variants-toml": Target(
        variants_toml,
        _text_seeds(_VARIANTS_TOML),
        mutate.text(1, ("top_tube", "fork_blade")),
        2_000,
    ),
    "catalogue": Target(
        catalogue,
        lambda: _files("converters/files/data/tubes.csv"),
        mutate.text(1, _sheet_words()),
        8_000,
    ),
    "readings": Target(
        readings,
        lambda: _files("sample_drawings/tourer_700c_readings.csv"),
        mutate.text(1, ("tap frame", "weight", "bench head", "N·m", "kg", "nan")),
        2_000,
    ),
    "cases": Target(
        cases,
        _case_seeds,
        mutate.text(1, ("rear_axle", "saddle", "along", "per_mm", "like", "move", "turn")),
        4_000,
    ),
    "options": Target(
        options, _text_seeds(*_OPTIONS), mutate.text(1, ("top_tube", "mass", "catalogue")), 1_000
    ),
    "commands": Target(commands, _sheet_seeds, mutate.text(1, _sheet_words()), 8_000),
}
