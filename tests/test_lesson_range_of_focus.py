"""Range of focus: what its text says, what its sliders must obey, and its figures."""

import numpy as np
import pytest

from shared_utils.cases import range_of_focus as cases
from shared_utils.choice.tasks import LENS_OF
from shared_utils.optics import through_focus
from shared_utils.show import range_of_focus as figures
from tests.prose import says

STEM = "range_of_focus"


def reach(lens_class, pupil_mm):
    return cases.curve_of(lens_class, pupil_mm).range_d


def test_the_text_gives_the_ranges():
    says(STEM, "stays at 20/32 or better over 1.4 D", reach("monofocal", 3.0), digits=1)
    says(
        STEM,
        "the enhanced monofocal 1.7 D, extended depth 2.2 D",
        reach("enhanced monofocal", 3.0),
        reach("extended depth of focus", 3.0),
        digits=1,
    )
    says(STEM, "the bifocal ends at 0.8 D, dips", reach("bifocal", 3.0), digits=1)
    more = reach("extended depth of focus", 3.0) - reach("monofocal", 3.0)
    says(STEM, "here it is 0.8 D", more, digits=1)
    says(STEM, "a plain monofocal at 2 mm has 2.0 D", reach("monofocal", 2.0), digits=1)
    five = reach("extended depth of focus", 5.0)
    says(STEM, "At 5 mm extended depth falls to 1.1 D", five, digits=1)
    says(
        STEM,
        "From 3 to 5 mm the range in the model falls from 2.2 to 1.1 D",
        reach("extended depth of focus", 3.0),
        five,
        digits=1,
    )


def test_the_text_gives_the_two_eyes():
    alone = reach("monofocal", 3.0)
    says(STEM, "Alone, the far eye reaches 73 cm", 100 / alone, digits=0)
    pair = cases.two_eyes_with(-1.25, 3.0, "monofocal")
    says(STEM, "1.37 D of the lens and 1.25 D of the target add up to 2.62 D", alone, pair.range_d)
    (_, far_end), (near_begin, _) = cases.two_eyes_with(-2.0, 4.0, "monofocal").parts
    says(STEM, "the far eye ends at 1.06 D, the near eye begins at 1.18 D", far_end, near_begin)
    says(STEM, "1.37 D towards near and 1.22 D beyond", alone, cases.range_beyond_d("monofocal", 3))
    says(
        STEM,
        "1.06 D towards near, 0.82 D beyond",
        reach("monofocal", 4.0),
        cases.range_beyond_d("monofocal", 4.0),
    )


def test_the_text_gives_the_three_plans():
    (far_40, _), (mono_40, _), (mixed_40, mixed_shared) = (
        [value for _, value, _ in cases.what_a_plan_gives(*plan)]
        for plan in (
            (0.0, 3.0, "extended depth of focus"),
            (-1.25, 3.0, "monofocal"),
            (-0.5, 3.0, "extended depth of focus"),
        )
    )
    says(STEM, "labels at 40 cm want glasses (0.30 logMAR)", far_40)
    says(STEM, "labels at 0.16 logMAR", mono_40)
    assert mixed_40 == pytest.approx(mono_40, abs=0.05)  # "labels as well"
    says(STEM, "both eyes share 2.2 D", mixed_shared, digits=1)


def test_the_range_is_the_one_of_the_engine():
    for lens_class in LENS_OF:
        for pupil_mm in (3.0, 4.0):
            theirs = through_focus.usable_range_d(LENS_OF[lens_class], pupil_mm)
            assert reach(lens_class, pupil_mm) == pytest.approx(theirs, abs=0.03)


def test_ranges_shrink_with_the_pupil_and_grow_with_the_limit():
    for lens_class in ("monofocal", "enhanced monofocal", "extended depth of focus"):
        ranges = [reach(lens_class, pupil) for pupil in cases.PUPILS_MM]
        assert np.all(np.diff(ranges) < 0)
    wide = [cases.curve_of("monofocal", 3.0, limit).range_d for limit in (0.1, 0.2, 0.3, 0.4)]
    assert np.all(np.diff(wide) > 0)


def test_only_split_lenses_have_a_valley():
    valleys = {name: len(cases.curve_of(name, 3.0).parts) > 1 for name in LENS_OF}
    assert valleys["bifocal"]
    assert not any(valleys[name] for name in LENS_OF if name not in ("bifocal", "trifocal"))


def test_two_eyes_are_the_better_one_and_the_near_eye_is_shifted():
    pair = cases.two_eyes_with(-1.25, 3.0, "monofocal")
    assert np.all(pair.both <= pair.far_eye)
    assert np.all(pair.both <= pair.near_eye)
    # against the engine itself, an eye of −1.25 D
    at = cases.PAIR_D[::8]
    engine = through_focus.acuity_logmar(LENS_OF["monofocal"], 3.0, at + 1.25)
    assert pair.near_eye[::8] == pytest.approx(engine, abs=1e-3)
    alike = cases.two_eyes_with(0.0, 3.0, "monofocal")
    assert alike.shared_d == pytest.approx(alike.range_d)


def test_the_steps_of_the_plan_agree_with_the_curves():
    for pupil_mm, target_d in ((3.0, -1.25), (4.0, -2.0), (4.0, -2.25)):
        steps = cases.plan_steps(
            reach("monofocal", pupil_mm), cases.range_beyond_d("monofocal", pupil_mm), target_d
        )
        parts = cases.two_eyes_with(target_d, pupil_mm, "monofocal").parts
        assert -parts[-1][1] == pytest.approx(steps[1][2], abs=0.01)
        gap = parts[0][1] - parts[1][0] if len(parts) > 1 else 0.0
        assert steps[4][2] == pytest.approx(gap, abs=0.01)


def test_stretches_are_said():
    assert figures.reach_in_words([]) == "nowhere"
    assert figures.reach_in_words([(-0.05, -2.0)]) == "from far to 50 cm"


def test_the_figures_say_what_to_read():
    shown = figures.how_to_read()
    assert "at 66 cm 0.03, at 40 cm 0.30 logMAR" in shown.alt
    assert "2.2 D, the monofocal's 1.4 D" in shown.alt
    for figure in (shown, figures.one_curve("bifocal", 3.0)):
        assert figure.figure.get_size_inches()[0] * figure.figure.dpi <= 700
