"""Units of the person: what is shown, against figures by hand; what is kept does not change."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from obverse.foundation import ConflictError, InputError, parse_json
from obverse.process import METRIC, UnitsShown

US = UnitsShown(
    temperature="f", fluids="us", spoons="us", lengths="imperial", masses="oz", tank_ml=500, paper="us-letter"
)


@pytest.mark.parametrize(
    ("shown", "said"),
    [
        # 1 US fl oz is 29.5735 mL, an imperial one 28.4131 mL, a US teaspoon 4.92892 mL, an ounce 28.3495 g.
        (METRIC.volume(500), "500 mL"),
        (US.volume(500), "16.9 US fl oz (500 mL)"),
        (UnitsShown(fluids="imperial").volume(500), "17.6 imperial fl oz (500 mL)"),
        (US.volume(4.5), "0.913 US tsp (4.5 mL)"),
        (UnitsShown(fluids="us", spoons="metric").volume(5), "1 metric tsp (5 mL)"),
        (METRIC.temperature_of(20), "20 °C"),
        (US.temperature_of(20), "68 °F"),
        (US.temperature_of(20.5), "68.9 °F"),
        (US.temperature_of(-20), "\N{MINUS SIGN}4 °F"),
        (US.temperatures(18, 24), "64.4 to 75.2 °F"),
        (METRIC.temperatures(18, 24), "18 to 24 °C"),
        (METRIC.mass(12.5), "12.5 g"),
        (US.mass(12.5), "0.441 oz (12.5 g)"),
        (METRIC.length(1.2), "1.2 m"),
        (METRIC.length(0.036), "36 mm"),
        (US.length(1.2), "3.94 ft"),
        (US.length(0.2), "7.87 in"),
        (METRIC.per_litre(8), "8 mL/L"),
        (US.per_litre(8), "8 mL/L (4 mL in my tank)"),
        (US.measured(4.5, "mL"), "4.5 mL (0.913 US tsp)"),
        (US.measured(100, "mL"), "100 mL (3.38 US fl oz)"),
        (US.measured(12.5, "g"), "12.5 g (0.441 oz)"),
        (METRIC.measured(4.5, "mL"), "4.5 mL"),
        (US.measured(3, "drops"), "3 drops"),
    ],
)
def test_what_is_shown(shown, said):
    assert shown == said


@given(st.floats(1, 20_000), st.sampled_from(["us", "imperial"]))
def test_the_marks_of_the_tools_stay_beside_every_ounce(volume_ml, fluids):
    assert UnitsShown(fluids=fluids).volume(volume_ml).endswith(f"({METRIC.volume(volume_ml)})")


def test_the_setting_is_kept_with_a_revision(workbench):
    assert (workbench.units.shown(), workbench.units.revision()) == (METRIC, 0)
    assert workbench.units.keep(US.model_dump()) == 1
    assert workbench.units.shown() == US
    with pytest.raises(ConflictError):
        workbench.units.keep(METRIC.model_dump(), expected_revision=0)
    with pytest.raises(InputError, match="temperature"):
        workbench.units.keep({"temperature": "k"})


def form(client, **changes):
    page = client.get("/units").text
    assert 'name="revision" value="' in page
    return {**US.model_dump(), "token": client.app.state.token, "revision": "0", **changes}


def test_pages_and_sheets_tell_what_the_page_of_units_was_told(client, workbench):
    sheet = "/bench/sheet?formula=stop_acetic&volume_ml=500"
    metric = client.get(sheet)
    assert client.post("/units", data=form(client)).status_code == 200
    page = client.get("/units").text
    assert "16.9 US fl oz (500 mL)" in page and "68 °F" in page and "7.87 ft" in page
    assert metric.status_code == client.get(sheet).status_code
    assert "°F" in client.get("/shelf/care/routes/permanganate_light").text
    late = client.post("/units", data=form(client, fluids="metric"), headers={"Accept": "application/json"})
    assert late.status_code == 409 and workbench.units.shown() == US
    assert client.post("/units", data=form(client, revision="1", tank_ml="no")).status_code == 422


def test_what_is_kept_and_travels_stays_as_it_is(client, workbench):
    before = client.get("/api/bench/formulas").text
    workbench.units.keep(US.model_dump())
    assert client.get("/api/bench/formulas").text == before
    assert parse_json(json.dumps(workbench.export()))["things"][0]["revisions"][0]["body"]["units"]["fluids"] == "us"


def test_paper_follows_the_setting(client, workbench):
    letter, a4 = b"/MediaBox[0 0 612 792]", b"/MediaBox[0 0 595"
    address = "/bench/processes/permanganate_light/evening.pdf"
    assert a4 in client.get(address).content
    workbench.units.keep(US.model_dump())
    assert letter in client.get(address).content
    assert a4 in client.get(f"{address}?paper=a4").content
    assert client.get(f"{address}?paper=napkin").status_code == 422


def test_a_bucket_is_told_in_figures_and_not_in_powers_of_ten():
    assert UnitsShown().volume(12_000) == "12000 mL" and UnitsShown().mass(25_000) == "25000 g"
    assert UnitsShown(fluids="us").volume(12_000).endswith("(12000 mL)")


def test_the_command_prints_on_the_paper_of_the_notebook(tmp_path, monkeypatch):
    from obverse.cli.main import run
    from obverse.workbench.bootstrap import open_workbench

    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path))
    sheet, card = tmp_path / "evening.pdf", tmp_path / "card.pdf"

    def pages():
        assert run(["sheet", "permanganate_light", "--out", str(sheet), "--force"]) == 0
        assert run(["card", "example", "--out", str(card), "--force"]) == 0
        return sheet.read_bytes() + card.read_bytes()

    assert pages().count(b"/MediaBox[0 0 612 792]") == 0
    bench = open_workbench(tmp_path)
    bench.units.keep(US.model_dump())
    bench.close()
    assert pages().count(b"/MediaBox[0 0 595") == 0
    assert run(["sheet", "permanganate_light", "--out", str(sheet), "--force", "--paper", "a4"]) == 0
    assert b"/MediaBox[0 0 595" in sheet.read_bytes()
