"""The command: every part has help with an example, every failure is one sentence."""

import json
import re

import pytest
import typer

from obverse.cli.main import build, run


def commands() -> list[list[str]]:
    found = []

    def walk(command, path):
        if path:
            found.append(path)
        for name, child in getattr(command, "commands", {}).items():
            walk(child, [*path, name])

    walk(typer.main.get_command(build()), [])
    return found


@pytest.mark.parametrize("path", commands(), ids=" ".join)
def test_every_command_has_help_with_an_example(path, capsys):
    assert run([*path, "--help"]) == 0
    told = capsys.readouterr().out
    assert re.search(rf"Examples?:\s+obverse {re.escape(' '.join(path))}\b", " ".join(told.split())), told


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
