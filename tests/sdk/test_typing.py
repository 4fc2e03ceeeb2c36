"""What a type checker makes of a user's script."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from tests.sdk.contract import ROOT

SCRIPT = ROOT / "tests" / "sdk" / "users_script.py"
MISTAKES = """
from wattpair import AsyncClient, Client

client = Client("http://127.0.0.1:8080")
client.size_pairings(site={}, module={}, microinverters=[], colour="red")
client.size_pairings(site={}, module={})
client.size_pairings({}, module={}, microinverters=[])
client.size_pairings(site={}, module={}, microinverters=[], transposition="perez")
client.size_pairings(site=3, module={}, microinverters=[])
client.check_live().state
AsyncClient("http://127.0.0.1:8080").check_live().status
client.sheet_pdf(site={}, modules=[], candidates=[])
client.materials_csv(faces=[], unit_ac_current_a="1", module_mass_kg=2, unit_mass_kg=1)
client.sheet_html(site={}, modules=[], candidates=[], faces=[]).to_frame()
"""
"""A mistake in each line from the fifth."""
AS_INSTALLED = "[mypy-wattpair.*]\nfollow_imports = silent\n"
"""What an installed package is to mypy: its types count, and what is within is its makers' affair."""


def mypy(*arguments: str | Path, folder: Path) -> subprocess.CompletedProcess[str]:
    settings = folder / "mypy.ini"
    settings.write_text(
        f"[mypy]\nstrict = true\nmypy_path = {ROOT / 'sdk' / 'src'}\ncache_dir = {folder / 'cache'}\n{AS_INSTALLED}"
    )
    command = [sys.executable, "-m", "mypy", "--config-file", settings, *arguments]
    return subprocess.run([*map(str, command)], capture_output=True, text=True, check=False, cwd=folder)


def test_a_users_script_is_typed_and_its_mistakes_are_found(tmp_path: Path) -> None:
    checked = mypy(SCRIPT, folder=tmp_path)
    assert checked.returncode == 0, checked.stdout
    (tmp_path / "mistakes.py").write_text(MISTAKES)
    checked = mypy(tmp_path / "mistakes.py", folder=tmp_path)
    lines = {int(line.split(":")[1]) for line in checked.stdout.splitlines() if ": error: " in line}
    assert lines == set(range(5, 15)), checked.stdout
