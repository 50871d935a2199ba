"""Whatever a label leaves open, what comes of it keeps its bounds and is never below nothing."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from obverse.chemistry import parse_strength
from obverse.foundation import InputError
from obverse.mixing import contents_of, mix
from obverse.process import Component, Content, Formula, Product, ProductLabel, label_of, read_label

numbers = st.decimals(min_value="0.1", max_value="60", places=1).map(lambda d: f"{d.normalize():f}")
SUBSTANCES = (
    "ammonia",
    "hydroquinone",
    "iron_iii_chloride",
    "citric_acid",
    "sodium_carbonate",
    "acetic_acid",
    "hydrogen_peroxide",
)


@st.composite
def strengths(draw) -> str:
    low, more = draw(numbers), draw(numbers)
    high = f"{float(low) + float(more):g}"
    text = draw(
        st.sampled_from(
            [
                "{low}-{high}",
                "under {high}",
                "about {low}",
                "{low}",
                ">= {low} - < {high}",
                "{low} or more",
                "{high} max",
            ]
        )
    )
    unit = draw(st.sampled_from([" %", "%", " % w/w", " % w/v", ""]))
    said = text.format(low=low, high=high)
    head = said.partition(" or more")[0] if " or more" in said else said.partition(" max")[0]
    text = head + unit + said[len(head) :]
    return draw(st.sampled_from([text, text.replace(".", ","), "not said"]))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(SUBSTANCES), strengths()), min_size=1, max_size=3, unique_by=lambda x: x[0]))
def test_bounds_hold_the_likeliest_from_label_to_bath(lines):
    try:
        product = Product(
            key="own", name="own", form="liquid", contents=tuple(Content(substance=s, strength=t) for s, t in lines)
        )
        brought = contents_of(product)
    except ValueError as error:
        assert "more than can be" in str(error) or "would weigh" in str(error)
        return
    for content, brings in zip(product.contents, brought, strict=True):
        read = parse_strength(content.strength)
        assert read.low <= read.value <= read.high
        bounds = brings.bounds
        assert read.is_open == (bounds is not None) or bounds is not None
        assert bounds is None or 0 <= bounds.low <= brings.grams_per_unit <= bounds.high
    wanted = Formula(
        name="a bath", role="bleach", components=(Component(substance=lines[0][0], concentration="0.5 g/L"),)
    )
    try:
        sheet = mix(wanted, 500, (product,))
    except InputError:
        return  # too little to measure, or not its chief content
    for made in sheet.made:
        assert 0 <= made.made_g_per_l.low90 <= made.made_g_per_l.value <= made.made_g_per_l.high90
    for key, bounds in sheet.bounds_g_per_l.items():
        assert 0 <= bounds.low <= sheet.contents_g_per_l[key] * (1 + 1e-9) and sheet.contents_g_per_l[
            key
        ] <= bounds.high * (1 + 1e-9)
        assert sheet.at("low").contents_g_per_l[key] == pytest.approx(bounds.low)
    assert sheet.ph is None or sheet.ph.low90 <= sheet.ph.value <= sheet.ph.high90


@settings(max_examples=60, deadline=None)
@given(
    st.text(max_size=20),
    strengths() | st.text(max_size=12),
    st.text(max_size=12),
    st.text(max_size=12),
    st.text(max_size=20),
)
def test_any_label_is_taken_in_or_told_and_comes_back(substance, strength, density, package, statements):
    label = ProductLabel(
        name="x",
        contents=({"substance": substance, "strength": strength},),
        density=density,
        package=package,
        statements=statements,
    )
    read = read_label(label)
    for problem in read.problems:
        assert problem.error.remedy and problem.field.split("[")[0] in ("substance", "strength", "density", "package")
    if read.problems:
        return
    product = Product.model_validate({**read.document, "key": "x"})
    again = label_of(product)
    unread = {one.field for one in read.unread}
    for field, typed, back in (("density", density, again.density), ("package", package, again.package)):
        assert back == ("" if field in unread else typed.strip())
        assert field not in unread or f"On the label, {field}: {typed.strip()}" in product.note
    assert read_label(again).document["contents"] == read.document["contents"]
