"""densitometry."""
