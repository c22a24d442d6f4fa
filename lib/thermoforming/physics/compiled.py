"""Compiled kernels that are kept on disk: never older than any source they may stand on.

The compiler's cache notices a change of a kernel's own file, not of another file's kernel that it
calls. An old cache would then go on calculating with the old formula.
"""

from __future__ import annotations

from pathlib import Path


def forget_outdated(folder: Path) -> int:
    """Delete the kept kernels of a folder that are older than its newest source with kernels.

    Parameters
    ----------
    folder : Path
        Folder of source files.

    Returns
    -------
    int
        Files deleted; none where the folder may not be written to.
    """
    sources = [path for path in folder.glob("*.py") if "@njit" in path.read_text("utf-8")]
    newest = max((path.stat().st_mtime for path in sources), default=0.0)
    deleted = 0
    for kept in (folder / "__pycache__").glob("*.nb[ic]"):
        try:
            if kept.stat().st_mtime < newest:
                kept.unlink()
                deleted += 1
        except OSError:  # another process was quicker, or the folder is read-only
            continue
    return deleted
