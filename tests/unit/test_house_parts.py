"""The small parts that every page uses."""

import json
import re
from types import SimpleNamespace

import pytest

from obverse.foundation import Caution, Level
from obverse.web.pages import caution_document, json_island, number, page


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [(1.234, 2, "1.23"), (-0.5, 1, "−0.5"), (-0.001, 2, "0.00"), (None, 2, "–"), (float("nan"), 2, "–"), (3, 0, "3")],
)
def test_numbers_for_the_eye(value, digits, text):
    assert number(value, digits) == text


def test_data_for_scripts_cannot_end_its_block():
    data = {"name": "</script><script>alert(1)</script>", "and": "a & b <!--"}
    block = str(json_island("x", data))
    assert block.count("</script>") == 1 and "<!--" not in block
    assert json.loads(re.search(r">(.*)</script>", block)[1]) == data
    with pytest.raises(ValueError, match="JSON compliant"):
        json_island("x", {"a": float("nan")})


def test_cautions_come_with_a_word():
    assert caution_document(Caution("a", "b", Level.DANGER))["word"] == "Danger"
    assert caution_document({"text": "x"})["word"] == "Caution"
    with pytest.raises(ValueError, match="shout"):
        caution_document({"text": "x", "level": "shout"})


def test_what_a_person_wrote_is_text_on_the_page(client):
    app = client.app
    request = SimpleNamespace(app=app, url=SimpleNamespace(path="/"), scope={}, client=None)
    error = SimpleNamespace(sentence="<img src=x onerror=alert(1)> is no film.", where="")
    assert "<img" not in page(request, "house/error.html", title="x", error=error).body.decode()
