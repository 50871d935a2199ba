"""A refused form comes back on its own page, as it was typed, with the reason beside its field.

No form has to say how: the page that it stood on is made anew, and what was typed is put into it. So no form can be
forgotten. A field of a row says with ``data-of`` which part of the document its row
becomes; what has ``data-why`` of that part is where the reason stands.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from html.parser import HTMLParser
from http import HTTPStatus
from urllib.parse import unquote, urlencode, urlsplit

from fastapi import Request
from fastapi.responses import HTMLResponse, Response
from markupsafe import escape
from starlette.types import Message

from obverse.foundation import InputError, ObverseError, regex

# Hidden fields that belong to one sending of a form, or say where it stood.
PAGE = "stood_on"
# What stood in each field when its page was made, "name|value", where each of them goes on by itself.
STOOD = "stood"
OF_ONE_SENDING = frozenset({"token", "request_id", PAGE, STOOD})
# The scope of a page that is made within the answer to another request.
_WITHIN = "obverse_within"
_SCOPE = ("type", "asgi", "http_version", "server", "client", "scheme", "root_path")
_NOT_PASSED_ON = (b"content-", b"transfer-", b"origin", b"sec-fetch-", b"idempotency-key")
_PRESSED = frozenset({"submit", "button", "image", "reset", "file"})
_TICKED = frozenset({"checkbox", "radio"})
# What ends a field's name and no complaint about it.
_UNITS = regex(r"_(ml|g|c|s|m|min|m3|per_h|mm|cd_m2)$")
_SAID = regex(r"^([a-z][a-z_]*)(?:\[\d+\])?(?:\.[a-z0-9_]+)*:? ")
# "components[1].concentration": the row of the form, and the field in it.
_ROW = regex(r"^([a-z_]+\[\d+\])(?:\.([a-z_]+))?")
_WHY = "why-not-here"

Tag = tuple[int, int, list[tuple[str, str | None]]]


@dataclass
class _Field:
    """One field of a form, with where it lies in the page."""

    name: str
    kind: str
    tag: Tag
    folds: list[Tag]
    end: int = 0
    inner: int = 0
    options: list[tuple[Tag, str]] = field(default_factory=list)
    label: str = ""

    def asks(self, name: str) -> str:
        return dict(self.tag[2]).get(name) or ""

    @property
    def value(self) -> str:
        return self.asks("value")


@dataclass
class _Form:
    """One form of a page."""

    tag: Tag
    folds: list[Tag]
    fields: list[_Field] = field(default_factory=list)

    def asks(self, name: str) -> str:
        return dict(self.tag[2]).get(name) or ""


@dataclass(frozen=True)
class _Complaint:
    """What is wrong, in which field, and where its row has room to say so."""

    field: _Field | None
    sentence: str
    room: int | None


class _Forms(HTMLParser):
    """The forms of a page, with where each of their fields lies in its text."""

    def __init__(self, text: str):
        super().__init__(convert_charrefs=True)
        self._lines = [0, *(match.end() for match in re.finditer("\n", text))]
        self._text = text
        self.forms: list[_Form] = []
        self._by_id: dict[str, _Form] = {}
        self._open: _Form | None = None
        self._folds: list[Tag] = []
        self._filling: _Field | None = None
        self._labels: dict[str, str] = defaultdict(str)
        self._label: tuple[str, list[_Field]] | None = None
        self._ids: dict[str, _Field] = {}
        # Where a row has room for what is wrong in it.
        self.rooms: dict[str, int] = {}
        self.feed(text)
        self.close()
        for id, told in self._labels.items():
            if id in self._ids:
                self._ids[id].label += " " + told

    def _here(self) -> int:
        line, column = self.getpos()
        return self._lines[line - 1] + column

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        start = self._here()
        found: Tag = (start, start + len(self.get_starttag_text() or ""), attrs)
        given = dict(attrs)
        if "data-why" in given:
            self.rooms[given["data-why"] or ""] = found[1]
        if tag == "details":
            self._folds.append(found)
        elif tag == "form":
            self._open = _Form(found, list(self._folds))
            self.forms.append(self._open)
            self._by_id[given.get("id") or ""] = self._open
        elif tag == "label":
            self._label = (given.get("for") or "", [])
        elif tag == "option" and self._filling is not None:
            self._filling.options.append((found, given.get("value") or ""))
        elif tag in ("input", "select", "textarea"):
            kind = (given.get("type") or "text").lower() if tag == "input" else tag
            one = _Field(given.get("name") or "", kind, found, list(self._folds), end=found[1], inner=found[1])
            form = self._by_id.get(given["form"] or "") if "form" in given else self._open
            if form is not None and one.name:
                form.fields.append(one)
            self._ids[given.get("id") or ""] = one
            one.label = given.get("aria-label") or ""
            if self._label is not None:
                self._label[1].append(one)
            self._filling = one if tag != "input" else None

    def handle_data(self, data: str) -> None:
        if self._filling is not None and self._filling.options:
            tag, value = self._filling.options[-1]
            if "value" not in dict(tag[2]):
                self._filling.options[-1] = (tag, (value + data).strip())
        elif self._label is not None:
            self._labels[self._label[0]] += data
            for one in self._label[1]:
                one.label += " " + data

    def handle_endtag(self, tag: str) -> None:
        if tag == "details" and self._folds:
            self._folds.pop()
        elif tag == "form":
            self._open = None
        elif tag == "label":
            if self._label is not None and not self._label[0]:
                for one in self._label[1]:
                    one.label += " " + self._labels.pop("", "")
            self._label = None
        elif tag in ("select", "textarea") and self._filling is not None:
            self._filling.inner = self._here()
            self._filling.end = self._text.index(">", self._here()) + 1
            self._filling = None


async def form_again(request: Request, error: InputError) -> HTMLResponse | None:
    """The page that a refused form stood on, filled as it was typed; None where there is none.

    Parameters
    ----------
    request : Request
        What was refused: a form that was sent, or an address that a form made.
    error : InputError
        Why.
    """
    if request.scope.get(_WITHIN):
        return None
    sent, typed = request.method == "POST", _typed(request)
    if not typed:
        return None
    stood_on = dict(typed).get(PAGE, "" if sent else request.url.path)
    text = await _page_at(request, stood_on)
    if not sent and request.url.path == urlsplit(stood_on).path:
        # The rest of what the address asked for stays on the page: first without what is complained of.
        for left_out in _suspects(typed, error):
            rest = urlencode([(name, value) for name, value in typed if name not in (left_out, PAGE)])
            text = await _page_at(request, f"{request.url.path}?{rest}") or text
            if text:
                break
    return filled(request, error, text)


def text_of(shown: Response) -> str:
    """The text of a page that was made but not yet sent."""
    return bytes(shown.body).decode()


def filled(request: Request, error: ObverseError, text: str, *, leads_to: str = "") -> HTMLResponse | None:
    """A page with the form that was refused, filled as it was typed and told why; None where no such form is on it.

    Parameters
    ----------
    request : Request
        What was refused.
    error : InputError
        Why.
    text : str
        The page.
    leads_to : str
        Where the form leads, where that is not what was asked for.
    """
    typed, here = _typed(request), _Forms(text)
    if leads_to:
        form = next((one for one in here.forms if one.asks("action") == leads_to), None)
    else:
        form = _form_of(here.forms, request, typed)
    if form is None:
        return None
    complaints = []
    for one in (error, *(error.others if isinstance(error, InputError) else ())):
        wrong = _field_of(form.fields, typed, one)
        row = "" if wrong is None else wrong.asks("data-of")
        sentence = re.sub(rf"{re.escape(row)}[.\w]*: ", "", one.sentence) if row else one.sentence
        if wrong is not None and sentence == one.sentence:
            sentence = _without_name(one, wrong.name)
        complaints.append(_Complaint(wrong, sentence, here.rooms.get(row)))
    return HTMLResponse(_filled(text, form, typed, complaints), error.http_status)


def _without_name(error: ObverseError, name: str) -> str:
    """A complaint beside its field: nobody needs the name there that a document has for it."""
    what = re.sub(rf"^{re.escape(name)} |^[a-z_]+(?:\[\d+\])?(?:\.[a-z0-9_]+)*: ", "", error.what)
    if what == error.what and error.where != name:
        return error.sentence
    return f"{what}; {error.remedy}." if error.remedy else f"{what}."


def _typed(request: Request) -> list[tuple[str, str]]:
    if request.method == "POST":
        typed: list[tuple[str, str]] = request.scope.get("obverse_typed", [])
        return typed
    return list(request.query_params.multi_items())


def _suspects(typed: list[tuple[str, str]], error: ObverseError) -> list[str]:
    """Names of an address, those first that a complaint may be about."""
    guessed = _field_of([_Field(name, "text", (0, 0, []), []) for name, _ in typed], typed, error)
    names = list(dict.fromkeys(name for name, _ in typed if name != PAGE))
    return names if guessed is None else [guessed.name, *(name for name in names if name != guessed.name)]


def _is_of_this_house(address: str) -> bool:
    parts = urlsplit(address)
    return parts.path.startswith("/") and not parts.path.startswith(("//", "/api/")) and not parts.netloc


def stood_on(request: Request) -> str:
    """The page that a form stood on, as it was sent; empty where that is none of this house."""
    address = dict(request.scope.get("obverse_typed", ())).get(PAGE, "")
    return address if _is_of_this_house(address) else ""


async def _page_at(request: Request, address: str) -> str:
    """The page at an address of this house, as whoever asked would see it; empty where there is none."""
    parts = urlsplit(address)
    if not _is_of_this_house(address):
        return ""
    scope = {name: request.scope[name] for name in _SCOPE if name in request.scope} | {
        "method": "GET",
        "path": unquote(parts.path),
        "raw_path": parts.path.encode(),
        "query_string": parts.query.encode(),
        "headers": [(name, value) for name, value in request.scope["headers"] if not name.startswith(_NOT_PASSED_ON)],
        _WITHIN: True,
    }
    told: list[Message] = []

    async def receive() -> Message:
        return {"type": "http.disconnect"}

    async def send(message: Message) -> None:
        told.append(message)

    await request.app(scope, receive, send)
    kinds = [value for message in told for name, value in message.get("headers", ()) if name == b"content-type"]
    if not told or told[0]["status"] != HTTPStatus.OK or not kinds or not kinds[0].startswith(b"text/html"):
        return ""
    return b"".join(message.get("body", b"") for message in told).decode()


def _form_of(forms: Sequence[_Form], request: Request, typed: list[tuple[str, str]]) -> _Form | None:
    """The form of a page that was sent: it leads here, its hidden fields are those that came, and so are the others."""
    came: dict[str, set[str]] = defaultdict(set)
    for name, value in typed:
        came[name].add(value)
    fitting: list[tuple[int, _Form]] = []
    for form in forms:
        leads = urlsplit(form.asks("action") or request.url.path)
        here = leads.path == request.url.path and (
            request.method == "GET" or sorted(leads.query.split("&")) == sorted(request.url.query.split("&"))
        )
        hidden = (one for one in form.fields if one.kind == "hidden" and one.name not in (*OF_ONE_SENDING, "revision"))
        typed_in = {one.name for one in form.fields if one.kind not in (*_TICKED, *_PRESSED, "hidden")}
        if (
            here
            and (form.asks("method") or "get").upper() == request.method
            and all(one.value in came[one.name] for one in hidden)
            and (request.method == "POST" or typed_in & set(came))
        ):
            fitting.append((len(typed_in - set(came)), form))
    return min(fitting, key=lambda one: one[0])[1] if fitting else None


def _field_of(fields: Iterable[_Field], typed: list[tuple[str, str]], error: ObverseError) -> _Field | None:
    """The field that a complaint is about: by its name, by its label, or by what was typed into it."""
    # "bottle, amount": the nearer word counts.
    places = [_words(part) for part in (error.where, *reversed(re.split(r"[,:.]", error.where))) if _words(part)]
    said, row = _SAID.match(error.what), _ROW.match(error.what)
    tests: list[Callable[[_Field, str], bool]] = [
        lambda one, value: row is not None and one.asks("data-of") == row[1] and one.name == row[2],
        lambda one, value: row is not None and one.asks("data-of") == row[1],
        lambda one, value: bool({_words(one.name), _words(_UNITS.sub("", one.name))} & set(places)),
        lambda one, value: said is not None and said[1] in (one.name, _UNITS.sub("", one.name)),
        lambda one, value: _words(one.label) in places or _words(value) in places,
        lambda one, value: len(value) > 1 and (repr(value) in error.what or f'"{value}"' in error.what),
        lambda one, value: any(set(p.split()) <= set(_words(f"{one.name} {one.label}").split()) for p in places),
    ]
    left = _by_name(typed)
    seen = [
        (one, left[one.name].pop(0) if left.get(one.name) else "")
        for one in fields
        if one.kind not in (*_PRESSED, "hidden")
    ]
    # Nothing says it better than what was typed, where only one field holds it.
    quoted = [one for one, value in seen if len(value) > 1 and repr(value) in error.what]
    if len(quoted) == 1:
        return quoted[0]
    for test in tests:
        fitting = [(one, value) for one, value in seen if test(one, value)]
        # Of a column of fields the one that holds what is told.
        exact = [one for one, value in fitting if value and repr(value) in error.what]
        if fitting:
            return exact[0] if exact else fitting[0][0]
    typed_in = [one for one, _ in seen if one.kind not in (*_TICKED, "select")]
    return typed_in[0] if len(typed_in) == 1 else None


def _words(text: str) -> str:
    return " ".join(re.findall(r"[a-z0-9]+", text.casefold()))


def stood_in(rows: Iterable[object]) -> dict[str, str]:
    """What stood in the fields of a form when its page was made, by their names."""
    parts = (str(row).partition("|") for row in rows)
    return {name: value for name, _, value in parts}


def _by_name(typed: list[tuple[str, str]]) -> dict[str, list[str]]:
    left: dict[str, list[str]] = defaultdict(list)
    for name, value in typed:
        left[name].append(value)
    return left


def _filled(text: str, form: _Form, typed: list[tuple[str, str]], complaints: Sequence[_Complaint]) -> str:
    """The page with what was typed in its form, all folds open that hide it, and each reason beside its field or in its row."""
    changes: list[tuple[int, int, str]] = []
    left, all_of = _by_name(typed), _by_name(typed)
    stood = stood_in(all_of[STOOD])
    ids = [f"{_WHY}-{i}" if i else _WHY for i in range(len(complaints))]
    for one in form.fields:
        why = [id for id, complaint in zip(ids, complaints, strict=True) if complaint.field is one]
        marked = {"aria-invalid": "true", "aria-describedby": " ".join(why)} if why else {}
        if why[:1] == ids[:1]:
            # Nothing else takes the caret from it, and the browser goes there.
            marked["autofocus"] = ""
        if one.name in OF_ONE_SENDING or one.kind in _PRESSED:
            continue
        if one.kind in _TICKED:
            ticked = (one.value or "on") in all_of[one.name]
            changes.append(_tag("input", one.tag, {**marked, "checked": "" if ticked else None}))
            continue
        value = left[one.name].pop(0) if left[one.name] else None
        if value == stood.get(one.name):
            # Nobody touched it: what the page says of it now goes on, which another device may have written.
            value = None
        if one.kind == "select":
            changes.append(_tag("select", one.tag, marked))
            if value is not None:
                changes += [_tag("option", tag, {"selected": "" if v == value else None}) for tag, v in one.options]
                if value not in {v for _, v in one.options}:
                    kept = str(escape(value))
                    changes.append((one.tag[1], one.tag[1], f'<option value="{kept}" selected>{kept}</option>'))
        elif one.kind == "textarea":
            changes.append(_tag("textarea", one.tag, marked))
            if value is not None:
                changes.append((one.tag[1], one.inner, f"\n{escape(value)}"))
        else:
            changes.append(_tag("input", one.tag, marked if value is None else {**marked, "value": value}))
    folds = {fold[0]: fold for fold in (*form.folds, *(f for c in complaints if c.field for f in c.field.folds))}
    changes += [_tag("details", fold, {"open": ""}) for fold in folds.values()]
    for id, complaint in zip(ids, complaints, strict=True):
        told, field = escape(complaint.sentence), complaint.field
        kind = "p" if field is None else "span"
        place = form.tag[1] if field is None else field.end if complaint.room is None else complaint.room
        changes.append((place, place, f'<{kind} class="beside" id="{id}" role="alert">{told}</{kind}>'))
    parts, done = [], 0
    for start, end, new in sorted(changes, key=lambda change: change[:2]):
        parts += [text[done:start], new]
        done = end
    return "".join((*parts, text[done:]))


def _tag(name: str, tag: Tag, changed: Mapping[str, str | None]) -> tuple[int, int, str]:
    """A start tag with some of its attributes changed; None takes one away."""
    attributes: dict[str, str | None] = {key: value or "" for key, value in tag[2]}
    attributes.update(changed)
    told = "".join(f' {key}="{escape(value)}"' for key, value in attributes.items() if value is not None)
    return tag[0], tag[1], f"<{name}{told}>"
