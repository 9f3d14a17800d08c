"""Firefox driven over WebDriver BiDi (W3C), which it speaks itself: a program, a socket and no driver between them."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from typing import Any

import pytest

PROGRAMS = ("firefox-esr", "firefox")
START_SECONDS = 60.0
OWN = ("file:", "data:", "blob:", "about:", "chrome:", "resource:")
"""Addresses that ask nothing of the network."""
KEYS = {"End": "\ue010", "Enter": "\ue007"}
QUIET = {
    "app.update.auto": False, "browser.shell.checkDefaultBrowser": False, "datareporting.policy.dataSubmissionEnabled": False,
    "network.captive-portal-service.enabled": False, "network.connectivity-service.enabled": False, "remote.prefs.recommended": True,
    "browser.startup.homepage": "about:blank", "startup.homepage_welcome_url": "about:blank",
}  # fmt: skip


class Firefox:
    """One window: opens a file, evaluates, presses keys, and keeps what the page said and asked of the network."""

    def __init__(self, connect: Callable[[], Any]) -> None:
        self._socket, self._number = connect(), count(1)
        self.said: list[str] = []
        self.asked: list[str] = []
        self._ask("session.new", capabilities={})
        self._ask("session.subscribe", events=["log.entryAdded", "network.beforeRequestSent"])
        self._context = self._ask("browsingContext.getTree")["contexts"][0]["context"]

    def _ask(self, method: str, **parameters: Any) -> Any:
        """Send one command and return its result; events that come before it are kept."""
        number = next(self._number)
        self._socket.send(json.dumps({"id": number, "method": method, "params": parameters}))
        while True:
            heard = json.loads(self._socket.recv())
            if heard.get("type") == "event":
                self._keep(heard["method"], heard["params"])
            elif heard.get("id") == number:
                assert heard["type"] == "success", f"{method}: {heard.get('message')}"
                return heard["result"]

    def _keep(self, event: str, told: dict[str, Any]) -> None:
        if event == "log.entryAdded":
            self.said.append(str(told.get("text")))
        elif not str(told["request"]["url"]).startswith(OWN):
            self.asked.append(str(told["request"]["url"]))

    def open(self, file: Path, width: int = 1280, height: int = 900) -> None:
        """Open a file in a window of this size."""
        self.said.clear()
        self.asked.clear()
        self._ask("browsingContext.setViewport", context=self._context, viewport={"width": width, "height": height})
        self._ask("browsingContext.navigate", context=self._context, url=file.as_uri(), wait="complete")

    def evaluate(self, expression: str) -> Any:
        """Return what an expression gives, passed through JSON."""
        text = f"JSON.stringify({expression})"
        target = {"context": self._context}
        heard = self._ask("script.evaluate", expression=text, target=target, awaitPromise=True)
        assert heard["type"] == "success", heard.get("exceptionDetails", {}).get("text")
        return json.loads(heard["result"].get("value", "null"))

    def press(self, selector: str, key: str) -> None:
        """Press a key on the first element that matches."""
        self.evaluate(f"document.querySelector({json.dumps(selector)}).focus()")
        pressed = [{"type": "keyDown", "value": KEYS[key]}, {"type": "keyUp", "value": KEYS[key]}]
        self._ask("input.performActions", context=self._context, actions=[{"type": "key", "id": "keys", "actions": pressed}])

    def settled(self, condition: str) -> None:
        """Wait until `condition` holds."""
        end = time.monotonic() + 60
        while not self.evaluate(condition):
            assert time.monotonic() < end, f"not within a minute: {condition}"
            time.sleep(0.05)


@contextmanager
def firefox(profile: Path) -> Iterator[Firefox]:
    """Start Firefox without a window; skips, and says why, where it or the socket's library is not installed."""
    program = next(filter(None, map(shutil.which, PROGRAMS)), None)
    if program is None:
        pytest.skip("no Firefox on this machine: its page tests are skipped")
    websocket = pytest.importorskip("websocket", reason="websocket-client is not installed: Firefox is not driven")
    (profile / "user.js").write_text("".join(f"user_pref({json.dumps(name)}, {json.dumps(value)});\n" for name, value in QUIET.items()))
    log = profile / "said.log"
    command = [program, "--headless", "--no-remote", "--remote-debugging-port=0", "--profile", str(profile), "about:blank"]
    with log.open("w") as said:
        process = subprocess.Popen(command, stdout=said, stderr=said)
    try:
        address = _address(log, process)
        yield Firefox(lambda: websocket.create_connection(f"{address}/session", timeout=120, suppress_origin=True))
    finally:
        process.terminate()
        process.wait(30)


def _address(log: Path, process: subprocess.Popen[bytes]) -> str:
    """Return the address Firefox listens on, once it tells it."""
    end = time.monotonic() + START_SECONDS
    while time.monotonic() < end and process.poll() is None:
        found = re.search(r"BiDi listening on (ws://\S+)", log.read_text(errors="replace"))
        if found:
            return found[1]
        time.sleep(0.1)
    raise RuntimeError(f"Firefox did not start: {log.read_text(errors='replace')[-500:]}")
