"""Whatever amount is said, it comes back as it was typed and keeps its doubt."""

from __future__ import annotations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from obverse.foundation import UNITS, InputError, read_document
from obverse.process import SaidAmount, SaidMix, parse_amount, parse_mix

measured = [unit for unit in UNITS if unit.quantity in ("volume", "mass")]
numbers = st.decimals(min_value="0.1", max_value="900", places=2).map(lambda d: f"{d.normalize():f}")
names = st.sampled_from(["", "developer", "rapid fixer", "household ammonia", "syrup no. 4", "acid (weak)"])


@st.composite
def amounts(draw) -> str:
    number = draw(numbers)
    if draw(st.booleans()):
        number = number.replace(".", ",")
    unit = draw(st.sampled_from(measured))
    words = [*(w for w in unit.spoken if not unit.system or len(w) > 3), unit.sign]
    word = draw(st.sampled_from(words))
    system = {"us": "US ", "imperial": "imperial ", "metric": "metric "}.get(unit.system, "")
    return f"{draw(st.sampled_from(['', '', 'about ', 'under ', '<', '~']))}{number} {system if word != unit.sign else ''}{word}"


@settings(deadline=None)
@given(amounts())
def test_an_amount_comes_back_and_has_bounds_in_order(text):
    said = parse_amount(text)
    assert said.tell() == text
    assert 0 <= said.low <= said.best <= said.high
    assert read_document(SaidAmount, said.model_dump(mode="json")) == said


@settings(deadline=None)
@given(numbers, st.sampled_from([unit for unit in UNITS if unit.quantity != "room"]))
def test_what_a_unit_tells_is_read_as_the_same(number, unit):
    house = unit.to_house(float(number))
    told = unit.tell(house, figures_kept=9)
    said = parse_amount(told)
    assert said.unit == unit.key
    assert said.best == pytest.approx(house, rel=1e-6, abs=1e-6)


def test_no_amount_is_a_room():
    with pytest.raises(InputError, match="as much as a room"):
        parse_amount("5 m3")


@settings(max_examples=50, deadline=None)
@given(st.lists(st.tuples(amounts(), names), min_size=1, max_size=4), st.integers(1000, 5000), st.floats(100, 5000))
def test_a_mix_comes_back_and_scales(parts, whole, volume_ml):
    text = " + ".join(f"{amount} {name}".strip() for amount, name in parts) + f", water to {whole} mL"
    assume(len(text) <= 200)
    mix = parse_mix(text)
    assert mix.tell() == text
    assert [p.amount.tell() for p in mix.parts] == [amount for amount, _ in parts]
    assert [p.what for p in mix.parts] == [name for _, name in parts]
    assert read_document(SaidMix, mix.model_dump(mode="json")) == mix
    for portion in mix.portions(volume_ml):
        assert portion.amount.best == pytest.approx(portion.part.amount.best * volume_ml / whole)
    water = mix.water_ml(volume_ml)
    assert 0 <= water.low <= water.best <= water.high <= volume_ml


pieces = st.sampled_from(
    [*"0123456789+:/,.-<~%()", " ", " ", "1", "14", "mL", "g", "L", "fl oz", "tsp", "level ", "heaped ", "a ", "three parts ",
     " and ", " to ", " in ", "water", "equal parts ", "about ", "under ", "developer", "1/2", "\N{VULGAR FRACTION ONE HALF}", "/L", " per litre"]
)  # fmt: skip


@settings(max_examples=80, deadline=None)
@given(st.text(max_size=30) | st.lists(pieces, max_size=9).map("".join))
def test_any_text_is_read_or_told_in_our_words(text):
    for read in (parse_amount, parse_mix):
        try:
            assert read(text).text == text.strip()
        except InputError as error:
            assert error.remedy and error.what
            assert "validation" not in error.sentence
