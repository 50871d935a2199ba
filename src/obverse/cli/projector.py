"""Commands of the projector: card, wall, seen, roll, show-list."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from obverse.cli.arguments import Force, Json, Paper, ask_before_replacing
from obverse.cli.darkroom import darkroom
from obverse.cli.telling import LENGTH, json_text, length_said, units_told

if TYPE_CHECKING:
    from datetime import date

    from obverse.foundation import JsonObject
    from obverse.workbench.projector import Projector, SolvedLens
    from obverse.workbench.slide_curve import SlideCurve
    from obverse.workbench.wall_aim import WallAim

# A denser base lets no picture through, and an index that differs by less is no other one.
MOST_BASE_DENSITY, LEAST_STOPS = 1.5, 0.05


def register(app: typer.Typer) -> None:
    """Add the commands of the projector."""
    app.command()(card)
    app.command()(wall)
    app.command()(seen)
    app.command()(roll)
    app.command("show-list")(show_list)


Source = Annotated[
    str,
    typer.Argument(
        help="A recipe document, the id of a recipe, trial:ID, film:ID (its next strip), or 'example' for an invented curve."
    ),
]


def card(
    source: Source,
    exposure_index: Annotated[
        float | None, typer.Option("--index", help="Meter setting; default: the recipe's, else the curve's own.")
    ] = None,
    p: Annotated[
        float | None, typer.Option("--p", help="Schwarzschild's p, 0.7 to 1; sources say 0.8 and 0.86.")
    ] = None,
    guide_number: Annotated[
        str, typer.Option("--guide-number", metavar="LENGTH", help=f"Of the flash at 100. {LENGTH}")
    ] = "28",
    out: Annotated[Path | None, typer.Option("--out", help="Write the card as PDF to this file.")] = None,
    paper: Paper = "",
    force: Force = False,
    as_json: Json = False,
) -> None:
    """The exposure card: meter setting, zones and their densities, bracket, filters, long exposures, flash.

    Example: obverse card example --out card.pdf
    """
    from obverse.workbench.exposure_card import exposure_card, f_number_words, watch_words

    if out is not None:
        ask_before_replacing(out, force=force)
    with _projector() as (projector, today):
        curve = _curve(projector, source)
        found = exposure_card(
            curve,
            projector.screen(),
            exposure_index=exposure_index or curve.exposure_index_used,
            p=p,
            guide_number_m=length_said(guide_number, "--guide-number") or 0.0,
        )
    if out is not None:
        from obverse.cli.house import write_whole
        from obverse.sheets.exposure_card import exposure_card_pdf

        write_whole(out, exposure_card_pdf(found, printed_on=today, paper=paper or units_told().paper))
        typer.echo(f"{out} holds the card.", err=True)
    if as_json:
        typer.echo(json_text(found.document()))
        return
    if out is not None:
        return
    typer.echo(f"{found.curve.film}, by {found.curve.name}")
    typer.echo(f"Set the meter to {found.dial:g}: {found.known}")
    typer.echo(
        f"{found.range_stops:.1f} stops usable: {found.under_stops:.1f} under, {found.over_stops:.1f} over the metered tone"
    )
    for zone in found.zones:
        typer.echo(f"{zone.name:>6}  density {zone.density:.2f}  L* {zone.lightness:3.0f}  {zone.words}")
    typer.echo(found.bracket_words)
    typer.echo(
        "Filters: "
        + ", ".join(f"{name} {factor:g}x" for name, factor, _ in found.filters)
        + " (common practice; the mount comes first)"
    )
    typer.echo(
        f"Long exposures (p {found.reciprocity_p:g}): "
        + ", ".join(f"{m:g} s -> {watch_words(g)}" for m, g, _, _ in found.reciprocity)
    )
    units = units_told()
    typer.echo("Flash: " + ", ".join(f"{units.length(d)} {f_number_words(f)}" for d, f in found.flash))
    for caution in found.cautions:
        typer.echo(f"{caution.level.value.upper()}: {caution.text}")


def wall(
    source: Source = "example",
    flux_lm: Annotated[float | None, typer.Option("--lumens", help="Light through the open gate, lm.")] = None,
    width: Annotated[
        str, typer.Option("--width-m", "--width", metavar="LENGTH", help=f"Of the picture. {LENGTH}")
    ] = "",
    gain: Annotated[float | None, typer.Option("--gain", help="Of the screen.")] = None,
    stray: Annotated[
        float | None, typer.Option("--stray", help="Flare: a black spot over the open gate in a dark room, 0 to 0.5.")
    ] = None,
    room_lux: Annotated[
        float | None, typer.Option("--room-lux", help="Light of the room on the screen, projector off.")
    ] = None,
    callier: Annotated[
        float | None, typer.Option("--callier", help="1 to 1.9; silver in a condenser projector about 1.2 to 1.4.")
    ] = None,
    corner_light: Annotated[
        float | None,
        typer.Option("--corner-light", help="Light at the corners over that of the middle, above 0 to 1."),
    ] = None,
    gate: Annotated[
        str,
        typer.Option(
            "--mount",
            help="'24 x 36', 'half frame', '4 x 4', '6 x 4.5', '6 x 6' or '16 mm'; '24 x 36, upright' and so on.",
        ),
    ] = "",
    focal_mm: Annotated[
        float | None,
        typer.Option("--focal-mm", help="Of the lens; with --throw-m or --width-m the third is worked out."),
    ] = None,
    throw: Annotated[
        str, typer.Option("--throw-m", "--throw", metavar="LENGTH", help=f"From the lens to the wall. {LENGTH}")
    ] = "",
    surround: Annotated[
        Literal["dark", "dim", "average"],
        typer.Option("--surround", help="With --aim: dark, dim or average."),
    ] = "dark",
    shown_on: Annotated[
        Literal["wall", "light_table", "screen"],
        typer.Option("--shown-on", help="With --aim: wall, light_table (or viewer), screen (a scan on a monitor)."),
    ] = "wall",
    aim: Annotated[bool, typer.Option("--aim", help="Print the aim that this wall asks for.")] = False,
    as_json: Json = False,
) -> None:
    """What a slide and a projector give on the wall: luminance, contrast left, the widest picture.

    Example: obverse wall example --lumens 700 --focal-mm 85 --throw-m 4
    """
    from obverse.foundation import read_document
    from obverse.workbench.preview import Screen
    from obverse.workbench.projector import aspect_of, sums
    from obverse.workbench.wall_aim import as_shown, wall_aim

    width_m, throw_m = length_said(width, "--width-m"), length_said(throw, "--throw-m")
    given: dict[str, float | str | None] = {
        "flux_lm": flux_lm,
        "width_m": width_m,
        "gain": gain,
        "stray": stray,
        "room_lux": room_lux,
        "callier": callier,
        "corner_light": corner_light,
    }
    with _projector() as (projector, _):
        curve = _curve(projector, source)
        solved = _solved(gate or projector.screen().gate, focal_mm, throw_m, width_m)
        if solved is not None:
            given |= {"width_m": solved.width_m, "aspect": solved.aspect, "gate": solved.gate}
        elif gate:
            given |= {"aspect": aspect_of(gate), "gate": gate}
        screen = read_document(
            Screen,
            {**projector.screen().model_dump(), **{k: v for k, v in given.items() if v is not None}},
            where="projector",
        )
    if aim:
        screen, own = as_shown(screen, shown_on)
        asked = wall_aim(
            screen, surround=own or surround, base_density=min(max(curve.base_density, 0.0), MOST_BASE_DENSITY)
        )
        if as_json:
            typer.echo(json_text(asked.document()))
        else:
            _print_aim(asked)
        return
    found = sums(screen, [curve])
    if as_json:
        typer.echo(
            json_text(
                {
                    "screen": screen.model_dump(mode="json"),
                    "lens": solved.document() if solved else None,
                    **found.document(),
                }
            )
        )
        return
    slide, units = found.slides[0], units_told()
    typer.echo(f"{curve.name} on a picture {units.length(screen.width_m)} wide, {screen.flux_lm:g} lm")
    typer.echo(
        f"open gate   {found.gate_cd_m2:.0f} cd/m2, {found.gate_fl:.1f} fL (cinema practice {found.cinema_fl} +- {found.cinema_fl_tolerance} fL, {found.cinema_standing})"
    )
    if found.corner_cd_m2 is not None:
        typer.echo(f"fall-off    {found.middle_cd_m2:.0f} cd/m2 in the middle, {found.corner_cd_m2:.0f} at the corners")
    typer.echo(f"highlights  {slide.highlight_cd_m2:.0f} cd/m2   blacks {slide.black_cd_m2:.2g} cd/m2")
    typer.echo(f"contrast    {slide.contrast:.0f} : 1, without stray light {slide.contrast_in_the_dark:.0f} : 1")
    typer.echo(f"base        passes {100 * slide.base_transmittance:.0f} %, costs {slide.base_stops:.2f} stop")
    typer.echo(
        f"widest      {units.length(found.largest_width_m)} at 16 fL through the open gate, {units.length(slide.width_for_highlights_m)} for the slide's highlights"
    )
    if solved is not None:
        typer.echo(
            f"lens        {solved.focal_mm:.0f} mm, {units.length(solved.throw_m)} from the wall: {units.length(solved.width_m)} x {units.length(solved.height_m)}"
        )
        typer.echo(f"            {solved.words}")
    for caution in found.cautions:
        typer.echo(f"{caution.level.value.upper()}: {caution.text}")


def seen(
    pictures: Annotated[
        list[str],
        typer.Argument(help="Photograph of a grey-scale slide on the wall, or one for each frame of a bracket roll."),
    ],
    densities: Annotated[
        str,
        typer.Option(
            "--densities", help="File with one patch a line, row by row: its density, or log exposure and density."
        ),
    ] = "",
    patches: Annotated[str, typer.Option("--patches", help="Patches across x rows.")] = "6x4",
    corners: Annotated[
        str,
        typer.Option(
            "--corners",
            help="Of the field of patches, pixels, from the upper left round: x1,y1,x2,y2,x3,y3,x4,y4.",
        ),
    ] = "",
    panel: Annotated[
        str, typer.Option("--panel", help="Photograph of the same slide on the light panel, for its densities.")
    ] = "",
    panel_corners: Annotated[str, typer.Option("--panel-corners", help="Of the field of patches there.")] = "",
    base_density: Annotated[float, typer.Option("--base-density", help="Of the slide's bare film.")] = 0.1,
    meter: Annotated[
        str, typer.Option("--meter", help="Patch and what a meter said of it on the wall, cd/m2: 1=63.5.")
    ] = "",
    source: Annotated[
        str, typer.Option("--by", help="Recipe or trial:ID that promised the densities; judges meter and process.")
    ] = "",
    take: Annotated[bool, typer.Option("--take", help="Reckon with the projector as seen from now on.")] = False,
    as_json: Json = False,
) -> None:
    """A grey scale photographed on the wall: what it says of stray light, Callier factor, fall-off, lamp, and of the slide.

    Example: obverse seen wall.tif --corners 206,152,984,153,983,710,205,712 --densities scale.csv
    """
    from obverse.cli.arguments import pairs as pairs_of
    from obverse.cli.arguments import read_given, text_of
    from obverse.cli.camera import numbers, points
    from obverse.foundation import InputError, parse_number, read_document, whole_number
    from obverse.workbench.wall_seen import ScaleAsked, opened

    across, down = (whole_number(side.strip()) for side in (*patches.lower().split("x", 1), "")[:2])
    if across is None or down is None:
        raise InputError(f"{patches!r} is no field of patches", where="--patches", remedy="write it like 6x4")
    asked: dict[str, object] = {
        "columns": across,
        "rows": down,
        "base_density": base_density,
        "densities": text_of(densities) if densities else "",
    }
    for name, option, text in (("corners", "--corners", corners), ("panel_corners", "--panel-corners", panel_corners)):
        if text:
            asked[name] = points(numbers(text, option, 8))
    if meter:
        patch, said = pairs_of([meter], "--meter", "1=63.5")[0]
        asked |= {
            "spot_patch": int(parse_number(patch, where="--meter")),
            "spot_cd_m2": parse_number(said, where="--meter"),
        }
    with _projector() as (projector, _):
        found = projector.wall_seen(
            opened([(read_given(file), file) for file in pictures]),
            read_document(ScaleAsked, asked, where="grey scale"),
            panel=opened([(read_given(panel), panel)])[0] if panel else None,
            source=_named(source) if source else "",
        )
        if take:
            projector.take_over(found.screen)
    if as_json:
        typer.echo(json_text(found.document()))
        return
    typer.echo("patch  density  predicted   seen cd/m2   off, stops")
    for one in found.patches:
        typer.echo(
            f"{one.number:>5}  {one.density:7.2f}  {one.predicted_cd_m2:9.3g}  {one.seen_cd_m2:11.3g}  {one.off_stops:+11.1f}"
        )
    for finding in found.findings:
        typer.echo(f"{finding.title}: {finding.words}")
    if found.slide is not None:
        typer.echo(f"The slide: {found.slide.words}")
    for caution in found.cautions:
        typer.echo(f"{caution.level.value.upper()}: {caution.text}")
    if take:
        typer.echo("The projector is reckoned with as seen from now on.", err=True)


def roll(
    name: Annotated[str, typer.Argument(help="The roll, as it is called on the page of slides.")],
    zone: Annotated[
        list[str] | None, typer.Option("--zone", help="Note: frame and the zone its metered place was put on, 7=5.")
    ] = None,
    index: Annotated[float | None, typer.Option("--index", help="Note: meter setting of all frames.")] = None,
    density: Annotated[
        list[str] | None, typer.Option("--density", help="Frame and the density of that place on the panel, 7=1.08.")
    ] = None,
    into_notebook: Annotated[
        bool, typer.Option("--into-notebook", help="Write the roll into the notebook as a strip of its film.")
    ] = False,
    as_json: Json = False,
) -> None:
    """A finished roll against its exposure notes: what promised densities and seen ones say of meter and process.

    Example: obverse roll harbour --zone 7=5 --density 7=1.08 --into-notebook
    """
    from obverse.cli.arguments import settings
    from obverse.foundation import InputError

    with darkroom() as bench:
        frames = {kept.thing.frame: kept for kept in bench.projector.slides.of_roll(name)}
        notes: dict[str, dict[str, object]] = {frame: {} for frame in frames}
        for what, option, given in (("zone", "--zone", zone), ("density", "--density", density)):
            for frame, value in settings(given, option, "7=5").items():
                if frame not in frames:
                    raise InputError(
                        f"the roll has no frame {frame}", where=option, remedy="name one that stands there"
                    )
                notes[frame][what] = value
                if what == "density":
                    notes[frame]["density_sd"] = None
        for frame, changes in notes.items():
            if index is not None:
                changes["exposure_index"] = index
            if changes:
                bench.rolls.note(frames[frame].id, changes)
        written = bench.rolls.into_notebook(name) if into_notebook else None
        found = bench.rolls.seen(name)
    if as_json:
        typer.echo(json_text(found.document()))
        return
    if found.seen is None:
        typer.echo(found.why_not)
    else:
        typer.echo("frame  log exposure  promised  seen")
        for one, promised in zip(found.noted, found.seen.promised, strict=True):
            typer.echo(f"{one.frame:>5}  {one.log_exposure:+12.2f}  {promised:8.2f}  {one.density:4.2f}")
        typer.echo(found.seen.words)
    if found.waiting:
        typer.echo(f"Without note or density: {', '.join(found.waiting)}.")
    if written is not None:
        typer.echo(f"It stands in the notebook as {written.thing.trial.id}.", err=True)


def show_list(
    name: Annotated[str, typer.Argument(help="Name or id of a kept list; empty prints which there are.")] = "",
    out: Annotated[Path | None, typer.Option("--out", help="Write the list as PDF to this file.")] = None,
    labels: Annotated[
        Path | None, typer.Option("--labels", help="Write labels for the mounts as PDF to this file.")
    ] = None,
    of_roll: Annotated[str, typer.Option("--roll", help="With --labels: of this roll, in place of a list.")] = "",
    grid: Annotated[str, typer.Option("--grid", help="Label sheet; default: a4-cut or letter-cut.")] = "",
    skip: Annotated[int, typer.Option("--skip", help="Labels of the first sheet that are used up.")] = 0,
    paper: Paper = "",
    force: Force = False,
    as_json: Json = False,
) -> None:
    """The slides of an evening in their trays; on paper, and as labels for the mounts.

    Example: obverse show-list "An evening" --out list.pdf --labels labels.pdf
    """
    from obverse.foundation import InputError

    if of_roll and labels is None:
        raise InputError("labels of a roll go into a file", where="--roll", remedy="name it with --labels")
    for file in (out, labels):
        if file is not None:
            ask_before_replacing(file, force=force)
    with _projector() as (projector, today):
        slides = projector.slides
        lists = slides.lists()
        show = slides.show(slides.list_named(name).id) if name else None
        marked = [(f"{turn.number}", turn.slide) for turn in show.turns] if show else []
        if of_roll:
            marked = [("", kept.thing) for kept in slides.of_roll(of_roll)]
    if out is not None or labels is not None:
        from obverse.cli.house import write_whole
        from obverse.sheets.show_list import mount_labels_pdf, show_list_pdf

        chosen = paper or units_told().paper
        if out is not None:
            if show is None:
                raise InputError("no list was named", where="--out", remedy="name one")
            write_whole(out, show_list_pdf(show, printed_on=today, paper=chosen))
            typer.echo(f"{out} holds the list.", err=True)
        if labels is not None:
            sheet = grid or ("letter-cut" if chosen == "us-letter" else "a4-cut")
            write_whole(labels, mount_labels_pdf(marked, sheet, skip=skip))
            typer.echo(f"{labels} holds the labels.", err=True)
    if as_json:
        told: JsonObject = (
            show.document()
            if show
            else {"lists": [{"id": k.id, "name": k.thing.name, "slides": len(k.thing.slides)} for k in lists]}
        )
        typer.echo(json_text(told))
        return
    if show is None:
        for kept in lists:
            typer.echo(f"{kept.id}  {kept.thing.name}: {len(kept.thing.slides)} slides")
        if not lists:
            typer.echo("No list is kept; make one on the page of slides (obverse serve).")
        return
    for turn in show.turns:
        typer.echo(
            f"{turn.number:>3}  {turn.projector} {turn.tray}/{turn.slot:<3} {turn.slide.roll} {turn.slide.frame}  {turn.slide.title}"
        )
    for line in show.remarks:
        typer.echo(line)


def _solved(gate: str, focal_mm: float | None, throw_m: float | None, width_m: float | None) -> SolvedLens | None:
    """The sum of the lens, where focal length or distance was given."""
    from obverse.foundation import InputError, read_document
    from obverse.workbench.projector import Lens

    if focal_mm is None and throw_m is None:
        return None
    sought = [key for key, value in (("focal", focal_mm), ("throw", throw_m), ("width", width_m)) if value is None]
    if len(sought) != 1:
        raise InputError(
            "focal length, distance and width: two of them give the third",
            where="lens",
            remedy="give exactly two of --focal-mm, --throw-m and --width-m",
        )
    asked = {"gate": gate or "24 x 36", "focal_mm": focal_mm, "throw_m": throw_m, "width_m": width_m}
    return read_document(Lens, {**asked, "sought": sought[0]}, where="lens").solved()


def _print_aim(asked: WallAim) -> None:
    windows = asked.aim
    typer.echo(
        f"open gate {asked.gate_cd_m2:.0f} cd/m2, black spot {asked.black_cd_m2:.2g} cd/m2: {asked.steps_of_wall:.0f} visible steps"
    )
    typer.echo(asked.not_words)
    typer.echo("The aim for it, densities above base as a densitometer reads them:")
    typer.echo(f"  mid-tone    {windows.midtone_density:.2f}")
    typer.echo(f"  gradient    {windows.gradient_min:.2f} to {windows.gradient_max:.2f}")
    typer.echo(f"  blacks      {windows.dmax_min:.2f} or more")
    typer.echo(f"  highlights  {windows.highlight_density_max:.2f} or less")
    typer.echo(
        f"An average scene shows {asked.steps_of_scene:.0f} steps with it, {asked.steps_of_scene_against:.0f} with {asked.against}."
    )
    if abs(asked.index_stops) >= LEAST_STOPS:
        more = "more" if asked.index_stops > 0 else "less"
        typer.echo(
            f"Its mid-tone asks for {abs(asked.index_stops):.1f} stop {more} exposure than that of {asked.against}."
        )
    for price in asked.prices:
        typer.echo(f"  {price.words}")


@contextmanager
def _projector() -> Iterator[tuple[Projector, date]]:
    """The projector of this notebook and today's date."""
    with darkroom() as bench:
        yield bench.projector, bench.clock.now().date()


def _curve(projector: Projector, source: str) -> SlideCurve:
    """The curve of a recipe's file, or of a source of the notebook; a bare id is a recipe's."""
    from obverse.cli.arguments import read_whole
    from obverse.workbench.recipes import MOST_BYTES_OF_A_RECIPE, read_recipe_text

    if Path(source).is_file():
        return projector.curve_of_recipe(
            read_recipe_text(read_whole(Path(source), MOST_BYTES_OF_A_RECIPE), where=source)
        )
    return projector.curve(_named(source))


def _named(source: str) -> str:
    """A source of the notebook; a bare id is a recipe's."""
    from obverse.foundation import InputError

    if not source.strip():
        raise InputError(
            "no source of a curve was named",
            where="source",
            remedy="give a recipe document, the id of a recipe, trial:ID, film:ID or example",
        )
    known = source == "example" or source.startswith(("recipe:", "trial:", "film:"))
    return source if known else f"recipe:{source}"
