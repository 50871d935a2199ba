"""Film formats: areas against arithmetic of another hand, and what people call them."""

import pytest

from obverse.foundation import InputError, ObverseError
from obverse.process.formats import FORMATS, FilmPiece, area_of_pieces_m2, film_said, pieces_words, reels_of

# Width times length in mm by hand, from what a rule laid on such film reads; tolerance as the lengths vary.
BY_HAND_CM2 = {
    "135-36": (577, 25),
    "135-24": (420, 20),
    "135-12": (262, 20),
    "120": (510, 20),
    "220": (1015, 40),
    "127": (297, 35),
    "4x5 sheet": (125.4, 2),
    "5x7 sheet": (221, 3),
    "8x10 sheet": (509, 5),
    "9x12 sheet": (105.6, 2),
    "13x18 sheet": (230, 4),
    "super 8 cartridge": (1216, 20),
}


@pytest.mark.parametrize("key", [key for key, one in FORMATS.items() if one.kind != "length"])
def test_areas_of_rolls_and_sheets(key):
    centre, off = BY_HAND_CM2[key]
    assert FilmPiece(format=key).area_m2 * 1e4 == pytest.approx(centre, abs=off)


@pytest.mark.parametrize(
    ("said", "told", "cm2", "reels"),
    [
        ("135-36", "135-36", 577, 1),
        ("35mm-24", "135-24", 420, 1),
        ("2 x 120", "2 x 120", 1021, 2),
        ("two rolls of 120", "2 x 120", 1021, 2),
        ("3 × 220", "3 x 220", 3045, 3),
        ("16 mm, 3,2 m", "16 mm, 3.2 m", 510, 1),
        ("double-8 25 ft", "double-8, 7.62 m", 1215, 1),
        ("regular 8 mm 7.5 m", "double-8, 7.5 m", 1196, 1),
        ("135 40 cm", "135, 40 cm", 140, 1),
        ("3 strips of 35 mm 12 cm each", "3 x 135, 12 cm", 126, 3),
        ("six 4x5 in", "6 x 4x5 sheet", 752, 0),
        ("4x5 in x 6", "6 x 4x5 sheet", 752, 0),
        ("2 sheets of 13x18 cm", "2 x 13x18 sheet", 460, 0),
        ("8 x 10 in", "8x10 sheet", 509, 0),
        ("120 20 cm", "120 cut strip, 20 cm", 123, 1),
        ("135-36 + 2 x 120", "135-36 + 2 x 120", 1598, 3),
        ("super 8 cartridge", "super 8 cartridge", 1216, 1),
        ("16 mm, 100 ft", "16 mm, 30.48 m", 4862, 1),
    ],
)
def test_what_people_call_film(said, told, cm2, reels):
    pieces = film_said(said)
    assert pieces_words(pieces) == told
    assert area_of_pieces_m2(pieces) * 1e4 == pytest.approx(cm2, rel=0.01)
    assert reels_of(pieces) == reels
    # What is told back is understood again as the same.
    assert film_said(told) == pieces


@pytest.mark.parametrize(
    "said", ["35 mm", "16 mm", "a film", "7x9 cm", "120 and a half", "135-36 2 m", "0 x 120", "2 x 3 x 120", "1200"]
)
def test_what_cannot_be_told_is_asked_in_one_sentence(said):
    with pytest.raises(ObverseError) as told:
        film_said(said)
    assert isinstance(told.value, InputError) and "validation" not in told.value.sentence
    assert said in told.value.sentence


def test_a_small_change_of_length_is_a_small_change_of_area():
    one, two = (film_said(f"16 mm {length} m")[0].area_m2 for length in (3, 3.03))
    assert two / one == pytest.approx(1.01)
