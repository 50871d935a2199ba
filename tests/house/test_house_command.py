"""The command: every part has help with an example, every failure is one sentence."""

import json
import re

import pytest
import typer

from obverse.cli.idle import IDLE
from obverse.cli.main import build, run


def commands() -> dict[str, typer.core.TyperCommand]:
    found = {}

    def walk(command, path):
        if path:
            found[" ".join(path)] = command
        for name, child in getattr(command, "commands", {}).items():
            walk(child, [*path, name])

    walk(typer.main.get_command(build()), [])
    return found


COMMANDS = commands()


@pytest.mark.parametrize("path", [name.split() for name in COMMANDS], ids=" ".join)
def test_every_command_has_help_with_an_example(path, capsys):
    assert run([*path, "--help"]) == 0
    told = capsys.readouterr().out
    assert re.search(rf"Examples?:\s+obverse {re.escape(' '.join(path))}\b", " ".join(told.split())), told


def test_what_a_help_ties_to_another_option_is_told_where_it_is_typed_without_it():
    """Each rule names parameters there are; each "With --this:" of a help has its rule, or is refused by the command."""
    refused = {"seen.source", "run.as_json", "run.by_itself", "show-list.of_roll", "read.dividers"}
    for name, rules in IDLE.items():
        known = {param.name for param in COMMANDS[name].params}
        assert {one for rule in rules for one in (*rule.parameters, *rule.without, *rule.beside)} <= known, name
    for name, command in COMMANDS.items():
        for param in command.params:
            if re.match("With --", getattr(param, "help", None) or "") and f"{name}.{param.name}" not in refused:
                assert any(param.name in rule.parameters and rule.without for rule in IDLE[name]), (
                    f"{name}: {param.name}"
                )


def test_without_arguments_it_explains_itself(capsys):
    assert run([]) == 0
    assert "Usage: obverse" in capsys.readouterr().out


@pytest.mark.parametrize(
    "kind", ["series", "recipe", "formula", "product", "process", "film", "aim", "trial", "notebook"]
)
def test_schemas_are_json_schemas(kind, capsys):
    assert run(["schema", kind]) == 0
    assert json.loads(capsys.readouterr().out)["type"] == "object"


def test_sources(capsys):
    assert run(["sources"]) == 0
    assert "common practice, no source" in capsys.readouterr().out
