"""Slips of a person at the sink, at random moments of whole evenings, and what the record says after correction.

Written from what people do wrong, not from the cases of the code: it knows the house only by its web interface, keeps
its own diary of when the film truly went in and out and what the thermometer truly showed, makes slips, corrects them as
a person would, and at the end compares the record with the diary. A second person with a second device looks on.

    python benchmarks/bench_sink_slips.py [--slips 60] [--seed 1]
"""

from __future__ import annotations

import argparse
import random
import tempfile
from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from fastapi.testclient import TestClient

from obverse.clock import FixedClock
from obverse.web.app import create_app
from obverse.workbench.bootstrap import open_workbench

ROUTES = ("iron_ammonia_light", "permanganate_light", "iron_ammonia_fogging")
KINDS = (
    "it is in, pressed before the bath is in",
    "it is out, meant and pressed far too early",
    "done, pressed too soon",
    "two devices, second press after 0.2 s",
    "two devices, second press after 0.9 s",
    "two devices, second press after 1.3 s",
    "two devices, second press long after",
    "temperature 99 typed for 20",
    "temperature in Fahrenheit",
    "decimal point lost (205 for 20.5)",
    "Fahrenheit kept on purpose, seen later",
    "25 typed for 20, seen in the report",
    "it is out, pressed minutes late",
    "the end, pressed by mistake",
    "a note with a slip",
    "agitation left out, pressed by mistake",
    "half a minute longer, pressed twice",
    "link lost, touches sent later and twice",
    "house killed and started again",
    "phone turned or loaded anew",
)
NEAR_S = 0.51


@dataclass
class Diary:
    """What truly happened, by the script's own account."""

    into: dict[str, float] = field(default_factory=dict)
    out: dict[str, float] = field(default_factory=dict)
    read_c: dict[str, list[float]] = field(default_factory=dict)


class Evening:
    """One evening with its person, its second person and its house."""

    def __init__(self, draw: random.Random, folder: Path, route: str):
        self.draw = draw
        self.folder = folder
        self.clock = FixedClock(datetime(2031, 11, 5, 19, 0, tzinfo=UTC))
        self.diary = Diary()
        self.count = 0
        self.asked = Counter()
        self._open()
        film = self.bench.notebook.add_film({"name": "Invented grey base 100", "box_speed": 100}).id
        strips = [{"name": "A", "film": film, "controls": {"first_developer_time_min": draw.choice([7, 9, 11])}}]
        self.run = self._post("/api/sink/runs", {"request": {"route": route, "strips": strips}})["run"]
        self.film = film
        self.press({"kind": "started"})

    def _open(self) -> None:
        self.bench = open_workbench(self.folder, clock=self.clock)
        app = create_app(self.bench)
        self.web = TestClient(app, base_url="http://127.0.0.1", headers={"X-Obverse-Token": app.state.token})

    def restart(self) -> None:
        """The house dies without a word and is started again."""
        self.bench.close()
        self._open()

    def _post(self, address: str, body: dict[str, Any]) -> dict[str, Any]:
        answer = self.web.post(address, json=body)
        answer.raise_for_status()
        return answer.json()

    @property
    def look(self) -> dict[str, Any]:
        return self.web.get(f"/api/sink/runs/{self.run}").json()

    @property
    def now(self) -> float:
        return self.clock.now().timestamp()

    def press(self, event: dict[str, Any], *, id: str = "", at_s: float | None = None) -> dict[str, Any]:
        """Send a touch; returns the answer with its status and the id it had."""
        self.count += 1
        name = id or f"touch-{self.count}"
        body = {"event_id": name, "at_s": self.now if at_s is None else at_s, **event}
        answer = self.web.post(f"/api/sink/runs/{self.run}/events", json=body)
        return {"status": answer.status_code, "id": name, **answer.json()}

    def entry(self, kind: str) -> str:
        return next(e["id"] for e in self.look["entries"] if e["kind"] == kind)

    def touch(self, action: dict[str, Any], **more: Any) -> dict[str, Any]:
        """Put the bath in, or end the action, and write it into the diary."""
        if action["waits_for_pour"] and self.look["clock_from_s"] is None:
            self.diary.into[action["key"]] = self.now
            return self.press({"kind": "poured", "action": action["key"], **more})
        self.diary.into.setdefault(action["key"], self.look["clock_from_s"])
        self.diary.out[action["key"]] = self.now
        return self.press({"kind": "acknowledged", "action": action["key"], **more})

    def go(self, slips: dict[int, str]) -> list[tuple[str, str]]:
        """The evening from touch to touch; at those touches these slips; returns each slip with what went wrong, if anything."""
        told, number = [], 0
        while (look := self.look)["status"] not in ("finished", "aborted"):
            action = look["action"]
            waiting = action["waits_for_pour"] and look["clock_from_s"] is None
            slip = slips.get(number, "")
            number += 1
            if slip:
                told.append((slip, self.slip(slip, action, waiting)))
                continue
            self.clock.advance(
                action["pour_s"]
                if waiting
                else max(1.0, (look["due_s"] or self.now) - self.now) + self.draw.uniform(0, 2)
            )
            if action["kind"] == "check" or (
                action["kind"] == "bath"
                and not waiting
                and action["key"] not in self.diary.read_c
                and self.draw.random() < 0.3
            ):
                self.read(action, self.draw.choice([19.5, 20.0, 20.5]))
            self.touch(action)
        return told

    def read(self, action: dict[str, Any], degrees: float) -> None:
        self.diary.read_c.setdefault(action["key"], []).append(degrees)
        self.press({"kind": "temperature_noted", "action": action["key"], "temperature_c": degrees})

    # The slips: what is done wrong, and how a person mends it; a sentence says where that went wrong

    def slip(self, kind: str, action: dict[str, Any], waiting: bool) -> str:
        key = action["key"]
        before = self.look
        if kind == KINDS[0]:
            if not waiting:
                return self._wrong_done(action)
            made = self.press({"kind": "poured", "action": key})
            self.clock.advance(4)
            self.press({"kind": "taken_back", "of": made["id"]})
            return "" if self.look["clock_from_s"] is None else "the clock still runs"
        if kind in KINDS[1:3]:
            return self._wrong_done(action)
        if kind in KINDS[3:6]:
            return self._two_hands(action, waiting, {3: 0.2, 4: 0.9, 5: 1.3}[KINDS.index(kind)])
        if kind == KINDS[6]:
            self.clock.advance(action["pour_s"] if waiting else max(1, (before["due_s"] or 0) - self.now))
            self.touch(action)
            self.clock.advance(20)
            after = self.look
            if after["action"] is None or (after["phase"] == "running"):
                return ""
            wrong = self.press(
                {"kind": "poured" if after["phase"] == "ready" else "acknowledged", "action": after["action"]["key"]}
            )
            self.press({"kind": "taken_back", "of": wrong["id"]})
            same = self.look
            return (
                ""
                if (same["index"], same["clock_from_s"]) == (after["index"], after["clock_from_s"])
                else "not as before"
            )
        if kind in KINDS[7:10]:
            typed = {7: 99.0, 8: 68.0, 9: 205.0}[KINDS.index(kind)]
            answer = self.press({"kind": "temperature_noted", "action": "check", "temperature_c": typed})
            if answer["status"] == 200:
                return f"{typed:g} C was kept without asking"
            if self.look["entries"] and self.look["entries"][0].get("temperature_c") == typed:
                return "it was kept all the same"
            self.read({"key": "check"}, 20.0)
            return ""
        if kind == KINDS[10]:
            made = self.press({"kind": "temperature_noted", "action": "check", "temperature_c": 68.0, "sure": True})
            self.clock.advance(90)
            self.press({"kind": "changed", "of": made["id"], "temperature_c": 20.0})
            self.diary.read_c.setdefault("check", []).append(20.0)
            return "" if made["status"] == 200 else "the person's word was not taken"
        if kind == KINDS[11]:
            made = self.press({"kind": "temperature_noted", "action": "check", "temperature_c": 25.0})
            self.later = [*getattr(self, "later", []), (made["id"], 20.0)]
            self.diary.read_c.setdefault("check", []).append(20.0)
            return ""
        if kind == KINDS[12]:
            if waiting:
                self.clock.advance(action["pour_s"])
                self.touch(action)
            look = self.look
            action = look["action"]
            self.clock.advance(max(1, (look["due_s"] or 0) - self.now))
            self.diary.into.setdefault(action["key"], look["clock_from_s"])
            true_s = self.diary.out[action["key"]] = self.now
            self.clock.advance(170)
            made = self.press({"kind": "acknowledged", "action": action["key"]})
            self.press({"kind": "changed", "of": made["id"], "to_s": true_s})
            return ""
        if kind == KINDS[13]:
            made = self.press({"kind": "aborted", "text": "wrong button"})
            if self.look["status"] != "aborted":
                return "it did not end"
            self.clock.advance(30)
            self.press({"kind": "taken_back", "of": made["id"]})
            return (
                ""
                if self.look["index"] == before["index"] and self.look["status"] == "running"
                else "it does not go on"
            )
        if kind == KINDS[14]:
            self.press({"kind": "note", "text": "two scrached frames"})
            self.press({"kind": "changed", "of": self.entry("note"), "text": "two scratched frames"})
            return "" if self.look["entries"][0]["text"] == "two scratched frames" else "the note was not changed"
        if kind == KINDS[15]:
            self.press({"kind": "agitation_skipped", "action": key})
            self.press({"kind": "taken_back", "of": self.entry("agitation_skipped")})
            return "" if self.look["skipped"] == before["skipped"] else "it still counts"
        if kind == KINDS[16]:
            for _ in range(2):
                self.press({"kind": "step_extended", "action": key, "seconds": 30})
            self.press({"kind": "taken_back", "of": self.entry("step_extended")})
            return "" if self.look["extended_s"] == before["extended_s"] + 30 else "not half a minute"
        if kind == KINDS[17]:
            self.clock.advance(action["pour_s"] if waiting else max(1, (before["due_s"] or 0) - self.now))
            at_s = self.now
            self.diary.into.setdefault(key, at_s if waiting else before["clock_from_s"])
            if not waiting:
                self.diary.out[key] = at_s
            self.clock.advance(45)
            event = {"kind": "poured" if waiting else "acknowledged", "action": key}
            for _ in range(3):
                self.press(event, id=f"late-{self.count - self.count % 3}-{key}-{waiting}", at_s=at_s)
            return ""
        if kind == KINDS[18]:
            self.restart()
            return (
                ""
                if (self.look["index"], self.look["clock_from_s"]) == (before["index"], before["clock_from_s"])
                else "it stands elsewhere"
            )
        page = self.web.get(f"/sink/{self.run}")
        return "" if page.status_code == 200 and action["title"] in page.text else "the page lost its place"

    def _wrong_done(self, action: dict[str, Any]) -> str:
        before = self.look
        if before["phase"] == "ready":
            self.clock.advance(action["pour_s"])
            self.touch(action)
            before = self.look
        self.clock.advance(3)
        made = self.press({"kind": "acknowledged", "action": action["key"], "cut_short": True})
        self.clock.advance(6)
        self.press({"kind": "taken_back", "of": made["id"]})
        after = self.look
        same = (after["index"], after["clock_from_s"], after["due_s"]) == (
            before["index"],
            before["clock_from_s"],
            before["due_s"],
        )
        return "" if same else "the bath does not go on as before"

    def _two_hands(self, action: dict[str, Any], waiting: bool, later_s: float) -> str:
        """Both see the same button; the second hand comes down a moment after the first."""
        shown_on_both = {"kind": "poured" if waiting else "acknowledged", "action": action["key"]}
        self.clock.advance(action["pour_s"] if waiting else max(1, (self.look["due_s"] or 0) - self.now))
        self.touch(action)
        after = self.look
        self.clock.advance(later_s)
        answer = self.press({**shown_on_both, "device": "second"})
        now = self.look
        same = (now["index"], now["clock_from_s"]) == (after["index"], after["clock_from_s"])
        spoken = any(order["do"] == "refuse" and order["text"] for order in answer.get("orders", []))
        if not same:
            return "the second press counted"
        return "" if spoken else "it was ignored without a word"

    # The record against the diary

    def compare(self) -> list[str]:
        """Every difference between the record and what truly happened."""
        for id, degrees in getattr(self, "later", []):
            self.press({"kind": "changed", "of": id, "temperature_c": degrees})
        report = self.web.get(f"/api/sink/runs/{self.run}/report").json()
        wrong = []
        keys = [done["key"] for done in report["done"]]
        wrong += [f"{key} is in the record {count} times" for key, count in Counter(keys).items() if count != 1]
        wrong += [f"{key} is missing" for key in self.diary.out if key not in keys]
        for done in report["done"]:
            true_in, true_out = self.diary.into.get(done["key"]), self.diary.out.get(done["key"])
            if true_out is None or abs(done["ended_s"] - true_out) > NEAR_S:
                wrong.append(f"{done['key']} ended at {done['ended_s']:.1f}, truly {true_out}")
            elif abs(done["clock_from_s"] - (true_in or 0)) > NEAR_S:
                wrong.append(f"{done['key']} began at {done['clock_from_s']:.1f}, truly {true_in}")
        (strip,) = report["strips"]
        true_min = (self.diary.out["first_development"] - self.diary.into["first_development"]) / 60
        read = self.diary.read_c.get("first_development") or self.diary.read_c.get("check", [])[-1:] or [20.0]
        if abs(strip["controls"]["temperature_c"] - sum(read) / len(read)) > 0.35:
            wrong.append(f"temperature {strip['controls']['temperature_c']}, truly {read}")
        if abs(strip["controls"]["first_developer_time_min"] - true_min) > 0.02 + 0.005 * true_min:
            wrong.append(f"time {strip['controls']['first_developer_time_min']}, truly {true_min:.3f}")
        trials = self.bench.notebook.trials(self.film)
        if len(trials) != 1 or trials[0].thing.trial.controls != strip["controls"]:
            wrong.append(f"{len(trials)} trials, controls {[t.thing.trial.controls for t in trials]}")
        if report["still_to_destroy"] or report["not_booked"] or self.bench.duties():
            wrong.append(f"left: {report['still_to_destroy']} {report['not_booked']} {self.bench.duties()}")
        marks = [entry.run for kept in self.bench.store.bottles.all(retired=True) for entry in kept.thing.passes]
        wrong += [f"{mark} is booked {count} times" for mark, count in Counter(marks).items() if count > 1]
        jugs = [item.note for kept in self.bench.store.jugs.all() for item in kept.thing.contents]
        wrong += [f"{note} is in the jugs {count} times" for note, count in Counter(jugs).items() if count > 1 and note]
        page = self.web.get(f"/sink/{self.run}")
        if page.status_code != 200 or "What was truly done" not in page.text:
            wrong.append("the report cannot be read")
        return wrong


def main(slips: int = 60, seed: int = 1) -> int:
    """Print the tables; returns how many evenings whose record differs from the diary."""
    draw = random.Random(seed)
    todo = [KINDS[i % len(KINDS)] for i in range(slips)]
    draw.shuffle(todo)
    made: Counter[str] = Counter()
    failed: dict[str, list[str]] = {}
    wrong_evenings = evenings = 0
    while todo:
        mine, todo = todo[:5], todo[5:]
        evenings += 1
        with tempfile.TemporaryDirectory() as folder:
            evening = Evening(draw, Path(folder), ROUTES[evenings % len(ROUTES)])
            # About fifty touches make an evening; the first development is among them.
            moments = sorted(draw.sample(range(2, 46), len(mine)))
            told = evening.go(dict(zip(moments, mine, strict=True)))
            wrong = evening.compare()
            for kind, trouble in told:
                made[kind] += 1
                if trouble:
                    failed.setdefault(kind, []).append(trouble)
            wrong_evenings += bool(wrong)
            print(
                f"evening {evenings}, {evening.look['run']}: {len(told)} slips, record "
                + ("as the diary" if not wrong else f"WRONG: {wrong}")
            )
            evening.bench.close()
    print(f"\n{'slip':45} made  mended")
    for kind in KINDS:
        print(
            f"{kind:45} {made[kind]:4}  {made[kind] - len(failed.get(kind, [])):6}  {'; '.join(failed.get(kind, []))}"
        )
    print(f"{'all':45} {sum(made.values()):4}  {sum(made.values()) - sum(map(len, failed.values())):6}")
    print(f"evenings whose record differs from the diary: {wrong_evenings} of {evenings}")
    return wrong_evenings


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--slips", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    raise SystemExit(1 if main(given.slips, given.seed) else 0)
