"""Hypothesis for every test: no deadline, and the same examples each time where CI is set."""

import os

from hypothesis import settings

settings.register_profile("here", max_examples=50, deadline=None)
settings.register_profile("ci", max_examples=50, deadline=None, derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "here")
