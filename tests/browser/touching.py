"""Touches at the sink, each made when the page would take it: never after a time that a slow machine needs longer for."""

from .conftest import wait_until

# Looked for in the page itself: asked from outside, each look costs what the page does with a touch.
LOOKED_FOR_EVERY_MS = 50


def _in_the_page(page, what: str) -> None:
    page.wait_for_function(
        f"() => (document.getElementById('stage')?.scrollTo(0, 1e6), Boolean(window.obverseSink?.{what}()))",
        polling=LOOKED_FOR_EVERY_MS,
    )


def until_it_heeds(page) -> None:
    """Read to the end what must be read, and wait until the page of the sink would take a touch as meant for what it shows."""
    _in_the_page(page, "heeds")


def until_it_counts(page) -> None:
    """As `until_it_heeds`, and wait until by the page's own clock a touch would move the evening on.

    The page's clock may lag behind the house's by the half of a slow answer, which is many seconds of a hurried evening.
    """
    _in_the_page(page, "counts")


def until_it_is_sent(page) -> None:
    """Wait until no touch is on its way to the house; a page that goes away, as at the end of an evening, holds none."""
    page.wait_for_function("() => !window.obverseSink?.waiting()", polling=LOOKED_FOR_EVERY_MS)


def until_it_is_settled(page) -> None:
    """Wait until a touch would no longer be taken for a bounce of the one before; nothing is read or scrolled."""
    wait_until(lambda: page.evaluate("Boolean(window.obverseSink?.settled())"), message="the page never settles")


def hold(page, key: str = " ") -> None:
    """Hold a key in the dark until the page has answered that it counts it, or that it does not."""
    until_it_is_settled(page)
    answers = page.evaluate("obverseSink.answers().length")
    page.keyboard.down(key)
    # The first answer only says that the touch is felt.
    wait_until(
        lambda: page.evaluate("obverseSink.answers().length") >= answers + 2, message="the hold was not answered"
    )
    page.keyboard.up(key)
