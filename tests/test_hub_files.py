"""The files of a hub, and what the command says where a hub cannot start."""

import contextlib
import importlib.util
import io
import os
import re
import socket
import stat
import tokenize

import pytest

from shared_utils import cli
from shared_utils.classroom import folder as class_folder
from shared_utils.classroom.hub import files, trial
from shared_utils.grading.supervisor.settings import COURSE_ID

SETTINGS = sorted(files.TEMPLATES.glob("*/*.py.txt"))
OF_TRIAL = {
    "LENS_COURSE_HUB_PORT": "8000",
    "LENS_COURSE_HUB_INNER_URL": "http://127.0.0.1:8081",
    "LENS_COURSE_HUB_PROXY_URL": "http://127.0.0.1:8001",
    "LENS_COURSE_HUB_PROXY": "configurable-http-proxy",
    "LENS_COURSE_HUB_PASSWORD": "a-password-for-tests",
    "LENS_COURSE_HUB_RUN": "0",
    "JUPYTERHUB_USER": "trial-ada",
}


def values_of(text):
    """The settings of an environment file."""
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    return dict(line.split("=", 1) for line in lines)


def load(path):
    """Return the settings that a file of Python makes, as traitlets reads it."""
    from traitlets.config.loader import PyFileConfigLoader

    return PyFileConfigLoader(path.name, str(path.parent)).load_config()


@pytest.fixture
def machine(tmp_path, monkeypatch):
    """The files of a machine, and an environment with their settings filled in."""
    files.write_machine(tmp_path / "hub")
    values = values_of((tmp_path / "hub" / "hub.env").read_text(encoding="utf-8"))
    values["LENS_COURSE_PUBLIC_URL"] = "https://hub.example/"
    for name, value in values.items():
        monkeypatch.setenv(name, value)
    return tmp_path / "hub"


@pytest.mark.parametrize("path", SETTINGS, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_settings_compile_and_keep_the_line_length(path):
    text = path.read_text(encoding="utf-8")
    compile(text, str(path), "exec")
    assert list(tokenize.generate_tokens(io.StringIO(text).readline))
    assert max(map(len, text.splitlines())) <= 100


def test_every_setting_that_is_read_is_explained_and_every_one_explained_is_read():
    env = files.template("machine", "hub.env")
    config = files.template("machine", "jupyterhub_config.py")
    assert set(re.findall(r'"(LENS_COURSE_\w+)"', config)) == set(values_of(env))
    # each group of settings stands below a comment, and what is to be replaced is one's own group
    for block in env.strip().split("\n\n"):
        assert block.startswith("# "), block
    replaced = [name for name, value in values_of(env).items() if value.startswith("REPLACE")]
    assert replaced == ["LENS_COURSE_PUBLIC_URL"]
    for name in os.listdir(files.TEMPLATES / "machine"):
        text = (files.TEMPLATES / "machine" / name).read_text(encoding="utf-8")
        if name not in ("hub.env.txt", "STEPS.txt.txt", "jupyterhub_config.py.txt"):
            assert "REPLACE" not in text, name
    # words in capitals in the steps' commands
    steps = files.template("machine", "STEPS.txt")
    lines = "\n".join(line for line in steps.splitlines() if line.startswith(("   # ", "   $ ")))
    words = set(re.findall(r"\b[A-Z][A-Z_]{3,}\b", lines)) - {"DIR_MODE", "PATH"}
    above = steps.split("Put your own in for")[1].split("\n\n")[0]
    assert words == set(re.findall(r"\b[A-Z][A-Z_]{3,}\b", above))


def test_steps_speak_of_files_that_are_written_and_of_places_that_the_settings_name(machine):
    steps = (machine / "STEPS.txt").read_text(encoding="utf-8")
    for path in machine.iterdir():
        assert path.name in steps or path.name == "STEPS.txt", path.name
    service = (machine / "lens-course-hub.service").read_text(encoding="utf-8")
    for place in ("/etc/lens-course/", "/opt/lens-course/env"):
        assert place in steps
        assert place in service
    values = values_of((machine / "hub.env").read_text(encoding="utf-8"))
    state = values["LENS_COURSE_HUB_STATE"]
    assert f"WorkingDirectory={state}" in service
    assert f"StateDirectory={state.removeprefix('/var/lib/')}" in service
    for group in values["LENS_COURSE_GROUPS"].split():
        assert f"addgroup {group}" in steps
    exchange = load(machine / "nbgrader_config.py").Exchange.root
    assert f"install -d -m 1777 {exchange}" in steps
    assert f"class due --exchange {exchange}" in steps


def test_the_settings_of_nbgrader_name_the_class_as_grading_does(machine, tmp_path, monkeypatch):
    monkeypatch.setenv("JUPYTERHUB_USER", "trial-ada")
    learners = tmp_path / "trial" / "hub" / "settings" / "nbgrader_config.py"
    learners.parent.mkdir(parents=True)
    files.write(learners, files.template("trial", "nbgrader_config.py"))
    of_class = tmp_path / "trial" / "nbgrader_config.py"
    text = class_folder.SETTINGS + files.template("trial", "class_config.py")
    of_class.write_text(text, encoding="utf-8")
    (of_learner, of_instructor) = load(learners), load(of_class)
    assert of_learner.Exchange.root == of_instructor.Exchange.root
    for config in (load(machine / "nbgrader_config.py"), of_learner, of_instructor):
        assert config.CourseDirectory.course_id == COURSE_ID


def test_secrets_are_for_the_owner_alone_whatever_the_mask(tmp_path):
    before = os.umask(0)
    try:
        files.write_machine(tmp_path)
    finally:
        os.umask(before)
    modes = {path.name: stat.S_IMODE(path.stat().st_mode) for path in tmp_path.iterdir()}
    assert modes.pop("hub.env") == 0o600
    assert set(modes.values()) == {0o644}


def test_what_the_instructor_changed_is_kept_and_said(tmp_path, capsys):
    place = tmp_path / "hub"
    assert cli.main(["class", "hub", "files", str(place)]) == 0
    assert "hub.env: written" in capsys.readouterr().out
    with open(place / "hub.env", "a", encoding="utf-8") as env:
        env.write("MINE=1\n")
    assert cli.main(["class", "hub", "files", str(place)]) == 0
    out = capsys.readouterr().out
    assert "hub.env: there already with another text: kept as it is" in out
    assert "STEPS.txt: there already, as it would be written" in out
    assert (place / "hub.env").read_text(encoding="utf-8").endswith("MINE=1\n")


def test_a_place_that_cannot_be_written_to_is_said(tmp_path, capsys):
    (tmp_path / "file").write_text("", encoding="utf-8")
    assert cli.main(["class", "hub", "files", str(tmp_path / "file")]) == 2
    assert "cannot be made" in capsys.readouterr().err
    (tmp_path / "hub" / "hub.env").mkdir(parents=True)
    assert cli.main(["class", "hub", "files", str(tmp_path / "hub")]) == 2
    assert "is no file" in capsys.readouterr().err


def test_the_hub_refuses_what_is_not_set_and_passwords_in_clear(machine, monkeypatch):
    config = load(machine / "jupyterhub_config.py")
    assert config.JupyterHub.bind_url == "http://127.0.0.1:8000"
    assert config.JupyterHub.authenticator_class == "pam"
    assert config.LocalAuthenticator.allowed_groups == {"lens-learners", "lens-instructors"}
    monkeypatch.setenv("LENS_COURSE_BIND_URL", "http://:8000")
    with pytest.raises(SystemExit, match="in clear"):
        load(machine / "jupyterhub_config.py")
    monkeypatch.setenv("LENS_COURSE_SSL_CERT", "/etc/ssl/hub.pem")
    with pytest.raises(SystemExit, match="LENS_COURSE_SSL_KEY is not set"):
        load(machine / "jupyterhub_config.py")
    monkeypatch.setenv("LENS_COURSE_SSL_KEY", "/etc/ssl/hub.key")
    assert load(machine / "jupyterhub_config.py").JupyterHub.ssl_key == "/etc/ssl/hub.key"
    monkeypatch.setenv("LENS_COURSE_SPAWNER", "other")
    with pytest.raises(SystemExit, match="systemd or local"):
        load(machine / "jupyterhub_config.py")
    monkeypatch.setenv("LENS_COURSE_PUBLIC_URL", "REPLACE_WITH_https://HOST/")
    with pytest.raises(SystemExit, match="LENS_COURSE_PUBLIC_URL is not set"):
        load(machine / "jupyterhub_config.py")


@pytest.mark.long
@pytest.mark.service
@pytest.mark.parametrize("kind", ["trial", "systemd", "local"])
def test_every_setting_is_one_of_jupyterhubs(kind, machine, tmp_path, monkeypatch):
    pytest.importorskip("jupyterhub", reason="The extra hub is not installed.")
    from jupyterhub import app, auth, proxy, spawner
    from jupyterhub.authenticators import shared

    classes = [app.JupyterHub, auth.Authenticator, auth.LocalAuthenticator, spawner.Spawner]
    classes += [proxy.ConfigurableHTTPProxy, spawner.SimpleLocalProcessSpawner]
    classes.append(shared.SharedPasswordAuthenticator)
    if kind == "trial":
        for name, value in OF_TRIAL.items():
            monkeypatch.setenv(name, value)
        (tmp_path / "roster.csv").write_text("id\ntrial-ada\n", encoding="utf-8")
        path = machine / "trial.py"
        path.write_text(files.template("trial", "jupyterhub_config.py"), encoding="utf-8")
    else:
        path = machine / "jupyterhub_config.py"
        monkeypatch.setenv("LENS_COURSE_SPAWNER", kind)
    if kind == "systemd":
        reason = "jupyterhub-systemdspawner is not installed."
        classes.append(pytest.importorskip("systemdspawner", reason=reason).SystemdSpawner)
    traits = {each.__name__: each.class_traits(config=True) for each in classes}
    for section, values in load(path).items():
        unknown = set(values) - set(traits[section])
        assert not unknown, (section, unknown)


# ---------------------------------------------------------------------------- trial


@pytest.fixture
def with_programs(monkeypatch):
    """Let the hub's programs seem to be there, and refuse to start it."""
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: object())
    monkeypatch.setattr(trial.shutil, "which", lambda name: f"/usr/bin/{name}")

    def never(*_):
        raise AssertionError("it would have started")

    monkeypatch.setattr(trial, "serve", never)


def refusal(capsys, *line):
    assert cli.main(["class", "hub", "trial", *map(str, line)]) == 2
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    return err


def test_a_trial_says_which_program_is_missing_and_makes_nothing(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(trial.shutil, "which", lambda name: None)
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    assert "pip install -e '.[hub]'" in refusal(capsys, tmp_path / "new")
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: object())
    assert "npm install -g configurable-http-proxy" in refusal(capsys, tmp_path / "new")
    assert not (tmp_path / "new").exists()


def test_a_trial_refuses_a_port_that_is_taken_or_none(with_programs, tmp_path, capsys):
    with contextlib.closing(socket.socket()) as holder:
        holder.bind(("127.0.0.1", 0))
        holder.listen()
        port = holder.getsockname()[1]
        assert f"Port {port} cannot be had" in refusal(capsys, tmp_path / "new", "--port", port)
    for port in (0, -1, 65536):
        assert "--port" in refusal(capsys, tmp_path / "new", "--port", port)
    assert not (tmp_path / "new").exists()


def test_a_trial_refuses_other_folders_and_real_classes(with_programs, tmp_path, capsys):
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "letter.txt").write_text("mine", encoding="utf-8")
    port = ("--port", trial._free_ports(1)[0])
    assert "neither empty nor the folder of a class" in refusal(capsys, tmp_path / "other", *port)
    real = tmp_path / "real"
    real.mkdir()
    (real / "nbgrader_config.py").write_text(class_folder.SETTINGS, encoding="utf-8")
    (real / "roster.csv").write_text("id\nada.bright\n", encoding="utf-8")
    before = sorted(real.iterdir())
    answer = refusal(capsys, real, *port)
    assert "learners of its own, such as ada.bright" in answer
    answer = refusal(capsys, real, *port, "--db", "postgresql:///other")
    assert "leave --db out" in answer
    assert sorted(real.iterdir()) == before


def test_settings_of_a_trial_that_were_changed_are_kept(tmp_path):
    (tmp_path / "nbgrader_config.py").write_text(class_folder.SETTINGS, encoding="utf-8")
    (tmp_path / "roster.csv").write_text("id\n", encoding="utf-8")
    layout = class_folder.ClassFolder(tmp_path)
    trial._invent_learners(layout)
    assert layout.roster().keys() == trial.LEARNERS.keys()
    trial._write_files(layout)
    config = tmp_path / "hub" / "jupyterhub_config.py"
    config.write_text("# mine\n", encoding="utf-8")
    of_class = (tmp_path / "nbgrader_config.py").read_text(encoding="utf-8")
    trial._invent_learners(layout)
    trial._write_files(layout)
    assert config.read_text(encoding="utf-8") == "# mine\n"
    assert (tmp_path / "nbgrader_config.py").read_text(encoding="utf-8") == of_class
    assert stat.S_IMODE((tmp_path / "hub").stat().st_mode) == 0o700
    assert layout.is_own(config)
