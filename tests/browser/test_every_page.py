"""Every page of the demo, at a small phone, a phone and a laptop: nothing sideways, nothing too small for a finger."""

from .conftest import LAPTOP, PHONE, overflow
from .test_red_look import addresses

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


def test_fingers_and_small_screens(demo_house, page_at, axe):
    page = page_at(PHONE)
    page.expected_errors += ["404", "Failed to load resource"]
    small, sideways, looked_at = [], [], set()

    def visit(address: str) -> None:
        page.wait_for_load_state("networkidle")
        page.evaluate("for (const box of document.querySelectorAll('details')) box.open = true")
        for width in (SMALL, PHONE, LAPTOP):
            page.set_viewport_size({"width": width, "height": 844})
            small.extend(f"{address} at {width}: {one}" for one in page.evaluate(TOO_SMALL, TARGET_PX))
            if overflow(page) > 0:
                sideways.append(f"{address} at {width}: {overflow(page)} px too wide")
            for part in BY_AXE:
                if address == part or (part.endswith("/") and address.startswith(part)):
                    axe(page)
                    looked_at.add(part)

    assert len(addresses(page, demo_house, visit)) >= 20
    assert looked_at == set(BY_AXE)
    assert sideways == []
    assert small == [], "\n".join(small)
