"""The picture page's interface: keeping, reading with progress, corners, calibration, the way to the trial."""

import hashlib
import io
import json
import time
import zipfile

import numpy as np
import pytest

from benchmarks.simulated_files import save_jpeg
from obverse.capture import save_tiff
from obverse.imaging.render import RenderedScene, RenderedStrip, develop, expose, render
from obverse.workbench.strip_files import ReadAsked

CORNERS = np.array([[60.0, 110], [360, 110], [360, 170], [60, 170]])
STRIP = RenderedStrip(tuple(np.linspace(0.1, 1.7, 6)), pitch_mm=30)


@pytest.fixture(scope="module")
def bracket():
    rng = np.random.default_rng(1)
    light = render(STRIP, RenderedScene(420, 280, CORNERS, mask=True, glare=0.001), rng)
    return [save_tiff(expose(light, t, rng), exposure_s=t / 64) for t in (1.0, 8.0)], save_jpeg(
        develop(expose(light, 1.0, rng))
    )


def send(client, *files):
    return client.post(
        "/api/light-table/pictures", files=[("files", (name, data, "image/tiff")) for name, data in files]
    )


def read(client, **asked):
    job = client.post("/api/light-table/pictures/read", json=asked).json()["job"]
    for _ in range(600):
        answer = client.get(f"/api/light-table/pictures/jobs/{job}")
        if answer.status_code != 200 or answer.json()["done"]:
            return answer
        assert 0 <= answer.json()["share"] <= 1
        time.sleep(0.05)
    pytest.fail("the reading never ended")


def test_good_pictures_are_kept_and_bad_ones_get_a_sentence(client, bracket):
    answer = send(client, ("a.tif", bracket[0][0]), ("../notes.txt", b"hello")).json()
    (kept,) = answer["pictures"]
    assert kept["width"] == 420 and kept["exposure_s"] == pytest.approx(1 / 64, rel=1e-3) and kept["simulated"]
    (refused,) = answer["refused"]
    assert refused["detail"].startswith("notes.txt: this is text, not a picture")
    again = send(client, ("a.tif", bracket[0][0])).json()["pictures"]
    assert again[0]["id"] == kept["id"]


def test_a_bracket_is_read_and_stays_with_its_picture(client, bracket):
    ids = [p["id"] for p in send(client, *((f"{k}.tif", data) for k, data in enumerate(bracket[0]))).json()["pictures"]]
    reading = read(client, pictures=ids, patches=6).json()["reading"]
    assert [p["density"] for p in reading["patches"]] == pytest.approx(STRIP.densities, abs=0.02)
    assert reading["corners_found"] and reading["faults"] == []
    assert [p["sha256"] for p in reading["pictures"]] == [hashlib.sha256(data).hexdigest() for data in bracket[0]]
    turned = read(client, pictures=ids, patches=6, corners=np.roll(CORNERS, -2, axis=0).tolist()).json()["reading"]
    assert [p["density"] for p in turned["patches"]] == pytest.approx(STRIP.densities[::-1], abs=0.03)
    page = client.get(f"/light-table/picture?picture={ids[0]}")
    assert page.status_code == 200 and ids[1] in page.text
    view = client.get(f"/api/light-table/pictures/{ids[0]}/view.jpg")
    assert view.headers["content-type"] == "image/jpeg" and view.content[:3] == b"\xff\xd8\xff"


def test_the_picture_travels_with_the_reading_to_the_trial(client, bracket):
    film = client.post("/api/notebook/film", json={"name": "a 100-speed grey-base film", "box_speed": 100})
    (kept,) = send(client, ("a.jpg", bracket[1])).json()["pictures"]
    reading = read(client, pictures=[kept["id"]], patches=6).json()["reading"]
    patches = [
        {"log_exposure": 0.3 * k - 1.0, "density": p["density"], "density_sd": p["density_sd"]}
        for k, p in enumerate(reading["patches"])
    ]
    laid = client.post(
        "/api/light-table/reading",
        json={"name": "strip", "source": "picture", "picture": kept["id"], "patches": patches},
    )
    assert laid.status_code == 200
    assert client.get(f"/api/light-table/reading/{laid.json()['id']}").json()["picture"] == kept["id"]
    del film


def test_pictures_that_could_not_be_read_stay_together_with_the_count_for_whoever_puts_it_right(client, bracket):
    """Asked for on the phone, put right or reported on the page: nothing is chosen or typed again."""
    rng = np.random.default_rng(6)
    empty = [save_tiff(rng.integers(v, v + 99, (60, 90, 3), dtype=np.uint16)) for v in (20_000, 40_000)]
    ids = [p["id"] for p in send(client, *((f"{k}.tif", data) for k, data in enumerate(empty))).json()["pictures"]]
    refused = read(client, pictures=ids, patches=7)
    assert refused.status_code == 422 and refused.json()["code"] == "no_strip"
    text = client.get(f"/light-table/picture?picture={ids[0]}&patches=7").text
    opened = json.loads(text.partition('id="opened">')[2].partition("</script>")[0])
    assert opened["pictures"] == ids and opened["patches"] == 7 and opened["reading"] is None
    url = f"/api/light-table/pictures/{ids[0]}/report"
    assert [f["name"] for f in client.get(url).json()["files"]] == ["picture-1.tif", "picture-2.tif", "report.json"]
    with zipfile.ZipFile(io.BytesIO(client.get(f"{url}.zip?patches=7").content)) as packed:
        assert json.loads(packed.read("strip-report/report.json"))["patches"] == 7
    laid = [[20, 20], [70, 20], [70, 40], [20, 40]]
    assert read(client, pictures=[ids[0], *ids], patches=7, corners=laid).status_code == 200


def test_what_is_wrong_comes_as_one_sentence(client, bracket):
    (kept,) = send(client, ("a.jpg", bracket[1])).json()["pictures"]
    answer = read(client, pictures=[kept["id"]], patches=6, dividers=[0, 0.5, 1])
    assert answer.status_code == 422
    assert "dividers were given without corners" in answer.json()["detail"]
    assert client.get("/api/light-table/pictures/jobs/none").status_code == 404
    assert read(client, pictures=["nobody"], patches=3).status_code == 404
    assert (
        client.post("/api/light-table/pictures/read", json={"pictures": [kept["id"]], "patches": 0}).status_code == 422
    )
    assert client.get("/light-table/picture?picture=nobody").status_code == 404


def test_a_tablet_calibrates_until_it_is_forgotten(client, bracket):
    ids = [p["id"] for p in send(client, *((f"{k}.tif", data) for k, data in enumerate(bracket[0]))).json()["pictures"]]
    early = client.post(
        "/api/light-table/pictures/calibration", json={"picture": ids[0], "densities": [0.1, 0.2, 0.3, 0.4, 0.5, 0.6]}
    )
    assert early.status_code == 422 and "not read yet" in early.json()["detail"]
    read(client, pictures=ids, patches=6)
    known = [d / 1.1 for d in STRIP.densities]
    made = client.post("/api/light-table/pictures/calibration", json={"picture": ids[0], "densities": known}).json()[
        "calibration"
    ]
    assert made["slope"] == pytest.approx(1 / 1.1, abs=0.02)
    reading = read(client, pictures=ids, patches=6).json()["reading"]
    assert reading["kind"] == "diffuse density"
    assert [p["density"] for p in reading["patches"]] == pytest.approx(known, abs=0.02)
    again = client.post("/api/light-table/pictures/calibration", json={"picture": ids[0], "densities": known})
    assert again.status_code == 422 and "calibration already" in again.json()["detail"]
    client.delete("/api/light-table/pictures/calibration")
    assert read(client, pictures=ids, patches=6).json()["reading"]["kind"] == "camera density"


def test_a_calibration_that_another_device_made_meanwhile_is_not_written_over(client, bracket):
    url = "/api/light-table/pictures/calibration"
    ids = [p["id"] for p in send(client, *((f"{k}.tif", data) for k, data in enumerate(bracket[0]))).json()["pictures"]]
    read(client, pictures=ids, patches=6)

    def take(share, revision):
        densities = [d / share for d in STRIP.densities]
        return client.post(url, json={"picture": ids[0], "densities": densities, "revision": revision})

    assert (
        '<script type="application/json" id="calibration-revision">0</script>'
        in client.get("/light-table/picture").text
    )
    first = take(1.1, 0)
    assert first.json()["revision"] == 1
    late = take(1.2, 0)
    assert late.status_code == 409 and late.json()["revision"] == 1
    assert client.delete(f"{url}?revision=9").status_code == 409
    assert client.delete(f"{url}?revision=1").status_code == 200
    # Forgotten meanwhile: a change too, and the number that is told is the one that leads on.
    forgotten = take(1.2, 1)
    assert forgotten.status_code == 409 and forgotten.json()["revision"] == 2
    again = take(1.2, 2)
    assert again.status_code == 200 and again.json()["calibration"]["slope"] == pytest.approx(1 / 1.2, abs=0.02)
    client.delete(url)


def test_the_simulated_strip_is_marked_and_can_be_read(workbench):
    camera = workbench.camera
    pictures = camera.add_simulated(3)
    assert len(pictures) == 3 and all(p.thing.simulated for p in pictures)
    shares = []
    document = camera.read(
        [p.id for p in pictures], ReadAsked(11), progress=lambda share, words: shares.append(share)
    ).document()
    assert shares == sorted(shares)
    assert any(c["code"] == "picture.simulated" for c in document["cautions"])
    assert document["patches"][0]["density"] > 2.3 > 0.2 > document["patches"][-1]["density"]
