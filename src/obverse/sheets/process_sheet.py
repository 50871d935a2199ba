"""The whole evening on paper: everything to do in its order, boxes to tick, cautions where they apply."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import asdict, dataclass, replace
from datetime import date
from hashlib import sha256

from obverse.foundation import Deferral, InputError, JsonObject, open_and_folded
from obverse.process import METRIC, Recipe, UnitsShown, recipe_code, retold_in
from obverse.sheets.mix_sheet import DEFER
from obverse.sheets.typeset import PAPERS, qr_svg, typeset
from obverse.workbench.evening_words import short_title_words, title_words, told_cautions
from obverse.workbench.nouns import Action, PlanCaution, RunPlan
from obverse.workbench.ready_words import action_do, standing_words

# What stands before the first bath, at the film, and after it; waiting is no line of its own.
_BEFORE = ("lay_out", "prepare", "weigh", "fill_bottles", "prewarm", "clip", "lights_out", "load", "check")
_AFTER = ("destroy", "clear_up")
_SHARED_BY = 3
# Two sides of one sheet; where a long route needs more, the type may shrink by a tenth, no further.
_MOST_PAGES = 2
_SCALES = (1.0, 0.95, 0.9)

# Layout: what the head of a row and of a caution takes, in characters of the line.
ROW_HEAD, CAUTION_HEAD = 60, 40


def process_sheet_pdf(
    plan: RunPlan,
    *,
    recipe: Recipe | None = None,
    recipe_text: str = "",
    paper: str = "a4",
    units: UnitsShown = METRIC,
    printed_on: date | None = None,
) -> bytes:
    """The evening as PDF.

    Parameters
    ----------
    recipe : Recipe, optional
        Whose document goes into the QR code where it fits.
    recipe_text : str
        The recipe's file as it is exported; its sha256 is printed where the document does not fit the code.
    paper : str
        ``"a4"`` or ``"us-letter"``.
    units : UnitsShown
        In what the tank and the temperatures are told.
    """
    if paper not in PAPERS:
        raise InputError(f"there is no paper {paper!r}", where="paper", remedy="use a4 or us-letter")
    data = sheet_data(plan, recipe, recipe_text, paper, printed_on, units)
    for scale in _SCALES:
        pdf = typeset("process_sheet", {**data, "scale": scale})
        if pages_of(pdf) <= _MOST_PAGES:
            break
    return pdf


def pages_of(pdf: bytes) -> int:
    """Pages of a PDF of ours: page objects, without the tree above them."""
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))


def sheet_data(
    plan: RunPlan,
    recipe: Recipe | None,
    recipe_text: str,
    paper: str,
    printed_on: date | None,
    units: UnitsShown = METRIC,
) -> JsonObject:
    """What the template is given."""
    parts: dict[str, list[_PrintedRow]] = {"before": [], "film": [], "after": []}
    seen_film = False
    for row in _rows(plan, units):
        seen_film = seen_film or row.kind == "bath"
        part = "after" if row.kind in _AFTER else "before" if row.kind in _BEFORE and not seen_film else "film"
        parts[part].append(row.retold(units))
    throughout, film = _throughout(parts["film"])
    head = [
        units.temperature_of(plan.temperature_c),
        f"tank of {units.volume(plan.tank_ml)}",
        f"about {plan.duration_s / 3600:.1f} h",
    ]
    if recipe is not None:
        head = [recipe.film.name, f"exposed at EI {recipe.exposure_index:g}" if recipe.exposure_index else "", *head]
    code, words = _code(recipe, recipe_text)
    told = {(c.level, c.text): c for c in told_cautions(plan) if c.level != "note" and not Deferral.is_said_by(c.text)}
    shown, rest = open_and_folded(told.values(), lambda c: c.level)
    return {
        "paper": paper,
        "title": recipe.name if recipe is not None else plan.route.name,
        "route": plan.route.name,
        "head": "   ".join(part for part in head if part),
        "cautions": [{"level": c.level, "text": units.retold(_named(c, plan))} for c in shown],
        "also": [units.retold(_named(c, plan)) for c in rest],
        "before": [[row.document() for row in column] for column in _two_columns(parts["before"])],
        "throughout": throughout,
        "film": [row.document() for row in film],
        "after": [row.document() for row in parts["after"]],
        "qr": code,
        "qr_words": words,
        "defer": DEFER,
        "printed": f"printed {printed_on}" if printed_on else "",
    }


@dataclass(frozen=True)
class _PrintedRow:
    """One thing to do, as it is printed; `fills` are the turns of each fill of a rinse, with a box for each."""

    kind: str
    name: str
    fills: list[str]
    time: str
    temperature: str
    do: str
    fate: str
    cautions: list[str]

    def retold(self, units: UnitsShown) -> _PrintedRow:
        """The same in the person's units."""
        return _PrintedRow(**retold_in(units, asdict(self)))

    def document(self) -> JsonObject:
        """What the template is given of it."""
        return {name: part for name, part in asdict(self).items() if name != "kind"}


def _rows(plan: RunPlan, units: UnitsShown) -> list[_PrintedRow]:
    """One row for each thing to do; the fills of one rinse share a row."""
    rows: list[_PrintedRow] = []
    for action in plan.actions:
        if action.kind in ("wait", "hold", "hold_end", "may_open", "brief", "light_on"):
            continue
        fill = action.fill
        turns = fill.turns if fill is not None else None
        if turns is not None and rows and rows[-1].name == short_title_words(action):
            row = rows[-1]
            more = [text for text in action.cautions if text not in row.cautions]
            rows[-1] = replace(row, fills=[*row.fills, str(turns)], cautions=row.cautions + more)
            continue
        rows.append(
            _PrintedRow(
                kind=action.kind,
                name=short_title_words(action) if turns is not None else title_words(action),
                fills=[] if turns is None else [str(turns)],
                time="" if turns is not None or action.ends_by != "clock" else _minutes(action.duration_s),
                temperature=_window(action, units),
                do=_do(action, plan) if turns is None else "Fill with water, turn over so many times, pour out.",
                fate=_fate(action, plan),
                cautions=[text for text in action.cautions if not Deferral.is_said_by(text)],
            )
        )
    return rows


def _do(action: Action, plan: RunPlan) -> str:
    """What hands do; paper, on which nothing can be pressed, also tells what stands in the bottles."""
    standing = standing_words(plan) if action.kind == "fill_bottles" else ""
    if standing:
        # Each of them is told by itself.
        action = action.model_copy(update={"baths": ()})
    return " ".join(filter(None, (action_do(action, plan), standing)))


def _throughout(rows: list[_PrintedRow]) -> tuple[list[str], list[_PrintedRow]]:
    """Cautions that most baths share, taken out of their rows: told once, and kept to all evening."""
    counts = Counter(text for row in rows for text in row.cautions)
    shared = [text for text, count in counts.items() if count >= _SHARED_BY]
    # What the line just above says is not said again.
    above = [[], *(row.cautions for row in rows)]
    return shared, [
        replace(row, cautions=[text for text in row.cautions if text not in shared and text not in before])
        for row, before in zip(rows, above, strict=False)
    ]


def _two_columns(rows: list[_PrintedRow]) -> list[list[_PrintedRow]]:
    """The rows in two columns of about the same length, order kept."""
    lengths = [
        ROW_HEAD + len(row.name) + len(row.do) + sum(CAUTION_HEAD + len(text) for text in row.cautions) for row in rows
    ]
    best = min(range(len(rows) + 1), key=lambda cut: max(sum(lengths[:cut]), sum(lengths[cut:])))
    return [rows[:best], rows[best:]]


def _window(action: Action, units: UnitsShown) -> str:
    if action.kind != "bath" or action.temperature_low_c is None or action.temperature_high_c is None:
        return ""
    return units.temperatures(action.temperature_low_c, action.temperature_high_c)


def _fate(action: Action, plan: RunPlan) -> str:
    if action.kind != "bath":
        return ""
    films = next((step.good_for_films for step in plan.route.steps if step.key == action.step), None)
    counted = f", good for {films:g} film{'' if films == 1 else 's'}" if films else ""
    return {
        "keep": "back to its bottle",
        "waste": f"jug {action.waste_jug}",
        "destroy": "destroy tonight",
        "discard": "used once",
    }.get(action.after_use, "") + counted


def _minutes(seconds: float) -> str:
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


def _named(caution: PlanCaution, plan: RunPlan) -> str:
    """The words of a caution; of two baths that differ in temperature the later is named, since no place stands beside it here."""
    action = plan.action(caution.where) if caution.say is not None and caution.say.kind == "temperature_step" else None
    return caution.text if action is None else f"{short_title_words(action)}: {caution.text}"


def _code(recipe: Recipe | None, text: str) -> tuple[str, str]:
    if recipe is None:
        return "", ""
    line, whole = recipe_code(recipe)
    if line:
        what = "The whole recipe" if whole else "The recipe without its prose"
        return qr_svg(line, error="l"), f"{what}: text OBVERSE1:, base45, zlib, JSON."
    return "", f"The recipe is too long for a code. Its file has sha256 {sha256(text.encode()).hexdigest()}."
