"""Write the generated pages of docs/ anew."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from obverse.reference.page import sources_page
from obverse.workbench.demo import story_series_text
from scripts import api_pages, house_map, portability, schema_pages

DOCS = Path(__file__).parents[1] / "docs"

(DOCS / "sources.md").write_text(sources_page(), encoding="utf-8")
(DOCS / "teaching-film-a.json").write_text(story_series_text(), encoding="utf-8")
house_map.PICTURE.write_text(house_map.picture(), encoding="utf-8")
api_pages.FOLDER.mkdir(exist_ok=True)
for stale in api_pages.FOLDER.glob("*.md"):
    stale.unlink()
for name, text in api_pages.pages().items():
    (api_pages.FOLDER / name).write_text(text, encoding="utf-8")
schema_pages.FOLDER.mkdir(exist_ok=True)
for name, text in schema_pages.pages().items():
    (schema_pages.FOLDER / name).write_text(text, encoding="utf-8")
house_map.PAGE.write_text(house_map.page(), encoding="utf-8")
portability.PAGE.write_text(portability.page(), encoding="utf-8")
