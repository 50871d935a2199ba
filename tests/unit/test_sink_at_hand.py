"""Before the light goes out: what the plan asks for, compared with a shelf that was stocked by hand."""

import pytest

from obverse.run import PlannedBath
from obverse.workbench.ready_words import bath_words, film_line, lacking, plan_document, ready_groups

IRON = "iron_ammonia_light"
STOCK = [
    "fixer_ats_60wv",
    "household_ammonia_10",
    "etchant_40ww",
    "citric_monohydrate",
    "sulfite_anhydrous",
    "wetting_agent",
    "soda_ash",
    "paper_developer_concentrate",
    "metabisulfite_sodium",
]


@pytest.fixture
def shelf(workbench):
    for key in STOCK:
        workbench.shelf.add_generic(key)
    return workbench.shelf


def states(workbench, **more):
    plan = workbench.sink.plan({"route": IRON, "tank_ml": 500, **more})
    return {one.key: one.state for one in plan.at_hand}, plan


def test_what_destroys_the_ammonia_bath_is_asked_for_before_the_light_goes_out(workbench, shelf):
    found, plan = states(workbench)
    assert found == {
        "bucket": "missing",
        "salt": "missing",
        "bisulfate": "missing",
        "test_strips": "missing",
        "washing_soda": "there",
        "jar": "asked",
    }
    first = plan_document(plan)["actions"][0]
    assert first["kind"] == "lay_out"
    told = " ".join(first["lines"])
    for word in (
        "kitchen salt, about 10 g",
        "sodium bisulfate",
        "pH test strips",
        "2 plastic buckets, 6 L or more each",
    ):
        assert word in told
    before_dark = [a.kind for a in plan.actions].index("lights_out")
    assert before_dark > 0 and any("not on your shelf" in line for line in first["lines"])


def test_nothing_is_said_of_a_shelf_that_nobody_filled(workbench):
    found, plan = states(workbench)
    assert set(found.values()) == {"asked"}
    # That no bottle of a lasting bath was written down is known all the same.
    assert lacking(plan) == tuple(b.name[:1].upper() + b.name[1:] for b in plan.baths if not b.action)


def test_a_lasting_bath_without_a_bottle_is_told_from_its_parts_and_read_in_older_plans(workbench, shelf):
    made = next(bath for bath in states(workbench)[1].baths if not bath.action and bath.portions)
    not_made = made.model_copy(update={"portions": (), "reason": "nothing on the shelf brings it."})
    assert "this shelf. Mix it at the bench first: " in bath_words(made) and bath_words(made).endswith(" mL.")
    assert bath_words(not_made) == f"It stands in no bottle on this shelf. It cannot be mixed here: {not_made.reason}"
    for bath in (made, not_made):
        # Older plans hold the sentence in place of what it says.
        older = bath.model_dump(exclude={"unmade"}) | {"reason": bath_words(bath)}
        assert PlannedBath.model_validate(older) == bath


def test_what_stands_there_is_named_and_a_bucket_too_small_is_told(workbench, shelf):
    shelf.add_generic("ph_minus")
    shelf.add_generic("pure_salt")
    shelf.add_bottle({"name": "salt in its bag", "product": "pure_salt", "amount": 4})
    shelf.add_tool({"name": "strips from the pool", "kind": "test_strips"})
    bucket = shelf.add_tool({"name": "small bucket", "kind": "bucket", "volume_ml": 8000})
    found, plan = states(workbench)
    # 8.5 L do not go into one bucket of 8 L: two are asked for, and one stands there.
    assert found["bucket"] == "short" and found["salt"] == "short" and found["bisulfate"] == "there"
    assert "2 plastic buckets" in next(one.what for one in plan.at_hand if one.key == "bucket")
    assert next(one.have for one in plan.at_hand if one.key == "bisulfate").startswith("pool pH-minus")
    shelf.retire("tool", bucket)
    shelf.add_tool({"name": "mop bucket", "kind": "bucket", "volume_ml": 12_000})
    assert states(workbench)[0]["bucket"] == "there"


def test_one_bucket_serves_one_bath(workbench, shelf):
    for key in ("colour_run_remover", "pure_salt", "ph_minus"):
        shelf.add_generic(key)
    shelf.add_tool({"name": "mop bucket", "kind": "bucket", "volume_ml": 12_000})
    request = {"route": "iron_ammonia_fogging", "tank_ml": 500}
    buckets = [(b.of, b.count, b.state) for b in workbench.sink.plan(request).at_hand if b.key == "bucket"]
    assert [(count, state) for _, count, state in buckets] == [(1, "there"), (1, "missing")]
    shelf.add_tool({"name": "second bucket", "kind": "bucket", "volume_ml": 10_000})
    found = [b for b in workbench.sink.plan(request).at_hand if b.key == "bucket"]
    assert [b.state for b in found] == ["there", "there"] and len({b.have for b in found}) == 2


def test_a_powder_that_holds_soda_among_others_is_no_washing_soda(workbench, shelf):
    shelf.retire("product", "soda_ash")
    shelf.add_generic("colour_run_remover")
    assert states(workbench)[0]["washing_soda"] == "missing"


def test_baths_are_told_by_the_persons_bottles_and_chosen_ones_go_along(workbench, shelf):
    shelf.add_generic("household_ammonia_5")
    _, plan = states(workbench, choose=["ammonia:household_ammonia_5"])
    bath = next(b for b in plan.baths if b.formula == "ammonia_bath")
    assert [p.product for p in bath.portions] == ["household_ammonia_5"]
    _, other = states(workbench, choose=["ammonia:household_ammonia_10"])
    two = next(b for b in other.baths if b.formula == "ammonia_bath")
    assert two.portions[0].amount == pytest.approx(bath.portions[0].amount / 2, rel=0.05)
    mix = next(a for a in plan_document(plan)["actions"] if a["kind"] == "prepare" and a["formula"] == "ammonia_bath")
    assert mix["do"].startswith(f"{bath.portions[0].amount:g} mL household ammonia 5 % w/w, water to 500 mL.")


def test_a_bottle_past_its_date_or_too_empty_is_told(workbench, shelf, clock):
    shelf.add_bottle(
        {"name": "old ammonia", "product": "household_ammonia_10", "amount": 12, "expires_on": "2031-11-04"}
    )
    _, plan = states(workbench)
    told = " ".join(c.text for c in plan.cautions if c.code.startswith("bottle."))
    assert "old ammonia is past its date, 4 November 2031" in told
    assert "are asked, 12 mL are left of it" in told
    sheet = workbench.bench.sheet("ammonia_bath", 500)
    assert {"bottle.past_date", "bottle.short"} <= {c.code for c in sheet.all_cautions}
    shelf.change_bottle(
        shelf.bottles()[0].id,
        {"name": "new ammonia", "product": "household_ammonia_10", "amount": 900, "expires_on": "2031-11-05"},
    )
    _, plan = states(workbench)
    assert not [c for c in plan.cautions if c.code.startswith("bottle.")]


def test_a_lasting_bath_may_be_mixed_anew_and_is_then_another_one(workbench, shelf):
    _, plan = states(workbench)
    fixer = next(b for b in plan.baths if b.formula == "fixer_rapid")
    assert fixer.unmade and not fixer.action
    assert "Rapid fixer, working strength" in lacking(plan)
    _, fresh = states(workbench, fresh=["fixer_rapid"])
    fixer = next(b for b in fresh.baths if b.formula == "fixer_rapid")
    assert fixer.action == "prepare.fixer_rapid" and fixer.portions
    workbench.care.mix_bath("fixer_rapid", 500, name="jug of fixer")
    _, kept = states(workbench)
    assert next(b for b in kept.baths if b.formula == "fixer_rapid").bottle == "jug of fixer"
    _, both = states(workbench, fresh=["fixer_rapid"])
    assert any(a.key == "prepare.fixer_rapid" for a in both.actions)


def test_a_bath_that_stands_but_does_not_fill_the_tank_is_told(workbench, shelf):
    workbench.care.mix_bath("fixer_rapid", 300, name="jug of fixer")
    _, plan = states(workbench)
    assert any("holds 300 mL, and the tank takes 500 mL" in c.text for c in plan.cautions)
    assert ready_groups(plan)[-1].name == "Waste"


def test_cautions_name_the_persons_bottles(workbench, shelf):
    _, plan = states(workbench)
    assert any("(yours: household ammonia" in c.text for c in plan.cautions)


def test_the_plan_page_shows_it_before_the_button(client, workbench, shelf):
    page = client.get(f"/sink/plan?route={IRON}&tank_ml=500&strip=A").text
    assert page.index("Before you start: have at hand") < page.index("To the sink")
    assert "pH test strips" in page and "not on your shelf" in page and "fresh=fixer_rapid" in page


def test_silver_and_cost_follow_the_area_of_the_film(workbench, shelf):
    priced = shelf.product("household_ammonia_10").thing.model_dump(mode="json") | {
        "package_amount": 1000,
        "package_price": 2.0,
    }
    shelf.change_product("household_ammonia_10", priced)
    one = workbench.sink.plan({"route": IRON, "strips": [{"name": "A"}]})
    two = workbench.sink.plan({"route": IRON, "strips": [{"name": "A", "pieces": [{"format": "120", "count": 2}]}]})
    poured = sum(p.amount for b in one.baths for p in b.portions if p.product == "household_ammonia_10")
    assert one.cost == two.cost == pytest.approx(2.0 * poured / 1000) and "household ammonia" not in str(one.unpriced)
    assert "577 cm²" in film_line(one) and "as much as 1 film 135" in film_line(one)
    # 2 x 61.5 mm x 83 cm by hand.
    assert "1021 cm² of film (from memory), as much as 1.8 films 135-36" in film_line(two)
