"""The terminal face: `obverse ...`."""

import os

# Both are read when a library is first loaded, so they stand before what loads it.
# Our matrices are small: threads of the linear algebra library cost twenty times more than they bring on a busy laptop.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# pydantic would ask every package on the computer whether it has something to add; none has for us.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

from obverse.cli.main import main

__all__ = ["main"]
