"""What a browser test waits for is asked in a way that may be asked again."""

import re
from pathlib import Path

BROWSER = Path(__file__).parents[1] / "browser"


def test_what_is_waited_for_in_a_page_is_a_function():
    """An expression is compiled anew at each look, which the pages forbid: it only passed where it was true at the first."""
    asked = [
        (file.name, what)
        for file in BROWSER.glob("*.py")
        for what in re.findall(r"wait_for_function\(\s*(\S+(?: \S+)?)", file.read_text())
    ]
    assert len(asked) > 8
    assert [each for each in asked if not re.search(r"^f?[\"'](\(\)|\w+) =>", each[1])] == []
