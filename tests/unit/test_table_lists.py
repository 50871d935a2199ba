"""Lists of readings: what is read, what is refused in one sentence, and what comes back after writing."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from obverse.foundation import InputError
from obverse.sensitometry import ReadingList, read_frames, read_list, shot_list, write_cgats, write_csv

GOOD = "log_exposure,density,sd\n-0.3,1.5,0.02\n0,1.0,\n0.3,0.6,0.03\n"
CGATS = """CGATS.17
ORIGINATOR "a densitometer"
KEYWORD "LOG_EXPOSURE"
NUMBER_OF_FIELDS 3
BEGIN_DATA_FORMAT
SAMPLE_ID LOG_EXPOSURE D_VIS   # density, visual
END_DATA_FORMAT
NUMBER_OF_SETS 2
BEGIN_DATA
"patch 1" -0.30 1.50
"patch 2" 0.00 1.00
END_DATA
"""


def test_a_good_list():
    readings = read_list(GOOD)
    assert ((-0.3, 0.0, 0.3), (1.5, 1.0, 0.6), (0.02, None, 0.03)) == (
        readings.log_exposure,
        readings.density,
        readings.density_sd,
    )
    assert math.isnan(readings.sds()[1])


@pytest.mark.parametrize(
    "text",
    [
        "density,log_exposure\n1.5,-0.3\n1.0,0\n",
        "\ufeffLog Exposure;Density\r\n-0,3;1,5\r\n0;1,0\r\n",
        "# strip 4\nlog-exposure\tD\n-0.3\t1.5\n\n0\t1.0\n",
        "patch,log_h,density\none,-0.3,1.5\ntwo,0,1.0\n",
    ],
)
def test_the_same_readings_in_other_clothes(text):
    readings = read_list(text)
    assert ((-0.3, 0.0), (1.5, 1.0)) == (readings.log_exposure, readings.density)


def test_cgats_is_read():
    readings = read_list(CGATS)
    assert ((-0.3, 0.0), (1.5, 1.0)) == (readings.log_exposure, readings.density)
    assert "a densitometer" == readings.keywords["ORIGINATOR"]


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("", "empty"),
        ("   \n\n", "empty"),
        ("-0.3\n0\n", "not the names of columns"),
        ("log_exposure,sd\n0,1\n", "density is missing"),
        ("log_exposure,density,d\n0,1,1\n", "twice"),
        ("log_exposure,density\n", "no reading"),
        ("log_exposure,density\n0,1\n0.3\n", "line 3: 1 values"),
        ("log_exposure,density\n0,3,1,5\n", "4 values"),
        ("log_exposure,density\n0,dark\n", "'dark' is not a number"),
        ("log_exposure,density\n0,\n", "nothing stands there"),
        ("log_exposure,density\n0,nan\n", "nan is not a reading"),
        ("log_exposure,density\n0,inf\n", "inf is not a reading"),
        ("log_exposure,density\n0,3e9\n", "lies outside"),
        ("log_exposure,density,sd\n0,1,0\n", "perfect certainty"),
        ("log_exposure,density,sd\n0,1,-0.1\n", "lies outside"),
        ("hello", "not the names of columns"),
        ("log_exposure,density\n0,\0\n", "not text"),
        ("log_exposure,density\n" + "0,1\n" * 20_001, "20001 readings"),
        (CGATS.replace("END_DATA\n", "", 2).rsplit("END_DATA", 1)[0], "cut short"),
        (CGATS.replace("NUMBER_OF_SETS 2", "NUMBER_OF_SETS 3"), "declares 3 sets and holds 2"),
        (CGATS.replace("D_VIS", "D_RED"), "density is missing"),
        (CGATS.replace("1.50", ""), "2 values stand under 3 fields"),
        (CGATS.replace("1.50", "wet"), "'wet' is not a number"),
    ],
)
def test_each_fault_is_one_sentence_with_its_place(text, part):
    with pytest.raises(InputError) as caught:
        read_list(text, where="strip.csv")
    assert part in caught.value.sentence
    assert caught.value.sentence.startswith("strip.csv")
    assert "\n" not in caught.value.sentence


readings = st.lists(
    st.tuples(
        st.floats(-10, 10, allow_nan=False),
        st.floats(-0.5, 6, allow_nan=False),
        st.none() | st.floats(1e-6, 3, allow_nan=False),
    ),
    min_size=1,
    max_size=30,
)


@given(readings, st.text(max_size=40))
def test_what_is_written_reads_back_to_the_same_readings(rows, descriptor):
    given_list = ReadingList(*(tuple(column) for column in zip(*rows, strict=True)), {})
    for text in (write_csv(given_list), write_cgats(given_list, created="2031-11-05T19:00:00Z", descriptor=descriptor)):
        back = read_list(text)
        assert (given_list.log_exposure, given_list.density, given_list.density_sd) == (
            back.log_exposure,
            back.density,
            back.density_sd,
        )


@given(st.text(max_size=300))
def test_no_text_brings_the_reader_down(text):
    try:
        read_list(text)
    except InputError as error:
        assert "\n" not in error.sentence


def test_a_shot_list_is_a_wedge():
    shots = shot_list(-5, 5, 1, metered_shutter_s=1 / 60)
    assert 11 == len(shots)
    assert (-5, 0, 5) == (shots[0].stops, shots[5].stops, shots[10].stops)
    assert 5 * math.log10(2) == pytest.approx(shots[10].log_exposure)
    assert 32 / 60 == pytest.approx(shots[10].shutter_s)
    x, d = read_frames(shots, [2.0] * 10, skipped={3})
    assert (10, 10) == (x.size, d.size)
    assert -0.6021 == pytest.approx(x[2], abs=1e-4), "frame 4 follows frame 2"


@pytest.mark.parametrize("wrong", [(3, -3, 1), (-5, 5, 0), (-5, 5, 20), (-50, 5, 1), (-5, math.nan, 1)])
def test_a_shot_list_that_cannot_be_is_refused(wrong):
    with pytest.raises(InputError):
        shot_list(*wrong)


def test_frames_and_densities_must_count_alike():
    with pytest.raises(InputError, match="10 densities for 11 frames"):
        read_frames(shot_list(), [1.0] * 10)


def test_columns_without_names_are_taken_in_the_usual_order():
    named = read_list("log_exposure,density,sd\n-0.3,1.5,0.02\n0,1.0,\n")
    assert named == read_list("-0.3,1.5,0.02\n0,1.0,\n")


def test_a_shutter_time_may_be_a_fraction_of_a_second():
    assert (0.004, 0.5, 2.0) == read_list("1/250,2.4\n1/2,1.0\n2,0.1\n").log_exposure
