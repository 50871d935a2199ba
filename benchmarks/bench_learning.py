"""Strips until the aim is met, the notebook against its opponents. Sixty films: python -m benchmarks.learning --films 60."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.learning.__main__ import main

if __name__ == "__main__":
    main()
