"""What the audit of the locked dependencies makes of an advisory service that answers, errs, or is not there."""

from __future__ import annotations

import json
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

from docker import NOT_DONE, audit
from tests import check
from tests.running import free_port

ADVISORY = {"id": "PYSEC-0", "aliases": [], "affected": [], "published": "2026-01-01T00:00:00Z", "summary": "an invented one"}
FOUND = json.dumps({"vulns": [ADVISORY]})


@pytest.fixture
def lock(tmp_path: Path) -> Path:
    """A lock with one dependency."""
    file = tmp_path / "requirements.lock"
    file.write_text(f"flask==3.1.3 \\\n    --hash=sha256:{'0' * 64}\n")
    return file


@contextmanager
def advisories(status: int, body: str) -> Iterator[str]:
    """The address of a service that always answers so."""

    class Always(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            self.rfile.read(int(self.headers["Content-Length"]))
            self.send_response(status)
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body.encode())

        def log_message(self, *_: object) -> None:
            """Keep still."""

    with ThreadingHTTPServer(("127.0.0.1", 0), Always) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_port}/"
        server.shutdown()


@pytest.mark.parametrize(
    ("status", "body", "ended", "said"),
    [
        pytest.param(200, "{}", 0, "1 dependencies audited, 0 could not be, 0 advisories", id="none"),
        pytest.param(200, FOUND, 1, "flask: PYSEC-0", id="one"),
        pytest.param(500, "", 1, "FAILED: the auditor ended with 1", id="error"),
        pytest.param(403, "not from here", 1, "FAILED", id="refused", marks=pytest.mark.release),
        pytest.param(200, "<html>please log in</html>", 1, "FAILED", id="a page", marks=pytest.mark.release),
        pytest.param(200, '{"vulns": 3}', 1, "FAILED", id="another form", marks=pytest.mark.release),
    ],
)
def test_a_service_that_answers(
    lock: Path, capsys: pytest.CaptureFixture[str], status: int, body: str, ended: int, said: str
) -> None:
    with advisories(status, body) as url:
        assert audit.main(["--lock", str(lock), "--url", url]) == ended
    assert said in "".join(capsys.readouterr())


@pytest.mark.release
def test_an_advisory_that_does_not_concern_the_service(lock: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(audit.ACCEPTED, "PYSEC-0", "for this test")
    with advisories(200, FOUND) as url:
        assert audit.main(["--lock", str(lock), "--url", url]) == 0


@pytest.mark.parametrize("host", ["127.0.0.1", pytest.param("nowhere.invalid", marks=pytest.mark.release)])
def test_a_service_that_cannot_be_reached(lock: Path, capsys: pytest.CaptureFixture[str], host: str) -> None:
    assert audit.main(["--lock", str(lock), "--url", f"http://{host}:{free_port()}/"]) == NOT_DONE
    assert "NOT AUDITED: the advisory service cannot be reached" in capsys.readouterr().out


@pytest.mark.release
@pytest.mark.parametrize("text", ["flask\n", "flask==3.1.3\n", "", "===\n"])
def test_a_lock_that_is_none(lock: Path, text: str) -> None:
    lock.write_text(text)
    with advisories(200, "{}") as url:
        assert audit.main(["--lock", str(lock), "--url", url]) == 1


@pytest.mark.parametrize(
    ("names", "failed", "last"),
    [
        (["good"], [], "all checks passed"),
        (["good", "other"], [], "all checks passed, but NOT DONE: other (the reason stands with it above)"),
        (["other", "bad"], ["bad (--seed 1)"], "failed: bad (--seed 1); NOT DONE: other (the reason stands with it above)"),
    ],
)
def test_what_was_not_done_stands_in_the_last_line_of_all_checks(
    capfd: pytest.CaptureFixture[str], names: list[str], failed: list[str], last: str
) -> None:
    assert check.NOT_DONE == NOT_DONE
    ends = {"good": "0", "other": str(NOT_DONE), "bad": "{seed}"}
    run = check.Run(Path(sys.executable), 1)
    run.side_by_side({name: check.Step(("-c", f"print('seen'); raise SystemExit({ends[name]})")) for name in names})
    assert run.failed == failed
    assert run.closing_line() == last
    assert capfd.readouterr().out.count("seen") == len(names)
