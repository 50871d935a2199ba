"""Numbers as people write them, and what they give on the command line."""

from __future__ import annotations

import io
import re
import sys

import pytest

from obverse.cli.arguments import pairs, read_given, settings, text_of
from obverse.foundation import InputError, parse_number, regex


@pytest.mark.parametrize(
    ("text", "value"), [("12.5", 12.5), (" 12,5 ", 12.5), ("\N{MINUS SIGN}0,3", -0.3), ("-2", -2), ("1e-3", 0.001)]
)
def test_a_number_may_have_a_comma_and_any_minus(text, value):
    assert parse_number(text, where="volume") == value


@pytest.mark.parametrize("text", ["", "warm", "1,2,3", "nan", "inf", "1.000,5"])
def test_what_is_no_number_is_told_with_its_field_and_a_way_on(text):
    with pytest.raises(InputError, match=r"^volume: .* is not a number; write it like 12.5\.$"):
        parse_number(text, where="volume")


def test_settings_are_name_and_number():
    assert settings(["solvent_ml_per_l=8", "alkali_ml_per_l = 2,5"], "--control") == {
        "solvent_ml_per_l": 8.0,
        "alkali_ml_per_l": 2.5,
    }
    assert settings(None, "--control") == {}


@pytest.mark.parametrize("given", ["solvent_ml_per_l", "=8", "solvent_ml_per_l="])
def test_a_setting_without_a_side_is_refused(given):
    with pytest.raises(InputError, match="is not NAME=NUMBER"):
        settings([given], "--control")


def test_a_setting_that_is_no_number_names_its_control():
    with pytest.raises(InputError, match=r"^solvent_ml_per_l: 'much' is not a number"):
        settings(["solvent_ml_per_l=much"], "--control")


def test_pairs_keep_what_follows_the_first_equals_sign():
    assert pairs(["a=b=c"], "--choose", "x=y") == [("a", "b=c")]


class _Pipe:
    def __init__(self, data: bytes):
        self.buffer = io.BytesIO(data)


def test_standard_input_is_not_read_without_end(monkeypatch):
    monkeypatch.setattr(sys, "stdin", _Pipe(b"x" * 11))
    with pytest.raises(InputError, match="standard input: there is more than"):
        read_given("-", 10)
    monkeypatch.setattr(sys, "stdin", _Pipe(b"x" * 10))
    assert read_given("-", 10) == b"x" * 10


def test_what_is_no_text_is_told(tmp_path):
    file = tmp_path / "list.csv"
    file.write_bytes(b"PK\x03\x04" + bytes(9))
    with pytest.raises(InputError, match="not text"):
        text_of(str(file))


def test_a_pattern_is_compiled_when_it_is_first_asked(monkeypatch):
    compiled = []
    truly = re.compile
    monkeypatch.setattr(re, "compile", lambda pattern, flags: compiled.append(pattern) or truly(pattern, flags))
    late = regex(r"(?P<n>\d+) ml", re.I)
    assert (compiled, late.pattern) == ([], r"(?P<n>\d+) ml")
    assert [late.sub("x", "a 5 ML") for _ in range(2)] == ["a x", "a x"] and compiled == [late.pattern]
    assert late.search("12 ML")["n"] == "12" and late.fullmatch("a 12 ml") is None
