"""The units a person reads in. Documents and sums stay in mL, g, C and mm; only what is shown changes."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from obverse.foundation import Document, System, Unit, unit_named

Paper = Literal["a4", "us-letter"]
# Below half a fluid ounce people take a spoon.
LEAST_FLUID_OUNCES = 0.5
MM_PER_M = 1000.0
# As finely as anything at a bench is measured; what lies before the point is never cut.
FIGURES = 4
ML_PER_L = 1000.0
# A room is told in feet, a frame in inches.
LEAST_FEET = 1.0


class UnitsShown(Document):
    """How volumes, temperatures, lengths, masses and paper are shown to one person.

    What tools are marked in stays beside a fluid ounce, a spoon or an ounce, so nothing has to be reckoned back at the bench.
    """

    temperature: Literal["c", "f"] = Field(default="c", description="degrees Celsius or Fahrenheit")
    fluids: System = Field(default="metric", description="mL, or fluid ounces of the US or imperial ones")
    spoons: System = Field(default="metric", description="whose teaspoon and tablespoon is meant where none is named")
    lengths: Literal["metric", "imperial"] = Field(default="metric", description="m and mm, or feet and inches")
    masses: Literal["g", "oz"] = Field(default="g", description="grams, or ounces beside them")
    tank_ml: float | None = Field(
        default=None, gt=0, le=20_000, description="amounts per litre are also told for a tank of so many mL"
    )
    paper: Paper = Field(default="a4", description="paper that sheets are printed on")

    @property
    def usual(self) -> System:
        """System of a fluid or kitchen measure that names none."""
        return self.fluids if self.fluids != "metric" else self.spoons

    def _fluid_unit(self, volume_ml: float) -> Unit:
        if self.fluids == "metric":
            return unit_named("ml")
        ounce = unit_named(f"{self.fluids}_fl_oz")
        return ounce if volume_ml >= LEAST_FLUID_OUNCES * ounce.size else unit_named(f"{self.spoons}_tsp")

    def volume(self, volume_ml: float) -> str:
        """A volume: ``"500 mL"``, or ``"16.9 US fl oz (500 mL)"``.

        Parameters
        ----------
        volume_ml : float

        Returns
        -------
        str
        """
        plain = unit_named("ml").tell(volume_ml, figures_kept=FIGURES)
        return plain if self.fluids == "metric" else f"{self._fluid_unit(volume_ml).tell(volume_ml)} ({plain})"

    def mass(self, mass_g: float) -> str:
        """A mass: ``"12.5 g"``, or ``"0.441 oz (12.5 g)"``.

        Parameters
        ----------
        mass_g : float

        Returns
        -------
        str
        """
        plain = unit_named("g").tell(mass_g, figures_kept=FIGURES)
        return plain if self.masses == "g" else f"{unit_named('oz').tell(mass_g)} ({plain})"

    def measured(self, amount: float, unit: str) -> str:
        """What a tool shows, in the tool's own unit first: ``"4.5 mL (0.913 US tsp)"``.

        Parameters
        ----------
        amount : float
        unit : str
            mL or g; anything else is shown as it is.

        Returns
        -------
        str
        """
        plain = f"{amount:g} {unit}"
        if unit == "mL" and self.fluids != "metric":
            return f"{plain} ({self._fluid_unit(amount).tell(amount)})"
        if unit == "g" and self.masses == "oz":
            return f"{plain} ({unit_named('oz').tell(amount)})"
        return plain

    def temperature_of(self, temperature_c: float) -> str:
        """A temperature: ``"20 °C"`` or ``"68 °F"``.

        Parameters
        ----------
        temperature_c : float

        Returns
        -------
        str
        """
        value = unit_named(self.temperature).from_house(temperature_c)
        return f"{_plain(value, 1)} \N{DEGREE SIGN}{self.temperature.upper()}"

    def temperatures(self, low_c: float, high_c: float) -> str:
        """A window of temperatures: ``"18 to 24 °C"`` or ``"64.4 to 75.2 °F"``.

        Parameters
        ----------
        low_c, high_c : float

        Returns
        -------
        str
        """
        return f"{self.temperature_of(low_c).rsplit(' ', 1)[0]} to {self.temperature_of(high_c)}"

    def length(self, length_m: float) -> str:
        """A length: ``"1.2 m"``, or ``"3.94 ft"``; under a foot in inches.

        Parameters
        ----------
        length_m : float

        Returns
        -------
        str
        """
        length_mm = length_m * MM_PER_M
        if self.lengths == "metric":
            return unit_named("m" if length_m >= 1 else "mm").tell(length_mm)
        foot = unit_named("ft")
        return (foot if length_mm >= LEAST_FEET * foot.size else unit_named("in")).tell(length_mm)

    def per_litre(self, ml_per_l: float) -> str:
        """An amount per litre: ``"8 mL/L"``, or ``"8 mL/L (4 mL in my tank)"``.

        Parameters
        ----------
        ml_per_l : float

        Returns
        -------
        str
        """
        plain = f"{ml_per_l:.4g} mL/L"
        return plain if self.tank_ml is None else f"{plain} ({ml_per_l * self.tank_ml / ML_PER_L:.3g} mL in my tank)"


METRIC = UnitsShown()


def _plain(value: float, digits: int) -> str:
    """A number with at most so many digits behind the point, a true minus sign and no empty zeros."""
    text = f"{value:.{digits}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text.replace("-", "\N{MINUS SIGN}")
