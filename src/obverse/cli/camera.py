"""`obverse read`: densities of a strip from pictures of it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer


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
                help="Corners of the strip in pixels, from the first corner along the strip: x1,y1,x2,y2,x3,y3,x4,y4.",
            ),
        ] = "",
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
        from obverse.capture import load_picture
        from obverse.capture.bracket import load_bracket
        from obverse.densitometry import Calibration, calibrate, read_strip
        from obverse.diagnosis import diagnose_picture
        from obverse.foundation import parse_json, read_document

        loaded = load_bracket(pictures, response or ())
        known = (
            read_document(
                Calibration, parse_json(calibration.read_bytes(), where=calibration.name), where=calibration.name
            )
            if calibration
            else None
        )
        reading = read_strip(
            loaded,
            patches,
            numbers(corners, "--corners", 8, pairs=True) if corners else None,
            panel=load_picture(panel) if panel else None,
            calibration=known,
        )
        if tablet:
            densities = numbers(tablet, "--tablet", patches)
            good = [p for p in reading.patches if not p.clipped]
            made = calibrate(
                [p.density.value for p in good],
                [p.density.sd for p in good],
                [densities[p.index - 1] for p in good],
                tablet="step tablet",
            )
            typer.echo(
                made.model_dump_json(indent=2)
                if as_json
                else f"diffuse density = {made.slope:.3f} D + {made.bend:.4f} D^2, from {made.steps} steps"
            )
            return
        faults = diagnose_picture(loaded, reading)
        if as_json:
            typer.echo(json.dumps(reading.document() | {"faults": [fault.document() for fault in faults]}, indent=2))
            return
        typer.echo(table(reading))
        typer.echo(
            "\n".join(line for fault in faults for line in told(fault))
            if faults
            else "No fault stands out in the picture."
        )


def numbers(text: str, where: str, count: int, *, pairs: bool = False):
    """Numbers from "1,2,3", as many as are wanted, in pairs where wanted."""
    from obverse.foundation import InputError

    try:
        values = [float(v) for v in text.replace(";", ",").split(",")]
    except ValueError as error:
        raise InputError(
            f"{text!r} is not a list of numbers", where=where, remedy=f"give {count} numbers with commas between"
        ) from error
    if len(values) != count:
        raise InputError(
            f"{len(values)} numbers were given, {count} are needed", where=where, remedy="give one for each"
        )
    return [tuple(values[k : k + 2]) for k in range(0, count, 2)] if pairs else values


def told(fault) -> list[str]:
    """A fault of the picture as lines of text: evidence, alternatives, cures."""
    return [
        f"{fault.name} ({fault.chance}): {fault.evidence} {fault.against}".rstrip(),
        *(f"   {number}. {cure.text}" for number, cure in enumerate(fault.cures, start=1)),
    ]


def table(reading) -> str:
    """The reading as lines of text."""
    lines = [f"{reading.kind}, open panel = 0", "patch  density     sd   stain"]
    for p in reading.patches:
        stain = "" if p.stain_index is None else f"{p.stain_index:+7.3f}"
        mark = f"  too {p.clipped_end}" if p.clipped else ""
        lines.append(f"{p.index:5d}  {p.density.value:7.3f}  {p.density.sd:5.3f} {stain}{mark}")
    lines += [f"{c.level.value}: {c.text}" for c in reading.cautions]
    return "\n".join(lines)
