"""The rooms of the program: who may import whom, how long a module is, what says what it does."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "ledger"
MODULES = sorted(PACKAGE.rglob("*.py"))

FLOORS = ("errors", "exact", "catalogue", "costing", "sourcing", "book", "intake", "views", "cli")
"""The rooms from the bottom up; a room imports itself and what stands before it."""

PURE = {"exact", "catalogue", "costing", "sourcing"}
"""The computing rooms, which know neither files nor the database."""

OUTSIDE_WORLD = {"sqlite3", "pathlib", "os", "io", "shutil", "tempfile", "subprocess", "csv", "zipfile"}

SLOW = {
    "pandas",
    "numpy",
    "openpyxl",
    "sqlite_utils",
    "currency_converter",
    "scipy",
    "matplotlib",
    "holidays",
    "pydantic",
    "rapidfuzz",
}
"""Libraries that are imported inside the function that needs them."""

LONGEST_MODULE = 450

each_module = pytest.mark.parametrize(
    "path", MODULES, ids=[str(path.relative_to(PACKAGE)) for path in MODULES]
)


def room(path: Path) -> str:
    """The room a module belongs to; what stands at the top of the package by its own name."""
    parts = path.relative_to(PACKAGE).parts
    if len(parts) > 1:
        return parts[0]
    # The front door starts the command line; the carried files and the errors are for everybody.
    return {"__main__.py": "cli", "__init__.py": "errors", "carried.py": "errors", "errors.py": "errors"}[
        parts[0]
    ]


def imported(tree: ast.AST) -> Iterator[str]:
    """Every module name that is imported anywhere in a tree, in full."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "an import names its module in full"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def at_the_top(tree: ast.Module) -> Iterator[str]:
    """The names imported when the module itself is: not inside functions, nor for types only."""
    waiting: list[ast.AST] = list(tree.body)
    while waiting:
        node = waiting.pop()
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            continue
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
            continue
        if isinstance(node, ast.Import | ast.ImportFrom):
            yield from imported(node)
        waiting.extend(ast.iter_child_nodes(node))


@cache
def parsed(path: Path) -> ast.Module:
    """The module as a tree."""
    return ast.parse(path.read_text(encoding="utf-8"))


def room_of_name(name: str) -> str:
    """The room of an imported name of this package."""
    first = name.split(".")[1]
    return {"carried": "errors", "errors": "errors", "__version__": "errors"}.get(first, first)


@each_module
def test_imports_point_down(path: Path) -> None:
    """A module imports its own room and those below, never one above."""
    floor = FLOORS.index(room(path))
    upward = [
        name
        for name in imported(parsed(path))
        if name.startswith("ledger.") and FLOORS.index(room_of_name(name)) > floor
    ]
    assert upward == []


@each_module
def test_computing_rooms_know_no_files_and_no_database(path: Path) -> None:
    """What computes gets values and gives values."""
    if room(path) in PURE:
        assert [name for name in imported(parsed(path)) if name.split(".")[0] in OUTSIDE_WORLD] == []


@each_module
def test_slow_libraries_wait_until_they_are_needed(path: Path) -> None:
    """None is imported when a module is."""
    assert [name for name in at_the_top(parsed(path)) if name.split(".")[0] in SLOW - allowed(path)] == []


def allowed(path: Path) -> set[str]:
    """The slow library a module is there for; it is itself imported late."""
    return {"sqlite_utils"} if path.name == "migrations.py" else set()


def test_the_migrations_themselves_are_imported_late() -> None:
    """The one module that has a slow library at its top is imported inside functions only."""
    early = [
        path.name
        for path in MODULES
        if any(name.startswith("ledger.book.migrations") for name in at_the_top(parsed(path)))
    ]
    assert early == []


@each_module
def test_no_module_is_too_long(path: Path) -> None:
    """A module that has to be scrolled through for long is two modules."""
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST_MODULE


@each_module
def test_everything_public_says_what_it_is(path: Path) -> None:
    """Every public module, class, function and method has a docstring."""
    tree = parsed(path)
    silent = [] if ast.get_docstring(tree) else ["the module"]
    silent += [name for name, node in public(tree) if not ast.get_docstring(node)]
    assert silent == []


Defined = ast.FunctionDef | ast.ClassDef


def public(tree: ast.Module) -> Iterator[tuple[str, Defined]]:
    """The public functions and classes of a module, and their public methods."""
    for node in tree.body:
        if isinstance(node, Defined) and not node.name.startswith("_"):
            yield node.name, node
            if isinstance(node, ast.ClassDef):
                for inner in node.body:
                    if isinstance(inner, Defined) and not inner.name.startswith("_"):
                        yield f"{node.name}.{inner.name}", inner


def reached(name: str, seen: set[str]) -> set[str]:
    """Every module of this package that a module needs, itself included."""
    if name in seen:
        return seen
    seen.add(name)
    path = PACKAGE.parent.joinpath(*name.split(".")).with_suffix(".py")
    for one in imported(parsed(path)):
        parts = one.split(".")
        if parts[0] == "ledger":
            module = (
                one if PACKAGE.parent.joinpath(*parts).with_suffix(".py").is_file() else ".".join(parts[:-1])
            )
            reached(module, seen)
    return seen


def test_the_second_engine_shares_no_code_with_the_first() -> None:
    """Whatever the plain engine needs, it is facts, errors and its own modules."""
    others = {name for name in reached("ledger.costing.plain", set()) if "costing.plain" not in name}
    assert others <= {"ledger.costing.facts", "ledger.errors"}


def test_the_first_engine_does_not_lean_on_the_second() -> None:
    """Nor does the fast engine need anything of the plain one."""
    assert [name for name in reached("ledger.costing.walk", set()) if "costing.plain" in name] == []


def test_the_reader_of_imports_sees_what_points_up() -> None:
    """These tests can fail: an import inside a function is found as well."""
    tree = ast.parse("def look():\n    from ledger.cli.common import show\n    import pandas as pd\n")
    assert sorted(imported(tree)) == ["ledger.cli.common.show", "pandas"]
    assert list(at_the_top(tree)) == []
    assert list(at_the_top(ast.parse("if True:\n    import pandas\n"))) == ["pandas"]
