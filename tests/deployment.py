"""The small server of `docker/compose.yaml` on this machine: two copies, Redis, and nginx with TLS by the files that ship."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import socket
import ssl
import subprocess
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import requests

from tests.running import SERVE, Service, free_port, started, wait_until
from wattpair_service.api.guards import keys

PROXY = Path(__file__).resolve().parents[1] / "docker/proxy"
START_S = 60.0
IMAGE_ENVIRONMENT = {
    line.split("=")[0].removeprefix("ENV ").strip(): line.split("=")[1].strip(" \\")
    for line in (PROXY.parent / "Dockerfile").read_text(encoding="utf-8").splitlines()
    if "MALLOC_" in line
}
"""How the image has memory handed out."""


@dataclass(slots=True)
class Copy:
    """One copy of the service, which can be stopped and started again on the same port."""

    folder: Path
    settings: dict[str, object]
    command: list[str]
    running: Service | None = None
    stack: contextlib.ExitStack = field(default_factory=contextlib.ExitStack)

    @property
    def service(self) -> Service:
        assert self.running is not None, "the copy is stopped"
        return self.running

    def start(self) -> None:
        log = Path(tempfile.mkstemp(".log", "copy-", self.folder)[1])
        self.running = self.stack.enter_context(started(self.command, log, environment=IMAGE_ENVIRONMENT, **self.settings))
        wait_until(lambda: is_live(self.service.url), START_S, "the copy lives")

    def stop(self) -> int:
        """As an orchestrator does; gives the exit status."""
        self.service.process.send_signal(signal.SIGTERM)
        status = self.service.process.wait(60)
        self.stack.close()
        self.running = None
        return status

    @property
    def worker(self) -> int:
        """Process id of the copy's worker."""
        wait_until(lambda: len(self.service.workers) == 1, 20, "the copy has one worker")
        (worker,) = self.service.workers
        return worker


@dataclass(frozen=True, slots=True)
class Deployment:
    """What runs: the proxy's port and log, the copies, the certificate, and a key."""

    folder: Path
    port: int
    copies: tuple[Copy, ...]
    certificate: Path
    api_key: str
    redis: subprocess.Popen[bytes] | None

    @property
    def url(self) -> str:
        return f"https://127.0.0.1:{self.port}"

    @contextlib.contextmanager
    def session(self, api_key: str | None = None) -> Iterator[requests.Session]:
        """Trusts the certificate alone: the machine may have a bundle of its own."""
        with requests.Session() as session:
            session.trust_env, session.verify = False, str(self.certificate)
            session.headers["Authorization"] = f"Bearer {api_key or self.api_key}"
            yield session

    def connect(self, timeout_s: float = 30.0) -> ssl.SSLSocket:
        """A connection of one's own, for what no client library would send."""
        context = ssl.create_default_context(cafile=str(self.certificate))
        plain = socket.create_connection(("127.0.0.1", self.port), timeout_s)
        return context.wrap_socket(plain, server_hostname="127.0.0.1")

    def lines(self) -> list[dict[str, Any]]:
        """What proxy and copies have written; every line must be JSON."""
        return [json.loads(line) for line in self.logs().splitlines() if line]

    def logs(self) -> str:
        """All that proxy and copies have written."""
        return "\n".join(each.read_text(encoding="utf-8") for each in sorted(self.folder.rglob("*.log")))


def is_live(url: str, certificate: Path | None = None) -> bool:
    """Whether the service answers there."""
    try:
        return requests.get(f"{url}/health/live", verify=str(certificate), timeout=5).status_code == 200
    except (requests.ConnectionError, requests.Timeout):  # the port may be open before the worker is there
        return False


@contextlib.contextmanager
def deployed(
    folder: Path,
    *,
    command: list[str] = SERVE,
    proxy: dict[str, str] | None = None,
    redis: bool = False,
    per_minute: int = 1_000_000,
    copies: int = 2,
    api_key: str | None = None,
    **settings: object,
) -> Iterator[Deployment]:
    """The whole; `proxy` changes texts of its files, `settings` are the copies'."""
    certificate, private = certificate_in(folder)
    api_key, keys_file = api_key or keys.new_key(), folder / "keys.toml"
    keys_file.write_text(keys.entry("crm", api_key) + f"requests_per_minute = {per_minute}\n")
    with contextlib.ExitStack() as stack:
        given: dict[str, object] = {"keys_file": keys_file} | settings
        counting = None
        if redis:
            redis_port = free_port()
            counting = stack.enter_context(redis_server(folder, redis_port))
            given["redis_url"] = f"redis://127.0.0.1:{redis_port}/0"
        running = tuple(Copy(folder, given | {"port": free_port()}, command) for _ in range(copies))
        for each in running:
            stack.callback(each.stack.close)
            each.start()
        ports = [int(str(each.settings["port"])) for each in running]
        port = stack.enter_context(behind_nginx(folder, ports, certificate, private, proxy or {}))
        yield Deployment(folder, port, running, certificate, api_key, counting)


def certificate_in(folder: Path) -> tuple[Path, Path]:
    """A certificate of this machine's loopback, and its key."""
    certificate, private = folder / "certificate.pem", folder / "certificate.key"
    command = [
        "openssl",
        "req",
        "-x509",
        "-newkey",
        "ec",
        "-pkeyopt",
        "ec_paramgen_curve:prime256v1",
        "-nodes",
        "-days",
        "2",
        "-subj",
        "/CN=localhost",
    ]
    command += ["-addext", "subjectAltName=IP:127.0.0.1", "-keyout", str(private), "-out", str(certificate)]
    subprocess.run(command, check=True, capture_output=True, timeout=60)
    return certificate, private


@contextlib.contextmanager
def behind_nginx(folder: Path, ports: list[int], certificate: Path, private: Path, changes: dict[str, str]) -> Iterator[int]:
    """nginx by the files of the small server, with these changes, in front of copies at these ports; gives its own port."""
    nginx = shutil.which("nginx")
    assert nginx, "nginx is needed: apt-get install nginx-light"
    place, port = Path(tempfile.mkdtemp(prefix="nginx-", dir=folder)), free_port()
    here = {
        "/var/cache/nginx/": f"{place}/",
        "/dev/stdout": f"{place}/access.log",
        "/dev/stderr": f"{place}/error.log",
        "server one:8080": f"server 127.0.0.1:{ports[0]}",
        "server two:8080": f"server 127.0.0.1:{ports[-1]}",
        "listen 8443": f"listen 127.0.0.1:{port}",
        "/run/secrets/certificate;": f"{certificate};",
        "/run/secrets/certificate_key;": f"{private};",
        **changes,
    }
    texts = {each.name: each.read_text(encoding="utf-8") for each in (PROXY / "nginx.conf", *(PROXY / "server").iterdir())}
    for written, changed in here.items():
        assert any(written in text for text in texts.values()), written
        texts = {name: text.replace(written, changed) for name, text in texts.items()}
    (place / "here").mkdir()
    for name, text in texts.items():
        file = place / name if name == "nginx.conf" else place / "here" / name
        file.write_text(text)
    user = "user root;\n" if os.geteuid() == 0 else ""
    (place / "nginx.conf").write_text(f"daemon off;\n{user}" + texts["nginx.conf"])
    with subprocess.Popen([nginx, "-p", str(place), "-c", str(place / "nginx.conf")], stderr=subprocess.DEVNULL) as process:
        try:
            wait_until(lambda: is_live(f"https://127.0.0.1:{port}", certificate), START_S, "the proxy answers")
            yield port
        finally:
            process.send_signal(signal.SIGTERM)


@contextlib.contextmanager
def redis_server(folder: Path, port: int) -> Iterator[subprocess.Popen[bytes]]:
    """Redis, once it listens."""
    program = shutil.which("redis-server")
    assert program, "redis-server is needed: apt-get install redis-server"
    command = [program, "--bind", "127.0.0.1", "--port", str(port), "--save", "", "--dir", str(folder)]

    def listens() -> bool:
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 1):
            return True
        return False

    with subprocess.Popen(command, stdout=subprocess.DEVNULL) as process:
        try:
            wait_until(listens, 10, "Redis listens")
            yield process
        finally:
            process.kill()
