"""A real browser for tests: headless Chromium, driven by Playwright, and what it complained of."""

import io
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
# No sandbox (tests may run as root), no talking to anybody, 3-D by software.
FLAGS = [
    "--no-sandbox",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--ignore-gpu-blocklist",
]


@contextmanager
def browser() -> Iterator[object]:
    """Chromium; skips the test where none is installed, except in a CI run, which must not pass without it."""
    if CHROMIUM is None:
        (pytest.fail if os.environ.get("CI") else pytest.skip)(
            "no chromium; on Debian: apt-get install chromium"
        )
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    with playwright.sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        try:
            yield started
        finally:
            started.close()


class Watched:
    """A page that keeps what it asked for and what went wrong on it."""

    def __init__(self, started, width: int = 1440, scheme: str = "light", script: str = "") -> None:
        self.page = started.new_page(viewport={"width": width, "height": 900}, color_scheme=scheme)
        self.requests: list[str] = []
        self.errors: list[str] = []
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.page.on("pageerror", lambda error: self.errors.append(str(error)))
        self.page.on(
            "console", lambda message: message.type == "error" and self.errors.append(message.text)
        )
        if script:
            self.page.add_init_script(script)

    def __enter__(self) -> "Watched":
        return self

    def __exit__(self, *_: object) -> None:
        self.page.close()

    def picture(self, selector: str) -> np.ndarray:
        """(h, w, 3) pixels of an element as it is drawn."""
        from PIL import Image

        return np.asarray(
            Image.open(io.BytesIO(self.page.locator(selector).screenshot())).convert("RGB"),
            dtype=float,
        )


def differ(a: np.ndarray, b: np.ndarray) -> float:
    """Share of the pixels that differ visibly between two pictures of one size."""
    return float((np.abs(a - b).max(axis=2) > 24).mean())
