"""Every page a link can lead to is served by the place that made it."""

import pytest


@pytest.mark.parametrize(
    "path",
    [
        "/",
        "/shelf",
        "/shelf/care",
        "/bench",
        "/bench/adapt",
        "/sink",
        "/light-table",
        "/light-table/picture",
        "/notebook",
        "/notebook/recipes",
        "/notebook/past-strips",
        "/projector",
        "/projector/slides",
        "/share",
    ],
)
def test_every_page_stands(client, path):
    answer = client.get(path, headers={"accept": "text/html"})
    assert answer.status_code == 200 and "<h1" in answer.text
