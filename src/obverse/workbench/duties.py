"""What must be done before anything else: used baths that have to be destroyed."""

from __future__ import annotations

from obverse.foundation import InputError
from obverse.workbench.care import Care
from obverse.workbench.duty import Duty, duty
from obverse.workbench.sink import Sink


def duties_of(care: Care, sink: Sink) -> tuple[Duty, ...]:
    """Every used bath that must be destroyed, of evenings that go on and of the shelf, the oldest clock first; never cut off."""
    try:
        baths = care.used_that_must_go()
    except InputError as error:
        # Better a sentence than a page without its duties.
        return (Duty("Look after your used baths", error.sentence, "/shelf/care"),)
    found = list(sink.duties())
    now_s = care.now().timestamp()
    for view in sorted(baths, key=lambda view: view.clock_started.timestamp() if view.clock_started else 0.0):
        href = f"/shelf/care/baths/{view.id}/destroy"
        if view.clock_started is None or view.residue is None:
            found.append(
                Duty(
                    f"Destroy {view.bottle.name}",
                    "Nobody knows since when it stands. It must not stand.",
                    href,
                    overdue=True,
                )
            )
            continue
        run, _, _ = view.bottle.passes[-1].run.partition("/")
        taken = sink.taken(run, view.formula.key) if run else ""
        by_s = view.clock_started.timestamp() + 60 * view.residue.deadline_min
        found.append(duty(view.bottle.name, href, by_s, now_s, taken, run, view.formula.key))
    return tuple(found)
