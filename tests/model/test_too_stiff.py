"""Loose means loose: a held model that cannot be factored is called too stiff, and a loose one loose."""

import pytest
from droptrail.model.errors import MechanismError, ModelError
from droptrail.model.mechanics.frame_model import Element, EqualDofs, FrameModel, LoadCase, Spring
from droptrail.model.mechanics.looseness import is_loose
from droptrail.model.mechanics.solve import solve
from droptrail.model.tubes.materials import find_material
from droptrail.model.tubes.sections import oval_tube

STEEL = find_material("4130")
TUBE = oval_tube(28.6, 28.6, 0.8, STEEL.nu)
CLAMPED = (1, 1, 1, 1, 1, 1)
PINNED = (1, 1, 1, 0, 0, 0)


def chain(lengths: list[float]) -> FrameModel:
    nodes = {"0": (0.0, 0.0, 0.0)}
    at = 0.0
    for k, length in enumerate(lengths, 1):
        at += length
        nodes[str(k)] = (at, 0.0, 0.0)
    elements = tuple(
        Element(f"e{k}", str(k), str(k + 1), TUBE, STEEL, (0.0, 1.0, 0.0))
        for k in range(len(lengths))
    )
    return FrameModel(nodes, elements)


def case(at: str = "1", **given: object) -> LoadCase:
    return LoadCase("pull", nodal={at: (0.0, 1.0, 0.0, 0.0, 0.0, 0.0)}, **given)  # type: ignore[arg-type]


@pytest.mark.parametrize("lengths", [[100.0] * 20_000, [100.0, 1e-8, 100.0]])
def test_a_held_model_is_too_stiff_and_not_loose(lengths):
    with pytest.raises(ModelError, match=r"too stiff to resolve|too badly scaled") as refused:
        solve(chain(lengths), [case(str(len(lengths)), supports={"0": CLAMPED})])
    assert not isinstance(refused.value, MechanismError)


@pytest.mark.parametrize("short", [1e-3, 1e-5, 1e-7])
def test_a_stiff_piece_that_is_answered_is_answered_right(short):
    """A piece a billion times shorter than its neighbours gives what one straight beam gives."""
    pieces = solve(chain([100.0, short, 100.0]), [case("3", supports={"0": CLAMPED})])["pull"]
    one = solve(chain([200.0 + short]), [case("1", supports={"0": CLAMPED})])["pull"]
    # the balance that goes with an answer tells the size of its error
    told = max(pieces.force_balance, pieces.moment_balance, 1e-10)
    assert pieces.displacement("3")[1] == pytest.approx(one.displacement("1")[1], rel=5 * told)


@pytest.mark.parametrize("supports", [{}, {"0": PINNED}, {"0": PINNED, "2": (0, 1, 1, 0, 0, 0)}])
def test_a_loose_one_is_loose(supports):
    with pytest.raises(MechanismError, match="loose"):
        solve(chain([100.0, 50.0]), [case(supports=supports)])


def test_what_holds_a_body_is_counted_whatever_its_kind():
    model = chain([100.0, 50.0])
    pinned = case(supports={"0": PINNED})
    assert is_loose(model, pinned) is True
    # a torsion spring about the tube's axis and two props: held by kind, not by strength
    props = (
        Spring("a", "2", None, (0.0, 1e-9, 1e-9, 0.0, 0.0, 0.0)),
        Spring("b", "1", None, (0.0, 0.0, 0.0, 1e-6, 0.0, 0.0)),
    )
    assert is_loose(model, case(supports={"0": PINNED}, springs=props)) is False


def test_a_hinge_between_two_bodies_is_seen():
    two = FrameModel(
        {
            "a": (0.0, 0.0, 0.0),
            "b": (100.0, 0.0, 0.0),
            "c": (100.0, 0.0, 0.0),
            "d": (200.0, 0.0, 0.0),
        },
        (
            Element("e1", "a", "b", TUBE, STEEL, (0.0, 1.0, 0.0)),
            Element("e2", "c", "d", TUBE, STEEL, (0.0, 1.0, 0.0)),
        ),
        equal_dofs=(EqualDofs("b", "c", (0, 1, 2)),),
    )
    held = LoadCase("pull", supports={"a": CLAMPED})
    assert is_loose(two, held) is True
    fixed = LoadCase("pull", supports={"a": CLAMPED, "d": (0, 1, 1, 1, 0, 0)})
    assert is_loose(two, fixed) is False
