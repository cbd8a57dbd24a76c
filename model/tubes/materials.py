"""Tube materials: elastic constants, density and strength, each with where the numbers come from.

Units: MPa and tonne/mm^3, so that N, mm and s fit together.
"""

from dataclasses import dataclass
from math import inf
from typing import Literal

from ..errors import ModelError, UnknownNameError
from ..findings import Finding

Metal = Literal["steel", "titanium", "aluminium"]
DENSEST = 1e100  # in any set of units; beyond it masses overflow where they are multiplied


@dataclass(frozen=True)
class Material:
    """An isotropic material.

    E, G : Young's and shear modulus, MPa. rho : density, tonne/mm^3; 0 in models made for statics only.
    yield_strength, ultimate, endurance : MPa; None where no value is in hand. `endurance` is the
    fully reversed amplitude for polished, unwelded material at the cycles `source` states.
    """

    name: str
    E: float
    G: float
    rho: float
    yield_strength: float | None = None
    ultimate: float | None = None
    endurance: float | None = None
    source: str = ""

    def __post_init__(self) -> None:
        for field in ("E", "G"):
            value = getattr(self, field)
            if not 0 < value < inf:
                raise ModelError(
                    f"material {self.name}: {field} is {value}, it must be a positive number"
                )
        if not 0 <= self.rho < DENSEST:
            raise ModelError(
                f"material {self.name}: rho is {self.rho}, it must be zero (massless) or more, below {DENSEST:g}"
            )

    @property
    def nu(self) -> float:
        """Poisson's ratio that E and G imply."""
        return self.E / (2 * self.G) - 1


def elastic_disagreement(
    name: str, E: float, G: float, nu: float, tolerance: float = 0.02
) -> Finding | None:
    """A warning when E, G and nu cannot all be right for an isotropic material: G = E / 2(1 + nu)."""
    implied = E / (2 * (1 + nu))
    if abs(G - implied) <= tolerance * implied:
        return None
    return Finding(
        "material-e-g-nu",
        "warning",
        f"{name}: G {G:.0f} MPa does not follow from E {E:.0f} MPa and nu {nu:.2f}, which give "
        f"{implied:.0f} MPa; G is used as stated - check the data sheet",
    )


_MATERIALS = (
    Material(
        "4130",
        205e3,
        80e3,
        7.85e-9,
        435,
        670,
        335,
        "AISI 4130 normalised 870 C, ASM data sheet; endurance 0.5 x ultimate, textbook estimate for steel",
    ),
    Material(
        "steel",
        205e3,
        80e3,
        7.85e-9,
        435,
        670,
        335,
        "taken as AISI 4130 normalised, ASM data sheet; endurance 0.5 x ultimate, textbook estimate",
    ),
    Material(
        "stainless",
        193e3,
        77.2e3,
        8.0e-9,
        215,
        505,
        None,
        "AISI 304 annealed, from memory; cold-drawn tube is stronger, state your own values",
    ),
    Material(
        "6061-T6",
        68.9e3,
        26.0e3,
        2.70e-9,
        276,
        310,
        96.5,
        "6061-T6 data sheet, endurance at 5e8 cycles (R. R. Moore); as welded 138/165 MPa (MMPDS-01)",
    ),
    Material(
        "6061-T6 as welded",
        68.9e3,
        26.0e3,
        2.70e-9,
        138,
        165,
        None,
        "6061-T6 softened by the weld and not heat-treated again, MMPDS-01 typical",
    ),
    Material(
        "Ti-3Al-2.5V",
        100e3,
        39.6e3,
        4.48e-9,
        500,
        620,
        280,
        "Ti-3Al-2.5V annealed, ASM; G as measured on rod (the printed 44 GPa contradicts E and nu); "
        "endurance at 1e7 cycles, smooth",
    ),
)
# By lower case: sheets are written by hand.
MATERIALS = {m.name.lower(): m for m in _MATERIALS}
_SYNONYMS = {
    "aluminium": "6061-t6",
    "aluminum": "6061-t6",
    "alu": "6061-t6",
    "6061": "6061-t6",
    "al": "6061-t6",
    "welded aluminium": "6061-t6 as welded",
    "6061-t6 welded": "6061-t6 as welded",
    "6061 welded": "6061-t6 as welded",
    "titanium": "ti-3al-2.5v",
    "ti": "ti-3al-2.5v",
    "ti-3-2.5": "ti-3al-2.5v",
    "grade 9": "ti-3al-2.5v",
    "cromoly": "4130",
    "crmo": "4130",
    "cro-mo": "4130",
    "chromoly": "4130",
    "stahl": "steel",
    "304": "stainless",
    "inox": "stainless",
    "stainless steel": "stainless",
}


def find_material(name: str) -> Material:
    """The material of that name, trade synonyms accepted.

    Raises
    ------
    UnknownNameError
        For an unknown name; the message lists the known ones.
    """
    key = name.strip().lower()
    material = MATERIALS.get(_SYNONYMS.get(key, key))
    if material is None:
        known = ", ".join(m.name for m in _MATERIALS)
        raise UnknownNameError(f"material '{name}' is not known; known: {known}", value=name)
    return material


def metal(material: Material) -> Metal:
    """Which family a material belongs to, told by Young's modulus: steel above 150 GPa, aluminium below 90."""
    if material.E > 150e3:
        return "steel"
    if material.E < 90e3:
        return "aluminium"
    return "titanium"
