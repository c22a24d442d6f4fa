"""Opens the workbook: python workbook/open.py

Makes the environment on the first run, then opens JupyterLab on the start page with the demo
project. Options after the command go to JupyterLab, for example --no-browser or --port=8899.
"""

import os
import sys
from pathlib import Path

if sys.version_info < (3, 11):
    sys.exit("The workbook needs Python 3.11 or newer, but this is Python %d.%d (%s)."
             % (sys.version_info[0], sys.version_info[1], sys.executable))

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "lib"))

from thermoforming import environment  # noqa: E402


def main(options):
    try:
        python = environment.prepare(environment.WORKBOOK_NEEDS)
    except environment.CannotPrepare as reason:
        sys.exit(str(reason))
    print("Opening the workbook; press Ctrl+C here to close it.")
    return environment.call(python, [
        "-m", "jupyterlab", str(HERE / "00-start.ipynb"),
        "--ServerApp.root_dir=" + str(HERE), *as_root(), *options])


def as_root():
    """JupyterLab will not start for root, the only user of many a fresh machine, unless told."""
    return ["--allow-root"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
