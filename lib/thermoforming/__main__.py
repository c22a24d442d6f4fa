"""Work on projects without a notebook.

    python -m thermoforming verify PROJECT          check every hash, recompute every decision
    python -m thermoforming export PROJECT FOLDER   write the documents into a folder
    python -m thermoforming find CODE FOLDER        the record that a printed page came from
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from thermoforming.guard import Refused
from thermoforming.record import Project, RecordError

FAILED = 4
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
    export = commands.add_parser("export", help="write the documents into a folder")
    export.add_argument("project", type=Path, help="the project's folder")
    export.add_argument("folder", type=Path, help="where to write; made if it is not there")
    find = commands.add_parser("find", help="find the record that a printed page came from")
    find.add_argument("code", help="the code at the foot of the page")
    find.add_argument("folder", type=Path, help="where to look, with all folders below")
    given = parser.parse_args(arguments)
    try:
        if given.command == "verify":
            return _verify(given.project, given.hashes)
        if given.command == "export":
            return _export(given.project, given.folder)
        return _find(given.code, given.folder)
    except (Refused, RecordError, OSError) as problem:
        print(problem, file=sys.stderr)
        return FAILED


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


def _export(project: Path, folder: Path) -> int:
    from thermoforming.pages.documents import extras, titles
    from thermoforming.pages.session import Session
    from thermoforming.record.export import rendered

    made = rendered(Project.open(project), titles(), extras(Session(project)))
    folder.mkdir(parents=True, exist_ok=True)
    for name, data in made.items():
        (folder / name).write_bytes(data)
        print(folder / name)
    return 0


def _find(code: str, folder: Path) -> int:
    from thermoforming.record.export import find

    found = find(folder, code)
    for place, which in found:
        print(f"{place}: {which}")
    if not found:
        print(f"No project below {folder} has a page with the code {code}.", file=sys.stderr)
    return 0 if found else 1


def _progress(step: str) -> None:
    print(f"recomputing {step} …", file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(main())
