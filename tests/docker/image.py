"""Builds the image from its Dockerfile and runs it: `python -m tests.docker.image`.

Where a Docker engine answers, it builds on the pinned bases and runs the image as compose.yaml does. Elsewhere mmdebstrap makes
the bases from Debian's packages, buildah builds with chroot isolation (both come with apt-get), and the image runs as its own
user on a root that nobody can write to, in a mount namespace. Where that cannot be (no root, no Debian, no network), it says
NOT CHECKED and why, and has an exit status of its own. Only the standard library is needed.
"""

from __future__ import annotations

import contextlib
import hashlib
import http.client
import json
import os
import re
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
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
LOCK = ROOT / "docker" / "requirements.lock"
NOT_DONE = 77
"""Exit status of a check that could not be made here and has said why; `tests/check.py` repeats it in its last line."""
SUITE = "bookworm"
TOOLS = ("mmdebstrap", "buildah")
BASES = {"build": "python3,python3-venv,python3-pip,ca-certificates", "run": "python3,ca-certificates"}
CERTIFICATES = ("/etc/ssl/certs", "/usr/share/ca-certificates", "/usr/local/share/ca-certificates")
IMAGE = "localhost/wattpair-service"
USER = 10001
FORBIDDEN = ("pip", "pip3", "gcc", "cc", "make", "ld", "git", "curl")
PREPARE_S, RUN_S, CLEAN_S = 600, 240, 60
"""Together a quarter of an hour of the gate. Tools, bases and build hang on the network: where they take longer, nothing was
checked. A service that takes longer has failed."""
START_S, STOP_S = 60, 60
WRITABLE = "/dev/shm"
INSIDE = """
set -e
root=$1 keys=$2; shift 2
mount --bind "$root" "$root"
mount --bind "$keys" "$root/mnt"
for each in dev proc sys; do mount --rbind "/$each" "$root/$each"; done
mount -t tmpfs -o size=64m,mode=1777 tmpfs "$root/dev/shm"
mount -o remount,bind,ro "$root/mnt"
mount -o remount,bind,ro "$root"
exec setpriv --no-new-privs chroot --userspec={user}:{user} --groups= "$root" env -i "$@"
"""
"""What a container is made of, as compose.yaml and Kubernetes have it: the image's root, which nobody writes to, memory at
/dev/shm, the operator's files, and the image's own user without privileges or a way to them."""
PROBE = """
import errno, json, sys
told = {}
for folder in sys.argv[1:]:
    try:
        open(folder + "/probe", "x").close()
        told[folder] = "written"
    except OSError as error:
        told[folder] = errno.errorcode[error.errno]
print(json.dumps(told))
"""


class TooSlowError(Exception):
    """The time is up."""


class NotPossibleError(Exception):
    """Why nothing can be checked here."""


def main() -> int:
    """Build, look at it, run it, clean up; returns the exit status."""
    signal.signal(signal.SIGALRM, too_slow)
    with tempfile.TemporaryDirectory(prefix="wattpair-image-") as name:
        folder = Path(name)
        folder.chmod(0o755)  # its owner is root, and the image's user goes through it
        try:
            return check(folder)
        except subprocess.CalledProcessError as error:
            return failed(str(error))
        finally:
            signal.alarm(CLEAN_S)
            with contextlib.suppress(TooSlowError, subprocess.CalledProcessError):
                buildah(folder, "rm", "--all")
            signal.alarm(0)


def check(folder: Path) -> int:
    """Each part in its time; returns the exit status."""
    signal.alarm(PREPARE_S)
    engine = has_engine()
    try:
        if engine:
            run(["docker", "build", "--quiet", "--file", "docker/Dockerfile", "--tag", IMAGE, "."])
        else:
            require_tools()
            make_bases(folder)
            build(folder)
    except NotPossibleError as reason:
        return not_checked(str(reason))
    except TooSlowError:
        return not_checked(f"it could not be built here within {PREPARE_S} s")
    signal.alarm(RUN_S)
    try:
        (run_in_engine if engine else look_and_run)(folder)
    except TooSlowError:
        return failed(f"it did not do all that is asked of it within {RUN_S} s")
    print("image: built and run")
    return 0


def has_engine() -> bool:
    """Whether a Docker engine answers."""
    if shutil.which("docker") is None:
        return False
    return subprocess.run(["docker", "info"], capture_output=True, check=False, timeout=30).returncode == 0


def run_in_engine(folder: Path) -> None:
    """Run it as compose.yaml does, and ask it."""
    key, keys = key_in(folder)
    port = free_port()
    command = ["docker", "run", "--rm", "--read-only", "--cap-drop=ALL", "--security-opt=no-new-privileges:true"]
    command += ["--shm-size=64m", f"--publish=127.0.0.1:{port}:8080", f"--volume={keys}:/mnt:ro"]
    with serving([*command, "--env=WATTPAIR_KEYS_FILE=/mnt/keys.toml", IMAGE], port, folder / "service.log"):
        ask_all(port, key)
    require_usual_log(folder)


def key_in(folder: Path) -> tuple[str, Path]:
    """A key, and the folder with the file that knows it."""
    key, keys = secrets.token_urlsafe(32), folder / "keys"
    keys.mkdir()
    (keys / "keys.toml").write_text(f'[[key]]\nname = "check"\nsha256 = "{hashlib.sha256(key.encode()).hexdigest()}"\n')
    return key, keys


def require_usual_log(folder: Path) -> None:
    """No line that an operator would look twice at, but the one that a proxy is expected."""
    lines = [json.loads(line) for line in (folder / "service.log").read_text().splitlines()]
    odd = [line for line in lines if line["level"] not in ("info", "debug") and "a proxy" not in line["message"]]
    expect(not odd, f"nothing in the log but its usual lines {odd}")


def locked() -> tuple[dict[str, str], set[str]]:
    """Version of each dependency of the lock, and those that some Pythons do without."""
    text = LOCK.read_text(encoding="utf-8")
    return (
        dict(re.findall(r"^([a-z0-9-]+)==([^ ]+)", text, re.MULTILINE)),
        set(re.findall(r"^([a-z0-9-]+)==[^ ]+ ;", text, re.MULTILINE)),
    )


def too_slow(*_: object) -> None:
    """End what is under way."""
    raise TooSlowError


def not_checked(reason: str) -> int:
    """Say so; returns the exit status."""
    print(f"image: NOT CHECKED: {reason}")
    return NOT_DONE


def failed(what: str) -> int:
    """Say so; returns the exit status."""
    print(f"image: FAILED: {what}")
    return 1


def expect(holds: bool, what: str) -> None:
    """End the check where something does not hold."""
    if not holds:
        raise SystemExit(failed(what))
    print(f"image: {what}: yes", flush=True)


def require_tools() -> None:
    """Install what is missing; NotPossibleError where that cannot be."""
    if os.geteuid() != 0:
        raise NotPossibleError("building needs root")
    try:
        run(["unshare", "--mount", "true"])
    except subprocess.CalledProcessError as error:
        raise NotPossibleError("no mount namespace may be made here") from error
    absent = [tool for tool in TOOLS if shutil.which(tool) is None]
    if not absent:
        return
    if shutil.which("apt-get") is None:
        raise NotPossibleError(f"{' and '.join(absent)} missing, and there is no apt-get to install them")
    apt = ["apt-get", "-o", "DPkg::Lock::Timeout=120", "-qq"]
    try:
        run([*apt, "update"])
        run([*apt, "install", "--yes", "--no-install-recommends", *absent])
    except subprocess.CalledProcessError as error:
        raise NotPossibleError(f"{' and '.join(absent)} cannot be installed: {error}") from error


def run(command: list[str], **environment: str) -> str:
    """What a command prints; it is told, and it must succeed. Nothing of it is left when the time is up."""
    print("image:", " ".join(part for part in command[:10] if "\n" not in part), flush=True)
    whole = os.environ | {"DEBIAN_FRONTEND": "noninteractive"} | environment
    pipe = subprocess.PIPE
    with subprocess.Popen(command, env=whole, cwd=ROOT, text=True, stdout=pipe, stderr=pipe, start_new_session=True) as process:
        try:
            out, errors = process.communicate()
        except TooSlowError:
            end(process)
            raise
    if process.returncode != 0:
        print(out[-3000:], errors[-3000:], file=sys.stderr)
        raise subprocess.CalledProcessError(process.returncode, command[:6])
    return out


def end(process: subprocess.Popen[Any]) -> None:
    """End a process with all that it started."""
    for each in (signal.SIGTERM, signal.SIGKILL):
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, each)
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(5)
            return


def buildah(folder: Path, *arguments: str) -> str:
    """What buildah prints, whose storage is the folder's own."""
    storage = ["buildah", "--storage-driver", "vfs", "--root", str(folder / "storage"), "--runroot", str(folder / "run")]
    return run([*storage, *arguments], BUILDAH_ISOLATION="chroot").strip()


def make_bases(folder: Path) -> None:
    """The two bases as images, made side by side."""
    options = ["mmdebstrap", "--variant=minbase", "--quiet"]
    making = [
        subprocess.Popen([*options, f"--include={packages}", SUITE, str(folder / f"{name}.tar")], start_new_session=True)
        for name, packages in BASES.items()
    ]
    try:
        statuses = [process.wait() for process in making]
    except TooSlowError:
        for process in making:
            end(process)
        raise
    if any(statuses):
        raise NotPossibleError(f"mmdebstrap made no base of Debian's packages ({statuses})")
    for name in BASES:
        container = buildah(folder, "from", "scratch").splitlines()[-1]
        buildah(folder, "add", "--quiet", container, str(folder / f"{name}.tar"), "/")
        buildah(folder, "commit", "--quiet", "--rm", container, f"localhost/wattpair-base-{name}")
        (folder / f"{name}.tar").unlink()


def build(folder: Path) -> None:
    """The image, with the host's certificates."""
    mounts = [f"--volume={path}:{path}:ro" for path in CERTIFICATES if Path(path).is_dir()]
    bases = [f"--build-arg={name.upper()}_BASE=localhost/wattpair-base-{name}" for name in BASES]
    buildah(
        folder, "bud", "--isolation", "chroot", "--network", "host", "--format", "docker", *mounts, *bases,
        "--file", "docker/Dockerfile", "--ignorefile", "docker/Dockerfile.dockerignore", "--tag", IMAGE, ".",
    )  # fmt: skip


def look_and_run(folder: Path) -> None:
    """Make sure of what the image promises, then start it as its user and ask it."""
    config = json.loads(buildah(folder, "inspect", "--type", "image", IMAGE))["Docker"]["config"]
    expect(config["User"] == f"{USER}:{USER}", "an unprivileged user")
    expect(config["Healthcheck"]["Test"][0] == "CMD", "a health check")
    root = Path(buildah(folder, "mount", buildah(folder, "from", IMAGE).splitlines()[-1]))
    look(root)
    key, keys = key_in(folder)
    port = free_port()
    settings = ["WATTPAIR_HOST=127.0.0.1", f"WATTPAIR_PORT={port}", "WATTPAIR_KEYS_FILE=/mnt/keys.toml"]
    inside = ["unshare", "--mount", "sh", "-c", INSIDE.format(user=USER), "sh", str(root), str(keys), *config["Env"], *settings]
    folders = ["", "/tmp", "/var/tmp", "/run", "/mnt", "/opt/wattpair", WRITABLE]
    told = json.loads(run([*inside, "python3", "-c", PROBE, *folders]))
    expect(told == dict.fromkeys(folders, "EROFS") | {WRITABLE: "written"}, f"a root that cannot be written to {told}")
    with serving([*inside, *config["Cmd"]], port, folder / "service.log") as master:
        for process in (master, *children(master)):
            expect(is_unprivileged(process), f"process {process} without privileges")
        ask_all(port, key)
        run([*inside, *config["Healthcheck"]["Test"][1:]])
        left = [path.name for path in Path(f"/proc/{master}/root{WRITABLE}").iterdir()]
        expect(not left, f"nothing is left in memory {left}")
    require_usual_log(folder)


def look(root: Path) -> None:
    """What lies in the image and what does not."""
    places = ("usr/bin", "usr/local/bin", "opt/wattpair/bin")
    found = [tool for tool in FORBIDDEN for place in places if (root / place / tool).exists()]
    expect(not found and not [*root.glob("usr/**/ensurepip")], f"no build tools {found}")
    owned = [path for path in (root / "opt/wattpair").rglob("*") if path.lstat().st_uid == USER]
    expect(not owned, "nothing of the service belongs to the user that runs it")
    about = [path.name.removesuffix(".dist-info").split("-") for path in root.glob("opt/wattpair/lib/*/*/*.dist-info")]
    installed = {re.sub(r"[-_.]+", "-", name).lower(): version for name, version in about}
    del installed["wattpair-service"]
    known, conditional = locked()
    expect(installed.items() <= known.items(), f"{len(installed)} dependencies, each of them locked")
    absent = set(known) - set(installed)
    expect(absent <= conditional, f"all that is locked for this Python {sorted(absent)}")


def ask_all(port: int, key: str) -> None:
    """What a caller finds."""
    expect(ask(port, "/health/ready")[0] == 200, "ready")
    expect(ask(port, "/metrics")[0] == 401, "a key is asked for")
    expect(ask(port, "/metrics", key)[0] == 200, "a key is taken")
    _, example = ask(port, "/examples/compute_clipping.json")
    status, answer = ask(port, "/v1/clipping", key, example)
    expect(status == 200 and bool(json.loads(answer)["totals"]), "a calculation is answered")
    expect(ask(port, "/v1/clipping", key, b"{}")[0] == 422, "a bad one is refused")


@contextlib.contextmanager
def serving(command: list[str], port: int, log: Path) -> Iterator[int]:
    """The process of a service that answers; it must end well when it is told to."""
    with log.open("wb") as output:
        process = subprocess.Popen(command, stdout=output, stderr=output, start_new_session=True)
    try:
        stop = time.monotonic() + START_S
        while not answers(port):
            if process.poll() is not None or time.monotonic() > stop:
                raise SystemExit(failed(f"the service did not start:\n{log.read_text()[-3000:]}"))
            time.sleep(0.2)
        yield process.pid
        process.terminate()
        expect(process.wait(STOP_S) == 0, "a good end")
    finally:
        end(process)


def children(process: int) -> list[int]:
    """The processes that a process started."""
    return [int(each) for each in Path(f"/proc/{process}/task/{process}/children").read_text().split()]


def is_unprivileged(process: int) -> bool:
    """Whether a process is the image's user in every respect, can do nothing that root can, and never will."""
    status = dict(line.split(":\t", 1) for line in Path(f"/proc/{process}/status").read_text().splitlines() if ":\t" in line)
    users = {*status["Uid"].split(), *status["Gid"].split(), *status["Groups"].split()}
    return users == {str(USER)} and int(status["CapEff"], 16) == int(status["CapPrm"], 16) == 0 and status["NoNewPrivs"] == "1"


def free_port() -> int:
    """A port of the loopback that is free now; the image shares it."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def answers(port: int) -> bool:
    """Whether anything answers."""
    with contextlib.suppress(OSError, http.client.HTTPException):
        return ask(port, "/health/live")[0] == 200
    return False


def ask(port: int, path: str, key: str = "", body: bytes | None = None) -> tuple[int, bytes]:
    """Status and body of the answer to one request."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    headers = {"Content-Type": "application/json"} | ({"Authorization": f"Bearer {key}"} if key else {})
    with contextlib.closing(connection):
        connection.request("GET" if body is None else "POST", path, body, headers)
        response = connection.getresponse()
        return response.status, response.read()


if __name__ == "__main__":
    raise SystemExit(main())
