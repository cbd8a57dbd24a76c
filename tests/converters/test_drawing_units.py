"""What one drawing unit is: every habit of the trade, alone and against each other; a doubt must become a question."""

import re

import pytest
from droptrail.converters.drawings.drawing import DimensionNote, Drawing, Note
from droptrail.converters.drawings.sideview.unit_evidence import typed_dimensions
from droptrail.converters.drawings.sideview.units import decide_scale, unit_evidence
from droptrail.model.errors import InputError
from hypothesis import given, settings
from hypothesis import strategies as st

WHEEL, CHAINSTAY = (
    690.0,
    432.0,
)  # mm, tyre outside and centre to centre: a usual road wheel and frame


def drawing(header=None, notes=(), dimensions=()):
    return Drawing((), tuple(Note(text, (0, 0)) for text in notes), tuple(dimensions), header)


def printed(mm, mm_per_unit, text="", factor=1.0, kind="aligned"):
    """A dimension over something `mm` long."""
    return DimensionNote(kind, mm / mm_per_unit, text, factor)


def decide(
    mm_per_unit,
    header=None,
    notes=(),
    dimensions=(),
    units=None,
    scale=None,
    wheel=WHEEL,
    chainstay=CHAINSTAY,
):
    """Decide on a drawing whose true factor is mm_per_unit."""
    stick = ([wheel / mm_per_unit] * 2, chainstay / mm_per_unit)
    return decide_scale(drawing(header, notes, dimensions), *stick, units, scale)


def codes(decision):
    return [finding.code for finding in decision.findings]


# -- the header --------------------------------------------------------------------------------------


@pytest.mark.parametrize("mm", [1.0, 10.0, 25.4, 1000.0])
def test_header_that_fits_is_believed_without_a_word(mm):
    decision = decide(mm, header=mm)
    assert (decision.mm_per_unit, decision.scale, codes(decision)) == (mm, 1.0, [])


@pytest.mark.parametrize("header", [1.0, 10.0, 25.4, 304.8, 1000.0])
@pytest.mark.parametrize("true", [1.0, 10.0, 25.4, 1000.0])
def test_header_that_lies_is_overruled_by_the_wheels_with_a_warning(header, true):
    if header == true:
        return
    decision = decide(true, header=header)
    assert decision.mm_per_unit == true
    assert "unit-contradicted" in codes(decision)
    (warning,) = [f for f in decision.findings if f.code == "unit-contradicted"]
    assert warning.severity == "warning"
    assert "header" in warning.message


@pytest.mark.parametrize(
    ("true", "name"), [(1.0, "mm"), (10.0, "cm"), (25.4, "inch"), (1000.0, "m")]
)
def test_no_header_and_nothing_else_leaves_plausibility(true, name):
    decision = decide(true)
    assert (decision.mm_per_unit, decision.unit) == (true, name)
    (finding,) = decision.findings
    assert finding.code == "unit-inferred"
    assert "wheel 690 mm, chainstay 432 mm" in finding.message
    # A drawing shrunk to a page looks like one in inches or cm; full size in mm is what most files are.
    assert finding.severity == ("info" if true == 1.0 else "warning")


def test_a_note_on_the_unit_spares_the_warning():
    (finding,) = decide(10.0, notes=["alle Masse in cm"]).findings
    assert (finding.code, finding.severity) == ("unit-inferred", "info")


@settings(deadline=None, max_examples=200)
@given(
    wheel=st.floats(300, 780), chainstay=st.floats(350, 600), true=st.sampled_from([1.0, 10.0, 25.4, 1000.0]),
    header=st.sampled_from([None, 1.0, 10.0, 25.4, 304.8, 1000.0]),
)  # fmt: skip
def test_any_bicycle_in_any_unit_under_any_header(wheel, chainstay, true, header):
    """The windows are narrower together than the steps between units, so the right one is always found."""
    assert decide(true, header, wheel=wheel, chainstay=chainstay).mm_per_unit == true


# -- scale: of the model or only of the print ---------------------------------------------------------


def test_model_at_one_to_ten_with_dimlfac():
    dimensions = [printed(432, 10, factor=10.0), printed(1040, 10, "1040", factor=10.0)]
    decision = decide(
        10.0, header=None, notes=["MASSSTAB 1:10", "alle Masse in mm"], dimensions=dimensions
    )
    assert (decision.mm_per_unit, decision.unit, decision.scale) == (10.0, "mm", 10.0)
    assert codes(decision) == ["unit-inferred"]


def test_model_at_one_to_five_in_mm_with_the_header_saying_mm():
    decision = decide(5.0, header=1.0, notes=["1:5"])
    assert (decision.mm_per_unit, decision.unit, decision.scale) == (5.0, "mm", 5.0)
    assert codes(decision) == ["drawn-to-scale"]


@pytest.mark.parametrize(("header", "contradicted"), [(1.0, []), (25.4, ["unit-contradicted"])])
def test_a_stated_scale_goes_with_the_header_unit(header, contradicted):
    """mm in the header and 1:5 stated are one story: the paper's mm."""
    assert codes(decide(5.0, header=header, units="mm", scale=5.0)) == [
        "drawn-to-scale",
        *contradicted,
    ]


def test_model_in_inches_at_one_to_four():
    decision = decide(4 * 25.4, header=25.4, notes=["SCALE 1/4"])
    assert (decision.mm_per_unit, decision.unit, decision.scale) == (4 * 25.4, "inch", 4.0)


def test_scale_of_the_print_is_not_that_of_the_model():
    decision = decide(1.0, header=1.0, notes=["Massstab 1:5 (A3)"])
    assert decision.mm_per_unit == 1.0
    assert codes(decision) == ["plot-scale-ignored"]


def test_scale_nobody_states_is_a_question_with_the_answers_that_would_fit():
    with pytest.raises(
        InputError, match=r"no unit makes this a bicycle .*fit .*mm at 1:5: wheel 690 mm.*--units"
    ):
        decide(5.0, header=1.0)


def test_dimensions_printing_inches_over_a_drawing_in_mm():
    decision = decide(1.0, header=1.0, dimensions=[printed(432, 1.0, factor=1 / 25.4)])
    assert decision.mm_per_unit == 1.0
    assert "unit-contradicted" not in codes(decision)


def test_dimensions_printing_mm_over_a_drawing_in_inches():
    decision = decide(25.4, header=None, dimensions=[printed(432, 25.4, factor=25.4)])
    assert (decision.mm_per_unit, decision.unit) == (25.4, "inch")


def test_a_print_factor_near_one_is_no_scale_but_is_told():
    decision = decide(1.0, header=1.0, dimensions=[printed(432, 1.0, factor=0.8)])
    assert decision.mm_per_unit == 1.0
    assert codes(decision) == ["unit-contradicted"]


# -- doubt -------------------------------------------------------------------------------------------


def test_two_readings_with_equal_support_are_asked_about():
    """Header inch, note 1:20: in mm at 1:20 the wheel would be 543 mm and the chainstay 340 mm, also a bicycle."""
    with pytest.raises(InputError, match="unit is in doubt") as caught:
        decide(25.4, header=25.4, notes=["1:20"])
    message = str(caught.value)
    assert "inch: wheel 690 mm, chainstay 432 mm" in message
    assert "mm at 1:20: wheel 543.31 mm, chainstay 340.16 mm" in message
    assert "the file header says 1 unit = inch" in message
    assert "--units" in message
    assert "--scale" in message


@pytest.mark.parametrize("header", [None, 1.0, 25.4])
def test_one_to_twenty_five_and_inches_are_too_close_to_guess(header):
    with pytest.raises(InputError, match=r"unit is in doubt: .*mm at 1:25"):
        decide(25.4, header=header, notes=["1:25"])


def test_a_dimension_settles_that_doubt():
    decision = decide(25.4, header=25.4, notes=["1:20"], dimensions=[printed(432, 25.4, "432 mm")])
    assert decision.mm_per_unit == 25.4
    decision = decide(
        20.0, header=25.4, notes=["1:20"], dimensions=[printed(432, 20.0, "432", 20.0)]
    )
    assert (decision.mm_per_unit, decision.scale) == (20.0, 20.0)
    assert "unit-contradicted" in codes(decision)  # the header


def test_dimensions_that_contradict_each_other_settle_nothing():
    dimensions = [printed(432, 25.4, "432 mm"), printed(432, 25.4, "", 20.0)]
    with pytest.raises(InputError, match=r"unit is in doubt: .*mm at 1:20"):
        decide(25.4, header=25.4, dimensions=dimensions)


def test_so_does_the_builder():
    assert decide(25.4, header=25.4, notes=["1:20"], units="inch", scale=1.0).mm_per_unit == 25.4
    assert decide(25.4, header=25.4, notes=["1:20"], units="mm", scale=20.0).mm_per_unit == 20.0


def test_absurd_scale_is_refused_with_the_list():
    with pytest.raises(
        InputError, match=r"no unit makes this .*\(mm: wheel 6\.9e\+08 mm, chainstay 4\.32e\+08 mm"
    ):
        decide(1e-6, header=1.0)


def test_nothing_recognised_leaves_the_header_with_a_warning():
    decision = decide_scale(drawing(1.0), [], None)
    assert (decision.mm_per_unit, codes(decision)) == (1.0, ["unit-unchecked"])
    with pytest.raises(InputError, match="in doubt"):
        decide_scale(drawing(None), [], None)


def test_chainstay_alone_or_wheels_alone_can_settle_it():
    assert decide_scale(drawing(None), [], 43.2).mm_per_unit == 10.0
    assert decide_scale(drawing(None), [690.0], None).mm_per_unit == 1.0


# -- what the builder states --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("units", "mm"), [("mm", 1.0), ("cm", 10.0), ("m", 1000.0), ("inch", 25.4)]
)
def test_stated_unit_wins_over_everything(units, mm):
    decision = decide(mm, header=304.8, units=units)
    assert (decision.mm_per_unit, decision.unit) == (mm, units)
    assert "unit-contradicted" in codes(decision)


def test_stated_unit_that_gives_no_bicycle_is_taken_with_a_warning():
    decision = decide(1.0, header=1.0, units="inch")
    assert decision.mm_per_unit == 25.4
    assert "unit-stated-implausible" in codes(decision)
    assert "wheel 17,526 mm" in decision.findings[0].message


def test_stated_unit_keeps_the_scale_the_drawing_states():
    decision = decide(10.0, dimensions=[printed(432, 10, factor=10.0)], units="mm")
    assert (decision.mm_per_unit, decision.scale) == (10.0, 10.0)


def test_stated_scale_finds_its_unit():
    assert decide(5.0, header=1.0, scale=5.0).mm_per_unit == 5.0
    assert decide(5 * 25.4, scale=5.0).unit == "inch"


def test_unknown_unit_is_refused():
    with pytest.raises(InputError, match='unit "furlong" is not known'):
        decide(1.0, units="furlong")


# -- dimensions against the drawing -------------------------------------------------------------------


@pytest.mark.parametrize(
    "text", ["432", "432 mm", "432.0", "432,0 mm", "17.0 in", '17.0"', "43.2 cm", "17.008"]
)
def test_typed_text_that_agrees(text):
    assert codes(decide(1.0, header=1.0, dimensions=[printed(432, 1.0, text)])) == []


@pytest.mark.parametrize("text", ["425", "430", "440 mm", "16.5 in", "345.6", "480"])
def test_typed_text_that_disagrees_is_named_and_does_not_bend_the_scale(text):
    decision = decide(1.0, header=1.0, dimensions=[printed(432, 1.0, text)] * 3)
    assert decision.mm_per_unit == 1.0
    assert codes(decision).count("dimension-text-differs") == 3
    message = next(f.message for f in decision.findings if f.code == "dimension-text-differs")
    assert text in message
    assert re.search(r"432|17\.008", message)


@pytest.mark.parametrize(
    ("text", "found"), [("71.5", 0), ("108.5°", 0), ("71.5 Grad", 0), ("72.5", 1)]
)
def test_typed_angles(text, found):
    dimensions = [DimensionNote("angular", 71.5, text)]
    assert len(decide(1.0, header=1.0, dimensions=dimensions).findings) == found


@pytest.mark.parametrize("text", ["<>", "<> mm", "", "430 ±0.5", "2x 44", "see sheet"])
def test_texts_without_one_typed_number_say_nothing(text):
    assert list(typed_dimensions(drawing(dimensions=[printed(432, 1.0, text)]))) == []


# -- notes -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("text", "scale"), [
    ("1:10", 10.0), ("Massstab 1 : 5", 5.0), ("Maßstab 1/10", 10.0), ("SCALE 1/4", 4.0), ("M 1:2,5", 2.5),
    ("échelle 1:3 (A2)", 3.0), ("2:1", 0.5), ("scale=1:1", 1.0),
])  # fmt: skip
def test_scale_notes(text, scale):
    assert [e.scale for e in unit_evidence(drawing(notes=[text])) if e.source == "scale-note"] == [
        scale
    ]


@pytest.mark.parametrize(
    "text",
    ["1/8 inch chain", "12:30:45", "3:2 gear", "1:1.2", "x/1:2/3", "tube 1 1/8", "1:0", "R 1:"],
)
def test_not_every_ratio_is_a_scale(text):
    assert not [e for e in unit_evidence(drawing(notes=[text])) if e.source == "scale-note"]


@pytest.mark.parametrize(("text", "unit"), [
    ("alle Maße in mm", 1.0), ("All dimensions in inches", 25.4), ("Abmessungen: cm", 10.0), ("cotes en mm", 1.0),
    ("Masse in Zoll", 25.4), ("units: mm", 1.0), ("quote in millimetri", 1.0), ("frame of the mm series", None),
])  # fmt: skip
def test_unit_notes(text, unit):
    found = [e.unit for e in unit_evidence(drawing(notes=[text])) if e.source == "unit-note"]
    assert found == ([] if unit is None else [unit])


@pytest.mark.parametrize("text", ["NTS", "not to scale", "nicht maßstäblich", "UNMASSSTAEBLICH"])
def test_not_to_scale_is_passed_on(text):
    assert "drawing-not-to-scale" in codes(decide(1.0, header=1.0, notes=[text]))


def test_messages_stay_on_one_line():
    decision = decide(
        1.0, header=1.0, notes=["Scale\n1:5"], dimensions=[printed(432, 1.0, "425\nmm")]
    )
    assert decision.findings
    assert all(len(f.message.splitlines()) == 1 for f in decision.findings)
