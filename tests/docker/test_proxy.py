"""The small server's proxy, as its file has it, in front of two copies: TLS, what stays inside, a copy that goes away."""

from __future__ import annotations

import contextlib
import json
import os
import re
import shutil
import signal
import socket
import ssl
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from http import HTTPStatus
from pathlib import Path

import pytest
import requests

import wattpair
from tests.contract.bodies import example
from tests.running import SERVE, Service, free_port, started, wait_until
from wattpair_service.api.exchange.problems import TYPE_PREFIX, Problem
from wattpair_service.api.guards import keys

CONFIGURATION = Path(__file__).resolve().parents[2] / "docker" / "proxy.conf"
KEY = keys.new_key()
SIZING = example("size_pairings")


@dataclass(frozen=True, slots=True)
class Copies:
    """Two copies of the service, and what a proxy in front of them needs."""

    folder: Path
    certificate: Path
    key: Path
    services: list[Service]

    @contextlib.contextmanager
    def session(self, api_key: str | None = KEY) -> Iterator[requests.Session]:
        """Trusts the certificate alone: the machine may have a bundle of its own."""
        with requests.Session() as session:
            session.trust_env, session.verify = False, str(self.certificate)
            session.headers.update({"Authorization": f"Bearer {api_key}"} if api_key else {})
            yield session

    @contextlib.contextmanager
    def behind_proxy(self, name: str, changes: dict[str, str] | None = None) -> Iterator[str]:
        """The address of a proxy by the file, with these changes."""
        nginx = shutil.which("nginx")
        assert nginx, "nginx is needed: apt-get install nginx-light"
        folder, port = self.folder / name, free_port()
        folder.mkdir()
        one, two = self.services
        text = CONFIGURATION.read_text(encoding="utf-8")
        for written, here in {
            "/var/cache/nginx/": f"{folder}/",
            "server one:8080": f"server 127.0.0.1:{one.port}",
            "server two:8080": f"server 127.0.0.1:{two.port}",
            "listen 8443": f"listen 127.0.0.1:{port}",
            "/run/secrets/certificate_key": str(self.key),
            "/run/secrets/certificate": str(self.certificate),
            **(changes or {}),
        }.items():
            assert written in text
            text = re.sub(rf"{re.escape(written)}\b" if written[-1].isalnum() else re.escape(written), here, text)
        (folder / "nginx.conf").write_text("daemon off;\n" + ("user root;\n" if os.geteuid() == 0 else "") + text)
        log = (folder / "nginx.log").open("wb")
        with log, subprocess.Popen([nginx, "-p", str(folder), "-c", str(folder / "nginx.conf")], stderr=log) as process:
            try:
                url = f"https://127.0.0.1:{port}"
                wait_until(lambda: _answers(url, self.certificate), 20, "the proxy answers")
                yield url
            finally:
                process.send_signal(signal.SIGTERM)


@pytest.fixture(scope="module")
def copies(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Copies]:
    folder = tmp_path_factory.mktemp("proxy")
    certificate, private = folder / "certificate.pem", folder / "certificate.key"
    command = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=localhost"]
    command += ["-addext", "subjectAltName=IP:127.0.0.1", "-keyout", str(private), "-out", str(certificate)]
    subprocess.run(command, check=True, capture_output=True, timeout=60)
    keys_file = folder / "keys.toml"
    keys_file.write_text(keys.entry("crm", KEY))
    with started(SERVE, workers=1, keys_file=keys_file) as one, started(SERVE, workers=1, keys_file=keys_file) as two:
        running = Copies(folder, certificate, private, [one, two])
        wait_until(lambda: all(_answers(each.url) for each in running.services), 40, "both copies live")
        yield running


@pytest.fixture(scope="module")
def url(copies: Copies) -> Iterator[str]:
    """Address of the proxy as it is."""
    with copies.behind_proxy("as-it-is") as address:
        yield address


def _answers(url: str, certificate: Path | None = None) -> bool:
    try:
        return requests.get(f"{url}/health/live", verify=str(certificate), timeout=5).status_code == 200
    except requests.ConnectionError:
        return False


def test_the_client_calculates_through_it_and_the_counts_stay_inside(copies: Copies, url: str) -> None:
    with copies.session() as session, copies.session(None) as stranger:
        with wattpair.Client(url, session=session) as client:
            assert client.check_ready().status == "ready"
            assert client.size_pairings(**SIZING).pairings
        assert session.get(f"{url}/metrics", timeout=20).status_code == 404
        assert stranger.post(f"{url}/v1/sizing", json={}, timeout=20).status_code == 401
        assert session.post(f"{url}/v1/sizing", data=b" " * 9_000_000, timeout=20).status_code == 413
        answer = stranger.get(f"{url}/health/live", timeout=20)
        assert answer.headers["Strict-Transport-Security"]
        assert answer.headers["X-Request-ID"]


def require_told_to_wait(response: requests.Response, known_as: str) -> None:
    """The proxy refuses as the service would."""
    problem = response.json()
    assert response.headers["Content-Type"] == "application/problem+json"
    assert (response.headers["Retry-After"], response.headers["X-Request-ID"]) == ("1", known_as)
    assert response.headers["Strict-Transport-Security"]
    assert response.status_code == problem["status"] == 429
    names = problem["type"], problem["title"], problem["request_id"]
    assert names == (f"{TYPE_PREFIX}too-many-requests", "Too Many Requests", known_as)
    assert problem.keys() == json.loads(Problem(HTTPStatus.TOO_MANY_REQUESTS, "", "").document("")).keys()


def test_an_address_that_asks_too_often_is_told_to_wait(copies: Copies) -> None:
    changes = {"rate=100r/s": "rate=1r/m", "burst=200": "burst=3"}
    with copies.behind_proxy("often", changes) as url, copies.session() as session:
        answers = [session.get(f"{url}/health/live", timeout=20, headers={"X-Request-ID": "asked-1"}) for _ in range(6)]
    assert [each.status_code for each in answers] == [200] * 3 + [429] * 3  # one more has asked whether the proxy answers
    for each in answers[3:]:
        require_told_to_wait(each, "asked-1")


def test_a_run_of_many_calls_rests_where_its_address_asks_too_often_and_gets_every_answer(copies: Copies) -> None:
    statuses: list[int | None] = []
    changes = {"rate=100r/s": "rate=5r/s", "burst=200": "burst=4"}
    asked = [SIZING | {"site": SIZING["site"] | {"latitude_deg": 40.0 + number}} for number in range(12)]
    with (
        copies.behind_proxy("many", changes) as url,
        copies.session() as session,
        wattpair.Client(url, session=session, on_exchange=lambda exchange: statuses.append(exchange.status)) as client,
    ):
        outcomes = list(client.iter_many(client.size_pairings, asked, workers=8))
    assert [each.error for each in outcomes] == [None] * 12
    assert set(statuses) == {200, 429}
    assert statuses.count(200) == 12


def test_an_address_with_too_many_requests_at_once_is_told_to_wait(copies: Copies) -> None:
    context = ssl.create_default_context(cafile=str(copies.certificate))
    changes = {"limit_conn connections 100": "limit_conn connections 5", "client_body_timeout 10s": "client_body_timeout 60s"}
    with copies.behind_proxy("at-once", changes) as url, copies.session() as session, contextlib.ExitStack() as stack:

        def asked() -> requests.Response:
            quoted = {"X-Request-ID": '","status":200,"x":"', "Connection": "close"}
            return session.get(f"{url}/health/live", timeout=20, headers=quoted)

        def begin_a_request() -> None:
            plain = stack.enter_context(socket.create_connection(("127.0.0.1", int(url.rpartition(":")[2])), 20))
            client = stack.enter_context(context.wrap_socket(plain, server_hostname="127.0.0.1"))
            client.sendall(
                b"POST /v1/sizing HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 5\r\n\r\n"
            )

        for _ in range(4):
            begin_a_request()
        assert asked().status_code == 200
        begin_a_request()
        wait_until(lambda: asked().status_code == 429, 20, "all five count")
        refused = asked()
        assert re.fullmatch("[0-9a-f]{32}", refused.headers["X-Request-ID"])
        require_told_to_wait(refused, refused.headers["X-Request-ID"])


def test_where_one_copy_is_gone_the_other_answers(copies: Copies) -> None:
    one, _ = copies.services
    with copies.behind_proxy("one-gone") as url, copies.session() as session:
        one.process.send_signal(signal.SIGTERM)
        one.process.wait(40)
        with wattpair.Client(url, session=session, retries=0) as client:
            for _ in range(10):
                assert client.size_pairings(**SIZING).pairings
