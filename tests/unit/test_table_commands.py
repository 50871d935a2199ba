"""obverse curve, show, shots, list: answers by the contract, bad input by one sentence and exit code 2."""

import json
import math

import pytest

from obverse.cli.main import run
from obverse.model.simulate import demo_film, simulate_series

CSV = "log_exposure,density,sd\n-1.2,2.2,0.02\n-0.6,1.9,0.02\n0,1.2,0.02\n0.6,0.55,0.02\n1.2,0.38,0.02\n"
TRIALS = [
    {"first_developer_time_min": 8, "solvent_ml_per_l": 4, "alkali_ml_per_l": 5},
    {"first_developer_time_min": 12, "solvent_ml_per_l": 10, "alkali_ml_per_l": 5},
]


@pytest.fixture
def csv_file(tmp_path):
    file = tmp_path / "strip.csv"
    file.write_text(CSV)
    return str(file)


@pytest.fixture
def series_file(tmp_path):
    document = simulate_series(demo_film(), TRIALS, seed=3).model_dump(mode="json")
    document["trials"].append({"id": "by eye", "controls": TRIALS[0], "grades": [{"of": "blacks", "grade": "deep"}]})
    file = tmp_path / "series.json"
    file.write_text(json.dumps(document))
    return str(file)


def test_curve_tells_each_number_with_its_uncertainty(series_file, capsys):
    assert 0 == run(["curve", series_file, "--json"])
    answer = json.loads(capsys.readouterr().out)
    assert ["strip 1", "strip 2", "by eye"] == [trial["id"] for trial in answer["trials"]]
    for trial in answer["trials"][:2]:
        for name in ("dmin", "dmax", "gradient", "midtone_log_exposure", "reversal_speed"):
            value = trial["curve"][name]
            assert value["low90"] <= value["value"] <= value["high90"]
            assert value["sd"] > 0
        assert isinstance(trial["faults"], list)
    assert answer["trials"][2]["curve"] is None
    assert "3 readings" in answer["trials"][2]["reason"]
    assert "from memory" == answer["speed_rule"]["standing"]
    assert "ISO 2240" in answer["speed_rule"]["words"]


def test_the_same_readings_give_the_same_answer(csv_file, capsys):
    answers = []
    for _ in range(2):
        assert 0 == run(["curve", csv_file, "--base-density", "0.25", "--json"])
        answers.append(capsys.readouterr().out)
    assert answers[0] == answers[1]


def test_speed_follows_the_box(csv_file, capsys):
    speeds = []
    for box in ("100", "400"):
        run(["curve", csv_file, "--box-speed", box, "--json"])
        speeds.append(json.loads(capsys.readouterr().out)["trials"][0]["curve"]["reversal_speed"]["value"])
    assert 4 == pytest.approx(speeds[1] / speeds[0])


def test_curve_in_words(csv_file, capsys):
    assert 0 == run(["curve", csv_file])
    told = capsys.readouterr().out
    for part in ("Dmax", "mid-tone log exposure", "NOTE: The base density is not known", "from memory"):
        assert part in told


def test_show_prints_strips(series_file, capsys):
    assert 0 == run(["show", series_file])
    told = capsys.readouterr().out
    assert "strip 1" in told and "blacks deep" in told


def test_shots_are_a_wedge(capsys):
    assert 0 == run(["shots", "--low", "-3", "--high", "3", "--step", "0.5", "--shutter-s", "0.125", "--json"])
    shots = json.loads(capsys.readouterr().out)["shots"]
    assert 13 == len(shots)
    assert 3 * math.log10(2) == pytest.approx(shots[-1]["log_exposure"])
    assert 1.0 == pytest.approx(shots[-1]["shutter_s"])


def test_lists_are_converted_and_frames_paired(csv_file, series_file, tmp_path, capsys):
    assert 0 == run(["list", csv_file, "--to", "cgats"])
    cgats = capsys.readouterr().out
    assert cgats.startswith("CGATS.17\n")
    again = tmp_path / "again.txt"
    again.write_text(cgats)
    assert 0 == run(["list", str(again)])
    assert [float(v) for v in "".join(CSV.split("\n", 1)[1]).replace("\n", ",").strip(",").split(",")] == [
        float(v) for v in capsys.readouterr().out.split("\n", 1)[1].replace("\n", ",").strip(",").split(",")
    ]
    assert 0 == run(["list", series_file, "--trial", "strip 2"])
    assert 22 == len(capsys.readouterr().out.splitlines())
    frames = tmp_path / "frames.txt"
    frames.write_text("2.2\n1.9\n1.2\n0.6\n0.4\n")
    assert 0 == run(["list", str(frames), "--frames", "--low", "-2", "--high", "2"])
    assert "0.0,1.2" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("content", "arguments", "part"),
    [
        (b"", ["curve"], "empty"),
        (b"a,b\n1,2\n", ["curve"], "log_exposure is missing"),
        (b"log_exposure,density\n0,nan\n", ["curve"], "not a reading"),
        (b"log_exposure,density\n0,1\x00\n", ["curve"], "not text"),
        (b'{"format": "obverse-series"', ["curve"], "it breaks off before its end"),
        (b'{"format": "something"}', ["curve"], "format"),
        (b"[1]", ["curve"], "an object with named fields"),
        (CSV.encode(), ["curve", "--box-speed", "-3"], "--box-speed"),
        (CSV.encode(), ["curve", "--base-density", "9"], "base density of 9"),
        (CSV.encode(), ["curve", "--aim", "cinema"], "cinema"),
        (CSV.encode(), ["list", "--frames"], "not one density"),
        (b"1\n2\n", ["list", "--frames"], "2 densities for 11 frames"),
    ],
)
def test_bad_input_is_one_sentence_and_exit_2(tmp_path, capsys, content, arguments, part):
    file = tmp_path / "given"
    file.write_bytes(content)
    assert 2 == run([arguments[0], str(file), *arguments[1:]])
    told = capsys.readouterr()
    assert part in told.err
    assert 1 == len(told.err.strip().splitlines())
    assert "" == told.out


def test_missing_and_huge_files(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path / "home"))
    assert 2 == run(["curve", str(tmp_path / "nothing.csv")])
    assert "no such file" in capsys.readouterr().err
    huge = tmp_path / "huge.csv"
    with huge.open("wb") as file:
        file.truncate(200 * 1024 * 1024)
    assert 2 == run(["curve", str(huge)])
    assert "210 MB" in capsys.readouterr().err
    assert 2 == run(["show", "a film nobody wrote down"])
