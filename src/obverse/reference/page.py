"""The page of sources: every number the house may use, with standing and source, as Markdown."""

from __future__ import annotations

from itertools import groupby
from typing import Any

from obverse.foundation import Standing
from obverse.reference.rows import (
    Record,
    UncertaintyKind,
    hazard_rows,
    incompatible_pairs,
    records,
    shelf_life_rows,
    waste_jug_rows,
)

MOST_CHARACTERS_OF_A_VALUE = 100

HEAD = """# Sources

Every number of the trade that `obverse` keeps or uses, with how it is known. This page is written by `obverse sources`;
do not edit it. A standing is never upgraded on its way to the screen:

- *looked up*: read in the source that is named;
- *computed*: follows from others by the relation that is named;
- *common practice, no source*: what benches do, without a publication behind it;
- *from memory*: remembered, not looked up again; check before you rely on it.

Nothing here says that anything is safe. Labels and safety data sheets come first.
"""


def sources_page() -> str:
    """The whole page.

    Returns
    -------
    str
        Markdown.
    """
    found = sorted(records().values(), key=lambda record: record.key)
    parts = [HEAD, _counts(found)]
    for group, rows in groupby(found, key=lambda record: record.key.split(".")[0]):
        parts.append(
            _table(
                f"`{group}`",
                ("key", "quantity", "value", "standing", "source"),
                [_record_row(record) for record in rows],
            )
        )
    parts.append(
        _table(
            "What must not meet",
            ("a", "b", "what comes of it", "severity", "standing", "source"),
            [(p.a, p.b, p.product, str(p.severity), p.source.words, p.source.text) for p in incompatible_pairs()],
        )
    )
    parts.append(
        _table(
            "Hazard codes",
            ("substance", "codes", "standing", "source"),
            [(r.substance, r.codes, r.source.words, r.source.text) for r in hazard_rows()],
        )
    )
    parts.append(
        _table(
            "How long solutions keep",
            ("solution", "life", "sign of failure", "standing", "source"),
            [(r.solution, r.life, r.sign_of_failure, r.source.words, r.source.text) for r in shelf_life_rows()],
        )
    )
    parts.append(
        _table(
            "Waste jugs",
            ("jug", "accepts", "never", "standing", "source"),
            [(r.jug, r.accepts, r.never, r.source.words, r.source.text) for r in waste_jug_rows()],
        )
    )
    return "\n".join(parts)


def _counts(found: list[Record]) -> str:
    counts = {standing: sum(record.source.standing == standing for record in found) for standing in Standing}
    told = ", ".join(f"{count} {standing.words}" for standing, count in counts.items())
    return f"{len(found)} records: {told}.\n"


def _record_row(record: Record) -> tuple[str, ...]:
    told = " ".join(part for part in (_value(record.value), _doubt(record), record.unit) if part)
    return (
        f"`{record.key}`",
        record.quantity,
        told + (f"; used from {record.valid[0]:.12g} to {record.valid[1]:.12g}" if record.valid else ""),
        record.source.words,
        record.source.text + (f" ({record.place})" if record.place not in record.source.text else ""),
    )


DOUBT = {
    UncertaintyKind.STANDARD: "± {} (standard uncertainty)",
    UncertaintyKind.LOG_STANDARD: "± {} (standard uncertainty of the logarithm)",
    UncertaintyKind.HALF_RANGE: "± {} (half range)",
    UncertaintyKind.FACTOR: "× or ÷ {} (90 %)",
    UncertaintyKind.ALLOWED: "± {} (allowed)",
}


def _doubt(record: Record) -> str:
    doubt = record.uncertainty
    return "" if doubt is None or doubt.kind not in DOUBT else DOUBT[doubt.kind].format(_value(doubt.value))


def _value(value: Any) -> str:
    if isinstance(value, float):
        return repr(value).removesuffix(".0")
    text = str(value)
    return (
        text
        if len(text) <= MOST_CHARACTERS_OF_A_VALUE
        else text[: MOST_CHARACTERS_OF_A_VALUE - 1] + "\N{HORIZONTAL ELLIPSIS}"
    )


def _table(title: str, heads: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    lines = [f"## {title}\n", f"| {' | '.join(heads)} |", f"|{'---|' * len(heads)}"]
    lines += ["| " + " | ".join(_cell(cell) for cell in row) + " |" for row in rows]
    return "\n".join(lines) + "\n"


def _cell(text: str) -> str:
    return " ".join(str(text).replace("|", "\\|").split())
