"""nbgrader's settings for a class, handed over from the package.

A class's own ``nbgrader_config.py`` holds two lines that call ``configure``, so the command and the
form grader inside JupyterLab mark by the same steps.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from os import PathLike

    from traitlets.config import Config

TEMPLATES = Path(__file__).parent / "templates"
PACKAGE = "shared_utils.grading.supervisor"
COURSE_ID = "lens_course"
# what becomes of a submission, step by step, whoever asks for it
RESTORE_STEPS = ("nbgrader.preprocessors.ClearOutput", f"{PACKAGE}.restore.Restore")
GRADING_STEPS = (
    f"{PACKAGE}.run.Run",
    f"{PACKAGE}.outcome.Outcome",
    f"{PACKAGE}.collect_checks.CollectChecks",
    f"{PACKAGE}.sanitize.Sanitize",
    "nbgrader.preprocessors.LimitOutput",
)
CELL_TIMEOUT_S = 20
NOTEBOOK_TIMEOUT_S = 180
# lies beside a marked notebook and says which submission it was
STAMP = ".graded"
# holds the address of the gradebook where that is not a file of the class's folder
GRADEBOOK_URL = "gradebook.url"


def gradebook_url(folder: str | PathLike[str]) -> str:
    """Return the address of a class's gradebook, absolute, as nbgrader wants it."""
    url_file = Path(folder).resolve() / GRADEBOOK_URL
    if url_file.is_file():
        return with_driver(url_file.read_text(encoding="utf-8").strip())
    return f"sqlite:///{(Path(folder).resolve() / 'gradebook.db').as_posix()}"


def with_driver(url: str) -> str:
    """Return a database's address with the driver that the extra ``postgres`` brings."""
    scheme, colon, rest = url.partition("://")
    return f"postgresql+psycopg{colon}{rest}" if scheme in ("postgres", "postgresql") else url


def log_path(folder: str | PathLike[str]) -> Path:
    """Return the file that keeps what nbgrader says."""
    return Path(folder).resolve() / "class.log"


def configure(config: Config, folder: str | PathLike[str]) -> Config:
    """Write the settings of a class into an nbgrader configuration.

    The scripts' folder of this Python is put in front of ``PATH`` as well: nbgrader calls
    ``alembic`` by its bare name when it makes a gradebook.

    Parameters
    ----------
    config : traitlets.config.Config
        Changed in place.
    folder : path-like
        The class's folder, or the settings file in it.

    Returns
    -------
    traitlets.config.Config
        The same.
    """
    folder = Path(folder).resolve()
    folder = folder.parent if folder.is_file() else folder
    scripts = str(Path(sys.executable).parent)
    if os.environ.get("PATH", "").split(os.pathsep)[0] != scripts:
        os.environ["PATH"] = scripts + os.pathsep + os.environ.get("PATH", "")

    config.CourseDirectory.root = str(folder)
    config.CourseDirectory.course_id = COURSE_ID
    config.CourseDirectory.db_url = gradebook_url(folder)

    config.CourseDirectory.ignore = [".ipynb_checkpoints", "*.pyc", "__pycache__", STAMP]

    config.Autograde.create_student = False
    config.Autograde.pre_convert_hook = f"{PACKAGE}.restore.drop_links"
    config.Autograde.sanitize_preprocessors = [
        *RESTORE_STEPS,
        "nbgrader.preprocessors.CheckCellMetadata",
    ]
    config.Autograde.autograde_preprocessors = [
        *GRADING_STEPS,
        f"{PACKAGE}.save_marks.SaveMarks",
        "nbgrader.preprocessors.AssignLatePenalties",
        f"{PACKAGE}.save_marks.Settle",
        "nbgrader.preprocessors.CheckCellMetadata",
    ]
    set_limits(config, CELL_TIMEOUT_S, NOTEBOOK_TIMEOUT_S)

    config.GenerateFeedback.preprocessors = [
        "nbgrader.preprocessors.GetGrades",
        f"{PACKAGE}.feedback_redaction.Redact",
        f"{PACKAGE}.feedback.Layout",
    ]
    config.GenerateFeedback.exporter_class = f"{PACKAGE}.feedback.Page"
    config.Page.template_name = "lens_feedback"
    config.Page.extra_template_basedirs = [str(TEMPLATES)]
    config.Page.template_paths = _template_paths("lens_feedback", TEMPLATES)
    # the form grader's own templates, but for two: see why in them
    import nbgrader

    theirs = Path(nbgrader.__file__).parent / "server_extensions" / "formgrader" / "templates"
    ours = str(TEMPLATES / "form_grader")
    found = _template_paths("formgrade", theirs)
    config.HTMLExporter.template_paths = [ours, *found, str(theirs)]
    # what a learner wrote would run as a script in the instructor's browser; so here and in the
    # form grader, whose template takes the same filters
    config.HTMLExporter.sanitize_html = True
    config.HTMLExporter.filters = {
        "clean_html": f"{PACKAGE}.sanitize.clean",
        "markdown2html": f"{PACKAGE}.sanitize.markdown2html",
    }
    return config


def _template_paths(name, folder):
    """Where nbconvert looks for a template that lies in a folder, and for those that it extends."""
    from nbconvert.exporters import HTMLExporter

    exporter = HTMLExporter(template_name=name, extra_template_basedirs=[str(folder)])
    return exporter.template_paths


def set_limits(config: Config, cell_timeout_s: int, notebook_timeout_s: int) -> Config:
    """Write how a submission is run into an nbgrader configuration, and return it."""
    config.Run.timeout = cell_timeout_s
    config.Run.max_seconds = notebook_timeout_s
    return config
