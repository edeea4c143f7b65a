# %% [markdown] question="start"
# # Problems {{number range_of_focus}} · {{title range_of_focus}}
#
# Eight problems and one written answer, 30 points, about 40 minutes. The lesson is
# [{{number range_of_focus}} {{title range_of_focus}}](../../lessons/{{stem range_of_focus}}.ipynb).
#
# Run the cells from the top. Each problem gives you numbers of your own. Write your answer where it
# says `YOUR CODE HERE`, run the check below it, and read its one sentence. When you are done, save and press
# **Check my answers** below, or run `lens-course check {{number range_of_focus}}` in a terminal.
#
# Signs: a real object has negative vergence (40 cm is −2.50 D); ranges are positive numbers of dioptres, counted
# from far towards near; a target of −1.25 D makes an eye myopic by that much.
#
# *All patients are invented. For learning, not for patient care: follow the lens's labelling, local
# rules and the judgement of a licensed practitioner.*

# %% given="setup"
import math

import numpy as np
from IPython.display import display

from shared_utils.problems import check_button, checks
from shared_utils.problems.hidden_numbers import HiddenDraw
from shared_utils.problems.numbers import Draw, learner_id
from shared_utils.show import range_of_focus as figures

print(f"Numbers for learner: {learner_id()}")
check_button.show("range_of_focus")

# %% [markdown] question="axis" goals="1"
# ## 1 · The axis of the curve (2 points)
#
# Write two functions. The first takes the distance of an object in **cm** (positive, as a ruler shows it)
# and returns its place on the axis of a defocus curve, in **D** with its sign. The second takes the power of
# a lens that stands before the eye while the chart is far, in **D**, and returns the distance it stands for in
# **cm**, positive. Let the lens stand at the eye.

# %% given="axis"
axis = Draw("range_of_focus/axis")
axis_cm = axis.pick("distance_cm", 27, 95)
axis_lens_d = -axis.pick("lens_d", 0.5, 4.0, step=0.25)
axis.tell(
    f"Kasimir Dolan's tablet stands at **{axis_cm} cm**. Later a lens of **{axis_lens_d:+.2f} D** stands "
    "before his eye."
)


# %% answer="axis"
def place_on_axis_d(distance_cm):
    ### BEGIN SOLUTION
    return -100 / distance_cm
    ### END SOLUTION


def stands_for_cm(lens_d):
    ### BEGIN SOLUTION
    return -100 / lens_d
    ### END SOLUTION


# %% check="axis" points=1 hide=true
axis_marks = checks.Marks(1)
axis_marks.step(
    checks.number,
    "place on the axis",
    lambda: place_on_axis_d(axis_cm),
    -100 / axis_cm,
    unit="D",
    within=0.01,
    expect="a vergence in dioptres, negative because light from a real object diverges",
    slips={
        "the sign: near lies on the negative side.": 100 / axis_cm,
        "centimetres were not turned into metres.": -1 / axis_cm,
        "that is the distance in metres; the axis holds its reciprocal.": -axis_cm / 100,
    },
)
axis_marks.step(
    checks.number,
    "distance that the lens stands for",
    lambda: stands_for_cm(axis_lens_d),
    -100 / axis_lens_d,
    unit="cm",
    within=0.1,
    expect="a distance in cm, positive",
    slips={
        "the sign: the problem asks for a distance as a ruler shows it.": 100 / axis_lens_d,
        "that is in metres; give centimetres.": -1 / axis_lens_d,
    },
)
axis_marks.score()

# %% hidden="axis" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"${axis_cm}$ cm: $-1 / {axis_cm / 100:.2f}\\ \\mathrm{{m}} = {-100 / axis_cm:.2f}$ D. A lens of {axis_lens_d:+.2f} D makes the far "
    f"chart's light diverge as from $1 / {-axis_lens_d:.2f} = {-1 / axis_lens_d:.2f}$ m, {-100 / axis_lens_d:.0f} cm."
)
other_axis = checks.Marks(1)
for ruler_cm, trial_d in HiddenDraw("range_of_focus/axis").cases(
    ((66.0, -1.5), (200.0, -0.25), (25.0, -3.0)), by=[(4.0, 0.2), (20.0, 0.08), (2.0, 0.3)]
):
    other_axis.step(
        checks.number,
        "place of another object",
        lambda d=ruler_cm: place_on_axis_d(d),
        -100 / ruler_cm,
        unit="D",
        within=0.01,
        expect="minus one over the distance in metres",
    )
    other_axis.step(
        checks.number,
        "what another lens stands for",
        lambda f=trial_d: stands_for_cm(f),
        -100 / trial_d,
        unit="cm",
        within=0.1,
        expect="a distance in cm, positive",
    )
other_axis.score()
### END HIDDEN TESTS

# %% [markdown] question="read" goals="1"
# ## 2 · Read a curve (4 points)
#
# The figure shows the defocus curve of one of Liesel Marek's eyes. Read off, with the eye or with code from the
# arrays `curve_d` (falling) and `curve_logmar`: the acuity at 66 cm and at 40 cm in **logMAR**, and the usable
# range at 0.2 logMAR in **D**. Then write a function that returns how many **letters** fewer are read at the second
# of two acuities than at the first; a letter is 0.02 logMAR.

# %% given="read"
read = Draw("range_of_focus/read")
read_class = read.choose("lens", ("monofocal", "enhanced monofocal", "extended depth of focus"))
read_pupil_mm = read.pick("pupil_mm", 2.5, 3.75, step=0.125)
curve_d = figures.CURVE_D
curve_logmar = figures.acuity_curve(read_class, read_pupil_mm)
display(figures.one_curve(read_class, read_pupil_mm))
read.tell(f"Pupil **{read_pupil_mm:.3f} mm**.")


# %% answer="read" own="shared_utils.cases.range_of_focus.read_at shared_utils.optics.through_focus.usable_stretches_d shared_utils.cases.range_of_focus.curve_of"
def acuity_at_66_cm():
    ### BEGIN SOLUTION
    return float(np.interp(1 / 0.66, -curve_d, curve_logmar))
    ### END SOLUTION


def acuity_at_40_cm():
    ### BEGIN SOLUTION
    return float(np.interp(2.5, -curve_d, curve_logmar))
    ### END SOLUTION


def range_at_limit_d():
    ### BEGIN SOLUTION
    worse = (curve_d < 0) & (curve_logmar > 0.2)
    return float(-curve_d[np.argmax(worse)])
    ### END SOLUTION


def letters_fewer(first_logmar, second_logmar):
    ### BEGIN SOLUTION
    return (second_logmar - first_logmar) / 0.02
    ### END SOLUTION


# %% check="read" points=2 hide=true
from shared_utils.optics.through_focus import usable_stretches_d

read_66, read_40, read_25 = np.interp([1 / 0.66, 2.5, 4.0], -curve_d, curve_logmar).tolist()
read_range, read_looser = (
    -usable_stretches_d(curve_d, curve_logmar, limit)[0][1] for limit in (0.2, 0.3)
)
read_marks = checks.Marks(2)
read_marks.step(
    checks.number,
    "acuity at 66 cm",
    lambda: acuity_at_66_cm(),
    read_66,
    unit="logMAR",
    within=0.05,
    expect="the height of the curve at −1.5 D",
    slips={"that is the acuity at 40 cm.": read_40},
)
read_marks.step(
    checks.number,
    "acuity at 40 cm",
    lambda: acuity_at_40_cm(),
    read_40,
    unit="logMAR",
    within=0.05,
    expect="the height of the curve at −2.5 D",
    slips={
        "that is the acuity at 66 cm.": read_66,
        "that is at −4 D, 25 cm: take the reciprocal of 0.40 m.": read_25,
    },
)
read_marks.step(
    checks.number,
    "usable range",
    lambda: range_at_limit_d(),
    read_range,
    unit="D",
    within=0.1,
    expect="from 0 D to where the curve first falls below 0.2 logMAR, a positive number",
    slips={
        "that is the range at 0.3 logMAR.": read_looser,
        "that is the nearest distance in cm; give dioptres.": 100 / read_range,
        "the sign: a range is a positive number of dioptres.": -read_range,
    },
)
read_marks.score()

# %% hidden="read" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"66 cm is −1.52 D: {read_66:.2f} logMAR. 40 cm is −2.50 D: {read_40:.2f} logMAR. The curve falls "
    f"below 0.2 at −{read_range:.2f} D, so the range is {read_range:.2f} D ({100 / read_range:.0f} cm). From 66 to "
    f"40 cm: $({read_40:.2f} - {read_66:.2f}) / 0.02 = {(read_40 - read_66) / 0.02:.0f}$ letters."
)
letter_marks = checks.Marks(2)
alike = HiddenDraw("range_of_focus/read").near(0.25, 0.1)  # nothing is lost
for before, after in HiddenDraw("range_of_focus/read").cases(
    ((0.0, 0.1), (-0.1, 0.3), (alike, alike), (0.4, 0.3)),
    by=[(0, 0.04), (0.04, 0.05), 0, (0.03, 0.03)],
):
    letter_marks.step(
        checks.number,
        "letters fewer",
        lambda a=before, b=after: letters_fewer(a, b),
        (after - before) / 0.02,
        unit="letters",
        within=0.1,
        expect="five letters for 0.1 logMAR, negative if the second acuity is better",
    )
letter_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="range" goals="1 2"
# ## 3 · The usable range as a function (4 points)
#
# Write a function that takes the vergences of a measured curve in **D** (a list that starts at 0 and falls),
# the acuities in **logMAR** and the limit in **logMAR**, and returns the usable range in **D**, positive. Between
# two measured points the curve is a straight line. The range ends at the **first** place where acuity
# becomes worse than the limit; it is 0 if far is worse already, and reaches the last point if the curve never
# becomes worse.

# %% given="range"
measured = Draw("range_of_focus/range")
measured_d = [0.0, -0.5, -1.0, -1.5, -2.0, -2.5, -3.0, -3.5, -4.0]
measured_logmar = [
    measured.pick("far", -0.10, 0.0, step=0.02),
    measured.pick("at 0.5", 0.02, 0.08, step=0.02),
    measured.pick("at 1.0", 0.10, 0.17, step=0.01),
    measured.pick("at 1.5", 0.24, 0.32, step=0.01),
    measured.pick("at 2.0", 0.30, 0.40, step=0.02),
    0.14,
    0.08,
    measured.pick("at 3.5", 0.12, 0.16, step=0.02),
    measured.pick("at 4.0", 0.40, 0.60, step=0.02),
]
measured.tell(
    "Measured in the right eye of Odalys Renn, limit **0.20 logMAR**: "
    + ", ".join(
        f"{value:+.2f} at {place:.1f} D"
        for place, value in zip(measured_d, measured_logmar, strict=True)
    )
    + " (the lists `measured_d` and `measured_logmar`)."
)


# %% answer="range" own="shared_utils.optics.through_focus.usable_range_d shared_utils.optics.through_focus.usable_stretches_d shared_utils.cases.range_of_focus.curve_of"
def usable_range_d(vergences_d, acuities_logmar, limit_logmar):
    ### BEGIN SOLUTION
    if acuities_logmar[0] > limit_logmar:
        return 0.0
    for n in range(1, len(vergences_d)):
        before, after = acuities_logmar[n - 1], acuities_logmar[n]
        if after > limit_logmar:
            part = (limit_logmar - before) / (after - before)
            return -(vergences_d[n - 1] + part * (vergences_d[n] - vergences_d[n - 1]))
    return -vergences_d[-1]
    ### END SOLUTION


# %% check="range" points=2 hide=true
def crossing(n):
    """Where the line from point n to the next passes 0.2 logMAR, D."""
    before, after = measured_logmar[n : n + 2]
    return -measured_d[n] + 0.5 * (0.2 - before) / (after - before)


checks.number(
    "usable range",
    usable_range_d(measured_d, measured_logmar, 0.2),
    crossing(2),
    unit="D",
    within=0.02,
    expect="a positive number of dioptres, to the first crossing of the limit",
    slips={
        "the last crossing was taken; beyond the first one lies a gap.": crossing(7),
        "that is the last point that is good; the line crosses the limit beyond it.": 1.0,
        "that is the first point that is too poor; the line crosses the limit before it.": 1.5,
        "the sign: a range is a positive number.": -crossing(2),
    },
)

# %% hidden="range" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"The first crossing lies between −1.0 D ({measured_logmar[2]:.2f}) and −1.5 D ({measured_logmar[3]:.2f}): "
    f"$1.0 + 0.5 \\cdot (0.20 - {measured_logmar[2]:.2f}) / ({measured_logmar[3]:.2f} - {measured_logmar[2]:.2f}) "
    f"= {crossing(2):.2f}$ D. What is good again beyond the gap does not count."
)
range_marks = checks.Marks(2)
# the last entry says between which places the limit is crossed first
for places, values, limit, leg in HiddenDraw("range_of_focus/range").cases(
    (
        ([0.0, -1.0, -2.0], [0.0, 0.1, 0.5], 0.3, 1),
        ([0.0, -0.5, -1.0, -1.5], [0.3, 0.1, 0.1, 0.4], 0.2, "at once"),
        ([0.0, -2.0, -3.0], [-0.1, 0.0, 0.1], 0.2, "never"),
        ([0.0, -1.0, -1.5, -2.0, -2.5], [0.0, 0.4, 0.1, 0.1, 0.6], 0.2, 0),
    ),
    by=(0.1, 0.04, 0.03, 0),
):
    if leg == "at once":
        reach = 0.0
    elif leg == "never":
        reach = -places[-1]
    else:
        reach = np.interp(limit, values[leg : leg + 2], [-place for place in places[leg : leg + 2]])
    range_marks.step(
        checks.number,
        "range of another curve",
        lambda p=places, v=values, m=limit: usable_range_d(p, v, m),
        reach,
        unit="D",
        within=0.02,
        expect="to the first crossing; 0 if far is too poor; the last point if there is none",
    )
range_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="trial" goals="2"
# ## 4 · Does it extend the depth of focus? (3 points)
#
# Eight eyes have a new lens, eight others a monofocal one; their usable ranges at 0.2 logMAR stand in the lists
# `new_d` and `plain_d`. Write a function that returns by how much the mean range of the first list exceeds that
# of the second, in **D**, and one that returns `"extended depth"` if that is at least 0.5 D, as a published
# consensus asks, and `"not"` otherwise.

# %% given="trial"
trial = Draw("range_of_focus/trial")
trial_gain_d = trial.choose("gain_d", (0.0, 0.5))
plain_d = [trial.pick(f"plain {n}", 1.2, 1.4, step=0.05) for n in range(8)]
new_d = [round(trial_gain_d + trial.pick(f"new {n}", 1.5, 1.7, step=0.05), 2) for n in range(8)]
trial.tell(
    f"New lens: **{', '.join(f'{d:.2f}' for d in new_d)} D**. Monofocal: "
    f"**{', '.join(f'{d:.2f}' for d in plain_d)} D**. Pupils 3 mm in both groups."
)


# %% answer="trial"
def mean_gain_d(new_ranges_d, plain_ranges_d):
    ### BEGIN SOLUTION
    return sum(new_ranges_d) / len(new_ranges_d) - sum(plain_ranges_d) / len(plain_ranges_d)
    ### END SOLUTION


def verdict(new_ranges_d, plain_ranges_d):
    ### BEGIN SOLUTION
    return "extended depth" if mean_gain_d(new_ranges_d, plain_ranges_d) >= 0.5 else "not"
    ### END SOLUTION


# %% check="trial" points=2 hide=true
trial_new, trial_plain = sum(new_d) / 8, sum(plain_d) / 8
trial_word = "extended depth" if trial_new - trial_plain >= 0.5 else "not"
trial_marks = checks.Marks(2)
trial_marks.step(
    checks.number,
    "mean gain",
    lambda: mean_gain_d(new_d, plain_d),
    trial_new - trial_plain,
    unit="D",
    within=0.01,
    expect="mean of the new lens less mean of the monofocal, in dioptres",
    slips={
        "that is the mean of the new lens alone; compare with the monofocal.": trial_new,
        "that is a ratio; the consensus asks for a difference.": trial_new / trial_plain,
        "the sign: new less monofocal.": trial_plain - trial_new,
        "that is the sum over eight eyes; divide by their number.": sum(new_d) - sum(plain_d),
    },
)
trial_marks.step(
    checks.choice,
    "verdict",
    lambda: verdict(new_d, plain_d),
    trial_word,
    options=("extended depth", "not"),
    slips={
        word: "Compare the gain over a monofocal with half a dioptre."
        for word in ("extended depth", "not")
        if word != trial_word
    },
)
trial_marks.score()

# %% hidden="trial" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Means {trial_new:.3f} D and {trial_plain:.3f} D, gain {trial_new - trial_plain:.2f} D: "
    f"{'at least' if trial_word != 'not' else 'less than'} 0.5 D, so: {trial_word}."
)
study_marks = checks.Marks(1)
for fresh, old, word in HiddenDraw("range_of_focus/trial").cases(
    (
        ([2.0, 2.2, 2.4], [1.2, 1.4, 1.3, 1.3], "extended depth"),
        ([1.6, 1.8], [1.3, 1.4, 1.5], "not"),
    ),
    by=(0.08, 0.08, 0),
):
    study_marks.step(
        checks.number,
        "mean gain of another trial",
        lambda a=fresh, b=old: mean_gain_d(a, b),
        sum(fresh) / len(fresh) - sum(old) / len(old),
        unit="D",
        within=0.01,
        expect="difference of the means; groups may differ in size",
    )
    study_marks.step(
        checks.choice,
        "verdict of another trial",
        lambda a=fresh, b=old: verdict(a, b),
        word,
        options=("extended depth", "not"),
    )
study_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="pupil" goals="3"
# ## 5 · The pupil opens (3 points)
#
# Suppose a monofocal eye bears a blur disc of a certain size, whatever its pupil. Write two functions: one
# returns that size in **arcmin** (a milliradian is 3.438 arcmin) from the range in **D** that was
# measured through a pupil in **mm**; the other takes the same two and a second pupil in **mm** and returns the range
# in **D** through that one.

# %% given="pupil"
pupil = Draw("range_of_focus/pupil")
known_range_d = pupil.pick("range_d", 1.2, 1.6, step=0.05)
known_pupil_mm = pupil.pick("known_mm", 2.5, 3.5, step=0.1)
night_pupil_mm = pupil.pick("night_mm", 4.0, 5.5, step=0.1)
pupil.tell(
    f"Range of Florian Achebe's eye: **{known_range_d:.2f} D** through **{known_pupil_mm:.1f} mm**. In the "
    f"evening his pupil has **{night_pupil_mm:.1f} mm**."
)


# %% answer="pupil" own="shared_utils.optics.acuity.blur_circle_arcmin"
def blur_borne_arcmin(range_d, pupil_mm):
    ### BEGIN SOLUTION
    return range_d * pupil_mm * 180 * 60 / math.pi / 1000
    ### END SOLUTION


def range_through_d(range_d, pupil_mm, other_pupil_mm):
    ### BEGIN SOLUTION
    return range_d * pupil_mm / other_pupil_mm
    ### END SOLUTION


# %% check="pupil" points=2 hide=true
pupil_marks = checks.Marks(2)
pupil_marks.step(
    checks.number,
    "blur disc that is borne",
    lambda: blur_borne_arcmin(known_range_d, known_pupil_mm),
    known_range_d * known_pupil_mm * 10.8 / math.pi,
    unit="arcmin",
    within=0.1,
    expect="pupil times defocus, in arcmin",
    slips={
        "that is in milliradians; one of them is 3.438 arcmin.": known_range_d * known_pupil_mm,
        "that is the radius of the disc.": known_range_d * known_pupil_mm * 5.4 / math.pi,
    },
)
pupil_marks.step(
    checks.number,
    "range in the evening",
    lambda: range_through_d(known_range_d, known_pupil_mm, night_pupil_mm),
    known_range_d * known_pupil_mm / night_pupil_mm,
    unit="D",
    within=0.03,
    expect="a shorter range, for the pupil is wider",
    slips={
        "the ratio is upside down: a wider pupil bears less defocus.": known_range_d
        * night_pupil_mm
        / known_pupil_mm,
        "that goes with the area; blur goes with the diameter.": known_range_d
        * (known_pupil_mm / night_pupil_mm) ** 2,
        "that is the range of the small pupil, unchanged.": known_range_d,
    },
)
pupil_marks.score()

# %% hidden="pupil" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Borne: ${known_range_d:.2f} \\cdot {known_pupil_mm:.1f} = {known_range_d * known_pupil_mm:.2f}$ mrad $= "
    f"{known_range_d * known_pupil_mm * 10.8 / math.pi:.1f}$ arcmin. In the evening: "
    f"${known_range_d * known_pupil_mm:.2f} / {night_pupil_mm:.1f} = "
    f"{known_range_d * known_pupil_mm / night_pupil_mm:.2f}$ D."
)
stop_marks = checks.Marks(1)
for span_d, stop_mm, next_mm in HiddenDraw("range_of_focus/pupil").cases(
    ((1.37, 3.0, 5.0), (2.0, 2.0, 4.0), (1.0, 4.0, 2.5)), by=(0.2, 0.3, 0.3)
):
    stop_marks.step(
        checks.number,
        "blur disc of another eye",
        lambda r=span_d, p=stop_mm: blur_borne_arcmin(r, p),
        span_d * stop_mm * 10.8 / math.pi,
        unit="arcmin",
        within=0.1,
        expect="pupil times defocus, in arcmin",
    )
    stop_marks.step(
        checks.number,
        "range through another pupil",
        lambda r=span_d, p=stop_mm, q=next_mm: range_through_d(r, p, q),
        span_d * stop_mm / next_mm,
        unit="D",
        within=0.03,
        expect="range times pupil stays the same",
    )
stop_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="pair" goals="4"
# ## 6 · Two eyes, two targets (4 points)
#
# One eye is aimed at far, the other at a negative target. Each eye alone is usable over a range towards near
# and over another beyond its own focus. Write two functions: how near both eyes reach, in **cm**, from the range
# towards near in **D** and the target in **D**; and how wide the gap between the two eyes is, in **D**, from
# both ranges and the target, 0 where they overlap.

# %% given="pair"
pair = Draw("range_of_focus/pair")
pair_range_d = pair.pick("range_d", 0.92, 1.42, step=0.05)
pair_target_d = -pair.pick("target_d", 0.75, 2.0, step=0.25)
wide_range_d = pair.pick("wide_range_d", 0.74, 0.94, step=0.02)
wide_beyond_d = pair.pick("wide_beyond_d", 0.40, 0.70, step=0.02)
wide_target_d = -pair.pick("wide_target_d", 1.75, 2.5, step=0.25)
pair.tell(
    f"**Reach.** By day each eye of Nerys Haldane is usable over **{pair_range_d:.2f} D** towards near; the near "
    f"eye is aimed at **{pair_target_d:+.2f} D**.\n\n**Gap.** In another patient, with wide pupils, it is "
    f"**{wide_range_d:.2f} D** towards near and **{wide_beyond_d:.2f} D** beyond; target "
    f"**{wide_target_d:+.2f} D**."
)


# %% answer="pair" own="shared_utils.cases.range_of_focus.plan_steps shared_utils.cases.range_of_focus.two_eyes_with"
def reach_cm(range_near_d, target_d):
    ### BEGIN SOLUTION
    return 100 / (range_near_d - target_d)
    ### END SOLUTION


def gap_d(range_near_d, range_beyond_d, target_d):
    ### BEGIN SOLUTION
    return max(-target_d - range_beyond_d - range_near_d, 0.0)
    ### END SOLUTION


# %% check="pair" points=2 hide=true
pair_marks = checks.Marks(2)
pair_marks.step(
    checks.number,
    "how near both eyes reach",
    lambda: reach_cm(pair_range_d, pair_target_d),
    100 / (pair_range_d - pair_target_d),
    unit="cm",
    within=0.3,
    expect="a distance in cm, nearer than either the range or the target alone gives",
    slips={
        "that is the target alone; the near eye's own range reaches nearer.": -100 / pair_target_d,
        "that is the far eye alone.": 100 / pair_range_d,
        "the sign of the target: it brings the range nearer.": 100 / (pair_range_d + pair_target_d),
        "that is in dioptres; give the distance in cm.": pair_range_d - pair_target_d,
    },
)
pair_marks.step(
    checks.number,
    "gap between the eyes",
    lambda: gap_d(wide_range_d, wide_beyond_d, wide_target_d),
    -wide_target_d - wide_beyond_d - wide_range_d,
    unit="D",
    within=0.01,
    expect="a positive number of dioptres: from the end of the far eye to the beginning of the near eye",
    slips={
        "the near eye's range beyond its focus was forgotten.": -wide_target_d - wide_range_d,
        "the far eye's own range was forgotten.": -wide_target_d - wide_beyond_d,
        "the sign: a gap is positive, an overlap counts as 0.": wide_target_d
        + wide_beyond_d
        + wide_range_d,
    },
)
pair_marks.score()

# %% hidden="pair" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Reach: ${pair_range_d:.2f} + {-pair_target_d:.2f} = {pair_range_d - pair_target_d:.2f}$ D, "
    f"{100 / (pair_range_d - pair_target_d):.1f} cm. Gap: the near eye begins at ${-wide_target_d:.2f} - "
    f"{wide_beyond_d:.2f} = {-wide_target_d - wide_beyond_d:.2f}$ D, the far eye ends at {wide_range_d:.2f} D: "
    f"{-wide_target_d - wide_beyond_d - wide_range_d:.2f} D."
)
eyes_marks = checks.Marks(2)
for near_d, beyond_d, aim_d in HiddenDraw("range_of_focus/pair").cases(
    (
        (1.37, 1.22, -1.25),
        (1.06, 0.82, -2.0),
        (0.9, 0.8, -2.5),
        (2.1, 1.0, 0.0),
    ),
    by=[(0.2, 0.2, 0.2), (0.03, 0.02, 0.03), (0.2, 0.2, 0.1), (0.2, 0.2, 0)],
):
    eyes_marks.step(
        checks.number,
        "how near another pair reaches",
        lambda r=near_d, t=aim_d: reach_cm(r, t),
        100 / (near_d - aim_d),
        unit="cm",
        within=0.3,
        expect="100 over (range plus size of the target)",
    )
    eyes_marks.step(
        checks.number,
        "gap of another pair",
        lambda r=near_d, b=beyond_d, t=aim_d: gap_d(r, b, t),
        max(-aim_d - beyond_d - near_d, 0.0),
        unit="D",
        within=0.01,
        expect="0 where the two ranges overlap",
    )
eyes_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="error" goals="3 4"
# ## 7 · Find the error (3 points)
#
# A colleague plans the near eye of Zdenka Moro so that she reads at a certain distance. The usable range was measured
# through a 3-mm pupil; where she reads the pupil is wider, and range times pupil stays the same. **One** of the five
# steps is wrong; the later ones only carry the mistake on. Give the number of that step and the value it
# should have. Then write the function that does it right: from the range at **her** pupil in **D** and the
# distance in **cm** to the target in **D**: negative, in quarter dioptres, the smallest that reaches the distance.

# %% given="error"
error = Draw("range_of_focus/error")
error_cm = error.choose("distance_cm", (33, 34, 36, 37, 38, 39, 41, 42))
error_range_d = error.pick("range_d", 1.22, 1.52, step=0.05)
error_pupil_mm = error.pick("pupil_mm", 3.3, 4.1, step=0.1)
error_at = error.pick("step", 1, 5)
in_quarters = 4 * (100 / error_cm - error_range_d * 3 / error_pupil_mm)
if abs(in_quarters - round(in_quarters)) < 0.02:  # too close to a quarter to round by hand
    error_range_d = round(error_range_d + 0.02, 2)
value_1 = error_cm / 20 if error_at == 1 else 100 / error_cm
value_2 = error_range_d * (error_pupil_mm / 3 if error_at == 2 else 3 / error_pupil_mm)
value_3 = value_1 + value_2 if error_at == 3 else value_1 - value_2
value_4 = (math.floor if error_at == 4 else math.ceil)(value_3 * 4) / 4
value_5 = 100 / value_4 if error_at == 5 else 100 / (value_4 + value_2)
colleague = [value_1, value_2, value_3, value_4, value_5]
error.tell(
    f"She reads at **{error_cm} cm**; range **{error_range_d:.2f} D** at 3 mm; pupil for reading "
    f"**{error_pupil_mm:.1f} mm**.\n\n"
    f"1. Size of the vergence of the page: {value_1:.3f} D\n"
    f"2. Range at her pupil: {value_2:.3f} D\n"
    f"3. What the target must add: {value_3:.3f} D\n"
    f"4. In quarter dioptres, so that it is enough: {value_4:.2f} D\n"
    f"5. With that she reads down to: {value_5:.1f} cm"
)


# %% answer="error"
def wrong_step():
    ### BEGIN SOLUTION
    return right_step()[0]
    ### END SOLUTION


def corrected_value():
    ### BEGIN SOLUTION
    return right_step()[1]


def right_step():
    carried = [
        100 / error_cm,
        error_range_d * 3 / error_pupil_mm,
        colleague[0] - colleague[1],
        math.ceil(colleague[2] * 4) / 4,
        100 / (colleague[3] + colleague[1]),
    ]
    wrong = [abs(a - b) > 1e-6 for a, b in zip(colleague, carried, strict=True)].index(True)
    return wrong + 1, carried[wrong]
    ### END SOLUTION


def target_for_d(range_d, distance_cm):
    ### BEGIN SOLUTION
    return -max(math.ceil((100 / distance_cm - range_d) * 4) / 4, 0.0)
    ### END SOLUTION


# %% check="error" points=2 hide=true
error_right = {
    1: 100 / error_cm,
    2: error_range_d * 3 / error_pupil_mm,
    3: value_1 - value_2,
    4: math.ceil(value_3 * 4) / 4,
    5: 100 / (value_4 + value_2),
}[error_at]
error_marks = checks.Marks(2)
error_marks.step(
    checks.number,
    "number of the wrong step",
    lambda: wrong_step(),
    error_at,
    unit="",
    within=0.1,
    expect="one of 1 to 5: the first step that does not follow from the ones above",
    slips={
        "that step only carries on what came before; look further up."
        if other > error_at
        else "that step holds; reckon it again, then the next.": other
        for other in (error_at + 1, error_at - 1)
        if 1 <= other <= 5
    },
)
error_marks.step(
    checks.number,
    "what that step should give",
    lambda: corrected_value(),
    error_right,
    unit="",
    within=0.2 if error_at == 5 else 0.02,
    expect="the value of the one wrong step, in the unit that stands there",
    slips={
        "that is what the colleague has.": colleague[error_at - 1],
        "the sign: everything here is positive.": -error_right,
    },
)
error_marks.score()

# %% hidden="error" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
error_needed = 100 / error_cm - error_range_d * 3 / error_pupil_mm
checks.working(
    f"Step {error_at} is wrong: there stands {colleague[error_at - 1]:.3f}, it should be {error_right:.3f}. All right: "
    f"{100 / error_cm:.2f} D for the page, range ${error_range_d:.2f} \\cdot 3 / {error_pupil_mm:.1f} = "
    f"{error_range_d * 3 / error_pupil_mm:.2f}$ D, to add {error_needed:.2f} D, so "
    f"{math.ceil(error_needed * 4) / 4:.2f} D."
)
aim_marks = checks.Marks(1)
# the last stays: what is lacking is a whole number of quarters already
for span_d, page_cm, aim_d in HiddenDraw("range_of_focus/error").cases(
    (
        (1.38, 40.0, -1.25),
        (2.1, 50.0, 0.0),
        (0.98, 35.0, -2.0),
        (1.5, 40.0, -1.0),
    ),
    by=[(0.05, 0.5, 0), (0.05, 0.5, 0), (0.05, 0.5, 0), 0],
):
    aim_marks.step(
        checks.number,
        "target for another eye",
        lambda r=span_d, d=page_cm: target_for_d(r, d),
        aim_d,
        unit="D",
        within=0.01,
        expect="negative quarter dioptres, rounded so that it is enough; 0 if none is needed",
    )
aim_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="plan" goals="2 4"
# ## 8 · The smallest difference (3 points)
#
# Write a function that takes the range towards near and the range beyond the focus, both in **D**, and a
# reading distance in **cm**, and returns the **smallest** target of the near eye in **D**, out of 0, −0.25, …
# −2.50, that reaches the distance and opens no gap to the far eye; `None` if there is none. Then one that
# takes a list of lenses `(name, range towards near, range beyond)` and a distance and returns the name of the lens
# that needs the smallest difference between the eyes.

# %% given="plan"
plan = Draw("range_of_focus/plan")
plan_cm = plan.pick("distance_cm", 33, 39)
plan_kinds = [
    (plan.pick("one", 1.28, 1.36, step=0.02), 1.2),
    (plan.pick("two", 1.68, 1.76, step=0.02), 1.4),
    (plan.pick("three", 2.06, 2.14, step=0.02), 1.0),
]
plan_turn = plan.pick("turn", 0, 2)
plan_kinds = plan_kinds[plan_turn:] + plan_kinds[:plan_turn]
plan_lenses = [(name, *kind) for name, kind in zip("abc", plan_kinds, strict=True)]
plan.tell(
    f"Reading distance **{plan_cm} cm**. The lenses: "
    + "; ".join(
        f"**{name}** {near:.2f} D towards near, {beyond:.2f} D beyond"
        for name, near, beyond in plan_lenses
    )
    + ". Check the target for lens **a**, then choose."
)


# %% answer="plan"
def smallest_target_d(range_near_d, range_beyond_d, distance_cm):
    ### BEGIN SOLUTION
    for quarters in range(11):
        size_d = quarters / 4
        reaches = range_near_d + size_d >= 100 / distance_cm
        closed = size_d <= range_near_d + range_beyond_d
        if reaches and closed:
            return -size_d
    return None
    ### END SOLUTION


def smallest_difference(lenses, distance_cm):
    ### BEGIN SOLUTION
    targets = {name: smallest_target_d(near, beyond, distance_cm) for name, near, beyond in lenses}
    return max((name for name in targets if targets[name] is not None), key=targets.get)
    ### END SOLUTION


# %% check="plan" points=2 hide=true
plan_quarters = {name: math.ceil((100 / plan_cm - near) * 4) for name, near, _ in plan_lenses}
plan_size = plan_quarters["a"] / 4
plan_best = min(plan_quarters, key=plan_quarters.get)
plan_marks = checks.Marks(2)
plan_marks.step(
    checks.number,
    "smallest target with lens a",
    lambda: smallest_target_d(*plan_lenses[0][1:], plan_cm),
    -plan_size,
    unit="D",
    within=0.01,
    expect="a negative number of quarter dioptres, just enough to reach the distance",
    slips={
        "one step too small: it does not reach the distance.": -plan_size + 0.25,
        "one step more than is needed.": -plan_size - 0.25,
        "the sign: a target nearer than far is negative.": plan_size,
    },
)
plan_marks.step(
    checks.choice,
    "lens with the smallest difference",
    lambda: smallest_difference(plan_lenses, plan_cm),
    plan_best,
    options=("a", "b", "c"),
    slips={
        name: "Another lens reaches the distance with less difference between the eyes."
        for name in "abc"
        if name != plan_best
    },
)
plan_marks.score()

# %% hidden="plan" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"{plan_cm} cm is {100 / plan_cm:.2f} D. Needed beyond each range, in quarter dioptres: "
    + ", ".join(f"{name} {quarters / 4:.2f} D" for name, quarters in plan_quarters.items())
    + f". None opens a gap. The smallest difference has {plan_best}."
)
choice_marks = checks.Marks(1)
plan_draw = HiddenDraw("range_of_focus/plan")
# the last needs a whole number of quarters already
for near_d, beyond_d, page_cm, aim_d in HiddenDraw("range_of_focus/plan").cases(
    (
        (1.37, 1.2, 40.0, -1.25),
        (2.6, 1.0, 40.0, 0.0),
        (1.0, 0.85, 40.0, -1.5),
    ),
    by=[(0.05, 0.1, 0.5, 0), (0.04, 0.1, 0.5, 0), (0, 0.08, 0, 0)],
):
    choice_marks.step(
        checks.number,
        "smallest target with another lens",
        lambda r=near_d, b=beyond_d, d=page_cm: smallest_target_d(r, b, d),
        aim_d,
        unit="D",
        within=0.01,
        expect="just enough to reach the distance, without a gap",
    )
out_of_reach = plan_draw.near((0.6, 0.5, 40.0), (0.06, 0.06, 1.0))
choice_marks.step(
    checks.choice,
    "a distance that no target reaches without a gap",
    lambda: str(smallest_target_d(*out_of_reach)).lower(),
    "none",
    options=("none",),
)
other_list = plan_draw.cases(
    [("p", 0.6, 0.5), ("q", 1.13, 1.2), ("r", 1.6, 1.3)], by=(0, 0.05, 0.05)
)
choice_marks.step(
    checks.choice,
    "lens from another list",
    lambda: smallest_difference(other_list, 40.0),
    "r",
    options=("p", "q", "r"),
)
choice_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="counsel" goals="2 3 4"
# ## 9 · In your own words (4 points)
#
# Ruben Castellanos, 70, accountant and evening cyclist, asks you to compare two plans: lenses of extended depth
# in both eyes, or monofocal lenses with the second eye aimed at −1.50 D. In four to seven sentences, tell him
# how far each carries (say for which pupil), what each takes from him, what changes in the evening, and how he
# could try one of the plans before surgery.

# %% [markdown] written="counsel" points=4
# ### BEGIN MARK SCHEME
# One point each:
# 1. Ranges with a pupil: extended depth about 2 D (about 50 cm) in both eyes; monofocal with −1.50 D about
#    1.4 + 1.5 = 2.9 D (about 35 cm), at 3 mm.
# 2. The price: stretched focus costs contrast at far in both eyes; monovision costs depth perception and the gain of
#    two eyes where only one is sharp.
# 3. Evening: wider pupils shorten every range; between the two eyes a gap may open; the blurred eye sees lamps as discs.
# 4. A trial: contact lens or trial frame with −1.50 D of difference for some days or hours; or reading glasses for what
#    is left, whichever plan.
# ### END MARK SCHEME
# With a 3-mm pupil extended depth carries from far to about 50 cm in both eyes; the smallest print wants
# glasses. Monofocal lenses with −1.50 D in the second eye carry to about 35 cm, 1.4 D of the lens plus 1.5 D of
# the target. The first plan takes some contrast from both eyes; the second takes depth perception where only one
# eye is sharp, so on the bicycle you would judge gaps with one eye. In the evening pupils open and every range
# shrinks; in the second plan a blurred stretch may open between the eyes, and lamps look like discs in one of
# them. You can try the second plan with a contact lens for a week. Glasses for the evening ride help in both.
