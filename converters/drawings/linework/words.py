"""What a layer's name says about the lines on it, in five languages. One piece of evidence, never the proof.

A name is split into words (case change, digits, punctuation), accents are dropped, and looked up. Names
that mean several members ("frame", "wheels") answer with the group; names of other things answer "other".
"""

import re
import unicodedata
from functools import lru_cache

MEMBERS = ("seat_tube", "down_tube", "top_tube", "head_tube", "chainstay", "seatstay", "fork")
ROUNDS = ("wheel_front", "wheel_rear", "bb_shell")
GROUPS = ("frame", "wheel", "ignore")
ALL = (*MEMBERS, *ROUNDS, *GROUPS)

# Trade words English, German, French, Spanish, Italian (common practice, no source). Longest match wins.
_WORDS: dict[str, tuple[str, ...]] = {
    "seat_tube": (
        "seattube",
        "seat tube",
        "sitzrohr",
        "sattelrohr",
        "tube de selle",
        "tubo de sillin",
        "tubo sella",
        "tubo vertical",
        "piantone",
    ),
    "down_tube": (
        "downtube",
        "down tube",
        "unterrohr",
        "tube diagonal",
        "tube oblique",
        "tubo diagonal",
        "tubo inferior",
        "tubo obliquo",
    ),
    "top_tube": (
        "toptube",
        "top tube",
        "oberrohr",
        "tube superieur",
        "tube horizontal",
        "tubo superior",
        "tubo horizontal",
        "tubo orizzontale",
    ),
    "head_tube": (
        "headtube",
        "head tube",
        "steuerrohr",
        "steuerkopfrohr",
        "steuerkopf",
        "tube de direction",
        "douille de direction",
        "tubo de direccion",
        "tubo sterzo",
        "canotto",
    ),
    "chainstay": (
        "chainstay",
        "chain stay",
        "kettenstrebe",
        "kettenstreben",
        "bases",
        "vaina",
        "vainas",
        "fodero orizzontale",
        "foderi orizzontali",
        "foderi bassi",
        "hinterbau unten",
    ),
    "seatstay": (
        "seatstay",
        "seat stay",
        "sitzstrebe",
        "sitzstreben",
        "sattelstrebe",
        "hauban",
        "haubans",
        "tirante",
        "tirantes",
        "pendente",
        "pendenti",
        "fodero verticale",
        "foderi verticali",
    ),
    "fork": (
        "fork",
        "fork blade",
        "gabel",
        "gabelscheide",
        "gabelscheiden",
        "fourche",
        "fourreau",
        "horquilla",
        "forcella",
    ),
    "wheel_front": (
        "wheelfront",
        "front wheel",
        "wheel front",
        "vorderrad",
        "roue avant",
        "rueda delantera",
        "ruota anteriore",
        "axle front",
        "front axle",
    ),
    "wheel_rear": (
        "wheelrear",
        "rear wheel",
        "wheel rear",
        "hinterrad",
        "roue arriere",
        "rueda trasera",
        "ruota posteriore",
        "axle rear",
        "rear axle",
    ),
    "bb_shell": (
        "bb",
        "bottom bracket",
        "bb shell",
        "tretlager",
        "tretlagergehause",
        "innenlager",
        "boitier",
        "boite de pedalier",
        "caja pedalier",
        "pedalier",
        "movimento centrale",
        "scatola movimento",
    ),
    "wheel": (
        "wheel",
        "wheels",
        "rad",
        "rader",
        "raeder",
        "laufrad",
        "laufrader",
        "laufraeder",
        "roue",
        "roues",
        "rueda",
        "ruedas",
        "ruota",
        "ruote",
        "tyre",
        "tyres",
        "tire",
        "tires",
        "reifen",
        "pneu",
        "pneus",
        "neumatico",
        "cubierta",
        "pneumatico",
        "copertone",
    ),
    "rim": (
        "rim",
        "rims",
        "felge",
        "felgen",
        "jante",
        "jantes",
        "llanta",
        "llantas",
        "cerchio",
        "cerchi",
    ),
    "frame": (
        "frame",
        "rahmen",
        "cadre",
        "cuadro",
        "telaio",
        "centreline",
        "centrelines",
        "centerline",
        "centerlines",
        "mittellinie",
        "mittellinien",
        "rohrmitten",
        "center",
        "centre",
        "achsen",
        "axes",
        "outline",
        "umriss",
        "kontur",
    ),
    "other": (
        "dim",
        "dims",
        "dimension",
        "dimensions",
        "bemassung",
        "masse",
        "cotes",
        "cotas",
        "quote",
        "title",
        "titel",
        "schriftfeld",
        "cartouche",
        "border",
        "rand",
        "rahmenlinie",
        "hatch",
        "schraffur",
        "hachure",
        "text",
        "note",
        "notes",
        "notizen",
        "rider",
        "fahrer",
        "cycliste",
        "ciclista",
        "construction",
        "konstruktion",
        "hilfslinien",
        "hilfslinie",
        "constr",
        "aux",
        "component",
        "components",
        "parts",
        "anbauteile",
        "teile",
        "defpoints",
        "ground",
        "boden",
        "floor",
        "sol",
        "suelo",
        "hidden",
        "saddle",
        "sattel",
        "handlebar",
        "lenker",
        "chain",
        "kette",
        "crank",
        "kurbel",
        "viewport",
        "logo",
    ),
}
_GROUND = {"ground", "boden", "fahrbahn", "floor", "sol", "suelo", "terreno", "grond"}
_TABLE = {word: member for member, words in _WORDS.items() for word in words}


@lru_cache(maxsize=4096)
def meaning(layer: str) -> str | None:
    """Member, "wheel", "rim", "frame", "other", or None when the name says nothing."""
    words = _split(layer)
    for size in range(min(len(words), 4), 0, -1):
        for start in range(len(words) - size + 1):
            found = _TABLE.get(" ".join(words[start : start + size]))
            if found is not None:
                return found
    return None


def is_ground(layer: str) -> bool:
    """Whether a layer's name says that the ground is drawn on it."""
    return not _GROUND.isdisjoint(_split(layer))


def _split(layer: str) -> list[str]:
    spaced = re.sub(r"(?<=[a-zà-ÿ])(?=[A-Z])", " ", layer.replace("ß", "ss"))
    plain = unicodedata.normalize("NFKD", spaced).encode("ascii", "ignore").decode().lower()
    return re.findall(r"[a-z]+", plain)
