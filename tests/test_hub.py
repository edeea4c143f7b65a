"""A class on a hub: invented learners fetch, solve and submit; an instructor marks.

Everything that a learner does goes through the hub to the learner's own server, as the buttons of
the assignment list do; work travels through nbgrader's exchange. Once on the hub of a trial, as
its command starts it, and once on the hub that the files for a machine describe.
"""

import contextlib
import http.cookiejar
import json
import os
import secrets
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
from pathlib import Path

import nbformat
import psutil
import pytest

from shared_utils import cli
from shared_utils.classroom import classroom as classes
from shared_utils.classroom import deadlines
from shared_utils.classroom.hub import files, trial
from shared_utils.grading.supervisor.bubblewrap import parent_options
from tests import postgres
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
LEARNERS = {"trial-ada": ({}, 26), "trial-bo": (SIGN, 24), "trial-cleo": (None, 0)}
TOKEN = secrets.token_hex(16)
WHO = "open('who.txt', 'w').write(learner_id())"
# what an instructor adds to the settings stays; the test speaks to the hub by this
SERVICE = f"""
c.JupyterHub.services = [{{"name": "test", "api_token": "{TOKEN}"}}]
scopes = ["admin:users", "admin:servers", "access:servers"]
c.JupyterHub.load_roles = [{{"name": "test", "services": ["test"], "scopes": scopes}}]
"""


@pytest.fixture
def folder():
    """A folder that every account can see."""
    pytest.importorskip("jupyterhub", reason="The extra hub is not installed.")
    if not shutil.which(trial.PROXY):
        pytest.skip(f"There is no {trial.PROXY} here (npm install -g).")
    made = Path(tempfile.mkdtemp(prefix="lens-hub-"))
    made.chmod(0o755)
    yield made
    shutil.rmtree(made)


def ask(url, method="GET", **reply):
    """Return what the hub, or a learner's server behind it, answers."""
    data = json.dumps(reply).encode() if reply else b"" if method == "POST" else None
    headers = {"Authorization": f"token {TOKEN}", "Content-Type": "application/json"}
    request = urllib.request.Request(url, data, headers, method=method)
    with urllib.request.urlopen(request, timeout=60) as answer:
        text = answer.read()
    return json.loads(text) if text else None


def log_in(address, name, password):
    """Log in by the hub's form, which starts a server; return the status of the answer."""
    cookies = http.cookiejar.CookieJar()
    opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(cookies))
    opener.open(f"{address}/hub/login", timeout=60).close()
    (token,) = {cookie.value for cookie in cookies if cookie.name == "_xsrf"}
    form = urllib.parse.urlencode({"username": name, "password": password, "_xsrf": token})
    try:
        with opener.open(f"{address}/hub/login?next=", form.encode(), timeout=120) as answer:
            return answer.status
    except urllib.error.HTTPError as refused:
        return refused.code


def await_servers(address, learners):
    for name in learners:
        for _ in range(240):
            if ask(f"{address}/hub/api/users/{name}")["servers"].get("", {}).get("ready"):
                break
            time.sleep(0.5)
        else:
            pytest.fail(f"The server of {name} did not start.")


def press(address, learner, action):
    """Do what a button of the learner's assignment list does."""
    about = {"course_id": "lens_course", "assignment_id": SET}
    reply = ask(f"{address}/user/{learner}/assignments/{action}", "POST", **about)
    assert reply["success"], reply


def fetch_solve_submit(address, learner, answers):
    place = f"{address}/user/{learner}/api/contents/{SET}/problems.ipynb"
    press(address, learner, "fetch")
    fetched = nbformat.from_dict(ask(place)["content"])
    assert fetched.cells[0].source.startswith("# Problems 01")
    solved = fetched if answers is None else filled(SET, answers)
    solved.cells.append(nbformat.v4.new_code_cell(WHO))
    ask(place, "PUT", type="notebook", content=solved)
    validate = f"{address}/user/{learner}/assignments/validate"
    reply = ask(validate, "POST", path=f"{SET}/problems.ipynb")
    assert reply["success"], reply
    # the hub's user is the learner whose numbers the problems take
    assert ask(place.replace("problems.ipynb", "who.txt"))["content"] == learner
    press(address, learner, "submit")


def check_feedback(home, learner, marks):
    (page,) = (home / SET / "feedback").glob("*/problems.html")
    text = page.read_text(encoding="utf-8")
    assert f"Feedback for <strong>{learner}</strong>" in text
    assert f"{marks} of 30" in text
    assert f"Numbers of learner {learner}." in text


# ---------------------------------------------------------------------------- trial


class RunningTrial:
    """The hub of a trial, as its command started it, with what it printed."""

    def __init__(self, place, *options):
        port = free_port()
        self.address = f"http://127.0.0.1:{port}"
        command = [sys.executable, "-m", "shared_utils.cli", "class", "hub", "trial", str(place)]
        self.process = subprocess.Popen(
            [*command, "--port", str(port), *options],
            env={**os.environ, "PYTHONPATH": str(REPO)},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        self.text = ""
        for line in self.process.stdout:
            self.text += line
            if "Ctrl-C here" in line:
                break
        else:
            pytest.fail(self.text)
        # the rest is read, so that the command never waits for its reader
        self.reader = threading.Thread(target=self._read, daemon=True)
        self.reader.start()
        shown = self.text.split("shown this once: ")[1]
        self.password = shown.split()[0]

    def _read(self):
        with self.process.stdout as rest:
            self.text += rest.read()

    def processes(self):
        """Every process of this run, from the command down, as psutil finds it."""
        return psutil.Process(self.process.pid).children(recursive=True)

    def end(self, number):
        """End the command, and return its code and what has outlived it."""
        before = self.processes()
        self.process.send_signal(number)
        code = self.process.wait(timeout=90)
        self.reader.join(timeout=30)
        _, alive = psutil.wait_procs(before, timeout=20)
        return code, alive


@pytest.fixture(params=["sqlite", "postgresql"])
def running_trial(request, folder):
    """A hub of a trial with its class, and the service that the test speaks by."""
    with contextlib.ExitStack() as stack:
        db = stack.enter_context(postgres.running()) if request.param == "postgresql" else None
        layout = trial.prepare(folder / "trial", db)
        with open(layout.path / "hub" / "jupyterhub_config.py", "a", encoding="utf-8") as settings:
            settings.write(SERVICE)
        hub = RunningTrial(layout.path)
        hub.in_postgresql = bool(db)
        try:
            yield hub, classes.Classroom(layout.path)
        finally:
            if hub.process.poll() is None:
                hub.end(signal.SIGTERM)


def test_a_class_works_on_the_hub_of_a_trial(running_trial, monkeypatch):
    hub, room = running_trial
    monkeypatch.setenv("PYTHONPATH", str(REPO))
    assert "not separated" in hub.text
    assert set(LEARNERS) == set(room.roster())
    in_a_file = (room.folder / "gradebook.db").exists()
    in_postgresql = (room.folder / "gradebook.url").exists()
    assert (in_a_file, in_postgresql) == (not hub.in_postgresql, hub.in_postgresql)
    assert log_in(hub.address, "trial-ada", "another password") == 403
    assert log_in(hub.address, "stranger", hub.password) == 403
    for learner in LEARNERS:
        assert log_in(hub.address, learner, hub.password) == 200
    await_servers(hub.address, LEARNERS)

    for learner, (answers, _) in LEARNERS.items():
        fetch_solve_submit(hub.address, learner, answers)
    trial.nbgrader(room.layout, "collect", SET)
    assert cli.main(["class", "grade", "01", "--folder", str(room.folder)]) == 0
    assert cli.main(["class", "feedback", "01", "--folder", str(room.folder)]) == 0
    trial.nbgrader(room.layout, "release_feedback", SET)

    receipts = deadlines.receipts(room.layout, SET, None)
    assert {each.learner: each.how for each in receipts} == dict.fromkeys(LEARNERS, "exchange")
    for learner, (_, marks) in LEARNERS.items():
        assert sum(marks_by_cell(room, learner).values()) == marks, learner
        press(hub.address, learner, "fetch_feedback")
        check_feedback(room.folder / "hub" / "home" / learner, learner, marks)

    logged = (room.folder / "hub" / "hub.log").read_text(encoding="utf-8")
    kept = [path for path in (room.folder / "hub").iterdir() if path.is_file()]
    assert hub.password not in logged
    assert all(hub.password.encode() not in path.read_bytes() for path in kept)
    code, alive = hub.end(signal.SIGINT)
    assert (code, alive) == (0, [])
    assert hub.text.endswith("The hub, its proxy and all servers have ended.\n")


@pytest.mark.parametrize("how", ["terminated", "killed", "the hub killed"])
def test_nothing_is_left_of_a_trial_however_it_ends(folder, how):
    hub = RunningTrial(folder / "trial")
    assert log_in(hub.address, "trial-ada", hub.password) == 200
    for _ in range(240):  # hub, proxy, server
        if len(hub.processes()) >= 3:
            break
        time.sleep(0.5)
    if how == "the hub killed":
        before = hub.processes()
        (top,) = psutil.Process(hub.process.pid).children()
        top.kill()
        assert hub.process.wait(timeout=60) != 0
        _, alive = psutil.wait_procs(before, timeout=60)
    else:
        number = signal.SIGTERM if how == "terminated" else signal.SIGKILL
        code, alive = hub.end(number)
        assert code == (128 + number if how == "terminated" else -number)
        _, alive = psutil.wait_procs(alive, timeout=60)
    assert not alive
    again = RunningTrial(folder / "trial")
    assert again.password != hub.password
    second = [sys.executable, "-m", "shared_utils.cli", "class", "hub", "trial"]
    refused = subprocess.run(
        [*second, str(folder / "trial"), "--port", str(free_port())],
        env={**os.environ, "PYTHONPATH": str(REPO)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert refused.returncode == 2
    assert "A hub runs in" in refused.stderr
    assert again.end(signal.SIGTERM)[1] == []


# ---------------------------------------------------------------------------- files


PASSWORD = secrets.token_urlsafe(12)
ACCOUNTS = {"iris": "lens-instructors", "ada": "lens-learners", "bo": "lens-learners"}


class Machine:
    """A view of this machine with a ``/etc``, ``/home`` and ``/srv`` of its own, for accounts.

    The steps of the files are done in it, so that no account is made on the machine itself.
    """

    def __init__(self, folder):
        self.folder = folder
        self.files = folder / "files"
        assert set(files.write_machine(self.files).values()) == {"written"}
        shutil.copytree("/etc", folder / "etc", symlinks=True)
        for part in ("home", "srv", "state"):
            (folder / part).mkdir()
        (folder / "state").chmod(0o700)
        view = ["bwrap", "--bind", "/", "/", "--dev-bind", "/dev", "/dev", "--cap-add", "ALL"]
        for part in ("etc", "home", "srv"):
            view += ["--bind", str(folder / part), f"/{part}"]
        # Python may lie where only root can look, so it is shown in a home that is open
        view += ["--perms", "0755", "--tmpfs", os.path.expanduser("~")]
        for prefix in dict.fromkeys((sys.base_prefix, sys.prefix, str(REPO))):
            view += [*parent_options(Path(prefix)), "--ro-bind", prefix, prefix]
        self.view = [*view, "--die-with-parent"]

    def run(self, *line, account=None, check=True, **options):
        """Run a line as root or as an account, at home."""
        home, who = "/", []
        if account:
            home = f"/home/{account}"
            who = ["setpriv", f"--reuid={account}", f"--regid={ACCOUNTS[account]}", "--init-groups"]
        environment = {**os.environ, "PYTHONPATH": str(REPO), "HOME": home}
        return subprocess.run(
            [*self.view, "--chdir", home, "--", *who, *line],
            env=environment,
            capture_output=True,
            text=True,
            check=check,
            **options,
        )

    def do_step(self, number):
        """Do the lines of a step for root, but for those with a name to put in."""
        text = (self.files / "STEPS.txt").read_text(encoding="utf-8")
        step = text.split(f"\n{number}. ")[1].split(f"\n{number + 1}. ")[0]
        lines = [line.strip()[2:] for line in step.splitlines() if line.startswith("   # ")]
        assert lines
        for line in lines:
            if not line.startswith("adduser"):
                self.run("sh", "-ec", f"cd {self.files}; {line}")

    def start(self, port):
        """Start the hub with the settings of ``hub.env``, as the service would."""
        path = self.files / "hub.env"
        values = dict(
            line.split("=", 1)
            for line in path.read_text(encoding="utf-8").splitlines()
            if line and not line.startswith("#")
        )
        values |= {
            "LENS_COURSE_PUBLIC_URL": f"http://127.0.0.1:{port}/",
            "LENS_COURSE_BIND_URL": f"http://127.0.0.1:{port}",
            "LENS_COURSE_SPAWNER": "local",
            "LENS_COURSE_HUB_STATE": str(self.folder / "state"),
            "LENS_COURSE_PROXY": shutil.which(trial.PROXY),
        }
        ports = (
            f"\nc.JupyterHub.hub_port = {free_port()}\n"
            f'c.ConfigurableHTTPProxy.api_url = "http://127.0.0.1:{free_port()}"\n'
        )
        with open(self.files / "jupyterhub_config.py", "a", encoding="utf-8") as settings:
            settings.write(SERVICE + ports)
        command = [sys.executable, "-m", "jupyterhub", "-f", self.files / "jupyterhub_config.py"]
        with open(self.folder / "log", "wb") as log:
            return subprocess.Popen(
                [*self.view, "--chdir", self.folder / "state", "--", *command],
                env={**os.environ, "PYTHONPATH": str(REPO), **values},
                stdout=log,
                stderr=log,
            )


@pytest.fixture
def machine(folder):
    if os.geteuid() != 0:
        pytest.skip("Only root can start servers for several accounts.")
    for program in ("bwrap", "setpriv", "adduser", "chpasswd"):
        if not shutil.which(program):
            pytest.skip(f"There is no {program} here.")
    made = Machine(folder)
    made.do_step(3)
    for account, group in ACCOUNTS.items():
        # Debian's adduser asks for a password and a name unless it is given these
        made.run("adduser", "--ingroup", group, "--disabled-password", "--gecos", "", account)
        made.run("chpasswd", input=f"{account}:{PASSWORD}")
    made.do_step(4)
    return made


def test_a_class_works_on_the_hub_that_the_files_describe(machine):
    port = free_port()
    address = f"http://127.0.0.1:{port}"
    learners = [name for name, group in ACCOUNTS.items() if group == "lens-learners"]
    course = [sys.executable, "-m", "shared_utils.cli", "class"]
    nbgrader = [sys.executable, "-m", "nbgrader"]
    room = "/home/iris/optics"

    def instructor(*line):
        return machine.run("sh", "-c", 'cd optics && exec "$@"', "-", *line, account="iris")

    (machine.folder / "roster.csv").write_text("\n".join(["id", *learners]), encoding="utf-8")
    roster = machine.folder / "roster.csv"
    machine.run(*course, "new", room, "--roster", str(roster), account="iris")
    instructor(*course, "due", "--exchange", "/srv/lens-course/exchange")
    instructor(*course, "release", "01")
    instructor(*nbgrader, "release_assignment", SET)

    hub = machine.start(port)
    try:
        for _ in range(240):
            with contextlib.suppress(OSError):
                ask(f"{address}/hub/api/")
                break
            assert hub.poll() is None, (machine.folder / "log").read_text()
            time.sleep(0.5)
        assert log_in(address, "ada", "another password") == 403
        assert log_in(address, "nobody", PASSWORD) == 403
        for learner in learners:
            assert log_in(address, learner, PASSWORD) == 200
        await_servers(address, learners)
        for learner, answers in zip(learners, ({}, SIGN), strict=True):
            fetch_solve_submit(address, learner, answers)

        # what one account can do to another's; each line with one that shows that it can be done
        work = f"/home/ada/{SET}/problems.ipynb"
        exchange = "/srv/lens-course/exchange/lens_course"
        assert machine.run("cat", work, account="ada", check=False).returncode == 0
        assert machine.run("cat", work, account="bo", check=False).returncode != 0
        assert machine.run("cat", f"{room}/hidden.secret", account="iris").stdout
        assert machine.run("cat", f"{room}/hidden.secret", account="ada", check=False).returncode
        assert machine.run("ls", f"{exchange}/outbound", account="ada").stdout.strip() == SET
        assert machine.run("ls", f"{exchange}/inbound", account="ada", check=False).returncode
        assert machine.run("mv", exchange, f"{exchange}2", account="ada", check=False).returncode

        instructor(*nbgrader, "collect", SET)
        instructor(*course, "grade", "01", "--require-sandbox")
        instructor(*course, "feedback", "01")
        instructor(*nbgrader, "release_feedback", SET)
        status = instructor(*course, "export")
        assert status.returncode == 0
        for learner, marks in zip(learners, (26, 24), strict=True):
            press(address, learner, "fetch_feedback")
            check_feedback(machine.folder / "home" / learner, learner, marks)
            ask(f"{address}/hub/api/users/{learner}/server", "DELETE")
    finally:
        # bubblewrap's own process does not hand the signal on, and the hub ends all that it started
        running = psutil.Process(hub.pid).children(recursive=True)
        running[0].terminate()
        _, alive = psutil.wait_procs(running, timeout=60)
        hub.wait(timeout=60)
    assert not alive
