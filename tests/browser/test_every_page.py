"""Every page of the demo, at a small phone, a phone and a laptop: nothing sideways, nothing too small for a finger, nothing beyond red in the red look."""

from playwright.sync_api import Error

from .conftest import LAPTOP, PHONE, PICTURES, overflow
from .test_red_look import beyond_red

SMALL = 320
TARGET_PX = 44
# What a finger is meant to meet, with its label where it has one: a box of 21 px in a label of 44 is 44. A link,
# or a word that explains itself, inside a sentence is as high as its line (WCAG 2.2, 2.5.8, "inline"); one that stands alone is a target.
TOO_SMALL = """least => {
  const rect = element => {
    const { left, right, top, bottom } = element.getBoundingClientRect();
    return [left, top, right, bottom];
  };
  const alone = link => {
    const block = link.closest('p, li, td, th, dd, dt, figcaption, div, nav, h1, h2, h3, article, section, form, summary, label, header, aside, body');
    return [...block.childNodes].every(node => node === link || node.nodeType === 8 || !node.textContent.trim() || node.matches?.('a, .badge, svg, .word'));
  };
  const found = [];
  for (const element of document.querySelectorAll('button, summary, select, textarea, input, a, [role=button], [role=slider]')) {
    if (element.type === 'hidden' || !element.checkVisibility({ visibilityProperty: true })) continue;
    if (element.closest('.visually-hidden, .skip')) continue;
    if (element.matches('a:not(.button), button.word') && !alone(element)) continue;
    let [left, top, right, bottom] = rect(element);
    if (['checkbox', 'radio'].includes(element.type)) {
      for (const label of element.labels) {
        const [l, t, r, b] = rect(label);
        [left, top, right, bottom] = [Math.min(left, l), Math.min(top, t), Math.max(right, r), Math.max(bottom, b)];
      }
    }
    const [wide, high] = [right - left, bottom - top];
    if (!wide || !high) continue;
    if (high < least - 0.5 || wide < least - 0.5) {
      const name = (element.getAttribute('aria-label') ?? element.labels?.[0]?.textContent ?? element.textContent).trim().replace(/\\s+/g, ' ').slice(0, 40);
      found.push(`${element.tagName.toLowerCase()}${element.type ? `[${element.type}]` : ''}.${element.getAttribute('class') ?? ''} "${name}" ${Math.round(wide)} x ${Math.round(high)}`);
    }
  }
  return found;
}"""


# Pages whose pictures or tables are widest, looked at by axe at every width here; others are elsewhere.
BY_AXE = ("/projector", "/notebook/recipes/", "/notebook/teaching-film-a", "/shelf")


def addresses(page, house, visit=lambda address: None) -> list[str]:
    """Every page that can be reached by links from the start, at most one of a kind that only differs by its id.

    `visit` is called while each is shown.
    """
    seen, queue, kinds = (
        [],
        ["/", "/sink/plan?route=iron_ammonia_light", "/bench/sheet?formula=first_developer&volume_ml=500", "/nowhere"],
        set(),
    )
    while queue:
        address = queue.pop(0)
        kind = "/".join(
            "*" if any(c.isdigit() for c in part) and len(part) > 6 else part
            for part in address.split("?")[0].split("/")
        )
        if address in seen or (kind in kinds and address not in ("/",)):
            continue
        kinds.add(kind)
        if kind.startswith("/help/") and sum(k.startswith("/help/") for k in kinds) > 2:
            continue  # documents, all of one make
        try:
            answer = page.goto(house.url + address)
        except Error:
            continue  # handed over as a file
        if answer is None or "text/html" not in answer.headers.get("content-type", ""):
            continue  # a sheet, which the browser shows by itself
        seen.append(address)
        for found in page.eval_on_selector_all("a[href^='/']", "all => all.map(a => a.getAttribute('href'))"):
            if found.count("/") < 6 and not found.startswith(("/static", "/api")):
                queue.append(found.split("#")[0])
        visit(address)
    return seen


def test_every_page(demo_house, page_at, axe):
    """One walk for all that is asked of every page: each costs a loading of all of them."""
    # Half the pixels each way: what holds green or blue still shows in the mean of its neighbours.
    page = page_at(PHONE, device_scale_factor=0.5)
    page.expected_errors += ["404", "Failed to load resource"]
    small, sideways, looked_at, colours = [], [], set(), []

    def visit(address: str) -> None:
        page.wait_for_load_state("networkidle")
        page.evaluate("for (const box of document.querySelectorAll('details')) box.open = true")
        for width in (SMALL, LAPTOP, PHONE):
            page.set_viewport_size({"width": width, "height": 844})
            small.extend(f"{address} at {width}: {one}" for one in page.evaluate(TOO_SMALL, TARGET_PX))
            if overflow(page) > 0:
                sideways.append(f"{address} at {width}: {overflow(page)} px too wide")
            for part in BY_AXE:
                if address == part or (part.endswith("/") and address.startswith(part)):
                    axe(page)
                    looked_at.add(part)
        page.set_viewport_size({"width": PHONE, "height": 2400})
        # Each look is held against its own pixels: tables that come late make a page longer between the two.
        light, of_light = beyond_red(page, windows=1)
        page.evaluate("document.documentElement.setAttribute('data-dark', '')")
        red, of_red = beyond_red(page)
        colours.append((address, of_light, light, of_red, red))

    every = addresses(page, demo_house, visit)
    PICTURES.mkdir(exist_ok=True)
    (PICTURES / "red.txt").write_text(
        "\n".join(
            f"{address[:58]:60} beyond red: paper {light:8} of {of_light:8} pixels, red {red:3} of {of_red:8}"
            for address, of_light, light, of_red, red in colours
        )
    )
    assert len(every) >= 20, every
    assert looked_at == set(BY_AXE)
    assert sideways == []
    assert small == [], "\n".join(small)
    assert [(address, red) for address, *_, red in colours if red] == []
    dim = [(address, light / of_light) for address, of_light, light, *_ in colours if light <= 0.5 * of_light]
    assert dim == [], "the count can tell"
