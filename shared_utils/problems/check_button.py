"""The button at the top of a problem set, which checks the notebook that it stands in.

Light on purpose: every learner's kernel imports it. What is heavy runs in a process of its own.
"""

import html
import os
import subprocess
import sys
from pathlib import Path

from shared_utils.course.learner import LEARNER_VARIABLE
from shared_utils.course.place import course_root

UNATTENDED = "LENS_COURSE_CHECKING"


def show(name: str) -> None:
    """Show a button that checks the notebook it stands in; nothing where nobody can press it.

    Parameters
    ----------
    name : str
        The set, such as ``"vergence"``.
    """
    if os.environ.get(UNATTENDED) or os.environ.get(LEARNER_VARIABLE):
        return  # the set is being checked or graded
    import ipywidgets
    from IPython.display import display

    place = Path.cwd() / "problems.ipynb"
    pressed = ipywidgets.Button(description="Check my answers", button_style="primary")
    reply = ipywidgets.HTML()

    def check_now(_):
        pressed.disabled = True
        reply.value = "<p role='status'>Running your notebook …</p>"
        reply.value = f"<pre role='status'>{html.escape(_checked_apart(place, name))}</pre>"
        pressed.disabled = False

    pressed.on_click(check_now)
    display(ipywidgets.VBox([pressed, reply]))


def _checked_apart(path, name):
    """What the command says of a notebook; in a process of its own, for a kernel runs only one."""
    command = [sys.executable, "-m", "shared_utils.cli", "check", name, "--notebook", str(path)]
    done = subprocess.run(
        command,
        capture_output=True,
        text=True,
        encoding="utf-8",
        cwd=course_root(),
        check=False,
        # a kernel asks for colours, which would show here as escape codes
        env={name: value for name, value in os.environ.items() if "COLOR" not in name},
    )
    return done.stdout or done.stderr
