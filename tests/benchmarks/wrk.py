"""wrk, the load generator of Debian's packages, for some seconds on this machine."""

from __future__ import annotations

import json
import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

SCRIPT = Path(__file__).with_name("post.lua")
TIMEOUT_S = 30


@dataclass(frozen=True, slots=True)
class Load:
    """Rate of requests, and how long they waited for their answers [ms]."""

    requests_per_s: float
    p50_ms: float
    p99_ms: float
    requests: int


def installed() -> str:
    """Path of the program; a RuntimeError says how to get it."""
    program = shutil.which("wrk")
    if program is None:
        raise RuntimeError("wrk is not installed; on Debian: apt-get install wrk")
    return program


def load(url: str, bodies: list[str], *, connections: int, seconds: int) -> Load:
    """Post bodies in turn over some connections, each as fast as its answers come.

    Raises
    ------
    RuntimeError
        wrk is missing or cannot reach the server, or not every answer was 200.
    """
    program = installed()
    with tempfile.NamedTemporaryFile("w", suffix=".jsonl") as file:
        file.write("\n".join(bodies) + "\n")
        file.flush()
        # One thread: what the load generator takes of the machine is not there for the server.
        call = [program, "-t1", f"-c{connections}", f"-d{seconds}s", f"--timeout={TIMEOUT_S}s", "-s", str(SCRIPT), url]
        done = subprocess.run([*call, "--", file.name], capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise RuntimeError(f"wrk against {url} ended with {done.returncode}: {done.stdout}{done.stderr}")
    found = json.loads(done.stdout.strip().splitlines()[-1])
    if found["refused"] or found["failed"] or not found["requests"]:
        raise RuntimeError(f"{url} under load: not every request was answered with 200: {found}")
    return Load(found["requests"] / found["seconds"], found["p50_ms"], found["p99_ms"], found["requests"])
