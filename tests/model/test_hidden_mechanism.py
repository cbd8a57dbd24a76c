"""A mechanism must be refused even where rounding keeps its pivot from vanishing and the load does not excite it."""

from dataclasses import replace

import pytest
from droptrail.model.errors import MechanismError
from droptrail.model.mechanics.solve import CONDITION_LIMIT, solve
from helpers_frames import random_frame


@pytest.mark.parametrize("loaded", [True, False])
@pytest.mark.parametrize("free", range(6))
def test_one_freed_support_is_named_whatever_the_load(free, loaded):
    flags = tuple(int(k != free) for k in range(6))
    for seed in range(12):
        model, case = random_frame(seed, links=seed % 2 == 0)
        model = replace(model, springs=tuple(s for s in model.springs if s.j is not None))
        case = replace(
            case, supports={"0": flags}, nodal=case.nodal if loaded else {"2": (0.0,) * 6}
        )
        with pytest.raises(MechanismError, match="the supports leave the frame loose"):
            solve(model, [case])


def test_the_limit_is_far_from_what_sound_frames_have():
    for seed in range(12):
        model, case = random_frame(seed)
        assert solve(model, [case])[case.name].condition < 1e-6 * CONDITION_LIMIT
