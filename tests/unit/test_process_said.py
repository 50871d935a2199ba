"""Amounts and mixes as people say them."""

from __future__ import annotations

import pytest

from obverse.foundation import InputError, Interval, read_document, take_number, unit_named
from obverse.process import SaidAmount, SaidMix, mix_in_words, parse_amount, parse_mix


def bounds(text: str, **more) -> tuple[float, float, float, str]:
    said = parse_amount(text, **more)
    return round(said.low, 2), round(said.best, 2), round(said.high, 2), said.unit


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("40 mL", (40, 40, 40, "ml")),
        ("7,5 g", (7.5, 7.5, 7.5, "g")),
        ("1.5ml", (1.5, 1.5, 1.5, "ml")),
        ("0.5 L", (500, 500, 500, "l")),
        ("5-10 mL", (5, 7.5, 10, "ml")),
        ("5 to 10 mL", (5, 7.5, 10, "ml")),
        ("between 5 and 10 mL", (5, 7.5, 10, "ml")),
        ("about 5 mL", (4, 5, 6, "ml")),
        ("under 5 g", (0, 2.5, 5, "g")),
        ("5 ± 1 g", (4, 5, 6, "g")),
        ("2 US fl oz", (59.15, 59.15, 59.15, "us_fl_oz")),
        ("2 imperial fl oz", (56.83, 56.83, 56.83, "imperial_fl_oz")),
        ("2 fl oz", (56.83, 59.15, 59.15, "us_fl_oz")),
        ("1 oz", (28.35, 28.35, 28.35, "oz")),
        ("1½ US tsp", (6.65, 7.39, 8.13, "us_tsp")),
        ("a level metric tablespoon", (13.5, 15, 16.5, "metric_tbsp")),
        ("half a teaspoon (imperial)", (2.66, 2.96, 3.26, "imperial_tsp")),
        ("68 F", (20, 20, 20, "f")),
        ("20 °C", (20, 20, 20, "c")),
        ("10 feet", (3048, 3048, 3048, "ft")),
        ('5"', (127, 127, 127, "in")),
        ("three parts", (3, 3, 3, "part")),
        ("12", (12, 12, 12, "part")),
        ("1.000,5 mL", (1000.5, 1000.5, 1000.5, "ml")),
        ("1,250.5 g", (1250.5, 1250.5, 1250.5, "g")),
        ("1\u202f500 mL", (1500, 1500, 1500, "ml")),
        ("10 000 mL", (10000, 10000, 10000, "ml")),
    ],
)
def test_amounts_are_read_as_they_are_said_and_come_back_so(text, expected):
    assert bounds(text) == expected
    assert parse_amount(text).tell() == text


def test_a_kitchen_measure_without_its_system_is_that_of_the_notebook_and_holds_the_others_as_doubt():
    assert bounds("2 fl oz", usual="imperial") == (56.83, 56.83, 59.15, "imperial_fl_oz")
    metric = parse_amount("a tablespoon")
    assert metric.best == 15 and metric.low < 0.9 * 14.79 and metric.high == pytest.approx(1.1 * 17.758, rel=1e-3)


def test_a_bare_number_takes_the_unit_of_its_field():
    assert bounds("600", unit="ml") == (600, 600, 600, "ml")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "no amount was written"),
        ("some developer", "has no amount"),
        ("-5 mL", "less than nothing"),
        ("10-5 mL", "runs backwards"),
        ("1,000 mL", "may be 1000 or 1"),
        ("5 furlongs", "is no part of an amount"),
        ("at least 5 mL", "has no upper end"),
        ("1/0 g", "is no number"),
    ],
)
def test_what_is_no_amount_is_told_with_a_way_on(text, says):
    with pytest.raises(InputError, match=says) as error:
        parse_amount(text)
    assert error.value.remedy


def test_a_spoon_of_powder_weighs_what_powder_weighs_and_a_weighed_one_what_was_weighed():
    level, heaped = parse_amount("a level tablespoon").grams(), parse_amount("a heaped tablespoon").grams()
    assert level.low < 10 < level.best < 20 < level.high
    assert heaped.best > 1.5 * level.best and heaped.high > level.high
    assert parse_amount("1 tbsp (14 g)").grams() == Interval.exact(14)
    with pytest.raises(InputError, match="no weight"):
        parse_amount("68 F").grams()


def test_the_unit_tells_its_own_numbers():
    assert unit_named("us_fl_oz").tell(600) == "20.3 US fl oz"
    assert unit_named("f").tell(20) == "68 F"
    assert unit_named("in").tell(1270) == "50 in"
    assert unit_named("ml").tell(12345.6) == "12346 mL"


# name, best mL or g, in a bath of 600 mL
@pytest.mark.parametrize(
    ("text", "way", "portions"),
    [
        ("40 mL + 1.5 mL + 5 mL, water to 600", "to_the_mark", [("", 40), ("", 1.5), ("", 5)]),
        (
            "40 mL syrup + 1,5 mL rapid fixer and 5 mL ammonia, water to 600 mL",
            "to_the_mark",
            [("syrup", 40), ("rapid fixer", 1.5), ("ammonia", 5)],
        ),
        ("40 mL syrup, 1,5 mL fixer, made up to 600 mL with water", "to_the_mark", [("syrup", 40), ("fixer", 1.5)]),
        ("1+14", "parts", [("", 40)]),
        ("1:1", "parts", [("", 300)]),
        ("paper developer 1+3", "parts", [("paper developer", 150)]),
        ("1:14 developer", "parts", [("developer", 40)]),
        ("ammonia 4+1", "parts", [("ammonia", 480)]),
        ("1+1+10", "parts", [("", 50), ("", 50)]),
        ("A 1 + B 1 + water 10", "parts", [("A", 50), ("B", 50)]),
        ("three parts and one", "parts", [("", 450)]),
        ("household ammonia and water, three parts and one", "parts", [("household ammonia", 450)]),
        ("three parts of ammonia to one of water", "parts", [("ammonia", 450)]),
        ("etchant and distilled water in equal parts", "parts", [("etchant", 300)]),
        ("equal parts etchant and water", "parts", [("etchant", 300)]),
        ("25 g in 1 L", "in_water", [("", 15)]),
        ("25 g/L metabisulfite", "to_the_mark", [("metabisulfite", 15)]),
        ("2 mL/L of fixer", "to_the_mark", [("fixer", 1.2)]),
        ("10 mL fixer per litre", "to_the_mark", [("fixer", 6)]),
        ("8 mL ammonia per 500 mL", "to_the_mark", [("ammonia", 9.6)]),
        ("2 level metric teaspoons of metabisulfite in 500 mL", "in_water", [("metabisulfite", 12)]),
        ("vinegar as it is", "as_it_is", [("vinegar", 600)]),
        ("250 mL peroxide 3 % + 250 mL vinegar", "as_it_is", [("peroxide 3 %", 300), ("vinegar", 300)]),
        ("water 560 mL, developer 40 mL", "parts", [("developer", 40)]),
        ("40 + 1.5 + 5, water to 600", "to_the_mark", [("", 40), ("", 1.5), ("", 5)]),
        ("100 + 100 in 800 water", "parts", [("", 60), ("", 60)]),
        ("40 mL of developer in 560 mL of water", "parts", [("developer", 40)]),
        ("2 g + 25 g to one litre", "to_the_mark", [("", 1.2), ("", 15)]),
        ("1+9, one litre", "parts", [("", 60)]),
        ("1 plus 4", "parts", [("", 120)]),
        ("1 oz soda to the quart", "to_the_mark", [("soda", 28.3495 * 600 / 946.353)]),
        ("60 grains permanganate in 32 oz", "in_water", [("permanganate", 60 * 0.0647989 * 600 / 946.353)]),
        ("two soup spoons (30 ml) etchant in 270 ml water", "in_water", [("etchant", 30 * 600 / 270)]),
        (
            "400 ml 3 % peroxide + 100 ml water + 25 g citric acid",
            "parts",
            [("3 % peroxide", 480), ("citric acid", 30)],
        ),
        ("40 mL (1+14)", "as_it_is", [("(1+14)", 600)]),
        ("40 mL developer to 20 imperial fl oz", "to_the_mark", [("developer", 40 * 600 / 568.26)]),
    ],
)
def test_mixes_are_read_as_they_are_said_and_come_back_so(text, way, portions):
    mix = parse_mix(text)
    found = mix.portions(600)
    assert mix.way == way
    assert [p.part.what for p in found] == [name for name, _ in portions]
    assert [p.amount.best for p in found] == pytest.approx([best for _, best in portions], rel=1e-4)
    assert mix.tell() == text
    assert read_document(SaidMix, mix.model_dump(mode="json")) == mix
    assert read_document(SaidMix, {"text": text}) == mix


def test_a_colon_says_how_it_was_read():
    assert parse_mix("1:14").reading == "1:14 is read as 1+14: one part and 14 parts of water"
    assert parse_mix("1+14").reading == ""


def test_the_water_left_is_never_below_nothing_and_keeps_the_doubt():
    assert parse_mix("5-10 mL fixer, water to 600 mL").water_ml() == Interval(590, 592.5, 595)
    assert parse_mix("400-700 mL ammonia, water to 600 mL").water_ml().low == 0


def test_a_tablespoon_in_water_holds_both_readings_of_the_volume_and_its_grams():
    mix = parse_mix("a level tablespoon of rust remover in 350 mL distilled water")
    (portion,) = mix.portions()
    assert mix.volume_ml() == Interval.exact(350)
    assert portion.grams is not None and portion.grams.low < 9 < portion.grams.best < 20
    assert parse_mix("5 mL ammonia in 500 mL").volume_ml() == Interval(500, 500, 505)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "says nothing"),
        ("1 part", "no amount of anything"),
        ("40 mL developer + 3 parts water", "mixes parts with measured"),
        ("0+14", "no parts"),
        ("one sachet in 4 L", "says no amount"),
        ("1 sachet remover in 4 L", "says no amount"),
        ("1+9, one litre, 3 g hypo", "mixes parts with measured"),
        ("40 mL developer, water to 20 g", "no volume"),
        ("68 F + 5 mL", "temperature"),
    ],
)
def test_what_is_no_mix_is_told_with_a_way_on(text, says):
    with pytest.raises(InputError, match=says) as error:
        parse_mix(text)
    assert error.value.remedy and "tuple" not in error.value.sentence.lower()


def test_where_no_water_is_named_none_is_added_and_that_is_said():
    mix = parse_mix("40 mL developer + 5 mL ammonia")
    assert mix.way == "as_it_is" and mix.reading.startswith("no water was named")
    assert mix.volume_ml() == Interval.exact(45)


def test_a_mix_may_stay_words_and_then_nothing_is_computed_of_it():
    mix = mix_in_words("a good splash of the old brew")
    assert read_document(SaidMix, mix.model_dump(mode="json")) == mix
    with pytest.raises(InputError, match="kept as words"):
        mix.portions(600)


def test_documents_that_contradict_their_own_text_are_refused():
    with pytest.raises(InputError, match="best says 500"):
        read_document(SaidAmount, {"text": "5 mL", "best": 500})
    mix = parse_mix("40 mL developer, water to 600 mL").model_dump(mode="json")
    mix["parts"][0]["amount"] = "4 mL"
    with pytest.raises(InputError, match="says other amounts than its parts"):
        read_document(SaidMix, mix)


def test_numbers_begin_where_they_begin():
    number, rest = take_number("between 5 % and 10 % w/v hydroquinone", where="x")
    assert (number.interval, number.how, rest) == (Interval(5, 7.5, 10), "range", "% w/v hydroquinone")
    assert take_number("about ten", where="x")[0].interval.best == 10
    assert take_number("hydroquinone", where="x") is None
