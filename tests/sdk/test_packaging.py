"""Each distribution as its users get it: a wheel, alone in an empty environment."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import venv
from pathlib import Path

import pytest

from tests.sdk.contract import LEFT_OUT, ROOT

pytestmark = pytest.mark.release


def run(*command: str | Path) -> str:
    done = subprocess.run([*map(str, command)], capture_output=True, text=True, check=False, cwd="/")
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def installed_alone(source: Path, folder: Path) -> tuple[Path, set[str]]:
    """The interpreter of a new environment with the wheel of a distribution, and the names of what is in it."""
    shutil.copytree(source, folder / "source", ignore=LEFT_OUT)
    run(sys.executable, "-m", "build", "--wheel", "--outdir", folder, folder / "source")
    (wheel,) = folder.glob("*.whl")
    venv.create(folder / "environment", with_pip=False)
    python = folder / "environment" / "bin" / "python"
    run(sys.executable, "-m", "pip", "--python", python, "install", "--quiet", wheel)
    listed = json.loads(run(sys.executable, "-m", "pip", "--python", python, "list", "--format", "json"))
    return python, {each["name"].lower() for each in listed}


def test_the_client_alone_brings_requests_and_msgspec_and_what_they_need(tmp_path: Path) -> None:
    python, names = installed_alone(ROOT / "sdk", tmp_path)
    assert names == {"wattpair", "certifi", "charset-normalizer", "idna", "msgspec", "requests", "urllib3"}
    script = (
        "import sys, requests; before = set(sys.modules)\n"
        "import wattpair; brought = {name.split('.')[0] for name in set(sys.modules) - before}\n"
        "print(*sorted(brought - sys.stdlib_module_names))\n"
        "import wattpair.testing, pathlib; fake = wattpair.testing.FakeService()\n"
        "client = fake.client(); print(client.check_live().status, client.describe_climate(site={}).climate.kind)\n"
        "offer = {'site': {}, 'modules': [], 'candidates': [], 'faces': []}\n"
        "print(client.sheet_html(**offer).media_type, client.sheet_pdf(**offer).media_type)\n"
        "assert pathlib.Path(wattpair.__file__).with_name('py.typed').exists()\n"
        "try: wattpair.AsyncClient\n"
        "except ImportError as error: print(error)\n"
        "try: import wattpair.portfolio\n"
        "except ImportError as error: print(error)\n"
    )
    assert run(python, "-I", "-c", script).splitlines() == [
        "msgspec wattpair",
        "live climate",
        "text/html application/pdf",
        'AsyncClient needs httpx, which is not installed: pip install "wattpair[async]"',
        'wattpair.portfolio needs Dask and pandas: pip install "wattpair[portfolio]"',
    ]


def test_the_service_alone_is_installed_and_answers(tmp_path: Path) -> None:
    python, names = installed_alone(ROOT, tmp_path)
    assert "wattpair" not in names
    script = (
        "from wattpair_service.app import create_app; from wattpair_service.settings import Settings\n"
        "client = create_app(Settings()).test_client(); print(client.get('/health/ready').json['status'])\n"
        "from wattpair_service.api.routes import OPERATIONS; from wattpair_service.api.contract.contract import example\n"
        "print({client.post(each.path, json=example(each)).status_code for each in OPERATIONS})"
    )
    assert run(python, "-I", "-c", script).split() == ["ready", "{200}"]
