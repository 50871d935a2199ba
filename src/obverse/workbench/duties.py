"""What must be done before anything else: used baths that have to be destroyed."""

from __future__ import annotations

from obverse.foundation import InputError
from obverse.workbench.care import Care
from obverse.workbench.start import Duty


def duties_of(care: Care) -> tuple[Duty, ...]:
    """Every used bath that must be destroyed, the oldest clock first; never cut off."""
    try:
        baths = care.baths()
    except InputError as error:
        # Better a sentence than a page without its duties.
        return (Duty("Look after your used baths", error.sentence, "/shelf/care"),)
    standing = [view for view in baths if view.residue is not None and view.bottle.passes]
    standing.sort(key=lambda view: view.clock_started.timestamp() if view.clock_started else 0.0)
    return tuple(
        Duty(
            f"Destroy {view.bottle.name}",
            next((c.text for c in view.cautions if c.code.startswith("destroy.")), "It must not stand."),
            f"/shelf/care/baths/{view.id}/destroy",
        )
        for view in standing
    )
