"""Ordinary steps of ordinary evenings, through the commands and jugs that a person uses: nothing refused, hardly a needless word.

All of `benchmarks/ordinary_evenings.py`, 204 steps: before anything was mended 1 refused and 26 with a needless caution; then
none, and 8 of the 204 (3.9 %), each the line "Optional, and recommended." Here one in eight of them is done again, so that a new caution must be judged
in `benchmarks/ordinary_evenings.json` before it is told on ordinary evenings.
"""

from contextlib import closing

import pytest

from benchmarks.ordinary_evenings import by_command, by_jug, judged, needless, typed
from obverse.workbench.bootstrap import open_workbench

IN_EIGHT = 8


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    with pytest.MonkeyPatch.context() as mine:
        mine.setenv("OBVERSE_HOME", str(tmp_path_factory.mktemp("home")))
        commands = [by_command(command) for command in list(typed())[::IN_EIGHT]]
        with closing(open_workbench(url="sqlite://")) as bench:
            return [*commands, *by_jug(bench, "permanganate_light", 500.0)]


def test_there_are_as_many_steps_as_an_evening_has_kinds_of_them():
    kinds = [command.split()[0] for command in typed()]
    assert {"mix", "routes", "run", "check", "destroy"} == set(kinds) and len(kinds) >= 150


def test_nothing_ordinary_is_refused(told):
    assert [] == [one.step for one in told if one.refused]


def test_hardly_a_step_is_cautioned_without_need(told):
    known = judged()
    spoken = [one for one in told if one.open]
    assert spoken
    found = [(one.step, text) for one in told for text in needless(one, known)]
    assert [] == [row for row in found if not row[1].startswith("Optional")]
    assert len({step for step, _ in found}) <= 0.05 * len(list(typed()))
