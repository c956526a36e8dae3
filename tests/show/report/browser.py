"""A headless Chromium, driven over its debugging pipe (Chrome DevTools Protocol) with nothing but the standard library."""

from __future__ import annotations

import base64
import json
import os
import select
import shutil
import subprocess
import time
from pathlib import Path
from typing import Any

PROGRAMS = ("chromium", "chromium-browser", "google-chrome", "chrome", "headless_shell")
PATIENCE_S = 60.0


def chromium() -> str | None:
    """The browser to be had here: the variable BROWSER_FOR_TESTS, or one on the PATH."""
    told = os.environ.get("BROWSER_FOR_TESTS")
    return told or next((found for name in PROGRAMS if (found := shutil.which(name))), None)


class Browser:
    """One page in one browser. `events` gathers what the browser tells of itself."""

    def __init__(self, program: str, profile: Path) -> None:
        asked_r, self._asked = os.pipe()
        self._told, told_w = os.pipe()
        flags = (
            *("--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-sync"),
            *(
                "--disable-component-update",
                "--disable-dev-shm-usage",
                "--hide-scrollbars",
                f"--user-data-dir={profile}",
                "--remote-debugging-pipe",
            ),
        )

        def wire() -> None:  # the protocol's own file descriptors: 3 to ask, 4 to tell
            a, b = os.dup(asked_r), os.dup(told_w)
            os.dup2(a, 3)
            os.dup2(b, 4)

        self.process = subprocess.Popen(
            [program, *flags, "about:blank"], preexec_fn=wire, close_fds=False, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        os.close(asked_r)
        os.close(told_w)
        self._count, self._rest, self.events = 0, b"", list[dict[str, Any]]()
        self._session = ""
        pages = self.ask("Target.getTargets")["targetInfos"]
        target = next(page["targetId"] for page in pages if page["type"] == "page")
        self._session = self.ask("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.ask(f"{domain}.enable")

    def __enter__(self) -> Browser:
        return self

    def __exit__(self, *_: object) -> None:
        self.process.kill()
        self.process.wait()
        os.close(self._asked)
        os.close(self._told)

    def ask(self, method: str, **parameters: Any) -> Any:
        """One call, and its result."""
        self._count += 1
        message = {"id": self._count, "method": method, "params": parameters} | ({"sessionId": self._session} if self._session else {})
        os.write(self._asked, json.dumps(message).encode() + b"\0")
        number = self._count
        while True:
            got = self._next()
            if got.get("id") == number:
                assert "error" not in got, got
                return got["result"]
            self.events.append(got)

    def _next(self) -> dict[str, Any]:
        until = time.monotonic() + PATIENCE_S
        while b"\0" not in self._rest:
            ready, _, _ = select.select([self._told], [], [], max(until - time.monotonic(), 0))
            assert ready, "the browser does not answer"
            piece = os.read(self._told, 1 << 20)
            assert piece, "the browser is gone"
            self._rest += piece
        line, self._rest = self._rest.split(b"\0", 1)
        got: dict[str, Any] = json.loads(line)
        return got

    def open(self, file: Path, width: int, height: int = 900, dark: bool = False) -> None:
        """A page of so many px, as a reader sees it who prefers dark or light."""
        self.ask("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=width < 500)
        self.ask("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}])
        self.events.clear()
        self.ask("Page.navigate", url=file.resolve().as_uri())
        until = time.monotonic() + PATIENCE_S
        while not any(event.get("method") == "Page.loadEventFired" for event in self.events):
            assert time.monotonic() < until, "the page does not load"
            self.events.append(self._next())
        self.run("Promise.all([...document.images].map(image => image.decode()))")

    def run(self, script: str) -> Any:
        """The value of a script in the page."""
        done = self.ask("Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True)
        assert "exceptionDetails" not in done, done
        return done["result"].get("value")

    def screenshot(self, file: Path, full: bool = True) -> None:
        """The whole page as PNG."""
        file.write_bytes(base64.b64decode(self.ask("Page.captureScreenshot", format="png", captureBeyondViewport=full)["data"]))

    def pdf(self) -> bytes:
        """The page as it is printed."""
        return base64.b64decode(self.ask("Page.printToPDF", printBackground=True, preferCSSPageSize=True)["data"])
