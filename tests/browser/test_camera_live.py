"""The camera of a device inside the page: a browser with a fake camera that shows rendered frames, over TLS."""

import numpy as np
import pytest

from benchmarks.simulated_files import save_jpeg
from obverse.imaging.render import RenderedScene, RenderedStrip, develop, expose, render

from .conftest import House, browser_path

DENSITIES = (0.2, 0.45, 0.8, 1.2, 1.6)
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--use-fake-device-for-media-stream"]


@pytest.fixture(scope="module")
def sealed(tmp_path_factory):
    running = House(tmp_path_factory.mktemp("home"), "serve", "--tls").start()
    yield running
    running.stop()


@pytest.fixture(scope="module")
def film(tmp_path_factory):
    """A film clip of one strip: each frame with its own noise."""
    rng = np.random.default_rng(5)
    corners = np.array([[120.0, 190], [520, 186], [522, 290], [118, 294]])
    strip = RenderedStrip(DENSITIES, pitch_mm=30)
    light = render(strip, RenderedScene(640, 480, corners, mask=True, glare=0.001), rng)
    path = tmp_path_factory.mktemp("film") / "strip.mjpeg"
    path.write_bytes(b"".join(save_jpeg(develop(expose(light, 0.95, rng)), quality=95) for _ in range(6)))
    return path


@pytest.fixture(scope="module")
def with_camera(film, playwright):
    """A browser whose camera shows the film."""
    browser = playwright.chromium.launch(
        executable_path=browser_path(whole=True),  # the other build has no camera
        args=[*ARGUMENTS, f"--use-file-for-fake-video-capture={film}"],
    )
    yield browser
    browser.close()


@pytest.fixture
def phone(with_camera):
    """Pages of a phone with a camera; `allowed` says whether a page may use it."""
    contexts = []

    def make(allowed: bool = True):
        context = with_camera.new_context(
            viewport={"width": 390, "height": 844},
            ignore_https_errors=True,
            permissions=["camera"] if allowed else [],
        )
        context.set_default_timeout(90_000)
        contexts.append(context)
        return context.new_page()

    yield make
    for context in contexts:
        context.close()


def test_the_phone_sees_the_strip_takes_it_and_draws_the_densities(sealed, phone, axe, picture_of):
    page = phone()
    page.goto(sealed.url + "/light-table/live")
    assert sealed.url.startswith("https:")
    page.fill("#patches", str(len(DENSITIES)))
    page.click("#start")
    page.locator("#sees", has_text="strip seen").and_(page.locator("#sees", has_not_text="no strip")).wait_for()
    picture_of(page, "camera-live")
    # The network goes while it is sent: what was taken waits, and one press sends it.
    page.route("**/api/light-table/frames?*", lambda route: route.abort())
    page.click("#take")
    page.wait_for_selector("#resend:not([hidden])")
    page.click(".toast button")
    page.unroute("**/api/light-table/frames?*")
    page.click("#resend")
    page.wait_for_selector("#result:not([hidden]) #curve circle")
    assert page.is_hidden("#resend")
    assert page.locator("#curve circle").count() == len(DENSITIES)
    axe(page)
    picture_of(page, "camera-live-result")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    # Averaged frames are kept as one picture that can be corrected and laid on the table.
    page.click("#onward")
    page.wait_for_selector("#table tbody tr")
    read = [float(cell.inner_text()) for cell in page.locator("#table tbody tr td:nth-child(2)").all()]
    # The browser's way through video signals bends the tone curve, as a phone's does; order and rough size remain.
    assert read == sorted(read)
    assert read == pytest.approx(DENSITIES, rel=0.3)
    page.click("#report-box summary")
    page.click("#report")
    page.wait_for_selector("#report-made a")
    assert "report.json" in page.inner_text("#report-made")


def test_a_camera_that_is_refused_leaves_the_file_chooser(sealed, phone):
    page = phone(allowed=False)
    page.goto(sealed.url + "/light-table/live")
    page.click("#start")
    page.wait_for_selector("#trouble:not([hidden])")
    assert "not allowed" in page.inner_text("#trouble") and "pictures below" in page.inner_text("#trouble")
    assert page.is_visible("#start") and page.locator("#files").count() == 1
    # What is chosen there and cannot be read is kept, with the number, for whoever says where the strip lies.
    empty = save_jpeg(np.full((120, 160, 3), 190, np.uint8))
    page.fill("#patches", "9")
    page.set_input_files(
        "#files",
        [
            {"name": name, "mimeType": "image/jpeg", "buffer": data}
            for name, data in (("empty.jpg", empty), ("list.jpg", b"density 0.1\n"))
        ],
    )
    page.wait_for_selector("#refused:not([hidden])")
    assert "no strip can be made out" in page.inner_text("#refused-words")
    assert "list.jpg: this is text" in page.inner_text("#not-kept")
    page.click("#by-hand")
    page.wait_for_selector(".handle >> nth=3")
    assert page.input_value("#patches") == "9"
    page.click("#report-box summary")
    page.click("#report")
    page.wait_for_selector("#report-made a")
    page.click("#again")
    page.wait_for_selector("#table tbody tr")
    assert page.locator("#table tbody tr").count() == 9


def test_a_camera_that_goes_away_and_a_page_in_the_background_are_told(sealed, phone):
    page = phone()
    page.goto(sealed.url + "/light-table/live")
    page.fill("#patches", str(len(DENSITIES)))
    page.click("#start")
    page.wait_for_selector("#take:not([hidden])")
    page.evaluate("Object.defineProperty(document, 'hidden', { value: true, configurable: true })")
    page.click("#take")
    page.wait_for_selector(".toast-error")
    assert "in the background" in page.inner_text(".toast-error")
    page.evaluate("Object.defineProperty(document, 'hidden', { value: false })")
    page.evaluate("document.getElementById('video').srcObject.getVideoTracks()[0].dispatchEvent(new Event('ended'))")
    page.wait_for_selector("#trouble:not([hidden])")
    assert "taken away" in page.inner_text("#trouble") and page.is_visible("#start")


def test_a_phone_that_is_turned_while_it_takes_is_told(sealed, phone):
    page = phone()
    page.goto(sealed.url + "/light-table/live")
    page.click("#start")
    page.wait_for_selector("#take:not([hidden])")
    page.wait_for_function("() => document.getElementById('video').videoWidth > 0")
    page.evaluate(
        """() => { const video = document.getElementById("video"); let asked = 0;
        Object.defineProperty(video, "videoWidth", { get: () => (asked++ < 6 ? 640 : 480) });
        Object.defineProperty(video, "videoHeight", { get: () => (asked < 6 ? 480 : 640) }); }"""
    )
    page.click("#take")
    page.wait_for_selector(".toast-error")
    assert "turned" in page.inner_text(".toast-error")


def test_a_browser_without_cameras_for_pages_says_so(sealed, phone):
    page = phone()
    page.add_init_script("Object.defineProperty(navigator, 'mediaDevices', { value: undefined })")
    page.goto(sealed.url + "/light-table/live")
    page.click("#start")
    assert "gives no camera to a page" in page.inner_text("#trouble")
