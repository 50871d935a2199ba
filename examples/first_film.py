"""A film from its first strip to a recipe, without any page: what the notebook does, in a few lines.

The film is invented: `simulate_trial` stands for an evening at the sink and a reading at the light table. Run it with

    python examples/first_film.py
"""

from __future__ import annotations

from obverse.inference import next_strips
from obverse.mixing import with_controls
from obverse.model import demo_film, simulate_trial
from obverse.process import CONTROLS, Series, read_series
from obverse.process.catalog import formulas

# An evening costs an evening: after so many strips this example stops.
MOST_STRIPS = 6
VARIED = ("first_developer_time_min", "solvent_ml_per_l", "alkali_ml_per_l")


def main() -> None:
    """Make strips until one is good, then say what it was and how its first developer is mixed."""
    film = demo_film()
    series: Series = read_series(
        {
            "format": "obverse-series",
            "version": 1,
            "film": {"name": film.name, "box_speed": film.box_speed, "base_density": film.base_density},
            "controls": {name: CONTROLS[name].range.model_dump() for name in VARIED},
            "aim": "projection",
            "trials": [],
        }
    )
    for count in range(1, MOST_STRIPS + 1):
        proposal = next_strips(series).suggestions[0]
        chance = proposal.probability_in_aim
        print(f"Strip {count}: {CONTROLS.text(proposal.controls)}; in the aim with probability {chance:.0%}")
        strip = simulate_trial(film, proposal.controls, id=f"strip {count}", seed=count)
        series = series.model_copy(update={"trials": (*series.trials, strip)})
        best = next_strips(series).best_trial
        if best is not None and best.in_aim:
            controls = next(trial.controls for trial in series.trials if trial.id == best.id)
            bath = with_controls(formulas()["first_developer"], controls)
            print(f"{best.id.capitalize()} lies in the aim: {CONTROLS.text(controls)}")
            print(
                "Its first developer:", ", ".join(f"{part.substance} {part.concentration}" for part in bath.components)
            )
            return
    print(f"No strip of {MOST_STRIPS} lies in the aim; widen the aim or vary another control.")


if __name__ == "__main__":
    main()
