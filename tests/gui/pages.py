"""The question mark in a panel's heading: the browser is sent to a page that is there, on the disk."""

from __future__ import annotations

import stat
import time
from pathlib import Path
from urllib.parse import unquote, urlsplit

from journey import Journey
from reading import HEADING, DriveError

FROM_RIGHT_PX = 62
"""From the right edge of the sidebar to the middle of the question mark."""

READS_S = 30


def make_browser(folder: Path) -> Path:
    """A program that stands in for a browser: it notes the address that it is sent to."""
    browser = folder / "browser"
    browser.write_text(
        f'#!/bin/sh\nprintf %s "$1" > {folder}/address.part\nmv {folder}/address.part {folder}/address\n'
    )
    browser.chmod(browser.stat().st_mode | stat.S_IXUSR)
    return browser


def open_page(journey: Journey) -> None:
    window = journey.window
    left, _, width, _ = window.state()["regions"]["UI"]
    window.click(left + width - FROM_RIGHT_PX, window.find("Begin", HEADING).middle[1])
    address, until = window.pictures / "address", time.monotonic() + READS_S
    while not address.is_file():
        if time.monotonic() > until:
            raise DriveError("the question mark of Begin has sent the browser nowhere")
        time.sleep(0.1)
    page = Path(unquote(urlsplit(address.read_text("utf-8")).path))
    if page.name != "begin.html" or "<h1" not in page.read_text("utf-8"):
        raise DriveError(f"the question mark of Begin leads to {page}")
