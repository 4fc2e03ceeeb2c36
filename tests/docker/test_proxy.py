"""The small server's proxy, as its file has it, in front of two copies: TLS, what stays inside, a copy that goes away."""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
import requests

import wattpair
from tests.contract.bodies import example
from tests.load.server import Service, free_port, service, wait_until
from wattpair_service.api import keys

CONFIGURATION = Path(__file__).resolve().parents[2] / "docker" / "proxy.conf"
KEY = keys.new_key()


@pytest.fixture(scope="module")
def copies(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path, list[Service]]]:
    """Address of the proxy, its certificate, and the copies behind it."""
    nginx = shutil.which("nginx")
    assert nginx, "nginx is needed: apt-get install nginx-light"
    folder, port = tmp_path_factory.mktemp("proxy"), free_port()
    certificate, private = folder / "certificate.pem", folder / "certificate.key"
    command = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=localhost"]
    command += ["-addext", "subjectAltName=IP:127.0.0.1", "-keyout", str(private), "-out", str(certificate)]
    subprocess.run(command, check=True, capture_output=True, timeout=60)
    keys_file = folder / "keys.toml"
    keys_file.write_text(keys.entry("crm", KEY))
    with service(folder, workers=1, keys_file=keys_file) as one, service(folder, workers=1, keys_file=keys_file) as two:
        text = CONFIGURATION.read_text(encoding="utf-8")
        for written, here in {
            "/var/cache/nginx/": f"{folder}/",
            "server one:8080": f"server 127.0.0.1:{one.port}",
            "server two:8080": f"server 127.0.0.1:{two.port}",
            "listen 8443": f"listen 127.0.0.1:{port}",
            "/run/secrets/certificate_key": str(private),
            "/run/secrets/certificate": str(certificate),
        }.items():
            assert written in text
            text = re.sub(rf"{re.escape(written)}\b" if written[-1].isalnum() else re.escape(written), here, text)
        (folder / "nginx.conf").write_text("daemon off;\n" + ("user root;\n" if os.geteuid() == 0 else "") + text)
        log = (folder / "nginx.log").open("wb")
        with log, subprocess.Popen([nginx, "-p", str(folder), "-c", str(folder / "nginx.conf")], stderr=log) as process:
            try:
                url = f"https://127.0.0.1:{port}"
                wait_until(lambda: _answers(url, certificate), 20, "the proxy answers")
                yield url, certificate, [one, two]
            finally:
                process.send_signal(signal.SIGTERM)


def _answers(url: str, certificate: Path) -> bool:
    try:
        return requests.get(f"{url}/health/live", verify=str(certificate), timeout=5).status_code == 200
    except requests.ConnectionError:
        return False


def test_the_client_calculates_through_it_and_the_counts_stay_inside(copies: tuple[str, Path, list[Service]]) -> None:
    url, certificate, _ = copies
    with requests.Session() as session:
        session.trust_env, session.verify = False, str(certificate)  # the machine may have a bundle of its own
        with wattpair.Client(url, session=session, headers={"Authorization": f"Bearer {KEY}"}) as client:
            assert client.check_ready().status == "ready"
            assert client.size_pairings(**example("size_pairings")).pairings
        assert session.get(f"{url}/metrics", headers={"Authorization": f"Bearer {KEY}"}, timeout=20).status_code == 404
        assert session.post(f"{url}/v1/sizing", json={}, timeout=20).status_code == 401
        assert session.post(f"{url}/v1/sizing", data=b" " * 9_000_000, timeout=20).status_code == 413
        answer = session.get(f"{url}/health/live", timeout=20)
        assert answer.headers["Strict-Transport-Security"]
        assert answer.headers["X-Request-ID"]


def test_where_one_copy_is_gone_the_other_answers(copies: tuple[str, Path, list[Service]]) -> None:
    url, certificate, (one, _) = copies
    one.process.send_signal(signal.SIGTERM)
    one.process.wait(40)
    with requests.Session() as session:
        session.trust_env, session.verify = False, str(certificate)  # the machine may have a bundle of its own
        with wattpair.Client(url, session=session, retries=0, headers={"Authorization": f"Bearer {KEY}"}) as client:
            for _ in range(10):
                assert client.size_pairings(**example("size_pairings")).pairings
