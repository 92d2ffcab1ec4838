"""Who may import whom, and what the inner layers must not touch."""

import ast
import re
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

import backing

ROOT = Path(backing.__file__).parent
#: From the middle to the rim; packages of one row never import each other.
LAYERS = (
    ("errors",),
    ("language",),
    ("wording",),
    ("data",),
    ("music",),
    ("box", "harmony", "arranging"),
    ("practice",),
    ("parse", "render"),
    ("files", "live"),
    ("cli",),
    ("__main__",),
)
ROW = {name: row for row, names in enumerate(LAYERS) for name in names}
#: No paths, clocks, chance or other programs left of `files`.
OUTSIDE = {"pathlib", "os", "time", "random", "subprocess", "typer", "tempfile", "shutil"}
MODULES = sorted(path for path in ROOT.rglob("*.py") if path.parent != ROOT or path.stem in ROW)


def part_of(path: Path) -> str:
    """The layer's name: the first folder, or the module at the top."""
    return path.relative_to(ROOT).parts[0].removesuffix(".py")


INNER = [path for path in MODULES if ROW[part_of(path)] < ROW["files"]]


@cache
def nodes_of(path: Path) -> tuple[ast.AST, ...]:
    """What a file is made of: its imports and its calls."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    kinds = (ast.Import, ast.ImportFrom, ast.Call)
    return tuple(node for node in ast.walk(tree) if isinstance(node, kinds))


def imports_of(path: Path) -> set[str]:
    """Every module that a file imports, wherever the import stands."""
    found: set[str] = set()
    for node in nodes_of(path):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            found.add(node.module)
    return found


def calls_of(path: Path) -> set[str]:
    """The names of the functions that a file calls."""
    return {
        node.func.id
        for node in nodes_of(path)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    }


def module_of(path: Path) -> str:
    """A file's name as it is imported."""
    parts = path.relative_to(ROOT.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def name_of(path: Path) -> str:
    """A file's place in the package."""
    return str(path.relative_to(ROOT))


def test_imports_point_inwards() -> None:
    """A module imports only its own part and the layers left of it."""
    outwards = []
    for path in MODULES:
        own = part_of(path)
        for name in imports_of(path):
            other = name.split(".")[1] if name.startswith("backing.") else own
            if other != own and ROW[other] >= ROW[own]:
                outwards.append(f"{name_of(path)} imports {name}")
    assert outwards == []


def test_the_inner_layers_touch_nothing_outside() -> None:
    """Left of `files` no module uses paths, clocks, chance, programs or the command line."""
    used = {
        name_of(path): {name.split(".")[0] for name in imports_of(path)} & OUTSIDE for path in INNER
    }
    assert {place: names for place, names in used.items() if names} == {}


def test_only_the_command_line_prints() -> None:
    """Only `cli/printing.py` prints: it cleans what comes from outside."""
    assert [name_of(path) for path in MODULES if "print" in calls_of(path)] == ["cli/printing.py"]


def test_files_stay_small() -> None:
    """No module is longer than 600 lines."""
    lines = {name_of(path): path.read_text(encoding="utf-8").count("\n") for path in MODULES}
    assert {place: count for place, count in lines.items() if count > 600} == {}


def test_only_files_opens_files() -> None:
    """Left of `files` nothing opens a file."""
    assert [name_of(path) for path in INNER if "open" in calls_of(path)] == []


def test_our_own_modules_are_imported_in_plain_sight() -> None:
    """Only the façade and the command line import modules of ours by a name made up while
    running: everywhere else an import can be seen."""
    hidden = []
    for path in MODULES:
        if path.name == "__init__.py" or path == ROOT / "cli" / "main.py":
            continue
        names = re.findall(r"import_module\((.*)\)", path.read_text(encoding="utf-8"))
        ours = [name for name in names if not re.match(r'f?"(music21|rtmidi)\b', name)]
        if ours or "__import__" in calls_of(path):
            hidden.append(f"{name_of(path)} imports {ours}")
    assert hidden == []


FOLDERS = sorted({path.parent for path in MODULES} - {ROOT})


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: str(folder.relative_to(ROOT)))
def test_no_modules_import_each_other_in_a_circle(folder: Path) -> None:
    """Inside a folder imports have an order: a module is known before the one that uses it."""
    modules = {module_of(path): imports_of(path) for path in folder.rglob("*.py")}
    graph = {
        name: {other for other in used if other in modules and other != name}
        for name, used in modules.items()
    }
    order = TopologicalSorter(graph)
    order.prepare()  # raises CycleError, which names the circle
