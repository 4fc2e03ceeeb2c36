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

NEEDED_BY_REQUESTS = {"certifi", "charset-normalizer", "idna", "requests", "urllib3"}


def run(*command: str | Path) -> str:
    done = subprocess.run([*map(str, command)], capture_output=True, text=True, check=False, cwd="/")
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def wheel(source: Path, folder: Path) -> Path:
    copy = folder / "source"
    shutil.copytree(source, copy, ignore=LEFT_OUT)
    run(sys.executable, "-m", "build", "--wheel", "--outdir", folder, copy)
    (built,) = folder.glob("*.whl")
    return built


def empty_environment(folder: Path) -> Path:
    venv.create(folder, with_pip=False)
    return folder / "bin" / "python"


def installed(python: Path) -> set[str]:
    listed = json.loads(run(sys.executable, "-m", "pip", "--python", python, "list", "--format", "json"))
    return {each["name"].lower() for each in listed}


@pytest.fixture(scope="module")
def client_alone(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The interpreter of an environment with the client's wheel."""
    folder = tmp_path_factory.mktemp("sdk")
    python = empty_environment(folder / "environment")
    run(sys.executable, "-m", "pip", "--python", python, "install", "--quiet", wheel(ROOT / "sdk", folder / "wheel"))
    return python


def test_the_client_alone_brings_requests_and_what_requests_needs(client_alone: Path) -> None:
    python = client_alone
    assert installed(python) == {"wattpair"} | NEEDED_BY_REQUESTS
    script = (
        "import wattpair, wattpair.testing, pathlib; fake = wattpair.testing.FakeService()\n"
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
        "live climate",
        "text/html application/pdf",
        'AsyncClient needs httpx, which is not installed: pip install "wattpair[async]"',
        'wattpair.portfolio needs Dask and pandas: pip install "wattpair[portfolio]"',
    ]


def test_importing_brings_nothing_but_requests(client_alone: Path) -> None:
    script = (
        "import sys, requests; before = set(sys.modules)\n"
        "import wattpair; brought = {name.split('.')[0] for name in set(sys.modules) - before}\n"
        "print(*sorted(brought - sys.stdlib_module_names))\n"
        "print(any(name.startswith(('wattpair.inputs', 'wattpair.results')) for name in sys.modules))"
    )
    assert run(client_alone, "-I", "-c", script).split() == ["wattpair", "False"]


def test_the_service_alone_is_installed_and_answers(tmp_path: Path) -> None:
    python = empty_environment(tmp_path / "environment")
    built = wheel(ROOT, tmp_path / "wheel")
    run(sys.executable, "-m", "pip", "--python", python, "install", "--quiet", built)
    assert "wattpair" not in installed(python)
    script = (
        "from wattpair_service.app import create_app; from wattpair_service.settings import Settings\n"
        "client = create_app(Settings()).test_client(); print(client.get('/health/ready').json['status'])\n"
        "from wattpair_service.api.operations import OPERATIONS; from wattpair_service.api.contract import example\n"
        "print({client.post(each.path, json=example(each)).status_code for each in OPERATIONS})"
    )
    assert run(python, "-I", "-c", script).split() == ["ready", "{200}"]
