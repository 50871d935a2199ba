"""Hazard pictograms, drawn by us after the description of the UN GHS: a black symbol on white in a red square set on a point.

The drawings are plain shapes on a field of 100 by 100. They stand beside words and codes, never alone.
"""

from __future__ import annotations

RED = "#c8102e"

# Symbol of each family inside the frame; the corners of the frame are at 50 of each side.
_SYMBOLS = {
    "flame": (
        '<path d="M52 22c3 9-3 13-7 18-2-2-3-4-3-7-6 6-9 12-9 19 0 11 8 18 17 18s18-7 18-19c0-8-4-13-8-17 0 4-1 6-3 8 1-8-1-15-5-20z"/>'
        '<rect x="35" y="73" width="30" height="4"/>'
    ),
    "oxidiser": (
        '<path d="M51 20c2 7-2 10-5 14-2-2-3-3-2-6-5 5-7 9-7 14 0 8 6 12 13 12s13-5 13-13c0-6-3-9-6-12 0 3-1 5-3 6 1-6 0-11-3-15z"/>'
        '<path d="M50 51a11 11 0 1 0 .01 0zM50 56a6 6 0 1 1-.01 0z" fill-rule="evenodd"/><rect x="38" y="75.5" width="24" height="3.5"/>'
    ),
    "corrosion": (
        '<path d="M23 37l22-13 4 6-22 13zM77 37L55 24l-4 6 22 13z"/>'
        '<path d="M26 46c0 3-2 4-2 6a2.4 2.4 0 0 0 5 0c0-2-3-3-3-6zM33 43c0 3-2 4-2 6a2.4 2.4 0 0 0 5 0c0-2-3-3-3-6z'
        'M74 46c0 3-2 4-2 6a2.4 2.4 0 0 0 5 0c0-2-3-3-3-6zM67 43c0 3-2 4-2 6a2.4 2.4 0 0 0 5 0c0-2-3-3-3-6z"/>'
        '<path d="M21 58h6c1 4 3 5 5 5s5-1 6-5h7v9H28z"/>'
        '<path d="M50 69l5-6c3-3 6-4 10-4h3c1-2 3-3 5-4l6 2-6 7c-3 3-6 5-10 5l-4 3H54z"/>'
    ),
    "skull": (
        '<path d="M50 22c-11 0-18 7-18 16 0 5 2 8 5 10v6h5v-3h4v3h8v-3h4v3h5v-6c3-2 5-5 5-10 0-9-7-16-18-16zm-7 12a5 5 0 1 1 0 10 5 5 0 0 1 0-10zm14 0a5 5 0 1 1 0 10 5 5 0 0 1 0-10z'
        'M50 43l3 6h-6z" fill-rule="evenodd"/><path d="M30 58l40 15-1.4 4-40-15z"/><path d="M70 58L30 73l1.4 4 40-15z"/>'
    ),
    "exclamation": '<path d="M44 24h12l-3 34h-6z"/><circle cx="50" cy="69" r="6"/>',
    "health": (
        '<circle cx="50" cy="25" r="7"/><path d="M36 36c4-4 24-4 28 0l4 14-5 2-2 28H39l-2-28-5-2z"/>'
        '<path d="M50 42l3 8 8-3-3 8 8 4-8 3 2 8-8-3-3 7-3-7-8 3 3-8-8-4 8-3-3-8 8 4z" fill="#fff"/>'
    ),
    "environment": (
        '<path d="M34 72c1-10 1-16 0-24l-8-9 2-2 7 6-1-13h4l1 12 7-8 3 2-9 12c1 8 2 16 3 24z"/><rect x="30" y="72" width="25" height="3"/>'
        '<path d="M52 62c5-6 14-7 19-2l4-4v12l-4-4c-5 5-14 4-19-2zm7-2a1.5 1.5 0 1 0 .01 0z" fill-rule="evenodd"/>'
    ),
    "gas": '<path d="M27 55l38-22c6-3 12 7 6 11L33 66c-6 3-12-7-6-11z"/><path d="M69 31l6-3 3 5-6 4z"/>',
    "explosion": '<path d="M50 50L30 30l14 8 2-16 6 15 12-11-5 15 17-1-15 8 13 10-16-3-1 15-7-13-13 9 5-13-15-3z"/><circle cx="44" cy="60" r="9"/>',
}

# The number of each family in the UN system, for those who look it up.
GHS_NUMBER = {
    "explosion": "GHS01",
    "flame": "GHS02",
    "oxidiser": "GHS03",
    "gas": "GHS04",
    "corrosion": "GHS05",
    "skull": "GHS06",
    "exclamation": "GHS07",
    "health": "GHS08",
    "environment": "GHS09",
}

WORDS = {
    "explosion": "explosive",
    "flame": "burns, heats itself",
    "oxidiser": "feeds fire",
    "gas": "gas under pressure",
    "corrosion": "burns skin, eyes, metals",
    "skull": "poison",
    "exclamation": "irritant, harmful",
    "health": "harms health for long",
    "environment": "harms water life",
}


def pictogram_svg(family: str) -> str:
    """The pictogram of a family as an SVG of 100 by 100.

    Raises
    ------
    KeyError
        For a family we have no drawing of.
    """
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100" width="100" height="100">'
        f'<path d="M50 3L97 50 50 97 3 50z" fill="#fff" stroke="{RED}" stroke-width="5" stroke-linejoin="miter"/>'
        f'<g fill="#000">{_SYMBOLS[family]}</g></svg>'
    )
