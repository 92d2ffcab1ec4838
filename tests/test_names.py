"""One word, one meaning: a name stands for one thing in the whole package."""

import ast
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest

import backing

ROOT = Path(backing.__file__).parent

pytestmark = pytest.mark.slow  # every module is parsed


@pytest.fixture(scope="module")
def trees() -> dict[str, ast.Module]:
    """Every module of the package by its place."""
    return {
        str(path.relative_to(ROOT)): ast.parse(path.read_text(encoding="utf-8"))
        for path in sorted(ROOT.rglob("*.py"))
    }


def types_of(tree: ast.Module) -> Iterator[str]:
    """The classes of a module and what it calls a type (a name with a capital that is no
    constant), underscores left out."""
    for node in ast.walk(tree):
        if isinstance(node, ast.ClassDef):
            yield node.name.lstrip("_")
    for node in tree.body:
        if isinstance(node, ast.Assign):
            for target in node.targets:
                name = target.id.lstrip("_") if isinstance(target, ast.Name) else ""
                if name[:1].isupper() and not name.isupper():
                    yield name


def functions_of(tree: ast.Module) -> Iterator[str]:
    """The public functions of a module."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node.name


def shared(names: dict[str, list[str]]) -> dict[str, list[str]]:
    """Names that stand in more than one place, with the places."""
    places: dict[str, list[str]] = defaultdict(list)
    for place, found in names.items():
        for name in found:
            places[name].append(place)
    return {name: found for name, found in places.items() if len(found) > 1}


def test_a_type_has_a_name_of_its_own(trees: dict[str, ast.Module]) -> None:
    """No two classes or type aliases of the package have the same name, private ones
    included."""
    assert shared({place: list(types_of(tree)) for place, tree in trees.items()}) == {}


def test_a_public_function_has_a_name_of_its_own(trees: dict[str, ast.Module]) -> None:
    """No two public functions have the same name; a command is called like what it does."""
    found = {}
    for place, tree in trees.items():
        command = Path(place).stem if place.startswith("cli") else ""
        found[place] = [name for name in functions_of(tree) if name != command]
    assert shared(found) == {}
