"""What was assumed is a value: said the same everywhere, ended by stating the item, never told apart by its words."""

from droptrail.model.assumption import Assumed, stands_in, still_assumed

BAR = Assumed("build", "bar_width", "bar width", 440.0, "mm")
TUBE = Assumed("tubes", "top_tube", "top tube", "28.6 x 0.8 mm, plain steel")
RIM = Assumed("wheels", "wheel_radius_front", "front wheel radius", 348.0, "mm", "ISO 5775")


def test_said_with_value_unit_and_source() -> None:
    assert str(BAR) == "bar width 440 mm (common practice, no source)"
    assert str(TUBE) == "top tube 28.6 x 0.8 mm, plain steel (common practice, no source)"
    assert str(RIM) == "front wheel radius 348 mm (ISO 5775)"
    assert str(Assumed("rider", "wind", "wind", "none", source="")) == "wind none"


def test_stating_an_item_ends_its_assumption_and_no_other() -> None:
    # two items of which one's name begins with the other's: words alone would end both
    drop = Assumed("build", "bar_width_at_drops", "bar width at the drops", 460.0, "mm")
    assert still_assumed((BAR, drop, TUBE), ["bar_width"]) == (drop, TUBE)
    assert still_assumed((BAR, TUBE), []) == (BAR, TUBE)


def test_a_value_changed_since_is_not_the_assumed_one() -> None:
    assert stands_in((BAR, TUBE), "bar_width", 440.0)
    assert not stands_in((BAR, TUBE), "bar_width", 441.0)
    assert not stands_in((BAR, TUBE), "stem_length", 440.0)


def test_as_fields_for_calculating_on() -> None:
    assert BAR.as_dict() == {
        "subject": "build",
        "key": "bar_width",
        "item": "bar width",
        "value": 440.0,
        "unit": "mm",
        "source": "common practice, no source",
    }
