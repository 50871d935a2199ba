"""Ordinary steps of ordinary evenings through the product's own faces: what is refused, and what is cautioned that nobody needs.

    python -m benchmarks.ordinary_evenings [--all]

Each step is a command as a person types it, or a jug or shelf as the care page asks for it, in a small room with the
door closed, as is taken where nobody says anything. What stands open to the person counts; notes and what is folded
do not. Every caution that comes is judged once, by hand, in `ordinary_evenings.json`: whether the person can act on
it. One that is not judged yet counts as needless.
"""

from __future__ import annotations

import argparse
import json
import re
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from typer.testing import CliRunner

from obverse.cli.main import build
from obverse.foundation import Level, UnsafeError
from obverse.process.catalog import formulas, routes
from obverse.safety import residue_of
from obverse.workbench.bootstrap import Workbench, open_workbench
from obverse.workbench.care import Finding, shown_and_folded

JUDGED = Path(__file__).with_suffix(".json")
VOLUMES_ML = (300, 500, 1000)
# Asked with `obverse check`: what is done at a bench and a sink on any evening, and what stands there beside each other.
CHECKED = """
mixing: citric_monohydrate=15g water=1L
mixing: citric_anhydrous=15g water=500mL
mixing: washing_soda=50g water=1L
mixing: soda_ash=20g water=1L
mixing: baking_soda=10g water=500mL
mixing: vinegar_5=100mL water=400mL
mixing: vinegar_essence_25=30mL water=500mL
mixing: sulfite_anhydrous=20g water=1L
mixing: metabisulfite_sodium=30g water=1L
mixing: metabisulfite_potassium=15g water=500mL
mixing: hypo_crystals=200g water=800mL
mixing: hypo_crystals=200g metabisulfite_sodium=20g water=800mL
mixing: hypo_crystals=200g sulfite_anhydrous=10g water=800mL
mixing: hypo_anhydrous=160g sulfite_anhydrous=20g soda_ash=5g water=1L
mixing: fixer_ats_60wv=100mL water=400mL
mixing: fixer_ats_45wv_hardening=100mL water=400mL
mixing: paper_developer_concentrate=50mL water=450mL
mixing: paper_developer_concentrate=50mL thiocyanate_crystals=2g water=450mL
mixing: paper_developer_concentrate=50mL bromide_crystals=1g water=450mL
mixing: paper_developer_concentrate=50mL caustic_soda=1g water=450mL
mixing: vitamin_c=16g soda_ash=30g water=1L
mixing: vitamin_c=16g washing_soda=80g bromide_crystals=1g water=1L
mixing: caustic_soda=10g water=1L
mixing: copper_sulfate_crystals=50g pure_salt=50g water=500mL
mixing: chrome_alum_crystals=15g water=500mL
mixing: ph_minus=10g water=500mL
mixing: peroxide_3=200mL water=200mL
mixing: wetting_agent=3mL water=500mL
mixing: borax=10g sulfite_anhydrous=50g water=1L
mixing: etchant_42be=50mL water=500mL
mixing: iron_chloride_lumps=50g water=500mL
mixing: permanganate_crystals=1g water=500mL
mixing: stop_citric=500mL baking_soda=10g
mixing: acid_rinse=500mL soda_ash=8g
mixing: used_bleach_permanganate=500mL metabisulfite_sodium=1.5g
mixing: used_bleach_permanganate=500mL clearing_metabisulfite=50mL
mixing: used_bleach_permanganate sodium_metabisulfite
mixing: used_bleach_peroxide_acid=500mL pure_salt=2g
carry_over: first_developer stop_citric
carry_over: second_developer stop_citric
carry_over: stop_citric fixer_rapid
carry_over: second_developer fixer_rapid
carry_over: fixer_rapid wash_aid_sulfite
carry_over: wash_aid_sulfite wetting_bath
carry_over: bleach_iron_chloride acid_rinse
carry_over: clearing_metabisulfite second_developer
carry_over: hardener_chrome_alum stop_citric
storage: fixer_ats_60wv paper_developer_concentrate
storage: vinegar_5 baking_soda
storage: citric_monohydrate sulfite_anhydrous
storage: citric_monohydrate washing_soda
storage: citric_anhydrous hypo_crystals
storage: vinegar_essence_25 fixer_ats_60wv
storage: hypo_crystals metabisulfite_sodium
storage: table_salt_iodised hypo_crystals
storage: wetting_agent fixer_ats_60wv
storage: peroxide_3 vinegar_5
storage: peroxide_3 citric_monohydrate
storage: household_ammonia_5 washing_soda
storage: household_ammonia_5 fixer_ats_60wv
storage: vitamin_c soda_ash
storage: bromide_crystals paper_developer_concentrate
storage: etchant_42be citric_monohydrate
storage: permanganate_crystals soda_ash
storage: copper_sulfate_crystals pure_salt
same_room: first_developer stop_citric
same_room: stop_citric fixer_rapid
same_room: second_developer fixer_rapid
same_room: wash_aid_sulfite stop_citric
same_room: bleach_iron_chloride acid_rinse
same_room: bleach_peroxide_acid second_developer
same_room: wetting_bath fixer_rapid
drain: stop_citric=500mL wetting_bath=500mL
drain: wash_aid_sulfite=500mL water=2L
drain: stop_citric=500mL soda_ash=5g
drain: second_developer=500mL stop_citric=500mL
drain: wetting_bath=500mL water=1L
closed_jug: fixer_rapid=500mL water=10mL
closed_jug: stop_citric=500mL water=10mL
closed_jug: second_developer=500mL water=10mL
closed_jug: wash_aid_sulfite=500mL water=10mL
standing: fixer_rapid=500mL water=10mL
standing: stop_citric=500mL water=10mL
standing: used_fixer_rapid=500mL stop_citric=20mL
standing: bleach_iron_chloride=500mL water=10mL
waste: used_fixer_rapid=500mL wash_aid_sulfite=500mL
waste: used_fixer_rapid=500mL first_developer=500mL
waste: used_bleach_iron_chloride=500mL acid_rinse=500mL
waste: clearing_metabisulfite=500mL second_developer=500mL
waste: used_fixer_rapid=500mL iron=20g
""".strip().splitlines()
# A caution as the terminal prints it, and as a line of a process does.
_TOLD = re.compile(
    r"^\s*(?P<level>REFUSED|DANGER|CAUTION)\b[^:]*: (?P<text>.*)$|^    (?P<mark>!!?) (?P<line>.*)$", re.M
)
_FIGURE = re.compile(r"\d+(?:[.,]\d+)?")


@dataclass(frozen=True)
class Told:
    """What one step tells: its name, what stands open, and whether it was refused."""

    step: str
    open: tuple[str, ...]
    refused: bool


def typed() -> Iterator[str]:
    """Commands of ordinary evenings."""
    for key in formulas():
        for volume_ml in VOLUMES_ML:
            yield f"mix {key} --volume-ml {volume_ml}"
    for key in routes():
        yield f"routes {key}"
        for tank_ml in VOLUMES_ML:
            yield f"run {key} --plan --tank-ml {tank_ml}"
    for line in CHECKED:
        context, _, names = line.partition(": ")
        yield f"check {names} --context {context}"
    for key, formula in formulas().items():
        if residue_of(formula) is not None:
            yield f"destroy {key} --volume-ml 500"


def by_command(command: str) -> Told:
    """A command as it is typed, and what it prints."""
    done = CliRunner().invoke(build(), command.split())
    refused = isinstance(done.exception, UnsafeError)
    if done.exit_code and not refused:
        raise RuntimeError(f"{command}: {done.output} {done.exception!r}")
    found = [match["text"] or match["line"] for match in _TOLD.finditer(done.output)]
    return Told(f"obverse {command}", tuple(found), refused)


def _open(found: tuple[Finding, ...]) -> tuple[str, ...]:
    return tuple(f"{one.text} {one.advice}" for one in shown_and_folded(found)[0] if one.level is not Level.NOTE)


def by_jug(bench: Workbench, key: str, tank_ml: float) -> Iterator[Told]:
    """The used baths of an evening into their jugs, one after the other, as the care page asks and pours."""
    care, route = bench.care, routes()[key]
    jugs: dict[str, str] = {}
    for step in route.steps:
        formula = formulas().get(step.formula or "")
        if formula is None or not step.waste_jug or step.after_use not in ("waste", "destroy"):
            continue
        residue = residue_of(formula)
        if residue is not None and residue.leaves_sludge:
            continue
        what = f"destroyed_{formula.key}" if residue is not None else f"used_{formula.key}"
        jug = jugs.setdefault(step.waste_jug, "") or care.begin_jug(step.waste_jug, 10_000)
        jugs[step.waste_jug] = jug
        found = care.ask_jug(jug, what, tank_ml)
        refused = any(one.refused for one in found)
        wrong = care.wrong_class(jug, what)
        yield Told(
            f"jug {step.waste_jug} of {key}: {what}, {tank_ml:g} mL",
            (*_open(found), *([wrong.text] if wrong else ())),
            refused,
        )
        care.pour(jug, what, tank_ml, treated=residue is not None)


def everything() -> list[Told]:
    """Every step, in a house of its own."""
    told = [by_command(command) for command in typed()]
    with closing(open_workbench(url="sqlite://")) as bench:
        for key in routes():
            told += by_jug(bench, key, 500.0)
    return told


def judged() -> dict[str, str]:
    """Cautions that were judged, figures apart: why the person can act on it, or "needless: ..."."""
    return {one["caution"]: one["why"] for one in json.loads(JUDGED.read_text(encoding="utf-8"))}


def without_figures(text: str) -> str:
    """A caution by which others of other amounts are known."""
    return _FIGURE.sub("#", text)


def needless(told: Told, known: dict[str, str]) -> list[str]:
    """Its cautions that nobody needs, or that nobody has judged."""
    return [text for text in told.open if known.get(without_figures(text), "needless").startswith("needless")]


def main() -> None:
    """Count, and list what was needless."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--all", action="store_true", help="list every caution with the steps it came at")
    every = parser.parse_args().all
    told, known = everything(), judged() if JUDGED.exists() else {}
    loud = [one for one in told if one.open]
    spare = [one for one in told if needless(one, known)]
    print(
        f"{len(told)} steps, {len(loud)} with a caution, {sum(len(one.open) for one in told)} cautions; refused {sum(one.refused for one in told)}"
    )
    print(f"with a needless one: {len(spare)} ({100 * len(spare) / len(told):.1f} %)")
    if every:
        at: dict[str, list[str]] = {}
        for one in told:
            for text in one.open:
                at.setdefault(without_figures(text), []).append(one.step)
        for text, steps in sorted(at.items()):
            print(f"\n{len(steps)}x {known.get(text, '?')}\n  {text}\n    " + "\n    ".join(steps[:3]))
    for one in spare:
        for text in needless(one, known):
            print(f"needless: {one.step}: {text}")
    for one in told:
        if one.refused:
            print(f"refused: {one.step}: {one.open[:1]}")


if __name__ == "__main__":
    main()
