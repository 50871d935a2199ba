"""Commands of the light table: curve, show, shots, list."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from obverse.cli.arguments import Json, stands, text_of
from obverse.cli.darkroom import darkroom
from obverse.cli.idle import tell_not_used
from obverse.cli.telling import json_text, tell
from obverse.foundation import InputError
from obverse.system import may_colour

if TYPE_CHECKING:
    from obverse.process import Series, Trial
    from obverse.workbench.light_table import TrialTold

# A shot list of a new film, in stops about the meter: both ends of any curve are on it.
FIRST_FRAME_STOPS, LAST_FRAME_STOPS = -5, 5
MINUS = "\N{MINUS SIGN}"
BOX_SPEED, AIM = 100.0, "projection"  # of a list that says nothing of its film: a film of middle speed, shown on a wall


class ListFormat(StrEnum):
    """How a list of readings is written."""

    csv = "csv"
    cgats = "cgats"


class HowExposed(StrEnum):
    """How the steps of a strip got their exposures."""

    wedge = "wedge"
    shutter = "shutter"
    aperture = "aperture"
    flash = "flash"
    timer = "timer"
    metered = "metered"
    unstated = "unstated"


def register(app: typer.Typer) -> None:
    """Add the commands of the light table."""
    app.command()(curve)
    app.command()(show)
    app.command()(shots)
    app.command("list")(list_)


def curve(
    file: Annotated[
        str,
        typer.Argument(
            help="A series document (JSON), or readings: CSV log_exposure,density[,sd] or CGATS.17 text; '-' reads stdin."
        ),
    ],
    box_speed: Annotated[
        float, typer.Option("--box-speed", help="For a list of readings: ISO speed on the box.")
    ] = BOX_SPEED,
    base_density: Annotated[
        float | None,
        typer.Option("--base-density", help="For a list of readings: density of a bare, fixed piece of the film."),
    ] = None,
    aim: Annotated[str, typer.Option("--aim", help="For a list of readings: projection, light_table or scan.")] = AIM,
    exposed: Annotated[
        HowExposed,
        typer.Option("--exposed", help="For a list of readings: how the steps got their exposures."),
    ] = HowExposed.unstated,
    convert: Annotated[
        str, typer.Option("--as", help="For a list of readings: convert it from what it was found to be.")
    ] = "",
    as_it_is: Annotated[
        bool, typer.Option("--as-is", help="For a list of readings: take it as it stands, whatever it looks like.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """The characteristic curve of each trial: dmin, dmax, gradient, mid-tone exposure, speed, faults, each with uncertainty.

    Example: obverse curve strip.csv --base-density 0.25
    """
    from obverse.process import Series, SeriesFilm, Trial, named_aim
    from obverse.workbench.light_table import patches_of, read_anything, series_answer, take_list

    found = read_anything(text_of(file), where=file)
    doubts: list[str] = []
    if not isinstance(found, Series):
        _positive(box_speed, "--box-speed", 100_000)
        if base_density is not None and not 0 <= base_density <= 1.5:
            raise InputError(
                f"a base density of {base_density:g} cannot be", where="--base-density", remedy="give one from 0 to 1.5"
            )
        from obverse.process import CONTROLS

        taken = take_list(
            found, where=file, convert=convert, as_it_is=as_it_is, base_density=base_density, box_speed=box_speed
        )
        if against := taken.standing_against:
            ways = [f"--as {against.code} ({against.way_on})"] if against.convert else [against.way_on]
            if against.verdict == "likely_not":
                ways.append("--as-is to take it as it stands")
            raise InputError(against.sentence, where=file, remedy=", or ".join(ways))
        found = taken.readings
        doubts = [
            f"{doubt.sentence}; {doubt.way_on}{f' (--as {doubt.code})' if doubt.convert else ''}"
            for doubt in taken.beside
        ]
        trial = Trial(
            id=Path(file).stem[:120] if file != "-" else "readings", steps=patches_of(found), exposed=exposed.value
        )
        found = Series(
            format="obverse-series",
            version=1,
            film=SeriesFilm(name="the film of the list", box_speed=box_speed, base_density=base_density),
            controls={name: control.range for name, control in CONTROLS.items()},
            aim=named_aim(aim),
            trials=(trial,),
        )
    else:
        typed = {
            "--box-speed": box_speed != BOX_SPEED,
            "--base-density": base_density is not None,
            "--aim": aim != AIM,
            "--exposed": exposed is not HowExposed.unstated,
            "--as": convert,
            "--as-is": as_it_is,
        }
        tell_not_used("for a series, which says it itself", typed)
    answer = series_answer(found)
    if as_json:
        document = {**answer.document(), **({"doubts": doubts} if doubts else {})}
        typer.echo(json_text(document))
        return
    for trial, told in zip(found.trials, answer.trials, strict=True):
        _print_trial(told, _strip(trial, found.film.base_density))
    for sentence in doubts:
        typer.echo(f"LOOK: {sentence}")
    typer.echo(f"Speed: {answer.speed_rule} ({answer.speed_standing})")


def show(
    what: Annotated[
        str,
        typer.Argument(
            help="A series document, a list of readings, or the name of a film in your notebook; empty lists the films."
        ),
    ] = "",
    as_json: Json = False,
) -> None:
    """Show tone strips in the terminal: the trials of a film, stacked.

    Example: obverse show series.json
    """
    from obverse.process import CONTROLS, Series
    from obverse.workbench.light_table import patches_of, read_anything, strip_of

    if what == "-" or stands(what):
        found = read_anything(text_of(what), where=what)
        if not isinstance(found, Series):
            strip = strip_of([patch.density for patch in patches_of(found)], None)
            typer.echo(json_text({"strip": strip}) if as_json else _greys(strip))
            return
        series = found
    else:
        with darkroom() as bench:
            films = bench.notebook.films()
            if not what and as_json:
                listed = [
                    {
                        "id": film.id,
                        "name": film.thing.name,
                        "box_speed": film.thing.box_speed,
                        "trials": len(bench.notebook.trials(film.id)),
                    }
                    for film in films
                ]
                typer.echo(json_text({"films": listed}))
                return
            if not what:
                for film in films:
                    typer.echo(
                        f"{film.id}  {film.thing.name}, {film.thing.box_speed:g}: {len(bench.notebook.trials(film.id))} trials"
                    )
                if not films:
                    typer.echo("The notebook holds no film yet; add one on its page (obverse serve).")
                return
            chosen = [film for film in films if what in (film.id, film.thing.name)]
            if not chosen:
                raise InputError(
                    f"there is no file and no film called {what!r}",
                    remedy="`obverse show` alone lists the films of your notebook",
                )
            series = bench.notebook.series(chosen[0].id)
    if as_json:
        document = series.model_dump(mode="json")
        for trial, told in zip(series.trials, document["trials"], strict=True):
            told["strip"] = _strip(trial, series.film.base_density)
        typer.echo(json_text(document))
        return
    typer.echo(f"{series.film.name}, {series.film.box_speed:g}")
    for trial in series.trials:
        controls = CONTROLS.text(trial.controls)
        greys = _greys(_strip(trial, series.film.base_density))
        grades = ", ".join(f"{grade.of} {grade.grade.replace('_', ' ')}" for grade in trial.grades)
        tell(f"{greys or '(no readings)'}  {trial.id}: {controls}{'; ' + grades if grades else ''}")


def shots(
    low: Annotated[float, typer.Option(help="First frame, stops against the metered exposure.")] = -5,
    high: Annotated[float, typer.Option(help="Last frame, stops against the metered exposure.")] = 5,
    step: Annotated[float, typer.Option(help="Stops from frame to frame.")] = 1,
    shutter_s: Annotated[
        float | None, typer.Option("--shutter-s", help="Metered time in seconds; then each frame's time is printed.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """A shot list: a bracket of evenly lit grey frames that stands in for a step wedge.

    Example: obverse shots --low -5 --high 5 --step 1 --shutter-s 0.0167
    """
    from obverse.workbench.light_table import shots

    found = shots(low, high, step, metered_shutter_s=shutter_s)
    if as_json:
        typer.echo(json_text({"shots": [shot.document() for shot in found]}))
        return
    typer.echo("Fill the frame with an evenly lit, out-of-focus grey card. Keep the aperture, change the time.")
    for shot in found:
        time = f"   {shot.shutter}" if shot.shutter else ""
        typer.echo(
            f"{shot.frame:>3}. {_signed(shot.stops, 2):>7} stops   log exposure {_signed(shot.log_exposure, digits=3):>7}{time}"
        )
    if any(shot.shutter_s is not None and shot.shutter_s > 1 for shot in found):
        typer.echo("Times over 1 s lose speed (reciprocity): open the aperture instead, or add light.")


def list_(
    file: Annotated[str, typer.Argument(help="Readings: CSV or CGATS.17 text, or a series document; '-' reads stdin.")],
    to: Annotated[ListFormat, typer.Option("--to", help="csv or cgats (CGATS.17 / ISO 28178 text).")] = ListFormat.csv,
    trial: Annotated[str | None, typer.Option("--trial", help="Of a series document: the id of the trial.")] = None,
    shot_densities: Annotated[
        bool, typer.Option("--frames", help="The file holds one density a line, in the order of a shot list.")
    ] = False,
    low: Annotated[float, typer.Option(help="With --frames: first frame, stops.")] = FIRST_FRAME_STOPS,
    high: Annotated[float, typer.Option(help="With --frames: last frame, stops.")] = LAST_FRAME_STOPS,
    step: Annotated[float, typer.Option(help="With --frames: stops from frame to frame.")] = 1,
    as_json: Json = False,
) -> None:
    """Convert a list of readings, or pair the densities of bracketed frames with their exposures; prints to stdout.

    Example: obverse list strip.csv --to cgats
    """
    from obverse.process import Series
    from obverse.workbench.bootstrap import this_computers_clock
    from obverse.workbench.light_table import list_text, paired_with_frames, patches_of, read_anything, readings_of

    text = text_of(file)
    if shot_densities:
        readings = paired_with_frames(_densities(text, file), low, high, step)
    else:
        found = read_anything(text, where=file)
        readings = readings_of(_chosen_trial(found, trial, file).steps) if isinstance(found, Series) else found
    if as_json:
        patches = [patch.model_dump(mode="json") for patch in patches_of(readings)]
        typer.echo(json_text({"name": file, "patches": patches}))
        return
    typer.echo(list_text(readings, to.value, name=file, created=this_computers_clock().now()), nl=False)


def _chosen_trial(series: Series, trial: str | None, where: str) -> Trial:
    chosen = [one for one in series.trials if trial is None or one.id == trial]
    if len(chosen) != 1:
        names = ", ".join(one.id for one in series.trials[:6]) or "none"
        raise InputError(f"which trial is not clear (it holds {names})", where=where, remedy="name one with --trial")
    return chosen[0]


def _densities(text: str, where: str) -> list[float]:
    found = []
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        try:
            found.append(float(line))
        except ValueError:
            raise InputError(
                f"{line.strip()[:30]!r} is not one density",
                where=f"{where}, line {number}",
                remedy="give one density a line",
            ) from None
    return found


def _positive(value: float, where: str, most: float) -> None:
    if not 0 < value <= most:
        raise InputError(f"{value:g} cannot be", where=where, remedy=f"give a number over 0, up to {most:g}")


def _strip(trial: Trial, base_density: float | None) -> list[float]:
    from obverse.workbench.light_table import strip_of

    patches = sorted(trial.steps, key=lambda patch: patch.log_exposure)
    return strip_of([patch.density for patch in patches], base_density)


def _greys(strip: list[float]) -> str:
    """The strip as 24-bit terminal colours; densities in figures where the output is no terminal, or wants no colour."""
    import sys

    from obverse.workbench.light_table import greys_of

    if not may_colour(sys.stdout):
        return " ".join(f"{density:.2f}" for density in strip)
    return "".join(f"\x1b[48;2;{g};{g};{g}m  " for g in (round(255 * grey) for grey in greys_of(strip))) + (
        "\x1b[0m" if strip else ""
    )


def _print_trial(told: TrialTold, strip: list[float]) -> None:
    typer.echo(f"{told.id}, densities above base   {_greys(strip)}")
    if told.curve is None:
        typer.echo(f"   no curve: {told.reason}")
    else:
        numbers = told.curve.numbers(told.box_speed)
        for key, name, digits in (
            ("dmax", "Dmax, base included", 2),
            ("dmin", "Dmin, base included", 2),
            ("gradient", "gradient", 2),
            ("midtone_log_exposure", "mid-tone log exposure", 2),
            ("highlight_density", "highlight above base", 2),
            ("reversal_speed", "speed, mid-curve rule", 0),
            ("exposure_index", "meter setting", 0),
        ):
            value = numbers[key]
            if value is not None:
                shown = _figure(value.value, digits, plus="log" in key)
                low, high = (_figure(end, digits, plus=False) for end in (value.low90, value.high90))
                typer.echo(f"   {name:<22} {shown:>7}   ({low} to {high})")
        for caution in told.curve.cautions:
            tell(f"   {caution.level.value.upper()}: {caution.text}")
    for fault in told.faults:
        tell(f"   {fault.name} ({100 * fault.probability:.0f} %): {fault.evidence}")
        for cure in fault.cures[:2]:
            tell(f"      {cure.text}")
    typer.echo("")


def _figure(value: float, digits: int, *, plus: bool) -> str:
    return f"{value:{'+' if plus else ''}.{digits}f}".replace("-", MINUS)


def _signed(value: float, digits: int) -> str:
    return f"{value:+.{digits}f}".replace("-", MINUS)
