"""The house itself: imports go one way, modules and functions stay small, files stay true."""

from __future__ import annotations

import ast
import json
from pathlib import Path

import pytest

import ridgerule
from ridgerule.record_schema import record_schema
from ridgerule.shipped import shipped
from ridgerule.vocabulary import VOCABULARY

PACKAGE = Path(ridgerule.__file__).parent
MODULES = sorted(PACKAGE.rglob("*.py"))

ORDER = (
    "problems",
    "formulas",
    "canonical",
    "series",
    "enclosures",
    "units",
    "misreadings",
    "quantity_text",
    "quantities",
    "plain_data",
    "yaml_syntax",
    "json_documents",
    "yaml_documents",
    "documents",
    "shipped",
    "schemas",
    "facts",
    "vocabulary",
    "coordinates",
    "photo_names",
    "record",
    "record_reader",
    "photos",
    "record_schema",
    "rulebook_bounds",
    "rulebook",
    "shelf",
    "adapt",
    "trade",
    "audit",
    "proof",
    "review",
    "visit",
    "tables",
    "survey",
    "reports",
    "cli",
)
"""The rooms; a module imports only from rooms before its own, or from its own."""

LONGEST_MODULE = 500
LONGEST_FUNCTION = 45


def _room(module: Path) -> str:
    return module.relative_to(PACKAGE).with_suffix("").parts[0]


def _imported(tree: ast.AST) -> set[str]:
    """Return the rooms of this package that a module imports, late imports included."""
    rooms = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            parts = node.module.split(".")
            if parts[0] == "ridgerule":
                rooms |= {parts[1]} if len(parts) > 1 else {a.name for a in node.names}
        elif isinstance(node, ast.Import):
            rooms |= {a.name.split(".")[1] for a in node.names if a.name.startswith("ridgerule.")}
    return rooms - {"__version__"}


@pytest.mark.parametrize("module", MODULES, ids=lambda m: m.relative_to(PACKAGE).as_posix())
def test_imports_go_one_way(module: Path) -> None:
    """A module imports only from rooms that come before its own."""
    room = _room(module)
    if room == "__init__":
        assert _imported(ast.parse(module.read_text())) == set()
        return
    allowed = set(ORDER[: ORDER.index(room) + 1])
    assert _imported(ast.parse(module.read_text())) <= allowed


def test_every_room_is_in_the_order() -> None:
    """The list of rooms is the list of modules and folders that there are."""
    rooms = {_room(module) for module in MODULES} - {"__init__"}
    assert rooms == set(ORDER)


def test_audit_room_has_no_circle() -> None:
    """Inside a folder too, no module leads back to itself by its imports at run time."""
    folders = ("audit", "proof", "review", "visit", "tables", "survey", "reports", "cli", "trade")
    for folder in folders:
        graph = {}
        for module in sorted((PACKAGE / folder).glob("*.py")):
            tree = ast.parse(module.read_text())
            typing_only = {
                id(inner)
                for node in ast.walk(tree)
                if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
                for inner in ast.walk(node)
            }
            graph[module.stem] = {
                node.module.rsplit(".", 1)[1]
                for node in ast.walk(tree)
                if isinstance(node, ast.ImportFrom)
                and node.module
                and node.module.startswith(f"ridgerule.{folder}.")
                and id(node) not in typing_only
            }
        for start, imported in graph.items():
            reached, todo = set(), list(imported)
            while todo:
                name = todo.pop()
                if name not in reached:
                    reached.add(name)
                    todo.extend(graph.get(name, ()))
            assert start not in reached, f"{folder}/{start}.py imports its way back to itself"


@pytest.mark.parametrize("module", MODULES, ids=lambda m: m.relative_to(PACKAGE).as_posix())
def test_modules_and_functions_can_be_seen_whole(module: Path) -> None:
    """Modules and functions keep to the sizes that the contributor guide names."""
    text = module.read_text()
    assert len(text.splitlines()) <= LONGEST_MODULE
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef) and node.end_lineno is not None:
            assert node.end_lineno - node.lineno < LONGEST_FUNCTION, node.name


def test_every_test_says_what_it_holds() -> None:
    """Every test has a docstring of its own."""
    tests = [
        (file.name, node)
        for file in sorted(Path(__file__).parent.glob("test_*.py"))
        for node in ast.walk(ast.parse(file.read_text()))
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
    ]
    assert len(tests) > 50
    assert [(file, node.name) for file, node in tests if not ast.get_docstring(node)] == []


def test_shipped_record_schema_is_the_vocabularys() -> None:
    """The record's schema file is made from the engine's facts and has been kept up."""
    file = shipped("schemas") / "record.schema.json"
    assert json.loads(file.read_text(encoding="utf-8")) == record_schema(VOCABULARY)
