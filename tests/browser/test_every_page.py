"""Every page of the demo, at a small phone and a laptop: nothing sideways, nothing too small for a finger, nothing that axe finds, nothing beyond red in the red look."""

import re
from collections import Counter

from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Error

from .conftest import HEIGHT, LAPTOP, PICTURES, findings_of_axe, overflow
from .test_red_look import beyond_red

# No rule of a style sheet lies between this and a larger phone: what fits here, and is in order here, is so there.
SMALL = 320
# Figures draw themselves anew once they see their new size: in the frame after it, or in the next.
DRAWN_ANEW = """() => new Promise((drawn) =>
  requestAnimationFrame(() => requestAnimationFrame(() => requestAnimationFrame(drawn))))"""
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


# Of pages of one make, which differ by what they tell and not in what stands where, so many are looked at.
OF_ONE_MAKE = {
    r"/help/.+": 2,
    r"/notebook/teaching-film-\w": 1,
    r"/notebook/recipes/.+": 1,
    r"/shelf/products/\w+": 1,
    r"/shelf/bottles/\w+": 1,
    r"/shelf/care/routes/\w+": 1,
    r"/bench/processes/\w+": 1,
    r"/sink/[0-9a-f]{16}": 1,
}
PLACES = {"/", "/shelf", "/shelf/care", "/bench", "/sink", "/light-table", "/notebook", "/projector"}
# Looked at by axe at the laptop too: what is laid out otherwise there.
WIDE = re.compile(
    r"/|/shelf(/care|/substances)?|/(shelf/(products|bottles|care/routes)|notebook/recipes)/.+|/bench(/sheet|/adapt|/formula)?"
    r"|/sink(/[0-9a-f]{16})?|/light-table(/picture)?|/notebook(/recipes|/teaching-film-a)?|/projector(/slides)?"
)


def addresses(page, house, visit=lambda address: None) -> list[str]:
    """Every page that can be reached by links from the start, few of one make.

    `visit` is called while each is shown.
    """
    queue = [
        "/",
        "/sink/plan?route=iron_ammonia_light",
        "/bench/sheet?formula=first_developer&volume_ml=500",
        "/nowhere",
    ]
    # Of the documents one with pictures of the pages and one with wide tables.
    queue += ["/help/places", "/help/faults-from-the-curve"]
    seen, makes = [], Counter()
    while queue:
        address = queue.pop(0)
        path = address.split("?")[0]
        make = next((make for make in OF_ONE_MAKE if re.fullmatch(make, path)), path)
        if address in seen or makes[make] >= OF_ONE_MAKE.get(make, 1):
            continue
        makes[make] += 1
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


def test_every_page(demo_house, page_at, picture_of):
    """One walk for all that is asked of every page: each costs a loading of all of them."""
    page = page_at(LAPTOP)
    page.add_init_script(AXE_SCRIPT)
    page.expected_errors += ["404", "Failed to load resource"]
    wrong, colours = [], []

    def measured(address: str, width: int) -> None:
        at = f"{address} at {width}"
        wrong.extend(f"{at}: {one}" for one in page.evaluate(TOO_SMALL, TARGET_PX))
        if (too_wide := overflow(page)) > 0:
            wrong.append(f"{at}: {too_wide} px too wide")
        path = address.split("?")[0]
        if width == SMALL or WIDE.fullmatch(path):
            wrong.extend(f"{at}: {one}" for one in findings_of_axe(page))
            picture_of(page, "demo" + path.replace("/", "-").rstrip("-"))

    def visit(address: str) -> None:
        page.wait_for_load_state("networkidle")
        said, headings = page.evaluate("""() => [
          document.querySelector('.invented').checkVisibility() && document.querySelector('.invented').textContent.trim().replace(/\\s+/g, ' '),
          document.querySelectorAll('h1').length]""")
        if not said or "Films, products and measurements shown here are invented." not in said:
            wrong.append(f"{address}: it is not said that all is invented")
        if headings != 1:
            wrong.append(f"{address}: {headings} headings of the page")
        page.evaluate("for (const box of document.querySelectorAll('details')) box.open = true")
        measured(address, LAPTOP)
        page.set_viewport_size({"width": SMALL, "height": HEIGHT[LAPTOP]})
        page.evaluate(DRAWN_ANEW)
        measured(address, SMALL)
        if not colours:
            # That the count can tell.
            light, of_light = beyond_red(page)
            assert light > 0.5 * of_light
        page.evaluate("document.documentElement.setAttribute('data-dark', '')")
        colours.append((address, *beyond_red(page)))
        # What is left need not be laid out once more.
        page.evaluate("document.documentElement.style.display = 'none'")
        page.set_viewport_size({"width": LAPTOP, "height": HEIGHT[LAPTOP]})

    every = addresses(page, demo_house, visit)
    PICTURES.mkdir(exist_ok=True)
    (PICTURES / "red.txt").write_text(
        "\n".join(f"{address[:58]:60} beyond red: {red:3} of {of_red:8} pixels" for address, red, of_red in colours)
    )
    assert len(every) >= 35, every
    assert {path for path in (address.split("?")[0] for address in every) if WIDE.fullmatch(path)} >= PLACES
    assert wrong == [], "\n".join(wrong)
    assert [(address, red) for address, red, _ in colours if red] == []
