"""Make today.png: start the demo in a folder of its own, sign in on a phone-sized page, take the picture.

Run: python docs/screenshot.py (needs the test extra and a chromium on the machine).
"""

import shutil
import signal
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

from playwright.sync_api import sync_playwright

PORT = 8719
ADDRESS = f"http://localhost:{PORT}"
QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-sync",
    "--no-first-run",
]


def main() -> None:
    with tempfile.TemporaryDirectory(prefix="clearmere-picture-") as folder:
        start = [sys.executable, "-m", "refuge", "start", "--demo", "--port", str(PORT), "--data", folder]
        server = subprocess.Popen(start)
        try:
            wait_until_up()
            take(Path(__file__).with_name("today.png"))
        finally:
            server.send_signal(signal.SIGTERM)
            server.wait(timeout=30)


def wait_until_up() -> None:
    for _ in range(120):
        try:
            with urllib.request.urlopen(f"{ADDRESS}/healthz") as answer:
                if answer.status == 200:
                    return
        except OSError:
            time.sleep(1)
    raise SystemExit("the demo did not come up")


def take(target: Path) -> None:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=QUIET)
        page = browser.new_page(viewport={"width": 390, "height": 1000})
        page.goto(f"{ADDRESS}/")
        page.fill("[name=username]", "staff")
        page.fill("[name=password]", "clearmere-demo")
        page.click("main form button")
        page.wait_for_selector(".task")
        page.screenshot(path=target)
        browser.close()


if __name__ == "__main__":
    main()
