"""A real browser without a window, for the tests of pages; it reaches no network."""

from __future__ import annotations

import base64
import contextlib
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

FLAGS = (
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
    "--force-prefers-reduced-motion",
)
OFFLINE = {"offline": True, "latency": 0, "downloadThroughput": 0, "uploadThroughput": 0}
NAMES = ("chromium", "chromium-browser", "google-chrome")


@contextlib.contextmanager
def started(*flags: str, width: int = 1100, height: int = 1400) -> Iterator[Any]:
    """Yield a browser; the test is skipped, with the reason, where none is installed."""
    webdriver = pytest.importorskip("selenium.webdriver", reason="selenium is not installed")
    program = next((path for name in NAMES if (path := shutil.which(name))), None)
    driver = shutil.which("chromedriver")
    if program is None or driver is None:
        pytest.skip("no Chromium with its driver is installed")
    options = webdriver.ChromeOptions()
    options.binary_location = program
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    for flag in (*FLAGS, *flags):
        options.add_argument(flag)
    browser = webdriver.Chrome(options=options, service=webdriver.ChromeService(executable_path=driver))
    try:
        browser.execute_cdp_cmd("Network.enable", {})
        browser.execute_cdp_cmd("Network.emulateNetworkConditions", OFFLINE)
        sized(browser, width, height)
        yield browser
    finally:
        browser.quit()


def sized(browser: Any, width: int, height: int = 900) -> None:
    """Give the page a width, that of a phone too, which no window can have."""
    metrics = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", metrics)


def opened(browser: Any, path: Path) -> Any:
    """Load a file and return the browser."""
    browser.get(path.absolute().as_uri())
    return browser


def complaints(browser: Any) -> list[str]:
    """What stands in the console."""
    return [entry["message"] for entry in browser.get_log("browser")]


def requests(browser: Any) -> list[str]:
    """Whatever the page asked for beside itself."""
    found: list[str] = browser.execute_script(
        "return performance.getEntriesByType('resource').map((one) => one.name)"
        ".filter((name) => !name.startsWith('data:'))"
    )
    return found


def printed(browser: Any) -> tuple[int, bytes]:
    """Number of A4 pages that the page prints to, and the PDF."""
    wanted = {"preferCSSPageSize": True, "printBackground": True}
    data = base64.b64decode(browser.execute_cdp_cmd("Page.printToPDF", wanted)["data"])
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", data)), data


def too_wide(browser: Any) -> bool:
    """Whether the page has to be scrolled sideways."""
    script = "return document.documentElement.scrollWidth > document.documentElement.clientWidth"
    return bool(browser.execute_script(script))
