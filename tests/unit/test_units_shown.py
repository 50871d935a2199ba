"""Units of the person: what is shown, against figures by hand; what is kept does not change."""

import json
import re

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


# Worked by hand: F is 1.8 times C plus 32, a difference 1.8 times; ounces as above.
RETOLD = [
    ("Stand the bottles in water of 20 C", "Stand the bottles in water of 68 °F"),
    ("is meant for 18 to 24 C; you plan 17 °C.", "is meant for 64.4 to 75.2 °F; you plan 62.6 °F."),
    ("between 18 and 24 C", "between 64.4 and 75.2 °F"),
    ("This bath is 3.0 C warmer", "This bath is 5.4 °F warmer"),
    ("20 ± 0.5 °C; 2 °C/min; vitamin C", "20 ± 0.5 °C; 2 °C/min; vitamin C"),
    ("water to 600 mL", "water to 20.3 US fl oz (600 mL)"),
    ("16.9 US fl oz (500 mL)", "16.9 US fl oz (500 mL)"),
    ("solvent 8 mL/L", "solvent 8 mL/L (4 mL in my tank)"),
    ("more solvent (12 mL/L)", "more solvent (12 mL/L, 6 mL in my tank)"),
    ("12.5 g; 64 g/L", "0.441 oz (12.5 g); 64 g/L"),
    ("18-24 C", "64.4-75.2 °F"),
    (
        "(mix it first: 100 mL fixer (old), to 500 mL)",
        "(mix it first: 3.38 US fl oz (100 mL) fixer (old), to 16.9 US fl oz (500 mL))",
    ),
    ("31.3 mL (1.06 US fl oz), 12.5 g (0.441 oz)", "31.3 mL (1.06 US fl oz), 12.5 g (0.441 oz)"),
]


@pytest.mark.parametrize(("house", "mine"), RETOLD)
def test_a_sentence_is_told_in_my_units_once_and_metric_is_left_alone(house, mine):
    assert US.retold(house) == mine == US.retold(mine)
    assert METRIC.retold(house) == house


def test_a_temperature_is_typed_with_its_unit_or_in_that_of_the_form():
    typed = UnitsShown().said_temperature
    assert typed("20,5", where="t") == 20.5 and typed("68 F", where="t") == typed("68", where="t", bare="f") == 20
    assert typed("20 °C", where="t", bare="f") == 20 and typed("\N{MINUS SIGN}4°F", where="t") == -20
    for wrong in ("warm", "20 g", "20 C C", ""):
        with pytest.raises(InputError, match=r"^t: "):
            typed(wrong, where="t")


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


def test_what_is_typed_may_be_in_my_units_and_every_sentence_is_told_in_them(client, workbench):
    asked = "/sink/plan?route=permanganate_light&tank_ml=16+fl+oz&bath_c=70&temperature_c=70"
    assert client.get(f"{asked}&degrees=f").status_code == 200
    assert client.get(asked).status_code == 422, "70 C is no bath: an address says its units itself"
    workbench.units.keep(US.model_dump())
    page = client.get(f"{asked}&degrees=f").text
    assert "16 US fl oz (473.2 mL), 70 °F" in page
    assert not re.search(r"\d (°?C|mL)\b(?!\))", re.sub(r"<script.*?</script>|<[^>]+>", " ", page, flags=re.S))
    run = workbench.sink.begin({"route": "permanganate_light", "tank_ml": 500, "temperature_c": 20})
    live = client.get(f"/sink/{run}").text
    assert "water of 68 \\u00b0F" in live or "water of 68 °F" in live
    workbench.units.keep(UnitsShown(fluids="imperial").model_dump())
    assert "20 imperial fl oz (568.3 mL)" in client.get("/sink/plan?route=permanganate_light&tank_ml=20+fl+oz").text
    jug = {"token": client.app.state.token, "letter": "B", "capacity_ml": "100 fl oz"}
    client.post("/shelf/care/jugs", data=jug)
    assert workbench.care.jugs()[0].jug.capacity_ml == pytest.approx(2841.3, abs=0.1)


def test_a_room_a_tank_and_a_table_are_told_and_typed_in_my_units(client, workbench):
    workbench.units.keep(US.model_dump())
    assert client.post("/units", data=form(client, revision="1", tank_ml="20 fl oz")).status_code == 200
    assert workbench.units.shown().tank_ml == pytest.approx(591.471, abs=0.001)
    # A cubic foot is 0.0283168 m3.
    said = {"token": client.app.state.token, "volume_m3": "424", "cubic": "cu_ft", "air_changes_per_h": "2"}
    client.post("/shelf/care/room", data={**said, "temperature_c": "68", "degrees": "f"})
    assert workbench.care.room().volume_m3 == pytest.approx(12.0063, abs=1e-4)
    page = client.get("/shelf/care").text
    assert "Room, cu ft" in page and 'value="424"' in page and "height in feet" in page
    assert US.retold("200 ppm in 12 m3, 3 mg/m3") == "200 ppm in 424 cu ft, 3 mg/m3"
    table = {"text": "film;strip;time;temp\npan;1;11:30;20\npan;2;12;68 F"}
    rows = client.post("/api/notebook/past-strips/look", json=table).json()["rows"]
    assert ["68 °F" in row["controls_short"] for row in rows] == [True, True]
    assert [row["controls"]["temperature_c"] for row in rows] == [20, 20]


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
