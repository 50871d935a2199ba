"""The race over films of other worlds: which films, how they are seen, who learns, and the table."""
