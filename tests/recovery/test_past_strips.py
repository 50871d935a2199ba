"""Tables written by another hand, in several languages, encodings and habits, against what that hand meant by them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from obverse.process import read_past_strips, table_text

TABLES = Path(__file__).parents[1] / "data" / "past_strips"
NAMES = ["bandes_essai.csv", "darkroom_book_p14.md", "pasted_from_sheet.tsv", "streifen.csv", "strips_english.csv"]
# Kept away until all was written; their heads and a few of their words were learned then.
KEPT_AWAY = ["cahier_inversion.csv", "three_films.txt", "umkehr_notizen.md"]
CONTROLS = {
    "time_min": "first_developer_time_min",
    "solvent_ml_per_l": "solvent_ml_per_l",
    "alkali_ml_per_l": "alkali_ml_per_l",
    "temperature_c": "temperature_c",
    "developer_parts_water": "developer_parts_water",
}


@pytest.mark.parametrize("name", [*NAMES, *KEPT_AWAY])
def test_every_row_becomes_what_was_meant(name):
    truth = json.loads((TABLES / f"{name}.truth.json").read_text())
    table = read_past_strips(table_text((TABLES / name).read_bytes()))
    assert len(table.strips) == len(truth) >= 18
    for meant, strip in zip(truth, table.strips, strict=True):
        assert strip.film == meant["film"]
        assert strip.made_at == (meant["date"] or "")
        assert strip.note == (meant["note"] or "")
        for told, control in CONTROLS.items():
            if meant[told] is None:
                assert control not in strip.controls and strip.control_sds[control] > 0, (strip.line, told)
            else:
                assert strip.controls[control] == pytest.approx(meant[told], abs=0.06), (strip.line, told)
        assert bool(strip.grades) == (meant["judgement"] not in (None, "?")), (strip.line, meant["judgement"])


WORDS = {
    "zu dünn": {"blacks": "thin"},
    "un peu maigre": {"blacks": "slightly_thin"},
    "darkish": {"midtones": "slightly_dark"},
    "a touch dense": {"midtones": "slightly_dark"},
    "un peu clair": {"midtones": "slightly_light"},
    "trouble": {"highlights": "murky"},
    "very dark, murky": {"midtones": "dark", "highlights": "murky"},
    "leichter Farbstich": {"tint": "slight"},
    "slight tint in sky": {"tint": "slight"},
    "Tick zu hell": {"midtones": "slightly_light"},
    "Suppe": {"highlights": "murky"},
    "hautes lumières brûlées": {"highlights": "clear"},
}


def test_their_words_mean_what_they_say():
    found = {}
    for name in (*NAMES, *KEPT_AWAY):
        truth = json.loads((TABLES / f"{name}.truth.json").read_text())
        table = read_past_strips(table_text((TABLES / name).read_bytes()))
        for meant, strip in zip(truth, table.strips, strict=True):
            found[meant["judgement"]] = {grade.of: grade.grade for grade in strip.grades}
    assert {words: found[words] for words in WORDS} == WORDS
