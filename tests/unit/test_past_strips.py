"""A person's own table of past strips: how it is read, what it becomes, and that nothing is written twice."""

from __future__ import annotations

import json

import pytest

from obverse.cli import main
from obverse.foundation import ConflictError, InputError
from obverse.process import read_past_strips, table_text, what_of
from obverse.process.as_written import celsius, iso_date, minutes, ml_per_l, parts_water, with_doubt
from obverse.process.eye_words import read_words
from obverse.process.past_columns import found_what
from obverse.workbench.past_strips import PastTableGiven, look, take_in

TABLE = """Film;Nr;Date;Dev;Hypo (mL in 500 mL);Ammonia mL/L;Highlights;Blacks;Look;Remarks
Grey base 100;1;5.3.2024;11:30;4;5;murky;deep;;first try
;2;13.3.2024;12,5;2,5;5;a bit murky;a bit thin;slight tint;
Clear 400;3;14.3.2024;9;none;5;clear;thin;a bit dark, weird;
"""


@pytest.mark.parametrize(
    ("text", "unit", "min_"),
    [
        ("11:30", "min", 11.5),
        ("11:30:00", "min", 11.5),
        ("00:11:30", "min", 11.5),
        ("11'30", "min", 11.5),
        ("11'30\"", "min", 11.5),
        ("11,5", "min", 11.5),
        ("11 1/2", "min", 11.5),
        ("11½", "min", 11.5),
        ("11 min 30 s", "min", 11.5),
        ("11m30s", "min", 11.5),
        ("12 min 30", "min", 12.5),
        ("690", "s", 11.5),
        ("690 s", "min", 11.5),
        ("1h", "min", 60),
        ("11:75", "min", None),
        ("long", "min", None),
    ],
)
def test_times(text, unit, min_):
    assert minutes(text, unit) == (None if min_ is None else pytest.approx(min_))


@pytest.mark.parametrize(
    ("text", "in_ml", "percent", "value"),
    [
        ("4 ml in 500 ml", None, False, 8),
        ("4/500", None, False, 8),
        ("8 ml/l", None, False, 8),
        ("4", 500, False, 8),
        ("2,5 cc", 500, False, 5),
        ("0.8", None, True, 8),
        ("0.8%", None, False, 8),
        ("1 tsp in 1 l", None, False, 5),
        ("1+99", None, False, 10),
        ("2,5 ml/0,5 l", None, False, 5),
        ("none", None, False, 0),
        ("0", None, False, 0),
    ],
)
def test_amounts(text, in_ml, percent, value):
    assert ml_per_l(text, in_ml, percent) == pytest.approx(value)


def test_an_amount_in_no_known_bath_is_asked_for():
    assert "how much bath" in ml_per_l("4 ml", None, False)
    assert "is no amount" in ml_per_l("a splash", 500, False)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [("20", "", 20), ("68 f", "", 20), ("68", "F", 20), ("68", "", 20), ("20,5 °c", "", 20.5)],
)
def test_temperatures(text, unit, value):
    assert celsius(text, unit) == pytest.approx(value)


@pytest.mark.parametrize(
    ("text", "parts"), [("1+15", 15), ("1:31", 31), ("15", 15), ("stock", 0), ("1 to 9", 9), ("weak", None)]
)
def test_dilutions(text, parts):
    assert parts_water(text) == parts


@pytest.mark.parametrize(
    ("text", "month_first", "date"),
    [
        ("2024-03-05", False, "2024-03-05"),
        ("5.3.2024", False, "2024-03-05"),
        ("03/05/24", True, "2024-03-05"),
        ("03/05/24", False, "2024-05-03"),
        ("5 Mar 2024", False, "2024-03-05"),
        ("March 5, 2024", False, "2024-03-05"),
        ("Mar 2024", False, "2024-03"),
        ("45356", False, "2024-03-05"),
        ("30.2.2024", False, ""),
        ("soon", False, ""),
    ],
)
def test_dates(text, month_first, date):
    assert iso_date(text, month_first) == date


def test_doubt_is_kept():
    assert with_doubt("~9") == ("9", None, True)
    assert with_doubt("8-10") == ("9", 1.0, True)
    assert with_doubt("8") == ("8", None, False)


@pytest.mark.parametrize(
    ("text", "of", "grades"),
    [
        ("murky", "", {"highlights": "murky"}),
        ("thin", "", {"blacks": "thin"}),
        ("a bit dark", "", {"midtones": "slightly_dark"}),
        ("slight tint", "", {"tint": "slight"}),
        ("no stain", "", {"tint": "none"}),
        ("almost clear", "highlights", {"highlights": "slightly_murky"}),
        ("not murky", "highlights", {"highlights": "clear"}),
        ("grey-ish", "highlights", {"highlights": "slightly_murky"}),
        ("much too dark", "midtones", {"midtones": "dark"}),
        ("rather contrasty", "", {"contrast": "slightly_hard"}),
        ("murky highlights thin blacks", "", {"highlights": "murky", "blacks": "thin"}),
        ("highlights veiled but blacks ok", "", {"highlights": "murky", "blacks": "deep"}),
        ("good", "", {"highlights": "clear", "blacks": "deep", "midtones": "right", "contrast": "right"}),
    ],
)
def test_words_of_the_eye(text, of, grades):
    read = read_words(text, of=of)
    assert {grade.of: grade.grade for grade in read.grades} == grades and not read.left


@pytest.mark.parametrize(
    "text", ["less murky than strip 3", "try more solvent next", "weird", "not dark", "murky, clear whites"]
)
def test_what_says_nothing_sure_is_left(text):
    assert read_words(text).left


def test_faults_are_understood():
    assert read_words("streaky, ghost negative").faults == ("uneven_agitation", "ghost_negative")


def test_the_table_becomes_strips_and_says_what_it_did_not_understand():
    table = read_past_strips(TABLE)
    first, second, third = table.strips
    assert (first.film, first.name, first.made_at) == ("Grey base 100", "strip 1", "2024-03-05")
    assert first.controls == {"first_developer_time_min": 11.5, "solvent_ml_per_l": 8.0, "alkali_ml_per_l": 5.0}
    assert second.film == "Grey base 100" and second.controls["solvent_ml_per_l"] == 5.0
    assert third.controls["solvent_ml_per_l"] == 0.0
    assert [remark.text for remark in third.remarks] == ["a bit dark, weird"]
    assert "weird" in third.note and not third.remarks[0].understood
    assert table.held == {"temperature_c": 20.0, "developer_parts_water": 15.0}


@pytest.mark.parametrize("code", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_any_usual_encoding(code):
    text = TABLE.replace("Grey base", "Grauträger")
    assert table_text(text.encode(code)).lstrip("\ufeff") == text


@pytest.mark.parametrize("mark", ["\t", ",", "|"])
def test_any_usual_sign_between_cells(mark):
    text = TABLE.replace(", weird", "").replace("12,5", "12.5").replace("2,5", "2.5").replace(";", mark)
    if mark == "|":
        text = "\n".join(f"|{line}|" for line in text.splitlines())
    assert [strip.controls for strip in read_past_strips(text).strips] == [
        strip.controls for strip in read_past_strips(TABLE).strips
    ]


def test_a_table_on_its_side_and_one_that_tells_its_sign():
    side = "strip;1;2;3\nfilm;A 100;A 100;A 100\ntime;10;11:30;12\nhypo mL/L;8;8;10\nlook;murky;good;thin\n"
    table = read_past_strips("sep=;\r\n" + side)
    assert [strip.name for strip in table.strips] == ["strip 1", "strip 2", "strip 3"]
    assert [strip.controls["first_developer_time_min"] for strip in table.strips] == [10, 11.5, 12]
    assert {strip.film for strip in table.strips} == {"A 100"}
    assert "on its side" in table.left_out[0].sentence
    assert [remark for remark in read_past_strips("sep=;\n" + TABLE).left_out if "side" in remark.sentence] == []


def test_a_spreadsheet_file_is_told_how_to_come():
    with pytest.raises(InputError, match="save it as CSV"):
        table_text(b"PK\x03\x04 and so on")


@pytest.mark.parametrize("text", ["", "one\ntwo\nthree", '{"format": "obverse-series"}'])
def test_no_table_is_one_sentence(text):
    with pytest.raises(InputError):
        read_past_strips(text)


def test_a_broken_decimal_comma_is_told_not_guessed():
    table = read_past_strips("strip,time,hypo mL/L,blacks\n1,11,5,8,thin\n2,12,8,deep\n")
    assert [strip.name for strip in table.strips] == ["strip 2"]
    assert "decimal comma" in table.left_out[0].sentence


MERGED = """Slides from negatives, log 2025 (tank 500 ml)
\tFirst developer\t\t\t\t\tHighlights\t\t\tBlacks\t\tother\t
film / strip\tdate\ttime\tsyrup 1+\tfix [ml]\tNH3 [ml]\tclear\tmurky\tburnt\tdeep\tthin\tstain\tremarks
Grey 100 / A1\t3.11.\t9 min\t14\t1,5\t5\t\txx\t\tx\t\tno\tbit murky, needs more
Grey 100 / A4\t28.12.\t7 1/2'\t14\t2,5\t5\t\t\tx\t\t(x)\t(x)\t
Ortho 25 / C1\tFr 2.1.\t7 min\t19\t1\t5\tx\t\t\t\tx\tx\tyellowish
"""


def test_a_spreadsheet_with_merged_heads_crosses_and_days_without_a_year():
    table = read_past_strips(MERGED)
    told = [(s.film, s.name, s.made_at, {g.of: g.grade for g in s.grades}) for s in table.strips]
    assert told == [
        ("Grey 100", "A1", "2025-11-03", {"highlights": "murky", "blacks": "deep"}),
        ("Grey 100", "A4", "2025-12-28", {"highlights": "clear", "blacks": "slightly_thin", "tint": "slight"}),
        ("Ortho 25", "C1", "2026-01-02", {"highlights": "clear", "blacks": "thin", "tint": "strong"}),
    ]
    assert table.strips[1].controls["first_developer_time_min"] == 7.5
    assert table.strips[2].controls["developer_parts_water"] == 19
    assert not [r for s in table.strips for r in s.remarks if not r.understood]


def test_films_head_their_rows_and_a_cell_of_two_densities_is_two():
    text = "No.;When;FD (min:s);Hypo (ml in 600);Dmax / Dmin;What I think\n#Panchro 200;;;;;\n1;3.11.;12;1,2;2,6 / 0,5;soup\n"
    (strip,) = read_past_strips(text).strips
    assert (strip.film, strip.name, strip.made_at) == ("Panchro 200", "strip 1", "")
    assert strip.controls["first_developer_time_min"] == 12 and "When: 3.11." in strip.note
    assert [(p.log_exposure, p.density) for p in strip.steps] == [(-4.0, 2.6), (4.0, 0.5)]
    assert [(g.of, g.grade) for g in strip.grades] == [("highlights", "murky")]


def test_the_same_row_twice_counts_once():
    table = read_past_strips(TABLE + "Clear 400;3;14.3.2024;9;none;5;clear;thin;a bit dark, weird;\n")
    assert len(table.strips) == 3 and "counted once" in table.left_out[0].sentence


def test_readings_stand_under_their_exposures():
    table = read_past_strips("strip\tmin\tdmax\tdmin\t-1\t0\n1\t10\t2.1\t,35\t1.9\t1,1\n2\t12\t2.0\t.30\t1.7\t.9\n")
    assert [(patch.log_exposure, patch.density) for patch in table.strips[0].steps] == [
        (-4.0, 2.1),
        (-0.301, 1.9),
        (0.0, 1.1),
        (4.0, 0.35),
    ]


def test_marks_are_no_densities():
    table = read_past_strips("strip;min;blacks (1-5)\n1;10;3\n2;11;4\n")
    assert not any(strip.steps for strip in table.strips)
    assert "mark" in table.strips[0].remarks[0].sentence


def test_columns_are_matched_by_hand_and_cells_corrected():
    text = "no;how long;gloop;view\n1;ten;8;murky\n2;12;10;clear\n"
    match = {"how long": "time", "#3": "solvent", "view": "seen"}
    table = read_past_strips(text, match=match, corrections={(2, 1): "10"}, film="X")
    assert [strip.controls["first_developer_time_min"] for strip in table.strips] == [10, 12]
    assert [strip.film for strip in table.strips] == ["X", "X"]
    with pytest.raises(InputError, match="no column"):
        read_past_strips(text, match={"colour": "tint"})
    with pytest.raises(InputError, match="can be"):
        what_of("sauce")
    assert what_of("density:+1") == "density:1"


@pytest.mark.parametrize(
    ("head", "what"),
    [
        ("Film used", "film"),
        ("Test strip", "name"),
        ("1st dev (min)", "first_developer_time_min"),
        ("Temps", "first_developer_time_min"),
        ("Temp.", "temperature_c"),
        ("Fix conc mL/L", "solvent_ml_per_l"),
        ("NH3 mL/L", "alkali_ml_per_l"),
        ("Verd\u00fcnnung", "developer_parts_water"),
        ("Verdict", "seen"),
        ("how it looked", "seen"),
        ("+1 stop", "density:1"),
        ("\u22122", "density:-2"),
        ("Bleach time", "note"),
        ("sauce", ""),
    ],
)
def test_heads_in_usual_speech(head, what):
    assert found_what(head) == what


# In the notebook


def test_looking_writes_nothing_and_taking_in_twice_writes_once(workbench):
    notebook = workbench.notebook
    given = PastTableGiven(text=TABLE)
    seen = look(notebook, given).document()
    assert (seen["new"], seen["known"], seen["not_understood"]) == (3, 0, 1)
    assert not notebook.films()
    done = take_in(notebook, given.model_copy(update={"seen": seen["mark"]}))
    assert done.written == 3 and len(done.films) == 2
    again = take_in(notebook, given.model_copy(update={"seen": seen["mark"]}))
    assert (again.written, again.known) == (0, 3)
    films = {kept.thing.name: kept for kept in notebook.films()}
    assert set(films) == {"Grey base 100", "Clear 400"} and films["Clear 400"].thing.box_speed == 400
    kept = notebook.trials(films["Grey base 100"].id)
    assert [one.thing.made_at for one in kept] == ["2024-03-05", "2024-03-13"]
    assert {grade.of: grade.grade for grade in kept[1].thing.trial.grades} == {
        "highlights": "slightly_murky",
        "blacks": "slightly_thin",
        "tint": "slight",
    }


def test_a_table_that_grew_adds_what_is_new(workbench):
    take_in(workbench.notebook, PastTableGiven(text=TABLE))
    grown = look(
        workbench.notebook, PastTableGiven(text=TABLE + "Clear 400;4;15.3.2024;10;2;5;clear;deep;;\n")
    ).document()
    assert (grown["new"], grown["known"]) == (1, 3)


def test_a_strip_of_the_same_name_waits_for_a_word(workbench):
    notebook = workbench.notebook
    take_in(notebook, PastTableGiven(text=TABLE))
    changed = TABLE.replace("9;none", "10;none")
    seen = look(notebook, PastTableGiven(text=changed)).document()
    assert (seen["new"], seen["waiting"]) == (0, 1)
    take_in(notebook, PastTableGiven(text=changed, as_correction=(4,)))
    film = next(kept for kept in notebook.films() if kept.thing.name == "Clear 400")
    (strip,) = notebook.trials(film.id)
    assert strip.thing.trial.controls["first_developer_time_min"] == 10 and strip.revision == 2
    take_in(notebook, PastTableGiven(text=TABLE, as_another=(4,)))
    assert [one.thing.trial.id for one in notebook.trials(film.id)] == ["strip 3", "strip 3 (2)"]
    assert look(notebook, PastTableGiven(text=TABLE)).document()["known"] == 3


def test_rows_without_names_are_known_again(workbench):
    text = "film;time;hypo mL/L;look\nA 100;10;8;murky\nA 100;12;8;thin\n"
    assert take_in(workbench.notebook, PastTableGiven(text=text)).written == 2
    assert take_in(workbench.notebook, PastTableGiven(text=text)).written == 0


def test_what_changed_meanwhile_is_looked_at_again(workbench):
    given = PastTableGiven(text=TABLE)
    mark = look(workbench.notebook, given).document()["mark"]
    workbench.notebook.add_film({"name": "Clear 400", "box_speed": 320})
    with pytest.raises(ConflictError, match="changed since"):
        take_in(workbench.notebook, given.model_copy(update={"seen": mark}))


def test_millilitres_in_no_bath_are_asked_for_before_anything_is_written(workbench):
    given = PastTableGiven(text="film;time;hypo mL;look\nA 100;10;4;murky\nA 100;12;5;thin\n")
    assert look(workbench.notebook, given).document()["needs_tank"]
    with pytest.raises(InputError, match="how much bath"):
        take_in(workbench.notebook, given)
    take_in(workbench.notebook, given.model_copy(update={"tank_ml": 500}))
    (film,) = workbench.notebook.films()
    assert [one.thing.trial.controls["solvent_ml_per_l"] for one in workbench.notebook.trials(film.id)] == [8, 10]


def test_a_film_of_the_notebook_is_found_however_it_is_written(workbench):
    kept = workbench.notebook.add_film({"name": "grey-base 100", "box_speed": 100})
    seen = look(workbench.notebook, PastTableGiven(text=TABLE)).document()
    assert [film["id"] for film in seen["films"]] == [kept.id, ""]
    renamed = look(workbench.notebook, PastTableGiven(text=TABLE, films={"Clear 400": "grey-base 100"})).document()
    assert [film["strips"] for film in renamed["films"]] == [3]


def test_pages_and_requests(client):
    assert "Past strips" in client.get("/notebook/past-strips").text
    seen = client.post("/api/notebook/past-strips/look", json={"text": TABLE}, headers={"Idempotency-Key": "a"}).json()
    assert seen["new"] == 3
    body = {"text": TABLE, "seen": seen["mark"]}
    first = client.post("/api/notebook/past-strips", json=body, headers={"Idempotency-Key": "b"}).json()
    # The answer was lost and the same press came again.
    assert client.post("/api/notebook/past-strips", json=body, headers={"Idempotency-Key": "b"}).json() == first
    assert first["written"] == 3
    assert client.post("/api/notebook/past-strips", json=body).json()["written"] == 0
    told = client.post("/api/notebook/past-strips/text", json={"name": "t", "base64": "!"})
    assert told.status_code == 422 and "arrive" in told.text


def test_the_command(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path / "home"))
    file = tmp_path / "strips.csv"
    file.write_text(TABLE.replace("Hypo (mL in 500 mL)", "gloop"))

    def run(*arguments: str) -> tuple[int, str]:
        try:
            code = main(["trials", str(file), *arguments]) or 0
        except SystemExit as stop:
            code = stop.code or 0
        out = capsys.readouterr()
        return code, out.out + out.err

    code, told = run("--match", "gloop=solvent", "--tank-ml", "500", "--dry-run")
    assert code == 0 and "Nothing was written" in told and "weird" in told
    code, told = run("--match", "gloop=solvent", "--tank-ml", "500", "--json")
    assert code == 0 and json.loads(told)["done"]["written"] == 3
    code, told = run("--match", "gloop=solvent", "--tank-ml", "500", "--json")
    assert code == 0 and json.loads(told)["done"]["written"] == 0
    code, told = run("--match", "gloop=sauce")
    assert code == 2 and "can be" in told


def test_a_strip_is_judged_on_the_command_line(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path / "home"))
    file = tmp_path / "strips.csv"
    file.write_text(TABLE)

    def run(*arguments: str) -> tuple[int, str]:
        try:
            code = main(list(arguments)) or 0
        except SystemExit as stop:
            code = stop.code or 0
        out = capsys.readouterr()
        return code, out.out + out.err

    assert run("trials", str(file))[0] == 0
    code, told = run("trial", "Clear 400", "solvent_ml_per_l=2", "--look", "a bit dark, slight tint", "--json")
    assert code == 0
    assert json.loads(told)["grades"] == [
        {"of": "midtones", "grade": "slightly_dark"},
        {"of": "tint", "grade": "slight"},
    ]
    code, told = run("trial", "Clear 400", "solvent_ml_per_l=2", "--look", "sparkly")
    assert code == 2 and "'sparkly' is no word known here" in told and "slightly murky" in told


def test_a_control_that_was_not_told_may_be_remembered_later(workbench):
    notebook = workbench.notebook
    take_in(notebook, PastTableGiven(text="film;time;hypo mL/L;look\nA 100;?;8;murky\n"))
    (film,) = notebook.films()
    (strip,) = notebook.trials(film.id)
    assert "first_developer_time_min" not in strip.thing.trial.controls
    assert strip.thing.trial.control_sds["first_developer_time_min"] > 2
    changed = notebook.change_trial(strip.id, {"controls": {"first_developer_time_min": 12.0, "solvent_ml_per_l": 8.0}})
    assert changed.thing.trial.control_sds == {}
    kept = notebook.change_trial(strip.id, {"note": "remembered"})
    assert kept.thing.trial.controls["first_developer_time_min"] == 12


@pytest.mark.parametrize(
    "said",
    [
        {"held": {"temperature_c": -5000.0}},
        {"held": {"magic": 1.0}},
        {"held": {"developer_parts_water": -1.0}},
        {"speeds": {"Clear 400": -3.0}},
        {"speeds": {"Clear 400": 1e9}},
        {"match": {"#99": "solvent"}},
        {"match": {"Look": "sauce"}},
        {"corrections": {"two:three": "x"}},
        {"corrections": {"4:3": "9" * 400}},
        {"corrections": {"4:999999": "x"}},
        {"films": {"Clear 400": "x" * 500}},
        {"tank_ml": -1},
        {"text": "x" * 2_000_001},
    ],
)
def test_whatever_is_said_of_a_table_is_taken_or_told_in_one_sentence(client, workbench, said):
    answer = client.post("/api/notebook/past-strips", json={"text": TABLE, **said})
    assert answer.status_code in (200, 413, 422), answer.text
    if answer.status_code != 200:
        assert answer.json()["detail"].endswith(".")
        assert not workbench.notebook.films()


@pytest.mark.parametrize(
    ("look_of_it", "why"), [("thin blacks and deep", "speaks against"), ("sparkly", "no word known")]
)
def test_a_known_word_that_contradicts_is_not_called_unknown(look_of_it, why):
    table = read_past_strips(TABLE.replace("slight tint", look_of_it))
    told = [
        remark.sentence for strip in table.strips for remark in strip.remarks if "stands in the note" in remark.sentence
    ]
    assert any(why in sentence for sentence in told), told
