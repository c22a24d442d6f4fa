"""What a step may know of the decisions before it: plain data, and the files they stand on."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from io import BytesIO
from typing import Any

import numpy as np

from thermoforming.guard import Refused


class NotDecided(Refused):
    """A decision that this step stands on has not been saved yet."""

    def __init__(self, step: str):
        super().__init__(step, f"The decision “{step}” has not been saved yet; "
                               f"open its page, decide and save, then come back.")
        self.step = step


@dataclass(frozen=True)
class Decision:
    """A saved decision as later steps see it: SI values; tables as lists of rows."""

    inputs: Mapping[str, Any]
    results: Mapping[str, Any]
    tables: Mapping[str, list] = field(default_factory=dict)
    files: Mapping[str, str] = field(default_factory=dict)
    hash: str = ""


@dataclass(frozen=True)
class Upstream:
    """Saved decisions by step, a way to read the project's files, and this step's simulation."""

    decisions: Mapping[str, Decision] = field(default_factory=dict)
    read_file: Callable[[str], bytes] | None = None
    simulation: Mapping[str, Any] | None = None

    def has(self, step: str) -> bool:
        return step in self.decisions

    def decision(self, step: str) -> Decision:
        """A saved decision.

        Raises
        ------
        NotDecided
            If there is none.
        """
        if step not in self.decisions:
            raise NotDecided(step)
        return self.decisions[step]

    def input(self, step: str, key: str):
        """An input of a saved decision, in SI."""
        return self.decision(step).inputs[key]

    def result(self, step: str, key: str):
        """A result of a saved decision, in SI: float, Band, str, bool or None."""
        return self.decision(step).results[key]

    def table(self, step: str, key: str) -> list[dict]:
        """Rows of a result table of a saved decision."""
        return list(self.decision(step).tables[key])

    def file(self, sha256: str) -> bytes:
        """Content of a file kept in the project."""
        if self.read_file is None:
            raise Refused("file", "This step was given no project files.")
        return self.read_file(sha256)

    def arrays(self, step: str) -> dict[str, Any]:
        """Arrays of the simulation saved with a decision; empty where there is none."""
        sha256 = self.decision(step).files.get("simulation")
        return unpacked(self.file(sha256)) if sha256 else {}


def packed(simulation: Mapping[str, Any]) -> bytes:
    """Named arrays and numbers as the bytes of an npz file, the same bytes for the same content."""
    stream = BytesIO()
    np.savez_compressed(stream, **{key: np.asarray(simulation[key]) for key in sorted(simulation)})
    return stream.getvalue()


def unpacked(content: bytes) -> dict[str, Any]:
    """The reverse of `packed`; refuses anything but plain arrays."""
    with np.load(BytesIO(content), allow_pickle=False) as arrays:
        return {key: arrays[key] for key in arrays.files}
