"""Passes every test: python tests/run.py

Makes the environment on the first run. Options go to pytest, for example
python tests/run.py tests/record -x
"""

import shutil
import sys
from pathlib import Path

if sys.version_info < (3, 11):
    sys.exit("The tests need Python 3.11 or newer, but this is Python %d.%d (%s)."
             % (sys.version_info[0], sys.version_info[1], sys.executable))

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "lib"))

from thermoforming import environment  # noqa: E402

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge")


def main(options):
    try:
        python = environment.prepare(environment.TEST_NEEDS)
    except environment.CannotPrepare as reason:
        return str(reason)
    paths = [option for option in options if Path(option.split("::")[0]).exists()]
    if not paths and not any(shutil.which(name) for name in BROWSERS):
        return ("The browser tests need Chromium, and none was found on this machine. Install it "
                "(Debian: apt install chromium), or leave them out by naming the folders to run, "
                "for example: python tests/run.py tests/physics tests/record")
    targets = paths or [str(HERE), str(HERE.parent / "workbook")]
    rest = [option for option in options if option not in paths]
    return environment.call(python, ["-m", "pytest", "-c", str(HERE / "pytest.ini"),
                                     "--rootdir", str(HERE.parent), *targets, *rest])


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
