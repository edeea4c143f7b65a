"""Random patients: pupils that go together, another eye, and the tasks that matter."""

from hypothesis import strategies as st

from shared_utils.choice.everyday_tasks import TASK_NAMES
from shared_utils.choice.findings import PUPILS
from shared_utils.choice.vocabulary import EYE_FINDINGS, MIRRORS, UNKNOWN
from shared_utils.power.biometry import Eye

EYES = st.builds(
    Eye,
    axial_length_mm=st.floats(17.0, 34.0),
    k1_d=st.floats(35.0, 58.0),
    k2_d=st.none() | st.floats(35.0, 58.0),
    acd_mm=st.none() | st.floats(1.5, 5.0),
    lens_thickness_mm=st.none() | st.floats(2.0, 7.0),
    white_to_white_mm=st.none() | st.floats(9.0, 14.0),
)


def in_order(values):
    """The same findings with the known pupils sorted: narrower in brighter light."""
    known = [name for name in PUPILS if values.get(name, UNKNOWN) != UNKNOWN]
    sizes = sorted(values[name] for name in known)
    return values | dict(zip(known, sizes, strict=True))


def as_measured(findings, eye):
    """The same findings without a keratometry that the biometry of the eye contradicts."""
    if eye is None:
        return findings
    k1_d, k2_d = (eye.k1_d, eye.k2_d) if isinstance(eye, Eye) else (eye["k1_d"], eye.get("k2_d"))
    measured = {"mean_k_d": (k1_d + (k1_d if k2_d is None else k2_d)) / 2.0}
    if k2_d is not None:
        measured["corneal_astigmatism_d"] = abs(k2_d - k1_d)
    apart = {"mean_k_d": 0.5, "corneal_astigmatism_d": 0.99}
    contradicted = {
        name
        for name, value in measured.items()
        if findings.get(name, UNKNOWN) != UNKNOWN and abs(findings[name] - value) > apart[name]
    }
    return {name: value for name, value in findings.items() if name not in contradicted}


def other_eyes(drawn, eyes=EYES):
    """Findings and biometry of the other eye, each perhaps none, and tasks."""
    one = {name: st.sampled_from([UNKNOWN, *drawn[name]]) for name in EYE_FINDINGS}
    return st.fixed_dictionaries(
        {
            "fellow_findings": st.fixed_dictionaries({}, optional=one),
            "fellow_biometry": st.none() | eyes,
            "tasks": st.lists(st.sampled_from(TASK_NAMES), min_size=1, unique=True),
        }
    )


def beside(other, findings):
    """Another eye as drawn, without what the findings of the person say of it already."""
    twice = {own for own, name in MIRRORS.items() if findings.get(name, UNKNOWN) != UNKNOWN}
    own = {n: v for n, v in in_order(other["fellow_findings"]).items() if n not in twice}
    own = as_measured(own, other["fellow_biometry"])
    return other | {"fellow_findings": own}
