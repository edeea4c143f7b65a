"""Runs Python as an ordinary user, where the tests run as root."""

import os
import subprocess
import sys
from pathlib import Path

from shared_utils.grading.supervisor.bubblewrap import parent_options
from tests.marking import REPO

USER = 65534


def run(code, timeout=600, environment=None):
    """Return a finished process of a user without any power, who sees this Python and these tests.

    Python may lie where only root can look, so it is shown at its own place in a home of its own.
    """
    home = os.path.expanduser("~")
    command = ["bwrap", "--bind", "/", "/", "--dev-bind", "/dev", "/dev", "--cap-add", "ALL"]
    command += ["--perms", "0755", "--tmpfs", home]
    for prefix in dict.fromkeys((sys.base_prefix, sys.prefix, str(REPO))):
        command += [*parent_options(Path(prefix)), "--ro-bind", prefix, prefix]
    nobody = ["setpriv", f"--reuid={USER}", f"--regid={USER}", "--clear-groups"]
    nobody += ["--inh-caps=-all", "--bounding-set=-all"]
    own = {"PYTHONPATH": str(REPO), "HOME": "/tmp", "TMPDIR": "/tmp"}
    return subprocess.run(
        [*command, "--", *nobody, sys.executable, "-c", code],
        env={**os.environ, **own, **(environment or {})},
        cwd="/",
        capture_output=True,
        text=True,
        timeout=timeout,
    )
