"""A process as it is done tonight: steps left out, done twice, or given another time, without a change to the process itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from obverse.foundation import InputError
from obverse.process import Process, Step


def tonight(
    process: Process,
    *,
    without: Sequence[str] = (),
    again: Sequence[str] = (),
    times_min: Mapping[str, float] | None = None,
) -> Process:
    """The process with what a person changes for one evening.

    Parameters
    ----------
    without : sequence of str
        Keys of steps that are left out.
    again : sequence of str
        Keys of steps that are done once more, right after themselves, in the same bath.
    times_min : mapping of str to float, optional
        Minutes by key of the step, where they are others tonight.

    Raises
    ------
    InputError
        For a step that the process does not have, or where no step would be left.
    """
    times = dict(times_min or {})
    known = {step.key for step in process.steps}
    for where, keys in (("without", without), ("again", again), ("times", times)):
        for key in keys:
            if key not in known:
                raise InputError(
                    f"the process has no step {key!r}",
                    where=where,
                    remedy="name one of " + ", ".join(step.key for step in process.steps),
                )
    left = [step for step in process.steps if step.key not in without]
    if not any(step.formula for step in left):
        raise InputError("no bath would be left", where="without", remedy="leave a step with a bath in")
    staying = {step.key for step in left}
    steps: list[Step] = []
    for step in left:
        if step.key in times:
            most = step.time_most_min
            stays = step.until and most is not None and most > times[step.key]
            step = step.model_copy(update={"time_min": times[step.key], "time_most_min": most if stays else None})
        if step.made_during and step.made_during not in staying:
            # What was mixed while that step worked is mixed at the last moment now.
            step = step.model_copy(update={"made": "just_before", "made_during": ""})
        steps.append(step)
        if step.key in again:
            more = {
                "key": _free(f"{step.key}_again", known),
                "name": f"{step.name}, once more",
                "made": "",
                "made_during": "",
            }
            steps.append(step.model_copy(update=more))
    return process.model_copy(update={"steps": tuple(steps)})


def _free(key: str, taken: set[str]) -> str:
    return key if key not in taken else _free(f"{key}_again", taken)
