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
    if other["fellow_biometry"] is not None:  # the eye has its own
        own.pop("mean_k_d", None)
    return other | {"fellow_findings": own}
