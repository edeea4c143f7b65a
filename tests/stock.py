"""The hostile notebooks through stock nbgrader autograding: what they would get there.

Run as a program, inside a sandbox that keeps the machine safe from them: one line of JSON for each
attack, with the marks and the harm.
"""

import json
import os
import resource
import shutil
import signal
import sys
import time
import warnings
from pathlib import Path

from nbgrader.apps import NbGraderAPI
from traitlets.config import Config

from shared_utils.grading.supervisor import settings
from tests import test_hostile as hostile

SECONDS = 20


def autograde(folder, name, learners):
    """Run and mark a set as nbgrader alone does it, one learner after the other: seconds it took.

    Its kernels listen on ports that another program may have taken meanwhile; what is lost to that
    is tried again and not counted.
    """
    autograde_one, took = NbGraderAPI(config=config_of(folder)).autograde, 0.0
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # those of its libraries about each other
        for learner in learners:
            for _ in range(3):
                start = time.monotonic()
                outcome = autograde_one(name, learner, force=True)
                if outcome["success"]:
                    break
            took += time.monotonic() - start
            assert outcome["success"], outcome
    return took


def config_of(folder):
    """Return the settings of a class, with nothing of this course's own."""
    config = Config()
    config.CourseDirectory.root = str(folder)
    config.CourseDirectory.course_id = settings.COURSE_ID
    config.CourseDirectory.db_url = settings.gradebook_url(folder)
    config.Execute.timeout = 3
    return config


def out_of_time(*_):
    raise TimeoutError("stock grading was stopped")


def main(folder):
    signal.signal(signal.SIGALRM, out_of_time)
    # the machine's own bounds: a bomb shall show and do no harm
    resource.setrlimit(resource.RLIMIT_FSIZE, (2**28, 2**28))
    resource.setrlimit(resource.RLIMIT_AS, (2**32, 2**32))
    attacks = sorted(hostile.ATTACKS, key="other processes killed".__eq__)
    with hostile.hostile_class(folder, attacks) as (room, called):
        kept = folder / "kept"
        shutil.copytree(room.folder / "submitted", kept, symlinks=True)
        config = config_of(room.folder)
        for attack in attacks:
            os.chdir(room.folder)
            learner = hostile.id_of(attack)
            signal.alarm(SECONDS)  # stock grading has no limit of its own for a notebook
            outcome = NbGraderAPI(config=config).autograde(hostile.SET, learner, force=True)
            signal.alarm(0)
            harm = hostile.harm_done(room, attack, called)
            marks = hostile.stolen(room, attack) if outcome["success"] else None
            row = {"attack": attack, "marks": marks, "harm": harm}
            print("\nTOLD " + json.dumps(row), flush=True)
            shutil.rmtree(room.folder / "submitted")
            shutil.copytree(kept, room.folder / "submitted", symlinks=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
