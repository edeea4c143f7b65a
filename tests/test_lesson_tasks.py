"""Tasks and glasses: numbers in the prose, a page among the curves, readers, light and pupil."""

import numpy as np
import pytest
from matplotlib.patches import PathPatch

from shared_utils.bank.items import bank
from shared_utils.bank.posed import pose
from shared_utils.cases import tasks as cases
from shared_utils.choice import tasks
from shared_utils.choice.everyday_tasks import TASKS
from shared_utils.choice.limits import Limits
from shared_utils.choice.outlook import outlook
from shared_utils.choice.sight import EyeWithLens
from shared_utils.choice.tasks import LENS_OF, USUAL_PUPIL_MM
from shared_utils.explore.tasks import reader_over_a_lens
from shared_utils.optics import acuity, through_focus
from shared_utils.show import tasks as figures
from tests.prose import says

STEM = "tasks"
EXTENDED = "extended depth of focus"
BY_NAME = {task.name: task for task in TASKS}


def test_the_prose_says_what_the_code_computes():
    paper = BY_NAME["newspaper"]
    limb = np.degrees(paper.letter_mm / 5 / 1000 / paper.distance_m) * 60
    says(STEM, "A fifth of the x, seen from there, spans 2.6 arcmin", limb, digits=1)
    says(STEM, r"\log_{10} 2.6 = 0.41", np.log10(limb))
    says(STEM, "the newspaper needs 0.11 logMAR at −2.50 D", paper.needed_logmar, paper.vergence_d)
    says(STEM, "letters grow by 0.08 logMAR", np.log10(40 / 33))
    depth = through_focus.usable_range_d(LENS_OF["monofocal"], np.array([2.0, 5.0]))
    says(STEM, "from 2.0 D at 2 mm to 0.9 D at 5 mm", *depth, digits=1)
    says(STEM, "a milliradian is 3.4 arcmin", np.degrees(0.001) * 60, digits=1)
    (found,) = tasks.glasses_needed(LENS_OF["monofocal"], 3.0, 0.0, [paper])
    says(STEM, "at 3 mm, so +1.50 D does", found.reader_d)
    says(STEM, "a monofocal set for far +2.50 D is comfortable", found.comfortable_reader_d)
    assert found.comfortable_reader_d == 1 / 0.40  # textbooks: the vergence of the page
    (stretched,) = tasks.glasses_needed(LENS_OF[EXTENDED], 3.0, 0.0, [paper])
    says(
        STEM,
        "Behind a stretched lens the comfortable reader is +2.00 D",
        stretched.comfortable_reader_d,
    )
    clear = cases.tasks_behind(0.0, EXTENDED, 0.0).tasks(clear=True)
    says(STEM, "7 of the 10 tasks are clear", len(clear), digits=0)
    says(STEM, "gain 0.13 logMAR", np.log10(38 / 28))
    says(
        STEM,
        "For step 5 the curve gives 0.04",
        cases.task_steps(cases.MUSIC_ON_STAGE, EXTENDED)[4][2],
    )
    weakest, comfortable = (
        value for _, _, value, _ in cases.task_steps(cases.NEWSPAPER, EXTENDED)[-2:]
    )
    says(STEM, "newspaper: weakest +0.50 D, comfortable +2.00 D", weakest, comfortable)


def test_the_answers_of_the_page():
    nearer = cases.page_among_curves(33.0, 1.5, "bright")
    usual = cases.page_among_curves(40.0, 1.5, "bright")
    lost = nearer.here_logmar[EXTENDED] - usual.here_logmar[EXTENDED]
    assert lost > 0.2 > 2 * (nearer.task.needed_logmar - usual.task.needed_logmar)
    assert usual.clear == ["bifocal", "trifocal"]
    assert cases.task_in_light(4.0, "dim", "newspaper").clear == []
    assert cases.task_in_light(3.0, "bright", "newspaper").clear == ["bifocal", "trifocal"]
    one = cases.tasks_behind(1.0, EXTENDED, 0.0)
    assert one.tasks(clear=False) == ["road sign at night", "fine print in dim light"]
    weakest, comfortable = (cases.tasks_behind(d, "monofocal", 0.0) for d in (1.5, 2.5))
    assert "road sign at night" in weakest.tasks(clear=False)
    assert weakest.tasks(clear=True)[:2] == ["road sign by day", "television"]
    assert "television" in comfortable.tasks(clear=False)
    assert "Newspaper: weakest reader +1.50 D, comfortable +2.50 D." in (
        reader_over_a_lens().sentence(weakest)
    )
    assert EXTENDED in cases.task_in_light(3.0, "bright", "computer").clear
    assert cases.task_in_light(4.0, "bright", "computer").clear == ["trifocal"]
    assert cases.task_in_light(5.0, "bright", "computer").clear == []
    small = cases.task_in_light(2.0, "bright", "computer").clear
    assert small == list(LENS_OF)


def test_the_curves_are_those_of_the_glasses():
    for light, pupil_mm in USUAL_PUPIL_MM.items():
        page = cases.page_among_curves(47.0, 2.0, light)
        for name, lens in LENS_OF.items():
            (found,) = tasks.glasses_needed(lens, pupil_mm, 0.0, [page.task])
            assert page.here_logmar[name] == pytest.approx(found.acuity_logmar, abs=0.01)
            assert (name in page.clear) == found.clear or name in page.open


def test_glasses_and_target_do_the_same():
    for name in LENS_OF:
        worn = cases.tasks_behind(0.5, name, 0.0).margin_logmar
        set_so = cases.tasks_behind(0.0, name, -0.5).margin_logmar
        assert worn == pytest.approx(set_so)
        found = tasks.glasses_needed(LENS_OF[name], USUAL_PUPIL_MM, 0.0)
        for row, one in enumerate(found):
            if one.clear_with and 0 < one.reader_d <= 2.5:
                behind = cases.tasks_behind(one.reader_d, name, 0.0)
                assert behind.margin_logmar[row] >= 0, (name, one.task.name)


def test_less_light_asks_for_more():
    for task in cases.BY_LIGHT:
        needs = [
            cases.task_in_light(3.0, light, task.name).task.needed_logmar
            for light in USUAL_PUPIL_MM
        ]
        assert needs == sorted(needs, reverse=True)
        monofocal = cases.task_in_light(3.0, "bright", task.name).along_logmar["monofocal"]
        if task.distance_m < 1.0:
            assert np.all(np.diff(monofocal) > 0)


def test_the_loss_by_defocus_is_that_of_the_published_law():
    plain = LENS_OF["monofocal"]
    for defocus_d in (-1.0, -1.5, -2.0):
        lost = through_focus.acuity_logmar(plain, 3.75, defocus_d) - through_focus.acuity_logmar(
            plain, 3.75, 0.0
        )
        assert lost == pytest.approx(acuity.blendowske_logmar(defocus_d), abs=0.1)


def test_the_patient_of_the_page():
    words = [
        [
            figures.glass(found)
            for found in tasks.glasses_needed(
                LENS_OF[name], cases.PUPIL_OF_PATIENT_MM, 0.0, cases.ASKED
            )
        ]
        for name in (EXTENDED, "trifocal")
    ]
    assert words[0] == ["none ?", "none", "none ?", "+0.50/+2.00"]
    assert words[1][0].endswith("?")
    assert words[1][3].startswith("none")
    table = figures.glasses_table((EXTENDED,), cases.PUPIL_OF_PATIENT_MM, cases.ASKED).data
    assert "+0.50/+2.00" in table
    assert table.count('<th scope="row">') == 4
    (farther,) = tasks.glasses_needed(
        LENS_OF[EXTENDED], 2.8, 0.0, [tasks.Task("tablet", 0.55, 2.0, page=True)]
    )
    assert farther.clear


def test_of_a_hundred_people_like_him_the_page_says_how_many():
    numbers = []
    for name in ("trifocal", "monofocal"):
        eye = EyeWithLens(LENS_OF[name], 0.0, Limits(cases.PUPIL_OF_PATIENT_MM))
        [found] = outlook(eye, eye, [cases.NEWSPAPER])
        numbers.append((found.of_100, found.low, found.high))
    says(STEM, "with trifocals, 55 would read the newspaper", numbers[0][0], digits=0)
    says(STEM, "it may be 0 to 93; with monofocals 2, at most 5", *numbers[0][1:], digits=0)
    says(STEM, "with monofocals 2, at most 5", numbers[1][0], numbers[1][2], digits=0)


def test_the_figure_says_what_the_model_says():
    alt = figures.glasses_that_remain().alt
    assert "extended depth of focus: 7 of 10 clear" in alt
    assert "monofocal: 4 of 10 clear without glasses, newspaper +1.50/+2.50 D" in alt
    minus = figures.glasses_that_remain(target_d=-2.0).alt
    assert "monofocal: 4 of 10 clear" not in minus


def test_the_letters_to_read_are_as_high_as_they_are_said_to_be():
    for seed in range(6):
        asked = pose(bank()["print-to-read"], seed)
        shown = asked.shown_figure()
        (word,) = (p for p in shown.figure.axes[0].patches if isinstance(p, PathPatch))
        assert word.get_path().get_extents().y1 == pytest.approx(asked.numbers["tall_mm"], abs=0.01)
        assert f"its x stands {asked.numbers['letter_mm']:.1f} mm" in shown.alt
        assert "logMAR" not in shown.alt


def test_the_pupils_to_read_are_slopes_and_not_told():
    for seed in range(6):
        asked = pose(bank()["pupil-to-read"], seed)
        shown = asked.shown_figure()
        day, evening = shown.figure.axes[0].lines
        for line, name in ((day, "narrow_mm"), (evening, "wide_mm")):
            (_, defocus_d), (_, blur_mrad) = line.get_data()
            assert blur_mrad / defocus_d == pytest.approx(asked.numbers[name])
            assert f"{blur_mrad:.2f} mrad" in shown.alt
        assert " mm" not in shown.alt


def test_no_two_words_of_the_figure_of_glasses_lie_on_each_other():
    figure = figures.glasses_that_remain().figure
    figure.canvas.draw()
    boxes = [text.get_window_extent() for text in figure.axes[0].texts]
    for at, box in enumerate(boxes):
        assert not any(box.overlaps(other) for other in boxes[at + 1 :])
