"""What is said of the faults of a picture: the evidence with its place, and the cures, cheapest first."""

from __future__ import annotations

from collections.abc import Callable

from obverse.diagnosis.finding import Cure
from obverse.diagnosis.measures import Measures
from obverse.diagnosis.weighing import Scale

# Edges thinner than the middle by less than this share are not worth a word.
LEAST_THINNER = 0.005

CURES: dict[str, tuple[Cure, ...]] = {
    "stain": (
        Cure("Clear longer, in a fresh clearing bath."),
        Cure("Rinse longer between bleach and clearing bath."),
        Cure("Use a fresh second developer: a brown one stains."),
    ),
    "uneven_agitation": (
        Cure("Move the film gently and irregularly in the first developer; do not pump it up and down."),
        Cure("Wet the film before the first developer, and pour in quickly."),
        Cure("Use more developer for the film, and a longer time at a lower strength."),
    ),
    "bromide_drag": (
        Cure("Move the film more often in the first developer; never let it hang still."),
        Cure("Turn the film end for end half way through."),
    ),
    "reticulation": (
        Cure("Keep all baths and the wash at the same temperature, within 2 to 3 degrees from step to step."),
        Cure("Less alkali in the first developer, and shorter times in strong baths: a soft layer wrinkles."),
        Cure("Harden the film before the bleach."),
    ),
    "coarse_grain": (
        Cure("Develop shorter or cooler the first time."),
        Cure("More solvent in the first developer, in small steps."),
        Cure("Use a slower film."),
    ),
    "drying_marks": (
        Cure("Use a wetting bath in distilled water, freshly made, and no more agent than the label says."),
        Cure("Soak the film again, pass it through the wetting bath, and hang it dust-free at a slant."),
    ),
    "light_leak": (
        Cure("Load and unload the camera in the shade."),
        Cure("Look at the cassette's lips, the camera back and the tank lid."),
    ),
    "frilling": (
        Cure("Keep baths cooler and alike, and the alkaline ones shorter."),
        Cure("Less ammonia or alkali: a swollen layer lets go at the edges."),
        Cure("Harden the film before the bleach."),
    ),
    "cannot_tell": (
        Cure("Dust the strip and the panel and take the picture again: dirt and reflections look like anything."),
        Cure("Look at the strip from both sides, slantwise against a lamp, with a magnifier."),
    ),
}


# How a stain may lie that the base cannot, and how it is said.
_UNEVEN_STAIN = {
    "stain_across": "across the film",
    "stain_in_blocks": "from place to place within the patches",
    "stain_by_density": "between the light patches and the dark",
}


def evidence(fault: str, found: Measures) -> str:
    """What speaks for a fault and where, in a sentence."""
    return _EVIDENCE[fault](found.numbers, found)


def _stain(n: dict[str, float], found: Measures) -> str:
    most = max(_UNEVEN_STAIN, key=lambda name: n.get(name, 0.0))
    if n.get(most, 0.0) > n["stain"]:
        return f"A stain that lies unevenly: the difference between the channels changes by {n[most]:.2f} {_UNEVEN_STAIN[most]}."
    colour, where = found.words["colour"], found.places["stain"]
    return f"A {colour} stain {where}: in the light patches the channels differ by {n['stain']:.2f} ({found.words['stain']})."


def _surge(n: dict[str, float], found: Measures) -> str:
    said = f"Density near the perforations swings by {100 * 2 * n['surge']:.0f} % with their spacing, {found.places['surge']}"
    thinner = max(n["edges_thinner"], 0.0)
    return said + (
        f"; the edges are {100 * thinner:.0f} % thinner than the middle." if thinner > LEAST_THINNER else "."
    )


def _drag(n: dict[str, float], found: Measures) -> str:
    return f"Behind each step, {found.places['drag']}, the density of a patch fades by {100 * n['drag']:.0f} % of the step, alike across the film."


def _reticulation(n: dict[str, float], found: Measures) -> str:
    return (
        f"A net of dense ridges about 1 mm apart over all patches: density scatters by {n['net']:.3f} at that scale, "
        f"lopsided to the dense side by {n['net_skew']:.1f}."
    )


def _grain(n: dict[str, float], found: Measures) -> str:
    return (
        f"The grain scatters density by {n['grain']:.3f} over a quarter of a millimetre and by {n['net']:.3f} over a whole one, "
        "at density 1, in all patches and without a net."
    )


def _rings(n: dict[str, float], found: Measures) -> str:
    return f"Rims of round spots a few millimetres wide, {found.places['rings']}; the clearest stands {n['ring_best']:.0f} times above chance."


def _leak(n: dict[str, float], found: Measures) -> str:
    if n.get("leak", 0.0) > n["one_side"]:
        return (
            f"{found.places['leak'].capitalize()}, the rebate loses {100 * n['leak_rebate']:.0f} % of its density and the picture beside it "
            f"{100 * n['leak_picture']:.0f} %, and not opposite."
        )
    return (
        f"{found.places['one_side'].capitalize()}, density falls by {100 * n['one_side']:.0f} % over some centimetres and not opposite; "
        f"the rebate loses {100 * max(n['one_side_rebate'], 0.0):.0f} %."
    )


def _frilling(n: dict[str, float], found: Measures) -> str:
    return (
        f"The layer is missing in scallops {found.places['edge_wander']}: its rim wanders by {n['edge_wander']:.1f} mm."
    )


_EVIDENCE: dict[str, Callable[[dict[str, float], Measures], str]] = {
    "stain": _stain,
    "uneven_agitation": _surge,
    "bromide_drag": _drag,
    "reticulation": _reticulation,
    "coarse_grain": _grain,
    "drying_marks": _rings,
    "light_leak": _leak,
    "frilling": _frilling,
}

# What stands out where no fault is named: the measures of one look, and how it is said.
_LOOKS: tuple[tuple[tuple[str, ...], Callable[[dict[str, float], Measures], str]], ...] = (
    (("stain", "stain_everywhere"), lambda n, f: f"the channels differ by {n['stain']:.2f} ({f.words['colour']})"),
    (
        ("uneven_rest", "uneven_broad", "spots_thinner", "spots_denser", "spots"),
        lambda n, f: (
            f"in places density departs by {100 * max(n['spots_thinner'], n['spots_denser']):.0f} % from its patch, {f.places['uneven']}"
        ),
    ),
    (
        ("uneven_across", "step_across"),
        lambda n, f: f"across the film density changes by up to {100 * n['step_across']:.0f} %",
    ),
    (
        ("uneven_along", "drag"),
        lambda n, f: f"along the film density wanders by {100 * n['uneven_along']:.0f} % within patches",
    ),
    (("one_side",), lambda n, f: f"{f.places['one_side']}, density is {100 * n['one_side']:.0f} % lower than opposite"),
    (("surge", "surge_both"), lambda n, f: f"near the perforations density swings by {100 * 2 * n['surge']:.0f} %"),
    (("net", "grain"), lambda n, f: f"fine structure scatters density by {n['net']:.3f} over a millimetre"),
    (("net_local",), lambda n, f: f"fine structure is {n['net_local']:.1f} times as strong in some places as in most"),
    (("ring_best", "rings"), lambda n, f: f"rims of round spots show {f.places['rings']}"),
    (
        ("edge_wander",),
        lambda n, f: f"the rim of the layer wanders by {n['edge_wander']:.1f} mm {f.places['edge_wander']}",
    ),
)


def what_stands_out(found: Measures, scale: Scale) -> str:
    """The looks that lie farthest from sound strips, in words."""
    away = dict(zip(scale.names, scale.beyond(scale.bend(found.numbers)), strict=True))
    ranked = sorted(_LOOKS, key=lambda look: -max(away.get(name, 0.0) for name in look[0]))
    return "; ".join(say(found.numbers, found) for _, say in ranked[:2])
