"""Two names are two things, whatever they are written in; and what is counted is said in its number."""

import pytest

from obverse.cli.main import run
from obverse.workbench import words

ODD = "\N{HEBREW LETTER SAMEKH}\N{HEBREW LETTER RESH}", "\N{HEBREW LETTER SHIN}\N{HEBREW LETTER HET}"
PAIRS = (
    ODD,
    (f"{ODD[0]} 2", f"{ODD[1]} 2"),
    ("Gr\u00fcn", "Gr\u00f6n"),
    ("\N{FIRE}", "\N{DROPLET}"),
    ("w" * 60 + "a", "w" * 60 + "b"),
)
FORMULA = {"key": "", "role": "stop", "substance": "citric_acid", "concentration": "20 g/L"}


@pytest.mark.parametrize("pair", PAIRS)
@pytest.mark.parametrize("joint", ["-", "_"])
def test_two_names_make_two_ids(pair, joint):
    one, other = (words.id_from(name, most=60, joint=joint, otherwise="own") for name in pair)
    assert one != other
    assert all(0 < len(id) <= 60 and id.isascii() and id[0].isalnum() for id in (one, other))


def test_a_name_of_letters_and_figures_is_its_own_id():
    assert words.id_from("Grey base, 2", most=60) == "grey-base-2"
    assert words.id_from("?!", most=60, otherwise="own") == "own"


def formula(client, name):
    return client.post(
        "/bench/formula", data={**FORMULA, "name": name}, headers={"accept": "text/html"}, follow_redirects=False
    )


@pytest.mark.parametrize("pair", PAIRS)
def test_a_formula_does_not_take_the_place_of_another(client, workbench, pair):
    assert [formula(client, name).status_code for name in pair] == [303, 303]
    assert {one.name for one in workbench.bench.own_formulas().values()} == set(pair)


def test_a_new_formula_of_a_name_that_stands_is_refused_as_it_was_typed(client, workbench):
    assert formula(client, "400").status_code == 303
    again = client.post(
        "/bench/formula",
        data={**FORMULA, "name": "400", "concentration": "30 g/L", "stood_on": "/bench/formula"},
        headers={"accept": "text/html"},
        follow_redirects=False,
    )
    assert again.status_code == 422
    assert "stands already" in again.text and 'value="30 g/L"' in again.text
    assert [one.components[0].concentration for one in workbench.bench.own_formulas().values()] == ["20 g/L"]


def test_a_process_may_be_called_in_any_letters_and_one_step_is_one(client):
    begun = client.post("/bench/processes", data={"name": ODD[0], "source": ""}, follow_redirects=False)
    assert begun.status_code == 303
    page = client.get("/bench/processes").text
    assert ODD[0] in page and "1 step</span>" in " ".join(page.split())


def test_one_frame_is_one(client):
    client.post("/projector/slides/roll", data={"roll": "r", "frames": "1", "recipe": "", "film": ""})
    page = client.get("/projector/slides").text
    assert "1 frame," in " ".join(page.split()) and "1 frames" not in page


def test_a_person_may_have_signs_that_join_pictures_or_turn_the_reading(workbench):
    kept = workbench.people.add("\N{WOMAN}\N{ZERO WIDTH JOINER}\N{MICROSCOPE} Ada\N{RIGHT-TO-LEFT MARK}")
    assert kept.thing.name == "\N{WOMAN}\N{MICROSCOPE} Ada"


def test_a_name_that_turns_the_reading_stands_on_no_page_reversed(client, workbench):
    workbench.shelf.add_bottle({"name": "rexif\N{RIGHT-TO-LEFT OVERRIDE}fix", "product": "fixer_ats_60wv"})
    page = client.get("/shelf").text
    assert "rexiffix" in page and "\N{RIGHT-TO-LEFT OVERRIDE}" not in page


def test_marks_that_turn_the_reading_are_taken_out_of_what_is_typed_and_that_is_told(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path))
    typed = "My\N{RIGHT-TO-LEFT OVERRIDE} way"
    assert run(["process", "new", typed]) == 0
    told = capsys.readouterr()
    assert told.out == "my_way\n" and "Marks that turn the way of reading were taken out of name." in told.err
    file = tmp_path / f"{typed}.csv"
    file.write_text("log_exposure,density\n0,1\n")
    assert run(["list", str(file)]) == 0 and "Marks" not in capsys.readouterr().err
