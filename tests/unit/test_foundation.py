"""The ground floor: one sentence per error, intervals, standings, documents."""

import math
import pickle

import pytest

from obverse.foundation import (
    Caution,
    Document,
    Estimate,
    InputError,
    NotFoundError,
    ObverseError,
    Source,
    Standing,
    StoreError,
    UnsafeError,
    parse_json,
    read_document,
)


def test_an_error_is_one_sentence_of_place_fault_and_remedy():
    error = InputError("density is missing", where="strip.csv line 3", remedy="add the column")
    assert "strip.csv line 3: density is missing; add the column." == str(error)


def test_an_error_without_place_or_remedy_is_still_a_sentence():
    assert "the disk is full." == str(StoreError("the disk is full"))


def test_exit_codes_follow_the_contract():
    assert 2 == InputError("x").exit_code == StoreError("x").exit_code
    assert 3 == UnsafeError("x").exit_code


def test_not_found_can_be_caught_as_bad_input_and_as_value_error():
    assert issubclass(NotFoundError, InputError)
    assert issubclass(InputError, ValueError)
    assert not issubclass(UnsafeError, InputError), "unsafe must never be swallowed as a mere input fault"


def test_errors_survive_pickling():
    error = pickle.loads(pickle.dumps(UnsafeError("chlorine", where="jug C", remedy="keep apart")))
    assert ("jug C: chlorine; keep apart.", UnsafeError) == (str(error), type(error))


def test_every_error_of_the_tree_has_its_own_code():
    def below(kind):
        return [kind] + [deep for child in kind.__subclasses__() for deep in below(child)]

    codes = [kind.code for kind in below(ObverseError)]
    assert len(set(codes)) == len(codes)


def test_the_interval_of_an_estimate_is_the_normal_one_unless_given():
    # Two-sided 90 % normal quantile 1.6449: standard normal table, from memory.
    assert 1.0 + 1.6449 * 0.1 == pytest.approx(Estimate(1.0, 0.1).high90, abs=1e-5)
    assert 0.7 == Estimate(1.0, 0.1, low90=0.7).low90


def test_a_negative_or_missing_uncertainty_is_refused():
    for sd in (-0.1, math.nan):
        with pytest.raises(ValueError):
            Estimate(1.0, sd)


def test_a_partly_remembered_source_says_so():
    assert "computed (partly from memory)" == Source("table", Standing.COMPUTED, partly_memory=True).words


def test_a_caution_keeps_its_source_on_the_way_to_the_screen():
    assert "inc.03" == Caution("pair", "never mix", source="inc.03").document()["source"]


class _Line(Document):
    volume_ml: float


def test_documents_refuse_unknown_fields_nan_and_words():
    for data, part in (
        ({"volume_ml": 1, "colour": 2}, "colour"),
        ({"volume_ml": math.nan}, "finite"),
        ({"volume_ml": "much"}, "much"),
        ({}, "volume_ml"),
        ([], "an object"),
    ):
        with pytest.raises(InputError) as caught:
            read_document(_Line, data, where="line")
        assert part in caught.value.sentence
        assert caught.value.sentence.startswith("line: ")


def test_documents_are_frozen():
    with pytest.raises(Exception, match="frozen"):
        _Line(volume_ml=1).volume_ml = 2


@pytest.mark.parametrize("text", ['{"a": NaN}', '{"a": Infinity}', "{", b"\xff\xfe\x00", "[" * 100_000])
def test_what_is_not_json_is_refused_in_one_sentence(text):
    with pytest.raises(InputError) as caught:
        parse_json(text, where="file.json")
    assert caught.value.sentence.startswith("file.json: ")
    assert "\n" not in caught.value.sentence
