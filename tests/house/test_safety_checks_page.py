"""The page of outside checks claims no more than is run, holds enough, and every file names its source."""

import ast
import importlib.util
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
_spec = importlib.util.spec_from_file_location("checks_page", ROOT / "tests" / "published" / "page.py")
page = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(page)


@pytest.fixture(scope="module")
def counted():
    return page.checks_by_file()


def test_the_page_claims_no_more_than_is_run(counted):
    rows = re.findall(
        r"\]\(\.\./(tests/published/test_\w+\.py)\).*\| (\d+) \|$", page.PAGE.read_text(encoding="utf-8"), re.MULTILINE
    )
    assert rows
    for file, claimed in rows:
        assert 0 < int(claimed) <= counted[file], f"{file}: run python tests/published/page.py"


def test_the_page_is_what_the_maker_makes(counted):
    assert len(re.findall(r"^\| \[", page.checks_page(counted), re.MULTILINE)) == len(counted)


def test_there_are_enough_of_the_shelf_and_the_bench(counted):
    assert sum(n for file, n in counted.items() if "_bench_" in file or "_safety_" in file) >= 150


@pytest.mark.parametrize("file", sorted((ROOT / "tests" / "published").glob("test_*.py")), ids=lambda f: f.stem)
def test_every_file_says_where_its_numbers_come_from(file):
    text = (ast.get_docstring(ast.parse(file.read_text(encoding="utf-8"))) or "").lower()
    assert any(
        word in text
        for word in ("source", "iso ", "record", "standard", "handbook", "iec ", "from memory", "published", "textbook")
    )
