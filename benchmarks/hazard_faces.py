"""What a tester of another hand typed into `obverse check` and `obverse mix`, against what the commands said.

    python -m benchmarks.hazard_faces FILE.json

The file holds `pairs`, `sequences` and `jugs` (names, a context, mostly no amounts) and `sheets` (a bath by its
substances), each with what must be said: refuse, caution, silent, or either of the last two. Its author had the list
that `obverse check --list` prints, and nothing else. Names are asked of what `obverse check` asks, in an empty darkroom;
sheets of the command as a person runs it, which refuses by its exit code. A caution is a finding of that level or a
danger. That a sheet keeps to its own order is no caution: it concerns who breaks it; nor is what it says of measuring.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import tempfile
from collections import Counter
from pathlib import Path
from typing import Any

from benchmarks.hazard_situations import figures
from obverse.cli.main import run as obverse
from obverse.foundation import InputError
from obverse.process.catalog import substances
from obverse.workbench.bootstrap import open_workbench
from obverse.workbench.care import Care

LOUD = ("caution", "danger")
_REFUSED = 3
# How the codes of hazards begin on a sheet.
_HAZARDS = ("pair.", "mix.heat", "mix.sulfur")
# How a sheet says what breaking its own order would do.
_ORDER = "Keep to the order of this sheet."


def said(*words: str) -> tuple[int, str]:
    """Exit code and output of one command."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
        code = obverse(words)
    return code, out.getvalue()


def of_names(row: dict[str, Any], care: Care) -> tuple[str, str]:
    """Verdict of `obverse check`, and its loudest words."""
    try:
        found = care.meet(row["names"], row["context"])
    except InputError as error:
        return "refused to answer", str(error)
    refused = [finding.text for finding in found if finding.refused]
    loud = [finding.text for finding in found if finding.level.value in LOUD]
    return ("refuse", refused[0]) if refused else ("caution", loud[0]) if loud else ("silent", "")


def of_sheet(row: dict[str, Any], shelf: Path) -> tuple[str, str]:
    """Verdict of `obverse mix`, and its loudest words."""
    formula = {
        "format": "obverse-formula",
        "version": 1,
        "key": "typed",
        "name": row["formula"]["name"],
        "role": "wash_aid",
        "components": [
            {"substance": key, "concentration": f"{grams:g} g/L"}
            for key, grams in row["formula"]["parts"].items()
            if key != "water"
        ],
    }
    volume = f"{row.get('volume_ml', 500):g}"
    path = shelf.with_name("formula.json")
    path.write_text(json.dumps(formula), encoding="utf-8")
    code, text = said("mix", str(path), "--volume-ml", volume, "--shelf", str(shelf), "--json")
    if code == _REFUSED:
        return "refuse", text.strip()
    if code:
        return "refused to answer", text.strip()
    sheet = json.loads(text)
    told = [*sheet["cautions"], *(caution for line in sheet["lines"] for caution in line["cautions"])]
    loud = [
        each["text"]
        for each in told
        if each["level"] in LOUD and each["code"].startswith(_HAZARDS) and not each["text"].startswith(_ORDER)
    ]
    return ("caution", loud[0]) if loud else ("silent", "")


def every_bottle(folder: Path) -> Path:
    """A shelf that has each substance nearly pure."""
    products = [
        {
            "key": f"pure_{key}"[:80],
            "name": known.name[:80],
            "form": "solid" if known.phase == "solid" else "liquid",
            "contents": [{"substance": key, "strength": _SOLD.get(key, "99 % w/w")}],
        }
        for key, known in substances().items()
        if known.phase in ("solid", "liquid")
    ]
    path = folder / "shelf.json"
    path.write_text(
        json.dumps({"format": "obverse-shelf", "version": 1, "products": products, "tools": []}), encoding="utf-8"
    )
    return path


# As what is never pure is sold.
_SOLD = {
    "ammonia": "25 % w/w",
    "hydrogen_peroxide": "30 % w/w",
    "formaldehyde": "37 % w/w",
    "hydrochloric_acid": "31 % w/w",
    "nitric_acid": "65 % w/w",
    "sulfuric_acid": "96 % w/w",
    "sodium_hypochlorite": "12 % w/w",
    "ammonium_sulfide": "20 % w/w",
    "glutaraldehyde": "25 % w/w",
    "peracetic_acid": "15 % w/w",
    "hydrofluoric_acid": "40 % w/w",
    "perchloric_acid": "60 % w/w",
    "hydrobromic_acid": "48 % w/w",
}


def run(document: dict[str, list[dict[str, Any]]]) -> tuple[dict[str, Any], list[str]]:
    """Figures by kind, and each disagreement."""
    rows: list[tuple[str, str, str, str]] = []
    lines: list[str] = []
    unanswered: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder, contextlib.closing(open_workbench(url="sqlite://")) as bench:
        shelf = every_bottle(Path(folder))
        for kind in ("pairs", "sequences", "jugs", "sheets"):
            for row in document.get(kind, []):
                says, heard = of_sheet(row, shelf) if kind == "sheets" else of_names(row, bench.care)
                must = row["truth"]["must"]
                if says == "refused to answer":
                    unanswered[kind] += 1
                    says = "silent"
                    heard = f"no answer: {heard}"
                if must == "either":
                    must = says if says in ("caution", "silent") else "caution"
                kind_of_row = "ordinary" if must == "silent" else "dangerous"
                rows.append((kind, kind_of_row, must, says))
                if says != must or heard.startswith("no answer"):
                    typed = row.get("names") or row["formula"]["parts"]
                    lines.append(
                        f"{row['id']} {row.get('context', 'sheet')}: must {must}, said {says}. {typed}. Truth: {row['truth'].get('what', '')}. Said: {heard[:300]}"
                    )
    return figures(rows) | {"no answer": dict(unanswered)}, lines


def main() -> None:
    """Print the figures and each disagreement."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("file", type=Path)
    found, lines = run(json.loads(parser.parse_args().file.read_text(encoding="utf-8")))
    for kind, row in found.items():
        print(f"{kind}: " + ", ".join(f"{name} {value}" for name, value in row.items()))
    print(*lines, sep="\n")


if __name__ == "__main__":
    main()
