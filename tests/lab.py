"""JupyterLab in a headless browser, for tests and for the benchmark of the slider."""

import os
import shutil
import socket
import subprocess
import time
import urllib.request
from contextlib import contextmanager
from pathlib import Path

import pytest

from shared_utils.course import manifest, place
from shared_utils.pages import server

TOKEN = "a-token-for-tests-only"
# no measure of anything: only what never comes shall end a test, on a busy machine too
PATIENCE_MS = 240_000
# a closed network refuses the browser's own errands, so they are switched off
BROWSER_ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def browser_path():
    """Return the browser on this machine, or skip (in CI: fail) with a sentence."""
    for name in ("chromium", "chromium-browser", "google-chrome"):
        if shutil.which(name):
            return shutil.which(name)
    message = "No chromium on this machine: the pages were not tried in a browser."
    if os.environ.get("CI"):
        pytest.fail(message)
    pytest.skip(message)


def page_of(slug):
    """Return the path of a page, below the course's folder."""
    return f"lessons/{manifest.of().by_slug[slug].stem}.ipynb"


def free_port():
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return listener.getsockname()[1]


@contextmanager
def copy_of_course(folder):
    """A copy of the notebooks, so that what the browser saves does not touch the course."""
    for part in ("lessons", "exercises", "solutions"):
        shutil.copytree(place.course_root() / part, Path(folder) / part)
    yield Path(folder)


@contextmanager
def running_lab(root, extra_arguments=(), environment=None):
    """JupyterLab on a folder; yields its address."""
    port = free_port()
    command = server.lab_command(
        root,
        "/lab",
        port,
        browser=False,
        extra_arguments=[
            f"--IdentityProvider.token={TOKEN}",
            "--ServerApp.port_retries=0",
            "--LabApp.expose_app_in_browser=True",
            *extra_arguments,
        ],
    )
    log = Path(root) / ".lab.log"
    with log.open("w") as output:
        process = subprocess.Popen(
            command,
            cwd=root,
            env={**server.lab_environment(), **(environment or {})},
            stdout=output,
            stderr=output,
        )
    address = f"http://127.0.0.1:{port}"
    try:
        for _ in range(PATIENCE_MS // 250):
            try:
                urllib.request.urlopen(f"{address}/api", timeout=30).read()
                break
            except OSError:
                assert process.poll() is None, log.read_text()
                time.sleep(0.25)
        else:
            pytest.fail(f"JupyterLab did not start: {log.read_text()[-2000:]}")
        yield address
    finally:
        process.terminate()
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            process.kill()


@contextmanager
def browser_page(width=1280, height=900, environment=None):
    """A page of the headless browser, which may be given other variables of the environment."""
    path = browser_path()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=path,
            args=BROWSER_ARGUMENTS,
            env={**os.environ, **(environment or {})},
        )
        page = browser.new_page(viewport={"width": width, "height": height})
        page.set_default_timeout(PATIENCE_MS)
        yield page
        browser.close()


def open_notebook(page, address, path):
    """Open a notebook in a fresh workspace and wait until its kernel has answered and is idle."""
    page.goto(f"{address}/lab/workspaces/test/tree/{path}?token={TOKEN}&reset")
    page.wait_for_selector(".jp-Notebook .jp-Cell", state="attached")
    page.wait_for_function("() => window.jupyterapp?.shell.currentWidget?.sessionContext")
    page.evaluate(
        """async () => {
          const {sessionContext} = window.jupyterapp.shell.currentWidget;
          await sessionContext.ready;
          await sessionContext.session.kernel.info;
        }"""
    )
    wait_idle(page)


def wait_idle(page):
    """Wait until the kernel says it is idle, and what it said before has been drawn."""
    page.wait_for_function(
        "() => document.querySelector('.jp-Notebook-ExecutionIndicator')?.dataset.status === 'idle'"
    )
    page.evaluate(
        "() => new Promise(drawn => requestAnimationFrame(() => requestAnimationFrame(drawn)))"
    )


def wait_still(page, selector):
    """Wait until a part of the page has stopped moving."""
    page.wait_for_function(
        """selector => {
          const top = document.querySelector(selector).getBoundingClientRect().top;
          const still = window.lastTop === top;
          window.lastTop = top;
          return still;
        }""",
        arg=selector,
        polling=200,
    )


def wait_saved(page):
    """Wait until the notebook is on the disk as it is on the screen."""
    page.wait_for_function("() => !window.jupyterapp.shell.currentWidget.context.model.dirty")


def run_all(page):
    """Run every cell by the menu, as a reader does, and wait until JupyterLab says that it has."""
    page.evaluate(
        """() => window.jupyterapp.commands.commandExecuted.connect((_, command) => {
          if (command.id === "notebook:run-all-cells") window.allRun = command.result;
        })"""
    )
    page.get_by_role("menuitem", name="Run", exact=True).click()
    page.get_by_role("menuitem", name="Run All Cells", exact=True).click()
    page.wait_for_function("() => window.allRun")
    page.evaluate("() => window.allRun.then(() => null)")
    wait_idle(page)
