"""Keyed random streams (R16): the same numbers whatever else is planned.

A stream is named by seed, kind, code and date. The name is hashed by BLAKE2b, which does not
depend on process or machine, to the key of Philox, a counter-based generator (Salmon and
others 2011); so no stream follows from another, nor from the order in which they are asked for.
"""

from __future__ import annotations

from datetime import date
from hashlib import blake2b

import numpy as np

_KEY_BYTES = 16  # Philox4x64 takes a key of 128 bits


def stream(seed: int, kind: str, code: str, day: date) -> np.random.Generator:
    """A fresh generator at the start of the stream of that name."""
    name = f"{seed}\0{kind}\0{code}\0{day.isoformat()}".encode()
    key = int.from_bytes(blake2b(name, digest_size=_KEY_BYTES).digest(), "little")
    return np.random.Generator(np.random.Philox(key=key))
