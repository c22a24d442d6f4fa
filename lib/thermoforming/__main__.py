"""Work on projects without a notebook: python -m thermoforming verify PROJECT."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

EXIT_CODES = """exit codes of verify:
  0  every file is as it was written and every number is the same today
  1  a number moved by more than one part in a million
  3  a decision cannot be recomputed
  4  a file of the record is damaged or missing, or there is no project
"""


def main(arguments: list[str] | None = None) -> int:
    """Run one command and return its exit code."""
    parser = argparse.ArgumentParser(prog="python -m thermoforming", epilog=EXIT_CODES,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    commands = parser.add_subparsers(dest="command", required=True)
    verify = commands.add_parser("verify", help="check every hash, recompute every decision")
    verify.add_argument("project", type=Path, help="the project's folder")
    verify.add_argument("--hashes", action="store_true", help="check the files only")
    given = parser.parse_args(arguments)
    return _verify(given.project, given.hashes)


def _verify(folder: Path, hashes_only: bool) -> int:
    from thermoforming.record.check import check
    from thermoforming.record.verify import Verification, verify

    if hashes_only:
        found = Verification(check(folder))
    else:
        from thermoforming.pages.session import recompute
        from thermoforming.steps import ORDER

        found = verify(folder, recompute, ORDER, progress=_progress)
    print(found)
    return found.exit_code


def _progress(step: str) -> None:
    print(f"recomputing {step} …", file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(main())
