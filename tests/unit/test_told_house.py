"""When the house would do otherwise, rule by rule: each asked by itself with steps on both sides of its limit."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from obverse.foundation import Level
from obverse.mixing import SaidBath
from obverse.process import Formula, Process, Rinse, Step
from obverse.process.catalog import formulas
from obverse.reference import number, record
from obverse.workbench import house_opinion as house
from tests.told_kept import told_as_kept
from tests.unit.test_told_everything import plain

EVERY = formulas()
FIVE_TEN = Rinse(fills=(5, 10))
OF_KIND = {
    "develop": "first_developer", "bleach": "bleach_iron_chloride", "dissolve": "ammonia_bath", "clear": "clearing_metabisulfite", "fog": "fogging_dithionite",
    "redevelop": "second_developer", "fix": "fixer_rapid",
}  # fmt: skip


def step(kind: str, formula: str | None = "", **more: Any) -> Step:
    """A step of that kind with its usual bath, in the name of it."""
    bath = OF_KIND.get(kind) if formula == "" else formula
    return Step(**{"key": kind, "name": kind.capitalize(), "kind": kind, "formula": bath, "time_min": 5.0, **more})


def way(*steps: Step, **more: Any) -> Process:
    keys: dict[str, int] = {}
    told = []
    for one in steps:
        keys[one.key] = keys.get(one.key, 0) + 1
        told.append(one if keys[one.key] == 1 else one.model_copy(update={"key": f"{one.key}_{keys[one.key]}"}))
    return Process(key="own_way", name="Own way", steps=tuple(told), **more)


def bath(key: str, role: str = "clearing", **grams: float) -> Formula:
    components = [{"substance": name, "concentration": f"{g} g/L"} for name, g in grams.items()]
    return Formula.model_validate({"key": key, "name": key, "role": role, "components": components})


def said(stories: Any) -> list[Any]:
    return [[type(one).__name__, plain(one)] for one in stories]


def readings() -> dict[str, Any]:
    """What was made of a bath as said, and of a person's own words."""
    found = dict[str, Any]()
    for name, fields in {
        "whole": {}, "vague": {"vague": ("a pinch as 0.4 g",)}, "unread": {"unread": ("brew",), "taken": (("a", "b"),)}, "nameless": {"unread": ("",)}, "nameless and named": {"unread": ("", "goo")},
        "taken": {"taken": (("Salt", "salt"), ("etchant", "iron"))}, "taken alike": {"taken": (("Salt", "SALT"),)}, "taken alike, supposed": {"taken": (("Salt", "SALT"),), "supposed": "1+4"},
        "only supposed": {"supposed": "1+4"}, "vague and taken": {"vague": ("x",), "taken": (("a", "b"),)},
    }.items():  # fmt: skip
        read: Any = SimpleNamespace(**{"vague": (), "unread": (), "taken": (), "supposed": "", **fields})
        found[name] = [said(house._unread(read, formula)) for formula in (None, EVERY["fixer_rapid"])][
            : 2 if "unread" in name else 1
        ]
    found["nothing read"] = said(house._unread(None, None))
    lone = step("fix", said={"time": "a while"}, time_min=4.0)
    found["own words"] = [said(house._as_put(way(one), one)) for one in (lone, step("fix"))]
    return found


def poured() -> dict[str, Any]:
    found = dict[str, Any]()
    for key in (
        "bleach_dichromate",
        "ammonia_bath",
        "bleach_iron_chloride",
        "fixer_rapid",
        "fogging_dithionite",
        "bleach_permanganate",
    ):
        for after in ("discard", "waste"):
            one = step("bleach", key, after_use=after)
            found[f"{key}, {after}"] = said(house._poured_away(way(step("develop"), one), one, EVERY[key]))
    one = step("other", None, mix="brew")
    return {**found, "nothing known": said(house._poured_away(way(one), one, None))}


def developers() -> dict[str, Any]:
    """Solvent and alkali of a first developer: none, another, at and beside each limit."""
    found = dict[str, Any]()
    usual = EVERY["first_developer"]
    start = {word: number(f"process.start.{word}_ml_per_l") for word in ("solvent", "alkali")}
    most = {word: number(f"process.start.{word}_most_ml_per_l") for word in ("solvent", "alkali")}
    found["limits"] = [start, most]

    def asked(controls: dict[str, float], formula: Formula = usual, tank_ml: float | None = None, **more: Any) -> Any:
        one = step("develop", formula.key, **more)
        with pytest.MonkeyPatch.context() as mine:
            mine.setattr(house, "starting_controls", lambda formula: controls)
            return said(house._first_developer(way(one, tank_ml=tank_ml), one, formula))

    both = {"solvent_ml_per_l": start["solvent"], "alkali_ml_per_l": start["alkali"]}
    found["both"] = asked(both)
    for word in ("solvent", "alkali"):
        for has in (
            0.0,
            0.01,
            start[word] / 2,
            start[word] / 2.01,
            2 * start[word],
            2.01 * start[word],
            most[word],
            most[word] + 0.1,
        ):
            found[f"{word} {has:.3f}"] = asked({**both, f"{word}_ml_per_l": has})
    plainly = bath("plain_developer", "first_developer", hydroquinone=5.0)
    found["none"] = asked({}, plainly)
    found["none, of a small bath"] = [
        asked({}, plainly, volume_ml=300.0, mix="x"),
        asked({}, plainly, tank_ml=700.0),
        asked({}, plainly, tank_ml=700.0, volume_ml=100.0),
    ]
    found["none, unread"] = asked({}, plainly.model_copy(update={"unread": ("brew",)}))
    for name, grams in {
        "hypo": {"sodium_thiosulfate": 10.0}, "thiocyanate": {"potassium_thiocyanate": 2.0}, "both salts": {"sodium_thiosulfate": 10.0, "potassium_thiocyanate": 2.0},
        "soda": {"sodium_carbonate": 5.0}, "lye and soda": {"sodium_hydroxide": 1.0, "sodium_carbonate": 5.0}, "two of hypo": {"sodium_thiosulfate": 10.0, "ammonium_thiosulfate": 3.0}, "salt": {"sodium_chloride": 5.0},
    }.items():  # fmt: skip
        found[f"others: {name}"] = asked({}, bath("plain_developer", "first_developer", **grams))
    second = step("redevelop", "first_developer")
    found["no first development"] = [
        said(house._first_developer(way(step("develop"), second), second, usual)), said(house._first_developer(way(second), second, None)),
        said(house._first_developer(way(step("develop", "fixer_rapid")), step("develop", "fixer_rapid"), EVERY["fixer_rapid"])),
    ]  # fmt: skip
    return found


def times() -> dict[str, Any]:
    found = dict[str, Any]()
    records = {
        "bleach": "iron_bleach",
        "dissolve": "ammonia",
        "clear": "clearing",
        "fog": "fogging",
        "fix": "fixing",
        "redevelop": "second_developer",
    }

    def asked(kind: str, before: tuple[Step, ...] = (), formula: str = "", **more: Any) -> Any:
        one = step(kind, formula, key="now", **more)
        return said(house._time(way(*before, one), one, EVERY))

    for kind, name in records.items():
        usual = number(f"process.{name}_min")
        for share in (0.65, 0.67, 1.33, 1.35):
            found[f"{kind} {share}"] = asked(kind, time_min=usual * share)
    far = 60.0
    found["other baths"] = {f"{kind} of {key}": asked(kind, formula=key, time_min=far) for kind, key in (("bleach", "bleach_permanganate"), ("bleach", "ammonia_bath"), ("dissolve", "fixer_rapid"), ("fog", "second_developer"), ("stop", "stop_citric"), ("develop", "first_developer"))}  # fmt: skip
    found["until, no time"] = [asked("fix", time_min=far, until="clear"), asked("fix", time_min=0.0)]
    peroxide, iron = step("bleach", "bleach_peroxide_acid"), step("bleach")
    for name, before in {"nothing": (), "peroxide": (peroxide,), "iron": (iron,), "both": (peroxide, iron), "a brew": (step("bleach", None, mix="brew"),), "peroxide, cleared": (peroxide, step("clear")), "peroxide, fixed": (peroxide, step("fix"))}.items():  # fmt: skip
        found[f"a clearing after {name}"] = [asked("clear", before, time_min=time_min) for time_min in (far, 0.0)]
    return found


def sufficing() -> dict[str, Any]:
    found = dict[str, Any]()
    for key in (
        "bleach_iron_chloride",
        "bleach_permanganate",
        "bleach_peroxide_acid",
        "ammonia_bath",
        "fixer_rapid",
        "fogging_dithionite",
        "clearing_metabisulfite",
        "wetting_bath",
        "stop_citric",
    ):
        kind = next((kind for kind, usual in OF_KIND.items() if usual == key), "bleach" if "bleach" in key else "other")
        formula = EVERY[key]
        found[key] = [
            said(house._suffices(step(kind, key), formula, 500.0)), said(house._suffices(step(kind, key, volume_ml=100.0), formula, 500.0)),
            said(house._suffices(step(kind, key, mix="x"), formula.model_copy(update={"unread": ("brew", "goo")}), 500.0)),
        ]  # fmt: skip
    for kind in ("bleach", "dissolve", "clear", "fog", "redevelop", "fix", "develop", "wet"):
        found[f"unknown {kind}"] = [
            said(house._suffices(step(kind, None, mix=mix), None, 500.0)) for mix in ("brew", "")
        ]
    found["no dithionite in a fog"] = said(
        house._suffices(step("fog", "second_developer"), EVERY["second_developer"], 500.0)
    )
    found["dithionite in no fog"] = said(
        house._suffices(step("clear", "fogging_dithionite"), EVERY["fogging_dithionite"], 500.0)
    )
    early = EVERY["fogging_dithionite"]
    least = early.use_within_min or 0.0
    for name, made in {
        "just before": {"made": "just_before"},
        "ahead": {"made": "ahead"},
        "during": {"made": "during", "made_during": "bleach"},
        "as planned": {},
    }.items():
        for spare in (0.0, 0.1):
            steps = (
                step("develop", time_min=least - 6),
                step("bleach", time_min=1.0),
                step("fog", time_min=5.0 + spare, **made),
            )
            found[f"made {name}, {spare} min more"] = [said(house._made_early(way(*steps), 2, early))]
    long = (
        step("develop", time_min=1.0),
        step("bleach", time_min=least - 5.0),
        step("fog", time_min=5.1, made="during", made_during="bleach"),
    )
    found["made during, too early"] = [
        said(house._made_early(way(*long), 2, one)) for one in (early, None, EVERY["fixer_rapid"])
    ]
    found["volumes"] = [
        said(house._volume(step("fix", **more), 500.0))
        for more in ({}, {"volume_ml": 449.0}, {"volume_ml": 450.0}, {"volume_ml": 449.0, "formula": None})
    ]
    return found


def rinses() -> dict[str, Any]:
    """What the water between two baths leaves: by fills, by steps of their own, by running water, by what is carried."""
    found = dict[str, Any]()
    clean = {"carry_over_ml": 200.0}

    def asked(*steps: Step, tank_ml: float = 500.0, at: int = 0) -> Any:
        return said(house._rinse(way(*steps), at, EVERY, tank_ml))

    fix = step("fix")
    found["most"] = [number("process.rinse_leaves_most"), record("wash.retained").value]
    for fills in range(6):
        found[f"{fills} fills"] = asked(step("bleach", rinse_after=Rinse(fills=(5,) * fills), **clean), fix)
        found[f"{fills} fills as usual"] = asked(step("bleach", rinse_after=Rinse(fills=(5,) * fills)), fix)
    found["no rinse"] = asked(step("bleach"), fix)
    found["small fills"] = asked(step("bleach", rinse_after=Rinse(fills=(5, 5), fill_volume_ml=100.0)), fix)
    found["running"] = [
        asked(step("bleach", rinse_after=Rinse(fills=(), running_water_min=m), **clean), fix)
        for m in (0.1, 0.4, 1.0, 2.0, 5.0)
    ]
    for kind, more in (
        ("rinse", {}),
        ("wash", {}),
        ("other", {}),
        ("stop", {}),
        ("rinse", {"rinse_after": FIVE_TEN}),
        ("rinse", {"rinse_after": FIVE_TEN, "formula": "stop_citric"}),
        ("other", {"mix": "brew"}),
    ):
        between = step(kind, None, key="between").model_copy(update=more)
        found[f"{kind} {sorted(more)} between"] = asked(step("bleach", **clean), between, fix)
    found["two between"] = asked(
        step("bleach", **clean), step("rinse", None), step("wash", None, rinse_after=Rinse(fills=(1, 1))), fix
    )
    found["nothing after"] = [asked(step("bleach", **clean)), asked(step("bleach", **clean), step("dry", None))]
    found["unknown"] = [
        asked(step("bleach", None, mix="brew"), fix),
        asked(step("bleach", **clean), step("fix", None, mix="brew")),
        asked(step("rinse", "stop_citric"), fix),
    ]
    found["later"] = asked(fix, step("bleach", **clean), step("dry", None), step("redevelop"), at=1)
    found["small tank"] = asked(step("bleach", rinse_after=FIVE_TEN, **clean), fix, tank_ml=100.0)
    acid = Rinse(fills=(5,), acidified=True)
    iron, ammonia, water = step("bleach"), step("dissolve"), step("rinse", None)
    for name, steps in {
        "at once": (iron, ammonia), "acid": (step("bleach", rinse_after=acid), ammonia), "acid in a step": (iron, step("rinse", None, rinse_after=acid), ammonia), "acid in the second": (iron, water, step("wash", None, rinse_after=acid), ammonia),
        "water": (iron, step("rinse", None, rinse_after=FIVE_TEN), ammonia), "acid after": (iron, step("dissolve", rinse_after=acid)), "another between": (iron, step("clear"), ammonia), "a brew between": (iron, step("other", None, mix="brew"), ammonia),
        "permanganate": (step("bleach", "bleach_permanganate"), ammonia), "in the light": (step("bleach", light="light"), ammonia), "nothing": (iron,),
    }.items():  # fmt: skip
        found[f"iron to ammonia, {name}"] = said(house._iron_to_ammonia(way(*steps), 0, EVERY))
    found["acid before"] = said(
        house._iron_to_ammonia(way(step("stop", "stop_citric", rinse_after=acid), iron, ammonia), 1, EVERY)
    )
    return found


def halves() -> dict[str, Any]:
    """Clearing, fogging, light: what must come before and after."""
    found = dict[str, Any]()
    bleach, clear, fog = step("bleach"), step("clear"), step("fog")
    for name, (steps, at) in {
        "no clearing": ((bleach, fog), 1), "cleared": ((bleach, clear, fog), 2), "nothing bleached": ((step("develop"), fog), 1), "another fog": ((bleach, step("fog", "second_developer")), 1),
        "clear before dithionite": ((bleach, clear, fog), 1), "clear before another": ((bleach, clear, step("fog", "second_developer")), 1), "clear before fixer": ((clear, step("fix")), 0), "water between": ((clear, step("wash", None), fog), 0),
        "clear last": ((bleach, clear), 1), "a brew between": ((clear, step("other", None, mix="brew"), fog), 0), "clear, then bleach": ((clear, bleach, fog), 0), "fixer before fog": ((step("fix"), fog), 0),
    }.items():  # fmt: skip
        found[name] = said(house._clearing(way(*steps), at, EVERY))
    light, again = step("reexpose", None), step("redevelop")
    for name, (steps, at) in {
        "bleach alone": ((bleach,), 0), "bleach, fog": ((bleach, fog), 0), "bleach, light": ((bleach, light), 0), "bleach, second developer": ((bleach, again), 0), "two bleaches": ((bleach, bleach), 0), "the second of them": ((bleach, bleach), 1),
        "light alone": ((light,), 0), "light, developer": ((light, again), 0), "developer, light": ((again, light), 1), "fog before": ((fog, bleach), 1), "light, fog": ((light, fog), 0), "fixer": ((step("fix"),), 0),
    }.items():  # fmt: skip
        found[f"half: {name}"] = said(house._fog_and_light(way(*steps), at))
    for words in (
        "60 W 1 m", "60 W at 1,5 m", "60W at 40 cm", "100 W 3 ft on its reel", "100 W 3 ft off the reel", "100 W 3 ft off its spiral", "100 W 1 m, one sheet on a reel", "100 W 1 m plate", "100 W 1 m stretched",
        "100 W 1 m spiral", "8 W LED 1 m", "8 W led 1 m", "60 W", "1 m", "60 Watt 1 m", "60 W 1 mile", "7.5 W 10 cm", "60 W 1 m sled",
    ):  # fmt: skip
        found[f"lamp {words}"] = [
            said(house._lamp(step("reexpose", None, name="Light", note=words))), said(house._lamp(step("reexpose", None, name=words, time_min=2.0))),
        ][: 2 if words == "60 W 1 m" else 1]  # fmt: skip
    found["no lamp"] = [
        said(house._lamp(step("reexpose", None, note="60 W 1 m", time_min=0.0))),
        said(house._lamp(step("wash", None, note="60 W 1 m"))),
    ]
    return found


def reckoned() -> dict[str, Any]:
    """Sulfite against what is carried from the bleach; water against fixer."""
    found = dict[str, Any]()
    clear, fix = step("clear"), step("fix")
    every = EVERY | {
        "two_sulfites": bath("two_sulfites", sodium_metabisulfite=3.0, sodium_sulfite=4.0), "no_sulfite": bath("no_sulfite", sodium_chloride=4.0),
        "hard_fixer": bath("hard_fixer", "fixer", ammonium_thiosulfate=100.0, potassium_alum=10.0), "brewed": EVERY["clearing_metabisulfite"].model_copy(update={"unread": ("brew", "goo")}),
    }  # fmt: skip

    def cleared(*steps: Step, at: int = -1, tank_ml: float = 500.0) -> Any:
        process = way(*steps)
        return said(house._clears(process, at % len(steps), every, tank_ml))

    def bleach(key: str = "", **more: Any) -> Step:
        return step("bleach", f"bleach_{key}" if key else "", **more)

    for name, steps in {
        "iron": (bleach(), clear), "iron, carried": (bleach(carry_over_ml=100.0), clear), "rinsed": (bleach(rinse_after=FIVE_TEN), clear), "rinsed later": (bleach(), step("wash", None, rinse_after=FIVE_TEN), clear),
        "permanganate": (bleach("permanganate"), clear), "dichromate": (bleach("dichromate"), clear), "peroxide": (bleach("peroxide_acid"), clear), "two": (bleach(), bleach("permanganate", name="Second"), clear),
        "cleared before": (bleach(), clear, bleach("dichromate"), clear), "fixed before": (bleach("dichromate"), fix, clear), "nothing": (step("develop"), clear), "no bleach": (step("other", "bleach_permanganate"), clear),
        "two sulfites": (bleach(), step("clear", "two_sulfites")), "none": (bleach(), step("clear", "no_sulfite")), "a brew": (bleach(), step("clear", "brewed")), "unknown": (bleach(), step("clear", None, mix="x")),
        "little": (bleach(), step("clear", volume_ml=100.0)), "no clearing": (bleach(), fix), "a brew before": (step("bleach", None, mix="x"), bleach(), clear),
    }.items():  # fmt: skip
        found[f"sulfite, {name}"] = cleared(*steps)
    found["sulfite, a large tank"] = cleared(bleach(rinse_after=FIVE_TEN), clear, tank_ml=1000.0)

    def washed(*steps: Step, at: int = 0, tank_ml: float = 500.0) -> Any:
        return said(house._washed(way(*steps), at, every, tank_ml))

    def rinsed(*fills: int, minutes: float = 0.0, **more: Any) -> Step:
        return step("fix", rinse_after=Rinse(fills=fills, running_water_min=minutes), **more)

    for name, steps in {
        "none": (fix,), "one": (rinsed(5),), "many": (rinsed(5, 10, 20, 20),), "running": (rinsed(minutes=10.0),), "a step more": (rinsed(5, minutes=1.2), step("wash", None, rinse_after=Rinse(fills=(5, 5), running_water_min=0.5))),
        "an aid": (rinsed(5), step("other", "wash_aid_sulfite", rinse_after=FIVE_TEN)), "no aid": (rinsed(5), step("other", "stop_citric", rinse_after=FIVE_TEN)), "a hardener": (step("fix", "hard_fixer", rinse_after=FIVE_TEN),),
        "a hardening name": (rinsed(5, name="Hardening, harden well"),), "hardening words": (rinsed(5, mix="fixer with hardener"),), "carried": (rinsed(5, carry_over_ml=100.0),), "another fixer": (rinsed(5), step("fix", key="fix_2")), "unknown": (step("fix", None, mix="x"),),
    }.items():  # fmt: skip
        found[f"washed, {name}"] = washed(*steps)
    found["washed, later"] = washed(step("bleach", rinse_after=FIVE_TEN), rinsed(5, 5), at=1)
    found["washed, a small tank"] = washed(rinsed(5), tank_ml=250.0)
    return found


def findings() -> dict[str, Any]:
    """What the safety engine finds, at its step: no notes, three at most, nothing where a bath is unknown; and the order of all."""
    found, asked = dict[str, Any](), list[Any]()
    steps = (step("develop"), step("bleach"), step("fix"))

    def told(*given: tuple[str, Level, str]) -> Any:
        def checked(process: Process, known: Any, tank_ml: float, room: Any) -> Any:
            asked.append([tank_ml, room])
            return [SimpleNamespace(where=where, level=level, pair=pair) for where, level, pair in given]

        with pytest.MonkeyPatch.context() as mine:
            mine.setattr(house, "check_route", checked)
            return [
                [one.found.where, one.found.pair, one.place if hasattr(one, "place") else ""]
                for one in house._safety(way(*steps), EVERY, 500.0, None)
            ]

    danger, caution, note = Level.DANGER, Level.CAUTION, Level.NOTE
    found["levels"] = told(("bleach", danger, "a"), ("bleach", caution, "b"), ("bleach", note, "c"))
    found["elsewhere"] = told(("", danger, "a"), ("jug", danger, "b"), ("fix", danger, "unread"))
    found["many"] = told(*(("bleach", danger, str(n)) for n in range(5)), ("fix", danger, "x"))
    found["unknown bath"] = [len(house._safety(way(step("fix", "moon")), EVERY, 500.0, None)), asked]
    with pytest.MonkeyPatch.context() as mine:
        mine.setattr(house, "check_route", lambda process, known, tank_ml, room: asked.append(tank_ml) or [])
        declined = ({"code": "developer.solvent", "reason": "I like it so."}, {"code": "suffices", "reason": "no"})
        every = EVERY | {"plain_developer": bath("plain_developer", "first_developer", hydroquinone=5.0)}
        process = way(
            step("develop", "plain_developer", declined=declined),
            step("bleach", volume_ml=100.0, carry_over_ml=100.0),
            step("fix"),
            tank_ml=600.0,
        )
        read: dict[str, SaidBath] = {}
        told_of = house.opinions(process, every, read)
        found["of a whole"] = [[one.step, one.code, one.declined] for one in told_of]
        found["without a tank"] = [
            [one.step, one.code] for one in house.opinions(process.model_copy(update={"tank_ml": None}), every, read)
        ]
        found["tanks"] = asked[-2:]
    found["in order"] = [
        one.step for one in house._in_order(way(*steps), [SimpleNamespace(step=key) for key in ("", "fix", "moon", "develop", "bleach")])  # type: ignore[list-item, attr-defined]
    ]  # fmt: skip
    return found


@pytest.mark.parametrize(
    "telling", [readings, poured, developers, times, sufficing, rinses, halves, reckoned, findings], ids=lambda telling: telling.__name__
)  # fmt: skip
def test_when_the_house_would_do_otherwise_is_what_was_read(telling):
    assert not told_as_kept(f"house_{telling.__name__}", telling())
