"""The layers of the code, read from its own imports."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SERVICE = ROOT / "service" / "wattpair_service"
SDK = ROOT / "sdk" / "src"
ENGINEERING_MAY_IMPORT = {"numpy", "pandas", "scipy", "pvlib", "wattpair_service"}
ENGINEERING_MAY_NOT = {
    "os", "sys", "io", "pathlib", "time", "datetime", "random", "socket", "subprocess", "tempfile", "shutil", "secrets",
    "logging", "threading", "urllib", "http", "flask", "marshmallow",
}  # fmt: skip


def sources(folder: Path) -> list[Path]:
    """Python files below a folder; an empty answer would make every test here pass."""
    found = sorted(folder.rglob("*.py"))
    assert found, f"no source below {folder}"
    return found


def imports(file: Path) -> Iterator[str]:
    """Full names of what a file imports, also inside functions."""
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{file.name} has a relative import"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def name(file: Path) -> str:
    return str(file.relative_to(ROOT))


@pytest.mark.parametrize("file", sources(SERVICE / "engineering"), ids=name)
def test_engineering_imports_only_itself_and_numbers_and_opens_nothing(file: Path) -> None:
    allowed = (ENGINEERING_MAY_IMPORT | sys.stdlib_module_names) - ENGINEERING_MAY_NOT
    for imported in imports(file):
        top = imported.split(".")[0]
        assert top in allowed, imported
        assert top != "wattpair_service" or imported.startswith("wattpair_service.engineering."), imported
    called = {
        node.func.id
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    }
    assert not called & {"open", "input", "print", "exec", "eval", "__import__"}


@pytest.mark.parametrize(
    ("package", "importers"),
    [
        ("api", {"app.py", "server.py", "cli.py", "demo.py", "pages/routes.py"}),
        ("pages", {"app.py"}),
    ],
)
def test_only_the_edge_imports_the_api_and_the_pages(package: str, importers: set[str]) -> None:
    importing = {
        str(file.relative_to(SERVICE))
        for file in sources(SERVICE)
        if SERVICE / package not in file.parents and any(i.startswith(f"wattpair_service.{package}") for i in imports(file))
    }
    assert "app.py" in importing
    assert importing <= importers


HTTP = ("flask", "marshmallow", "werkzeug", "apispec")


@pytest.mark.parametrize(
    ("folder", "forbidden", "allowed"),
    [
        (SERVICE / "climate", HTTP, ()),
        (SERVICE / "rules", HTTP, ()),
        (SERVICE / "equipment", HTTP, ()),
        (
            SERVICE / "report",
            (*HTTP, "wattpair_service"),
            ("wattpair_service.engineering.", "wattpair_service.report", "wattpair_service.words."),
        ),
        (SERVICE / "words", (*HTTP, "wattpair_service"), ("wattpair_service.engineering.sentences", "wattpair_service.words.")),
        (SDK, ("wattpair_service",), ()),
    ],
    ids=["climate", "rules", "equipment", "report", "words", "client"],
)
def test_layers_do_not_import_what_lies_above_them(folder: Path, forbidden: tuple[str, ...], allowed: tuple[str, ...]) -> None:
    found = [(file.name, each) for file in sources(folder) for each in imports(file) if each.startswith(forbidden)]
    assert [(file, each) for file, each in found if not each.startswith(allowed)] == []
