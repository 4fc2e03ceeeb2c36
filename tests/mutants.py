"""Measures what the tests notice: `python -m tests.mutants`.

A fixed sample of small changes ("mutants"), made by cosmic-ray, is tried one after another in a copy of the tree: each against
the tests that run its line, cheapest first, until one fails. What lives is printed as a diff. It takes half an hour or more and
is no part of `tests/check.py`. Which tests run a line comes from one run of all tests under coverage; `--map FOLDER` keeps it.
"""

from __future__ import annotations

import argparse
import difflib
import hashlib
import itertools
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import Queue
from typing import Any

import coverage
import pytest
from cosmic_ray.ast import ast_nodes, get_ast_from_path
from cosmic_ray.mutating import mutate_code, use_mutation
from cosmic_ray.plugins import get_operator, operator_names

ROOT = Path(__file__).resolve().parents[1]
SERVICE, CLIENT = "service/wattpair_service", "sdk/src/wattpair"
AREAS = {
    "engineering": (60, (f"{SERVICE}/engineering/**/*.py",)),
    "climate": (20, (f"{SERVICE}/climate/**/*.py",)),
    "api": (20, (f"{SERVICE}/api/**/*.py",)),
    "client": (20, (f"{CLIENT}/*.py",)),
}
"""Mutants to try in each part of the tree, and its files; the client's models and methods restate the contract."""
LEFT_OUT = ("build.py",)
"""Rebuilds the built-in climate by hand, and no test runs it."""
OPERATORS_LEFT_OUT = ("ExceptionReplacer", "RemoveDecorator", "BitOr", "BitAnd", "BitXor", "LShift", "RShift")
"""Their mutants change nothing that one could see (a cache is gone), or are an error whatever is asked (`2.0 << 1.0`)."""
CONTRACT_TEST = "tests/contract/test_contract.py::test_the_committed_description_is_what_the_code_writes"
"""Looks at all of `api`, but when it is imported, so that no line is told to be run by it."""
TESTS_MAX_S = 20.0
"""Tests tried against one mutant, by the time that they took without it."""
HANGS_S = 180.0
"""After this the tests are taken to hang, and the mutant for noticed: they may have to start a service first."""


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change: the file, cosmic-ray's operator, which of its places in the file, and where that begins and ends."""

    file: str
    operator: str
    occurrence: int
    start: tuple[int, int]
    end: tuple[int, int]


@dataclass(frozen=True, slots=True)
class Tried:
    """A mutant with what came of it: `noticed` or not, by how many tests, and its diff."""

    mutant: Mutant
    noticed: bool
    tests: int
    diff: str


def mutants_of(file: str) -> Iterator[Mutant]:
    """Every change that cosmic-ray can make to a file, but for annotations, which are not run, and settings of dataclasses."""
    tree = get_ast_from_path(ROOT / file)
    nodes = list(ast_nodes(tree))
    for operator in sorted(operator_names()):
        made = get_operator(operator)
        if made.arguments() or any(each in operator for each in OPERATORS_LEFT_OUT):
            continue
        places = [(node, start, end) for node in nodes for start, end in made().mutation_positions(node)]
        for occurrence, (node, start, end) in enumerate(places):
            if not _in_annotation_or_decorator(node):
                yield Mutant(file, operator, occurrence, start, end)


def _in_annotation_or_decorator(node: Any) -> bool:
    while node.parent is not None:
        parent = node.parent
        after_colon = parent.type in ("annassign", "tfpdef") and node is parent.children[1]
        returned = parent.type == "funcdef" and node is parent.annotation
        if after_colon or returned or parent.type == "decorator":
            return True
        node = parent
    return False


def sample(per_hundred: int) -> list[Mutant]:
    """The same mutants as long as the code is the same, one at a place; `per_hundred` scales how many of each part."""
    chosen: list[Mutant] = []
    for count, patterns in AREAS.values():
        files = sorted({str(path.relative_to(ROOT)) for pattern in patterns for path in ROOT.glob(pattern)})
        every = [mutant for file in files if Path(file).name not in LEFT_OUT for mutant in mutants_of(file)]
        every.sort(key=lambda each: hashlib.sha256(f"{each.file} {each.operator} {each.occurrence}".encode()).digest())
        one_at_a_place = {(each.file, each.start): each for each in reversed(every)}
        usable = (each for each in every if one_at_a_place[each.file, each.start] is each and _compiles(each))
        chosen += itertools.islice(usable, count * per_hundred // 100)
    return chosen


def _compiles(mutant: Mutant) -> bool:
    """Whether the change is still Python: the star of a parameter list is no product."""
    code = (ROOT / mutant.file).read_text(encoding="utf-8")
    changed = mutate_code(code, get_operator(mutant.operator)(), mutant.occurrence)
    try:
        compile(changed or "", mutant.file, "exec")
    except SyntaxError:
        return False
    return True


class Map:
    """Which tests run a line, and how long each takes [s]."""

    def __init__(self, folder: Path) -> None:
        self._data = coverage.CoverageData(str(folder / "coverage"))
        self._data.read()
        self._files = {_in_tree(file): file for file in self._data.measured_files()}
        self._seconds = dict(_durations(folder / "tests.xml"))

    def tests(self, mutant: Mutant) -> list[str]:
        """The tests that run its lines, cheapest first; those that run any line of its file where an import alone runs them."""
        measured = self._files.get(mutant.file)
        if measured is None:
            return []
        contexts = self._data.contexts_by_lineno(measured)
        found = {name for line in range(mutant.start[0], mutant.end[0] + 1) for name in contexts.get(line, ())}
        if not any(found):
            found = {name for names in contexts.values() for name in names}
        tests = {name.partition("|")[0] for name in found} & self._seconds.keys()
        chosen, left_s = [], TESTS_MAX_S
        for test in sorted(tests, key=lambda each: (self._seconds[each], each)):
            left_s -= self._seconds[test]
            if left_s < 0.0:
                break
            chosen.append(test)
        return [*chosen, CONTRACT_TEST] if mutant.file.startswith(f"{SERVICE}/api") else chosen


def _in_tree(file: str) -> str:
    for root in ("service/wattpair_service/", "sdk/src/wattpair/"):
        if root in file:
            return root + file.rpartition(root)[2]
    return file


def _durations(report: Path) -> Iterator[tuple[str, float]]:
    for case in ElementTree.parse(report).iter("testcase"):
        module = case.attrib["file"].removesuffix(".py").replace("/", ".")
        classes = case.attrib["classname"].removeprefix(module).split(".")[1:]
        yield "::".join([case.attrib["file"], *classes, case.attrib["name"]]), float(case.attrib["time"])


def make_map(folder: Path) -> None:
    """Run all tests once under coverage, each test a context of its own."""
    folder.mkdir(parents=True, exist_ok=True)
    subprocess.run(
        [sys.executable, "-m", "pytest", "--numprocesses=auto", "--cov", "--cov-report=", "--cov-context=test",
         "-o", "junit_family=xunit1", f"--junitxml={folder / 'tests.xml'}"],
        cwd=ROOT, env={**os.environ, "COVERAGE_FILE": str(folder / "coverage")}, check=True,
    )  # fmt: skip


def try_out(mutant: Mutant, tests: Sequence[str], tree: Path) -> Tried:
    """Change the file in a copy of the tree and run the tests until one fails."""
    file = tree / mutant.file
    with use_mutation(file, get_operator(mutant.operator)(), mutant.occurrence) as (before, after):
        old, new = before.splitlines(), (after or "").splitlines()
        diff = "\n".join(difflib.unified_diff(old, new, mutant.file, mutant.operator, lineterm="", n=1))
        noticed = bool(tests) and not _pass(tests, tree)
    return Tried(mutant, noticed, len(tests), diff)


def _pass(tests: Sequence[str], tree: Path) -> bool:
    paths = os.pathsep.join(str(tree / folder) for folder in ("service", "sdk/src", "."))
    arguments = tree / "tests.txt"
    arguments.write_text("\n".join(tests), encoding="utf-8")
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", f"@{arguments}"]
    environment = {**os.environ, "PYTHONPATH": paths, "PYTHONDONTWRITEBYTECODE": "1"}
    pipe = subprocess.PIPE
    process = subprocess.Popen(
        command, cwd=tree, env=environment, stdout=pipe, stderr=subprocess.STDOUT, start_new_session=True
    )
    try:
        out, _ = process.communicate(timeout=HANGS_S)
    except subprocess.TimeoutExpired:
        os.killpg(process.pid, signal.SIGKILL)  # with the servers that it started
        process.communicate()
        return False
    if process.returncode == pytest.ExitCode.NO_TESTS_COLLECTED:
        raise RuntimeError(out.decode()[-2000:])
    return process.returncode == 0


def copies(folder: Path, count: int) -> Queue[Path]:
    """Copies of the tree as git knows it, for as many mutants at once."""
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True).stdout.decode()
    trees: Queue[Path] = Queue()
    for number in range(count):
        tree = folder / str(number)
        for file in filter(None, listed.split("\0")):
            if (ROOT / file).is_file():
                (tree / file).parent.mkdir(parents=True, exist_ok=True)
                shutil.copy(ROOT / file, tree / file)
        trees.put(tree)
    return trees


def main() -> int:
    """Try the sample and print what lives; returns the exit status."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--map", type=Path, help="folder of a map that was kept, or where to keep it")
    parser.add_argument(
        "--per-hundred", type=int, default=100, help="how much of the sample, in hundredths; more than 100 draws more"
    )
    parser.add_argument("--jobs", type=int, default=2, help="mutants tried at once")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="wattpair-mutants-") as name:
        folder: Path = options.map or Path(name) / "map"
        if not (folder / "tests.xml").exists():
            make_map(folder)
        known = Map(folder)
        trees = copies(Path(name), options.jobs)

        def one(mutant: Mutant) -> Tried:
            tree = trees.get()
            try:
                return try_out(mutant, known.tests(mutant), tree)
            finally:
                trees.put(tree)

        with ThreadPoolExecutor(options.jobs) as pool:
            tried = []
            for each in pool.map(one, sample(options.per_hundred)):
                tried.append(each)
                print(f"{'noticed' if each.noticed else 'LIVES'} ({each.tests} tests) {each.mutant}", flush=True)
    for each in tried:
        if not each.noticed:
            print(each.diff)
    for area, (_, patterns) in AREAS.items():
        start = patterns[0].partition("*")[0]
        part = [each for each in tried if each.mutant.file.startswith(start)]
        print(f"{area}: {sum(each.noticed for each in part)} of {len(part)} mutants noticed")
    share = sum(each.noticed for each in tried) / len(tried)
    print(f"mutants noticed: {sum(each.noticed for each in tried)} of {len(tried)} ({share:.1%})")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
