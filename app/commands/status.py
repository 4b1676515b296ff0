"""The exit statuses of the command line."""

ALL_DONE = 0
SOME_FAILED = 1
"""A page failed, or something would print that should not."""

WRONG_REQUEST = 2
STOPPED = 130
"""Ctrl-C, as shells count it: 128 and the signal's number."""
