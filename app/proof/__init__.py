"""Proving a page before the plate is made: what would print, what would be lost, and what to do."""
