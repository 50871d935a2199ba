"""Touches at the sink, each made when the page would take it: never after a time that a slow machine needs longer for."""

from .conftest import wait_until

PATIENCE_S = 30.0


def until_it_heeds(page) -> None:
    """Read to the end what must be read, and wait until the page of the sink would take a touch as meant for what it shows."""
    wait_until(
        lambda: page.evaluate(
            "document.getElementById('stage')?.scrollTo(0, 1e6), Boolean(window.obverseSink?.heeds())"
        ),
        PATIENCE_S,
        "the page heeds no touch",
    )
