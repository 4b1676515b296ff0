"""Frozen steps, the step list, its JSON, and folding a list over a page."""
