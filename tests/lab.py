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
    said = "No chromium on this machine: the pages were not tried in a browser."
    if os.environ.get("CI"):
        pytest.fail(said)
    pytest.skip(said)


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
        for _ in range(240):
            try:
                urllib.request.urlopen(f"{address}/api", timeout=2).read()
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
def browser_page(width=1280, height=900):
    """A page of the headless browser."""
    path = browser_path()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=BROWSER_ARGUMENTS)
        page = browser.new_page(viewport={"width": width, "height": height})
        page.set_default_timeout(60_000)
        yield page
        browser.close()


def open_notebook(page, address, path):
    """Open a notebook in a fresh workspace and wait until its kernel is idle."""
    page.goto(f"{address}/lab/workspaces/test/tree/{path}?token={TOKEN}&reset")
    page.wait_for_selector(".jp-Notebook .jp-Cell", state="attached")
    wait_idle(page)


def wait_idle(page, seconds=60):
    """Wait until the kernel says it is idle."""
    page.wait_for_function(
        "() => document.querySelector('.jp-Notebook-ExecutionIndicator')"
        "?.dataset.status === 'idle'",
        timeout=seconds * 1000,
    )


def _take_the_preferred_kernel(page):
    """Answer JupyterLab where it asks for a kernel: it does if Run is pressed before it has one."""
    dialog = page.locator(".jp-Dialog")
    while dialog.count():
        dialog.first.locator("button.jp-mod-accept").click()
        page.wait_for_timeout(1000)


def run_all(page, seconds=120):
    """Run every cell by the menu, as a reader does; again if the kernel did not listen yet."""
    for _ in range(5):
        _take_the_preferred_kernel(page)
        page.get_by_role("menuitem", name="Run", exact=True).click()
        page.get_by_role("menuitem", name="Run All Cells", exact=True).click()
        try:
            page.wait_for_function(
                "() => [...document.querySelectorAll('.jp-InputPrompt, .jp-OutputPrompt')]"
                ".some(e => /\\[[*\\d]+\\]/.test(e.textContent))",
                timeout=5000,
            )
            break
        except Exception:
            continue
    wait_idle(page, seconds)
