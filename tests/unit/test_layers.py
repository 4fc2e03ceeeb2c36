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
LONGEST = 400

ENGINEERING_MAY_IMPORT = {"numpy", "pandas", "scipy", "pvlib", "wattpair_service"}
ENGINEERING_MAY_NOT = {
    "os", "sys", "io", "pathlib", "time", "datetime", "random", "socket", "subprocess", "tempfile", "shutil", "secrets",
    "logging", "threading", "urllib", "http", "flask", "marshmallow",
}  # fmt: skip
"""What would bring a file, a clock, the environment or chance into the core."""
MAY_IMPORT_API = {"app.py", "server.py", "refusals.py", "threads.py", "cli.py", "demo.py", "pages/routes.py"}


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
    """Path within the repository, as a test's name."""
    return str(file.relative_to(ROOT))


@pytest.mark.parametrize("file", sources(SERVICE / "engineering"), ids=name)
def test_engineering_imports_only_itself_and_numbers(file: Path) -> None:
    allowed = (ENGINEERING_MAY_IMPORT | sys.stdlib_module_names) - ENGINEERING_MAY_NOT
    for imported in imports(file):
        top = imported.split(".")[0]
        assert top in allowed, imported
        assert top != "wattpair_service" or imported.startswith("wattpair_service.engineering."), imported


@pytest.mark.parametrize("file", sources(SERVICE / "engineering"), ids=name)
def test_engineering_opens_nothing(file: Path) -> None:
    called = {
        node.func.id
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    }
    assert not called & {"open", "input", "print", "exec", "eval", "__import__"}


def test_only_the_edge_imports_the_api() -> None:
    importing = {
        str(file.relative_to(SERVICE))
        for file in sources(SERVICE)
        if file.parent != SERVICE / "api" and any(i.startswith("wattpair_service.api") for i in imports(file))
    }
    assert importing
    assert importing <= MAY_IMPORT_API


def test_only_the_application_imports_the_pages() -> None:
    importing = {
        str(file.relative_to(SERVICE))
        for file in sources(SERVICE)
        if any(each.startswith("wattpair_service.pages") for each in imports(file))
    }
    assert importing == {"app.py"}


@pytest.mark.parametrize("layer", ["climate", "rules", "equipment", "report"])
def test_the_layers_below_the_api_know_no_http(layer: str) -> None:
    for file in sources(SERVICE / layer):
        assert not {"flask", "marshmallow", "werkzeug", "apispec"} & {i.split(".")[0] for i in imports(file)}


def test_the_report_knows_only_the_engine_and_itself() -> None:
    allowed = ("wattpair_service.engineering.", "wattpair_service.report")
    for file in sources(SERVICE / "report"):
        assert [each for each in imports(file) if each.startswith("wattpair_service") and not each.startswith(allowed)] == []


@pytest.mark.parametrize("file", sources(SDK), ids=name)
def test_the_client_imports_nothing_of_the_service(file: Path) -> None:
    assert not any(imported.split(".")[0] == "wattpair_service" for imported in imports(file))


@pytest.mark.parametrize("file", [*sources(ROOT / "service"), *sources(ROOT / "sdk"), *sources(ROOT / "tests")], ids=name)
def test_no_source_file_is_too_long(file: Path) -> None:
    assert len(file.read_text(encoding="utf-8").splitlines()) <= LONGEST
