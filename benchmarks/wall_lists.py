"""One reversal strip written down wrongly in 25 ways, and what is told of each: ``python -m benchmarks.wall_lists``."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from obverse.foundation import InputError
from obverse.sensitometry import read_list, recognise
from obverse.workbench.slide_curve import example_curve

Array = NDArray[np.float64]

BOX_SPEED = 100.0
# log10 of the metered exposure of that film, 0.08 lx s.
METERED = -1.1
READING_SD = 0.012


def listed(x: Array, d: Array) -> str:
    """Two columns as a person pastes them."""
    return "log_exposure,density\n" + "\n".join(f"{a:.6g},{b:.6g}" for a, b in zip(x, d, strict=True))


def lists() -> dict[str, str]:
    """The lists by what is wrong with them; the first two are right."""
    curve, random = example_curve(), np.random.default_rng(2)
    half_stops = np.arange(-11, 12) / 2.0
    x = np.round(0.15 * np.arange(-11, 12), 2)
    d = np.round(curve.at(x) + random.normal(0, READING_SD, x.size), 2)
    light = 10.0**-d
    negative = 0.3 + 1.6 / (1 + np.exp(-2.2 * x))
    return {
        "right": listed(x, d),
        "right, decimal commas": "log_exposure;density\n"
        + "\n".join(f"{a:.2f};{b:.2f}".replace(".", ",") for a, b in zip(x, d, strict=True)),
        "a negative": listed(x, negative),
        "a negative under the known base": listed(x, negative - 0.25),
        "exposures with the wrong sign": listed(-x, d),
        "densities in reverse order": listed(x, d[::-1]),
        "lux seconds": listed(10 ** (x + METERED), d),
        "lux seconds of a bright wedge": listed(10 ** (x + 1), d),
        "millilux seconds": listed(10 ** (x + METERED + 3), d),
        "transmittances": listed(x, light),
        "transmittances in percent": listed(x, 100 * light),
        "opacities": listed(x, 1 / light),
        "stops": listed(half_stops, d),
        "numbers of steps": listed(np.arange(x.size, dtype=float), d),
        "zones": listed(np.arange(11.0), np.round(curve.at((np.arange(11.0) - 5) * np.log10(2)), 2)),
        "absolute log exposures": listed(x + METERED, d),
        "absolute log exposures, millilux": listed(x + METERED + 3, d),
        "natural logarithms": listed(x * np.log(10), d),
        "hundredths of densities": listed(x, 100 * d),
        "16-bit codes": listed(x, np.round(65535 * light)),
        "8-bit codes": listed(x, np.round(255 * light ** (1 / 2.2))),
        "columns swapped": listed(d, x),
        "base taken off twice": listed(x, d - 2 * curve.base_density),
        "one value pasted down": listed(x, np.full(x.size, 1.0)),
        "bare base": listed(x, 0.2 + random.normal(0, READING_SD, x.size)),
        "two strips": listed(np.r_[x, x], np.r_[d, np.round(curve.at(x + 0.5), 2)]),
        "shuffled": listed(x, random.permutation(d)),
    }


def main() -> None:
    """Print one line a list."""
    for name, text in lists().items():
        try:
            said = recognise(read_list(text), base_density=example_curve().base_density, box_speed=BOX_SPEED)
            told = ", ".join(f"{doubt.code} ({doubt.verdict})" for doubt in said) or "nothing"
        except InputError as error:
            told = error.sentence
        print(f"| {name} | {told} |")


if __name__ == "__main__":
    main()
