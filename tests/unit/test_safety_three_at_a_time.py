"""Of what may not meet, three stand open on page and paper, the worst first; the rest is folded, never lost."""

import re
from datetime import date

import pytest

from obverse.foundation import Caution, Level
from obverse.process import USUAL_TOOLS
from obverse.process.catalog import formulas, products
from obverse.safety.hazards import hazards_of
from obverse.sheets.mix_sheet import mix_sheets_pdf, sheets_data
from obverse.web import pages
from obverse.workbench.bench import make_sheet

CAUTIONS = (
    Caution("mix.late", "said by the sheet itself", Level.CAUTION),
    *(Caution(f"pair.{n}", f"pair number {n}", Level.CAUTION) for n in range(4)),
    Caution("pair.9", "the worst pair", Level.DANGER),
)


def page(cautions):
    of_house = pages._templates.env.get_template("house/parts.html").module
    return str(of_house.cautions(cautions))


def test_a_page_shows_the_worst_three_and_folds_the_rest():
    open_part, _, folded = page(CAUTIONS).partition("<details")
    assert ["the worst pair", "said by the sheet itself", "pair number 0"] == re.findall(
        r"</strong> (.*?)</p>", open_part
    )
    assert "3 more, of the same kinds" in folded
    assert ["pair number 1", "pair number 2", "pair number 3"] == re.findall(r"</strong> (.*?)</p>", folded)


def test_three_are_not_folded():
    assert "<details" not in page(CAUTIONS[:3])


@pytest.fixture
def sheet():
    made = make_sheet(formulas()["stop_citric"], 500, tuple(products().values()), USUAL_TOOLS)
    return made.with_cautions(CAUTIONS)


def test_paper_boxes_the_worst_three_and_tells_the_rest_small(sheet):
    hazards = hazards_of(formulas()["stop_citric"])
    told = sheets_data([(sheet, hazards, "")], date(2031, 11, 5), "a4")["sheets"][0]
    boxed = [c["text"] for c in told["cautions"] if c["text"].startswith(("pair", "the worst"))]
    assert ["pair number 0", "the worst pair"] == sorted(boxed)
    assert ["pair number 1", "pair number 2", "pair number 3"] == told["also"]
    assert mix_sheets_pdf([(sheet, hazards, "")]).startswith(b"%PDF")
