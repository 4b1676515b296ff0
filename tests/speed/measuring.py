"""What the benchmarks share: a page, runs taken in turn, peak memory of a process of its own."""

import os
import platform
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import cv2
import numpy as np

A3_600 = (9921, 7016)
"""Rows and columns of an A3 page (297 x 420 mm) at 600 ppi."""

RUNS = 7


def a_page(shape: tuple[int, int] = A3_600, seed: int = 7) -> np.ndarray:
    """Paper at 228 with tooth and sensor noise, and strokes that the tooth breaks over a tenth."""
    chance = np.random.default_rng(seed)
    height, width = shape
    small = chance.normal(0, 1, (height // 6 + 1, width // 6 + 1)).astype(np.float32)
    tooth = cv2.resize(small, (width, height), interpolation=cv2.INTER_CUBIC)
    cover = np.zeros(shape, np.uint8)
    for _ in range(max(1, height * width // 60_000)):
        x, y = (int(at) for at in chance.integers(0, (width, height)))
        angle, length = chance.uniform(0, np.pi), chance.uniform(0.01, 0.05) * height
        end = (int(x + length * np.cos(angle)), int(y + length * np.sin(angle)))
        press = int(chance.integers(110, 255))
        cv2.line(cover, (x, y), end, press, int(chance.integers(3, 16)), cv2.LINE_AA)
    page = chance.standard_normal(shape, np.float32) * 1.2 + 228 + tooth * 2.2
    page -= cover * np.clip(0.75 + 0.15 * tooth, 0, 0.85)
    return np.clip(page, 0, 255).astype(np.uint8)


@contextmanager
def memory_disk() -> Iterator[Path]:
    """A folder in memory where the system has one, so that no disk is measured."""
    shm = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=shm if shm.is_dir() else None) as folder:
        yield Path(folder)


def in_turn(sides: Mapping[str, Callable[[], object]], runs: int = RUNS) -> dict[str, float]:
    """Median seconds of each side; the sides take turns, so a slow spell hits all alike."""
    times: dict[str, list[float]] = {name: [] for name in sides}
    for side in sides.values():
        side()  # warm up
    for _ in range(runs):
        for name, side in sides.items():
            start = time.perf_counter()
            side()
            times[name].append(time.perf_counter() - start)
    return {name: statistics.median(taken) for name, taken in times.items()}


def peak_of(code: str, *arguments: str) -> tuple[float, float]:
    """Peak memory in MB and wall seconds of ``code`` run by a Python of its own."""
    # not getrusage: a child begins with its parent's high-water mark there
    probe = (
        f"{code}\nimport re, sys\n"
        "said = open('/proc/self/status').read()\n"
        "sys.stderr.write(re.search(r'VmHWM:\\s*(\\d+)', said)[1])"
    )
    start = time.perf_counter()
    ran = subprocess.run(
        [sys.executable, "-c", probe, *arguments], capture_output=True, text=True, check=True,
    )
    return int(ran.stderr.split()[-1]) / 1024, time.perf_counter() - start


def machine() -> str:
    """One line about where the figures come from."""
    return (
        f"{os.cpu_count()} cores, {platform.machine()}, Python {platform.python_version()}, "
        f"numpy {np.__version__}, medians of {RUNS} runs taken in turn"
    )


def table(head: list[str], rows: list[list[str]]) -> str:
    """A Markdown table."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


__all__ = ["A3_600", "RUNS", "a_page", "in_turn", "machine", "memory_disk", "peak_of",
           "table"]
