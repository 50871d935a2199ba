"""Sheets of paper: mix sheet, evening, exposure card, labels, as PDF."""
