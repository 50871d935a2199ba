"""A class of thirty at one house: three real browsers, twenty-seven devices by HTTP, twelve evenings that go on.

    python -m benchmarks.class_of_thirty FOLDER                     SQLite
    python -m benchmarks.class_of_thirty FOLDER --postgresql        a PostgreSQL of its own, in the folder

The home is a year old (`benchmarks/years_home.py`). All are let in by one code of the evening, and each device says whose
it is. Everybody looks at a page or writes something down, thinks, and does the next; each page is timed from the asking
to the last byte, in a browser until it has loaded and the strips of a film are drawn, and until its proposal stands. Told
are the median, the 95th percentile and the worst of each page, and what the house used of a processor.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import random
import re
import subprocess
import sys
import threading
import time
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.years_home import fill
from obverse.workbench.bootstrap import open_workbench

# Another loopback address stands in for the network of the school.
LAN = "127.0.0.2"
PUPILS, BROWSERS, EVENINGS = 30, 3, 12
# The code is made, its sheet printed and hung up, and then the class comes in; so long the house may reckon ahead.
COMES_IN_S = 60.0
# Between two pages a person reads; seconds, drawn evenly.
THINKS_S = (4.0, 12.0)
SLOW_S = 1.0
ROUTE = {"route": "permanganate_light"}
CHROMIUM = "/usr/bin/chromium"
FILM = "a film of the notebook"
TICKS = os.sysconf("SC_CLK_TCK")


@dataclass
class Timed:
    """How long each kind of page took, in seconds."""

    pages: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    failed: list[str] = field(default_factory=list)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def add(self, kind: str, took_s: float, status: int) -> None:
        with self.lock:
            self.pages[kind].append(took_s)
            if status >= http.client.BAD_REQUEST:
                self.failed.append(f"{kind}: {status}")

    def table(self) -> None:
        print(f"{'page':34} {'asked':>6} {'median':>7} {'p95':>7} {'worst':>7}")
        every = [took for kinds in self.pages.values() for took in kinds]
        for kind, took in [*sorted(self.pages.items()), ("all", every)]:
            median, p95, worst = (float(np.percentile(took, at)) for at in (50, 95, 100))
            print(f"{kind:34} {len(took):6} {median:7.2f} {p95:7.2f} {worst:7.2f}{'  slow' if worst > SLOW_S else ''}")
        print("failed:", self.failed or "none")


class Device:
    """A phone by HTTP: one cookie; it thinks longer than a connection is held, and connects anew each time."""

    def __init__(self, address: str, timed: Timed):
        self.host = urlsplit(address).netloc
        self.timed, self.cookie, self.token = timed, "", ""

    def ask(self, method: str, path: str, kind: str, body: object = None, form: str = "") -> tuple[int, str]:
        headers = {"Cookie": self.cookie, "Origin": f"http://{self.host}", "x-obverse-token": self.token}
        data = None
        if body is not None:
            data, headers["Content-Type"] = json.dumps(body).encode(), "application/json"
        elif form:
            data, headers["Content-Type"] = form.encode(), "application/x-www-form-urlencoded"
        start = time.perf_counter()
        connection = http.client.HTTPConnection(self.host, timeout=60)
        connection.request(method, path, data, headers)
        answer = connection.getresponse()
        text = answer.read().decode(errors="replace")
        connection.close()
        self.timed.add(kind, time.perf_counter() - start, answer.status)
        if cookie := answer.getheader("Set-Cookie"):
            self.cookie = cookie.split(";")[0]
        return answer.status, text

    def let_in(self, secret: str, name: str) -> None:
        self.ask("POST", "/api/pair", "let in", {"secret": secret, "name": name})
        _, page = self.ask("GET", "/people", "/people")
        self.token = re.search(r'name="token" value="([^"]+)"', page)[1]  # type: ignore[index]


@contextmanager
def postgresql(folder: Path) -> Iterator[str]:
    """A cluster of its own on a socket in the folder."""
    data, port = folder / "pg", 54329
    as_user = ["setpriv", "--reuid", "nobody", "--clear-groups"] if os.getuid() == 0 else []
    folder.chmod(0o777)
    if not data.exists():
        subprocess.run(
            [*as_user, "initdb", "-D", str(data), "-A", "trust", "-U", "class"], check=True, capture_output=True
        )
    server = subprocess.Popen(
        [*as_user, "postgres", "-D", str(data), "-p", str(port), "-h", "127.0.0.1", "-k", str(folder)]
    )
    try:
        for _ in range(100):
            ready = subprocess.run(["pg_isready", "-h", "127.0.0.1", "-p", str(port)], capture_output=True)
            if ready.returncode == 0:
                break
            time.sleep(0.2)
        yield f"postgresql+psycopg://class@127.0.0.1:{port}/postgres"
    finally:
        server.terminate()
        server.wait()


def pages_of(device: Device, number: int, until: float, films: list[str], recipes: list[str], runs: list[str]) -> None:
    """One pupil's evening."""
    drawn = random.Random(number)
    count = 0
    while time.monotonic() < until:
        time.sleep(drawn.uniform(*THINKS_S))
        count += 1
        film, run = drawn.choice(films), runs[number % len(runs)]
        match drawn.randrange(10):
            case 0:
                device.ask("GET", f"/notebook/{film}", FILM)
                # What its script asks for once the page stands.
                device.ask("GET", f"/api/notebook/films/{film}/story", "then: what is believed of it")
                device.ask("GET", f"/api/notebook/films/{film}/next", "then: what to try next")
            case 1:
                strip = {"controls": {"first_developer_time_min": 8 + number % 6}, "note": f"by pupil {number}"}
                device.ask("POST", f"/api/notebook/films/{film}/trials", "a strip is written down", strip)
            case 2:
                device.ask("GET", "/notebook/strips?find=murky", "strips, searched")
            case 3:
                device.ask("GET", "/shelf", "/shelf")
            case 4:
                device.ask("GET", "/bench", "/bench")
            case 5:
                device.ask("GET", f"/notebook/recipes/{drawn.choice(recipes)}", "a recipe")
            case 6:
                device.ask("GET", "/sink/all", "/sink/all")
            case 7:
                device.ask("GET", "/notebook", "/notebook")
            case _:
                device.ask("GET", f"/sink/{run}", "an evening at the sink")
                note = {"event_id": f"{number}-{count}", "kind": "note", "text": f"pupil {number} looked"}
                device.ask("POST", f"/api/sink/runs/{run}/events", "an event at the sink", note)


def browse(link: str, address: str, seconds: float, timed: Timed, films: list[str], runs: list[str]) -> None:
    """Three real browsers, one after another in one driver: each press waits for its page."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        tabs = []
        patience_ms = 120_000
        for k in range(BROWSERS):
            tab = chromium.new_context(viewport={"width": 390, "height": 844}).new_page()
            tab.set_default_timeout(patience_ms)
            tab.goto(link)
            tab.get_by_label("Name of this phone").fill(f"browser {k}")
            tab.get_by_role("button", name="Pair").click()
            tab.wait_for_url("**/sink")
            tabs.append(tab)
        until, turn = time.monotonic() + seconds, 0
        while time.monotonic() < until:
            time.sleep(sum(THINKS_S) / 2 / BROWSERS)
            tab, turn = tabs[turn % BROWSERS], turn + 1
            paths = [
                ("/sink/all", "/sink/all"),
                (f"/notebook/{films[turn % len(films)]}", FILM),
                (f"/sink/{runs[turn % len(runs)]}", "an evening at the sink"),
                ("/shelf", "/shelf"),
            ]
            path, kind = paths[turn % len(paths)]
            start = time.perf_counter()
            answer = tab.goto(address + path, wait_until="load")
            status = answer.status if answer else 0
            timed.add(f"in a browser: {kind}", time.perf_counter() - start, status)
            if kind == FILM:
                assert tab.locator(".strip-row").count(), "no strip is drawn when the page has loaded"
                tab.wait_for_selector(".next-card")
                timed.add(f"in a browser: {kind}, its proposal", time.perf_counter() - start, status)
        chromium.close()


def used_s(pid: int) -> float:
    """Processor seconds that a process used."""
    parts = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(parts[11]) + int(parts[12])) / TICKS


def evening(folder: Path, seconds: float, environment: dict[str, str]) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    bench = open_workbench(folder)
    if not bench.notebook.films():
        fill(bench)
    films, recipes = [kept.id for kept in bench.notebook.films()], [kept.id for kept in bench.recipes.all()]
    for k in range(len(bench.people.all()), PUPILS):
        bench.people.add(f"Pupil {k + 1}")
    people = [kept.id for kept in bench.people.all()]
    runs = [bench.sink.begin(ROUTE, person=bench.people.all()[k].thing.name) for k in range(EVENINGS)]
    bench.close()
    command = [sys.executable, "-m", "obverse", "serve", "--share", "--address", LAN, "--port", "0"]
    with subprocess.Popen(
        command, env={**os.environ, **environment, "PYTHONUNBUFFERED": "1"}, stdout=subprocess.PIPE, text=True
    ) as house:
        assert house.stdout is not None
        port = next(m[1] for line in house.stdout if (m := re.search(r"http://127\.0\.0\.1:(\d+)", line)))
        threading.Thread(target=house.stdout.read, daemon=True).start()
        try:
            timed, letting = Timed(), Timed()
            owner = Device(f"http://127.0.0.1:{port}", letting)
            owner.token = re.search(r'name="token" value="([^"]+)"', owner.ask("GET", "/people", "")[1])[1]  # type: ignore[index]
            owner.ask("POST", "/api/share/evening", "")
            time.sleep(COMES_IN_S)
            link = re.search(rf"http://{re.escape(LAN)}:\d+/pair#\w+", owner.ask("GET", "/share", "")[1])[0]  # type: ignore[index]
            address, secret = link.split("/pair")[0], link.split("#")[1]
            devices = [Device(address, letting) for _ in range(PUPILS - BROWSERS)]
            # Twelve phones at one wall sheet: all at once.
            letters = [threading.Thread(target=d.let_in, args=(secret, f"phone {k}")) for k, d in enumerate(devices)]
            for letter in letters:
                letter.start()
            for letter in letters:
                letter.join()
            for device, person in zip(devices, people, strict=False):
                device.ask("POST", "/people/me", "says whose it is", form=f"token={device.token}&person={person}")
            print(
                f"let in: {len(devices)} devices at once, worst {max(letting.pages['let in']):.2f} s; failed: {letting.failed or 'none'}"
            )
            for device in devices:
                device.timed = timed
            before, start = used_s(house.pid), time.perf_counter()
            until = time.monotonic() + seconds
            pupils = [
                threading.Thread(target=pages_of, args=(device, k, until, films, recipes, runs))
                for k, device in enumerate(devices)
            ]
            for pupil in pupils:
                pupil.start()
            browse(link, address, seconds, timed, films, runs)
            for pupil in pupils:
                pupil.join()
            took, used = time.perf_counter() - start, used_s(house.pid) - before
            timed.table()
            print(
                f"the house used {used:.0f} s of a processor in {took:.0f} s; load of the machine {os.getloadavg()[0]:.1f}"
            )
        finally:
            house.terminate()
            house.wait()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--postgresql", action="store_true")
    parser.add_argument("--seconds", type=float, default=120.0)
    args = parser.parse_args()
    args.folder.mkdir(parents=True, exist_ok=True)
    home = args.folder / ("home-postgresql" if args.postgresql else "home")
    environment = {"OBVERSE_HOME": str(home)}
    if not args.postgresql:
        os.environ.pop("OBVERSE_DATABASE", None)
        evening(home, args.seconds, environment)
        return
    with postgresql(args.folder) as url:
        os.environ["OBVERSE_DATABASE"] = url
        evening(home, args.seconds, environment)


if __name__ == "__main__":
    main()
