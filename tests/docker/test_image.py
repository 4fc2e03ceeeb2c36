"""The check of the image ends in time, leaves nothing behind, and tells what it could not do from what failed."""

from __future__ import annotations

import contextlib
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.docker import image
from tests.docker.image import NOT_DONE
from tests.running import wait_until

SLEEP_S = "86399.5"


@pytest.fixture(autouse=True)
def without_buildah(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Nothing is built here: each test says what becomes of the steps."""
    monkeypatch.setattr(image, "buildah", lambda *_: "")
    monkeypatch.setattr(image, "has_engine", lambda: False)
    for step in ("require_tools", "make_bases", "build", "look_and_run"):
        monkeypatch.setattr(image, step, lambda *_: None)
    before = signal.getsignal(signal.SIGALRM)
    yield
    assert signal.alarm(0) == 0, "no alarm is left"
    signal.signal(signal.SIGALRM, before)


def require_nothing_left() -> None:
    """All that was started has ended; what was killed a moment ago may still be seen."""

    def none_sleeps() -> bool:
        lines = []
        for path in Path("/proc").glob("[0-9]*/cmdline"):
            with contextlib.suppress(OSError):  # it has ended since it was found
                lines.append(path.read_bytes())
        return not any(line.startswith(b"sleep\0" + SLEEP_S.encode()) for line in lines)

    wait_until(none_sleeps, 20, "all that was started has ended")


def test_all_its_time_is_a_quarter_of_an_hour() -> None:
    assert image.PREPARE_S + image.RUN_S + image.CLEAN_S <= 15 * 60
    assert image.START_S + image.STOP_S < image.RUN_S


def test_what_is_built_and_run_is_well() -> None:
    assert image.main() == 0


NOT_CHECKED = "image: NOT CHECKED: it could not be built here within 1 s"


@pytest.mark.parametrize(
    ("step", "limit", "ended", "said"),
    [
        pytest.param("require_tools", "PREPARE_S", NOT_DONE, NOT_CHECKED, marks=pytest.mark.release),
        pytest.param("make_bases", "PREPARE_S", NOT_DONE, NOT_CHECKED, marks=pytest.mark.release),
        ("build", "PREPARE_S", NOT_DONE, NOT_CHECKED),
        ("look_and_run", "RUN_S", 1, "image: FAILED: it did not do all that is asked of it within 1 s"),
    ],
)
def test_what_takes_too_long_is_ended(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], step: str, limit: str, ended: int, said: str
) -> None:
    monkeypatch.setattr(image, limit, 1)
    monkeypatch.setattr(image, step, lambda *_: image.run(["sh", "-c", f"sleep {SLEEP_S} & wait"]))
    assert image.main() == ended
    assert said in capsys.readouterr().out
    require_nothing_left()


@pytest.mark.parametrize("step", ["build", "look_and_run"])
def test_what_fails_is_a_failure_and_no_excuse(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], step: str
) -> None:
    monkeypatch.setattr(image, step, lambda *_: image.run(["false"]))
    assert image.main() == 1
    assert "image: FAILED: Command '['false']'" in capsys.readouterr().out


def test_without_root_nothing_is_checked(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.undo()
    monkeypatch.setattr(image, "buildah", lambda *_: "")
    monkeypatch.setattr(image, "has_engine", lambda: False)
    monkeypatch.setattr("os.geteuid", lambda: 1000)
    assert image.main() == NOT_DONE
    assert "NOT CHECKED: building needs root" in capsys.readouterr().out


def test_a_service_that_does_not_start_has_failed(tmp_path: Path) -> None:
    command = [sys.executable, "-c", "print('a word of why'); raise SystemExit(3)"]
    with pytest.raises(SystemExit) as ended, image.serving(command, image.free_port(), tmp_path / "log"):
        pass
    assert ended.value.code == 1


def test_a_process_of_root_is_not_unprivileged() -> None:
    with subprocess.Popen(["sleep", SLEEP_S]) as process:
        time.sleep(0.1)
        assert not image.is_unprivileged(process.pid)
        process.kill()
