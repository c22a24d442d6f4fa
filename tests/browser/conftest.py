"""A workbook started by its own command, a browser, and pages that are run as a person would."""

import os
import queue
import re
import shutil
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from playwright.sync_api import Page, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "data" / "projects" / "demo"
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge")
QUIET = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
         "--disable-background-networking", "--disable-component-update"]
PATIENCE = 120_000  # milliseconds; a busy machine compiles slowly


class Workbook:
    """A running workbook on its own copy of the demo project."""

    def __init__(self, url: str, projects: Path):
        self.url, self.projects, self.opened = url, projects, 0

    @property
    def demo(self) -> Path:
        return self.projects / "demo"

    def open(self, page: Page, notebook: str) -> None:
        """Open a notebook alone, in a workspace of its own, and run all its cells."""
        self.opened += 1
        page.goto(f"{self.url}/lab/workspaces/try-{self.opened}/tree/{notebook}?token=open")
        page.wait_for_function(KERNEL_IDLE, arg=notebook, timeout=PATIENCE)
        page.evaluate("window.jupyterapp.commands.execute('notebook:run-all-cells')")
        page.wait_for_function(ALL_RUN, arg=notebook, timeout=PATIENCE)


KERNEL_IDLE = """notebook => { const app = window.jupyterapp;
  const panel = app && app.shell.currentWidget;
  if (!panel || !panel.context || panel.context.path !== notebook) return false;
  const session = panel.context.sessionContext.session;
  return session && session.kernel && session.kernel.status === 'idle'; }"""
ALL_RUN = """notebook => { const panel = window.jupyterapp.shell.currentWidget;
  const cells = [...panel.content.widgets].filter(c => c.model.type === 'code');
  return cells.every(c => c.model.executionCount) &&
    panel.context.sessionContext.session.kernel.status === 'idle'; }"""


@pytest.fixture(scope="session")
def workbook(tmp_path_factory):
    projects = tmp_path_factory.mktemp("projects ä")
    shutil.copytree(DEMO, projects / "demo")
    own = tmp_path_factory.mktemp("jupyter")
    env = os.environ | {"THERMOFORMING_PROJECTS": str(projects),
                        "THERMOFORMING_PROJECT": str(projects / "demo"),
                        "JUPYTER_CONFIG_DIR": str(own / "config"),
                        "JUPYTERLAB_SETTINGS_DIR": str(own / "settings"),
                        "JUPYTERLAB_WORKSPACES_DIR": str(own / "workspaces")}
    process = subprocess.Popen(
        [sys.executable, str(ROOT / "workbook" / "open.py"), "--no-browser", "--port=0",
         "--IdentityProvider.token=open", "--LabApp.expose_app_in_browser=True"],
        env=env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    yield Workbook(_address(process), projects)
    process.terminate()
    process.wait(20)


def _address(process) -> str:
    """Address of the server, read from what it prints; the rest of the output is drained."""
    lines: queue.Queue = queue.Queue()

    def drain():
        for line in process.stdout:
            lines.put(line)
        lines.put("")

    threading.Thread(target=drain, daemon=True).start()
    said, until = [], time.monotonic() + 90
    while time.monotonic() < until:
        line = lines.get(timeout=90)
        said.append(line)
        found = re.search(r"(http://(?:127\.0\.0\.1|localhost):\d+)/lab", line)
        if found:
            return found.group(1)
        if not line:
            break
    raise RuntimeError("The workbook did not start:\n" + "".join(said))


@pytest.fixture(scope="session")
def browser():
    path = next((found for name in BROWSERS if (found := shutil.which(name))), None)
    if path is None:
        pytest.fail("The browser tests need Chromium; on Debian: apt install chromium")
    with sync_playwright() as play:
        opened = play.chromium.launch(executable_path=path, args=QUIET)
        yield opened
        opened.close()


@pytest.fixture
def page(browser):
    errors: list[str] = []
    opened = browser.new_page(viewport={"width": 1500, "height": 1000})
    opened.set_default_timeout(PATIENCE)
    opened.on("pageerror", lambda error: errors.append(str(error)))
    yield opened
    opened.close()
    assert not errors, errors
