"""Public functions of physics say what they take and give, with a unit a program can read."""

import importlib
import inspect
import pkgutil
import re

import pytest

import thermoforming.physics

# A unit: SI symbols joined by spaces, slashes and powers; "-" for none; "1" for a plain ratio.
SYMBOL = r"(?:-|1|m|kg|s|K|dK|Pa|N|J|W|rad|mol|shots|parts|money|facets|any)"
ONE = rf"{SYMBOL}[\d^½]*(?:[ /*·]?\(?{SYMBOL}[\d^½]*\)?)*"
UNIT = re.compile(rf"\[{ONE}(?:, {ONE})*\]")  # several where an array mixes quantities
NUMERIC = re.compile(r"float|array|Band", re.IGNORECASE)
COUNTED = re.compile(r"int|bool|str")
ENTRY = re.compile(r"^(\w[\w, *]*?) *: *(.+)$")


def modules():
    found = pkgutil.walk_packages(thermoforming.physics.__path__, "thermoforming.physics.")
    return [importlib.import_module(info.name) for info in found]


def public_functions():
    for module in modules():
        for name, thing in vars(module).items():
            function = getattr(thing, "py_func", thing)  # compiled functions carry their source
            if (inspect.isfunction(function) and not name.startswith("_")
                    and function.__module__ == module.__name__):
                yield pytest.param(function, id=f"{module.__name__.split('.', 2)[2]}.{name}")


def section(text: str, title: str) -> list[str]:
    """Lines below a numpydoc heading, up to the next one."""
    lines = text.splitlines()
    for i, line in enumerate(lines[:-1]):
        if line.strip() == title and set(lines[i + 1].strip()) == {"-"}:
            rest = lines[i + 2:]
            ends = [j for j, later in enumerate(rest[1:], start=1)
                    if later.strip() and set(later.strip()) == {"-"}]
            return rest[: ends[0] - 1] if ends else rest
    return []


def entries(lines: list[str]) -> list[tuple[str, str, str]]:
    """Name, type and text of each entry of a Parameters section."""
    found, text = [], []
    for line in lines:
        head = ENTRY.match(line)
        if head and not line.startswith(" "):
            text = []
            found.append((head[1], head[2], text))
        elif found:
            text.append(line.strip())
    return [(name, kind, " ".join(words)) for name, kind, words in found]


@pytest.mark.parametrize("function", public_functions())
def test_docstring_says_what_with_units(function):
    text = inspect.getdoc(function) or ""
    assert text.strip(), "a public function needs a docstring"
    without = [name for name, kind, words in entries(section(text, "Parameters"))
               if NUMERIC.search(kind) and not COUNTED.search(kind)
               and not UNIT.search(f"{kind} {words}")]
    assert not without, f"no unit in square brackets for {', '.join(without)}"
