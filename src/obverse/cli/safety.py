"""Commands of care: check, routes, destroy, air."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from obverse.cli.darkroom import darkroom
from obverse.cli.telling import EVERY, VOLUME, json_text, tell, tell_cautions, volume_said
from obverse.foundation import Deferral, InputError, Level, UnsafeError

if TYPE_CHECKING:
    from collections.abc import Callable

    from obverse.workbench.care import Care, Finding


# A bath that is poured and mixed stands open about so long.
OPEN_MIN = 5.0
# The strongest ammonia that is sold (35 % w/w, from memory), and what no home has more of (our judgement): changes of air an hour, open
# surface, a week.
MOST_AMMONIA_MOL_PER_L, MOST_CHANGES, MOST_SURFACE_M2, MOST_TIME_MIN = 18.5, 1000.0, 10.0, 10_080.0
R = TypeVar("R")


def register(app: typer.Typer) -> None:
    """Add the commands of care."""
    app.command()(check)
    app.command()(routes)
    app.command()(destroy)
    app.command()(air)


def check(
    names: Annotated[
        list[str] | None,
        typer.Argument(
            help="Two or more keys: products, formulas, used_FORMULA, substances or things; perhaps with amounts, vinegar_5=200mL."
        ),
    ] = None,
    context: Annotated[
        str,
        typer.Option(
            "--context",
            help="mixing, carry_over, waste, storage, same_room, drain, closed_jug, standing, damp or any.",
        ),
    ] = "any",
    every: Annotated[bool, EVERY] = False,
    listed: Annotated[bool, typer.Option("--list", help="List the names that are understood.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """May these meet? Says what is recorded and reckoned; exit code 3 where it could kill. No finding never means safe.

    Your own products count as their labels say, by key or by name. Without amounts usual ones are taken; with all
    of them given, what comes out small is only noted. The air is that of your room.

    Example: obverse check laundry_bleach household_ammonia_5 --context same_room
    """
    from obverse.workbench.care import NOTHING, refuse_lethal, shown_and_folded

    if listed:
        known = _care(lambda care: care.names())
        typer.echo(json_text(known) if as_json else "\n".join(f"{key:34} {name}" for key, name in known.items()))
        return
    found = _care(lambda care: care.meet(list(names or []), context))
    if as_json:
        typer.echo(
            json_text({"findings": [finding.document() for finding in found], "said": NOTHING if not found else ""})
        )
    elif not found:
        tell(NOTHING)
    else:
        shown, rest = shown_and_folded(found)
        for finding in found if every else shown:
            _print_finding(finding)
        if rest and not every:
            tell(f"{len(rest)} more of the same kinds or milder: --all")
    if as_json:
        refuse_lethal(found)
    worst = next((finding for finding in found if finding.refused), None)
    if worst is not None:
        # In its amounts it stands above.
        raise UnsafeError(f"refused, it can kill: {worst.product}", where="check", remedy="keep them apart")


def routes(
    route: Annotated[str | None, typer.Argument(help="Key of a process; without it, all of them are listed.")] = None,
    every: Annotated[bool, EVERY] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Process routes, the least hazardous first; with a key, its steps with hazards and cautions.

    Example: obverse routes iron_ammonia_light
    """
    from obverse.cli.bench import room_here
    from obverse.process.catalog import choice_among, formulas
    from obverse.process.catalog import routes as catalog
    from obverse.workbench.care import route_care, shown_and_folded, unknown_room

    if route is None:
        if as_json:
            typer.echo(json_text([entry.model_dump(mode="json") for entry in catalog().values()]))
            return
        for entry in catalog().values():
            tell(f"{entry.key:24} {entry.name}\n{'':24} {entry.summary}\n{'':24} {entry.warnings[0]}")
        return
    if route not in catalog():
        raise InputError(f"no process is called {route!r}", where="process", remedy=choice_among(catalog()))
    care = route_care(catalog()[route], formulas(), room_here() or unknown_room())
    if as_json:
        typer.echo(json_text(care.document()))
        return
    tell(care.route.name)
    # Who is heard before us is said at the foot.
    warnings = [warning for warning in care.route.warnings if not Deferral.is_said_by(warning)]
    tell_cautions((("caution", warning) for warning in warnings), every=every, indent="  ")
    for number, each in enumerate(care.steps, start=1):
        step = each.step
        tell(
            f"\n{number:2}. {step.name}, {step.time_min:g} min, {step.temperature_low_c:g} to {step.temperature_high_c:g} C, {step.light}"
        )
        tell(f"    {step.do}")
        if each.sheet is not None:
            codes = " ".join(code.code for code in each.sheet.codes) or "no statement recorded"
            tell(f"    {codes}; wear: {', '.join(each.sheet.wear)}")
        for caution in step.cautions:
            tell(f"    ! {caution}")
        # What a good rinse leaves is said to whoever asks for everything.
        loud = [finding for finding in each.findings if every or finding.level is not Level.NOTE]
        shown, rest = shown_and_folded(loud)
        for finding in (*shown, *rest) if every else shown:
            tell(f"    {'!!' if finding.level is Level.DANGER else '!'} {finding.text} {finding.advice}")
        if rest and not every:
            tell(f"      {len(rest)} more of the same kinds or milder: --all")
        for after in each.destruction:
            tell(f"    > {after.name}: {after.do}")
    tell(f"\n{Deferral.FIRST}")


def destroy(
    formula: Annotated[str, typer.Argument(help="Key of the formula of the used bath, such as ammonia_bath.")],
    volume: Annotated[
        str, typer.Option("--volume-ml", "--volume", metavar="VOLUME", help=f"How much of it was used. {VOLUME}")
    ] = "500",
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """How to destroy a used bath the same evening, with its clock.

    Example: obverse destroy ammonia_bath --volume-ml 500
    """
    from obverse.process.catalog import choice_among, formulas
    from obverse.workbench.care import destruction_steps, residue_of

    if formula not in formulas():
        raise InputError(f"no formula is called {formula!r}", where="destroy", remedy=choice_among(formulas()))
    steps = destruction_steps(formulas()[formula], volume_ml=volume_said(volume, "--volume-ml") or 0.0)
    if as_json:
        typer.echo(json_text([step.model_dump(mode="json") for step in steps]))
        return
    residue = residue_of(formulas()[formula])
    if residue is None:
        tell("It leaves nothing that must be destroyed before its jug. Local codes come first.")
        return
    tell(f"Within {residue.deadline_min:g} minutes from when {residue.clock}:")
    for number, step in enumerate(steps, start=1):
        tell(f"{number}. {step.name}. {step.do}")
        for caution in step.cautions:
            tell(f"   ! {caution}")


def air(
    room: Annotated[
        str,
        typer.Option(
            "--room-m3", "--room", metavar="VOLUME", help="Of the room: in cubic metres, or with its unit: '420 cu ft'."
        ),
    ],
    changes: Annotated[
        float,
        typer.Option("--changes", max=MOST_CHANGES, help="Fresh air changes an hour: 0.5 closed, 4 to 10 with a fan."),
    ] = 0.5,
    ammonia_mol_per_l: Annotated[
        float,
        typer.Option("--ammonia-mol-per-l", max=MOST_AMMONIA_MOL_PER_L, help="Strength of the open ammonia bath."),
    ] = 0.5,
    surface_m2: Annotated[
        float, typer.Option("--surface-m2", max=MOST_SURFACE_M2, help="Open surface: 0.01 for a tank, 0.03 for a tray.")
    ] = 0.01,
    time_min: Annotated[float, typer.Option("--time-min", max=MOST_TIME_MIN, help="How long it is open.")] = OPEN_MIN,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Ammonia in the air beside an open bath: an estimate on the high side, never a promise.

    Example: obverse air --room-m3 6 --changes 0.5
    """
    from obverse.process import METRIC
    from obverse.workbench.care import Room, ammonia_in_air

    volume_m3 = METRIC.said_room(room, where="--room-m3")
    found = ammonia_in_air(Room(volume_m3, changes), ammonia_mol_per_l, surface_m2, time_min)
    if as_json:
        typer.echo(json_text(found.document()))
        return
    for name, (low, likely, high) in (("Mean of the room", found.ppm_room), ("Near the bath", found.ppm_near)):
        middle, least, most = (f"{float(f'{ppm:.2g}'):g}" for ppm in (likely, low, high))
        tell(f"{name}: {middle} ppm, {least} to {most}")
    for limit in found.limits:
        tell(f"  {limit.name:12} {limit.ppm:5g} ppm, {limit.meant_for}{': may be passed' if limit.passed else ''}")
    for caution in found.cautions:
        tell(f"{caution.level.value.capitalize()}: {caution.text}")


def _care(work: Callable[[Care], R]) -> R:
    """What `work` makes of the person's care; of an empty one in memory where there is no notebook yet."""
    from obverse.workbench.bootstrap import has_notebook

    with darkroom(None if has_notebook() else "sqlite://") as bench:
        return work(bench.care)


def _print_finding(finding: Finding) -> None:
    mark = "REFUSED" if finding.refused else finding.level.value.upper()
    place = "anywhere" if finding.context == "any" else finding.context.replace("_", " ")
    tell(f"{mark} ({place}, severity {finding.severity}): {finding.text} {finding.advice}")
    tell(f"   {finding.source.words}: {finding.source.text}")
