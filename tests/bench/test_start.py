"""The start: what the first painted page does not need is not loaded for it."""

import subprocess
import sys
from pathlib import Path

import cv2

ROOT = Path(__file__).resolve().parents[2]
HEAVY = ("pikepdf", "ssl", "http.client", "email.message", "importlib.metadata", "tifffile")


def test_the_window_opens_without_what_only_some_files_need():
    code = f"import sys, app.bench.opening; print(*[m for m in {HEAVY} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True,
                          check=True)
    assert done.stdout.split() == []


def test_steps_that_take_the_whole_page_have_all_cores_in_the_window(opened):
    assert cv2.getNumThreads() == opened.bench.workers.cores
