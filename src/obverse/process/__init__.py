"""The nouns of the house: frozen values with a JSON shape.

Import them from here; only the packaged catalogue has a door of its own, `obverse.process.catalog`.
"""

from obverse.process.aim import AIMS, Aim, named_aim
from obverse.process.code import CODE_HEAD, read_code, recipe_code
from obverse.process.control import (
    ALKALI,
    CONTROLS,
    DILUTION,
    SOLVENT,
    TEMPERATURE,
    TIME,
    Control,
    ControlRange,
    Controls,
    ControlVector,
)
from obverse.process.film import FilmStock
from obverse.process.formats import (
    FORMATS,
    ONE_FILM,
    FilmFormat,
    FilmPiece,
    area_of_pieces_m2,
    film_said,
    pieces_words,
    reels_of,
)
from obverse.process.identity import (
    content_mark,
    first_of_each,
    has_evidence,
    plain_name,
    same_film,
    same_strip,
    strip_id,
)
from obverse.process.past_columns import DENSITY_AT, WHATS, TableColumn, what_of
from obverse.process.past_strips import BORDER, LIGHTEST, CellRemark, PastStrip, PastTable, read_past_strips
from obverse.process.process import Agitation, Declined, Process, Rinse, Step
from obverse.process.product import KEY, ROLES, Component, Content, Dilution, Formula, Product
from obverse.process.recipe import Evidence, Recipe
from obverse.process.said import (
    SaidAmount,
    SaidMix,
    SaidPart,
    SaidPortion,
    mix_in_words,
    mix_of_rows,
    parse_amount,
    parse_mix,
)
from obverse.process.series import Series, SeriesFilm, read_series
from obverse.process.shelf import BathByBottles, BathPass, Bottle, ShelfDocument
from obverse.process.slide import ShowList, Slide
from obverse.process.step_words import DOES, STEP_WORDS, step_from_words, step_in_words, tell_agitation
from obverse.process.substance import CLASSES, Substance
from obverse.process.table import table_text
from obverse.process.tool import USUAL_TOOLS, Equipment, Tool, tool_noun
from obverse.process.trial import (
    FAULTS,
    GRADES,
    WORN_BATHS,
    Exposed,
    Grade,
    Patch,
    Trial,
)

__all__ = [
    "AIMS",
    "ALKALI",
    "BORDER",
    "CLASSES",
    "CODE_HEAD",
    "CONTROLS",
    "DENSITY_AT",
    "DILUTION",
    "DOES",
    "FAULTS",
    "FORMATS",
    "GRADES",
    "KEY",
    "LIGHTEST",
    "ONE_FILM",
    "ROLES",
    "SOLVENT",
    "STEP_WORDS",
    "TEMPERATURE",
    "TIME",
    "USUAL_TOOLS",
    "WHATS",
    "WORN_BATHS",
    "Agitation",
    "Aim",
    "BathByBottles",
    "BathPass",
    "Bottle",
    "CellRemark",
    "Component",
    "Content",
    "Control",
    "ControlRange",
    "ControlVector",
    "Controls",
    "Declined",
    "Dilution",
    "Equipment",
    "Evidence",
    "Exposed",
    "FilmFormat",
    "FilmPiece",
    "FilmStock",
    "Formula",
    "Grade",
    "PastStrip",
    "PastTable",
    "Patch",
    "Process",
    "Product",
    "Recipe",
    "Rinse",
    "SaidAmount",
    "SaidMix",
    "SaidPart",
    "SaidPortion",
    "Series",
    "SeriesFilm",
    "ShelfDocument",
    "ShowList",
    "Slide",
    "Step",
    "Substance",
    "TableColumn",
    "Tool",
    "Trial",
    "area_of_pieces_m2",
    "content_mark",
    "film_said",
    "first_of_each",
    "has_evidence",
    "mix_in_words",
    "mix_of_rows",
    "named_aim",
    "parse_amount",
    "parse_mix",
    "pieces_words",
    "plain_name",
    "read_code",
    "read_past_strips",
    "read_series",
    "recipe_code",
    "reels_of",
    "same_film",
    "same_strip",
    "step_from_words",
    "step_in_words",
    "strip_id",
    "table_text",
    "tell_agitation",
    "tool_noun",
    "what_of",
]
