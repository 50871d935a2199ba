"""The mix sheet: what to measure, in which order, and what comes of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from obverse.foundation import Caution, Estimate, Interval, JsonObject, Standing, figures
from obverse.process.catalog import substance as known_substance


@dataclass(frozen=True, slots=True)
class MixLine:
    """One thing to add.

    Parameters
    ----------
    order : int
        Position in the order of adding, from 1.
    kind : str
        ``"water"``, ``"product"``, ``"as_said"`` (nothing is known of it) or ``"make_up"``.
    raw_amount : float
        mL or g by arithmetic; `amount` is what the tool can measure.
    brings : tuple of str
        Names of what it is added for.
    """

    order: int
    kind: str
    product: str
    name: str
    unit: str
    raw_amount: float
    amount: float
    measure: str
    do: str
    brings: tuple[str, ...] = ()
    reading: str = ""
    cautions: tuple[Caution, ...] = ()
    alternatives: tuple[str, ...] = ()

    @property
    def rounding_error(self) -> float:
        """Signed error of the rounding, as a fraction of the raw amount."""
        return self.amount / self.raw_amount - 1 if self.raw_amount else 0.0

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "order": self.order,
            "kind": self.kind,
            "product": self.product,
            "name": self.name,
            "unit": self.unit,
            "raw_amount": self.raw_amount,
            "amount": self.amount,
            "rounding_error": self.rounding_error,
            "measure": self.measure,
            "do": self.do,
            "brings": list(self.brings),
            "reading": self.reading,
            "cautions": [c.document() for c in self.cautions],
            "alternatives": list(self.alternatives),
        }


@dataclass(frozen=True, slots=True)
class Made:
    """What a line of the formula came to.

    Parameters
    ----------
    target_g_per_l : float
        What the formula asks, as the substance it names.
    made_g_per_l : Estimate
        What the measured amounts give, with the uncertainty of strength, reading and final volume.
    rounding_error : float
        Signed share of the rounding alone, as a fraction of the target.
    """

    substance: str
    name: str
    target_g_per_l: float
    made_g_per_l: Estimate
    rounding_error: float
    standing: str = ""
    source: str = ""

    @property
    def standing_words(self) -> str:
        """How the target is known, as the screen says it."""
        return Standing(self.standing).words if self.standing else ""

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "substance": self.substance,
            "name": self.name,
            "target_g_per_l": self.target_g_per_l,
            "made_g_per_l": self.made_g_per_l.document(),
            "rounding_error": self.rounding_error,
            "relative_sd": self.made_g_per_l.sd / self.made_g_per_l.value if self.made_g_per_l.value else 0.0,
            "standing": self.standing,
            "source": self.source,
        }


@dataclass(frozen=True, slots=True)
class MixSheet:
    """A bath for this volume, from these bottles, with these tools.

    Parameters
    ----------
    contents_mol_per_l : dict
        Every substance the products declare, in the finished bath.
    water_to_add_ml : float
        All water to be added, made up to the mark at the end.
    water_in_products_ml : float or None
        Water that the products bring (their own and that of crystals); None where a density is unknown.
    ph : Estimate or None
        By charge balance, as sure as the labels allow; None where a product's contents do not allow it.
    bounds_g_per_l : dict
        Least and most of what a label leaves open, g/L in the finished bath.
    undeclared : tuple of str
        Names of products that hold something of which nothing is reckoned.
    volume_said : str
        The volume in the unit it was asked in, where that is not mL.
    """

    formula: str
    name: str
    role: str
    volume_ml: float
    lines: tuple[MixLine, ...]
    made: tuple[Made, ...]
    contents_mol_per_l: dict[str, float]
    contents_g_per_l: dict[str, float]
    water_to_add_ml: float
    water_in_products_ml: float | None
    ph: Estimate | None
    ph_note: str
    use_within_min: float | None
    make_just_before_use: bool
    note: str
    cautions: tuple[Caution, ...] = ()
    amounts: dict[str, float] = field(default_factory=dict)
    bounds_g_per_l: dict[str, Interval] = field(default_factory=dict)
    undeclared: tuple[str, ...] = ()
    volume_said: str = ""

    @property
    def left_open(self) -> tuple[str, ...]:
        """What the labels leave open of this bath, one line for each substance."""
        return tuple(
            f"{known_substance(key).name}: {figures(b.low)} to {figures(b.high)} g/L"
            for key, b in self.bounds_g_per_l.items()
        )

    def at(self, end: Literal["low", "high"]) -> MixSheet:
        """The same bath with everything that a label leaves open at one end of what it may mean."""
        grams = {
            key: getattr(self.bounds_g_per_l[key], end) if key in self.bounds_g_per_l else g
            for key, g in self.contents_g_per_l.items()
        }
        moles = {
            key: mol * grams[key] / g if (g := self.contents_g_per_l[key]) else mol
            for key, mol in self.contents_mol_per_l.items()
        }
        return replace(self, contents_g_per_l=grams, contents_mol_per_l=moles, bounds_g_per_l={})

    @property
    def all_cautions(self) -> tuple[Caution, ...]:
        """Those of the sheet and of its lines."""
        return self.cautions + tuple(c for line in self.lines for c in line.cautions)

    def with_cautions(self, more: tuple[Caution, ...]) -> MixSheet:
        """The same sheet with further cautions (from the hazard rules)."""
        return replace(self, cautions=self.cautions + more)

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "format": "obverse-mix-sheet",
            "version": 1,
            "formula": self.formula,
            "name": self.name,
            "role": self.role,
            "volume_ml": self.volume_ml,
            "lines": [line.document() for line in self.lines],
            "made": [made.document() for made in self.made],
            "contents_g_per_l": self.contents_g_per_l,
            "contents_mol_per_l": self.contents_mol_per_l,
            "bounds_g_per_l": {key: {"low": b.low, "high": b.high} for key, b in self.bounds_g_per_l.items()},
            "undeclared": list(self.undeclared),
            "water_to_add_ml": self.water_to_add_ml,
            "water_in_products_ml": self.water_in_products_ml,
            "ph": None if self.ph is None else self.ph.document(),
            "ph_note": self.ph_note,
            "use_within_min": self.use_within_min,
            "make_just_before_use": self.make_just_before_use,
            "note": self.note,
            "cautions": [c.document() for c in self.cautions],
        }


def active_mol_per_l(contents: Mapping[str, float]) -> dict[str, float]:
    """What does the work, by the name of its kind, whichever salt or hydrate brings it.

    Parameters
    ----------
    contents : mapping of str to float
        mol/L by key of the substance.

    Returns
    -------
    dict of str to float
        mol/L.
    """
    found: dict[str, float] = {}
    for key, mol in contents.items():
        known = known_substance(key)
        if known.active:
            found[known.active] = found.get(known.active, 0.0) + mol * known.active_per_mole
    return found
