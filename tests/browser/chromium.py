"""Finding the system's Chromium, and how it is started for tests."""

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

from shopwarranty.checkout.system_needs import CHROMIUM, MAC_CHROMIUM

# As root there is no sandbox to be had; the rest keeps Chromium from talking to anybody but our server.
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-default-apps",
    "--disable-domain-reliability",
    "--disable-sync",
    "--no-first-run",
    "--no-default-browser-check",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE localhost, EXCLUDE 127.0.0.1",
]


def find() -> str | None:
    named = (shutil.which(name) for name in CHROMIUM)
    placed = (path for path in MAC_CHROMIUM if Path(path).exists())
    return next((path for path in (*named, *placed) if path), None)


@contextmanager
def started(path: str) -> Iterator[Browser]:
    """With a home of its own, since the machine's may be missing or read-only."""
    with tempfile.TemporaryDirectory(prefix="chromium-") as home, sync_playwright() as playwright:
        environment: dict[str, str | float | bool] = {**os.environ, "HOME": home}
        browser = playwright.chromium.launch(executable_path=path, args=ARGUMENTS, env=environment)
        try:
            yield browser
        finally:
            browser.close()
