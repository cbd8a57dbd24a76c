"""The analysis-model JSON: what goes out comes back, and nothing wrong gets in."""

import json
from dataclasses import replace
from math import inf
from pathlib import Path

import numpy as np
import pytest
from droptrail.converters.files.model_file.fields import keys_of
from droptrail.converters.files.model_file.read_model import (
    SUPPORTS_ONLY,
    read_model,
    read_model_file,
    save_model,
    write_model,
)
from droptrail.model.cases.library import load_cases
from droptrail.model.errors import InputError, ModelError
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.mechanics.frame_model import (
    Element,
    EqualDofs,
    FrameModel,
    LoadCase,
    Measure,
    MemberLoad,
    NodeMass,
    RigidLink,
    Spring,
)
from droptrail.model.mechanics.solve import solve
from droptrail.model.tubes.materials import find_material
from droptrail.model.tubes.sections import Section, round_tube
from helpers_bicycle import tourer
from helpers_frames import ALL_SIX, random_frame
from hypothesis import given, settings
from hypothesis import strategies as st

FRAME_CASES = json.loads(
    (Path(__file__).parents[1] / "data" / "frame_cases.json").read_text(encoding="utf-8")
)
PUBLISHED = [
    pytest.param(data, id=f"{case['id']}-{name}")
    for case in FRAME_CASES["cases"]
    for name, data in case["models"].items()
]
STEEL = find_material("4130")


def awkward_model() -> tuple[FrameModel, tuple[LoadCase, ...]]:
    """One of everything, awkward decimals, names with spaces and umlauts, two materials of one name."""
    nodes = {
        "Tretlager": (0.1 + 0.2, 1e-17, -1 / 3),
        "süd": (1e3 / 7, 123.456, 0.0),
        "n 3": (99.9, -1e-9, 250.0),
        "twin": (99.9, -1e-9, 250.0),
        "arm": (120.0, 5.0, 260.0),
    }
    soft = replace(STEEL, E=STEEL.E / 3, endurance=None)
    thin = Section(1 / 3, 0.1, 0.2, 0.3, Asy=0.15, Ip=0.7, cy=8.5)
    elements = (
        Element(
            "1",
            "Tretlager",
            "süd",
            round_tube(28.6, 0.9, 0.29),
            STEEL,
            (0.1, 1.0, 0.3),
            "down_tube",
        ),
        Element("2", "süd", "n 3", thin, soft, (0.0, 0.0, 1.0), releases=(3, 4, 5, 11)),
    )
    springs = (
        Spring("ground:süd", "süd", None, (1.0, 2.0, 0.0, 0.1, 1e7, 3.0)),
        Spring("named", "n 3", None, (0.1,) * 6),
        Spring(
            "skew",
            "Tretlager",
            None,
            (1.0, 0.0, 2.0, 0.0, 3.0, 0.0),
            (1.0, 1.0, 0.0),
            (0.0, 0.0, 1.0),
        ),
        Spring(
            "hinge", "twin", "n 3", (1e5, 1e5, 1e5, 0.0, 1e6, 1e6), (0.3, 0.1, 0.9), (0.0, 1.0, 0.0)
        ),
    )
    model = FrameModel(
        nodes,
        elements,
        springs,
        (RigidLink("n 3", "arm"),),
        (EqualDofs("n 3", "twin", (0, 2, 5)),),
        (NodeMass("arm", 0.001, (1.0, 0.0, 2.5)),),
        True,
        "awkward",
    )
    one = LoadCase(
        "eins",
        {"arm": (1.0, 0.0, -2.0, 0.0, 1 / 3, 0.0)},
        (MemberLoad("1", (0.1, 0.2, 0.3), "local"),),
        {"Tretlager": ALL_SIX},
        (Spring("lock", "twin", "n 3", (0.0, 0.0, 0.0, 5.0, 0.0, 0.0)),),
        (
            Measure(
                "drop", (("arm", (0.0, -1.0, 0.0, 0.0, 0.0, 0.0)),), "mm", 2.0, "how far it drops"
            ),
            Measure("turn", (("arm", (0.0,) * 5 + (1.0,)), ("süd", (0.0,) * 5 + (-1.0,))), "deg"),
        ),
        "first",
        "held at one end",
        "invented",
        {"Tretlager": "clamp"},
    )
    two = LoadCase(
        "zwei", {"süd": (0.0, 0.0, 0.0, 4.0, 0.0, 0.0)}, supports={"süd": (0, 1, 1, 0, 0, 0)}
    )
    return model, (one, two)


def tourer_model():
    bicycle = tourer()
    return mesh(bicycle), load_cases(bicycle, lay_out(bicycle))


def published(case, name):
    return read_model(next(c for c in FRAME_CASES["cases"] if c["id"] == case)["models"][name])


GALLERY = {
    "awkward": awkward_model,
    "tourer": tourer_model,
    "random": lambda: (random_frame(2)[0], (random_frame(2)[1],)),
    "no loads": lambda: (awkward_model()[0], (LoadCase(SUPPORTS_ONLY, supports={"arm": ALL_SIX}),)),
    "releases": lambda: published("S03", "release_udl"),
    "links": lambda: published("S09", "offset"),
    "springs": lambda: published("S17", "root"),
    "masses": lambda: published("M07", "main"),
    "equal dofs": lambda: published("H02", "main"),
    "free": lambda: published("M05", "main"),
}


@pytest.mark.parametrize("build", GALLERY.values(), ids=GALLERY.keys())
def test_round_trip_in_memory_and_through_a_file(build, tmp_path):
    """Everything comes back equal, not nearly equal: doubles are written with all their digits."""
    model, cases = build()
    data = write_model(model, cases)
    assert read_model(data) == (model, tuple(cases))
    save_model(tmp_path / "model.json", model, cases)
    file = read_model_file(tmp_path / "model.json")
    assert (file.model, file.cases) == (model, tuple(cases))
    assert file.findings == ()
    assert len(file.sha256) == 64
    assert write_model(file.model, file.cases) == data


@pytest.mark.parametrize("data", PUBLISHED)
def test_published_models_read_and_come_back_as_they_were(data):
    """Whatever the file says is in what we write again: the format is theirs, not a dialect of ours."""
    file = read_model_file(data)
    again = write_model(file.model, file.cases)
    assert again["nodes"] == data["nodes"]
    assert again["loads"].keys() == data["loads"].keys()
    for key in ("supports", "springs", "rigid_links", "equal_dofs", "masses"):
        assert again[key] == data.get(key, type(again[key])()), key
    ours = [again["sections"][e["sec"]] for e in again["elements"]]
    theirs = [data["sections"][e["sec"]] for e in data["elements"]]
    assert ours == theirs
    assert [(e["id"], e["i"], e["j"], e["vxy"]) for e in again["elements"]] == [
        (e["id"], e["i"], e["j"], e["vxy"]) for e in data["elements"]
    ]
    assert again["releases"] == data.get("releases", [])
    assert {f.code for f in file.findings} <= {"model-unknown-key"}
    assert ["profile" in f.message for f in file.findings] == [True] * ("profile" in data)


@settings(max_examples=25, deadline=None)
@given(
    xyz=st.lists(st.floats(-1e6, 1e6), min_size=3, max_size=3),
    area=st.floats(1e-300, 1e300),
    k=st.floats(0, 1e300),
    load=st.floats(allow_nan=False, allow_infinity=False),
)
def test_any_finite_number_survives_text(xyz, area, k, load):
    nodes = {"a": tuple(xyz), "b": (2e6, 0.0, 0.0)}
    model = FrameModel(
        nodes,
        (Element("e", "a", "b", Section(area, 1.0, 1.0, 1.0), STEEL, (0.3, 1.0, 0.7)),),
        (Spring("s", "a", None, (k,) * 6),),
    )
    case = LoadCase("c", {"a": (load,) * 6}, supports={"b": ALL_SIX})
    text = json.dumps(write_model(model, (case,)), allow_nan=False)
    assert read_model(json.loads(text)) == (model, (case,))


def test_written_text_is_strict_json_without_infinite_shear_areas():
    model, cases = awkward_model()
    assert model.elements[1].section.Asz == inf
    data = write_model(model, cases)
    assert "Asz" not in data["sections"]["s2"]
    assert list(data) == [
        key for key in keys_of("model") if key not in ("shift_hz", "assumed_members")
    ]
    assert data["materials"].keys() == {"4130", "4130 #2"}


def test_numpy_values_are_written_as_plain_numbers():
    model, cases = random_frame(4)
    assert isinstance(next(iter(model.nodes.values()))[0], np.floating)
    assert all(
        type(v) is float for xyz in write_model(model, (cases,))["nodes"].values() for v in xyz
    )


def test_supports_stand_at_the_top_only_when_all_cases_share_them():
    model, (one, two) = awkward_model()
    apart = write_model(model, (one, two))
    assert apart["supports"] == {}
    assert apart["loads"]["zwei"]["supports"] == {"süd": [0, 1, 1, 0, 0, 0]}
    shared = write_model(model, (one, replace(two, supports=one.supports)))
    assert shared["supports"] == {"Tretlager": [1] * 6}
    assert "supports" not in shared["loads"]["zwei"]


def test_supports_of_a_load_replace_those_of_the_model_for_that_node():
    data = minimal()
    data["loads"]["l"]["supports"] = {"b": [0, 0, 1, 0, 0, 0], "a": [1, 1, 1, 0, 0, 0]}
    _, (case,) = read_model(data)
    assert case.supports == {"a": (1, 1, 1, 0, 0, 0), "b": (0, 0, 1, 0, 0, 0)}


def test_a_written_model_gives_the_same_results():
    model, cases = tourer_model()
    ours = solve(model, cases)
    again = solve(*read_model(json.loads(json.dumps(write_model(model, cases)))))
    for name, result in ours.items():
        assert np.array_equal(again[name].u, result.u)
        assert again[name].stiffness == result.stiffness


def test_two_cases_of_one_name_are_not_written():
    model, (one, _) = awkward_model()
    with pytest.raises(ModelError, match="names must differ"):
        write_model(model, (one, one))


def test_an_existing_file_is_not_overwritten_without_force(tmp_path):
    path = tmp_path / "model.json"
    path.write_text("mine")
    with pytest.raises(InputError, match="exists already"):
        save_model(path, *awkward_model())
    assert path.read_text() == "mine"
    save_model(path, *awkward_model(), force=True)
    assert read_model(path) == awkward_model()


# --- what is refused ------------------------------------------------------------------------------------------------
def minimal() -> dict:
    return {
        "nodes": {"a": [0, 0, 0], "b": [100, 0, 0]},
        "materials": {"m": {"E": 205e3, "G": 80e3, "rho": 7.85e-9}},
        "sections": {"s": {"A": 50, "Iy": 4e3, "Iz": 4e3, "J": 8e3}},
        "elements": [{"id": "e", "i": "a", "j": "b", "mat": "m", "sec": "s", "vxy": [0, 1, 0]}],
        "supports": {"a": [1, 1, 1, 1, 1, 1]},
        "loads": {"l": {"nodal": {"b": [0, -100, 0, 0, 0, 0]}}},
    }


def put(*path_and_value):
    """A change: the value at a path of keys, or its removal when the value is ..."""
    *path, last, value = path_and_value

    def change(data):
        for key in path:
            data = data[key]
        if value is ...:
            del data[last]
        else:
            data[last] = value

    return change


BAD = {
    "no nodes": (put("nodes", ...), "'nodes' is missing"),
    "no elements": (put("elements", []), "model.elements: 0 of them"),
    "no sections": (put("sections", ...), "'sections' is missing"),
    "no material": (
        put("materials", {}),
        r"elements\[0\].mat: 'm' - names a material that is not listed",
    ),
    "unknown node": (put("elements", 0, "j", "x"), r"model.elements\[0\].j: 'x' - names a node"),
    "unknown section": (
        put("elements", 0, "sec", "t"),
        r"elements\[0\].sec: 't' - names a section",
    ),
    "no end": (put("elements", 0, "i", ...), r"model.elements\[0\]: 'i' is missing"),
    "zero length": (
        put("nodes", "b", [0, 0, 0]),
        r"elements\[0\].j: 'b' - both ends lie on one point",
    ),
    "vxy along": (
        put("elements", 0, "vxy", [2, 0, 0]),
        r"elements\[0\].vxy: .* must not run along",
    ),
    "vxy zero": (put("elements", 0, "vxy", [0, 0, 0]), r"elements\[0\].vxy: .* must not be zero"),
    "vxy short": (put("elements", 0, "vxy", [0, 1]), "3 numbers are expected, got 2"),
    "element twice": (
        lambda d: d["elements"].append(dict(d["elements"][0], j="a", i="b")),
        r"elements\[1\].id: 'e' - this id is taken by model.elements\[0\]",
    ),
    "text for number": (
        put("nodes", "a", ["0", 0, 0]),
        r"nodes.a\[0\]: '0' - a number is expected",
    ),
    "true for number": (put("nodes", "a", [True, 0, 0]), "a number is expected"),
    "NaN": (put("nodes", "a", [float("nan"), 0, 0]), "a finite number is expected"),
    "infinite": (put("nodes", "a", [float("inf"), 0, 0]), "a finite number is expected"),
    "number too large": (put("nodes", "a", [10**400, 0, 0]), "too large"),
    "null": (put("nodes", "a", None), r"nodes.a: None - a list \[ \] is expected"),
    "nodes a list": (put("nodes", [1, 2]), "an object { } is expected"),
    "negative E": (put("materials", "m", "E", -1), "model.materials.m: material m: E is -1"),
    "zero area": (put("sections", "s", "A", 0), "model.sections.s: section: A is 0"),
    "negative shear area": (
        put("sections", "s", "Asy", -1),
        "model.sections.s: section: Asy is -1",
    ),
    "support unknown node": (put("supports", "x", [1] * 6), "supports.x: 'x' - names a node"),
    "five flags": (put("supports", "a", [1] * 5), "six flags"),
    "flag 2": (put("supports", "a", [2, 0, 0, 0, 0, 0]), r"supports.a\[0\]: 2 - 0 or 1"),
    "load unknown node": (
        put("loads", "l", "nodal", "x", [0] * 6),
        "loads.l.nodal.x: 'x' - names a node",
    ),
    "load of three": (put("loads", "l", "nodal", "b", [0] * 3), "6 numbers are expected, got 3"),
    "udl unknown element": (
        put("loads", "l", "udl", [{"element": "z", "w": [0, 1, 0]}]),
        "names an element",
    ),
    "udl frame": (
        put("loads", "l", "udl", [{"element": "e", "w": [0, 1, 0], "frame": "up"}]),
        "local or global",
    ),
    "negative spring": (
        put("springs", [{"node": "b", "k": [0, -1, 0, 0, 0, 0]}]),
        r"k\[1\]: -1 - a number of 0",
    ),
    "spring to itself": (
        put("spring_elements", [{"id": "s", "i": "b", "j": "b", "k": [1] * 6}]),
        "to itself",
    ),
    "spring axes": (
        put("spring_elements", [{"id": "s", "i": "b", "k": [1] * 6, "x_axis": [0, 2, 0]}]),
        "parallel",
    ),
    "link to itself": (put("rigid_links", [{"master": "b", "slave": "b"}]), "joined to itself"),
    "unknown dof": (
        put("equal_dofs", [{"master": "a", "slave": "b", "dofs": ["u"]}]),
        "one of ux uy uz",
    ),
    "release end": (put("releases", [{"element": "e", "end": "k", "dofs": ["rz"]}]), "'i' or 'j'"),
    "negative mass": (put("masses", [{"node": "b", "m": -1}]), "a number of 0 or more"),
    "lumped masses": (put("mass_model", {"type": "lumped"}), "only the consistent"),
    "measure unit": (
        put("loads", "l", "measures", [{"name": "m", "weights": [], "unit": "in"}]),
        "mm, deg or J",
    ),
    "too many nodes": (
        put("nodes", {str(k): [k, 0, 0] for k in range(20001)}),
        "20001 of them; 1 to 20000",
    ),
}


@pytest.mark.parametrize(("change", "message"), BAD.values(), ids=BAD.keys())
def test_bad_models_are_refused_by_place(change, message):
    data = minimal()
    read_model(data)
    change(data)
    with pytest.raises(InputError, match=message):
        read_model(data)


BAD_TEXT = {
    "not json": ("{", "line 1, column 2: not JSON"),
    "a list": ("[1]", "the top level must be an object"),
    "NaN": ('{"nodes": {"a": [NaN, 0, 0]}}', "holds NaN"),
    "node twice": ('{"nodes": {"a": [0,0,0], "a": [1,0,0]}}', "key 'a' is given twice"),
    "deep": ("[" * 100_000, "nested too deeply|not JSON"),
    "digits": ('{"nodes": {"a": [' + "1" * 5000 + ", 0, 0]}}", "number too long"),
    "several models": ('{"models": {"one": {}, "two": {}}}', r"holds several models \(one, two\)"),
    "empty": ("", "not JSON"),
}


@pytest.mark.parametrize(("text", "message"), BAD_TEXT.values(), ids=BAD_TEXT.keys())
def test_bad_files_are_refused_by_name(text, message, tmp_path):
    path = tmp_path / "bad.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=message) as refusal:
        read_model(path)
    assert str(refusal.value).startswith("bad.json: ")


def test_files_that_are_no_text_or_not_there_are_refused(tmp_path, monkeypatch):
    (tmp_path / "binary.json").write_bytes(b"\xff\xfe\x00{")
    with pytest.raises(InputError, match="not UTF-8"):
        read_model(tmp_path / "binary.json")
    with pytest.raises(InputError, match="cannot be read"):
        read_model(tmp_path / "missing.json")
    with pytest.raises(InputError, match="cannot be read"):
        read_model(tmp_path)
    monkeypatch.setattr("droptrail.converters.files.strict_json.MAX_BYTES", 2)
    with pytest.raises(InputError, match="at most"):
        read_model(tmp_path / "binary.json")


def test_unknown_keys_are_found_wherever_they_are():
    data = minimal()
    data |= {"colour": "red", "mass_model": {"lumping": 1}}
    data["elements"][0]["brand"] = "x"
    data["materials"]["m"]["nu"] = 0.3
    data["loads"]["l"]["author"] = "y"
    data["loads"]["l"]["udl"] = [{"element": "e", "w": [0, 1, 0], "span": 1}]
    places = {f.where: f.code for f in read_model_file(data).findings}
    assert places == dict.fromkeys(
        (
            "model.colour",
            "model.mass_model.lumping",
            "model.elements[0].brand",
            "model.materials.m.nu",
            "model.loads.l.author",
            "model.loads.l.udl[0].span",
        ),
        "model-unknown-key",
    )
