"""Commands of the sink: run."""

from __future__ import annotations

import queue
import secrets
import sys
import threading
from contextlib import suppress
from typing import TYPE_CHECKING, Annotated, Protocol, Self

import typer

from obverse.cli.arguments import settings, stands
from obverse.cli.darkroom import darkroom
from obverse.cli.telling import (
    EVERY,
    TEMPERATURE,
    VOLUME,
    in_my_units,
    json_text,
    tell,
    tell_cautions,
    temperature_said,
    units_told,
    volume_said,
)
from obverse.foundation import Deferral, InputError, ObverseError, UnlikelyError, clock_span, parse_number
from obverse.system import keys_of_terminal

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rich.console import Console, ConsoleDimensions, RenderableType

    from obverse.foundation import JsonObject
    from obverse.workbench.evening_words import ClockOption, ClockQuestion
    from obverse.workbench.nouns import RunPlan
    from obverse.workbench.sink import EveningLook, Sink

KEYS = (
    "Enter: done / it is in    early: done before its time    t {warm}: temperature, {degrees}    + 30: longer    s: agitation left out    p: pause    n text: note\n"
    "u: that was wrong (takes the last entry or touch back)    skip why: leave this step out    repeat STEP why: once more    "
    "q: leave (come back with --resume)"
)

# Rows and columns of a terminal below which only what is needed is told, and from which all is.
ROOM_FOR_LINES, ROOM_FOR_WORDS = (9, 30), (16, 40)
# Seconds between two looks at the keys, of a person and of an evening that runs by itself; and how long a cue is heard, of the evening's clock.
LOOK_S, LOOK_BY_ITSELF_S, LASTS_S = 0.1, 0.02, 5
WARM_C = 20.5


def keys_words() -> str:
    """What may be typed while an evening runs, a temperature in the person's degrees."""
    units = units_told()
    return KEYS.format(warm=f"{units.degrees_of(WARM_C):g}", degrees=units.degrees)


def register(app: typer.Typer) -> None:
    """Add the commands of the sink."""
    app.command()(run)


def run(
    route: Annotated[
        str,
        typer.Argument(
            metavar="[PROCESS]",
            help="Key of a process, such as iron_ammonia_light; not needed with --recipe or --resume.",
        ),
    ] = "",
    recipe: Annotated[str, typer.Option(help="Id of a locked recipe: its process and controls are taken.")] = "",
    film: Annotated[
        str, typer.Option(help="Id of the film in the notebook; its trial is written down after the run.")
    ] = "",
    control: Annotated[
        list[str] | None,
        typer.Option("--control", help="NAME=NUMBER, such as first_developer_time_min=9; may be repeated."),
    ] = None,
    tank: Annotated[
        str,
        typer.Option(
            "--tank-ml", "--tank", metavar="VOLUME", help=f"Of a bath; default: as the process says. {VOLUME}"
        ),
    ] = "",
    temperature: Annotated[
        str,
        typer.Option("--temperature-c", "--temperature", metavar="TEMPERATURE", help=f"Of the baths. {TEMPERATURE}"),
    ] = "",
    size: Annotated[
        str, typer.Option(help="How much film, such as 135-36, '2 x 120' or '16 mm 3.2 m'; default one 135-36.")
    ] = "",
    clip_tests: Annotated[
        bool | None,
        typer.Option(
            "--clip-tests/--no-clip-tests",
            help="Try each bath on a clip of film before the film meets it; default: those near the end of their count.",
        ),
    ] = None,
    tanks: Annotated[int, typer.Option(help="Tanks of that volume side by side: 1 or 2.")] = 1,
    without: Annotated[
        list[str] | None, typer.Option("--without", help="Key of a step to leave out tonight; may be repeated.")
    ] = None,
    again: Annotated[
        list[str] | None, typer.Option("--again", help="Key of a step to do once more tonight; may be repeated.")
    ] = None,
    time: Annotated[
        list[str] | None, typer.Option("--time", help="STEP=MINUTES, the time of a step tonight; may be repeated.")
    ] = None,
    pace: Annotated[float, typer.Option(help="Length of handwork; 1 is common practice, 1.5 suits a class.")] = 1.0,
    plan: Annotated[bool, typer.Option("--plan", help="Print the plan with its proof and stop.")] = False,
    every: Annotated[bool, EVERY] = False,
    as_json: Annotated[bool, typer.Option("--json", help="With --plan: print one JSON document.")] = False,
    rehearse: Annotated[
        bool, typer.Option("--rehearse", help="Play it through in quick time; nothing is booked.")
    ] = False,
    speed: Annotated[float, typer.Option(help="With --rehearse: how many times faster.")] = 60.0,
    by_itself: Annotated[
        bool, typer.Option("--by-itself", help="With --rehearse: the rehearsal touches the button itself.")
    ] = False,
    resume: Annotated[str, typer.Option("--resume", help="Id of an evening to go on with, or 'last'.")] = "",
) -> None:
    """Run an evening at the sink, in the terminal; leave and come back at the right second.

    Example: obverse run iron_ammonia_light --tank-ml 500 --temperature-c 20.5 --rehearse
    """
    from obverse.process import film_said

    if by_itself and not rehearse:
        raise InputError("only a rehearsal touches the button itself", where="--by-itself", remedy="add --rehearse")
    if as_json and not plan:
        raise InputError("a live run is not one JSON document", where="--json", remedy="add --plan")
    with darkroom() as bench:
        if resume:
            _live(bench.sink, _resumed(bench.sink, resume), by_itself=False)
            return
        if not recipe and stands(route) and route not in bench.processes.every():
            raise InputError(
                "it is a file, not the name of a process",
                where=route,
                remedy=f"keep it with `obverse process new --file {route}`, which prints its name",
            )
        request = {
            "route": route,
            "recipe": recipe,
            "tank_ml": volume_said(tank, "--tank-ml"),
            "tanks": tanks,
            "clip_tests": clip_tests,
            "temperature_c": temperature_said(temperature, "--temperature-c"),
            "without": without or [],
            "again": again or [],
            "times_min": settings(time, "--time", "bleaching=6"),
            "pace": pace,
            "strips": [
                {
                    "film": film,
                    "controls": settings(control, "--control", "first_developer_time_min=9"),
                    "pieces": film_said(size) if size else (),
                }
            ],
        }
        if plan:
            from obverse.workbench.ready_words import plan_document

            made = bench.sink.plan(request)
            if as_json:
                typer.echo(json_text(plan_document(made)))
                return
            tell(f"{_plan_text(made)}\n")
            tell_cautions(_plan_cautions(made), every=every)
            tell(Deferral.FIRST.value)
            return
        _live(bench.sink, bench.sink.begin(request, speed=speed if rehearse else 1.0), by_itself=by_itself)


def _resumed(sink: Sink, resume: str) -> str:
    if resume != "last":
        return str(sink.run(resume).id)
    open_runs = sink.open_runs()
    if not open_runs:
        raise InputError("no evening is open", where="--resume", remedy="begin one with a process")
    return str(open_runs[0].id)


def _plan_text(plan: RunPlan) -> str:
    from obverse.workbench.evening_words import conflict_words, order_words, proof_words, title_words
    from obverse.workbench.ready_words import film_line, ready_groups

    lines = [
        f"{plan.name}, {plan.tank_ml:g} mL, {plan.temperature_c:g} C, hands free after {clock_span(plan.duration_s)}",
        "",
    ]
    for statement in proof_words(plan.proof):
        lines.append(f"  proved: {statement}")
    for conflict in plan.proof.conflicts:
        lines.append(f"  DOES NOT HOLD: {conflict_words(conflict, plan)}")
    if ordered := order_words(plan):
        lines.append(f"  {ordered}")
    lines.append("")
    lines.append(film_line(plan))
    lines.append("Before you start, have at hand:")
    for group in ready_groups(plan):
        lines.append(f"  {group.name}")
        lines += [f"    {line.what}{f' ({line.said})' if line.said else ''}" for line in group.lines]
    lines.append("")
    for action in plan.actions:
        where = {"dark_room": "light out", "closed_tank": "lid on"}.get(action.place, "")
        left = f", {100 * action.carry_over:.2g} % of the bath left" if action.carry_over is not None else ""
        lines.append(
            f"{clock_span(action.start_s):>8}  {clock_span(action.pour_s + action.duration_s):>6}  {title_words(action)}{left}{f'  [{where}]' if where else ''}"
        )
    return "\n".join(lines)


def _plan_cautions(plan: RunPlan) -> Iterator[tuple[str, str]]:
    """Level and words of what is to be known before one begins."""
    from obverse.workbench.evening_words import told_cautions, told_once

    for caution in told_once(plan, (c for c in told_cautions(plan) if c.level != "note")):
        if not Deferral.is_said_by(caution.text):
            yield caution.level, f"{caution.where}: {caution.text}" if caution.where else caution.text


def _live(sink: Sink, run_id: str, *, by_itself: bool) -> None:
    """Show one action at a time until the evening ends or the person leaves."""
    from rich.console import Console

    console = Console()
    look = sink.look(run_id)
    if look.view.status in ("finished", "aborted"):
        raise InputError(f"the evening {run_id} has ended", where="--resume", remedy="begin another")
    console.print(f"Evening {run_id}" + ("  REHEARSAL, nothing is booked" if look.speed != 1 else ""), highlight=False)
    console.print(keys_words(), style="dim", highlight=False)
    face = _Screen(console) if console.is_terminal and sys.stdin.isatty() else _Paper(console)
    asked: tuple[ClockOption, ...] = ()
    with face, _Keys() as keys:
        while look.view.status not in ("finished", "aborted"):
            face.show(look, keys.word)
            if look.parted and look.parted.choices != asked:
                asked = look.parted.choices
                face.tell(parted_line(look.parted))
            if by_itself:
                _touch_when_due(sink, run_id, look, face)
            with suppress(queue.Empty):
                line = keys.touches.get(timeout=LOOK_S if not by_itself else LOOK_BY_ITSELF_S)
                if line is None and not by_itself:
                    break
                if line is not None and line.strip() == "q":
                    break
                if line is not None:
                    _do(sink, run_id, line.strip(), face)
            look = sink.look(run_id)
    if look.view.status in ("finished", "aborted"):
        _tell_end(console, sink, run_id, look)
    else:
        console.print(
            f"Left. The clock of the bath goes on; come back with: obverse run --resume {run_id}", highlight=False
        )


def parted_line(parted: ClockQuestion) -> str:
    """What is told where date and steady clock have parted, with what to type."""
    typed = {"slept": "clock slept", "date_set": "clock set"}
    choices = "; ".join(f"{choice.words}: type {typed[choice.how]}" for choice in parted.choices)
    return f"{parted.text} {choices}."


def _touch_when_due(sink: Sink, run_id: str, look: EveningLook, face: _Face) -> None:
    view, action = look.view, look.view.action
    if action is None:
        _do(sink, run_id, "", face)
    elif view.phase == "ready":
        if view.now_s >= (view.state.began_s or 0.0) + action.pour_s:
            _do(sink, run_id, "", face)
    elif view.state.due_s is not None and view.now_s >= view.state.due_s:
        _do(sink, run_id, "", face)


def _do(sink: Sink, run_id: str, line: str, face: _Face) -> None:
    """One line of the person as one event."""
    look = sink.look(run_id)
    view = look.view
    key = view.action.key if view.action else ""
    command, _, rest = line.partition(" ")
    try:
        if line == "":
            kind = "started" if view.status == "planned" else "poured" if view.phase == "ready" else "acknowledged"
            left_s = _asked_left_s(look)
            if kind == "acknowledged" and left_s > 0:
                face.tell(f"{clock_span(left_s)} of this are left. If it is done all the same, type: early")
                return
            event: JsonObject = {"kind": kind, "action": key}
        elif line == "early":
            event = {"kind": "acknowledged", "action": key, "cut_short": True}
        elif command == "t":
            said, units = rest.strip(), units_told()
            degrees = said.removesuffix(" sure")
            event = {
                "kind": "temperature_noted",
                "action": key,
                "temperature_c": units.said_temperature(degrees, where="", bare=units.temperature),
            }
            if degrees != said:
                event = {**event, "sure": True}
        elif command == "u":
            event = {"kind": "taken_back", "of": _last_entry(sink, run_id)}
        elif command in ("skip", "repeat"):
            event = _another_way(sink, run_id, command, key, rest, face)
            if not event:
                return
        elif command == "+":
            event = {
                "kind": "step_extended",
                "action": key,
                "seconds": parse_number(rest or "30", where="", example="30"),
            }
        elif command == "s":
            event = {"kind": "agitation_skipped", "action": key}
        elif line in ("clock slept", "clock set"):
            sink.settle_clock(run_id, "slept" if line == "clock slept" else "date_set")
            return
        elif command == "p":
            event = {"kind": "resumed" if view.status == "paused" else "paused"}
        elif command == "n":
            event = {"kind": "note", "action": key, "text": rest}
        elif command == "abort":
            event = {"kind": "aborted", "text": rest or "ended in the terminal"}
        else:
            face.tell(f"{line!r} is no command here.  {keys_words()}")
            return
        answer = sink.record(run_id, secrets.token_hex(8), {**event, "device": "terminal"})
    except UnlikelyError as error:
        face.tell(f"{error.sentence} Whoever is sure types: {line} sure")
        return
    except ObverseError as error:
        face.tell(error.sentence)
        return
    for order in answer.orders:
        if order.do != "show" and order.text:
            face.tell(order.text)


def _asked_left_s(look: EveningLook) -> float:
    """How long a touch would still be asked about before the present action counts as done."""
    view, action, clock_from_s = look.view, look.view.action, look.view.state.clock_from_s
    if view.phase != "doing" or action is None or clock_from_s is None:
        return 0.0
    return clock_from_s + action.asked_until_s - view.now_s


def _last_entry(sink: Sink, run_id: str) -> str:
    """Id of the last touch or entry that still stands."""
    look = sink.look(run_id)
    press = look.view.state.press
    entries = [(entry.at_s, entry.id) for entry in look.entries[:1]]
    entries += [(press.at_s, press.id)] if press else []
    if not entries:
        raise InputError("nothing has been touched or written yet")
    return max(entries, key=lambda entry: entry[0])[1]


def _another_way(sink: Sink, run_id: str, command: str, key: str, rest: str, face: _Face) -> JsonObject:
    """A step left out or done once more: what it does is shown, and it is done when the person says yes at the end."""
    from obverse.workbench.evening_words import effect_words
    from obverse.workbench.sink import bath_name

    if command == "repeat":
        key, _, rest = rest.strip().partition(" ")
    words, sign, yes = rest.strip().rpartition(" ")
    sure = yes == "yes" and bool(sign)
    reason = words if sure else rest.strip()
    event = {"kind": "step_skipped" if command == "skip" else "step_repeated", "action": key, "text": reason}
    found = sink.what_if(run_id, event)
    if found.refused is not None or not sure:
        plan = sink.state(run_id).plan
        names = {life.formula: bath_name(life.formula, plan) for life in found.breaks}
        again = f"repeat {key} {reason} yes" if command == "repeat" else f"skip {reason} yes"
        face.tell(
            " ".join(effect_words(found, names))
            + ("" if found.refused is not None else f" If you mean it, type: {again}")
        )
        return {}
    return event


def _tell_end(console: Console, sink: Sink, run_id: str, look: EveningLook) -> None:
    report = sink.report(run_id)
    console.print(
        "The evening is over."
        if look.view.status == "finished"
        else f"Ended early: {look.view.state.reason or 'no reason given'}.",
        highlight=False,
    )
    for line in report.log:
        if line.event.kind == "booked":
            console.print(f"  booked: {in_my_units(line.told)}", highlight=False, markup=False)
    for sentence in report.not_booked:
        console.print(f"  NOT BOOKED: {in_my_units(sentence)}", highlight=False, markup=False)
    for duty in report.duties:
        if duty.done_s is None:
            console.print(f"  DANGER: {duty.name} still stands and must be destroyed.", highlight=False, markup=False)


class _Face(Protocol):
    """Where an evening is told: on paper line by line, or on a screen that stands."""

    def show(self, look: EveningLook, word: str = "") -> None: ...

    def tell(self, text: str) -> None: ...


class _Paper:
    """For a pipe or a file: a line for everything that changes, nothing else."""

    def __init__(self, console: Console):
        self._console = console
        self._said: set[tuple[object, ...]] = set()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        return None

    def show(self, look: EveningLook, word: str = "") -> None:
        from obverse.workbench.evening_words import cue_words

        view, action = look.view, look.view.action
        if action is None:
            self._once(("planned",), "Ready. Enter begins the evening.")
            return
        self._once(
            (action.key, view.phase),
            f"[{view.state.index + 1}/{view.count}] {in_my_units(look.title)}: {_phase_words(look)}",
        )
        for cue in view.cues:
            if cue.at_s <= view.now_s < cue.at_s + max(cue.lasts_s, LASTS_S * look.speed):
                since_s = view.now_s - (view.state.clock_from_s or 0.0)
                self._once(
                    (action.key, cue.at_s, cue.kind), f"    {clock_span(since_s)}  {in_my_units(cue_words(cue))}"
                )

    def tell(self, text: str) -> None:
        self._console.print(f"    {in_my_units(text)}", highlight=False, markup=False, soft_wrap=True)

    def _once(self, key: tuple[object, ...], text: str) -> None:
        if key not in self._said:
            self._said.add(key)
            self._console.print(text, highlight=False, markup=False, soft_wrap=True)


class _Screen:
    """For a terminal: one action, large; fits what there is of room."""

    def __init__(self, console: Console):
        from rich.live import Live

        self._console = console
        self._told: list[str] = []
        self._rung: set[tuple[object, ...]] = set()
        self._live = Live(console=console, refresh_per_second=8, transient=True)

    def __enter__(self) -> Self:
        self._live.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._live.stop()

    def tell(self, text: str) -> None:
        self._told = [*self._told, in_my_units(text)][-2:]

    def show(self, look: EveningLook, word: str = "") -> None:
        self._live.update(_picture(look, self._told, word, self._console.size))
        view = look.view
        for cue in view.cues:
            key = (cue.at_s, cue.kind)
            if view.status == "running" and 0 <= view.now_s - cue.at_s < look.speed and key not in self._rung:
                self._rung.add(key)
                self._console.bell()


def _picture(look: EveningLook, told: list[str], word: str, size: ConsoleDimensions) -> RenderableType:
    from rich.console import Group
    from rich.panel import Panel
    from rich.progress_bar import ProgressBar
    from rich.text import Text

    from obverse.workbench.evening_words import cue_words

    view, action = look.view, look.view.action
    if action is None:
        return Text("Enter begins the evening.", style="bold", justify="center")
    place = f"{view.state.index + 1} of {view.count}"
    doing, do = in_my_units(look.title), in_my_units(look.do)
    typed = [Text(f"> {word}")] if word else []
    if size.height < ROOM_FOR_LINES[0] or size.width < ROOM_FOR_LINES[1]:
        # No room for anything but what is needed: a line each, cut where it does not fit.
        lines = [
            Text(f"{place}  {_phase_words(look)}", style="bold reverse"),
            Text(doing),
            *typed,
            *(Text(line) for line in told[-1:]),
        ]
        for line in lines:
            line.no_wrap, line.overflow = True, "ellipsis"
        return Group(*lines[: max(1, size.height - 1)])
    parts: list[RenderableType] = [
        Text(doing, style="bold", justify="center"),
        Text(_phase_words(look), style="bold reverse", justify="center"),
    ]
    if size.height >= ROOM_FOR_WORDS[0] and size.width >= ROOM_FOR_WORDS[1]:
        parts += [Text(""), Text(do, justify="center")] if do else []
        parts += [Text(f"! {in_my_units(caution)}", style="bold", justify="center") for caution in action.cautions[:3]]
    coming = next((cue for cue in view.cues if cue.at_s > view.now_s), None)
    if coming is not None:
        left, words = clock_span(coming.at_s - view.now_s), in_my_units(cue_words(coming))
        parts.append(Text(f"in {left}: {words}", justify="center"))
    parts += [Text(line, style="italic", justify="center") for line in told]
    parts += typed
    if look.next_title:
        parts.append(Text(f"then: {in_my_units(look.next_title)}", style="dim", justify="center"))
    parts.append(ProgressBar(total=1.0, completed=view.progress, width=max(10, size.width - 6)))
    title = place + ("  REHEARSAL" if look.speed != 1 else "") + ("  paused" if view.status == "paused" else "")
    return Panel(Group(*parts), title=title)


def _phase_words(look: EveningLook) -> str:
    phase = look.view.phase
    if phase == "ready":
        return "pour it in; Enter when it is in"
    left_s = (look.view.state.due_s or look.view.now_s) - look.view.now_s
    if phase == "doing":
        return "Enter when it is done" + (f"  (about {clock_span(left_s)})" if left_s > 0 else "")
    if phase == "due":
        return f"time is over by {clock_span(-left_s)}; Enter when it is out"
    if phase == "draining":
        return f"{clock_span(left_s)}  pour it out"
    return f"{clock_span(left_s)} left"


class _Keys:
    """What the person types, read beside the clock; at a terminal a bare key is enough where no word follows.

    Attributes
    ----------
    touches : queue.Queue
        Whole commands; None where the input has ended.
    word : str
        The command that is being typed.
    """

    def __init__(self) -> None:
        self.touches: queue.Queue[str | None] = queue.Queue()
        self.word = ""
        self._stop = threading.Event()
        self._terminal = keys_of_terminal() if sys.stdin.isatty() else None

    def __enter__(self) -> Self:
        if self._terminal is not None:
            self._terminal.__enter__()
        threading.Thread(target=self._read_lines if self._terminal is None else self._read_keys, daemon=True).start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        if self._terminal is not None:
            self._terminal.__exit__()

    def _read_lines(self) -> None:
        for line in sys.stdin:
            self.touches.put(line.rstrip("\n"))
            if self._stop.is_set():
                return
        self.touches.put(None)

    def _read_keys(self) -> None:
        assert self._terminal is not None
        while not self._stop.is_set():
            try:
                keys = self._terminal.read()
            except KeyboardInterrupt:
                keys = "q"
            if keys is None:
                self.touches.put(None)
                return
            for key in keys:
                self._key(key)

    def _key(self, key: str) -> None:
        if key in "\r\n" or (self.word == "" and key in " psq"):
            self.touches.put(self.word if key in "\r\n " else key)
            self.word = ""
        elif key in "\x7f\b":
            self.word = self.word[:-1]
        elif key.isprintable():
            self.word += key
