"""Write the generated pages of docs/ anew."""

from pathlib import Path

from obverse.reference.page import sources_page
from obverse.workbench.demo import story_series_text

DOCS = Path(__file__).parents[1] / "docs"

(DOCS / "sources.md").write_text(sources_page(), encoding="utf-8")
(DOCS / "teaching-film-a.json").write_text(story_series_text(), encoding="utf-8")
