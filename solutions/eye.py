# %% [markdown] question="start"
# # Problems {{number eye}} · {{title eye}}
#
# Eight problems and one written answer, 30 points, about 40 minutes. The lesson is
# [{{number eye}} {{title eye}}](../../lessons/{{stem eye}}.ipynb).
#
# Run the cells from the top. Each problem gives you numbers of your own. Write your answer where it
# says `YOUR CODE HERE`, run the check below it, and read its one sentence. When you are done, save and press
# **Check my answers** below, or run `lens-course check {{number eye}}` in a terminal.
#
# Signs: myopia is negative. “At the cornea” and “in spectacles” (12 mm in front, unless the problem gives
# another distance) are two places: each problem says which it means.
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
from shared_utils.optics import accommodation, acuity, model_eyes, paraxial, vergence
from shared_utils.show import eye as figures

print(f"Numbers for learner: {learner_id()}")
check_button.show("eye")

# %% [markdown] question="image" goals="1"
# ## 1 · The image on the retina (3 points)
#
# Leopold Anand looks at a distant sign; his eye is in focus. Write a function that takes the angle of the sign
# in **degrees** and the power of the eye in **D**, and returns the size of the retinal image in **mm**,
# as a positive number. Use the nodal point.

# %% given="image"
image = Draw("eye/image")
sign_deg = image.pick("sign_deg", 2.0, 8.0, step=0.5)
eye_power_d = image.pick("power_d", 57.0, 63.0, step=0.5)
image.tell(f"The sign is **{sign_deg:.1f}°** wide; his eye has **{eye_power_d:.1f} D**.")


# %% answer="image" own="shared_utils.optics.acuity.retinal_size_um"
def image_mm(angle_deg, power_d):
    ### BEGIN SOLUTION
    return 1000.0 * math.tan(math.radians(angle_deg)) / power_d
    ### END SOLUTION


# %% check="image" points=1 hide=true
sign_tangent = math.tan(math.radians(sign_deg))
checks.number(
    "size of the retinal image",
    image_mm(sign_deg, eye_power_d),
    acuity.retinal_size_um(60 * sign_deg, eye_power_d) / 1000,
    unit="mm",
    within=0.005,
    expect="the tangent of the angle times the way from nodal point to retina, in mm",
    slips={
        "the angle was opened at the cornea, 24 mm away; it opens at the nodal point.": 24
        * sign_tangent,
        "the index was counted: from the nodal point the way is 1000 / power, without it.": 1336
        * sign_tangent
        / eye_power_d,
        "the tangent took the degrees for radians.": 1000 * math.tan(sign_deg) / eye_power_d,
        "the tangent was multiplied by the power; the way is one over the power.": sign_tangent
        * eye_power_d,
    },
)

# %% hidden="image" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"$y' = \\tan\\theta / F$: $\\tan {sign_deg:.1f}° = {sign_tangent:.4f}$; "
    f"from nodal point to retina $1000 / {eye_power_d:.1f} = {1000 / eye_power_d:.2f}$ mm; "
    f"image {sign_tangent:.4f} × {1000 / eye_power_d:.2f} mm = "
    f"**{1000 * sign_tangent / eye_power_d:.3f} mm**."
)
image_marks = checks.Marks(2)
for moon_deg, moon_eye_d in HiddenDraw("eye/image").cases(
    ((0.5, 60.0), (12.0, 58.6), (20.0, 65.0)), by=(0.3, 1.5)
):
    image_marks.step(
        checks.number,
        "image in another eye",
        lambda a=moon_deg, f=moon_eye_d: image_mm(a, f),
        acuity.retinal_size_um(60 * moon_deg, moon_eye_d) / 1000,
        unit="mm",
        within=0.005,
        expect="the tangent of the angle over the power, in mm",
    )
image_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="nodal" goals="1"
# ## 2 · Where are the nodal points? (3 points)
#
# The eye of Ilse Okonjo has been put into numbers: its power and its two principal points are known. The
# nodal points lie behind the principal points by the sum of the two focal lengths, $f + f'$: the one in
# front is negative, $f = -1000/F$ mm, the one behind is $f' = 1000\,n'/F$ mm. Write a function that returns a
# list of two places in **mm** from the cornea: N, then N′.

# %% given="nodal"
nodal = Draw("eye/nodal")
nodal_power_d = nodal.pick("power_d", 57.0, 63.0, step=0.1)
front_principal_mm = nodal.pick("principal_mm", 1.4, 1.65, step=0.01)
back_principal_mm = front_principal_mm + nodal.pick("apart_mm", 0.25, 0.35, step=0.01)
nodal.tell(
    f"Power **{nodal_power_d:.1f} D**; P at **{front_principal_mm:.2f} mm**, P′ at "
    f"**{back_principal_mm:.2f} mm** behind the cornea; vitreous has index **1.336**."
)


# %% answer="nodal"
def nodal_points_mm(power_d, front_principal_mm, back_principal_mm, index_behind):
    ### BEGIN SOLUTION
    shift_mm = 1000.0 * (index_behind - 1.0) / power_d
    return [front_principal_mm + shift_mm, back_principal_mm + shift_mm]
    ### END SOLUTION


# %% check="nodal" points=1 hide=true
def nodal_answer(which, *case):
    answer = nodal_points_mm(*case)
    if not isinstance(answer, (list, tuple)) or len(answer) != 2:
        raise checks.NotRight(
            f"nodal_points_mm gives {answer!r:.60}. Expected: a list of two places in mm."
        )
    return answer[which]


ilse = (nodal_power_d, front_principal_mm, back_principal_mm, 1.336)
nodal_shift_mm = 336 / nodal_power_d
nodal_marks = checks.Marks(1)
nodal_marks.step(
    checks.number,
    "place of N",
    lambda: nodal_answer(0, *ilse),
    front_principal_mm + nodal_shift_mm,
    unit="mm",
    within=0.02,
    expect="a place in mm behind the cornea: P plus f + f′",
    slips={
        "f in front is negative: the two focal lengths nearly cancel.": front_principal_mm
        + 2336 / nodal_power_d,
        "only f′ was added.": front_principal_mm + 1336 / nodal_power_d,
        "only f was added: a nodal point in front of the cornea cannot be.": front_principal_mm
        - 1000 / nodal_power_d,
    },
)
nodal_marks.step(
    checks.number,
    "place of N′",
    lambda: nodal_answer(1, *ilse),
    back_principal_mm + nodal_shift_mm,
    unit="mm",
    within=0.02,
    expect="a place in mm behind the cornea: P′ plus f + f′",
    slips={
        "that is N once more: N′ is counted from P′.": front_principal_mm + nodal_shift_mm,
    },
)
nodal_marks.score()

# %% hidden="nodal" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"$f = -1000/{nodal_power_d:.1f} = {-1000 / nodal_power_d:.3f}$ mm, "
    f"$f' = 1336/{nodal_power_d:.1f} = {1336 / nodal_power_d:.3f}$ mm, sum {nodal_shift_mm:.3f} mm. "
    f"N at {front_principal_mm:.2f} + {nodal_shift_mm:.2f} mm = "
    f"**{front_principal_mm + nodal_shift_mm:.2f} mm**, N′ at {back_principal_mm:.2f} + "
    f"{nodal_shift_mm:.2f} mm = **{back_principal_mm + nodal_shift_mm:.2f} mm**."
)
model_marks = checks.Marks(2)
for cornea_mm, lens_front_mm, humour in HiddenDraw("eye/nodal").cases(
    ((7.7, 10.2, 1.336), (8.1, 6.5, 1.34), (7.2, 9.0, 1.33)), by=(0.25, 0.6, 0.004)
):
    model = paraxial.System(
        (cornea_mm, lens_front_mm, -6.0), (3.6, 3.6), (1.0, humour, 1.416, humour)
    )
    model_points = paraxial.cardinal_points(model)
    for which, place in enumerate(("N", "N′")):
        model_marks.step(
            checks.number,
            f"{place} of a model eye",
            lambda w=which, p=model_points, n=model.index[-1]: nodal_answer(
                w, p.power_d, *p.principal_mm, n
            ),
            model_points.nodal_mm[which],
            unit="mm",
            within=0.02,
            expect="the principal point plus f + f′, with the index that is given",
        )
model_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="reduced" goals="2"
# ## 3 · From length to glasses (3 points)
#
# Take the eye of Fenna Duarte for a reduced eye: one surface of 60 D, index 4/3 behind it. Write a function
# that takes its length in **mm** and the vertex distance in **mm** and returns the refraction **in
# spectacles** in **D**.

# %% given="reduced"
reduced = Draw("eye/reduced")
fenna_mm = reduced.choose(
    "length_mm", [20.2, 20.4, 20.6, 20.8, 21.0, *(23.5 + 0.1 * tenth for tenth in range(20))]
)
fenna_vertex_mm = reduced.pick("vertex_mm", 11, 15)
reduced.tell(
    f"Her reduced eye is **{fenna_mm:.1f} mm** long; the glasses stand **{fenna_vertex_mm} mm** in front."
)


# %% answer="reduced" own="shared_utils.optics.model_eyes.refraction"
def spectacles_d(length_mm, vertex_mm):
    ### BEGIN SOLUTION
    at_cornea_d = 4000.0 / 3.0 / length_mm - 60.0
    return at_cornea_d / (1.0 + vertex_mm / 1000.0 * at_cornea_d)
    ### END SOLUTION


# %% check="reduced" points=1 hide=true
fenna_cornea_d = 4000 / 3 / fenna_mm - 60
no_index_d = 1000 / fenna_mm - 60
checks.number(
    "refraction in spectacles",
    spectacles_d(fenna_mm, fenna_vertex_mm),
    model_eyes.refraction(model_eyes.get("emsley_reduced"), fenna_mm, fenna_vertex_mm),
    unit="D",
    within=0.02,
    expect="a refraction in spectacles, negative for a long eye and positive for a short one",
    slips={
        "that is the refraction at the cornea: carry it to the spectacles.": fenna_cornea_d,
        "the way went inward; from the cornea to the spectacles the sign before v is plus.": fenna_cornea_d
        / (1 - fenna_vertex_mm / 1000 * fenna_cornea_d),
        "the sign: what the length needs less 60 D, not 60 D less what it needs.": -fenna_cornea_d
        / (1 - fenna_vertex_mm / 1000 * fenna_cornea_d),
        "the index behind the surface was left out: vergence is index over distance.": no_index_d
        / (1 + fenna_vertex_mm / 1000 * no_index_d),
    },
)

# %% hidden="reduced" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Needed: $1333.3 / {fenna_mm:.1f} = {4000 / 3 / fenna_mm:.2f}$ D. At the cornea: "
    f"{4000 / 3 / fenna_mm:.2f} − 60.00 D = {fenna_cornea_d:+.2f} D. In spectacles, {fenna_vertex_mm} mm in "
    f"front: $K / (1 + {fenna_vertex_mm / 1000:.3f} K)$ = "
    f"**{fenna_cornea_d / (1 + fenna_vertex_mm / 1000 * fenna_cornea_d):+.2f} D**."
)
reduced_marks = checks.Marks(2)
for other_mm, other_vertex_mm in HiddenDraw("eye/reduced").cases(
    ((22.5, 12.0), (26.5, 14.0), (20.0, 10.0), (24.0, 0.0)), by=(0.3, 1.0)
):
    reduced_marks.step(
        checks.number,
        "refraction of another reduced eye",
        lambda length=other_mm, v=other_vertex_mm: spectacles_d(length, v),
        model_eyes.refraction(model_eyes.get("emsley_reduced"), other_mm, other_vertex_mm),
        unit="D",
        within=0.02,
        expect="what the length needs less 60 D, carried to the spectacles",
    )
reduced_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="cause" goals="3"
# ## 4 · Length or power? (3 points)
#
# Two eyes of Konrad Iwu differ in refraction; their corneas are alike. Write two functions:
#
# - `length_gap_mm` takes both refractions **in spectacles** (12 mm) in **D** and returns by how many **mm** the
#   right eye should be longer than the left if length were the only reason: carry both to the cornea, then
#   0.37 mm a dioptre. Negative if it should be shorter.
# - `cause` takes that gap and the two measured lengths in **mm**. It returns the word `length` if the measured
#   difference is nearer to the gap than to zero, else `power`.

# %% given="cause" hide=true
cause_draw = Draw("eye/cause")
konrad_left_d = -cause_draw.pick("left_d", 1.5, 3.0, step=0.25)
konrad_right_d = konrad_left_d - cause_draw.pick("more_d", 3.0, 5.0, step=0.25)
konrad_left_mm = cause_draw.pick("left_mm", 24.2, 25.2, step=0.01)
konrad_differs = cause_draw.choose("reason", ["length", "power"])
konrad_right_mm = konrad_left_mm + (
    0.35 * (konrad_left_d - konrad_right_d) if konrad_differs == "length" else 0.04
)
cause_draw.tell(
    f"Right eye **{konrad_right_d:+.2f} D** and **{konrad_right_mm:.2f} mm**, left eye "
    f"**{konrad_left_d:+.2f} D** and **{konrad_left_mm:.2f} mm**."
)


# %% answer="cause"
def length_gap_mm(right_d, left_d):
    ### BEGIN SOLUTION
    right_cornea_d = right_d / (1.0 - 0.012 * right_d)
    left_cornea_d = left_d / (1.0 - 0.012 * left_d)
    return 0.37 * (left_cornea_d - right_cornea_d)
    ### END SOLUTION


def cause(gap_mm, right_mm, left_mm):
    ### BEGIN SOLUTION
    measured_mm = right_mm - left_mm
    return "length" if abs(measured_mm - gap_mm) < abs(measured_mm) else "power"
    ### END SOLUTION


# %% check="cause" points=2 hide=true
konrad_apart_d = vergence.at_vertex(konrad_left_d, 12, 0) - vergence.at_vertex(
    konrad_right_d, 12, 0
)
konrad_gap_mm = 0.37 * konrad_apart_d
cause_marks = checks.Marks(2)
cause_marks.step(
    checks.number,
    "length that would explain the difference",
    lambda: length_gap_mm(konrad_right_d, konrad_left_d),
    konrad_gap_mm,
    unit="mm",
    within=0.02,
    expect="a difference of lengths in mm, positive because the right eye is the more short-sighted",
    slips={
        "the refractions were not carried from the spectacles to the cornea.": 0.37
        * (konrad_left_d - konrad_right_d),
        "dioptres were divided by 0.37; a dioptre takes 0.37 mm.": konrad_apart_d / 0.37,
        "the sign: the more short-sighted eye should be the longer one.": -konrad_gap_mm,
    },
)
cause_marks.step(
    checks.choice,
    "what makes the eyes differ",
    lambda: cause(konrad_gap_mm + 0.1, konrad_right_mm, konrad_left_mm),
    konrad_differs,
    options=("length", "power"),
    slips={"power": "the measured difference is close to what length alone would need."}
    if konrad_differs == "length"
    else {"length": "the measured lengths are nearly equal, so they cannot explain it."},
)
cause_marks.score()

# %% hidden="cause" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"At the cornea: right {vergence.at_vertex(konrad_right_d, 12, 0):+.2f} D, left "
    f"{vergence.at_vertex(konrad_left_d, 12, 0):+.2f} D, apart {konrad_apart_d:.2f} D. Length would need "
    f"0.37 × {konrad_apart_d:.2f} = **{konrad_gap_mm:.2f} mm**; measured "
    f"{konrad_right_mm - konrad_left_mm:+.2f} mm: **{konrad_differs}**."
)
pair_marks = checks.Marks(1)
for one_d, two_d, one_mm, two_mm, reason in HiddenDraw("eye/cause").cases(
    (
        (1.0, -3.0, 22.6, 24.0, "length"),
        (-6.0, -1.0, 24.9, 24.8, "power"),
        (-9.0, -3.0, 27.0, 25.0, "length"),
    ),
    by=(0.5, 0.5, 0.1, 0.1, 0),
):
    gap_mm = 0.37 * (vergence.at_vertex(two_d, 12, 0) - vergence.at_vertex(one_d, 12, 0))
    pair_marks.step(
        checks.number,
        "gap of another pair of eyes",
        lambda a=one_d, b=two_d: length_gap_mm(a, b),
        gap_mm,
        unit="mm",
        within=0.02,
        expect="0.37 mm a dioptre at the cornea, positive when the right eye should be longer",
    )
    pair_marks.step(
        checks.choice,
        "reason of another pair",
        lambda g=gap_mm + 0.1, a=one_mm, b=two_mm: cause(g, a, b),
        reason,
        options=("length", "power"),
    )
pair_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="curve" goals="2"
# ## 5 · Read the curve (4 points)
#
# The figure shows how the refraction at the cornea of one eye, that of Alma Reyes, depends on its length. Read
# off, and give as functions without arguments that return what you read:
#
# - `in_focus_mm`: the length at which this eye is in focus, in **mm** (to within 0.15 mm);
# - `slope_d_per_mm`: how the refraction changes for each mm more of length, close to that place, in
#   **D per mm**, with its sign (to within 0.25).
#
# Then write `length_for_mm`, which takes a refraction in **D**, a length in focus and a slope, and returns the
# length that gives the refraction if the curve were straight.

# %% given="curve"
curve = Draw("eye/curve")
alma_radius_mm = curve.pick("radius_mm", 7.3, 8.2, step=0.02)
alma_mm = np.linspace(21.0, 27.0, 61)
alma_d = model_eyes.refraction(
    paraxial.System((alma_radius_mm, 10.0, -6.0), (3.6, 3.6), (1.0, 4 / 3, 1.416, 4 / 3)),
    alma_mm,
    0.0,
)
display(figures.refraction_curve(alma_mm, alma_d))
curve.tell(f"The cornea of this eye has a radius of **{alma_radius_mm:.2f} mm**.")


# %% answer="curve"
def in_focus_mm():
    ### BEGIN SOLUTION
    return float(np.interp(0.0, alma_d[::-1], alma_mm[::-1]))
    ### END SOLUTION


def slope_d_per_mm():
    ### BEGIN SOLUTION
    place_mm = in_focus_mm()
    before_d, after_d = np.interp([place_mm - 0.5, place_mm + 0.5], alma_mm, alma_d)
    return float(after_d - before_d)
    ### END SOLUTION


def length_for_mm(refraction_d, in_focus_mm, slope_d_per_mm):
    ### BEGIN SOLUTION
    return in_focus_mm + refraction_d / slope_d_per_mm
    ### END SOLUTION


# %% check="curve" points=2 hide=true
alma_focus_mm = float(np.interp(0.0, alma_d[::-1], alma_mm[::-1]))
alma_slope = float(
    np.diff(np.interp([alma_focus_mm - 0.5, alma_focus_mm + 0.5], alma_mm, alma_d))[0]
)
curve_marks = checks.Marks(2)
curve_marks.step(
    checks.number,
    "length in focus",
    lambda: in_focus_mm(),
    alma_focus_mm,
    unit="mm",
    within=0.15,
    expect="the length at which the curve crosses 0 D",
    slips={
        "that is the length at which the refraction is −1 D: look for the line of 0 D.": float(
            np.interp(1.0, -alma_d, alma_mm)
        ),
        "that is the length at which the refraction is +1 D: look for the line of 0 D.": float(
            np.interp(-1.0, -alma_d, alma_mm)
        ),
    },
)
curve_marks.step(
    checks.number,
    "slope of the curve",
    lambda: slope_d_per_mm(),
    alma_slope,
    unit="D per mm",
    within=0.25,
    expect="dioptres for each millimetre more, negative because the curve falls",
    slips={
        "that is millimetres a dioptre; turn it round.": 1 / alma_slope,
        "the sign: the curve falls.": -alma_slope,
    },
)
curve_marks.score()

# %% hidden="curve" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"The curve crosses 0 D at **{alma_focus_mm:.1f} mm**. From {alma_focus_mm - 0.5:.1f} to "
    f"{alma_focus_mm + 0.5:.1f} mm it falls by {-alma_slope:.1f} D: slope **{alma_slope:.1f} D per mm**. A "
    "straight line from there: $L = L_0 + K / \\text{slope}$."
)
line_marks = checks.Marks(2)
for line_d, line_focus_mm, line_slope in HiddenDraw("eye/curve").cases(
    ((-5.0, 23.8, -2.7), (3.0, 22.0, -3.1), (0.0, 25.0, -2.4)), by=(1.0, 0.5, 0.2)
):
    line_marks.step(
        checks.number,
        "length on another straight line",
        lambda k=line_d, z=line_focus_mm, s=line_slope: length_for_mm(k, z, s),
        line_focus_mm + line_d / line_slope,
        unit="mm",
        within=0.02,
        expect="the length in focus plus refraction over slope",
    )
line_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="error" goals="4"
# ## 6 · Find the error (3 points)
#
# A resident reckons what Osric Beltran, who is long-sighted and has lost his glasses, still sees. One of the
# five numbered steps holds an error; the steps after it follow from it and hold no new one. Write
#
# - `wrong_step`, without arguments: the number of the step, 1 to 5;
# - `corrected`, without arguments: the right value **of that step**, in its unit;
# - `nearest_cm`, which takes refraction in spectacles in **D** and age in **years**, and returns the near point
#   in **cm** in front of the cornea, positive, reckoned rightly all through, with Hofstetter's average.

# %% given="error" hide=true
error = Draw("eye/error")
osric_d = error.pick("spectacle_d", 2.5, 4.5, step=0.25)
osric_years = error.pick("age_years", 24, 34)
osric_slip = error.choose("slip", [1, 2, 3])
told_cornea_d = (
    osric_d / (1 + 0.012 * osric_d) if osric_slip == 1 else osric_d / (1 - 0.012 * osric_d)
)
told_amplitude_d = (15 - 0.25 * osric_years) if osric_slip == 2 else (18.5 - 0.30 * osric_years)
told_near_d = (
    told_cornea_d + told_amplitude_d if osric_slip == 3 else told_cornea_d - told_amplitude_d
)
error.tell(
    f"Refraction in spectacles **{osric_d:+.2f} D**, age **{osric_years} years**, average amplitude.\n\n"
    f"1. Refraction at the cornea, 12 mm behind the spectacles: {told_cornea_d:+.2f} D\n"
    f"2. Amplitude of accommodation: {told_amplitude_d:.2f} D\n"
    f"3. Light that the eye can just focus when it accommodates fully: {told_near_d:+.2f} D\n"
    f"4. Place it comes from, measured from the cornea: 100 / ({told_near_d:+.2f} D) = "
    f"{100 / told_near_d:+.1f} cm\n"
    f"5. Amplitude left when he looks far: {told_amplitude_d - told_cornea_d:.2f} D"
)


# %% answer="error" own="shared_utils.optics.vergence.near_point"
def wrong_step():
    ### BEGIN SOLUTION
    return osric_slip
    ### END SOLUTION


def corrected():
    ### BEGIN SOLUTION
    cornea_d = osric_d / (1.0 - 0.012 * osric_d)
    amplitude_d = 18.5 - 0.30 * osric_years
    return [cornea_d, amplitude_d, cornea_d - amplitude_d][osric_slip - 1]
    ### END SOLUTION


def nearest_cm(spectacle_d, age_years):
    ### BEGIN SOLUTION
    cornea_d = spectacle_d / (1.0 - 0.012 * spectacle_d)
    return -100.0 / (cornea_d - (18.5 - 0.30 * age_years))
    ### END SOLUTION


# %% check="error" points=2 hide=true
osric_right = (
    vergence.at_vertex(osric_d, 12, 0),
    accommodation.amplitude_at_age(osric_years),
    vergence.at_vertex(osric_d, 12, 0) - accommodation.amplitude_at_age(osric_years),
)
step_advice = {
    1: "step 1 holds: towards the eye a plus lens gains power.",
    2: "step 2 holds: 18.5 less 0.30 for each year is the average.",
    3: "step 3 holds: accommodation lets the eye focus light that diverges more, so it is taken away.",
    4: "step 4 holds: a place in cm is 100 over the vergence.",
    5: "step 5 holds: what far vision costs is taken from the amplitude.",
}
error_marks = checks.Marks(2)
error_marks.step(
    checks.number,
    "step with the error",
    lambda: wrong_step(),
    osric_slip,
    unit="",
    within=0.1,
    expect="the number of a step, 1 to 5",
    slips={advice: step for step, advice in step_advice.items() if step != osric_slip},
)
error_marks.step(
    checks.number,
    "right value of that step",
    lambda: corrected(),
    osric_right[osric_slip - 1],
    unit="D",
    within=0.02,
    expect="the value that should stand in that step, in D with its sign",
    slips={
        "that is the value as it stands there.": (told_cornea_d, told_amplitude_d, told_near_d)[
            osric_slip - 1
        ]
    },
)
error_marks.score()

# %% hidden="error" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Step {osric_slip} holds the error. Rightly: at the cornea {osric_d:.2f} / (1 − 0.012 × {osric_d:.2f}) = "
    f"{osric_right[0]:+.2f} D; amplitude 18.5 − 0.30 × {osric_years} = {osric_right[1]:.2f} D; light that can "
    f"be focused {osric_right[0]:+.2f} − {osric_right[1]:.2f} = {osric_right[2]:+.2f} D. So step {osric_slip} "
    f"should read **{osric_right[osric_slip - 1]:+.2f} D**, and the near point lies "
    f"{-100 / osric_right[2]:.1f} cm in front."
)
nearest_marks = checks.Marks(1)
for lost_d, lost_years in HiddenDraw("eye/error").cases(
    ((3.0, 20), (-2.0, 45), (1.5, 40)), by=(0.3, 2)
):
    nearest_marks.step(
        checks.number,
        "near point of another eye",
        lambda d=lost_d, y=lost_years: nearest_cm(d, y),
        -100 * vergence.near_point(lost_d, accommodation.amplitude_at_age(lost_years)),
        unit="cm",
        within=0.2,
        expect="a distance in cm in front of the cornea, positive",
    )
nearest_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="age" goals="4"
# ## 7 · When does the page blur? (3 points)
#
# Teodor Halloran wears contact lenses that make him emmetropic, so a page costs what its distance asks. Write
# a function that takes the distance of the page in **cm** and the share of the amplitude that he can use for
# long, and returns the age in **years** at which that share of Hofstetter's average amplitude just pays for
# the page.

# %% given="age"
age = Draw("eye/age")
page_cm = age.pick("page_cm", 33, 50)
usable_share = age.choose("share", [0.5, 0.55, 0.6, 0.65])
age.tell(
    f"The page lies **{page_cm} cm** away; he can use **{usable_share:.2f}** of his amplitude."
)


# %% answer="age"
def last_age_years(distance_cm, share):
    ### BEGIN SOLUTION
    needed_d = 100.0 / distance_cm / share
    return (18.5 - needed_d) / 0.30
    ### END SOLUTION


# %% check="age" points=1 hide=true
page_d = 100 / page_cm
checks.number(
    "age at which the page blurs",
    last_age_years(page_cm, usable_share),
    (18.5 - page_d / usable_share) / 0.3,
    unit="years",
    within=0.2,
    expect="an age in years, at which the share of the amplitude equals the demand",
    slips={
        "that spends the whole amplitude: only a share of it can be used.": (18.5 - page_d) / 0.3,
        "the demand was multiplied by the share; the amplitude must be larger than it.": (
            18.5 - page_d * usable_share
        )
        / 0.3,
        "that is the lowest line, 15 − 0.25 × age.": (15 - page_d / usable_share) / 0.25,
    },
)

# %% hidden="age" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"The page asks 100 / {page_cm} = {page_d:.2f} D. The amplitude must be {page_d:.2f} / {usable_share:.2f} = "
    f"{page_d / usable_share:.2f} D. From $18.5 - 0.30 \\times \\text{{age}}$: age = (18.5 − "
    f"{page_d / usable_share:.2f}) / 0.30 = **{(18.5 - page_d / usable_share) / 0.3:.1f} years**."
)
age_marks = checks.Marks(2)
for book_cm, part in HiddenDraw("eye/age").cases(
    ((40.0, 0.5), (66.0, 0.5), (25.0, 0.95)), by=(3.0, 0.04)
):
    years = (18.5 - 100 / book_cm / part) / 0.3
    age_marks.step(
        checks.number,
        "age for another page",
        lambda d=book_cm, s=part: last_age_years(d, s),
        years,
        unit="years",
        within=0.2,
        expect="the age at which the share of the amplitude equals the demand",
    )
    age_marks.step(
        checks.number,
        "demand at that age, from your own answer",
        lambda d=book_cm, s=part: s * accommodation.amplitude_at_age(last_age_years(d, s)),
        100 / book_cm,
        unit="D",
        within=0.05,
        expect="the share of the amplitude at your age, which is what the page asks",
    )
age_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="records" goals="2 3"
# ## 8 · Which record is suspect? (4 points)
#
# Below are ten eyes from a week's list, each with its refraction in spectacles, known for years before any
# cataract, and its length. In eyes like these the length follows the refraction R: about
# $23.9 - 0.38\,R$ mm, give or take a few tenths of a millimetre. One length was typed wrongly. Write a function
# that takes the list of refractions in **D** and the list of lengths in **mm** and returns the number of the
# record that departs most from what its refraction leads to expect, **counted from 1**. No other record is
# to be trusted more for being usual: look at each eye with its own refraction.

# %% given="records" hide=true
records = Draw("eye/records")
suspect_d = records.choose("suspect_d", [-2.25, -2.0, -1.75, -1.5])
typed_off_mm = records.choose("off_mm", [-2.0, -1.9, -1.8, 1.8, 1.9, 2.0])
turned = records.pick("turned", 0, 9)
plain_order_d = [suspect_d, 0.5, -4.0, -10.0, 1.25, -0.5, 5.5, 2.75, -6.0, 0.0]
week_d = [
    rx + (0 if n == 0 else records.choose(f"rx {n}", [-0.25, 0.0, 0.25]))
    for n, rx in enumerate(plain_order_d)
]
week_mm = [
    round(
        23.9
        - 0.38 * rx
        + (typed_off_mm if n == 0 else records.pick(f"noise {n}", -0.2, 0.2, step=0.05)),
        2,
    )
    for n, rx in enumerate(week_d)
]
week_d = week_d[turned:] + week_d[:turned]
week_mm = week_mm[turned:] + week_mm[:turned]
records.tell(
    "| record | refraction, D | length, mm |\n|---|---|---|\n"
    + "\n".join(
        f"| {n} | {rx:+.2f} | {mm:.2f} |"
        for n, (rx, mm) in enumerate(zip(week_d, week_mm, strict=True), start=1)
    )
    + "\n\nThe lists are `week_d` and `week_mm`."
)


# %% answer="records"
def suspect(refractions_d, lengths_mm):
    ### BEGIN SOLUTION
    off_mm = [
        abs(mm - (23.9 - 0.38 * rx)) for rx, mm in zip(refractions_d, lengths_mm, strict=True)
    ]
    return off_mm.index(max(off_mm)) + 1
    ### END SOLUTION


# %% check="records" points=2 hide=true
suspect_number = (10 - turned) % 10 + 1
checks.number(
    "number of the suspect record",
    suspect(week_d, week_mm),
    suspect_number,
    unit="",
    within=0.1,
    expect="the number of a record, counted from 1",
    slips={
        "that is the longest eye; its refraction explains its length.": week_mm.index(max(week_mm))
        + 1,
        "that is the shortest eye; its refraction explains its length.": week_mm.index(min(week_mm))
        + 1,
        "records are counted from 1, not from 0.": suspect_number - 1,
    },
)

# %% hidden="records" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"For each record, length less $(23.9 - 0.38 R)$. Record **{suspect_number}** with "
    f"{week_d[suspect_number - 1]:+.2f} D should be {23.9 - 0.38 * week_d[suspect_number - 1]:.2f} mm long and "
    f"stands as {week_mm[suspect_number - 1]:.2f} mm: {typed_off_mm:+.1f} mm off. All the others lie within "
    "0.2 mm. Measure that eye again."
)
list_marks = checks.Marks(2)
for list_d, list_mm, number in HiddenDraw("eye/records").cases(
    (
        ([-8.0, 0.0, -3.0, 2.0], [26.9, 23.8, 23.2, 23.1], 3),
        ([1.0, 3.0, -1.0], [24.9, 22.8, 24.2], 1),
        ([-12.0, -11.0, -5.0, 4.0, 0.25], [28.4, 28.2, 25.7, 22.3, 22.7], 5),
    ),
    by=(0.18, 0.08, 0),
):
    list_marks.step(
        checks.number,
        "suspect record of another list",
        lambda r=list_d, m=list_mm: suspect(r, m),
        number,
        unit="",
        within=0.1,
        expect="the number of the record that departs most, counted from 1",
    )
list_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="why" goals="2 3"
# ## 9 · In your own words (4 points)
#
# A colleague says: “This eye is 26.0 mm long and wears no glasses for far. A long eye is short-sighted, so the
# length must be wrong; measure until it is 24 mm.” In three to six sentences, say what length does to
# refraction, with a number; why this eye may still be right; and which two other findings you would look at
# before you repeat the measurement.

# %% [markdown] written="why" points=4
# ### BEGIN MARK SCHEME
# One point each:
# 1. At equal power, 2 mm more of length are about 5 D of myopia (0.37 mm a dioptre or 2.7 D a millimetre).
# 2. Refraction is length **and** power together; a long eye with less power is in focus.
# 3. Looks at the corneal power, expected to be low if the length is right.
# 4. Looks at a second piece of evidence: the other eye, old glasses from before the cataract, or the quality of
#    the measurement; and does not repeat until a wished-for value appears.
# ### END MARK SCHEME
# With an average cornea and lens, 2 mm too much would make about 5 D of myopia, 2.7 D a millimetre. But an eye
# is in focus when its length and its power fit: an eye of 26 mm with a flat cornea and a weak
# lens may need no glasses. So I would look at the keratometry, which should be clearly below 43 D, and at the
# other eye and the old glasses from before the cataract. If those fit, the length stands; repeating until a
# number looks usual is how errors are made.
