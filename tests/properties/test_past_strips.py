"""Whatever stands in a table: it is read, or told in one sentence what is wrong; nothing of it is lost."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from obverse.foundation import InputError
from obverse.process import Trial, read_past_strips, table_text
from obverse.process.eye_words import read_words
from obverse.process.past_strips import MOST_NOTE

CELLS = st.one_of(
    st.sampled_from(
        [
            "",
            '"',
            "8",
            "8,5",
            "11:30",
            "4 ml in 500",
            "murky",
            "a bit thin",
            "?",
            "-",
            "68 F",
            "1+15",
            "good",
            "5.3.2024",
        ]
        + [
            "½",
            "~9",
            "8-10",
            "1e9",
            "-3",
            "nan",
            "none",
            "0.5 l",
            "thin\nand dark",
            "=A1+2",
            "<script>",
            "999999999999",
        ]
    ),
    st.text(max_size=12),
)
HEADS = st.sampled_from(
    [
        "film",
        "strip",
        "date",
        "time",
        "hypo mL in 500 mL",
        "hypo mL",
        "NH3",
        "temp",
        "dil",
        "blacks",
        "whites",
        "look",
        "notes",
        "+1",
        "x",
    ]
)


@st.composite
def tables(draw) -> str:
    heads = draw(st.lists(HEADS, min_size=2, max_size=9))
    mark = draw(st.sampled_from("\t;,|"))
    rows = draw(st.lists(st.lists(CELLS, max_size=11), max_size=6))
    return "\n".join(mark.join(row) for row in [heads, *rows])


@settings(max_examples=60, deadline=None)
@given(tables())
def test_a_table_becomes_strips_or_one_sentence(text):
    try:
        table = read_past_strips(text, tank_ml=500)
    except InputError as error:
        assert str(error).endswith(".") and "\n" not in str(error)
        return
    for strip in table.strips:
        # Whatever was read may be written down.
        Trial(
            id=strip.name or "x",
            controls=strip.controls,
            control_sds=strip.control_sds,
            steps=strip.steps,
            grades=strip.grades,
            faults=strip.faults,
            note=strip.note,
        )
        assert len(strip.note) <= MOST_NOTE
        for remark in strip.remarks:
            what = table.columns[remark.place].what
            # What was not understood of what was seen stands in the note as it was written.
            if (
                not remark.understood
                and what in ("blacks", "highlights", "seen")
                and "elsewhere" not in remark.sentence
            ):
                assert remark.text in strip.note


@settings(max_examples=50, deadline=None)
@given(st.binary(max_size=400))
def test_any_bytes_are_text_or_one_sentence(data):
    try:
        table_text(data).encode("utf-8", "replace")
    except InputError as error:
        assert str(error).endswith(".")


@settings(max_examples=60, deadline=None)
@given(st.text(alphabet="abcdefgh ,;-'üé!?.&/", max_size=60))
def test_words_give_each_thing_one_grade(text):
    read = read_words(text)
    assert len({grade.of for grade in read.grades}) == len(read.grades)


HEADED = """My strips. fixer = 1+3 working solution, ammonia 10 %; dil 1:5 means 1+4; all at 68 F
film,time,fixer (ml/L),ammonia (ml/L),dil,result
grey,11,8,4,1:5,good
"cine 250, 24 C, 1+6",,,,,
,9,8,4,,murky
,9,8,4,1 in 8,murky
"""


def test_a_title_and_a_heading_carry_what_the_rows_leave_out():
    table = read_past_strips(HEADED)
    done = [(strip.film, *strip.controls.values()) for strip in table.strips]
    # Time; a quarter of 8 mL; twice 4 mL of 5 %; then dilution and temperature in the order they were found.
    assert done == [("grey", 11, 2, 8, 4, 20), ("cine 250", 9, 2, 8, 6, 24), ("cine 250", 9, 2, 8, 7, 24)]
    assert [c.factor for c in table.columns] == [1, 1, 0.25, 2, 1, 1]
    told = " ".join(one.sentence for one in table.left_out)
    assert "-1 parts of water" in told and "the title says temperature" in told and "dilution 1 + 6" in told
    plain = read_past_strips(HEADED.partition("\n")[2])
    assert plain.strips[0].controls["solvent_ml_per_l"] == 8 and plain.strips[0].controls["developer_parts_water"] == 5
