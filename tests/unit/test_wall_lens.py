"""Any two of focal length, distance and width give the third, by every mount, on the page and in the terminal."""

import json

import pytest

from obverse.cli.main import run
from obverse.light import window_mm, windows_mm
from obverse.workbench.preview import Screen
from obverse.workbench.projector import Lens


@pytest.mark.parametrize("gate", list(windows_mm()))
def test_any_two_give_the_third(gate):
    across, high = window_mm(gate)
    # By hand: 85 mm and 50 times as wide stand 51 focal lengths from the wall.
    three = {"focal_mm": 85.0, "throw_m": 0.085 * 51, "width_m": across * 50 / 1000}
    for sought, name in (("focal", "focal_mm"), ("throw", "throw_m"), ("width", "width_m")):
        two = {key: value for key, value in three.items() if key != name}
        found = Lens(**two, sought=sought, gate=gate).solved()
        assert getattr(found, name) == pytest.approx(three[name])
        assert found.aspect == pytest.approx(across / high)
        assert found.height_m == pytest.approx(high * 50 / 1000)


def test_the_formats_are_all_there_and_lie_as_they_stand():
    formats = windows_mm()
    for name in ("24 x 36", "half frame", "4 x 4", "6 x 4.5", "6 x 6", "16 mm"):
        assert name in formats
    assert formats["24 x 36, upright"] == formats["24 x 36"][::-1]
    assert "4 x 4, upright" not in formats and "16 mm, upright" not in formats


def test_the_page_solves_refuses_and_remembers(client, workbench):
    def ask(**given):
        return client.post("/api/projector/lens", json={"sought": "width", "focal_mm": 85, **given})

    assert ask(throw_m=0.085 * 51).json()["width_m"] == pytest.approx(1.71)
    missing = ask()
    assert missing.status_code == 422 and "distance" in missing.json()["detail"]
    unknown = ask(throw_m=3, gate="7 x 7")
    assert unknown.status_code == 422 and "half frame" in unknown.json()["detail"]
    mine = Screen(focal_mm=90, throw_m=3.5, sought="width", gate="6 x 6", width_m=1.95, aspect=1.0)
    assert client.post("/api/projector/screen", json=mine.model_dump()).status_code == 200
    assert workbench.projector.screen() == mine
    page = client.get("/projector").text
    assert 'id="focal" type="number" inputmode="decimal"\n  value="90"' in page and 'value="width" selected' in page


def test_the_terminal_takes_two_and_refuses_three(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path / "home"))
    asked = ["wall", "example", "--focal-mm", "100", "--mount", "6 x 6", "--json"]
    assert run([*asked, "--throw-m", "5"]) == 0
    told = json.loads(capsys.readouterr().out)
    # By hand: 5000 / 100 - 1 = 49 times 51.6 mm.
    assert told["lens"]["width_m"] == told["screen"]["width_m"] == pytest.approx(2.5284)
    assert told["screen"]["aspect"] == 1
    assert run([*asked, "--throw-m", "5", "--width-m", "2"]) == 2
    assert run(asked) == 2
