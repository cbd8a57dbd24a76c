"""`droptrail measured`: readings in, words out; the file of readings and that of a workshop's own correction."""

import json
from pathlib import Path

import pytest
from droptrail.cli.main import main
from droptrail.converters.files.readings import read_corrections, read_readings
from droptrail.model.errors import InputError

SAMPLES = Path(__file__).parents[2] / "sample_drawings"
TOURER = str(SAMPLES / "tourer_700c.csv")
READINGS = str(SAMPLES / "tourer_700c_readings.csv")
HEADER = "rig,where,load,reading,doubt,note\n"


def told(capsys, *words):
    code = main([str(word) for word in words])
    out = capsys.readouterr()
    return code, " ".join(out.out.split()), " ".join(out.err.split())


def test_the_invented_readings_are_explained_by_joints_that_give(capsys):
    code, out, _ = told(capsys, "measured", TOURER, READINGS)
    assert code == 0
    assert "Nothing was fitted" in out
    first = out[out.index("explain it best: - ") :]
    assert "explain it best: - joints that give" in first
    assert "of it; within what is usual" in first[:160]
    assert "No single assumption" not in out
    assert "INVENTED" in Path(READINGS).read_text(encoding="utf-8").splitlines()[0]


def test_several_frames_make_a_correction_that_is_shown_where_it_is_used(capsys, tmp_path):
    def readings(name, sinks):
        path = tmp_path / name
        path.write_text(HEADER + f"bench_head,,21.6 kg,{sinks},0.05,\n", encoding="utf-8")
        return path

    first, second = readings("a.csv", 8.2), readings("b.csv", 8.6)
    kept = tmp_path / "own.csv"
    code, out, _ = told(capsys, "measured", TOURER, first, TOURER, second, "-o", kept)
    assert code == 0
    assert "on 2 frames" in out
    (own,) = read_corrections(kept)
    main(["measured", TOURER, str(first), "--json"])
    row = json.loads(capsys.readouterr().out)["frames"][0]["readings"][0]
    assert own.ratio == pytest.approx(8.4 / row["predicted"], rel=1e-5)
    assert own.spread == pytest.approx(0.4 / 2**0.5 / row["predicted"], rel=1e-5)
    code, out, _ = told(capsys, "measured", TOURER, first, "--workshop", kept)
    assert f"{own.ratio * row['predicted']:.4g}" in out
    assert "Workshop's own, bench_head.weight_sinks: measured is 1.0" in out
    code, _, err = told(capsys, "measured", TOURER, first, "-o", kept)
    assert "exists already" in err


def test_a_reading_far_off_ends_with_1(capsys, tmp_path):
    path = tmp_path / "r.csv"
    path.write_text(HEADER + "bench head,,21.6 kg,30,0.1,\n", encoding="utf-8")
    code, out, _ = told(capsys, "measured", TOURER, path)
    assert code == 1
    assert "1 of 1 readings are more than twice both doubts" in out


def test_units_and_loads_of_readings(tmp_path):
    path = tmp_path / "r.csv"
    rows = [
        "side push,head sideways,20 kg,10.5 mm,0.1 mm,",
        'frame torsion,,"50 N·m","1,5 deg",0.02,',
        "weight,frame,,1.6 kg,0.005 kg,",
        "Tap Frame+Fork,2,,95 Hz,0.5 Hz,",
    ]
    path.write_text(HEADER + "\n".join(rows) + "\n", encoding="utf-8")
    readings, _ = read_readings(path)
    assert [one.load for one in readings] == [pytest.approx(196.2), 50000.0, None, None]
    assert [one.value for one in readings] == [10.5, 1.5, 1600.0, 95.0]
    assert [one.rig for one in readings] == ["side_push", "frame_torsion", "", "tap frame+fork"]
    assert readings[2].doubt == pytest.approx(5.0)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("side_push,,200 lbf,1,0.1,", "is no load; give N, kg or N·m"),
        ("side_push,,200 N,1 Hz,0.1,", "a deflection is read in mm"),
        ("side_push,,200 N,26.2 N/mm,0.1,", "the movement itself, no stiffness"),
        ("side_push,,200 N,0.8 cm,0.1,", "a deflection is read in mm"),
        ("side_push,,200 N,10,5%,", "a deflection is read in mm"),
        ("side_push,,200 N,10,80,", "the doubt is 80 of a reading of 10"),
        ("side_push,,200 N,10,1e-300,", "the doubt is 1e-300 of a reading of 10"),
        ("weight,frame,,1.561,8,", "the doubt is 8 of a reading of 1.561"),
        ("side_push,,200 N,abc,0.1,", "abc"),
        ("side_push,,200 N,1,,", "doubt"),
        ("side_push,,200 N,1,0,", "say how far it may be off"),
        ("tap,1,,90,1,", "say what hung on the strings"),
        ("tap frame,,,90,1,", "say which mode"),
        ("weight,,,90,1,", "say which mode .* or which tube"),
        ("weight,frame,5 N,90,1,", "a weight has no load"),
    ],
)
def test_rows_that_cannot_be_read_name_file_and_row(tmp_path, row, words):
    path = tmp_path / "r.csv"
    path.write_text(HEADER + row + "\n", encoding="utf-8")
    with pytest.raises(InputError, match=words) as refused:
        read_readings(path)
    assert "r.csv, row 2" in str(refused.value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("rig,where\n", "the header was not recognised; it is: rig, where, load"),
        (HEADER, "it holds no reading"),
    ],
)
def test_files_that_hold_no_readings(tmp_path, text, words):
    path = tmp_path / "r.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=words):
        read_readings(path)


def test_a_correction_that_says_nothing_is_refused(tmp_path):
    path = tmp_path / "own.csv"
    head = "what,frames,measured over predicted,spread\n"
    for row, words in (
        ("a,2,x,0.1", "no number"),
        ("a,0,1.0,0.1", "at least one frame"),
        ("a,1e999,1,", "at least one frame"),
    ):
        path.write_text(head + row + "\n", encoding="utf-8")
        with pytest.raises(InputError, match=words):
            read_corrections(path)


def test_a_sheet_without_readings_is_wrong_usage(capsys):
    code, _, err = told(capsys, "measured", TOURER)
    assert code == 2
    assert "give a sheet and its readings" in err


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("side push,head sideways,200 N·m,11.31 mm,0.06,", "a force in N or kg"),
        ("side push,head sideways,200 N,11.31 deg,0.06,", "is read in mm, not in deg"),
        ("frame torsion,frame twist,100 N,1.533,0.01,", "a turn in N·m"),
        ("frame torsion,frame twist,100,1.533,0.01,", "a turn in N·m"),
        ("frame torsion,frame twist,10 kg,1.533,0.01,", "a turn in N·m"),
        ("frame torsion,frame twist,100 N·m,1.533 mm,0.01,", "is read in deg, not in mm"),
    ],
)
def test_a_unit_that_the_measure_has_not_is_refused_before_it_is_explained(
    capsys, tmp_path, row, words
):
    path = tmp_path / "r.csv"
    path.write_text(HEADER + row + "\n", encoding="utf-8")
    code, out, err = told(capsys, "measured", TOURER, path)
    assert code == 1
    assert out == ""
    assert words in err


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("weight.frame,2.5,1,0", "'2.5' is no count of frames"),
        ("weight.frame,3,1,inf", "'inf' is no spread"),
        ("weight.frame,3,1,-5", "'-5' is no spread"),
    ],
)
def test_a_correction_that_nobody_kept_is_refused(tmp_path, row, words):
    path = tmp_path / "own.csv"
    path.write_text("what,frames,measured over predicted,spread\n" + row + "\n", encoding="utf-8")
    with pytest.raises(InputError, match=words):
        read_corrections(path)


def test_a_rig_of_ones_own_is_described_and_read_against(capsys, tmp_path):
    """The library's side push described anew, with half the push: half of what the library's moves (Hooke)."""
    rig = tmp_path / "rig.toml"
    rig.write_text(
        '[half_push]\ntitle = "Half the push"\nlike = "side_push"\n\n[[half_push.load]]\n'
        'at = "head_tube_top"\nforce = [0, 0, 100]\n\n[[half_push.measure]]\nname = "head"\n'
        'at = "head_tube_top"\nmove = [0, 0, 1]\nreference = 100\n',
        encoding="utf-8",
    )
    readings = tmp_path / "own.csv"
    readings.write_text(
        HEADER + "half push,head,100 N,5.6 mm,0.05,\nside push,head sideways,200 N,11.3,0.05,\n",
        encoding="utf-8",
    )
    _, out, _ = told(capsys, "measured", TOURER, readings, "--cases", rig, "--json")
    own, library = (row["predicted"] for row in json.loads(out)["frames"][0]["readings"])
    assert own == pytest.approx(library / 2, rel=1e-9)
    code, _, err = told(capsys, "measured", TOURER, readings)
    assert code == 2
    assert "half_push" in err
