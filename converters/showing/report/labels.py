"""Words on a picture of the page, each where it meets no other: their widths are reckoned in letters."""

from .svg import text

# mm at the letters' height of the style sheet, 54 mm: an average word of DejaVu Sans, the widest of the usual fonts
LETTER = 34.0
BOLD_LETTER = 42.0
LINE = 56.0  # height of a line of words
BOLD = ("held-words", "gauge-words")


class PageWords:
    """The words of one picture under way. `shapes` : what was written, `boxes` : left, low, right, high of each, mm."""

    def __init__(self) -> None:
        self.shapes: list[str] = []
        self.boxes: list[tuple[float, float, float, float]] = []

    def put(self, at: tuple[float, float], words: str, kind: str, anchor: str) -> None:
        """At the place, or as far above it as other words ask."""
        letter = BOLD_LETTER if kind in BOLD else LETTER
        wide = letter * len(words)
        left = at[0] - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
        base = self._free(left, left + wide, at[1])
        self.shapes.append(text((at[0], base), words, kind, anchor))
        self.boxes.append((left, base, left + wide, base + LINE))

    def _free(self, left: float, right: float, base: float) -> float:
        """The height, at or above `base`, at which words between left and right meet no others."""
        # lowest words first, so that one pass finds a free height
        for start, low, end, _ in sorted(self.boxes, key=lambda box: box[1]):
            if left < end and right > start and abs(low - base) < LINE:
                base = low + LINE
        return base
