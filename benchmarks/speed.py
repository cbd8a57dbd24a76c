"""How fast: one frame and many variants, beside OpenSeesPy, PyNiteFEA and the arithmetic floor, all in one run.

    python benchmarks/speed.py [--most 1000000] [--write]

Every time is CPU time of one core (`time.process_time`, one BLAS thread), so that other work on the machine adds
little. Ratios are what to read; the absolute times belong to the machine they were taken on. --write puts the tables
into benchmarks/RESULTS.md; no figure there is typed by hand.
"""

import argparse
import os
import platform
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from statistics import median

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")  # before numpy: one core for everybody
HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "tests")]

import numpy as np  # noqa: E402  (after the thread setting)
from droptrail.model.cases.library import load_cases  # noqa: E402
from droptrail.model.choice.search import Bound, Objective, Search, run, set_up  # noqa: E402
from droptrail.model.choice.together import figures_of_one  # noqa: E402
from droptrail.model.frame.bicycle import Bicycle  # noqa: E402
from droptrail.model.frame.layout import lay_out  # noqa: E402
from droptrail.model.frame.mesh import MeshOptions, mesh  # noqa: E402
from droptrail.model.mechanics.beam import Beams  # noqa: E402
from droptrail.model.mechanics.frame_model import FrameModel, LoadCase  # noqa: E402
from droptrail.model.mechanics.solve import Restrained, same_restraints, solve  # noqa: E402
from droptrail.model.reanalysis.batch import worked_out  # noqa: E402
from droptrail.model.reanalysis.fast_grid import LANES  # noqa: E402
from droptrail.validation.opensees.build import Build  # noqa: E402
from droptrail.validation.opensees.engine import available, session  # noqa: E402
from helpers_bicycle import tourer  # noqa: E402
from scipy.linalg import cho_solve_banded, cholesky_banded  # noqa: E402

CASES = ("seated", "climb", "side_push")
# Wanted number of elements -> a mesh of about that size.
MESHES = {
    40: MeshOptions(element_length=500.0, taper_pieces=1, cone_pieces=1, bridges=False),
    120: MeshOptions(element_length=80.0, taper_pieces=3, cone_pieces=8),
    600: MeshOptions(element_length=8.5, taper_pieces=4, cone_pieces=12),
}
# Tubes of the grids, in the order they are added: 10 options each.
TUBES = ("top_tube", "down_tube", "seat_tube", "chainstay", "seatstay", "fork_blade")


def cpu(job: Callable[[], object], repeats: int) -> float:
    """Median CPU seconds of a job, after one round to warm up."""
    spent = []
    for _ in range(repeats + 1):
        start = time.process_time()
        job()
        spent.append(time.process_time() - start)
    return median(spent[1:] or spent)


# --- one frame ------------------------------------------------------------------------------------------------
def ours_whole(bicycle: Bicycle, options: MeshOptions) -> None:
    """Bicycle to checked results of three load cases."""
    layout = lay_out(bicycle)
    solve(mesh(bicycle, options, layout), load_cases(bicycle, layout, CASES))


def opensees_whole(bicycle: Bicycle, options: MeshOptions) -> None:
    """From the bicycle as a value: our layout, mesh and load cases, then OpenSeesPy."""
    layout = lay_out(bicycle)
    opensees(mesh(bicycle, options, layout), load_cases(bicycle, layout, CASES))


def ours_solve(model: FrameModel, cases: tuple[LoadCase, ...]) -> None:
    """The same from the finished mesh on, without cached arrays."""
    solve(FrameModel(**{name: getattr(model, name) for name in model.__dataclass_fields__}), cases)


def lapack(model: FrameModel, cases: tuple[LoadCase, ...]) -> Callable[[], None]:
    """Nothing but LAPACK: banded Cholesky and substitution of matrices that are there already."""
    beams = Beams.of(model)

    ready = []
    for group in same_restraints(cases):
        factor = Restrained(beams, group[0]).factor
        band = factor.unit
        ready.append((band, np.ones((band.shape[1], len(group)))))

    def once() -> None:
        for band, right in ready:
            cho_solve_banded((cholesky_banded(band, lower=True), True), right)

    return once


def opensees(model: FrameModel, cases: tuple[LoadCase, ...]) -> None:
    """Rebuild and solve, one hand-over per set of supports; read the measured displacements only."""
    for group in same_restraints(cases):
        with session() as ops:
            build = Build(ops, model, group[0].supports, group[0].springs)
            ops.timeSeries("Constant", 1)
            for name, words in (
                ("constraints", ["Transformation"]),
                ("numberer", ["RCM"]),
                ("system", ["UmfPack"]),
                ("integrator", ["LoadControl", 1.0]),
                ("algorithm", ["Linear"]),
                ("analysis", ["Static"]),
            ):
                getattr(ops, name)(*words)
            for case in group:
                ops.reset()
                ops.pattern("Plain", 1, 1)
                for node, load in case.nodal.items():
                    ops.load(build.tag(node), *map(float, load))
                if ops.analyze(1) != 0:
                    raise SystemExit(f"OpenSees did not solve {case.name}")
                for measure in case.measures:
                    for node, _ in measure.weights:
                        ops.nodeDisp(build.tag(node))
                ops.remove("loadPattern", 1)


def pynite(model: FrameModel, cases: tuple[LoadCase, ...]) -> None:
    """The same size in PyNite, which has neither rigid links nor shared dofs: linked nodes are made one."""
    from Pynite import FEModel3D

    one = {link.slave: link.master for link in model.rigid_links} | {
        t.slave: t.master for t in model.equal_dofs
    }
    for group in same_restraints(cases):
        frame = FEModel3D()
        for node, xyz in model.nodes.items():
            if node not in one:
                frame.add_node(node, *map(float, xyz))
        for e in model.elements:
            frame.add_material(e.id, e.material.E, e.material.G, e.material.nu, e.material.rho)
            frame.add_section(e.id, e.section.A, e.section.Iy, e.section.Iz, e.section.J)
            frame.add_member(e.id, one.get(e.i, e.i), one.get(e.j, e.j), e.id, e.id)
        for node, flags in group[0].supports.items():
            frame.def_support(node, *(bool(f) for f in flags))
        for case in group:
            for node, load in case.nodal.items():
                for direction, value in zip(
                    ("FX", "FY", "FZ", "MX", "MY", "MZ"), load, strict=True
                ):
                    frame.add_node_load(one.get(node, node), direction, float(value), case.name)
            frame.add_load_combo(case.name, {case.name: 1.0})
        frame.analyze_linear(check_stability=False)


# --- many variants --------------------------------------------------------------------------------------------
def search_of(tubes: int, options: int, mesh_options: MeshOptions | None = None) -> Search:
    """A grid of `options` diameters and walls for each of the first `tubes` tubes, two limits, two objectives."""
    bicycle = tourer()
    choices = {
        tube: [bicycle.tubes[tube].scaled(0.35 * k, 0.01 * (k % 4)) for k in range(options)]
        for tube in TUBES[:tubes]
    }
    bounds = (
        Bound("side_push.head_sideways", True, 5.0, percent=True),
        Bound("mass", False, 2300.0),
    )
    goals = (Objective("side_push.head_sideways", True), Objective("mass", False))
    return set_up(
        bicycle, choices, partial(load_cases, names=CASES), bounds, goals, None, mesh_options
    )


def whole_search(search: Search) -> float:
    """CPU seconds of a search: figures, limits, best, front."""
    start = time.process_time()
    summary = search.kernel.nothing
    for result in run(search):
        summary = search.kernel.merged(summary, result.summary)
    if summary.seen != search.size:
        raise SystemExit("the search lost variants")
    return time.process_time() - start


def only_displacements(search: Search, count: int = 100_000) -> float:
    """CPU seconds per variant of the nested updates alone."""
    count = min(count, search.size)
    return cpu(lambda: search.kernel.grid.measured(0, count), 3) / count


def one_by_one(search: Search, count: int = 1000) -> float:
    """CPU seconds per variant when every variant is a system of its own (batched Cholesky, no nesting)."""
    picks = search.kernel.grid.choices(np.random.default_rng(0).integers(search.size, size=count))
    return cpu(lambda: search.kernel.grid.measured_list(picks), 3) / count


def arithmetic_rate() -> float:
    """Operations per CPU second of multiply-and-subtract on arrays in cache: what this machine gives numpy."""
    a, b, c, d = (np.random.default_rng(0).normal(size=LANES) for _ in range(4))

    def once() -> None:
        for _ in range(500):
            np.multiply(a, b, out=d)
            np.subtract(c, d, out=c)

    return 2 * 500 * LANES / cpu(once, 5)


def peak_memory(tubes: int) -> float:
    """MB at most of a fresh process that runs a grid of 10^tubes."""
    words = [sys.executable, str(Path(__file__).resolve()), "--child", str(tubes)]
    return float(subprocess.run(words, capture_output=True, text=True, check=True).stdout)


def reshaped(count: int) -> list[Bicycle]:
    """The tourer with other angles and lengths, drawn at random."""
    rng = np.random.default_rng(3)
    bicycle = tourer()
    d = bicycle.dimensions
    made = []
    for turn, offset, stay, reach, drop in rng.uniform(-1, 1, (count, 5)):
        other = replace(
            d,
            head_angle=d.head_angle + turn,
            fork_offset=d.fork_offset + 5 * offset,
            chainstay=d.chainstay + 10 * stay,
            reach=d.reach + 10 * reach,
            bb_drop=d.bb_drop + 5 * drop,
        )
        made.append(replace(bicycle, dimensions=other))
    return made


def least_of_bicycles(job: Callable[[Bicycle], object], repeats: int) -> float:
    """`least` of a job on a bicycle, made anew for each so that nothing is known of it from the last."""
    bicycles = [tourer() for _ in range(repeats + 1)]
    return least(lambda: job(bicycles.pop()), repeats)


def least(job: Callable[[], object], repeats: int) -> float:
    """Least CPU seconds of a job: what other work on the machine adds is no part of it."""
    job()
    spent = []
    for _ in range(repeats):
        start = time.process_time()
        job()
        spent.append(time.process_time() - start)
    return min(spent)


# --- tables ---------------------------------------------------------------------------------------------------
def table(heads: list[str], rows: list[list[str]]) -> str:
    lines = ["| " + " | ".join(heads) + " |", "|" + " ---: |" * len(heads)]
    return "\n".join([*lines, *("| " + " | ".join(row) + " |" for row in rows)])


def frames(repeats: int) -> str:
    rows = []
    for options in MESHES.values():
        bicycle = tourer()
        layout = lay_out(bicycle)
        model, cases = mesh(bicycle, options, layout), load_cases(bicycle, layout, CASES)
        search = search_of(3, 10, options)
        agreement = search.disagreement(search.samples())
        # In turns, so that both meet the same machine.
        once = partial(opensees, model, cases)
        with_layout = partial(opensees_whole, options=options)
        whole_one = partial(ours_whole, options=options)
        turns = [
            (least(once, 7), least_of_bicycles(with_layout, 7), least_of_bicycles(whole_one, 7))
            for _ in range(max(repeats, 9))
        ]
        other, laid_out, whole = map(min, zip(*turns, strict=True))
        single = median(turn[0] / turn[2] for turn in turns)
        like = median(turn[1] / turn[2] for turn in turns)
        nite = cpu(lambda model=model, cases=cases: pynite(model, cases), 1)
        alone = cpu(lambda model=model, cases=cases: ours_solve(model, cases), repeats)
        floor = cpu(lapack(model, cases), repeats)
        each, nested = one_by_one(search), only_displacements(search)
        rows.append(
            [
                str(len(model.elements)),
                f"{1e3 * nite:.0f}",
                f"{1e3 * other:.1f}",
                f"{1e3 * laid_out:.1f}",
                f"{1e3 * whole:.1f}",
                f"{1e3 * alone:.1f}",
                f"{1e3 * floor:.2f}",
                f"{1e6 * each:.1f}",
                f"{1e6 * nested:.2f}",
                f"{single:.2f}",
                f"{like:.2f}",
                f"{other / each:.0f}",
                f"{other / nested:.0f}",
                f"{agreement:.0e}",
            ]
        )
    return table(
        [
            "elements",
            "PyNiteFEA ms",
            "OpenSeesPy ms",
            "OpenSeesPy, bicycle to result ms",
            "ours, bicycle to result ms",
            "ours, from the mesh ms",
            "LAPACK alone ms",
            "ours, one by one µs",
            "ours, nested grid µs",
            "OpenSeesPy / ours single",
            "both from the bicycle",
            "OpenSeesPy / one by one",
            "OpenSeesPy / nested",
            "fast against full",
        ],
        rows,
    )


def shapes(repeats: int, count: int = 1000) -> str:
    """Bicycles of other geometry, layout, load cases and mesh included, against OpenSeesPy from the finished mesh, and
    with layout, load cases and mesh on its side too."""
    cases_of = partial(load_cases, names=CASES)
    rows = []
    for options in MESHES.values():
        bicycles = reshaped(count)
        layout = lay_out(bicycles[0])
        model = mesh(bicycles[0], options, layout)
        cases = cases_of(bicycles[0], layout)
        work = partial(worked_out, bicycles, cases_of, options)
        # In turns, so that both meet the same machine.
        solving = partial(opensees, model, cases)
        whole = partial(opensees_whole, bicycles[0], options)
        turns = [(least(solving, 3), least(whole, 3), least(work, 1)) for _ in range(repeats)]
        other, from_bicycle, together = map(min, zip(*turns, strict=True))
        ratio = median(turn[0] * count / turn[2] for turn in turns)
        whole_ratio = median(turn[1] * count / turn[2] for turn in turns)
        apart = 0.0
        for bicycle, one in list(zip(bicycles, work(), strict=True))[: count // 100]:
            if one is None:
                raise SystemExit("a bicycle fell out of the batch")
            full = figures_of_one(bicycle, cases_of, options)[2:]
            apart = max(apart, float(np.abs(np.array(one.values) / full - 1).max()))
        rows.append(
            [
                str(len(model.elements)),
                f"{1e3 * other:.1f}",
                f"{1e3 * from_bicycle:.1f}",
                f"{1e3 * together / count:.2f}",
                f"{together:.2f}",
                f"{ratio:.0f}",
                f"{whole_ratio:.0f}",
                f"{apart:.0e}",
            ]
        )
    return table(
        [
            "elements",
            "OpenSeesPy ms",
            "with layout and mesh ms",
            "ours, each ms",
            f"ours, all {count:,} s",
            "OpenSeesPy / ours",
            "with layout and mesh / ours",
            "batch against full",
        ],
        rows,
    )


def grids(most: int) -> str:
    rate, rows = arithmetic_rate(), []
    for tubes in (3, 4, 5, 6):
        if 10**tubes > most:
            break
        search = search_of(tubes, 10)
        updates, spent = only_displacements(search), whole_search(search) / search.size
        floor = search.kernel.grid.operations / rate
        rows.append(
            [
                f"{search.size:,}",
                ", ".join(search.tubes).replace("_", " "),
                f"{search.kernel.grid.operations:.0f}",
                f"{1e6 * floor:.2f}",
                f"{1e6 * updates:.2f}",
                f"{updates / floor:.1f}",
                f"{1e6 * spent:.2f}",
                f"{peak_memory(tubes):.0f}",
            ]
        )
    text = table(
        [
            "variants",
            "tubes, outermost first",
            "operations per variant",
            "floor µs",
            "nested updates µs",
            "updates / floor",
            "whole search µs",
            "peak memory MB",
        ],
        rows,
    )
    return f"{text}\n\nFloor: operations over {rate / 1e9:.2f}·10⁹ multiply-subtracts per second of numpy in cache."


INTRO = """# Speed

Made by `python benchmarks/speed.py --write`; no figure is typed by hand. CPU time of one core, one thread, medians.
{machine}. Three load cases (seated, climb, side push; one set of supports), nine measured figures. Load average when it
began: {load:.1f}; beside other work ratios of pairs say more than milliseconds.

## One frame, and variants of it

OpenSeesPy: rebuild and solve the same model, read the measured displacements. PyNiteFEA: the same nodes and
elements, with linked nodes made one (it has no links), once. LAPACK alone: banded Cholesky and substitution of the
assembled matrices. One by one: each variant of three tubes as a system of its own in the condensed deformations.
Nested grid: 10 x 10 x 10 options of top, down and seat tube. The last column is the largest difference of any figure
to the full solver, on random variants of the same run. OpenSeesPy and ours from the bicycle: least CPU time of repeats
in turns, the ratios medians of the turns. `OpenSeesPy / ours single` gives OpenSeesPy the finished mesh and loads while
ours begins with the bicycle; in `both from the bicycle` both lay out, mesh and load it.

{frames}

## Other geometry

A thousand bicycles with other head angle, offset, chainstay, reach and drop, from the bicycle as a value to masses and
all figures: laid out, cut, solved in batches. OpenSeesPy rebuilds and solves the three cases from the finished mesh;
the column beside it lays out and meshes one such bicycle first. Least CPU time of repeats in turns; ratios are medians
of the turns.

{shapes}

## Grids

Ten options per tube. Operations: multiplications, additions and divisions per variant, counted from the loops and
shared out over the grid. Whole search: with figures, two limits, two objectives, best and Pareto front; chunks of
100 000. Peak memory: of a fresh process, Python and libraries included.

{grids}
"""


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--most", type=int, default=10**6, help="largest grid")
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--write", action="store_true", help="write benchmarks/RESULTS.md")
    parser.add_argument("--child", type=int, help=argparse.SUPPRESS)
    wanted = parser.parse_args()
    if wanted.child:
        whole_search(search_of(wanted.child, 10))
        print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
        return 0
    if available() is not None:
        print(available())
        return 1
    load = os.getloadavg()[0]
    machine = f"{platform.machine()}, Python {platform.python_version()}, numpy {np.__version__}"
    text = INTRO.format(
        machine=machine,
        load=load,
        frames=frames(wanted.repeats),
        shapes=shapes(wanted.repeats),
        grids=grids(wanted.most),
    )
    print(text)
    if wanted.write:
        (HERE / "RESULTS.md").write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
