"""A headless browser, driven by the W3C WebDriver protocol over plain HTTP."""

import base64
import json
import shutil
import subprocess
import tempfile
import urllib.request
from pathlib import Path

import pytest

ARGUMENTS = (
    "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--no-first-run", "--window-size=1280,1600",
)


class Browser:
    """One session; as a context manager. Skips the test where there is no browser."""

    def __enter__(self):
        driver, browser = shutil.which("chromedriver"), shutil.which("chromium")
        if not driver or not browser:
            pytest.skip("Chromium and its driver are not installed (Debian: chromium-driver)")
        self.home = tempfile.TemporaryDirectory()
        self.process = subprocess.Popen(
            [driver, "--port=0"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
        )
        port = next(line.rstrip(".\n").rpartition(" ")[2] for line in self.process.stdout
                    if "started successfully on port" in line)
        self.base = f"http://127.0.0.1:{port}/session"
        options = {"binary": browser, "args": [*ARGUMENTS, f"--user-data-dir={self.home.name}"]}
        asked = {"browserName": "chrome", "goog:chromeOptions": options,
                 "goog:loggingPrefs": {"browser": "ALL"}}
        made = self._call("POST", "", {"capabilities": {"alwaysMatch": asked}})
        self.base += "/" + made["sessionId"]
        return self

    def __exit__(self, *_):
        self._call("DELETE", "")
        self.process.terminate()
        self.process.wait()
        self.process.stdout.close()
        self.home.cleanup()

    def _call(self, method, path, body=None):
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(self.base + path, data, method=method)
        with urllib.request.urlopen(request, timeout=60) as answer:
            return json.load(answer)["value"]

    def open(self, path: Path) -> None:
        """Load a file and wait until it and its pictures are there."""
        self._call("POST", "/url", {"url": path.as_uri()})

    def run(self, script: str):
        """What a piece of JavaScript returns."""
        return self._call("POST", "/execute/sync", {"script": script, "args": []})

    def log(self) -> list[str]:
        """What the console has said."""
        return [entry["message"] for entry in self._call("POST", "/se/log", {"type": "browser"})]

    def printed(self) -> bytes:
        """The page as it is printed, as PDF."""
        return base64.b64decode(self._call("POST", "/print", {}))

    def screenshot(self) -> bytes:
        """The window as PNG."""
        return base64.b64decode(self._call("GET", "/screenshot"))
