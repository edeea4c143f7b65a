"""JupyterLab, started in a folder at a page."""

import subprocess
import sys


def open_lab(root, url_path, port, browser=True, extra_arguments=()):
    """Run JupyterLab until it is stopped.

    Parameters
    ----------
    root : path-like
        Folder to start in.
    url_path : str
        What to show first, such as ``"lab/tree/lessons"``.
    port : int
        Port to start at.
    browser : bool
        Whether to open a browser.
    extra_arguments : sequence of str
        Handed on to JupyterLab.

    Returns
    -------
    int
        JupyterLab's exit code.
    """
    command = [sys.executable, "-m", "jupyterlab", f"--ServerApp.root_dir={root}"]
    command += [f"--ServerApp.port={port}", f"--ServerApp.default_url=/{url_path}"]
    command += [] if browser else ["--no-browser"]
    return subprocess.run([*command, *extra_arguments], cwd=root).returncode
