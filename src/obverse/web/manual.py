"""The documents of docs/ as pages of the house, from the installed wheel; nothing comes from a network."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response
from markdown_it import MarkdownIt
from markdown_it.token import Token
from markupsafe import Markup
from pydantic import Field

from obverse.foundation import Document, NotFoundError
from obverse.web.pages import page

router = APIRouter()

# Layout of a found passage: characters before and after the word.
BEFORE, AFTER = 80, 160
# More passages than this help nobody; the person then gives another word.
MOST_PASSAGES = 40


@dataclass(frozen=True, slots=True)
class Section:
    """A heading of a document and the plain text under it.

    Parameters
    ----------
    anchor : str
        Empty for what stands before the first heading.
    """

    anchor: str
    title: str
    text: str


@dataclass(frozen=True, slots=True)
class Manual:
    """One document, rendered.

    Parameters
    ----------
    name : str
        File name without its ending; a document of the API reference begins with ``api/``.
    """

    name: str
    title: str
    html: Markup
    sections: tuple[Section, ...]


@dataclass(frozen=True, slots=True)
class Passage:
    """A place where the words that were looked for stand."""

    href: str
    title: str
    words: str


@cache
def manuals() -> dict[str, Manual]:
    """All documents by name, the pages of the house first."""
    folder = files("obverse.web").joinpath("documents")
    found = {}
    for prefix, place in (("", folder), ("api/", folder.joinpath("api"))):
        if place.is_dir():
            for entry in sorted(place.iterdir(), key=lambda entry: entry.name):
                if entry.name.endswith(".md"):
                    name = prefix + entry.name.removesuffix(".md")
                    found[name] = _rendered(name, entry.read_text(encoding="utf-8"))
    first = ("start-here", "places", "glossary", "why", "nomenclature")
    return dict(
        sorted(
            found.items(),
            key=lambda item: (
                first.index(item[0]) if item[0] in first else len(first),
                item[0].startswith("api/"),
                item[0],
            ),
        )
    )


class Word(Document):
    """A word of the trade, as the glossary explains it."""

    forms: tuple[str, ...] = Field(description="how it is written, the usual form first", examples=[("Dmax",)])
    anchor: str = Field(description="its part of the glossary", examples=["dmax-border-density"])
    text: str = Field(description="what it means", examples=["The greatest density, where no light fell on the film."])


@cache
def glossary() -> tuple[Word, ...]:
    """The words of ``glossary.md``, each under its heading; a comma parts the forms of one word."""
    return tuple(
        Word(forms=tuple(part.strip() for part in section.title.split(",")), anchor=section.anchor, text=section.text)
        for section in manuals()["glossary"].sections[1:]
    )


def look_up(words: str) -> list[Passage]:
    """Passages that hold all of `words`, in any order and case; none for an empty text."""
    wanted = words.casefold().split()
    if not wanted:
        return []
    return [
        Passage(
            f"/help/{manual.name}#{section.anchor}", f"{manual.title}: {section.title}", _around(section.text, wanted)
        )
        for manual in manuals().values()
        for section in manual.sections
        if all(word in f"{section.title} {section.text}".casefold() for word in wanted)
    ]


@router.get("/help", response_class=HTMLResponse, include_in_schema=False)
def help_list(request: Request, words: str = "") -> HTMLResponse:
    """All documents, or the passages that hold `words`."""
    passages = look_up(words)
    return page(
        request,
        "house/help.html",
        manuals=[manual for manual in manuals().values() if not manual.name.startswith("api/")],
        reference=[manual for manual in manuals().values() if manual.name.startswith("api/")],
        words=words,
        passages=passages[:MOST_PASSAGES],
        more=max(0, len(passages) - MOST_PASSAGES),
    )


@router.get("/api/glossary")
def glossary_document() -> list[Word]:
    """The words of the trade, for pages that explain them on touch."""
    return list(glossary())


@router.get("/help/pictures/{name}.svg", include_in_schema=False)
def help_picture(name: str) -> Response:
    """A drawing of a document.

    Raises
    ------
    NotFoundError
        If there is none of that name.
    """
    drawing = files("obverse.web").joinpath("documents", f"{name}.svg")
    if not re.fullmatch(r"[\w-]+", name) or not drawing.is_file():
        raise NotFoundError(f"no drawing is called {name!r}", where="help", remedy="choose a page of the list at /help")
    return Response(drawing.read_bytes(), media_type="image/svg+xml")


@router.get("/help/{name:path}", response_class=HTMLResponse, include_in_schema=False)
def help_page(request: Request, name: str) -> HTMLResponse:
    """One document.

    Raises
    ------
    NotFoundError
        If there is none of that name.
    """
    if name not in manuals():
        raise NotFoundError(f"no help page is called {name!r}", where="help", remedy="choose one of the list at /help")
    return page(request, "house/help_page.html", manual=manuals()[name])


def _rendered(name: str, text: str) -> Manual:
    # The documents are our own: the few tags in them are wanted.
    reader = MarkdownIt("commonmark", {"html": True}).enable("table")
    tokens = reader.parse(text)
    sections: list[Section] = []
    anchor, title, words = "", "", list[str]()
    taken: set[str] = set()
    for place, token in enumerate(tokens):
        if token.type == "heading_open":
            if title or words:
                sections.append(Section(anchor, title, " ".join(words)))
            title, words = _plain(tokens[place + 1]), []
            anchor = _anchor(title, taken)
            token.attrSet("id", anchor)
        elif token.type == "inline":
            if tokens[place - 1].type != "heading_open":
                words.append(_plain(token))
            for child in token.children or []:
                _lead_home(child, name)
        elif token.type in ("fence", "code_block"):
            words.append(token.content)
    sections.append(Section(anchor, title, " ".join(words)))
    html = reader.renderer.render(tokens, reader.options, {})
    # Wider than a phone, they are moved by keys too.
    html = html.replace("<pre>", '<pre tabindex="0">')
    html = html.replace("<table>", '<div class="table-box" tabindex="0"><table>').replace("</table>", "</table></div>")
    return Manual(name, sections[0].title or name, Markup(html), tuple(sections))


def _plain(token: Token) -> str:
    return "".join(child.content if child.type != "softbreak" else " " for child in token.children or [])


def _anchor(title: str, taken: set[str]) -> str:
    base = re.sub(r"[^\w]+", "-", title.casefold()).strip("-") or "part"
    anchor, count = base, 1
    while anchor in taken:
        count += 1
        anchor = f"{base}-{count}"
    taken.add(anchor)
    return anchor


def _lead_home(token: Token, name: str) -> None:
    """Links between documents lead to their pages here; what is not in the house becomes words."""
    if token.type == "link_open":
        target = str(token.attrGet("href") or "")
        here = name.rpartition("/")[0]
        # A part of the same page, or a page of the house.
        if target.startswith(("#", "/")):
            return
        above, page_name = target.startswith("../"), target.removeprefix("../")
        if (match := re.fullmatch(r"((?:api/)?[\w-]+)\.md(#[\w-]+)?", page_name)) and (here or not above):
            path = match[1] if above or not here else f"{here}/{match[1]}"
            token.attrSet("href", f"/help/{path}{match[2] or ''}")
        else:
            # Source files, pictures and the readme are on disk only; the address stays as a title.
            token.attrs = {"title": target}
    elif token.type == "image" and re.fullmatch(r"[\w-]+\.svg", str(token.attrGet("src"))):
        token.attrSet("src", f"/help/pictures/{token.attrGet('src')}")
    elif token.type == "image":
        token.type, token.tag, token.content = "text", "", token.content
        token.children = None


def _around(text: str, wanted: list[str]) -> str:
    at = min((found for word in wanted if (found := text.casefold().find(word)) >= 0), default=0)
    begin, end = max(0, at - BEFORE), min(len(text), at + AFTER)
    return (
        ("\N{HORIZONTAL ELLIPSIS}" if begin else "")
        + text[begin:end].strip()
        + ("\N{HORIZONTAL ELLIPSIS}" if end < len(text) else "")
    )
