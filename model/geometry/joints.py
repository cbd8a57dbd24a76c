"""Joints that lie off the tube they should be on: above the seat tube's top, beyond an end of the head tube."""

from typing import NamedTuple

from .dimensions import FrameDimensions
from .statements import label

ON_END = 1e-6  # mm; a joint this little beyond the end is on it


class _Joint(NamedTuple):
    """`at` up the tube of `length`, mm; `upper` and `lower` name its ends; `items` place the joint."""

    words: str
    at: float
    length: float | None
    upper: str
    lower: str
    items: tuple[str, ...]

    @property
    def above(self) -> float:
        """How far beyond the upper end; unknown lengths end nowhere."""
        if self.length is None:
            return -1.0
        return self.at - self.length

    @property
    def outside(self) -> bool:
        return max(self.above, -self.at) > ON_END

    def __str__(self) -> str:
        if self.above > 0:
            off = self.above
            end = f"above {self.upper}"
        else:
            off = -self.at
            end = f"below {self.lower}"
        return (
            f"{self.words} {off:{'.0f' if off >= 10 else '.1f'}} mm {end}; check "
            f"{', '.join(map(label, self.items[:-1]))} and {label(self.items[-1])}"
        )


def joints_outside(dimensions: FrameDimensions) -> tuple[str, ...]:
    """One sentence for each joint beyond its tube's end: which, by how much, what to check."""
    return tuple(str(joint) for joint in _joints(dimensions) if joint.outside)


def _joints(d: FrameDimensions) -> list[_Joint]:
    found = []
    if (on_seat := d.top_tube_on_seat_tube) is not None:
        seat = (d.seat_tube, "its top end", "the bottom bracket")
        found.append(
            _Joint(
                "the top tube joins the seat tube",
                on_seat,
                *seat,
                ("seat_tube", "top_tube_on_seat_tube"),
            )
        )
        if d.seatstay_below_top_tube is not None:
            found.append(
                _Joint(
                    "the seatstays join the seat tube",
                    on_seat - d.seatstay_below_top_tube,
                    *seat,
                    ("seat_tube", "top_tube_on_seat_tube", "seatstay_below_top_tube"),
                )
            )
    head = (d.head_tube, "its upper end", "its lower end")
    if d.top_tube_below_head_top is not None:
        found.append(
            _Joint(
                "the top tube joins the head tube",
                d.head_tube - d.top_tube_below_head_top,
                *head,
                ("head_tube", "top_tube_below_head_top"),
            )
        )
    if d.down_tube_above_head_bottom is not None:
        found.append(
            _Joint(
                "the down tube joins the head tube",
                d.down_tube_above_head_bottom,
                *head,
                ("head_tube", "down_tube_above_head_bottom"),
            )
        )
    return found
