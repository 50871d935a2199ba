"""What the command says to a wrong argument: which one, what is wrong, what to do; in the house's words and by the typed name."""

import json
from pathlib import Path

import pytest

from obverse.cli.idle import IDLE, not_used
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


class AsItIs(dict):
    def __missing__(self, name):
        return name


@pytest.mark.parametrize(
    ("command", "typed", "told"),
    [
        ("list", "low", "low counts for nothing without shot_densities"),
        ("list", "low shot_densities", ""),
        (
            "list",
            "low step to as_json",
            "low and step count for nothing without shot_densities; to counts for nothing beside as_json",
        ),
        (
            "show-list",
            "paper skip",
            "paper counts for nothing without out or labels; skip counts for nothing without labels",
        ),
        ("show-list", "paper skip labels", ""),
        (
            "run",
            "plan speed every as_json",
            "speed counts for nothing beside plan; every counts for nothing beside as_json",
        ),
        ("run", "rehearse speed by_itself", ""),
        ("run", "resume tank", "tank counts for nothing beside resume"),
        ("run", "route recipe", "route counts for nothing beside recipe"),
        ("process new", "name file", "name counts for nothing beside file"),
    ],
)
def test_an_option_that_counts_for_nothing_is_said_in_one_sentence(command, typed, told):
    assert not_used(IDLE[command], typed.split(), AsItIs()) == (f"Not used: {told}." if told else "")


def test_it_is_said_before_the_work_and_by_the_name_that_was_typed(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path))
    file = tmp_path / "series.json"
    file.write_text(json.dumps(json.loads(Path("docs/teaching-film-a.json").read_text()) | {"trials": []}))
    run(["list", "none.csv", "--low", "-3", "--step", "1"])
    run(["curve", str(file), "--aim", "scan", "--box-speed", "100", "--json"])
    told = [line for line in capsys.readouterr().err.splitlines() if line.startswith("Not used")]
    assert told == [
        "Not used: --low counts for nothing without --frames.",
        "Not used: --aim counts for nothing for a series, which says it itself.",
    ]


def test_a_text_where_a_document_was_asked_for_is_shown_the_way(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path / "home"))
    file = tmp_path / "way.txt"
    file.write_text("develop 11 min, bleach 6 min\n")
    for typed, way_on in (
        (("process", "check", str(file)), "`obverse process show iron_ammonia_fogging --words`"),
        (("run", str(file), "--plan"), f"`obverse process new --file {file}`"),
        (("import", str(file)), "`obverse trials`"),
    ):
        assert run(list(typed)) == 2
        assert way_on in capsys.readouterr().err and file.is_file()


def test_a_backup_and_an_exported_notebook_are_told_apart(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path / "home"))
    backup, exported = tmp_path / "backup.sqlite", tmp_path / "notebook.json"
    backup.write_bytes(b"SQLite format 3\0" + bytes(100))
    exported.write_text("{}")
    for typed, way_on in (
        (("import", backup), "with `obverse restore`"),
        (("restore", exported), "with `obverse import`"),
    ):
        assert run([str(word) for word in typed]) == 2
        assert way_on in capsys.readouterr().err


def test_a_bath_in_words_may_stand_in_a_file(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path / "home"))
    file = tmp_path / "bath.txt"
    file.write_text("40 mL household vinegar,\nwater to 600 mL\n")
    told = []
    for said in (str(file), "40 mL household vinegar, water to 600 mL"):
        assert run(["mix", said, "--json"]) == 0
        told.append(json.loads(capsys.readouterr().out))
    assert told[0] == told[1]
