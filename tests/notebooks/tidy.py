"""Runs notebooks and keeps of their output only the numbers that the tests compare.

    python tests/notebooks/tidy.py workbook/06-vents.ipynb ...

Everything a widget leaves behind is dropped; cells tagged nbval-check-output keep their printed
text, which the tests then compare with a fresh run.
"""

import sys
from pathlib import Path

import nbformat
from nbclient import NotebookClient

COMPARED = "nbval-check-output"


def tidy(path: Path) -> None:
    notebook = nbformat.read(path, as_version=4)
    NotebookClient(notebook, timeout=600, resources={"metadata": {"path": path.parent}}).execute()
    notebook.metadata.pop("widgets", None)
    number = 0
    for cell in notebook.cells:
        if cell.cell_type != "code":
            continue
        number += 1
        cell.execution_count = number
        cell.metadata.pop("execution", None)
        compared = COMPARED in cell.metadata.get("tags", [])
        cell.outputs = [out for out in cell.outputs if compared and out.output_type == "stream"]
    nbformat.write(notebook, path)


if __name__ == "__main__":
    for name in sys.argv[1:]:
        tidy(Path(name))
        print(f"{name}: run, and cleaned")
