"""Builds the image from its Dockerfile and runs it, on a machine without a Docker engine: `python3 docker/check.py`.

mmdebstrap makes the bases from Debian's packages, buildah builds and runs with chroot isolation. Both come with apt-get.
Where that cannot be (no root, no Debian), it says why and ends well: nothing was checked. Only the standard library is needed.
"""

from __future__ import annotations

import contextlib
import hashlib
import http.client
import json
import os
import secrets
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SUITE = "bookworm"
TOOLS = ("mmdebstrap", "buildah")
BASES = {"build": "python3,python3-venv,python3-pip,ca-certificates", "run": "python3,ca-certificates"}
CERTIFICATES = ("/etc/ssl/certs", "/usr/share/ca-certificates", "/usr/local/share/ca-certificates")
IMAGE = "localhost/wattpair-service"
USER = 10001
FORBIDDEN = ("pip", "pip3", "gcc", "cc", "make", "ld", "git", "curl")
INSTALL_S, BUILD_S, START_S, WHOLE_S = 240, 300, 60, 300


def main() -> int:
    """Build, look at it, run it; returns the exit status."""
    reason = missing()
    if reason:
        print(f"image: NOT CHECKED: {reason}")
        return 0
    with tempfile.TemporaryDirectory(prefix="wattpair-image-") as name:
        folder = Path(name)
        try:
            signal.signal(signal.SIGALRM, too_slow)
            signal.alarm(WHOLE_S)
            make_bases(folder)
            build(folder)
            signal.alarm(0)
            look_and_run(folder)
        except TooSlowError:
            print(f"image: NOT CHECKED: it could not be built here within {WHOLE_S} s")
            return 0
        finally:
            buildah(folder, "rm", "--all", check=False)
    print("image: built and run")
    return 0


class TooSlowError(Exception):
    """The machine or its network is too slow to wait for."""


def too_slow(*_: object) -> None:
    """End the building."""
    raise TooSlowError


def missing() -> str | None:
    """Why the image cannot be built here, after trying to install the tools."""
    if os.geteuid() != 0:
        return "building needs root"
    absent = [tool for tool in TOOLS if shutil.which(tool) is None]
    if not absent:
        return None
    if shutil.which("apt-get") is None:
        return f"{' and '.join(absent)} missing, and there is no apt-get to install them"
    apt = ["apt-get", "-o", "DPkg::Lock::Timeout=120", "-qq"]
    try:
        run([*apt, "update"], INSTALL_S)
        run([*apt, "install", "--yes", "--no-install-recommends", *absent], INSTALL_S)
    except (subprocess.CalledProcessError, subprocess.TimeoutExpired) as error:
        return f"{' and '.join(absent)} cannot be installed: {error}"
    return None


def run(command: list[str], seconds: int, **environment: str) -> str:
    """What a command prints; it is told, and it must succeed in time."""
    print("image:", " ".join(command[:6]), flush=True)
    whole = os.environ | {"DEBIAN_FRONTEND": "noninteractive"} | environment
    done = subprocess.run(command, timeout=seconds, env=whole, cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        print(done.stdout[-3000:], done.stderr[-3000:], file=sys.stderr)
        done.check_returncode()
    return done.stdout


def command(folder: Path, *arguments: str) -> list[str]:
    """A call of buildah whose storage is the folder's own."""
    return ["buildah", "--root", str(folder / "storage"), "--runroot", str(folder / "run"), *arguments]


def buildah(folder: Path, *arguments: str, check: bool = True, seconds: int = BUILD_S) -> str:
    """What buildah prints."""
    try:
        return run(command(folder, *arguments), seconds, STORAGE_DRIVER="vfs", BUILDAH_ISOLATION="chroot").strip()
    except subprocess.CalledProcessError:
        if check:
            raise
        return ""


def make_bases(folder: Path) -> None:
    """The two bases as images, side by side."""
    options = ["mmdebstrap", "--variant=minbase", "--quiet"]
    making = {
        name: subprocess.Popen([*options, f"--include={packages}", SUITE, str(folder / f"{name}.tar")])
        for name, packages in BASES.items()
    }
    try:
        statuses = [process.wait(INSTALL_S) for process in making.values()]
    finally:
        for process in making.values():
            process.kill()
    expect(not any(statuses), "bases were made")
    for name in making:
        container = buildah(folder, "from", "scratch").splitlines()[-1]
        buildah(folder, "add", "--quiet", container, str(folder / f"{name}.tar"), "/")
        buildah(folder, "commit", "--quiet", "--rm", container, f"localhost/wattpair-base-{name}")
        (folder / f"{name}.tar").unlink()


def build(folder: Path) -> None:
    """The image, with the host's certificates, from a copy of what git knows."""
    mounts = [f"--volume={path}:{path}:ro" for path in CERTIFICATES if Path(path).is_dir()]
    bases = [f"--build-arg={name.upper()}_BASE=localhost/wattpair-base-{name}" for name in BASES]
    buildah(
        folder, "bud", "--isolation", "chroot", "--network", "host", "--format", "docker", *mounts, *bases,
        "--file", "docker/Dockerfile", "--ignorefile", "docker/Dockerfile.dockerignore", "--tag", IMAGE, ".",
    )  # fmt: skip


def look_and_run(folder: Path) -> None:
    """Make sure of what the image promises, then start it as its user and ask it."""
    container = buildah(folder, "from", IMAGE).splitlines()[-1]
    described = json.loads(buildah(folder, "inspect", "--type", "image", IMAGE))["Docker"]["config"]
    expect(described["User"] == f"{USER}:{USER}", "an unprivileged user")
    expect(described["Healthcheck"]["Test"][0] == "CMD", "a health check")
    root = Path(buildah(folder, "mount", container))
    found = [
        tool
        for tool in FORBIDDEN
        for place in ("usr/bin", "usr/local/bin", "opt/wattpair/bin")
        if (root / place / tool).exists()
    ]
    expect(not found, f"no build tools ({found})")
    owned = [path for path in (root / "opt/wattpair").rglob("*") if path.lstat().st_uid == USER]
    expect(not owned, "nothing of the service belongs to the user that runs it")
    before = files(root)
    key = secrets.token_urlsafe(32)
    keys = folder / "keys.toml"
    keys.write_text(f'[[key]]\nname = "check"\nsha256 = "{hashlib.sha256(key.encode()).hexdigest()}"\n')
    folder.chmod(0o755)
    with serving(folder, container, keys) as port:
        expect(ask(port, "/health/ready") == 200, "ready")
        expect(ask(port, "/metrics") == 401, "a key is asked for")
        expect(ask(port, "/metrics", key) == 200, "a key is taken")
        expect(ask(port, "/v1/sizing", key, b"{}") == 422, "a calculation is reached")
        inside(folder, container, port, "python3", "/opt/wattpair/healthcheck.py")
    expect(files(root) == before, "nothing was written into its root")


def files(root: Path) -> dict[str, int]:
    """Regular files below a root with their time of change; what is mounted over it is not part of it."""
    outside = ("dev/", "proc/", "sys/", "run/", "tmp/", "etc/hosts", "etc/resolv.conf", "etc/hostname")
    names = (path for path in root.rglob("*") if path.is_file() and not path.is_symlink())
    return {name: path.stat().st_mtime_ns for path in names if not (name := str(path.relative_to(root))).startswith(outside)}


def inside(folder: Path, container: str, port: int, *arguments: str) -> None:
    """Run a program in the container, which shares the host's loopback."""
    buildah(folder, "run", "--isolation", "chroot", "--env", f"WATTPAIR_PORT={port}", container, "--", *arguments)


@contextlib.contextmanager
def serving(folder: Path, container: str, keys: Path) -> Iterator[int]:
    """The image's own command on a free loopback port; it must stop well when it is told to."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    settings = {"HOST": "127.0.0.1", "PORT": port, "KEYS_FILE": "/run/keys.toml", "WORKERS": 1}
    arguments = [item for name, value in settings.items() for item in ("--env", f"WATTPAIR_{name}={value}")]
    call = command(
        folder, "run", "--isolation", "chroot", f"--volume={keys}:/run/keys.toml:ro", *arguments, container, "--",
        "/opt/wattpair/bin/wattpair-service", "serve",
    )  # fmt: skip
    log = folder / "service.log"
    with log.open("wb") as output:
        process = subprocess.Popen(call, env=os.environ | {"STORAGE_DRIVER": "vfs"}, stdout=output, stderr=output)
    try:
        end = time.monotonic() + START_S
        while not answers(port):
            if process.poll() is not None or time.monotonic() > end:
                raise SystemExit(f"image: the service did not start:\n{log.read_text()[-3000:]}")
            time.sleep(0.2)
        yield port
    finally:
        for master in masters(log):
            with contextlib.suppress(ProcessLookupError):
                os.kill(master, 15)
        try:
            status = process.wait(START_S)
        except subprocess.TimeoutExpired:
            process.kill()
            raise
    expect(status == 0, f"a good end ({status})")


def masters(log: Path) -> list[int]:
    """The process that the log names as the one that listens; chroot isolation shares the host's process ids."""
    lines = [json.loads(line) for line in log.read_text().splitlines() if line.startswith("{")]
    return [line["process"] for line in lines if line["message"].startswith("Listening at")][-1:]


def answers(port: int) -> bool:
    """Whether anything answers."""
    with contextlib.suppress(OSError, http.client.HTTPException):
        return ask(port, "/health/live") == 200
    return False


def ask(port: int, path: str, key: str = "", body: bytes | None = None) -> int:
    """The status of one request."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    headers = {"Authorization": f"Bearer {key}"} if key else {}
    with contextlib.closing(connection):
        connection.request("GET" if body is None else "POST", path, body, headers | {"Content-Type": "application/json"})
        return connection.getresponse().status


def expect(holds: bool, what: str) -> None:
    """End the check where something does not hold."""
    if not holds:
        raise SystemExit(f"image: FAILED: {what}")
    print(f"image: {what}: yes", flush=True)


if __name__ == "__main__":
    raise SystemExit(main())
