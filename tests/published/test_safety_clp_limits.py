"""Classification by strength.

Source: Regulation (EC) 1272/2008 (CLP): generic limits of tables 3.2.3 and 3.3.3 for ammonia solutions, specific limits
of Annex VI for sulfuric acid, hydrogen peroxide, acetic acid, sodium hydroxide. The 5 % limit of ammonia and the
harmonised entries of ammonia and peroxide were looked up in the reference; the rest is from memory, as it says there.
"""

import pytest

from obverse.safety.hazards import codes_of, hazards_of

ROWS = {
    "ammonia": "ammonia 10-35 %",
    "sulfuric": "sulfuric acid >= 15 %",
    "peroxide": "hydrogen peroxide",
    "acetic": "acetic acid 5 %",
    "lye": "sodium hydroxide",
}


@pytest.mark.parametrize(
    ("what", "percent", "codes"),
    [
        ("ammonia", 0.5, set()),
        ("ammonia", 2, {"H315", "H319"}),
        ("ammonia", 4, {"H315", "H318"}),
        ("ammonia", 5, {"H314", "H335"}),
        ("ammonia", 25, {"H290", "H302", "H314", "H335", "H400"}),
        ("sulfuric", 4, set()),
        ("sulfuric", 5, {"H315", "H319"}),
        ("sulfuric", 14.9, {"H315", "H319"}),
        ("sulfuric", 15, {"H290", "H314"}),
        ("sulfuric", 96, {"H290", "H314"}),
        ("peroxide", 3, set()),
        ("peroxide", 6, {"H319"}),
        ("peroxide", 12, {"H318"}),
        ("peroxide", 30, {"H302", "H318"}),
        ("peroxide", 40, {"H302", "H315", "H318", "H335"}),
        ("peroxide", 60, {"H272", "H302", "H314", "H332", "H335"}),
        ("peroxide", 80, {"H271", "H302", "H314", "H332", "H335"}),
        ("acetic", 5, set()),
        ("acetic", 10, {"H315", "H319"}),
        ("acetic", 25, {"H314"}),
        ("acetic", 80, {"H314"}),
        ("lye", 0.4, set()),
        ("lye", 1, {"H315", "H319"}),
        ("lye", 3, {"H314"}),
        ("lye", 10, {"H290", "H314"}),
    ],
)
def test_band(what, percent, codes):
    assert set(codes_of(ROWS[what], percent)[0]) == codes


@pytest.mark.parametrize(
    ("product", "code"),
    [
        ("household_ammonia_5", "H314"),
        ("battery_acid_37", "H314"),
        ("sulfuric_96", "H314"),
        ("peroxide_12", "H318"),
        ("vinegar_essence_25", "H314"),
        ("caustic_soda", "H314"),
        ("dichromate_crystals", "H350"),
        ("dichromate_crystals", "H340"),
        ("permanganate_crystals", "H272"),
        ("metabisulfite_sodium", "EUH031"),
        ("thiocyanate_crystals", "EUH032"),
        ("laundry_bleach", "EUH031"),
        ("dithionite_85", "H251"),
        ("etchant_42be", "H290"),
    ],
)
def test_bottle_carries_its_gravest_statement(product, code):
    assert code in {each.code for each in hazards_of(product).codes}
