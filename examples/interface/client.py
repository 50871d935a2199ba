"""A script over the HTTP interface: begin a film, write a strip down, ask for the next one. Nothing but the standard library.

Make a token that may write at /tokens of a house that is open (`obverse serve`), then run

    OBVERSE_TOKEN=obverse_... python examples/interface/client.py http://127.0.0.1:8137
"""

from __future__ import annotations

import json
import os
import sys
import urllib.error
import urllib.request
import uuid
from typing import Any

# An invented strip: log exposure against the metered mid-tone, and density with the base in it.
STRIP = [
    (-1.5, 2.58),
    (-0.9, 2.41),
    (-0.6, 2.12),
    (-0.3, 1.74),
    (0.0, 1.31),
    (0.3, 0.88),
    (0.6, 0.58),
    (0.9, 0.44),
    (1.5, 0.38),
]


class Problem(Exception):
    """A refusal of the house: its sentence, and all it said."""

    def __init__(self, document: dict[str, Any]):
        super().__init__(document["detail"])
        self.document = document


class House:
    """A house that is open at an address, asked with a token."""

    def __init__(self, address: str, token: str):
        self.address = address.rstrip("/")
        self.token = token

    def ask(self, method: str, path: str, body: Any = None) -> Any:
        """Ask, or send `body` as JSON; what was answered. Raises Problem."""
        request = urllib.request.Request(self.address + path, method=method)
        request.add_header("Authorization", f"Bearer {self.token}")
        request.add_header("Accept", "application/json")
        data = None
        if body is not None:
            data = json.dumps(body).encode()
            request.add_header("Content-Type", "application/json")
            # Sent again under the same key after a lost answer, it is kept once.
            request.add_header("Idempotency-Key", uuid.uuid4().hex)
        try:
            with urllib.request.urlopen(request, data) as answer:
                return json.load(answer)
        except urllib.error.HTTPError as error:
            raise Problem(json.load(error)) from None


def main() -> int:
    """Begin a film, write a strip down, say which one to try next."""
    house = House(sys.argv[1], os.environ["OBVERSE_TOKEN"])
    try:
        film = house.ask(
            "POST", "/api/notebook/films", {"stock": {"name": "Grey-base film", "box_speed": 100, "base_density": 0.27}}
        )["id"]
        trial = house.ask(
            "POST",
            f"/api/notebook/films/{film}/trials",
            {
                "controls": {"first_developer_time_min": 10, "solvent_ml_per_l": 8},
                "steps": [{"log_exposure": x, "density": density} for x, density in STRIP],
            },
        )
        answer = house.ask("GET", f"/api/notebook/films/{film}/next")
    except Problem as problem:
        print(f"{problem} ({problem.document['code']})", file=sys.stderr)
        return 2
    best = answer["suggestions"][0]
    print(
        f"{trial['name']} is written down. Next: {best['controls_text']}, in the aim with {best['probability_in_aim']:.0%}."
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
