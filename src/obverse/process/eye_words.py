"""What people write of a strip they look at, as eye grades and faults: "a bit murky", "thin blacks", "slight tint"."""

from __future__ import annotations

import re
from dataclasses import dataclass

from obverse.process.table import unaccented
from obverse.process.trial import GRADES, Grade


@dataclass(frozen=True, slots=True)
class WordsRead:
    """What was understood of words, and what was not.

    Parameters
    ----------
    left : tuple of str
        Clauses not understood, as they stand.
    doubts : tuple of str
        One sentence for each thing that was decided for the person.
    """

    grades: tuple[Grade, ...]
    faults: tuple[str, ...]
    left: tuple[str, ...]
    doubts: tuple[str, ...]


# What a word may be said of. Usual speech of the trade; common practice, no source.
_NOUNS = {
    "highlights": r"hi(?:gh)? ?li(?:ghts?|tes?)|whites?|lights|clear (?:parts|areas)|light parts|d ?min|skies|sky|lichter|hautes lumi\w+|luci|luces|altas luces|hooglichten",
    "blacks": r"blacks?|shadows?|borders?|dark parts|d ?max|schwarz\w*|schatten|noirs?|ombres?|neri|negros|sombras|zwarten|schaduwen",
    "midtones": r"mid ?tones?|middle tones?|mids|middle grey|greys|grays|density|densities|exposure|overall|picture|image|strip|slide"
    r"|mittelt\w+|gris",
    "contrast": r"contrast|gradation|gradient|slope|kontrast|contraste",
    "tint": r"tints?|stains?|(?:colou?r )?cast|colou?r|hue|t\w*nung|farbstich|stich|teinte|tinta|tinte|dominante?|zweem|kleurzweem|base colou?r",
}
_HUES = r"yellow\w*|brown\w*|pink\w*|magenta|purple|violet|red+ish|blu\w*ish|green\w*|sepia|orange|tan|warm|gelb\w*|braun\w*"
# Words for each grade of a thing that was named. A grade's own name counts of itself.
_SAID = {
    "highlights": {
        "clear": r"clear|clean|white|open|blown(?: out)?|burnt(?: out)?|bright|sparkling|transparent|brilliant|good|fine|ok|okay|perfect|right|great|nice|crisp|klar|clairs?|clair"
        r"|ausgefressen|ausgebrannt|uitgevreten|uitgebeten|brul\w+|cram\w+|bruciat\w|quemad\w",
        "murky": r"murky|muddy|milky|veiled|foggy|fogged|gr[ea]y|dull|dirty|dingy|blocked(?: up)?|dense|dark|cloudy|heavy|muted|bad|poor"
        r"|tr.b\w*|troubles?|voil\w+|bouch\w+|grise?s?|torbid\w|turbi\w|troebel|chalky|smoky|soupy?|suppe|suppig|soupe",
    },
    "blacks": {
        "deep": r"deep|dense|solid|rich|good|fine|strong|full|ok|okay|black|dark|heavy|perfect|right|great|nice|max\w*|tief|denses?|profonds?",
        "thin": r"thin|weak|gr[ea]y|washed(?: out)?|pale|light|poor|bad|low|brownish|faded|d.nn\w*|dun|sottili?|fin[oa]s?|debol\w|debil\w*|watery|faibles?|maigres?|l.g.re?s?",
    },
    "midtones": {
        "light": r"light|bright|pale|thin|over ?exposed|washed(?: out)?|blown(?: out)?|hell|clairs?|chiar\w|clar\ws?|licht",
        "right": r"right|good|ok|okay|fine|normal|correct|perfect|spot on|balanced|great|nice|gut|bien|bons?",
        "dark": r"dark|dense|under ?exposed|heavy|dim|dunkel|dicht|sombres?|scur\w|oscur\ws?|donker",
    },
    "contrast": {
        "flat": r"flat|soft|low|dull|weak|flau|weich|doux",
        "right": r"right|good|ok|okay|fine|normal|correct|perfect|balanced|medium|great|nice|gut|bien|bon",
        "hard": r"hard|harsh|contrasty|high|steep|strong|hart|dur",
    },
    "tint": {
        "none": r"none|no|clear|neutral|clean|ok|okay|colou?rless|keine?r?|aucune?",
        "strong": rf"strong|stained|tinted|heavy|deep|yes|bad|{_HUES}",
    },
}
# Words that are said of one thing only, where nothing is named.
_ALONE = {
    "highlights": {
        "clear": r"clear|clean|klar",
        "murky": r"murky|muddy|milky|veiled|foggy|fogged|cloudy|blocked(?: up)?|chalky|smoky|trub|trouble|voil\w+|bouch\w+|torbid\w|turbi\w|troebel"
        r"|soupy?|suppe|suppig|soupe",
    },
    "blacks": {"deep": r"deep|solid|tief", "thin": r"thin|d.nn|maigre|sottile|fin[oa]|debole|dun|weak|washed out"},
    "midtones": {
        "light": r"light|pale|bright|hell|clair|chiar\w|clar[oa]|licht|blown(?: out)?|over ?exposed",
        "dark": r"dark|dense|heavy|dim|dunkel|dicht|sombre|scur\w|oscur\w|donker|dens[oa]|under ?exposed",
    },
    "contrast": {"flat": r"flat|soft|flau|weich", "hard": r"hard|harsh|contrasty|hart"},
    "tint": {"strong": rf"stained|tinted|{_HUES}"},
}
_WHOLE_GOOD = (
    r"good|perfect|great|ok|okay|fine|spot on|just right|excellent|lovely|beautiful|keep(?:er)?|right|nice|passt|gut|sch.n|prima|perfekt"
    r"|bien|bon(?:ne)?|beau|parfaite?|belle|r.ussie?|buon[oa]|perfett\w|bell\w|buen\w|perfect\w|bonit\w|goed|mooi|prima|bang on|usable|lekker|tip ?top"
)
_FAULTS = {
    "ghost_negative": r"ghosts?|ghost (?:negative|image)|negative (?:image|ghost)|residual negative",
    "uneven_agitation": r"uneven\w*|streak\w*|blotch\w*|mottl\w*|surge marks?",
    "bromide_drag": r"bromide (?:drag|streaks?)|drag lines?",
    "reticulation": r"reticulat\w+",
    "coarse_grain": r"grainy|coarse grain|big grain|grain",
    "drying_marks": r"drying marks?|water (?:marks?|spots?)|drops? marks?|drying spots?",
    "light_leak": r"light[ -](?:leak|struck)\w*|fogged edges?",
    "frilling": r"frill\w*|emulsion (?:lifting|lifted|loose)",
}
_SLIGHT = (
    r"slight\w*|a bit|bit|a little|little|somewhat|a touch|touch|a tad|tad|a shade|shade|hint|a hint|trace|faint\w*|mild\w*"
    r"|barely|just|rather|fairly|bit of|leichte?[rs]?|etwas|ein wenig|un peu|un brin|un po'?|un poco|poco|leggerment\w|legger[oa]|liger[oa]|een beetje|iets|lichte|un tantino|l.g.rement|l.g.re"
    r"|(?:einen? )?tick|(?:ein )?bisschen|een tikje|tikje|un tantinet|un chouia|un pelo|un pel.n|un filo|hauch"
)
_TOO = r"too|zu|trop|troppo|demasiado|te"
_VERY = r"very|really|badly|much|heavily|heavy|quite|so|strongly|extremely|way|far|much too|far too|sehr|tr.s|molto|muy|erg|zeer"
_STRONG = rf"{_VERY}|{_TOO}"
_NOT = r"not|no|without|isn'?t|aren'?t|non|nicht|pas|sans"
_NEARLY = r"almost|nearly|not quite|not fully|not entirely|not really|not very|fast|presque"
_IDLE = (
    r"the|are|is|was|were|of|in|a|an|with|some|looks?|seems?|at|my|still|here|it|all|both|signs? of|die|der|das|les?|la"
)
# Where on the strip it is seen; what is named there is not what is judged.
_WHERE = r"\s(?:in|at|on|near|around|im|am|in den|dans|au|aux)\s(?:the |den |der |le |la |les )?[\w ]+$"
_COMPARED = r"\b(?:than|better|worse|less|more|like|as|instead|compared|if|next|should|try|would|could)\b"
# The best word of each scale; its contrary when it is denied, a shade when it is nearly so.
_BEST = {"highlights": "clear", "blacks": "deep", "midtones": "right", "contrast": "right", "tint": "none"}
_BEST_OF_ALL = {name: word for name, word in _BEST.items() if name != "tint"}
_WORST = {"highlights": "murky", "blacks": "thin", "tint": "strong"}
_SHADE = {
    ("highlights", "murky"): "slightly_murky",
    ("blacks", "thin"): "slightly_thin",
    ("midtones", "light"): "slightly_light",
    ("midtones", "dark"): "slightly_dark",
    ("contrast", "flat"): "slightly_flat",
    ("contrast", "hard"): "slightly_hard",
    ("tint", "strong"): "slight",
}


def read_words(text: str, *, of: str = "") -> WordsRead:
    """Grades and faults of what a person wrote of a strip.

    Parameters
    ----------
    text : str
        Such as "highlights a bit murky, blacks deep, slight tint".
    of : str, optional
        What it is said of, where the head of the column tells it: one of `GRADES`.

    Returns
    -------
    WordsRead
        What contradicts itself is left: one thing gets one grade.
    """
    said: dict[str, str] = {}
    faults: list[str] = []
    left: list[str] = []
    doubts: list[str] = []
    for clause in _clauses(text):
        read = None if re.search(_COMPARED, _plain(clause)) else _clause(_plain(clause), of)
        if read is None:
            left.append(clause)
            continue
        grades, seen, doubt = read
        if any(said.get(name, grade) != grade for name, grade in grades.items()):
            left.append(clause)
            continue
        said.update(grades)
        faults += [fault for fault in seen if fault not in faults]
        if doubt and doubt not in doubts:
            doubts.append(doubt)
    found = tuple(Grade.model_validate({"of": name, "grade": said[name]}) for name in GRADES if name in said)
    return WordsRead(found, tuple(faults), tuple(left), tuple(doubts))


def _plain(text: str) -> str:
    joined = re.sub(
        r"(?<=[a-z])-(?=ish\b)|(?<=mid)-(?=tone)|(?<=high)-(?=light)|(?<=er)-(?=exposed)", "", unaccented(text)
    )
    return " ".join(re.sub(r"[!?()\"_]", " ", joined).split())


def _clauses(text: str) -> list[str]:
    found = []
    for part in re.split(r"[,;/&+\n]|\.(?!\d)|\s[-\u2013]\s|\b(?:and|but|with|und|aber|et|mais)\b", text, flags=re.I):
        found += _by_nouns(part.strip())
    return [clause for clause in found if clause]


def _by_nouns(part: str) -> list[str]:
    """A clause that names two things is two: cut before each thing, or after it where the words go before."""
    every = "|".join(f"(?:{noun})" for noun in _NOUNS.values())
    if re.search(_WHERE, _plain(part)):
        return [part]
    nouns = list(re.finditer(rf"\b(?:{every})\b", part, flags=re.I))
    if len(nouns) < 2:
        return [part]
    first = nouns[0].start() == 0 or bool(re.fullmatch(rf"(?:\b(?:{_IDLE})\b\s*)*", part[: nouns[0].start()], re.I))
    cuts = [one.start() if first else one.end() for one in (nouns[1:] if first else nouns[:-1])]
    pieces = [part[a:b].strip(" :=") for a, b in zip([0, *cuts], [*cuts, len(part)], strict=True)]
    # Two things side by side have no words between them: then it is one expression.
    return pieces if all(_clause(_plain(piece), "") for piece in pieces) else [part]


Read = tuple[dict[str, str], tuple[str, ...], str]


def _clause(clause: str, of: str) -> Read | None:
    rest = re.sub(_WHERE, "", clause) if re.search(_NOUNS["tint"], clause) else clause
    for fault, pattern in _FAULTS.items():
        if re.fullmatch(rf"(?:(?:{_SLIGHT}|{_STRONG}|{_IDLE})\s+)*(?:{pattern})", rest):
            return {}, (fault,), ""
        if re.fullmatch(rf"(?:{_NOT})\s+(?:{_IDLE}\s+)*(?:{pattern})", rest):
            return {}, (), ""
    named, rest = _named(rest)
    if named and of and named != of:
        return None
    about = named or of
    nearly, rest = _taken(_NEARLY, rest)
    denied, rest = _taken(_NOT, rest)
    slight, rest = _taken(_SLIGHT, rest)
    # "too" and "very" lie beyond the word itself, which has no end on that side; but of a tint they are the word.
    strong, bare = _taken(_STRONG, rest)
    # "A bit too dark" says how far: a bit.
    strong = strong and not denied and (not slight or _taken(_VERY, rest)[0])
    _, bare = _taken(_IDLE, bare)
    if not about and re.fullmatch(_WHOLE_GOOD, bare) and not (nearly or denied or slight):
        return (
            dict(_BEST_OF_ALL),
            (),
            "said of the whole strip: taken as clear highlights, deep blacks, right mid-tones and contrast",
        )
    if about == "tint" and not bare:
        # "slight tint", "a tint", "no tint".
        grade = "none" if denied else "slight" if slight else "strong"
        return {"tint": grade}, (), ""
    return _graded(about, bare, slight or bare.endswith("ish"), strong, denied, nearly)


def _named(text: str) -> tuple[str, str]:
    """What is named in a clause, and the rest of it; nothing where the only word is both a thing and a word of it."""
    for name, pattern in _NOUNS.items():
        found = re.search(rf"\b(?:{pattern})\b", text)
        if found:
            rest = f"{text[: found.start()]} {text[found.end() :]}".replace(":", " ").replace("=", " ")
            return name, " ".join(rest.split())
    return "", text


def _taken(pattern: str, text: str) -> tuple[bool, str]:
    rest = re.sub(rf"(?<![\w'])(?:{pattern})(?![\w'])", " ", text)
    rest = " ".join(rest.split())
    # A word that is all there is may be the word itself: "little" is none, "no" of a tint is.
    return (True, rest) if rest != " ".join(text.split()) else (False, text)


def _graded(about: str, word: str, slight: bool, strong: bool, denied: bool, nearly: bool) -> Read | None:
    tables = {about: _SAID[about]} if about else _ALONE
    for name, table in tables.items():
        for grade, pattern in table.items():
            if not re.fullmatch(rf"(?:{pattern}|{grade})(?:ish)?", word):
                continue
            if nearly or denied:
                return _turned(name, grade, nearly)
            if slight and not strong:
                # "a bit clear" says nothing that is known.
                shade = _SHADE.get((name, grade))
                return None if shade is None else ({name: shade}, (), "")
            return {name: grade}, (), ""
    return ({"tint": "none"}, (), "") if about == "tint" and denied and not word else None


def _turned(name: str, grade: str, nearly: bool) -> Read | None:
    """The grade of a word that is denied or only nearly so; None where it may be either side."""
    worst = _WORST.get(name)
    if grade == _BEST[name]:
        return None if worst is None else ({name: _SHADE[name, worst]}, (), "")
    if nearly:
        shade = _SHADE.get((name, grade))
        return None if shade is None else ({name: shade}, (), "")
    return ({name: _BEST[name]}, (), "") if worst is not None else None
