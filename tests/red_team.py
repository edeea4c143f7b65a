"""Invented patients who try the advice hard: extremes, contradictions, unknowns, both eyes.

Half of them are drawn uniformly, half are nearly healthy with one to three things wrong, so that
interactions are reached. All fields come from the vocabulary itself: a new finding or wish is
drawn without a change here. The same draw feeds a fixed clinic and hypothesis, whose failures
shrink towards a healthy patient, for the first of every list of choices is the healthy one.
"""

import copy
import random
from functools import cache, cached_property

from hypothesis import strategies as st

from shared_utils.choice import candidacy, counselling, gate, plans, tasks
from shared_utils.choice.everyday_tasks import TASK_NAMES
from shared_utils.choice.findings import USUAL_WISHES, from_dict
from shared_utils.choice.vocabulary import (
    EYE_FINDINGS,
    FINDINGS,
    MIRRORS,
    UNKNOWN,
    VOCABULARY,
    WISHES,
    Graded,
)
from shared_utils.clinic.patient_file import USUAL_A_CONSTANT, Consultation
from shared_utils.commands import consult
from tests.drawing import as_measured

PUPILS = ("photopic_pupil_mm", "mesopic_pupil_mm", "scotopic_pupil_mm")
HEALTHY_EYE = {"axial_length_mm": 23.5, "k1_d": 43.0, "k2_d": 43.5, "acd_mm": 3.1}
LENGTHS_MM, K_D = (18.0, 35.0), (34.0, 60.0)
A_CONSTANT = USUAL_A_CONSTANT
EVERY = 59
KEEPS_ITS_LENS = ("phakic", "pseudophakic monofocal", "pseudophakic light-splitting")
PARTS = {"findings": FINDINGS, "wishes": WISHES, "fellow_findings": EYE_FINDINGS}


# --- one patient, drawn ------------------------------------------------------------------------


def healthy():
    """A patient in whom nothing is wrong and everything is known, as a patient's file says it."""
    return {
        "label": "invented patient",
        "findings": {name: kind.best for name, kind in FINDINGS.items()}
        | {"fellow_eye": "cataract"},
        "wishes": {name: kind.best for name, kind in WISHES.items()} | USUAL_WISHES,
        "fellow_findings": {name: kind.best for name, kind in EYE_FINDINGS.items()},
        "biometry": dict(HEALTHY_EYE),
        "fellow_biometry": dict(HEALTHY_EYE),
        "tasks": list(TASK_NAMES),
        "plan": {"target_d": 0.0, "fellow_target_d": 0.0},
    }


def draw(source):
    """Draw a patient; ``source`` is a random.Random, or hypothesis's own."""
    wrong = source.choice((1, 2, 3, None))
    entry = _uniform(source) if wrong is None else _nearly_healthy(source, wrong)
    return _reconciled(entry)


@st.composite
def entries(draw_from):
    """The same draw for hypothesis."""
    return draw(draw_from(st.randoms(use_true_random=False)))


@cache
def clinic(count, seed=20):
    """A clinic of so many patients that the course accepts; half nearly healthy."""
    source, cases = random.Random(seed), []
    while len(cases) < count:
        half = len(cases) % 2
        entry = _uniform(source) if half else _nearly_healthy(source, source.choice((1, 2, 3)))
        case = Case(_reconciled(entry), number=len(cases))
        if case.patient is not None:
            cases.append(case)
    return tuple(cases)


def _nearly_healthy(source, wrong):
    """A healthy patient, or one with a plan that suits: else no plan would meet what spoils it."""
    entry, planned = healthy(), source.choice(("nothing", "monovision", "toric"))
    if planned == "monovision":
        entry["plan"]["fellow_target_d"] = -1.25
    if planned == "toric":
        entry["findings"]["corneal_astigmatism_d"] = 2.0
        entry["biometry"] = HEALTHY_EYE | {"k1_d": 42.5, "k2_d": 44.5}
    places = [(part, name) for part, kinds in PARTS.items() for name in kinds]
    places += [("biometry", ""), ("fellow_biometry", ""), ("plan", ""), ("tasks", "")] * 4
    for _ in range(wrong):
        part, name = source.choice(places)
        _draw_into(entry, part, name, source)
    return entry


def _uniform(source):
    entry = healthy()
    for part, kinds in PARTS.items():
        for name in kinds:
            _draw_into(entry, part, name, source)
    for part in ("biometry", "fellow_biometry", "plan", "tasks"):
        _draw_into(entry, part, "", source)
    return entry


def _draw_into(entry, part, name, source):
    if name:
        entry[part][name] = _value(PARTS[part][name], source)
    elif part == "plan":
        entry["plan"] = {which: _target(source) for which in ("target_d", "fellow_target_d")}
    elif part == "tasks":
        entry["tasks"] = source.sample(list(TASK_NAMES), source.choice((3, 1, len(TASK_NAMES))))
    else:
        entry[part] = _biometry(source)


def _value(kind, source):
    if isinstance(kind, Graded):
        return source.choice((*kind.grades, UNKNOWN))
    if kind.name in PUPILS:  # few widths, for the optics of each is computed once
        return source.choice((kind.best, 3.0, 5.0, 3.0, 5.0, kind.low, kind.high, UNKNOWN))
    way = source.choice(("best", "near", "anywhere", "low", "high", UNKNOWN))
    value = {
        "best": kind.best,
        "near": kind.best + source.choice((1, -1, 3, -3, 6, -6, 12, -12)) * kind.near,
        "anywhere": kind.low + source.choice(range(21)) / 20 * (kind.high - kind.low),
        "low": kind.low,
        "high": kind.high,
        UNKNOWN: UNKNOWN,
    }[way]
    return value if value == UNKNOWN else round(min(max(value, kind.low), kind.high), 2)


def _target(source):
    return source.choice((0.0, *(n / 4 for n in range(-1, -17, -1)), *(n / 4 for n in range(1, 9))))


def _biometry(source):
    if source.choice((False, False, False, True)):
        return None
    length_mm = source.choice((23.5, 22.2, 24.8, 21.0, 26.5, *LENGTHS_MM, "anywhere"))
    if length_mm == "anywhere":
        length_mm = round(LENGTHS_MM[0] + source.choice(range(171)) / 10, 1)
    k1_d = source.choice((43.0, 41.0, 46.0, *K_D, "anywhere"))
    if k1_d == "anywhere":
        k1_d = K_D[0] + source.choice(range(105)) / 4
    drawn = {"axial_length_mm": length_mm, "k1_d": k1_d}
    step_d = source.choice((0.5, 0.0, 1.5, 3.0, 6.0, None))
    if step_d is not None:
        drawn["k2_d"] = min(k1_d + step_d, K_D[1])
    for name, choices in (
        ("acd_mm", (3.1, None, 1.5, 5.0)),
        ("lens_thickness_mm", (None, 4.5, 3.0, 6.0)),
        ("white_to_white_mm", (None, 11.8, 9.0, 14.0)),
        ("k1_axis_deg", (None, 0.0, 45.0, 90.0)),
    ):
        value = source.choice(choices)
        if value is not None:
            drawn[name] = value
    return drawn


def _reconciled(entry):
    """Take away what is refused: pupils in disorder, one thing found twice and not alike."""
    for part in ("findings", "fellow_findings"):
        known = [name for name in PUPILS if entry[part].get(name, UNKNOWN) != UNKNOWN]
        widths = sorted(entry[part][name] for name in known)
        entry[part] |= dict(zip(known, widths, strict=True))
    for own, mirror in MIRRORS.items():
        if own in entry["fellow_findings"]:
            entry["findings"].pop(mirror, None)
    for part, measured in (("findings", "biometry"), ("fellow_findings", "fellow_biometry")):
        for name in ("mean_k_d", "corneal_astigmatism_d"):  # the biometry has them
            if entry[measured] is not None and entry[part].get(name) == FINDINGS[name].best:
                del entry[part][name]
        entry[part] = as_measured(entry[part], entry[measured])
    return entry


# --- one patient, asked ------------------------------------------------------------------------


class Case:
    """A drawn patient with all that the course says of it, each computed once.

    One with a number, of the clinic, is asked for every so many of the changes that it could
    have; one without, as hypothesis draws it and as a failure shrinks, for all of them.
    """

    def __init__(self, entry, number=None):
        self.entry, self.number = entry, number

    @cached_property
    def patient(self):
        """The patient, or None where the course refuses the entry in a sentence."""
        given = {key: part for key, part in self.entry.items() if key != "plan"}
        given = {key: part for key, part in given.items() if part is not None}
        try:
            return from_dict(given)
        except ValueError:
            return None

    @property
    def targets_d(self):
        return self.entry["plan"]["target_d"], self.entry["plan"]["fellow_target_d"]

    @property
    def eyes_d(self):
        """The refractions after the plan: an eye that is not operated on keeps its own."""
        has_d = self.values["fellow_refraction_d"]
        stays = self.values["fellow_eye"] in KEEPS_ITS_LENS and has_d != UNKNOWN
        return (self.targets_d[0], has_d) if stays else self.targets_d

    @property
    def values(self):
        return self.patient.values

    @property
    def fellow(self):
        return self.patient.fellow_values

    @property
    def eye(self):
        return self.patient.eye

    @cached_property
    def consultation(self):
        return Consultation(self.patient, *self.targets_d, A_CONSTANT)

    @cached_property
    def advice(self):
        return {advice.lens_class: advice for advice in candidacy.assess(self.patient)}

    @cached_property
    def gate(self):
        return gate.of_patient(self.patient, A_CONSTANT, self.targets_d[0])

    @cached_property
    def monovision(self):
        return plans.assess_monovision(self.patient, *self.targets_d)

    @cached_property
    def toric(self):
        return plans.assess_toric(self.patient)

    @cached_property
    def sheet(self):
        return counselling.sheet(self.patient, *self.targets_d)

    @cached_property
    def answer(self):
        return consult.short_answer(self.consultation)

    @cache  # noqa: B019 - a case lives as long as its clinic
    def glasses(self, lens_class):
        return tasks.glasses_for(self.patient, tasks.LENS_OF[lens_class], *self.targets_d)

    @property
    def one_eyed(self):
        """Whether the other eye does not see, by what the entry says."""
        best = self.fellow["potential_acuity_logmar"]
        return self.values["fellow_eye"] == "none or blind" or (best != UNKNOWN and best >= 1.0)

    def changed(self, part, name, value):
        """The same patient with one value changed."""
        entry = copy.deepcopy(self.entry)
        entry[part][name] = value
        return Case(entry)

    def worsened(self, parts):
        """Part, name and the worse value of each known finding or wish that can get worse."""
        found = []
        for part in parts:
            for name, value in self.entry[part].items():
                worse = UNKNOWN if value == UNKNOWN else worse_value(PARTS[part][name], value)
                if worse != UNKNOWN:
                    found.append((part, name, worse))
        return self.some(found)

    def some(self, found):
        """Every so many of what was found, others for the next patient; without a number, all."""
        return found if self.number is None else found[self.number % EVERY :: EVERY]


def worse_value(kind, value):
    """The next grade, or a number worse by a fifth of the range; unknown where none is worse."""
    if isinstance(kind, Graded):
        grades = list(kind.grades)
        place = grades.index(value) + 1
        return grades[place] if place < len(grades) else UNKNOWN
    step = (kind.high - kind.low) / 5
    for moved in (value + step, value - step):
        moved = round(min(max(moved, kind.low), kind.high), 2)
        if kind.badness(moved) > kind.badness(value):
            return moved
    return UNKNOWN


def shrunk(entry, violates):
    """The entry with all made healthy that the violation does not need."""
    entry, usual = copy.deepcopy(entry), healthy()
    for part in ("biometry", "fellow_biometry", "tasks", "plan"):
        entry = _tried(entry, part, None, usual[part], violates)
    for part in PARTS:
        for name in list(entry[part]):
            if name in usual[part]:
                entry = _tried(entry, part, name, usual[part][name], violates)
    for which in ("target_d", "fellow_target_d"):
        entry = _tried(entry, "plan", which, 0.0, violates)
    return entry


def _tried(entry, part, name, value, violates):
    simpler = copy.deepcopy(entry)
    if name is None:
        simpler[part] = copy.deepcopy(value)
    else:
        simpler[part][name] = value
    case = Case(simpler)
    return simpler if case.patient is not None and violates(case) else entry


def unusual(entry):
    """What of an entry differs from the healthy patient: all that a reader needs."""
    usual = healthy()
    shown = {}
    for part, given in entry.items():
        if isinstance(given, dict):
            kept = {n: v for n, v in given.items() if usual[part].get(n, UNKNOWN) != v}
            if kept:
                shown[part] = kept
        elif given != usual[part]:
            shown[part] = given
    return shown


__all__ = ["VOCABULARY", "Case", "clinic", "draw", "entries", "healthy", "shrunk", "unusual"]
