"""`obverse read`: densities of a strip from pictures of it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from obverse.cli.progress import watched
from obverse.cli.telling import json_text

if TYPE_CHECKING:
    from obverse.workbench.strip_files import FaultFinding, Report, StripFiles, StripReading


def register(app: typer.Typer) -> None:
    """Add the command of the camera."""

    @app.command("read")
    def read(
        pictures: Annotated[
            list[Path], typer.Argument(help="One picture, or several of the same view at different shutter times.")
        ],
        patches: Annotated[int, typer.Option("--patches", "-n", help="How many patches the strip has.")],
        corners: Annotated[
            str,
            typer.Option(
                "--corners",
                help="Corners of the row of patches in pixels, from the first corner along it: x1,y1,x2,y2,x3,y3,x4,y4.",
            ),
        ] = "",
        dividers: Annotated[
            str,
            typer.Option(
                "--dividers", help="With --corners: where the patches meet, 0 at the first end to 1: 0,0.21,0.4,...,1."
            ),
        ] = "",
        shift: Annotated[
            int,
            typer.Option(
                "--shift", help="Begin so many patches later along the strip than was found; -1 is one earlier."
            ),
        ] = 0,
        other: Annotated[
            int, typer.Option("--other", help="Take that one, from 1, of the other placings that a reading lists.")
        ] = 0,
        accept: Annotated[
            bool, typer.Option("--accept", help="Take the placing as it is, whatever speaks against it.")
        ] = False,
        stops: Annotated[
            float | None,
            typer.Option(
                "--stops", help="How many stops lie between neighbours, where the pictures state no shutter times."
            ),
        ] = None,
        report: Annotated[
            Path | None,
            typer.Option(
                "--report",
                help="Pack pictures and reading into this new folder for somebody who can look into a failure; place, time and serial numbers are left out.",
            ),
        ] = None,
        panel: Annotated[
            Path | None,
            typer.Option("--panel", help="A picture of the empty panel in the same view, for the fall-off."),
        ] = None,
        response: Annotated[
            list[Path] | None,
            typer.Option(
                "--response", help="Pictures of the empty panel at several shutter times, for the tone curve; repeat."
            ),
        ] = None,
        tablet: Annotated[
            str,
            typer.Option(
                "--tablet",
                help="The strip is a step tablet with these known densities, d1,d2,...: print its calibration.",
            ),
        ] = "",
        calibration: Annotated[
            Path | None, typer.Option("--calibration", help="Calibration file made with --tablet ... --json.")
        ] = None,
        as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
    ) -> None:
        """Read the densities of a strip on a lit panel from pictures of it, and say which faults can be seen.

        Density 0 is the open panel beside the strip. Patch 1 is at the first corner; where no corners
        are given, at the left or at the top.

        Example: obverse read strip-short.tif strip-long.tif --patches 21 --json
        """
        from obverse.foundation import InputError
        from obverse.workbench.strip_files import NoStripError, ReadAsked, StripFiles, calibration_of, write_report

        strip = None
        try:
            with watched("opening the pictures"):
                strip = StripFiles.opened(pictures, response or (), marked=as_json or report is not None)
            with watched("reading the strip") as progress:
                asked = ReadAsked(
                    patches,
                    points(numbers(corners, "--corners", 8)) if corners else None,
                    numbers(dividers, "--dividers", patches + 1) if dividers else None,
                    shift,
                    other,
                    accept,
                    stops,
                )
                reading = strip.read(asked, panel=panel, calibration=calibration, progress=progress)
        except InputError as error:
            if strip and isinstance(error, NoStripError):
                typer.echo(laid_by_hand(strip), err=True)
            if report and all(file.is_file() for file in pictures):
                refused = {"patches": patches, "refused": error.sentence}
                typer.echo(packed(write_report(report, pictures, refused)), err=True)
            raise
        if tablet:
            made = calibration_of(reading, numbers(tablet, "--tablet", patches))
            typer.echo(
                made.model_dump_json(indent=2)
                if as_json
                else f"diffuse density = {made.slope:.3f} D + {made.bend:.4f} D^2, from {made.steps} steps"
            )
            return
        found = strip.with_faults(reading)
        if report:
            typer.echo(
                packed(write_report(report, pictures, {"patches": patches, "reading": found.document()})), err=True
            )
        if as_json:
            typer.echo(json_text(found.document()))
            return
        typer.echo(table(reading))
        if any(c.where in ("patches", "strip", "panel") for c in reading.cautions):
            typer.echo(way_on(reading))
        typer.echo(
            "\n".join(line for fault in found.faults for line in told(fault))
            or found.not_looked_for
            or "No fault stands out in the picture."
        )


def numbers(text: str, where: str, count: int) -> list[float]:
    """Numbers from "1,2,3", as many as are wanted."""
    from obverse.foundation import InputError

    try:
        values = [float(v) for v in text.replace(";", ",").split(",")]
    except ValueError as error:
        raise InputError(
            f"{text!r} is not a list of numbers", where=where, remedy=f"give {count} numbers with commas between"
        ) from error
    if len(values) != count:
        raise InputError(f"{count} numbers are needed, not {len(values)}", where=where, remedy="give one for each")
    return values


def points(values: Sequence[float]) -> list[tuple[float, float]]:
    """Each two neighbours as one point."""
    return [(x, y) for x, y in zip(values[::2], values[1::2], strict=True)]


def way_on(reading: StripReading) -> str:
    """What was believed, ready to be given again with a correction."""
    corners = ",".join(f"{v:.1f}" for corner in reading.area for v in corner)
    dividers = ",".join(f"{v:.4f}" for v in reading.edges)
    return "\n".join(
        [
            f"Believed: --corners {corners} --dividers {dividers}",
            "If that is right, read again with --accept; if every number lies on its neighbour, with --shift 1 or --shift -1.",
            *(f"Or, {one.words}: read again with --other {k}." for k, one in enumerate(reading.others, start=1)),
        ]
    )


def laid_by_hand(strip: StripFiles) -> str:
    """Where nothing was found: a line to be put right and given again."""
    corners = ",".join(str(v) for corner in strip.corners_to_correct() for v in corner)
    first = strip.pictures[0]
    return (
        f"Say yourself where the row of patches lies: put these corners right and read again with --corners {corners} (x,y from the "
        f"first corner along the row and round; {first.name} is {first.width} by {first.height} pixels)."
    )


def packed(report: Report) -> str:
    """What went into a report and what was left out of it, as lines of text."""
    lines = [f"Report in {report.folder}: {', '.join(report.files)}. Nothing was sent anywhere."]
    lines += [f"Left out: {words}" for words in report.left_out]
    lines.append("Look at it before you hand it over: the pictures show what they show.")
    return "\n".join(lines)


def told(fault: FaultFinding) -> list[str]:
    """A fault of the picture as lines of text: evidence, alternatives, cures."""
    return [
        f"{fault.name} ({fault.chance}): {fault.evidence} {fault.against}".rstrip(),
        *(f"   {number}. {cure.text}" for number, cure in enumerate(fault.cures, start=1)),
    ]


def table(reading: StripReading) -> str:
    """The reading as lines of text."""
    lines = [f"{reading.kind}, open panel = 0", "patch  density     sd   90 % interval   stain"]
    for p in reading.patches:
        stain = "" if p.stain_index is None else f"{p.stain_index:+7.3f}"
        mark = f"  too {p.clipped_end}" if p.clipped else ""
        lines.append(
            f"{p.index:5d}  {p.density.value:7.3f}  {p.density.sd:5.3f}  {p.density.low90:5.2f} to {p.density.high90:5.2f} {stain}{mark}"
        )
    lines += [f"{c.level.value}: {c.text}" for c in reading.cautions]
    return "\n".join(lines)
