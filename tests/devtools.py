"""A browser without a window, driven over its debugging protocol with plain sockets."""

from __future__ import annotations

import base64
import json
import os
import re
import shutil
import socket
import struct
import subprocess
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome")
PATIENCE = 120.0
READY = (
    "document.readyState === 'complete' && (!document.scripts.length "
    "|| document.documentElement.classList.contains('ready'))"
)
"""True once the page is there and its scripts, if it has any, have run to their end."""


def browser() -> str | None:
    return next(filter(None, map(shutil.which, BROWSERS)), None)


class Tab:
    """A page: commands and their answers, and the events that came meanwhile."""

    def __init__(self, address: str, near: Path) -> None:
        self.near = near
        parts = urlsplit(address)
        assert parts.hostname
        self.socket = socket.create_connection((parts.hostname, parts.port), PATIENCE)
        self.events: list[dict[str, Any]] = []
        self.count = 0
        key = base64.b64encode(os.urandom(16)).decode()
        self.socket.sendall(
            f"GET {parts.path} HTTP/1.1\r\nHost: {parts.netloc}\r\nUpgrade: websocket\r\n"
            f"Connection: Upgrade\r\nSec-WebSocket-Key: {key}\r\n"
            "Sec-WebSocket-Version: 13\r\n\r\n".encode()
        )
        head = b""
        while not head.endswith(b"\r\n\r\n"):
            head += self._exactly(1)
        assert b" 101 " in head.split(b"\r\n")[0], head

    def _exactly(self, size: int) -> bytes:
        parts = []
        while size:
            part = self.socket.recv(min(size, 1 << 16))
            if not part:
                message = "the browser hung up"
                raise ConnectionError(message)
            parts.append(part)
            size -= len(part)
        return b"".join(parts)

    def _send(self, text: str) -> None:
        body, mask = text.encode(), os.urandom(4)
        if len(body) < 126:
            head = struct.pack("!BB", 0x81, 0x80 | len(body))
        elif len(body) < 1 << 16:
            head = struct.pack("!BBH", 0x81, 0x80 | 126, len(body))
        else:
            head = struct.pack("!BBQ", 0x81, 0x80 | 127, len(body))
        masked = bytes(b ^ mask[k % 4] for k, b in enumerate(body))
        self.socket.sendall(head + mask + masked)

    def _message(self) -> dict[str, Any]:
        text = b""
        while True:
            first, size = self._exactly(2)
            if size == 126:
                (size,) = struct.unpack("!H", self._exactly(2))
            elif size == 127:
                (size,) = struct.unpack("!Q", self._exactly(8))
            body = self._exactly(size)
            if first & 0x0F in (0, 1):
                text += body
                if first & 0x80:
                    return json.loads(text)

    def ask(self, method: str, **given: Any) -> dict[str, Any]:
        self.count += 1
        number = self.count
        self._send(json.dumps({"id": number, "method": method, "params": given}))
        while True:
            came = self._message()
            if came.get("id") == number:
                assert "error" not in came, (method, came["error"])
                return came["result"]
            self.events.append(came)

    def run(self, script: str) -> Any:
        """The value of a script's last expression; it may be a promise."""
        answer = self.ask(
            "Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True
        )
        assert "exceptionDetails" not in answer, answer["exceptionDetails"]
        return answer["result"].get("value")

    def until(self, script: str) -> None:
        end = time.monotonic() + PATIENCE
        while not self.run(script):
            assert time.monotonic() < end, f"never came: {script}"
            time.sleep(0.05)

    def go(self, name: str) -> None:
        """To the page of that name beside the first one, and wait for its scripts."""
        self.open(self.near.with_name(f"{name}.html"))

    def open(self, page: Path) -> None:
        """To a page, and wait for its scripts."""
        self.run("window.old = true")
        self.ask("Page.navigate", url=page.absolute().as_uri())
        self.until(f"!window.old && {READY}")

    def press(self, key: str, code: int) -> None:
        for kind in ("keyDown", "keyUp"):
            self.ask(
                "Input.dispatchKeyEvent", type=kind, key=key, code=key,
                windowsVirtualKeyCode=code, text="\r" if key == "Enter" and kind ==
                "keyDown" else "",
            )  # fmt: skip

    def size(self, width: int, height: int) -> None:
        self.ask(
            "Emulation.setDeviceMetricsOverride", width=width, height=height,
            deviceScaleFactor=1, mobile=False,
        )  # fmt: skip

    def names(self, *methods: str) -> list[dict[str, Any]]:
        return [e["params"] for e in self.events if e.get("method") in methods]


WIDE = """(() => {
  const narrow = innerWidth, found = [];
  for (const part of document.body.querySelectorAll("*")) {
    let box = part, scrolls = false;
    while ((box = box.parentElement) && !scrolls)
      scrolls = ["auto", "scroll", "hidden"].includes(getComputedStyle(box).overflowX);
    const right = part.getBoundingClientRect().right;
    if (!scrolls && right > narrow + 1)
      found.push(part.outerHTML.slice(0, 80) + " reaches " + Math.round(right) + " px");
  }
  return found;
})()"""
"""JavaScript: what sticks out of the window."""

UNREACHED = """[...document.querySelectorAll("*")].filter((part) =>
    ["auto", "scroll"].includes(getComputedStyle(part).overflowX)
    && part.scrollWidth > part.clientWidth + 1
    && part.tabIndex < 0 && !part.querySelector("a, button, input, summary, [tabindex]"))
  .map((part) => part.outerHTML.slice(0, 80))"""
"""JavaScript: what scrolls sideways and cannot be reached with the Tab key."""


@contextmanager
def opened(page: Path, folder: Path) -> Iterator[Tab]:
    """The page in a new browser whose profile is in ``folder``."""
    program = browser()
    assert program is not None
    log = folder / "browser.log"
    with log.open("w") as sink:
        process = subprocess.Popen(
            [
                program, "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run",
                "--remote-debugging-port=0", f"--user-data-dir={folder / 'profile'}",
                "about:blank",
            ],
            stdout=subprocess.DEVNULL, stderr=sink,
        )  # fmt: skip
        try:
            tab = Tab(_address(log), page)
            try:
                for domain in ("Page", "Runtime", "Log", "Network"):
                    tab.ask(f"{domain}.enable")
                tab.size(1280, 900)
                tab.ask("Page.navigate", url=page.as_uri())
                tab.until(READY)
                yield tab
            finally:
                tab.socket.close()
        finally:
            process.terminate()
            process.wait(PATIENCE)


def _address(log: Path) -> str:
    """Where the first tab listens, once the browser has said so."""
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        found = re.search(r"DevTools listening on ws://([^/\s]+)/", log.read_text())
        if found:
            with urllib.request.urlopen(f"http://{found[1]}/json/list") as answer:
                tabs = json.load(answer)
            pages = [t for t in tabs if t["type"] == "page"]
            if pages:
                return pages[0]["webSocketDebuggerUrl"]
        time.sleep(0.1)
    message = f"the browser did not start: {log.read_text()[-500:]}"
    raise TimeoutError(message)
