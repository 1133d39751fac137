"""A headless Chromium, spoken to through a pipe in its own DevTools protocol.

https://chromedevtools.github.io/devtools-protocol/ and, for the pipe, the switch
--remote-debugging-pipe: messages are JSON, each ended by a zero byte, on the
file descriptors 3 (to the browser) and 4 (from it). Nothing else is needed.
"""

import base64
import contextlib
import json
import os
import select
import shutil
import subprocess
import sys
import time
from pathlib import Path

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
SWITCHES = (
    "--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--no-first-run",
    "--disable-extensions", "--disable-background-networking", "--disable-sync",
    "--remote-debugging-pipe", "--disable-dev-shm-usage",
)  # fmt: skip
PATIENCE_S = 60.0
# Gives two of its file descriptors the numbers 3 and 4 and becomes the browser.
BECOME = """
import fcntl, os, sys
ends = [fcntl.fcntl(int(each), fcntl.F_DUPFD, 50) for each in sys.argv[1:3]]
for end, number in zip(ends, (3, 4)):
    os.dup2(end, number)
os.execv(sys.argv[3], sys.argv[3:])
"""
LETTER_IN = (8.5, 11.0)
A4_IN = (8.27, 11.69)


def chromium() -> str | None:
    """Path of a Chromium, None where none is installed."""
    return next((path for name in NAMES if (path := shutil.which(name))), None)


class Browser:
    """A browser with one page; `close` ends it."""

    def __init__(self, program: str, folder: Path) -> None:
        to_read, self._to = os.pipe()
        self._from, from_write = os.pipe()
        self._process = subprocess.Popen(
            [
                sys.executable, "-c", BECOME, str(to_read), str(from_write),
                program, *SWITCHES, f"--user-data-dir={folder}", "about:blank",
            ],
            pass_fds=(to_read, from_write),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )  # fmt: skip
        os.close(to_read)
        os.close(from_write)
        self._buffer, self._number, self._session = b"", 0, None
        self.requests: list[str] = []
        try:
            self._attach()
        except BaseException:
            self.close()
            raise

    def _attach(self) -> None:
        """Open a page and listen to it."""
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        attached = self.call("Target.attachToTarget", targetId=target, flatten=True)
        self._session = attached["sessionId"]
        for domain in ("Page", "Runtime", "Network", "DOM"):
            self.call(f"{domain}.enable")

    def close(self) -> None:
        """End the browser."""
        self._session = None
        with contextlib.suppress(OSError, TimeoutError):
            self.call("Browser.close")
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(10)
        self._process.kill()
        self._process.wait()
        os.close(self._to)
        os.close(self._from)

    def call(self, method: str, **values: object) -> dict:
        """Call a method of the protocol and wait for its answer."""
        self._number += 1
        message = {"id": self._number, "method": method, "params": values}
        if self._session:
            message["sessionId"] = self._session
        self._send(json.dumps(message).encode() + b"\0")
        while True:
            answer = self._next()
            if answer.get("id") == self._number:
                if "error" in answer:
                    raise RuntimeError(f"{method}: {answer['error']}")
                return answer["result"]

    def _send(self, data: bytes) -> None:
        """Write all of a message, reading meanwhile if the browser wants that first."""
        while data:
            data = data[os.write(self._to, data[:32768]) :]

    def _next(self) -> dict:
        """The next message of the browser; requests of pages are noted."""
        until = time.monotonic() + PATIENCE_S
        while b"\0" not in self._buffer:
            ready, _, _ = select.select([self._from], [], [], max(until - time.monotonic(), 0))
            if not ready:
                raise TimeoutError("the browser does not answer")
            data = os.read(self._from, 1 << 16)
            if not data:
                raise OSError("the browser is gone")
            self._buffer += data
        text, _, self._buffer = self._buffer.partition(b"\0")
        message = json.loads(text)
        if message.get("method") == "Network.requestWillBeSent":
            self.requests.append(message["params"]["request"]["url"])
        return message

    def show(
        self, path: Path | str, width: int, *, dark: bool = False, media: str = "screen"
    ) -> None:
        """Open a file or an address at a width, by day or by night, on screen or as for print."""
        address = path if isinstance(path, str) else path.as_uri()
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.call(
            "Emulation.setDeviceMetricsOverride",
            width=width, height=800, deviceScaleFactor=1, mobile=width < 500,
        )  # fmt: skip
        self.call("Emulation.setEmulatedMedia", media=media, features=[scheme])
        self.requests.clear()
        self.call("Page.navigate", url=address)
        until = time.monotonic() + PATIENCE_S
        done = f"complete{address.partition(':')[0]}:"
        while self.value("document.readyState + location.protocol") != done:
            if time.monotonic() > until:
                raise TimeoutError(f"{path} is not shown")
            time.sleep(0.02)

    def value(self, script: str) -> object:
        """The value of an expression in the page, waited for where it is a promise."""
        answer = self.call(
            "Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True
        )
        if "exceptionDetails" in answer:
            raise RuntimeError(str(answer["exceptionDetails"]))
        return answer["result"].get("value")

    def picture(self, path: Path) -> None:
        """The whole page as PNG."""
        answer = self.call("Page.captureScreenshot", captureBeyondViewport=True)
        path.write_bytes(base64.b64decode(answer["data"]))

    def printed(self, size_in: tuple[float, float]) -> bytes:
        """The page as PDF on paper of a size, as the style sheet's margins have it."""
        self.call("Emulation.clearDeviceMetricsOverride")
        self.call("Emulation.setEmulatedMedia", media="", features=[])
        answer = self.call(
            "Page.printToPDF",
            paperWidth=size_in[0], paperHeight=size_in[1], preferCSSPageSize=True,
            printBackground=True,
        )  # fmt: skip
        return base64.b64decode(answer["data"])
