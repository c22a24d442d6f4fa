"""The house stands: imports only go down, and none runs in a circle."""

import ast
from graphlib import TopologicalSorter
from pathlib import Path

import thermoforming

LIBRARY = Path(thermoforming.__file__).parent

MAY_IMPORT = {
    "foundation": {"foundation"},
    "reference": {"foundation", "reference"},
    "geometry": {"foundation", "geometry"},
    "physics": {"foundation", "geometry", "physics"},
    "steps": {"foundation", "reference", "geometry", "physics", "steps"},
    "record": {"foundation", "record"},
    "pages": {"foundation", "reference", "geometry", "physics", "steps", "record", "pages"},
}
COMMAND_LINE = "thermoforming.__main__"  # the door from a shell: it stands on the top floor


def modules() -> dict[str, Path]:
    found = {}
    for path in LIBRARY.rglob("*.py"):
        parts = ["thermoforming", *path.relative_to(LIBRARY).with_suffix("").parts]
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


def floor(module: str) -> str:
    if module == COMMAND_LINE:
        return "pages"
    parts = module.split(".")
    return parts[1] if len(parts) > 1 and parts[1] in MAY_IMPORT else "foundation"


def imported(path: Path, known: dict[str, Path]) -> set[str]:
    names = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: imports are written in full"
            names |= {f"{node.module}.{alias.name}" for alias in node.names} | {node.module}
    full = set()
    for name in names:
        if name in known:
            full.add(name)
    # a package counts only where no module of it is named
    return {n for n in full if not any(o.startswith(n + ".") for o in full)} - {"thermoforming"}


def test_imports_only_go_down():
    known = modules()
    wrong = [f"{module} imports {name}" for module, path in known.items()
             for name in imported(path, known) if floor(name) not in MAY_IMPORT[floor(module)]]
    assert not wrong, "\n".join(wrong)


def test_no_import_runs_in_a_circle():
    known = modules()
    graph = {module: imported(path, known) - {module} for module, path in known.items()}
    list(TopologicalSorter(graph).static_order())  # raises CycleError, naming the circle


def test_the_library_is_seen_whole():
    assert len(modules()) > 5
    assert {"steps"} <= {floor(module) for module in modules()}
