"""Clients made from the contract: generated, compiled, and asked for one design each: `python -m tests.languages`.

Two generators for Python, one each for TypeScript and Go. What is not installed, and a registry that cannot be reached, is said
and leaves that language out.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
import venv
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.contract.bodies import example
from tests.running import Service, service

HERE = Path(__file__).resolve().parent
CONTRACT = HERE.parents[1] / "openapi" / "wattpair.v1.yaml"
NOT_DONE = 77
REQUEST = "design.json"
PYTHON_TOOLS = ("openapi-generator-cli==7.26.0", "openapi-python-client==0.29.1")
NODE_TOOLS = ("openapi-typescript@7.13.0", "openapi-fetch@0.17.0", "typescript@5.9.3", "@types/node@20.19.43")
GO_LIBRARIES = Path("/usr/share/gocode")
"""Where Debian's golang-gopkg-validator.v2-dev puts what the generated code imports."""
FLOAT32 = 1e-6
"""Go's generator takes numbers as 32 bits."""
BOTH = """
import json, sys
{imports}
request = DesignRequest.from_dict(json.load(open(sys.argv[2])))
result = {call}
print(json.dumps({{"faces": [each.name for each in result.faces], "clipped": result.clipping.totals[0].clipped_share.value}}))
"""
ONE = BOTH.format(
    imports="from one import ApiClient, Configuration, DesignRequest, PairingApi",
    call="PairingApi(ApiClient(Configuration(host=sys.argv[1]))).design_roof(request)",
)
OTHER = BOTH.format(
    imports="from other import Client\nfrom other.api.pairing import design_roof\nfrom other.models import DesignRequest",
    call="design_roof.sync(client=Client(sys.argv[1]), body=request)",
)


class Missing(Exception):
    """What this machine has not, or cannot reach."""


def main() -> int:
    """Ask all; returns the exit status."""
    missing = []
    with tempfile.TemporaryDirectory() as name, service(Path(name)) as running:
        folder = Path(name)
        (folder / REQUEST).write_text(json.dumps(example("design_roof")))
        result = running.post("design_roof", example("design_roof")).json
        faces = [face["name"] for face in result["faces"]]
        share = result["clipping"]["totals"][0]["clipped_share"]["value"]
        for language, ask in LANGUAGES.items():
            try:
                answer = ask(folder, running)
            except Missing as reason:
                missing.append(f"{language}: {reason}")
                continue
            assert answer == {"faces": faces, "clipped": pytest.approx(share, rel=FLOAT32)}, (language, answer)
            print(f"{language}: the same design", flush=True)
    for each in missing:
        print(f"NOT CHECKED: {each}", flush=True)
    return NOT_DONE if missing else 0


def in_typescript(folder: Path, running: Service) -> Any:
    """Types from one tool, calls by a small library of its makers."""
    needs("node", "npm")
    place = folder / "typescript"
    place.mkdir()
    shutil.copy(HERE / "design.ts", place)
    (place / "package.json").write_text('{"type": "module"}')
    fetched("npm", "install", "--no-audit", "--no-fund", "--silent", *NODE_TOOLS, place=place)
    done("npx", "openapi-typescript", str(CONTRACT), "--default-non-nullable", "false", "-o", "contract.ts", place=place)
    strictly = ("--strict", "--target", "es2022", "--module", "nodenext", "--outDir", "out")
    done("npx", "tsc", *strictly, "design.ts", place=place)
    return asked(folder, running, "node", "typescript/out/design.js")


def in_python(folder: Path, running: Service) -> Any:
    """The generator for many languages."""
    needs("java")
    python = python_tools(folder)
    generated(folder, "python", "one")
    done(str(python), "-m", "pip", "install", "--quiet", "./one", place=folder)
    return asked(folder, running, str(python), "-c", ONE)


def in_python_again(folder: Path, running: Service) -> Any:
    """The generator for Python alone."""
    python = python_tools(folder)
    tool = str(python.with_name("openapi-python-client"))
    done(tool, "generate", "--path", str(CONTRACT), "--output-path", "other", "--meta", "none", place=folder)
    return asked(folder, running, str(python), "-c", OTHER)


def in_go(folder: Path, running: Service) -> Any:
    """The generator for many languages; compiled with Debian's libraries."""
    needs("java", "go")
    if not (GO_LIBRARIES / "src/gopkg.in/validator.v2").exists():
        raise Missing("Debian's golang-gopkg-validator.v2-dev is not installed")
    python_tools(folder)
    source, main_ = folder / "gopath/src/wattpair", folder / "gopath/src/design"
    generated(folder, "go", str(source))
    main_.mkdir()
    shutil.copy(HERE / "design.go", main_)
    where = {"GO111MODULE": "off", "GOPATH": f"{folder / 'gopath'}:{GO_LIBRARIES}", "GOCACHE": str(folder / "gocache")}
    done("go", "build", "-o", "design", "design", place=folder, more=where)
    return asked(folder, running, "./design")


LANGUAGES: dict[str, Callable[[Path, Service], Any]] = {
    "TypeScript": in_typescript,
    "Python": in_python,
    "Python, another generator": in_python_again,
    "Go": in_go,
}


def needs(*programs: str) -> None:
    """Raise Missing where one of these is not installed."""
    for program in programs:
        if shutil.which(program) is None:
            raise Missing(f"{program} is not installed")


def python_tools(folder: Path) -> Path:
    """An environment with both generators, made once; its interpreter."""
    python = folder / "tools" / "bin" / "python"
    if not python.with_name("openapi-generator-cli").exists():
        venv.create(folder / "tools", with_pip=True)
        fetched(str(python), "-m", "pip", "install", "--quiet", *PYTHON_TOOLS, place=folder)
    return python


def generated(folder: Path, language: str, target: str) -> None:
    """A client by the generator for many languages."""
    tool = str(folder / "tools/bin/openapi-generator-cli")
    name = f"packageName={Path(target).name}"
    done(tool, "generate", "-i", str(CONTRACT), "-g", language, "-o", target, "--additional-properties", name, place=folder)


def asked(folder: Path, running: Service, *command: str) -> Any:
    """What a client prints of a design."""
    return json.loads(done(*command, running.url, str(folder / REQUEST), place=folder))


def done(*command: str, place: Path, more: dict[str, str] | None = None) -> str:
    """Run a command; returns what it prints."""
    run = subprocess.run(command, cwd=place, env={**os.environ, **(more or {})}, capture_output=True, text=True, check=False)
    if run.returncode != 0:
        raise SystemExit(f"{' '.join(command)[:200]} ended with {run.returncode}:\n{(run.stdout + run.stderr)[-4000:]}")
    return run.stdout


def fetched(*command: str, place: Path) -> None:
    """Run what asks a registry; Missing where it cannot be reached."""
    try:
        done(*command, place=place)
    except SystemExit as error:
        raise Missing(str(error)) from error


if __name__ == "__main__":
    sys.exit(main())
