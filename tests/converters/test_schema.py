"""The published JSON Schema of the analysis model: takes what the reader takes, refuses what it refuses.

The judge is jsonschema (draft 2020-12). What only the reader can see - names that refer to nothing, geometry - is
listed in BEYOND and must stay the only difference.
"""

import copy
import json
import random
from pathlib import Path

import jsonschema
import pytest
from droptrail.converters.analysis import model_and_cases
from droptrail.converters.files.model_file import fields
from droptrail.converters.files.model_file import read_model as read_model_module
from droptrail.converters.files.model_file import schema as schema_module
from droptrail.converters.files.model_file.fields import KINDS, WORD, Field, Names
from droptrail.converters.files.model_file.read_model import read_model, read_model_file
from droptrail.converters.files.model_file.schema import schema
from droptrail.converters.files.model_file.write_model import write_model
from droptrail.converters.files.strict_json import JsonItem
from droptrail.converters.inputs import read_input
from droptrail.model.cases.library import cases_of
from droptrail.model.errors import InputError
from droptrail.model.vibration.setup import vibration_model
from helpers_frames import random_frame, space_frame_a

ROOT = Path(__file__).parents[2]
PUBLISHED = {
    f"{case['id']}-{name}": model
    for case in json.loads((ROOT / "tests/data/frame_cases.json").read_text(encoding="utf-8"))[
        "cases"
    ]
    for name, model in case["models"].items()
}
SCHEMA_FILE = Path(__file__).parents[2] / "converters" / "files" / "data" / "model.schema.json"
RULES = json.loads(SCHEMA_FILE.read_text(encoding="utf-8"))
JUDGE = jsonschema.Draft202012Validator(RULES)
# Words of the reader's refusals that need more than one value to be seen at once.
BEYOND = (
    "names a node",
    "names an element",
    "names a section",
    "names a material",
    "this id is taken",
    "to itself",
    "lie on one point",
    "along the element",
    "must not be parallel",
    "cannot join",
    "release",
    "load case",
)


def written() -> dict[str, dict]:
    """Everything our writer writes: every load case of every sample, vibration models, random frames with links."""
    models = {}
    for drawing in sorted((ROOT / "sample_drawings").glob("*.dxf")):
        sheet = drawing.with_suffix(".csv")
        reading = read_input(sheet)
        models[sheet.stem] = write_model(*model_and_cases(reading, cases_of(reading.bicycle)))
    bicycle = read_input(ROOT / "sample_drawings" / "tourer_700c.csv").bicycle
    for supports in ("rigid", "tyres", "free"):
        model, case = vibration_model(bicycle, supports)
        models[f"vibration {supports}"] = write_model(model, (case,))
    for seed in range(5):
        model, case = random_frame(seed)
        models[f"random {seed}"] = write_model(model, (case,))
    model, case = space_frame_a()
    return models | {"space frame": write_model(model, (case,)), "no loads": write_model(model, ())}


@pytest.fixture(scope="module")
def ours():
    return {name: json.loads(json.dumps(model)) for name, model in written().items()}


def refused_by_reader(model: dict) -> str:
    try:
        read_model(model)
    except InputError as error:
        return str(error)
    return ""


def test_the_schema_is_one_of_draft_2020_12():
    jsonschema.Draft202012Validator.check_schema(RULES)
    assert RULES["$schema"].endswith("2020-12/schema")


@pytest.mark.parametrize("name", PUBLISHED)
def test_it_takes_every_published_model(name):
    JUDGE.validate(PUBLISHED[name])


def test_it_takes_whatever_we_write(ours):
    assert len(ours) >= 15
    for name, model in ours.items():
        assert [error.message for error in JUDGE.iter_errors(model)] == [], name


def test_the_file_is_the_one_made_from_the_table():
    """To write it anew: python -m droptrail.converters.files.model_file.schema"""
    assert json.loads(json.dumps(schema())) == RULES


def test_a_key_added_to_the_table_is_read_written_described_and_known(monkeypatch):
    """One row is all that a further key takes: here a colour of an element, which no reader knows today."""
    model = copy.deepcopy(next(iter(PUBLISHED.values())))
    model["elements"][0]["colour"] = "moss green"
    assert [f.code for f in read_model_file(model).findings] == ["model-unknown-key"]
    row = Field("colour", WORD, absent="", words="of the paint")
    monkeypatch.setattr(fields, "KINDS", {**KINDS, "elements": (*KINDS["elements"], row)})
    for module in (read_model_module, schema_module):
        monkeypatch.setattr(module, "KINDS", fields.KINDS)
    names = Names({"1": (0, 0, 0), "2": (1, 0, 0)}, frozenset("e"), {"s": None}, {"m": None})
    element = {"id": "e", "i": "1", "j": "2", "mat": "m", "sec": "s", "vxy": [0, 1, 0]}
    painted = JsonItem({**element, "colour": "moss green"}, "here")
    assert fields.read_fields(painted, "elements", names)["colour"] == "moss green"
    assert fields.read_fields(JsonItem(element, "here"), "elements", names)["colour"] == ""
    held = {"id": "e", "i": "1", "j": "2", "material": "m", "section": "s", "vxy": (0, 1, 0)}
    assert fields.write_fields({**held, "colour": "rust"}, "elements")["colour"] == "rust"
    assert "colour" not in fields.write_fields({**held, "colour": ""}, "elements")
    described = schema()["$defs"]["elements"]["properties"]["colour"]
    assert described == {"$ref": "#/$defs/word", "description": "of the paint"}
    root = JsonItem(model, "here")
    assert read_model_module._unknown_keys(root) == []


@pytest.mark.parametrize(
    ("where", "break_it"),
    [
        ("no nodes", lambda m: m.pop("nodes")),
        ("empty nodes", lambda m: m.update(nodes={})),
        ("two coordinates", lambda m: m["nodes"].update(x=[1, 2])),
        ("a text", lambda m: m["nodes"].update(x="1 2 3")),
        ("no orientation", lambda m: m["elements"][0].pop("vxy")),
        ("orientation nought", lambda m: m["elements"][0].update(vxy=[0, 0.0, 0])),
        ("negative area", lambda m: next(iter(m["sections"].values())).update(A=-1)),
        ("E missing", lambda m: next(iter(m["materials"].values())).pop("E")),
        ("five flags", lambda m: m.update(supports={"1": [1, 0, 0, 0, 0]})),
        ("a flag of 2", lambda m: m.update(supports={"1": [2, 0, 0, 0, 0, 0]})),
        ("three loads", lambda m: m["loads"].update(bad={"nodal": {"1": [1, 2, 3]}})),
        (
            "frame",
            lambda m: m["loads"].update(
                bad={"udl": [{"element": "1", "w": [0, 1, 0], "frame": "tube"}]}
            ),
        ),
        ("negative spring", lambda m: m.update(springs=[{"node": "1", "k": [-1, 0, 0, 0, 0, 0]}])),
        ("no slave", lambda m: m.update(rigid_links=[{"master": "1"}])),
        ("no master", lambda m: m.update(equal_dofs=[{"slave": "1", "dofs": ["ux"]}])),
        ("dof name", lambda m: m.update(equal_dofs=[{"master": "1", "slave": "2", "dofs": ["x"]}])),
        ("lumped mass matrix", lambda m: m.update(mass_model={"type": "lumped"})),
        (
            "unit of a measure",
            lambda m: m["loads"].update(bad={"measures": [{"name": "a", "unit": "inch"}]}),
        ),
    ],
)
def test_it_refuses_what_is_broken(where, break_it):
    model = copy.deepcopy(PUBLISHED["S01-euler"])
    break_it(model)
    assert not JUDGE.is_valid(model)
    assert refused_by_reader(model)


def places(value, path=()):
    """Every path into a JSON value."""
    yield path
    children = (
        value.items()
        if isinstance(value, dict)
        else enumerate(value)
        if isinstance(value, list)
        else ()
    )
    for key, child in children:
        yield from places(child, (*path, key))


def mutant(model: dict, chance: random.Random) -> dict:
    """The model with one value taken away or replaced by something else."""
    out = copy.deepcopy(model)
    *way, last = chance.choice([path for path in places(out) if path])
    holder = out
    for key in way:
        holder = holder[key]
    if chance.random() < 0.3:
        del holder[last]
    else:
        holder[last] = chance.choice(
            [None, "text", -1.5, 0, 7, True, [], {}, [1.0, 2.0, 3.0], [0] * 6, {"a": 1}]
        )
    return out


def test_schema_and_reader_agree_on_mutants(ours):
    """Both must take or both refuse a mutant, but for refusals that need two values at once."""
    chance = random.Random(20261125)
    parents = [ours["random 0"], ours["random 3"], ours["space frame"], PUBLISHED["S01-mh"]]
    parents += [m for m in PUBLISHED.values() if m.get("releases")]
    parents += [m for m in PUBLISHED.values() if m.get("masses")][:2]
    refused = differ = 0
    for _ in range(600):
        model = mutant(chance.choice(parents), chance)
        valid, words = JUDGE.is_valid(model), refused_by_reader(model)
        refused += bool(words)
        if valid and words:
            assert any(known in words for known in BEYOND), words
            differ += 1
        assert valid or words, (
            f"the schema refuses what the reader takes: {next(JUDGE.iter_errors(model)).message}"
        )
    assert refused > 250, "mutants that hurt nothing prove nothing"
    assert 0 < differ < refused / 2
