"""Head tubes known by their two faces: waisted, stepped or tapered ones have no pair of parallel edges.

A FACE is a line square to the head tube at whose two ends other lines begin. Two faces, each square to the line
between their middles, are a head tube whatever its sides look like.
"""

from math import hypot

import numpy as np
from numpy.typing import NDArray

from ....model.arrays import Array
from .lines import Candidate
from .plane import Vec
from .view import View

WIDTH = (24.0, 90.0)  # mm of a face
APART = (45.0, 420.0)  # mm between the two faces
ALIKE = 0.5  # narrower over wider face, least
SQUARE = 0.006  # cosine between a face and the line between the middles
CORNER = 1.5  # mm from a face's end to the end of another line
FLAT = 45.0  # degrees; the faces of a steep tube slope less
MOST_FACES = 120  # looked at, longest first
MOST_PAIRS = 16  # tubes kept, longest first
SAME_AXIS = 0.7  # mm; a tube of two parallel edges about the same axis is known already
PLACE = (0.3, 1.3, 100.0, 1250.0)  # x in wheelbases, y in mm


def tubes_between_faces(v: View, known: list[Candidate]) -> list[Candidate]:
    """Tubes between two faces, lower end first, about axes no tube of `known` has."""
    faces = _faces(v)
    if len(faces) < 2:
        return []
    out: list[Candidate] = []
    for tube in _between(v, faces):
        if not any(_one_axis(tube, other) for other in (*known, *out) if other.is_tube):
            out.append(tube)
        if len(out) == MOST_PAIRS:
            break
    return out


def _faces(v: View) -> NDArray[np.int64]:
    x = v.mid[:, 0] / v.front[0]
    y = v.mid[:, 1]
    fits = (v.length >= WIDTH[0]) & (v.length <= WIDTH[1])
    fits &= (x >= PLACE[0]) & (x <= PLACE[1]) & (y >= PLACE[2]) & (y <= PLACE[3])
    d = v.ends[:, 2:] - v.ends[:, :2]
    slope = np.abs(np.degrees(np.arctan2(d[:, 1], d[:, 0])))
    # a line has no sense of direction: 170 degrees slopes as little as 10
    slope = np.minimum(slope, 180.0 - slope)
    # faces of a head tube are square to a steep axis, so they lie flat
    index = np.flatnonzero(fits & (slope <= FLAT))
    index = index[np.argsort(-v.length[index])][:MOST_FACES]
    tips = np.vstack((v.ends.reshape(-1, 2), v.bent_ends.reshape(-1, 2)))
    kept = [k for k in index.tolist() if _cornered(v, tips, k)]
    return np.array(kept, np.int64)


def _cornered(v: View, tips: Array, face: int) -> bool:
    """Another line begins at either end of a face."""
    for x, y in v.ends[face].reshape(2, 2).tolist():
        near = np.abs(tips[:, 0] - x) + np.abs(tips[:, 1] - y) <= CORNER
        if near.sum() < 2:  # the face's own end is one of them
            return False
    return True


def _between(v: View, faces: NDArray[np.int64]) -> list[Candidate]:
    found: list[tuple[float, Candidate]] = []
    for n, a in enumerate(faces.tolist()):
        for b in faces[n + 1 :].tolist():
            low, high = (a, b) if v.mid[a, 1] < v.mid[b, 1] else (b, a)
            along = v.mid[high] - v.mid[low]
            apart = float(hypot(*along))
            if not APART[0] <= apart <= APART[1]:
                continue
            narrow, wide = sorted((float(v.length[a]), float(v.length[b])))
            # a tapered head tube's ends differ, but not by more than that
            if narrow < ALIKE * wide:
                continue
            u = along / apart
            cosines = [
                abs(float((v.ends[k, 2:] - v.ends[k, :2]) @ u)) / float(v.length[k]) for k in (a, b)
            ]
            if max(cosines) <= SQUARE:
                found.append((apart, _tube(v, low, high, u)))
    return [tube for _, tube in sorted(found, key=lambda f: -f[0])]


def _tube(v: View, low: int, high: int, u: Array) -> Candidate:
    lx, ly = v.mid[low].tolist()
    hx, hy = v.mid[high].tolist()
    left_low, right_low = _sides(v, low, u)
    left_high, right_high = _sides(v, high, u)
    return Candidate(
        (lx, ly),
        (hx, hy),
        (low, high),
        diameter=float(v.length[[low, high]].mean()),
        edges=((left_low, left_high), (right_low, right_high)),
    )


def _sides(v: View, face: int, u: Array) -> tuple[Vec, Vec]:
    """A face's left and right end, seen upwards."""
    p, q = v.ends[face].reshape(2, 2)
    turn = u[0] * (p[1] - q[1]) - u[1] * (p[0] - q[0])
    first, second = (p, q) if turn > 0 else (q, p)
    return (float(first[0]), float(first[1])), (float(second[0]), float(second[1]))


def _one_axis(a: Candidate, b: Candidate) -> bool:
    return max(abs(b.lateral(a.p)), abs(b.lateral(a.q))) <= SAME_AXIS
