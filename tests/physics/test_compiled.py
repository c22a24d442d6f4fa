"""Kernels on disk are dropped when a source beside them is newer."""

import os

from thermoforming.physics.compiled import forget_outdated


def test_only_older_kernels_are_forgotten(tmp_path):
    (tmp_path / "__pycache__").mkdir()
    old, new = (tmp_path / "__pycache__" / f"{name}.nbi" for name in ("old", "new"))
    source, plain = tmp_path / "flow.py", tmp_path / "plain.py"
    source.write_text("@njit\ndef f(): pass\n")
    plain.write_text("def g(): pass\n")
    for path, when in ((old, 100), (source, 200), (new, 300), (plain, 400)):
        path.touch()
        os.utime(path, (when, when))
    assert forget_outdated(tmp_path) == 1
    assert new.exists() and not old.exists() and source.exists()
