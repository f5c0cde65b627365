"""Takes the README's pictures anew from the demo: `make pictures`. Needs Chromium."""

import subprocess
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import sync_playwright

HERE = Path(__file__).parent
PAGES = {"week": ("week/2026-W47", 390, 1500)}


def main() -> None:
    """Build the demo, show it, take the pictures."""
    with tempfile.TemporaryDirectory() as folder:
        command = [
            sys.executable,
            "-m",
            "server.cli",
            "demo",
            "--folder",
            f"{folder}/demo",
            "--listen",
            "127.0.0.1:8089",
        ]
        server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        try:
            assert server.stdout is not None
            while "Pages at" not in (line := server.stdout.readline()):
                if not line:
                    raise SystemExit("the demo did not start")
            time.sleep(1)
            with sync_playwright() as play:
                browser = play.chromium.launch(
                    executable_path="/usr/bin/chromium", args=["--no-sandbox", "--disable-gpu"]
                )
                for name, (path, width, height) in PAGES.items():
                    page = browser.new_page(viewport={"width": width, "height": height}, device_scale_factor=1.5)
                    page.goto(f"http://127.0.0.1:8089/{path}")
                    page.screenshot(path=HERE / f"{name}.png")
                browser.close()
        finally:
            server.terminate()
            server.wait()


if __name__ == "__main__":
    main()
