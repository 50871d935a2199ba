"""The example of a client runs against a house that is served, with a token of its own; a refusal is one sentence."""

import os
import re
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from obverse.web.tokens import Tokens

CLIENT = Path(__file__).parents[2] / "examples" / "interface" / "client.py"


@pytest.fixture
def address(tmp_path):
    environment = {**os.environ, "OBVERSE_HOME": str(tmp_path), "PYTHONUNBUFFERED": "1"}
    house = subprocess.Popen(
        [sys.executable, "-m", "obverse", "serve", "--port", "0"],
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    told = ""
    for line in house.stdout:
        told += line
        if found := re.search(r"http://127\.0\.0\.1:\d+", line):
            yield found[0]
            break
    else:
        pytest.fail(told)
    house.terminate()
    house.wait(timeout=60)
    house.stdout.close()


def run(address, token):
    return subprocess.run(
        [sys.executable, "-W", "error", CLIENT, address],
        env={**os.environ, "OBVERSE_TOKEN": token},
        capture_output=True,
        text=True,
        timeout=300,
    )


def test_the_client_writes_a_strip_down_and_is_told_the_next(address, tmp_path):
    tokens = Tokens(tmp_path / "tokens.json", lambda: datetime.now(UTC))
    tokens.make("example", "write", "obverse_of-the-test")
    tokens.make("reader", "read", "obverse_reads-only")
    told = run(address, "obverse_of-the-test")
    assert told.returncode == 0, told.stderr
    assert re.match(r"strip 1 is written down\. Next: .*min.*, in the aim with \d+%\.\n", told.stdout), told.stdout
    refused = run(address, "obverse_reads-only")
    assert refused.returncode == 2 and "may only read" in refused.stderr and refused.stderr.endswith("(denied)\n")
    assert run(address, "obverse_wrong").stderr.endswith("(unknown_token)\n")
