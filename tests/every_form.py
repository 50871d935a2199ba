"""Every form of the house: what cannot be used comes back as it was typed, told beside its field, on its own page.

The forms are found, not listed: those that the templates write, and those that the pages of a full house show. A new
form that no page of this house shows is told by name, so none can be forgotten. The teaching darkroom is the house.
"""

import re
from collections import Counter
from html.parser import HTMLParser
from importlib.resources import files

PAGE = {"accept": "text/html"}
# Kinds of fields whose wrong value nobody may guess, and what is typed into each.
WRONG = {"number": "a good deal", "date": "one of these days", "choice": "nowhere at all"}
# What somebody leaves empty: spaces, so that it is sent at all.
EMPTY = "  "
# What else is filled in, so that the wrong field is the only one.
GIVEN = {
    "/bench/adapt": {"product": "household_ammonia_5", "amount": "20 mL"},
    "/bench/said": {"said": "20 mL household ammonia 5 %, water to 500"},
    "/bench/formula": {"substance": "citric_acid", "concentration": "20 g/L"},
    "/shelf/products": {"substance": "ammonia", "strength": "5 %"},
    "/shelf/care": {"a": "vinegar", "b": "laundry bleach"},
}
# Free words although they look like more, each with why.
AS_SAID = {
    ("/bench/processes/", "light"): "own words of a document, kept beside what the house reckons with",
    ("/shelf/products", "form"): "a document may say it in any words",
    ("/projector/slides/roll", "film"): "a name, kept as it is",
    **{
        ("/projector/seen/pictures", name): "read once the corners are pressed: see the test of that page"
        for name in ("columns", "rows", "base_density", "exposed", "source", "spot_patch", "spot_cd_m2")
    },
    ("/projector/rolls/picture", "frame"): "without a picture the picture is what is missing",
}
# Pages that are looked at before those that links lead to; of each kind one is.
BY_HAND = (
    "/bench/processes/my_fogging_way",
    "/sink/plan?route=my_fogging_way&film=teaching-film-a",
    "/people",
    "/tokens",
)
# Forms that no page of this house shows, each with what would have to be there.
UNSEEN = {
    ("care/care.html", "/shelf/care/jugs/\0/pour"): "a jug of which it was asked what may go in",
    ("house/guide_rehearse.html", "/guide/rehearse"): "a step of the guide; one button",
    ("house/parts.html", "/sink/\0/duty"): "a bath that must be destroyed; a name in free words",
    ("house/start.html", "/backup"): "a notebook that was long not saved; one button",
    ("house/tokens.html", "/tokens/\0/revoke"): "a token; one button",
    ("notebook/pool.html", "/notebook/pool/\0/back"): "strips of others put aside; one button",
    ("notebook/pool.html", "/notebook/pool/prior/aside"): "what was learned elsewhere; one button",
    ("notebook/pool_film.html", "/notebook/pool/\0/aside"): "strips of others; one button",
    ("notebook/pool_film.html", "/notebook/pool/\0/decide"): "strips of others that disagree; buttons",
    ("notebook/pool_film.html", "/notebook/pool/\0/same"): "strips of others; a choice of one's own films",
    ("notebook/pool_film.html", "/notebook/pool/\0/start"): "strips of others; one button",
    ("notebook/pool_given.html", "/notebook/pool/take"): "documents that were looked at; buttons",
    ("projector/roll.html", "/projector/rolls/notebook?roll=\0"): "a roll with two densities; one button",
    ("projector/roll.html", "/projector/rolls/read?roll=\0"): "a photograph of a frame; two places pressed",
    ("projector/seen.html", "/projector/seen/take?\0"): "a wall that was read; one button",
    ("recipes/recipes.html", "/notebook/recipes"): "more recipes than a page holds; free words",
    ("shelf/shelf.html", "/shelf/claim"): "a thing from another darkroom; one button",
    ("shelf/shelf.html", "/shelf/restore"): "a thing put aside; one button",
    ("sink/report.html", "/sink/\0/duty"): "a bath that must be destroyed; a name in free words",
}


class Seen(HTMLParser):
    """The forms of a page as a person sees them: another reading than the one that the house itself uses."""

    def __init__(self, text):
        super().__init__()
        self.forms, self.links, self.ids, self._in, self._pick, self._text = [], set(), {}, None, None, None
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        given = {key: value or "" for key, value in attrs}
        if tag == "a" and given.get("href", "").startswith("/"):
            self.links.add(given["href"].partition("#")[0])
        if "id" in given and tag in ("p", "span"):
            self.ids[given["id"]] = self._text = []
        if tag == "form":
            self._in = {**given, "fields": []}
            self.forms.append(self._in)
        if self._in is None or (not given.get("name") and tag != "option"):
            return
        if tag == "option" and self._pick is not None:
            if "selected" in given or "value" not in self._pick:
                self._pick["value"] = given.get("value", "")
        elif tag in ("input", "textarea", "select"):
            self._in["fields"].append({"type": tag, **given})
            self._pick = self._in["fields"][-1] if tag == "select" else None

    def handle_data(self, data):
        if self._text is not None:
            self._text.append(data)

    def handle_endtag(self, tag):
        if tag == "form":
            self._in = None
        if tag in ("p", "span"):
            self._text = None


def scripts():
    root = files("obverse.web") / "static"
    found = [
        one for folder in root.iterdir() if folder.is_dir() for one in folder.iterdir() if one.name.endswith(".js")
    ]
    return "\n".join(one.read_text(encoding="utf-8") for one in found)


def kind_of(field):
    name = field["name"]
    if field["type"] == "select":
        return "choice"
    if field["type"] == "date":
        return "date"
    if (
        field["type"] == "number"
        or field.get("inputmode") in ("decimal", "numeric")
        or name.endswith(("_ml", "_c", "_s"))
    ):
        return "number"
    return ""


def of_templates():
    """Every form that a template writes: its method and a pattern of where it leads."""
    found = {}
    root = files("obverse.web") / "templates"
    for folder in sorted(root.iterdir(), key=str):
        for one in sorted(folder.iterdir(), key=str) if folder.is_dir() else ():
            text = re.sub(r"\{\{.*?\}\}|\{%.*?%\}", "\0", one.read_text(encoding="utf-8"), flags=re.S)
            for tag in re.findall(r"<form[^>]*>", text):
                action, method = re.search(r'action="([^"#]*)', tag), re.search(r'method="(\w+)"', tag)
                found[f"{folder.name}/{one.name}", action[1] if action else "", method[1] if method else ""] = tag
    return found


def addresses(app):
    """The patterns of all addresses that are read."""
    routers = [getattr(one, "original_router", None) for one in app.routes]
    found = [route for router in routers if router is not None for route in router.routes]
    return [route for route in found if "GET" in getattr(route, "methods", ())]


def forms_of(web):
    """Every form that some page shows: its address, the form."""
    routes = addresses(web.app)
    assert len(routes) > 80
    found, visits, todo, seen = {}, set(), ["/", *BY_HAND], set()
    while todo:
        address = todo.pop(0)
        path = address.partition("?")[0]
        route = next((one.path for one in routes if one.path_regex.match(path)), "")
        if address in seen or not route or route.startswith(("/api/", "/help/")) or route in visits:
            continue
        seen.add(address)
        answer = web.get(address, headers=PAGE)
        if answer.status_code != 200 or "text/html" not in answer.headers["content-type"]:
            continue
        visits.add(route)
        page = Seen(answer.text)
        todo += sorted(page.links)
        for form in page.forms:
            action = form.get("action", "").partition("#")[0] or path
            names = tuple(dict.fromkeys(f["name"] for f in form["fields"] if f["type"] != "hidden"))
            found.setdefault(
                (route, re.sub(r"/[0-9a-f]{12,}", "/*", action).partition("?")[0], names), (address, action, form)
            )
    return found.values()


def pair_of(field):
    return field["name"], field.get("value", "on" if field["type"] == "checkbox" else "")


def sent_with(form, action, at, value):
    """What the form sends with this value in that field: a pair for every field."""
    given = next((more for begins, more in GIVEN.items() if action.startswith(begins)), {})
    pairs, times = [], Counter()
    # In a table the row of that field and the first are filled.
    row = Counter(field["name"] for field in form["fields"][: max(at, 0)])[form["fields"][at]["name"]]
    for index, field in enumerate(form["fields"]):
        kind, name = field["type"], field["name"]
        times[name] += 1
        if kind in ("file", "submit") or (kind in ("checkbox", "radio") and "checked" not in field):
            continue
        typed = pair_of(field)[1]
        if not typed and name in given and times[name] - 1 in (0, row):
            typed = given[name]
        if not typed and "required" in field:
            typed = "1"
        pairs.append((name, value if index == at else typed))
    return pairs


def faults_of(answer, action, pairs, typed_wrong):
    """What is wrong with the page of a refusal."""
    page = Seen(answer.text)
    leads = [one for one in page.forms if one.get("action", "").partition("#")[0] == action]
    marked = [
        (form, field)
        for form in leads
        for field in form["fields"]
        # A choice that there is not cannot be shown as chosen.
        if "aria-invalid" in field
        and field["name"] == typed_wrong[0]
        and (field["type"] == "select" or (field.get("value") or "").strip() == typed_wrong[1].strip())
    ]
    if not marked:
        others = [field["name"] for form in leads for field in form["fields"] if "aria-invalid" in field]
        return [
            f"its form is not there ({answer.status_code})" if not leads else f"not told beside it, but at {others}"
        ]
    form, field = marked[0]
    reason = "".join(page.ids.get(field.get("aria-describedby", ""), []))
    found = [] if len(reason) > 20 else ["no reason beside it"]
    back = [pair_of(one) for one in form["fields"]]
    for name in ("token", "request_id"):
        back = [pair for pair in back if pair[0] != name]
    choices = {one["name"] for one in form["fields"] if one["type"] == "select"}
    lost = [
        pair
        for pair in pairs
        if pair[0] not in ("token", "request_id")
        and (pair not in back and (pair[1].strip() or (pair[0], "") not in back))
        and not (pair == typed_wrong and pair[0] in choices)
    ]
    return found + ([f"lost {lost}"] if lost else [])
