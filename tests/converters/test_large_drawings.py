"""What lets a drawing of tens of thousands of curves be read in seconds: looked up together, no search for garbage."""

import gc

import numpy as np
import pytest
from droptrail.converters.drawings.drawing import Curve
from droptrail.converters.drawings.dxf.read_dxf import read_dxf
from droptrail.converters.drawings.linework.places import places
from droptrail.model.errors import InputError
from droptrail.model.uncollected import uncollected


def test_places_of_many_curves_are_those_of_each():
    rng = np.random.default_rng(5)
    curves = [Curve("polyline", rng.uniform(size=(count, 2))) for count in (1, 2, 3, 4, 17, 2)]
    found = places(curves)
    for curve, at in zip(curves, found, strict=True):
        assert at.tolist() == curve.points[[0, len(curve.points) // 2, -1]].tolist()
    assert places([]).shape == (0, 3, 2)


def test_the_search_for_garbage_is_as_before_after_a_refusal(tmp_path):
    assert gc.isenabled()
    with pytest.raises(InputError):
        read_dxf(tmp_path / "none.dxf")
    assert gc.isenabled()


def test_who_switched_the_search_off_finds_it_off():
    gc.disable()
    try:
        with uncollected():
            assert not gc.isenabled()
        assert not gc.isenabled()
    finally:
        gc.enable()
    with uncollected():
        assert not gc.isenabled()
    assert gc.isenabled()
