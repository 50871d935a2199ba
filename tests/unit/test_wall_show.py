"""An evening laid into trays, its list and the labels of its mounts on paper."""

import pytest

from obverse.foundation import InputError
from obverse.process import ShowList, Slide
from obverse.sheets.show_list import MOUNT_GRIDS, mount_labels_data, show_data, show_list_pdf
from obverse.sheets.typeset import ask
from obverse.workbench.slides import Show, heat_notes, turns_of

LONG = "Harbour at six in the morning, fog over the water, two cranes and a boat that waits " * 2


def slides(count, **more):
    return [(f"id{n}", Slide(roll="harbour", frame=str(n), **more)) for n in range(1, count + 1)]


def where(order, count):
    return [(turn.projector, turn.tray, turn.slot) for turn in turns_of(order, slides(count))]


def test_one_projector_fills_its_trays_one_after_the_other():
    order = ShowList(name="An evening", tray_slots=3)
    assert where(order, 4) == [("A", 1, 1), ("A", 1, 2), ("A", 1, 3), ("A", 2, 1)]
    later = ShowList(name="An evening", tray_slots=3, first_slot=3)
    assert where(later, 2) == [("A", 1, 3), ("A", 2, 1)]


def test_two_projectors_take_turns_slot_beside_slot():
    order = ShowList(name="An evening", projectors=2, tray_slots=2)
    assert where(order, 5) == [("A", 1, 1), ("B", 1, 1), ("A", 1, 2), ("B", 1, 2), ("A", 2, 1)]


def test_what_to_see_to_before(client, workbench):
    kept = workbench.projector.slides
    a, b, c = (one.id for one in kept.add_roll("harbour", 3))
    kept.change(a, {"mounted": True, "mount": "glass", "thickness_mm": 3.0, "upright": True, "title": "Two cranes"})
    kept.change(b, {"mounted": True, "mount": "no glass", "thickness_mm": 4.0})
    list_id = kept.keep_list({"name": "An evening", "slides": [a, b, c], "projectors": 2}).id
    remarks = kept.show(list_id).remarks
    assert [remark.split(":")[0] for remark in remarks[:1]] == ["Not mounted yet"] and "no. 3." in remarks[0]
    assert "glass (no. 1)" in remarks[1] and "no. 2." in remarks[2]
    kept.keep_list({"note": "hold the last", "projectors": 1}, id=list_id)
    again = kept.keep_list({"name": "A late evening"}, id=list_id).thing
    assert (again.note, again.projectors, again.slides) == ("hold the last", 1, (a, b, c))
    alike = kept.keep_list({"name": "Alike", "slides": [a]}).id
    assert kept.show(alike).remarks == ()
    page = client.get(f"/projector/slides?list={list_id}").text
    assert "Not mounted yet" in page and 'value="3.0"' in page and "common practice, no source" in page
    for url in (f"/projector/lists/{list_id}.pdf", f"/projector/slides/labels.pdf?list={list_id}"):
        assert client.get(url).content[:5] == b"%PDF-", url
    assert client.get("/projector/slides/labels.pdf?roll=harbour&grid=letter-80&skip=3").content[:5] == b"%PDF-"
    assert client.get("/projector/slides/labels.pdf?roll=nothing").status_code == 422
    assert client.get("/projector/slides/labels.pdf?roll=harbour&grid=a7").status_code == 422
    assert client.get("/projector/lists/nothing.pdf").status_code == 404


def test_the_list_says_title_mount_and_slot_and_how_heat_is_known():
    order = ShowList(name="An evening", projectors=2)
    made = [("a", Slide(roll="R", frame="7", title="Fog", mounted=True, mount="glass", thickness_mm=3, upright=True))]
    data = show_data(Show(order, turns_of(order, made), ()), None, "a4")
    (turn,) = data["turns"]
    assert (turn["slot"], turn["title"], turn["frame"], turn["mount"]) == (
        "A 1",
        "Fog",
        "R, frame 7",
        "glass, 3 mm, upright",
    )
    assert data["head"] == "1 slide, two projectors, A and B in turn, 1 tray of 80"
    assert [told["standing"] for told in data["heat"]] == [told.standing for told in heat_notes()]
    assert all(told.standing for told in heat_notes())
    with pytest.raises(InputError, match="no slide"):
        show_list_pdf(Show(order, (), ()))
    with pytest.raises(InputError, match="no paper"):
        show_list_pdf(Show(order, turns_of(order, made), ()), paper="a7")


def test_every_label_fits_the_smallest_sheet_and_every_slide_has_one():
    made = [
        ("80", slide.model_copy(update={"title": LONG[:160] if n % 2 else "Fog"}))
        for n, (_, slide) in enumerate(slides(79))
    ]
    fits = ask("mount_labels", mount_labels_data(made, "letter-80", skip=2), "fit")
    assert [one["frame"] for one in fits] == [f"harbour {n}" for n in range(1, 80)]
    assert all(one["fits"] for one in fits)
    for grid, sheet in MOUNT_GRIDS.items():
        pages = mount_labels_data(made, grid, skip=2)["pages"]
        assert [len(page) for page in pages] == [sheet.count, 81 - sheet.count]
    with pytest.raises(InputError, match="80 used labels"):
        mount_labels_data(made, "letter-80", skip=80)


def test_labels_stay_on_their_paper():
    for sheet in MOUNT_GRIDS.values():
        wide, high = (210, 297) if sheet.paper == "a4" else (215.9, 279.4)
        assert sheet.left_mm + (sheet.columns - 1) * sheet.pitch_x_mm + sheet.width_mm <= wide
        assert sheet.top_mm + (sheet.rows - 1) * sheet.pitch_y_mm + sheet.height_mm <= high
