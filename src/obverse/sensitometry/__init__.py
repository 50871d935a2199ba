"""sensitometry."""
