"""Label sheets and mix sheets on paper."""

import struct
from datetime import date

import pytest
from fastapi.testclient import TestClient

from obverse.foundation import InputError
from obverse.mixing import mix
from obverse.process.catalog import formulas, products, substances
from obverse.process.shelf import Bottle
from obverse.safety.hazards import hazards_of
from obverse.sheets.labels import GRIDS, label_of, labels_data, labels_pdf
from obverse.sheets.mix_sheet import mix_sheets_pdf
from obverse.sheets.pictograms import GHS_NUMBER, WORDS, pictogram_svg
from obverse.sheets.typeset import ask, qr_svg
from obverse.web.app import create_app
from obverse.web.sharing import Sharing


def label(product):
    bottle = Bottle(name=product.name, product=product.key, filled_on=date(2031, 11, 5), expires_on=date(2032, 11, 5))
    contents = "; ".join(f"{substances()[c.substance].name} {c.strength}" for c in product.contents)
    return label_of(
        bottle,
        hazards_of(product),
        contents=contents,
        link="http://192.168.100.100:8137/shelf/bottles/0123456789abcdef",
        id="01234567",
    )


@pytest.mark.parametrize("grid", GRIDS)
def test_every_generic_product_fits_its_label(grid):
    found = ask("labels", labels_data([label(p) for p in products().values()], grid), "fit")
    assert len(found) == len(products())
    assert [x["title"] for x in found if not x["fits"]] == []


@pytest.mark.parametrize("grid", GRIDS)
def test_labels_lie_on_the_paper(grid):
    g = GRIDS[grid]
    width, height = {"a4": (210.0, 297.0), "us-letter": (215.9, 279.4)}[g.paper]
    assert g.left_mm >= 0 and g.top_mm >= 0
    assert g.left_mm + (g.columns - 1) * g.pitch_x_mm + g.width_mm <= width + 0.3
    assert g.top_mm + (g.rows - 1) * g.pitch_y_mm + g.height_mm <= height + 0.3
    assert g.pitch_x_mm >= g.width_mm and g.pitch_y_mm >= g.height_mm


def test_gravest_hazard_is_always_in_words():
    for product in products().values():
        made = label(product)
        if not made.hazards:
            continue
        cell = labels_data([made], "a4-8")["pages"][0][0]
        assert all(made.hazards[0][0] in words for words in cell["hazards"])
        for _, code in made.hazards:
            assert all(code in words for words in cell["hazards"])


def test_signal_word():
    assert label(products()["ammonia_25"]).signal == "danger"
    assert label(products()["citric_anhydrous"]).signal == "warning"
    assert label(products()["pure_salt"]).signal == ""


def test_skipped_labels_stay_empty_and_sheets_follow():
    made = [label(products()["ammonia_25"])] * 10
    data = labels_data(made, "a4-8", skip=3)
    assert [len(page) for page in data["pages"]] == [8, 5]
    assert data["pages"][0][:3] == [None, None, None] and data["pages"][0][3] is not None


def test_what_cannot_be_printed_is_refused():
    one = [label(products()["ammonia_25"])]
    for wrong in ({"grid": "a0"}, {"skip": 8}, {"skip": -1}):
        with pytest.raises(InputError):
            labels_pdf(one, **{"grid": "a4-8", **wrong})
    with pytest.raises(InputError):
        labels_pdf([])
    with pytest.raises(InputError):
        labels_pdf(one * 500)


def test_labels_are_a_pdf():
    assert labels_pdf([label(products()["ammonia_25"])]).startswith(b"%PDF")


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize("key", sorted(formulas()))
def test_every_mix_sheet_is_one_page(key, paper):
    import json
    from importlib.resources import files

    import typst

    from obverse.sheets.mix_sheet import sheets_data

    formula = formulas()[key]
    sheet = mix(formula, 500, tuple(products().values()))
    data = sheets_data([(sheet, hazards_of(formula), "http://127.0.0.1:8137/x")], date(2031, 11, 5), paper)
    source = files("obverse.sheets").joinpath("data/mix_sheet.typ").read_bytes()
    pages = typst.compile(source, format="png", ppi=20, sys_inputs={"data": json.dumps(data)}, ignore_system_fonts=True)
    pages = pages if isinstance(pages, list) else [pages]
    assert len(pages) == 1
    width, height = struct.unpack(">II", pages[0][16:24])
    assert height / width == pytest.approx(297 / 210 if paper == "a4" else 11 / 8.5, rel=0.02)


def test_mix_sheet_refuses_other_paper():
    sheet = mix(formulas()["ammonia_bath"], 500, tuple(products().values()))
    with pytest.raises(InputError):
        mix_sheets_pdf([(sheet, hazards_of(formulas()["ammonia_bath"]), "x")], paper="napkin")


def test_pictograms_are_drawn_for_every_family():
    from xml.etree import ElementTree

    assert set(GHS_NUMBER) == set(WORDS)
    for family in GHS_NUMBER:
        root = ElementTree.fromstring(pictogram_svg(family))
        assert root.get("viewBox") == "0 0 100 100"
    used = {p for product in products().values() for p in hazards_of(product).pictograms}
    assert used <= set(GHS_NUMBER)


def test_qr_code_draws_the_modules_of_the_link():
    """The strokes of the SVG, read back one by one, are the dark modules of the code of that very text."""
    import re

    import segno

    link = "http://127.0.0.1:8137/shelf/bottles/0123456789abcdef"
    path = re.search(r' d="([^"]+)"', qr_svg(link)).group(1)
    dark, x, y = set(), 0.0, 0.0
    for command, numbers in re.findall(r"([Mmh])([^Mmh]*)", path):
        values = [float(v) for v in re.findall(r"-?\d*\.?\d+", numbers)]
        if command == "M":
            x, y = values
        elif command == "m":
            x, y = x + values[0], y + values[1]
        else:
            dark |= {(int(y), int(x) + i) for i in range(int(values[0]))}
            x += values[0]
    matrix = segno.make(link, error="m", micro=False).matrix
    assert dark == {(r, c) for r, row in enumerate(matrix) for c, module in enumerate(row) if module}


@pytest.mark.parametrize("is_shared", [False, True])
def test_what_is_printed_carries_an_address_phones_can_reach_or_none(workbench, monkeypatch, is_shared):
    """At the laptop the address of the request is the laptop itself; a phone would be led to the phone."""
    links = []
    for module in ("mix_sheet", "labels"):
        monkeypatch.setattr(f"obverse.sheets.{module}.qr_svg", lambda link: links.append(link) or qr_svg(link))
    address = "http://192.168.7.5:8137"
    sharing = Sharing(hosts=("192.168.7.5",), address=address, key="k" * 40, now=workbench.clock.now)
    workbench.shelf.add_bottle(Bottle(name="ammonia", product="ammonia_25"))
    workbench.shelf.add_generic("ammonia_25")
    app = create_app(workbench, sharing=sharing if is_shared else None)
    with TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 1)) as web:
        paths = ("/bench/sheet.pdf?formula=ammonia_bath&volume_ml=500", "/shelf/labels.pdf")
        for path in paths:
            answer = web.get(path)
            assert answer.status_code == 200 and answer.content.startswith(b"%PDF"), answer.text
    if is_shared:
        assert len(links) == 2 and all(link.startswith(address + "/") for link in links)
    else:
        assert links == []
