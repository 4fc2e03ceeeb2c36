"""Asks the real service for random valid designs and orders in every form: `python -m tests.contract.forms --designs 2000`.

A request that has an answer as JSON must have it as HTML in each language and on each paper, as CSV and, every tenth, as PDF.
"""

from __future__ import annotations

import argparse
import csv
import io
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from itertools import product
from pathlib import Path

from hypothesis import HealthCheck, Phase, given, seed, settings, strategies as st

from tests.contract.bodies import Body
from tests.contract.random_requests import designs, orders
from tests.running import Answer, service
from wattpair_service.engineering.sentences import LANGUAGES
from wattpair_service.report.house import PAPERS

JSON, HTML, PDF, CSV = "application/json", "text/html", "application/pdf", "text/csv"
SHEETS = tuple(product(LANGUAGES, PAPERS))
PDF_EVERY = 10

Post = Callable[[str, Body, str], Answer]
"""Asks an operation for a body in a form."""


def forms_of_a_design(post: Post, body: Body, *, with_pdf: bool) -> Counter[str]:
    """Ask for a design in every form; counts the answers by form and status.

    Raises
    ------
    AssertionError
        A form that differs from the JSON in its status, or is none.
    """
    answer, asked = _asked(post, "design_roof", body, JSON), Counter[str]()
    asked[f"JSON {answer.status}"] += 1
    pages = [(HTML, language, paper) for language, paper in SHEETS]
    for form, language, paper in [*pages, *([(PDF, *SHEETS[len(str(body)) % len(SHEETS)])] if with_pdf else [])]:
        page = _asked(post, "design_roof", body | {"sheet": {"language": language, "paper": paper}}, form)
        assert page.status == answer.status, f"{form} {language} {paper}: {page.status} {page.body[:2000]!r}"
        if answer.status == 200:
            assert page.body.rstrip().endswith(b"</html>" if form == HTML else b"%%EOF"), f"{form}: {page.body[-200:]!r}"
        asked[f"{form} {language} {paper} {page.status}"] += 1
    lines = (answer.json.get("bill_of_materials") or {"lines": []})["lines"] if answer.status == 200 else []
    asked += _csv(post, "design_roof", body, answer.status, lines)
    return asked


def forms_of_an_order(post: Post, body: Body) -> Counter[str]:
    """Ask for a bill of materials as JSON and CSV; raises and counts as `forms_of_a_design`."""
    answer = _asked(post, "list_materials", body, JSON)
    asked = Counter({f"order JSON {answer.status}": 1})
    return asked + _csv(post, "list_materials", body, answer.status, answer.json.get("lines", []))


def _csv(post: Post, operation_id: str, body: Body, status: int, lines: list[Body]) -> Counter[str]:
    table = _asked(post, operation_id, body, CSV)
    assert table.status == status, f"{CSV}: {table.status} {table.body[:2000]!r}"
    if status == 200:
        rows = list(csv.DictReader(io.StringIO(table.body.decode("utf-8"), newline=""), strict=True))
        assert [row["role"] for row in rows] == [line["role"] for line in lines]
    return Counter({f"{operation_id} CSV {table.status}": 1})


def _asked(post: Post, operation_id: str, body: Body, form: str) -> Answer:
    answer = post(operation_id, body, form)
    assert answer.status < 500, f"{form}: {answer.status} {answer.body[:2000]!r}"
    return answer


def _random(strategy: st.SearchStrategy[Body], count: int, number: int) -> Iterator[Body]:
    """Random requests; hypothesis draws the same ones from the same seed."""
    drawn: list[Body] = []

    @seed(number)
    @settings(
        max_examples=count, database=None, deadline=None, phases=[Phase.generate], suppress_health_check=list(HealthCheck)
    )
    @given(strategy)
    def draw(body: Body) -> None:
        drawn.append(body)

    draw()
    yield from drawn


def main() -> None:
    """Ask, and print how many answers of each form and status there were."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--designs", type=int, default=60)
    parser.add_argument("--orders", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    asked = Counter[str]()
    with tempfile.TemporaryDirectory() as logs, service(Path(logs)) as running:

        def post(operation_id: str, body: Body, form: str) -> Answer:
            return running.post(operation_id, body, {"Accept": form})

        for number, body in enumerate(_random(designs(), options.designs, options.seed)):
            asked += forms_of_a_design(post, body, with_pdf=number % PDF_EVERY == 0)
        for body in _random(orders(), options.orders, options.seed):
            asked += forms_of_an_order(post, body)
    for form, count in sorted(asked.items()):
        print(f"{count:6} {form}")


if __name__ == "__main__":
    main()
