"""What the command says to a wrong argument: which one, what is wrong, what to do; in the house's words and by the typed name."""

import json

import pytest

from obverse.cli.main import run

LONG = "a" * 300


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (("shots", "--low", "x"), "--low: 'x' is not a number; write it like 12.5."),
        (("shots", "--low", "nan"), "--low: 'nan' is not a number; write it like 12.5."),
        (("read", "a.tif", "--patches", "2.5"), "--patches: '2.5' is not a whole number; write it like 3."),
        (("pool", "search", "x", "--speed", "0"), "--speed: '0' is out of reach; give a number that is 0.1 or more."),
        (("serve", "--port", "99999"), "--port: '99999' is out of reach; give a number that is between 0 and 65535."),
        (("wall", "--surround", "x"), "--surround: 'x' is not one of 'dark', 'dim', 'average'."),
        (("wall", "--lumens", "-3"), "--lumens: it must be more than 0 (found -3); correct it and try again."),
        (("wall", ""), "source: no source of a curve was named; give a recipe document, "),
        (("card", "example", "--index", "-1"), "exposure index: -1 cannot be; give a number greater than 0."),
        (("run", "permanganate_light", "--plan", "--tank", "0"), "--tank-ml: it must be more than 0 (found 0); "),
        (("run", LONG, "--plan"), "PROCESS: it is too long: at most 120 signs; "),
        (("mix", ""), "no file was named; name one, or say - for what is typed or piped in."),
        (
            ("mix", f"40 mL {LONG}, water to 600 mL"),
            "mix: it is longer than 200 signs; say it shorter, or as a formula.",
        ),
        (("list", LONG), "no file can have so long a name; check the name."),
        (("adapt", "first_developer"), "first_developer: there is no such file; check the name."),
        (("mix", "ammonia_bath", "--volume", "500", "--does", "fix"), "--does: a formula says itself what it does; "),
        (("mix", "ammonia_bath", "--volume", "500", "--choose", "gold=x"), "has no 'gold'; it has ammonia"),
        (("process", "new", LONG), "name: it is too long: at most 160 signs; choose a shorter one."),
        (
            ("air", "--room-m3", "6", "--time-min", "1000000"),
            "'1000000' is out of reach; give a number that is 10080 or less.",
        ),
        (("air", "--room-m3", "6", "--ammonia-mol-per-l", "100"), "give a number that is 18.5 or less."),
        (("seen", "a.tif", "--corners", "1"), "--corners: 8 numbers are needed, not 1; give one for each."),
    ],
)
def test_what_is_wrong_is_said_by_the_name_that_was_typed(typed, said, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path))
    assert run(list(typed)) == 2
    assert said in capsys.readouterr().err


def test_a_number_may_have_a_decimal_comma(capsys):
    answers = []
    for low in ("-1.5", "-1,5"):
        assert run(["shots", "--low", low, "--json"]) == 0
        answers.append(json.loads(capsys.readouterr().out))
    assert answers[0] == answers[1]


def test_a_name_too_long_for_any_bottle_is_an_unknown_one(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path))
    assert run(["check", LONG, "water"]) == 0
    assert "Nothing is known here of" in capsys.readouterr().out


def test_much_ammonia_in_the_air_is_told_in_plain_figures(capsys):
    assert run(["air", "--room-m3", "6", "--ammonia-mol-per-l", "5", "--surface-m2", "0,3"]) == 0
    assert (
        "Mean of the room: 2900 ppm, 970 to 8700\nNear the bath: 7100 ppm, 2400 to 21000\n" in capsys.readouterr().out
    )


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("a\nb.csv", "a\N{REPLACEMENT CHARACTER}b.csv"),
        (" x .csv ", "x .csv"),
        ("\u202eexe.csv", "\N{REPLACEMENT CHARACTER}exe.csv"),
    ],
)
def test_a_file_name_of_odd_signs_is_told_in_one_line(typed, told, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert run(["list", typed]) == 2
    assert capsys.readouterr().err == f"{told}: there is no such file; check the name.\n"
