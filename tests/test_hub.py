"""A class on a hub: three invented learners fetch, solve and submit; an instructor marks.

Everything that a learner does goes through the hub to the learner's own server, as the buttons of
the assignment list do; work travels through nbgrader's exchange.
"""

import json
import os
import secrets
import shutil
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from pathlib import Path

import nbformat
import pytest

from shared_utils import cli
from shared_utils.classroom import classroom as classes
from tests.filling import filled
from tests.lab import free_port
from tests.marking import REPO, SET, marks_by_cell

pytestmark = [
    pytest.mark.long,
    pytest.mark.service,
    pytest.mark.grading,
    pytest.mark.timeout(900),
]

SIGN = {"page": "def page_vergence_d(distance_cm):\n    return 100 / distance_cm"}
# learner: answers other than the model's, marks of 30 (the page is worth 2, the written answer 4)
LEARNERS = {"lens-ada": ({}, 26), "lens-bo": (SIGN, 24), "lens-cleo": (None, 0)}
TOKEN = secrets.token_hex(16)
WHO = "open('who.txt', 'w').write(learner_id())"
EXCHANGE = """\
c = get_config()
c.CourseDirectory.course_id = "lens_course"
c.Exchange.root = "{folder}/exchange"
"""
# every server runs as one user of this machine, so a learner is known by the hub's name alone
LEARNERS_SIDE = 'import os\nc.CourseDirectory.student_id = os.environ["JUPYTERHUB_USER"]\n'
INSTRUCTORS_SIDE = "c.ExchangeCollect.check_owner = False\n"
HUB = """\
c = get_config()
c.JupyterHub.bind_url = "http://127.0.0.1:{port}"
c.JupyterHub.hub_port = {hub_port}
c.ConfigurableHTTPProxy.api_url = "http://127.0.0.1:{proxy_port}"
c.ConfigurableHTTPProxy.command = ["{proxy}"]
c.ConfigurableHTTPProxy.auth_token = "{token}"
c.JupyterHub.db_url = "sqlite:///{folder}/hub/hub.sqlite"
c.JupyterHub.cookie_secret_file = "{folder}/hub/cookie"
c.JupyterHub.authenticator_class = "dummy"
c.Authenticator.allow_all = True
c.JupyterHub.spawner_class = "simple"
c.SimpleLocalProcessSpawner.home_dir_template = "{folder}/home/{{username}}"
c.Spawner.cmd = ["{python}", "-m", "jupyterhub.singleuser", "--allow-root"]
c.Spawner.environment = {{"PYTHONPATH": "{repo}", "JUPYTER_CONFIG_PATH": "{folder}/settings"}}
c.JupyterHub.services = [{{"name": "test", "api_token": "{token}"}}]
scopes = ["admin:users", "admin:servers", "access:servers"]
c.JupyterHub.load_roles = [{{"name": "test", "services": ["test"], "scopes": scopes}}]
"""


@pytest.fixture
def folder():
    """A folder that the learners' servers can see, with what nbgrader needs on a hub."""
    made = Path(tempfile.mkdtemp(prefix="lens-hub-"))
    made.chmod(0o755)
    for part in ("hub", "settings", "home", "exchange"):
        (made / part).mkdir()
    (made / "exchange").chmod(0o777)
    text = EXCHANGE.format(folder=made) + LEARNERS_SIDE
    (made / "settings" / "nbgrader_config.py").write_text(text, encoding="utf-8")
    yield made
    shutil.rmtree(made)


@pytest.fixture
def hub(folder):
    """The address of a running hub."""
    pytest.importorskip("jupyterhub", reason="The extra hub is not installed.")
    proxy = shutil.which("configurable-http-proxy")
    if not proxy:
        pytest.skip("There is no configurable-http-proxy here (npm install -g).")
    port, hub_port, proxy_port = free_port(), free_port(), free_port()
    settings = HUB.format(
        folder=folder,
        port=port,
        hub_port=hub_port,
        proxy_port=proxy_port,
        proxy=proxy,
        token=TOKEN,
        python=sys.executable,
        repo=REPO,
    )
    (folder / "hub" / "jupyterhub_config.py").write_text(settings, encoding="utf-8")
    command = [sys.executable, "-m", "jupyterhub", "-f", "jupyterhub_config.py"]
    with open(folder / "hub" / "log", "wb") as log:
        running = subprocess.Popen(command, cwd=folder / "hub", stdout=log, stderr=log)
    address = f"http://127.0.0.1:{port}"
    try:
        for _ in range(120):
            try:
                ask(f"{address}/hub/api/")
                break
            except OSError:
                assert running.poll() is None, (folder / "hub" / "log").read_text()
                time.sleep(0.5)
        for name in LEARNERS:
            ask(f"{address}/hub/api/users/{name}", "POST")
            ask(f"{address}/hub/api/users/{name}/server", "POST")
        for name in LEARNERS:
            for _ in range(240):
                if ask(f"{address}/hub/api/users/{name}")["servers"].get("", {}).get("ready"):
                    break
                time.sleep(0.5)
        yield address
        for name in LEARNERS:
            ask(f"{address}/hub/api/users/{name}/server", "DELETE")
    finally:
        running.terminate()
        running.wait(timeout=60)


def ask(url, method="GET", **reply):
    """Return what the hub, or a learner's server behind it, answers."""
    data = json.dumps(reply).encode() if reply else b"" if method == "POST" else None
    headers = {"Authorization": f"token {TOKEN}", "Content-Type": "application/json"}
    request = urllib.request.Request(url, data, headers, method=method)
    with urllib.request.urlopen(request, timeout=60) as answer:
        text = answer.read()
    return json.loads(text) if text else None


def press(address, learner, action):
    """Do what a button of the learner's assignment list does."""
    about = {"course_id": "lens_course", "assignment_id": SET}
    reply = ask(f"{address}/user/{learner}/assignments/{action}", "POST", **about)
    assert reply["success"], reply


def nbgrader(room, *step):
    """Run one of nbgrader's own commands in the class's folder."""
    command = [sys.executable, "-m", "nbgrader", *step]
    environment = {**os.environ, "PYTHONPATH": str(REPO)}
    ran = subprocess.run(command, cwd=room, env=environment, capture_output=True, text=True)
    assert ran.returncode == 0, ran.stderr


def test_a_class_works_on_a_hub(folder, hub, monkeypatch):
    monkeypatch.setenv("PYTHONPATH", str(REPO))
    roster = folder / "roster.csv"
    roster.write_text("\n".join(["id", *LEARNERS]), encoding="utf-8")
    room = classes.new_class(folder / "class", roster)
    with open(room.folder / "nbgrader_config.py", "a", encoding="utf-8") as settings:
        settings.write(EXCHANGE.format(folder=folder) + INSTRUCTORS_SIDE)
    room.release(SET)
    nbgrader(room.folder, "release_assignment", SET)

    for learner, (answers, _) in LEARNERS.items():
        place = f"{hub}/user/{learner}/api/contents/{SET}/problems.ipynb"
        press(hub, learner, "fetch")
        fetched = nbformat.from_dict(ask(place)["content"])
        assert fetched.cells[0].source.startswith("# Problems 01")
        solved = fetched if answers is None else filled(SET, answers)
        solved.cells.append(nbformat.v4.new_code_cell(WHO))
        ask(place, "PUT", type="notebook", content=solved)
        reply = ask(
            f"{hub}/user/{learner}/assignments/validate", "POST", path=f"{SET}/problems.ipynb"
        )
        assert reply["success"], reply
        # the hub's user is the learner whose numbers the problems take
        assert ask(place.replace("problems.ipynb", "who.txt"))["content"] == learner
        press(hub, learner, "submit")

    nbgrader(room.folder, "collect", SET)
    assert cli.main(["class", "grade", "01", "--folder", str(room.folder)]) == 0
    assert cli.main(["class", "feedback", "01", "--folder", str(room.folder)]) == 0
    nbgrader(room.folder, "release_feedback", SET)

    for learner, (_, marks) in LEARNERS.items():
        assert sum(marks_by_cell(room, learner).values()) == marks, learner
        press(hub, learner, "fetch_feedback")
        (page,) = (folder / "home" / learner / SET / "feedback").glob("*/problems.html")
        text = page.read_text(encoding="utf-8")
        assert f"Feedback for <strong>{learner}</strong>" in text
        assert f"{marks} of 30" in text
        assert f"Numbers of learner {learner}." in text
