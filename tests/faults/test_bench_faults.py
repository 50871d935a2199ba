"""Bad input to the bench's commands: one sentence, the right exit code, never a traceback."""

import json

import pytest

from obverse.cli.main import run

GOOD = {"name": "a bath", "role": "bleach", "components": [{"substance": "ammonia", "concentration": "5 g/L"}]}


@pytest.fixture
def say(tmp_path, monkeypatch, capsys):
    """Run a command in an empty home; gives exit code, stdout, stderr."""
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path / "home"))

    def call(*arguments):
        code = run([str(a) for a in arguments])
        out = capsys.readouterr()
        return code, out.out, out.err

    return call


def file_of(tmp_path, document, name="f.json"):
    path = tmp_path / name
    path.write_text(document if isinstance(document, str) else json.dumps(document))
    return path


def one_sentence(err):
    return err.endswith(".\n") and err.count("\n") == 1 and "Traceback" not in err


def test_a_good_formula_file_mixes(say, tmp_path):
    code, out, _ = say("mix", file_of(tmp_path, GOOD), "--volume-ml", 500, "--json")
    assert code == 0
    sheet = json.loads(out)
    assert sheet["made"][0]["target_g_per_l"] == 5
    assert sheet["shelf"] == "generic products"
    assert not (tmp_path / "home").exists()


def test_a_shelf_file_decides(say, tmp_path):
    shelf = {
        "products": [
            {
                "key": "mine",
                "name": "my ammonia",
                "form": "liquid",
                "contents": [{"substance": "ammonia", "strength": "9.5 % w/w"}],
            },
            "peroxide_6",
        ],
        "tools": [{"key": "c", "name": "cylinder", "kind": "cylinder", "graduation": 1, "capacity": 100}],
    }
    code, out, _ = say(
        "mix", file_of(tmp_path, GOOD), "--volume-ml", 500, "--shelf", file_of(tmp_path, shelf, "s.json"), "--json"
    )
    assert code == 0
    line = next(x for x in json.loads(out)["lines"] if x["kind"] == "product")
    assert line["product"] == "mine"
    assert line["amount"] == round(line["raw_amount"])


def test_a_bare_list_of_products_is_a_shelf(say, tmp_path):
    code, out, _ = say(
        "mix",
        file_of(tmp_path, GOOD),
        "--volume-ml",
        500,
        "--shelf",
        file_of(tmp_path, ["ammonia_25"], "s.json"),
        "--json",
    )
    assert code == 0
    assert [line["product"] for line in json.loads(out)["lines"] if line["kind"] == "product"] == ["ammonia_25"]


@pytest.mark.parametrize("kind", ["formula", "product", "shelf", "bath"])
def test_the_shape_of_every_document_can_be_asked_for(say, kind):
    code, out, _ = say("schema", kind)
    assert code == 0 and json.loads(out)["type"] == "object"


def test_choice_and_control_by_option(say):
    code, out, _ = say(
        "mix",
        "first_developer",
        "--volume-ml",
        500,
        "--json",
        "--choose",
        "ammonia=ammonia_25",
        "--control",
        "solvent_ml_per_l=20",
    )
    assert code == 0
    sheet = json.loads(out)
    assert sheet["made"][0]["target_g_per_l"] == pytest.approx(12)
    assert any(line["product"] == "ammonia_25" for line in sheet["lines"])


@pytest.mark.parametrize(
    ("document", "words"),
    [
        ("{not json", "not JSON"),
        ("[1, 2", "it breaks off before its end"),
        ('{"name": NaN}', "NaN"),
        ([], "an object with named fields"),
        ({**GOOD, "components": []}, "at least one component"),
        ({**GOOD, "components": [{"substance": "ammonia", "concentration": "105 % w/w"}]}, "more than can be"),
        ({**GOOD, "components": [{"substance": "ammonia", "concentration": "5 %"}]}, "per weight or per volume"),
        ({**GOOD, "components": [{"substance": "unobtainium", "concentration": "5 g/L"}]}, "not known"),
        (
            {**GOOD, "components": [{"substance": "potassium_permanganate", "concentration": "90 g/L"}]},
            "will not dissolve",
        ),
        ({**GOOD, "components": [{"substance": "ammonia", "concentration": "300 g/L"}]}, "does not fit"),
        ({**GOOD, "role": "potion"}, "role"),
        ({**GOOD, "colour": "blue"}, "colour"),
        ({**GOOD, "format": "obverse-route"}, "format"),
        ({**GOOD, "version": 7}, "version"),
    ],
)
def test_bad_formulas(say, tmp_path, document, words):
    code, out, err = say("mix", file_of(tmp_path, document), "--volume-ml", 500)
    assert (code, out) == (2, "")
    assert one_sentence(err) and words in err


@pytest.mark.parametrize("volume", ["-5", "0", "nan", "inf", "1e12", "much"])
def test_bad_volumes(say, volume):
    code, _, err = say("mix", "ammonia_bath", "--volume-ml", volume)
    assert code == 2
    assert "Traceback" not in err and err.strip()


@pytest.mark.parametrize(
    "options",
    [
        ("--choose", "ammonia"),
        ("--choose", "ammonia=vinegar_5"),
        ("--control", "solvent_ml_per_l=much"),
        ("--control", "solvent_ml_per_l=-1"),
        ("--control", "alkali_ml_per_l=nan"),
        ("--shelf", "nowhere.json"),
    ],
)
def test_bad_options(say, options):
    code, _, err = say("mix", "first_developer", "--volume-ml", 500, *options)
    assert code == 2 and one_sentence(err)


@pytest.mark.parametrize(
    "shelf",
    [
        {"products": []},
        {"products": ["unheard"]},
        {"products": ["vinegar_5", "vinegar_5"]},
        {
            "products": [
                {
                    "key": "x",
                    "name": "x",
                    "form": "liquid",
                    "contents": [{"substance": "ammonia", "strength": "-5 g/L"}],
                }
            ]
        },
        {
            "products": ["vinegar_5"],
            "tools": [{"key": "t", "name": "t", "kind": "jug", "graduation": 0, "capacity": 5}],
        },
    ],
)
def test_bad_shelves(say, tmp_path, shelf):
    code, _, err = say("mix", "ammonia_bath", "--volume-ml", 500, "--shelf", file_of(tmp_path, shelf))
    assert code == 2 and one_sentence(err)


def test_missing_and_enormous_files(say, tmp_path):
    code, _, err = say("mix", tmp_path / "nowhere.json", "--volume-ml", 500)
    assert code == 2 and one_sentence(err)
    huge = tmp_path / "huge.json"
    with huge.open("wb") as file:
        file.truncate(200 * 1024 * 1024)
    code, _, err = say("mix", huge, "--volume-ml", 500)
    assert code == 2 and one_sentence(err) and "at most 16 MB are read" in err


@pytest.mark.parametrize(
    "pair",
    [
        ("sodium_hypochlorite", "ammonia"),
        ("sodium_hypochlorite", "sulfuric_acid"),
        ("sodium_hypochlorite", "potassium_thiocyanate"),
        ("sulfuric_acid", "sodium_metabisulfite"),
        ("sulfuric_acid", "sodium_dithionite"),
    ],
)
def test_lethal_mixes_leave_with_three(say, tmp_path, pair):
    document = {**GOOD, "components": [{"substance": s, "concentration": "30 g/L"} for s in pair]}
    code, out, err = say("mix", file_of(tmp_path, document), "--volume-ml", 500)
    assert (code, out) == (3, "")
    assert one_sentence(err)


def test_adapting_a_bath(say, tmp_path):
    bath = {"role": "halide_solvent", "volume_ml": 1000, "poured": [{"product": "household_ammonia_10", "amount": 90}]}
    code, out, _ = say("adapt", file_of(tmp_path, bath), "--volume-ml", 300, "--json")
    assert code == 0
    assert json.loads(out)["sheet"]["volume_ml"] == 300
    for wrong in (
        {**bath, "poured": []},
        {**bath, "volume_ml": 50},
        {**bath, "poured": [{"product": "unheard", "amount": 3}]},
    ):
        code, _, err = say("adapt", file_of(tmp_path, wrong))
        assert code == 2 and one_sentence(err)
