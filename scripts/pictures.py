"""Take the pictures of the README from the demo, at laptop and phone width: needs chromium."""

import re
import shutil
import subprocess
import sys
from pathlib import Path

from playwright.sync_api import sync_playwright

PICTURES = Path(__file__).parents[1] / "docs" / "pictures"
FILM = "/notebook/teaching-film-a"
# name, path, width, height; the height is that of the picture.
TAKEN = (
    ("notebook", FILM, 1280, 1130),
    ("notebook", FILM, 390, 1500),
    ("shelf", "/shelf", 1280, 1000),
    ("projector", "/projector", 1280, 1130),
    ("light-table", "/light-table", 1280, 1130),
    ("start", "/", 390, 1250),
)


def main() -> None:
    """Start the demo, look at it, stop it."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    command = [sys.executable, "-u", "-m", "obverse", "demo", "--no-browser", "--port", "0"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as server, sync_playwright() as playwright:
        try:
            address = next(found[0] for line in server.stdout if (found := re.search(r"http://127\.0\.0\.1:\d+", line)))
            browser = playwright.chromium.launch(
                executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-gpu"]
            )
            for name, path, width, height in TAKEN:
                page = browser.new_page(viewport={"width": width, "height": height})
                page.goto(address + path, wait_until="networkidle")
                page.wait_for_timeout(1500)
                page.screenshot(path=PICTURES / f"{name}-{width}.png")
                page.close()
            browser.close()
        finally:
            server.terminate()


if __name__ == "__main__":
    main()
