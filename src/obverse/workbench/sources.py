"""Every number of the house, as a page and as a document."""

from obverse.foundation import JsonObject
from obverse.reference import records, sources_page

__all__ = ["sources_document", "sources_page"]


def sources_document() -> JsonObject:
    """Every record by its key, as far as JSON can hold it: value, unit, standing, source."""
    return {
        "records": [
            {
                "key": record.key,
                "quantity": record.quantity,
                "value": record.value,
                "unit": record.unit,
                "standing": record.source.standing.value,
                "source": record.source.text,
            }
            for record in records().values()
        ]
    }
