# %% [markdown] question="start"
# # Problems {{number outcomes}} · {{title outcomes}}
#
# Nine problems and one written answer, 30 points, about 40 minutes. The lesson is
# [{{number outcomes}} {{title outcomes}}](../../lessons/{{stem outcomes}}.ipynb).
#
# Run the cells from the top. Each problem gives you numbers of your own. Write your answer where it
# says `YOUR CODE HERE`, run the check below it, and read its one sentence. When you are done, save and press
# **Check my answers** below, or run `lens-course check {{number outcomes}}` in a terminal.
#
# Signs: myopia is negative; a prediction error is achieved minus predicted, so a hyperopic surprise is
# positive. You may use `numpy as np` and `math`.
#
# *All patients and series are invented. For learning, not for patient care: follow the lens's labelling,
# local rules and the judgement of a licensed practitioner.*

# %% given="setup"
import math

import numpy as np
from IPython.display import display

from shared_utils.clinic import cohort
from shared_utils.problems import check_button, checks
from shared_utils.problems.hidden_numbers import HiddenDraw
from shared_utils.problems.numbers import Draw, learner_id
from shared_utils.power import formula_comparison, prediction_errors, sample_size
from shared_utils.power.biometry import Eye
from shared_utils.power.constants import optimise
from shared_utils.power.lens_constants import LensConstants
from shared_utils.power.formulas import predicted_refraction
from shared_utils.show import outcomes as figures

print(f"Numbers for learner: {learner_id()}")
check_button.show("outcomes")

# %% [markdown] question="error" goals="1"
# ## 1 · One surprise (2 points)
#
# Wendelin Faro comes six weeks after surgery. Write a function that takes the sphere and the (minus)
# cylinder of his refraction and the refraction that the formula predicted for the lens he got, all in **D**,
# and returns his prediction error in **D**, with its sign.

# %% given="error"
error = Draw("outcomes/error")
sphere_d = error.pick("sphere_d", 1.0, 2.0, step=0.25)
cylinder_d = -error.pick("cylinder_d", 0.5, 1.0, step=0.25)
foreseen_d = -error.pick("foreseen_d", 0.05, 0.11, step=0.01)
error.tell(
    f"His refraction is **{sphere_d:+.2f} {cylinder_d:+.2f} × 170**. For the implanted lens the formula "
    f"predicted **{foreseen_d:+.2f} D**."
)


# %% answer="error" own="shared_utils.power.prediction_errors.prediction_error"
def prediction_error_d(sphere_d, cylinder_d, predicted_d):
    ### BEGIN SOLUTION
    return sphere_d + cylinder_d / 2.0 - predicted_d
    ### END SOLUTION


# %% check="error" points=1 hide=true
equivalent_d = sphere_d + cylinder_d / 2
checks.number(
    "prediction error",
    prediction_error_d(sphere_d, cylinder_d, foreseen_d),
    prediction_errors.prediction_error(equivalent_d, foreseen_d),
    unit="D",
    within=0.01,
    expect="achieved spherical equivalent minus predicted, positive for a hyperopic surprise",
    slips={
        "that is predicted minus achieved; the achieved refraction comes first.": foreseen_d
        - equivalent_d,
        "the cylinder was left out: the spherical equivalent takes half of it.": sphere_d
        - foreseen_d,
        "the whole cylinder was added to the sphere; take half of it.": sphere_d
        + cylinder_d
        - foreseen_d,
        "that is the refraction itself; the prediction has to be taken away.": equivalent_d,
        "the prediction was added; take it away.": equivalent_d + foreseen_d,
    },
)

# %% hidden="error" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Spherical equivalent: {sphere_d:+.2f} D + ({cylinder_d:+.2f} D) / 2 = {equivalent_d:+.3f} D.\n\n"
    f"Error: {equivalent_d:+.3f} D − ({foreseen_d:+.2f} D) = "
    f"**{equivalent_d - foreseen_d:+.2f} D**, a hyperopic surprise."
)
for ball_d, bar_d, told_d in HiddenDraw("outcomes/error").cases(
    ((-0.75, -1.25, -0.5), (0.0, 0.0, 0.31), (0.5, -2.0, -2.1)), by=(0.2, 0.3, 0.1)
):
    checks.number(
        "the same function for another eye",
        prediction_error_d(ball_d, bar_d, told_d),
        prediction_errors.prediction_error(ball_d + bar_d / 2, told_d),
        unit="D",
        within=0.01,
        expect="achieved spherical equivalent minus predicted, whatever the signs",
    )
### END HIDDEN TESTS

# %% [markdown] question="sums" goals="3"
# ## 2 · A series summed up (4 points)
#
# Eight eyes of eight people. Write five functions that take a list of prediction errors in **D** and return
# the mean error, the standard deviation (n − 1), the mean absolute error and the median absolute error, all
# in **D**, and the share of eyes within 0.50 D as a **fraction from 0 to 1**. An eye at just 0.50 D counts
# as within.

# %% given="sums"
sums = Draw("outcomes/sums")
around_d = (0.20, -0.60, 1.30, -0.10, 0.75, 0.05, -0.35)
eight_d = [
    round(d + sums.pick(f"eye_{n}", -0.04, 0.04, step=0.01), 2) for n, d in enumerate(around_d)
]
eight_d.insert(3, 0.50)
sums.tell("Errors, in D: **" + ", ".join(f"{d:+.2f}" for d in eight_d) + "**")


# %% answer="sums" own="shared_utils.power.prediction_errors.summary"
def mean_error_d(errors_d):
    ### BEGIN SOLUTION
    return sum(errors_d) / len(errors_d)
    ### END SOLUTION


def sd_of_errors_d(errors_d):
    ### BEGIN SOLUTION
    mean_d = sum(errors_d) / len(errors_d)
    return math.sqrt(sum((d - mean_d) ** 2 for d in errors_d) / (len(errors_d) - 1))
    ### END SOLUTION


def mean_size_d(errors_d):
    ### BEGIN SOLUTION
    return sum(abs(d) for d in errors_d) / len(errors_d)
    ### END SOLUTION


def median_size_d(errors_d):
    ### BEGIN SOLUTION
    sizes_d = sorted(abs(d) for d in errors_d)
    middle = len(sizes_d) // 2
    if len(sizes_d) % 2:
        return sizes_d[middle]
    return (sizes_d[middle - 1] + sizes_d[middle]) / 2.0
    ### END SOLUTION


def share_within_half(errors_d):
    ### BEGIN SOLUTION
    return sum(abs(d) <= 0.50 + 1e-9 for d in errors_d) / len(errors_d)
    ### END SOLUTION


# %% check="sums" points=2 hide=true
eight = prediction_errors.summary(eight_d)
eight_sizes_d = sorted(abs(d) for d in eight_d)
sum_marks = checks.Marks(2)
sum_marks.step(
    checks.number,
    "mean error",
    lambda: mean_error_d(eight_d),
    eight.mean_d,
    unit="D",
    within=0.005,
    expect="the sum of the errors with their signs, divided by how many there are",
    slips={
        "the signs were dropped: that is the mean absolute error.": eight.mae_d,
        "divided by n − 1; that is for the SD.": sum(eight_d) / 7,
        "that is the sum; divide it by the number of eyes.": sum(eight_d),
    },
)
sum_marks.step(
    checks.number,
    "standard deviation",
    lambda: sd_of_errors_d(eight_d),
    eight.sd_d,
    unit="D",
    within=0.005,
    expect="the root of the squared distances from the mean, over n − 1",
    slips={
        "divided by n instead of n − 1.": float(np.std(eight_d)),
        "the root was left out: that is the variance.": eight.sd_d**2,
        "the mean was not taken away from each error first.": math.sqrt(
            sum(d * d for d in eight_d) / 7
        ),
    },
)
sum_marks.step(
    checks.number,
    "mean absolute error",
    lambda: mean_size_d(eight_d),
    eight.mae_d,
    unit="D",
    within=0.005,
    expect="the mean of the sizes, signs dropped first",
    slips={"the signs were kept, or dropped only after the mean was taken.": eight.mean_d},
)
sum_marks.step(
    checks.number,
    "median absolute error",
    lambda: median_size_d(eight_d),
    eight.medae_d,
    unit="D",
    within=0.005,
    expect="the middle of the sorted sizes; of eight, the mean of the fourth and the fifth",
    slips={
        "the errors were sorted with their signs; drop these first.": float(np.median(eight_d)),
        "of eight sizes there are two in the middle; take their mean.": eight_sizes_d[4],
        "of eight sizes there are two in the middle; the lower one alone was taken.": eight_sizes_d[
            3
        ],
    },
)
sum_marks.step(
    checks.number,
    "share within 0.50 D",
    lambda: share_within_half(eight_d),
    eight.within[0.5],
    unit="",
    within=0.005,
    expect="a fraction from 0 to 1; an eye at just 0.50 D is within",
    slips={
        "the eye at just 0.50 D was left out.": eight.within[0.5] - 1 / 8,
        "that is a percentage or a count; give a fraction from 0 to 1.": 8 * eight.within[0.5],
        "only the hyperopic side was limited: large negative errors count as outside too.": float(
            np.mean(np.array(eight_d) <= 0.5 + 1e-9)
        ),
    },
)
sum_marks.score()

# %% hidden="sums" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Mean: {sum(eight_d):+.2f} D / 8 = **{eight.mean_d:+.3f} D**.\n\n"
    f"SD: √({sum((d - eight.mean_d) ** 2 for d in eight_d):.3f} D² / 7) = **{eight.sd_d:.3f} D**.\n\n"
    f"Sizes sorted, D: {', '.join(f'{d:.2f}' for d in eight_sizes_d)}. Their mean is "
    f"**{eight.mae_d:.3f} D**, their middle ({eight_sizes_d[3]:.2f} + {eight_sizes_d[4]:.2f}) / 2 = "
    f"**{eight.medae_d:.3f} D**, and {8 * eight.within[0.5]:.0f} of 8 are at most 0.50 D: "
    f"**{eight.within[0.5]:.3f}**."
)
other_sums = checks.Marks(2)
# 0.50 D stays, and the third series about it: it still counts as within
for some_d in HiddenDraw("outcomes/sums").cases(
    ([-1.0, 0.5, 0.25], [0.1, -0.2, 0.3, -0.4, 2.0], [-0.5, -0.51, 0.5, 0.49]),
    by=[(0.2, 0, 0.1), 0.07, 0],
):
    some = prediction_errors.summary(some_d)
    for name, function, wanted in (
        ("mean error of another series", mean_error_d, some.mean_d),
        ("its standard deviation", sd_of_errors_d, some.sd_d),
        ("its mean absolute error", mean_size_d, some.mae_d),
        ("its median absolute error", median_size_d, some.medae_d),
        ("its share within 0.50 D", share_within_half, some.within[0.5]),
    ):
        other_sums.step(
            checks.number,
            name,
            lambda f=function, e=some_d: f(e),
            wanted,
            unit="D" if "share" not in name else "",
            within=0.005,
            expect="the same as before, for any number of eyes, even or odd",
        )
other_sums.score()
### END HIDDEN TESTS

# %% [markdown] question="bars" goals="3"
# ## 3 · Read the bars (3 points)
#
# A colleague shows a series as bars, one for each quarter dioptre. Read three numbers off: how many **eyes**
# lie within 0.50 D (the bars at ±0.50 D included), the mean error in **D** with its sign, and how many
# **eyes** are off by 1.00 D or more.

# %% given="bars"
bars = Draw("outcomes/bars")
bar_eyes = {
    -1.00: bars.pick("a", 1, 2),
    -0.75: bars.pick("b", 1, 3),
    -0.50: bars.pick("c", 2, 4),
    -0.25: bars.pick("d", 4, 6),
    0.00: bars.pick("e", 6, 9),
    0.25: bars.pick("f", 7, 10),
    0.50: bars.pick("g", 5, 8),
    0.75: bars.pick("h", 3, 4),
    1.00: bars.pick("i", 2, 3),
    1.25: bars.pick("j", 1, 2),
}
display(
    figures.error_bars(np.repeat(list(bar_eyes), list(bar_eyes.values())), "the colleague's series")
)
bars.tell("The number of eyes stands on each bar.")


# %% answer="bars"
def eyes_within_half():
    ### BEGIN SOLUTION
    return sum(eyes for place_d, eyes in bar_eyes.items() if abs(place_d) <= 0.5)
    ### END SOLUTION


def mean_of_bars_d():
    ### BEGIN SOLUTION
    return sum(place_d * eyes for place_d, eyes in bar_eyes.items()) / sum(bar_eyes.values())
    ### END SOLUTION


def eyes_off_by_one_dioptre():
    ### BEGIN SOLUTION
    return sum(eyes for place_d, eyes in bar_eyes.items() if abs(place_d) >= 1.0)
    ### END SOLUTION


# %% check="bars" points=2 hide=true
bar_errors_d = np.repeat(list(bar_eyes), list(bar_eyes.values()))
bar_within = int(np.sum(np.abs(bar_errors_d) <= 0.5))
bar_marks = checks.Marks(2)
bar_marks.step(
    checks.number,
    "eyes within 0.50 D",
    eyes_within_half,
    bar_within,
    unit="eyes",
    within=0.4,
    expect="the eyes in the five bars from −0.50 to +0.50 D",
    slips={
        "the bars at −0.50 and +0.50 D count as within.": bar_within
        - bar_eyes[-0.5]
        - bar_eyes[0.5],
        "those are the eyes outside.": bar_errors_d.size - bar_within,
        "those are the bars; add up the eyes in them.": 5,
    },
)
bar_marks.step(
    checks.number,
    "mean error",
    mean_of_bars_d,
    float(bar_errors_d.mean()),
    unit="D",
    within=0.03,
    expect="each bar's place times its eyes, summed, over all eyes",
    slips={
        "the sign: the taller bars lie on the plus side.": -float(bar_errors_d.mean()),
        "the signs were dropped: that is the mean absolute error.": float(
            np.abs(bar_errors_d).mean()
        ),
        "that is the sum; divide it by the number of eyes.": float(bar_errors_d.sum()),
    },
)
bar_marks.score()

# %% hidden="bars" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Within 0.50 D: {' + '.join(str(n) for d, n in bar_eyes.items() if abs(d) <= 0.5)} = "
    f"**{bar_within} eyes** of {bar_errors_d.size}.\n\n"
    f"Mean: {bar_errors_d.sum():+.2f} D / {bar_errors_d.size} = **{bar_errors_d.mean():+.2f} D**.\n\n"
    f"Off by 1.00 D or more: {bar_eyes[-1.0]} + {bar_eyes[1.0]} + {bar_eyes[1.25]} = "
    f"**{int(np.sum(np.abs(bar_errors_d) >= 1.0))} eyes**."
)
checks.number(
    "eyes off by 1.00 D or more",
    eyes_off_by_one_dioptre(),
    int(np.sum(np.abs(bar_errors_d) >= 1.0)),
    unit="eyes",
    within=0.4,
    expect="the eyes in the bars at −1.00 D and beyond on either side",
)
### END HIDDEN TESTS

# %% [markdown] question="constant" goals="2"
# ## 4 · Find the constant (4 points)
#
# The surgeon Marguerite Osei uses Holladay 1 with the surgeon factor 1.45 mm from the label. Write a function
# that takes lists of axial lengths in **mm**, mean K in **D**, implanted powers in **D** and achieved refractions
# in **D**, and returns the surgeon factor in **mm** with which the mean prediction error is zero, to
# 0.01 mm. `predicted_d(lengths_mm, ks_d, powers_d, surgeon_factor_mm)`, given below, returns the list of predictions.
# The mean error falls steadily as the factor grows: halving an interval finds it.

# %% given="constant"
LABEL_FACTOR_MM = 1.45


def predicted_d(lengths_mm, ks_d, powers_d, surgeon_factor_mm):
    """Refractions in D that Holladay 1 predicts, one for each eye."""
    lens = LensConstants.from_a_constant(118.6).with_constant("holladay_1", surgeon_factor_mm)
    eyes = Eye(np.array(lengths_mm, dtype=float), np.array(ks_d, dtype=float))
    return predicted_refraction(eyes, "holladay_1", lens, np.array(powers_d, dtype=float)).tolist()


def a_series(n, seed, lean_d):
    """Invented eyes as four lists; by the label's factor their mean error is about lean_d."""
    eyes = cohort.invent(n, seed, a_constant=118.6)
    columns = [eyes.eye.axial_length_mm, eyes.eye.mean_k_d, eyes.iol_power_d, eyes.achieved_d]
    lengths_mm, ks_d, powers_d, achieved_d = (column.tolist() for column in columns)
    foreseen = predicted_d(lengths_mm, ks_d, powers_d, LABEL_FACTOR_MM)
    shift_d = lean_d - float(np.mean(np.array(achieved_d) - np.array(foreseen)))
    return lengths_mm, ks_d, powers_d, [round(d + shift_d, 2) + 0.0 for d in achieved_d]


constant = Draw("outcomes/constant")
lean_d = constant.pick("lean_d", 0.20, 0.50, step=0.01)
lengths_mm, ks_d, powers_d, achieved_d = a_series(12, constant.pick("seed", 1, 400), lean_d)
rows = "\n".join(
    f"| {a:.2f} | {k:.2f} | {p:.1f} | {r:+.2f} |"
    for a, k, p, r in zip(lengths_mm, ks_d, powers_d, achieved_d, strict=True)
)
constant.tell(
    "Twelve of her eyes; the lists are called `lengths_mm`, `ks_d`, `powers_d` and `achieved_d`.\n\n"
    "| axial length, mm | mean K, D | lens, D | achieved, D |\n|---|---|---|---|\n" + rows
)


# %% answer="constant" own="shared_utils.power.constants.optimise shared_utils.power.audit.audit"
def best_surgeon_factor_mm(lengths_mm, ks_d, powers_d, achieved_d):
    ### BEGIN SOLUTION
    low_mm, high_mm = 0.0, 4.0
    for _ in range(12):
        middle_mm = (low_mm + high_mm) / 2.0
        foreseen_d = predicted_d(lengths_mm, ks_d, powers_d, middle_mm)
        mean_d = sum(a - p for a, p in zip(achieved_d, foreseen_d, strict=True)) / len(achieved_d)
        if mean_d > 0:
            low_mm = middle_mm
        else:
            high_mm = middle_mm
    return (low_mm + high_mm) / 2.0
    ### END SOLUTION


# %% check="constant" points=2 hide=true
def optimised_mm(lengths_mm, ks_d, powers_d, achieved_d):
    eyes = Eye(np.array(lengths_mm), np.array(ks_d))
    return optimise(eyes, "holladay_1", np.array(powers_d), np.array(achieved_d)).surgeon_factor_mm


her_factor_mm = optimised_mm(lengths_mm, ks_d, powers_d, achieved_d)
checks.number(
    "surgeon factor for mean error zero",
    best_surgeon_factor_mm(lengths_mm, ks_d, powers_d, achieved_d),
    her_factor_mm,
    unit="mm",
    within=0.01,
    expect="the factor in mm, larger than the label's because the series leans to the plus side",
    slips={
        "that is the label's factor, unchanged.": LABEL_FACTOR_MM,
        "it went the wrong way: a hyperopic lean wants a larger factor.": 2 * LABEL_FACTOR_MM
        - her_factor_mm,
        "the mean error in D was added as if a millimetre were worth one dioptre.": LABEL_FACTOR_MM
        + lean_d,
    },
)

# %% hidden="constant" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"With the label's {LABEL_FACTOR_MM:.2f} mm the mean error is {lean_d:+.2f} D.\n\n"
    "It falls as the factor grows, so halve: try the middle, keep the half in which the mean changes its "
    f"sign. After a dozen halvings: **{her_factor_mm:.3f} mm**, {her_factor_mm - LABEL_FACTOR_MM:+.3f} mm. "
    f"So a millimetre of the factor is worth about {lean_d / (her_factor_mm - LABEL_FACTOR_MM):.2f} D here."
)
factor_marks = checks.Marks(2)
for number, seed, tilt_d in HiddenDraw("outcomes/constant").cases(
    ((25, 901, -0.35), (8, 902, 0.6), (40, 903, 0.05)), by=(2, 40, 0.03)
):
    fresh = a_series(number, seed, tilt_d)
    factor_marks.step(
        checks.number,
        "the same function for another series",
        lambda s=fresh: best_surgeon_factor_mm(*s),
        optimised_mm(*fresh),
        unit="mm",
        within=0.01,
        expect="the factor in mm with which the mean error is zero, whichever way the series leans",
    )
factor_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="steps" goals="1 2"
# ## 5 · Find the error (3 points)
#
# A colleague has written five steps down. **One is wrong**; each of the others is right as it stands. Write two
# functions without arguments: one returns the number of the wrong step, the other its right value in **D**
# (or, for step 5, without a unit).

# %% given="steps"
steps = Draw("outcomes/steps")


def colleagues_steps(draw):
    """The five steps as text, with the number, the right and the written value of the wrong one."""
    number = draw.choose("number", [2, 4, 5])
    sphere = draw.pick("sphere_d", 0.75, 1.5, step=0.25)
    cylinder = -draw.pick("cylinder_d", 0.5, 1.0, step=0.25)
    told = -draw.pick("told_d", 0.05, 0.30, step=0.01)
    n = draw.pick("n", 60, 140, step=20)
    total = round(n * draw.pick("mean_d", 0.20, 0.40, step=0.01), 2)
    sd = draw.pick("sd_d", 0.40, 0.60, step=0.01)
    se, mean = sphere + cylinder / 2, total / n
    right = [se, se - told, mean, 1.96 * sd / n**0.5, 118.6 + mean / 0.83]
    slipped = {2: told - se, 4: 1.96 * sd / n, 5: 118.6 - mean / 0.83}[number]
    shown = [slipped if step == number else value for step, value in enumerate(right, start=1)]
    text = (
        f"1. Refraction {sphere:+.2f} {cylinder:+.2f} × 15: spherical equivalent {shown[0]:+.3f} D.\n"
        f"2. Predicted for the implanted lens {told:+.2f} D: prediction error {shown[1]:+.3f} D.\n"
        f"3. The errors of {n} eyes of as many people, this one among them, add up to {total:+.2f} D: "
        f"mean error {shown[2]:+.3f} D.\n"
        f"4. Their SD is {sd:.2f} D: with 95 % confidence the mean is known to within "
        f"± {shown[3]:.3f} D.\n"
        f"5. One of A moves every prediction by +0.83 D. From A = 118.60 to the constant for mean error "
        f"zero: A = {shown[4]:.2f}."
    )
    return text, number, right[number - 1], slipped


steps.tell(colleagues_steps(steps)[0])


# %% answer="steps"
def wrong_step():
    ### BEGIN SOLUTION
    return colleagues_steps(steps)[1]  # a learner reads it off the text
    ### END SOLUTION


def right_value():
    ### BEGIN SOLUTION
    return colleagues_steps(steps)[2]
    ### END SOLUTION


# %% check="steps" points=2 hide=true
_, bad_step, mended, slipped = colleagues_steps(steps)
why_step_holds = {
    1: "step 1 holds: sphere plus half the cylinder.",
    2: "step 2 holds: achieved minus predicted.",
    3: "step 3 holds: the sum over the number of eyes.",
    4: "step 4 holds: the mean of n eyes scatters by SD / √n.",
    5: "step 5 holds: the mean error over what one of A is worth, added.",
}
step_marks = checks.Marks(2)
step_marks.step(
    checks.number,
    "number of the wrong step",
    wrong_step,
    bad_step,
    unit="",
    within=0.1,
    expect="a whole number from 1 to 5",
    slips={why: number for number, why in why_step_holds.items() if number != bad_step},
)
step_marks.step(
    checks.number,
    "right value of that step",
    right_value,
    mended,
    unit="" if bad_step == 5 else "D",
    within=0.005,
    expect="the value that the wrong step should have given",
    slips={"that is the value as the colleague has it.": slipped},
)
step_marks.score()

# %% hidden="steps" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    {
        2: f"**Step 2.** The error is achieved minus predicted, not the other way round: "
        f"**{mended:+.3f} D** instead of {slipped:+.3f} D.",
        4: f"**Step 4.** The mean of n eyes scatters by the SD over √n, not over n: **{mended:.3f} D** "
        f"instead of {slipped:.3f} D.",
        5: f"**Step 5.** The series leans to the plus side, so the predictions must rise and A with them: "
        f"**{mended:.2f}** instead of {slipped:.2f}.",
    }[bad_step]
)
checks.number(
    "right value of the wrong step, once more",
    right_value(),
    mended,
    unit="" if bad_step == 5 else "D",
    within=0.005,
    expect="the value that the wrong step should have given",
)
### END HIDDEN TESTS

# %% [markdown] question="people" goals="3 4"
# ## 6 · Which rows count? (3 points)
#
# A table has one row for each eye: person, side, lens model, error in D. For the audit of lens model `"K1"` count
# the **first row of each person with that lens**, and no other row. Write two functions that take the table (a list
# of rows) and the name of the lens: one returns how many **eyes** count, the other their mean error in **D**.

# %% given="people"
people = Draw("outcomes/people")
singles = people.pick("singles", 2, 4)
pairs = people.pick("pairs", 4, 6)
table = []
for n in range(1, singles + pairs + 1):
    first_d = people.pick(f"first_{n}", -0.30, 0.30, step=0.01)
    table.append([f"P{n}", "right", "K1", first_d])
    if n > singles:
        table.append(
            [
                f"P{n}",
                "left",
                "K1",
                round(first_d + people.pick(f"more_{n}", 0.2, 0.4, step=0.01), 2),
            ]
        )
others = people.pick("others", 2, 3)
for n in range(others):
    place = people.pick(f"place_{n}", 0, 4)
    table.insert(
        place, [f"Q{n + 1}", "right", "M2", people.pick(f"other_{n}", 0.90, 1.30, step=0.01)]
    )
people_rows = "\n".join(f"| {p} | {s} | {m} | {d:+.2f} |" for p, s, m, d in table)
people.tell(
    "The list is called `table`; a row is `[person, side, lens, error_d]`.\n\n"
    "| person | side | lens | error, D |\n|---|---|---|---|\n" + people_rows
)


# %% answer="people"
def eyes_that_count(table, lens):
    ### BEGIN SOLUTION
    return len({person for person, _, model, _ in table if model == lens})
    ### END SOLUTION


def mean_that_counts_d(table, lens):
    ### BEGIN SOLUTION
    first_d = {}
    for person, _, model, error_d in table:
        if model == lens:
            first_d.setdefault(person, error_d)
    return sum(first_d.values()) / len(first_d)
    ### END SOLUTION


# %% check="people" points=2 hide=true
def first_errors_d(rows, lens):
    first = {}
    for person, _, model, error_d in rows:
        if model == lens:
            first.setdefault(person, error_d)
    return list(first.values())


of_lens_d = [d for _, _, model, d in table if model == "K1"]
people_marks = checks.Marks(2)
people_marks.step(
    checks.number,
    "eyes that count",
    lambda: eyes_that_count(table, "K1"),
    len(first_errors_d(table, "K1")),
    unit="eyes",
    within=0.4,
    expect="as many as there are persons with this lens",
    slips={
        "every row was counted.": len(table),
        "both eyes of some persons were counted.": len(of_lens_d),
        "rows with another lens were counted too.": singles + pairs + others,
    },
)
people_marks.step(
    checks.number,
    "their mean error",
    lambda: mean_that_counts_d(table, "K1"),
    float(np.mean(first_errors_d(table, "K1"))),
    unit="D",
    within=0.005,
    expect="the mean over the first row of each person with this lens",
    slips={
        "every row was counted.": float(np.mean([d for *_, d in table])),
        "both eyes of some persons were counted.": float(np.mean(of_lens_d)),
    },
)
people_marks.score()

# %% hidden="people" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"{len(table)} rows; {others} have another lens, {pairs} are second eyes: "
    f"{len(table)} − {others} − {pairs} = **{singles + pairs} eyes** count.\n\n"
    f"Their errors add up to {sum(first_errors_d(table, 'K1')):+.2f} D: mean "
    f"**{np.mean(first_errors_d(table, 'K1')):+.3f} D**."
)
ward_rows = [
    ["A", "left", "M2", 0.5],
    ["B", "right", "K1", -0.2],
    ["A", "right", "K1", 0.3],
    ["B", "left", "M2", 0.1],
    ["A", "left", "K1", 0.9],
]
ward = HiddenDraw("outcomes/people").cases(ward_rows, by=(0, 0, 0, 0.07))
ward_marks = checks.Marks(1)
for model in ("K1", "M2"):
    ward_marks.step(
        checks.number,
        "eyes that count in another table",
        lambda m=model: eyes_that_count(ward, m),
        len(first_errors_d(ward, model)),
        unit="eyes",
        within=0.4,
        expect="as many as there are persons with this lens",
    )
    ward_marks.step(
        checks.number,
        "mean error in another table",
        lambda m=model: mean_that_counts_d(ward, m),
        float(np.mean(first_errors_d(ward, model))),
        unit="D",
        within=0.005,
        expect="the mean over the first row of each person with this lens",
    )
ward_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="fair" goals="4"
# ## 7 · A fair contest (3 points)
#
# Two formulas, A and B, were tried in the same ten eyes with the constants from the label. Write a function
# that takes a list of errors in **D** and returns the mean absolute error in **D** after the mean error has
# been taken out. Then name the formula that scatters less: a function without arguments that returns `"a"` or
# `"b"`.

# %% given="fair"
fair = Draw("outcomes/fair")
shape_d = (-0.45, -0.30, -0.20, -0.10, 0.00, 0.00, 0.10, 0.20, 0.30, 0.45)
order = (3, 7, 0, 9, 5, 1, 8, 2, 6, 4)
tight_d, wide_d = (
    [
        round(times * shape_d[n] + lean + fair.pick(f"{name}_{n}", -0.03, 0.03, step=0.01), 2)
        for n in order
    ]
    for name, times, lean in (
        ("tight", 0.8, fair.pick("lean_tight", 0.45, 0.60, step=0.01)),
        ("wide", 1.5, -fair.pick("lean_wide", 0.18, 0.24, step=0.01)),
    )
)
tight_is = fair.choose("tight_is", ["a", "b"])
errors_a_d, errors_b_d = (tight_d, wide_d) if tight_is == "a" else (wide_d, tight_d)
fair.tell(
    "`errors_a_d`: **" + ", ".join(f"{d:+.2f}" for d in errors_a_d) + "** D\n\n"
    "`errors_b_d`: **" + ", ".join(f"{d:+.2f}" for d in errors_b_d) + "** D"
)


# %% answer="fair" own="shared_utils.power.prediction_errors.summary shared_utils.power.prediction_errors.zeroed"
def mae_without_lean_d(errors_d):
    ### BEGIN SOLUTION
    mean_d = sum(errors_d) / len(errors_d)
    return sum(abs(d - mean_d) for d in errors_d) / len(errors_d)
    ### END SOLUTION


def scatters_less():
    ### BEGIN SOLUTION
    return "a" if mae_without_lean_d(errors_a_d) < mae_without_lean_d(errors_b_d) else "b"
    ### END SOLUTION


# %% check="fair" points=2 hide=true
fair_marks = checks.Marks(2)
for name, list_d in (("A", errors_a_d), ("B", errors_b_d)):
    found = prediction_errors.summary(list_d)
    fair_marks.step(
        checks.number,
        f"mean absolute error of {name} without its lean",
        lambda e=list_d: mae_without_lean_d(e),
        prediction_errors.summary(prediction_errors.zeroed(list_d)).mae_d,
        unit="D",
        within=0.005,
        expect="the mean size of the errors after the mean was taken away from each",
        slips={
            "the lean is still in it: take the mean away from each error first.": found.mae_d,
            "the lean was taken from the mean size; take it from each error.": found.mae_d
            - abs(found.mean_d),
            "that is the SD, not the mean absolute error.": found.sd_d,
        },
    )
fair_marks.step(
    checks.choice,
    "the formula that scatters less",
    scatters_less,
    tight_is,
    options=("a", "b"),
    slips={
        "b" if tight_is == "a" else "a": "That one only looks better while the other one leans: "
        "compare without the leans."
    },
)
fair_marks.score()

# %% hidden="fair" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    "\n\n".join(
        f"{name}: mean {prediction_errors.summary(list_d).mean_d:+.3f} D, MAE as given "
        f"{prediction_errors.summary(list_d).mae_d:.3f} D; with the mean taken from each error, MAE "
        f"**{prediction_errors.summary(prediction_errors.zeroed(list_d)).mae_d:.3f} D**."
        for name, list_d in (("A", errors_a_d), ("B", errors_b_d))
    )
    + f"\n\nSo **{tight_is.upper()}** scatters less; its lean is the constant's."
)
contest_marks = checks.Marks(1)
for contest_d in HiddenDraw("outcomes/fair").cases(
    ([0.5, 0.7, 0.9], [-1.0, -0.9, -0.2, 0.1, 0.4], [0.0, 0.0, 3.0]), by=0.07
):
    contest_marks.step(
        checks.number,
        "the same function for another list",
        lambda e=contest_d: mae_without_lean_d(e),
        prediction_errors.summary(prediction_errors.zeroed(contest_d)).mae_d,
        unit="D",
        within=0.005,
        expect="the mean size of the errors after the mean was taken away from each",
    )
contest_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="mcnemar" goals="4"
# ## 8 · A paired test (2 points)
#
# Two formulas in the same eyes, each optimised. Most eyes are within 0.50 D by both or by neither; these tell
# nothing. Of the eyes within by **one formula alone**, half are expected on either side if the formulas are
# alike. Write a function that takes the two counts and returns the two-sided p of McNemar's exact test: twice the
# chance that a fair coin, tossed as often as there are such eyes, shows heads at most as often as the smaller
# count; never above 1. `math.comb(n, k)` may help.

# %% given="mcnemar"
mcnemar = Draw("outcomes/mcnemar")
all_eyes = mcnemar.pick("all_eyes", 60, 95)
few_only = mcnemar.pick("few_only", 2, 4)
many_only = mcnemar.pick("many_only", 8, 12)
mcnemar.tell(
    f"Of **{all_eyes} eyes**, **{few_only}** are within 0.50 D by formula A alone and **{many_only}** by "
    "formula B alone."
)


# %% answer="mcnemar" own="shared_utils.power.formula_comparison.compare_within"
def mcnemar_p(first_only, second_only):
    ### BEGIN SOLUTION
    tosses, fewer = first_only + second_only, min(first_only, second_only)
    tail = sum(math.comb(tosses, k) for k in range(fewer + 1)) / 2**tosses
    return min(1.0, 2.0 * tail)
    ### END SOLUTION


# %% check="mcnemar" points=1 hide=true
def exact_p(one, other):
    inside = {"a": [0.1] * one + [0.9] * other, "b": [0.9] * one + [0.1] * other}
    return formula_comparison.compare_within(inside)[0].p


def coin_p(tosses, heads):
    return 2 * sum(math.comb(tosses, k) for k in range(heads + 1)) / 2**tosses


checks.number(
    "p of McNemar's exact test",
    mcnemar_p(few_only, many_only),
    exact_p(few_only, many_only),
    unit="",
    within=0.0005,
    expect="a chance from 0 to 1, two-sided, from the two counts alone",
    slips={
        "that is one side only; a difference could lie on either.": exact_p(few_only, many_only)
        / 2,
        "all eyes were tossed; only those within by one formula alone tell anything.": coin_p(
            all_eyes, few_only
        ),
        "that is the chance of just this count; take all counts that are as extreme.": 2
        * math.comb(few_only + many_only, few_only)
        / 2 ** (few_only + many_only),
    },
)

# %% hidden="mcnemar" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Tosses: {few_only} + {many_only} = {few_only + many_only}; at most {few_only} heads in "
    f"{' + '.join(str(math.comb(few_only + many_only, k)) for k in range(few_only + 1))} = "
    f"{sum(math.comb(few_only + many_only, k) for k in range(few_only + 1))} of "
    f"$2^{{{few_only + many_only}}}$ = {2 ** (few_only + many_only)} ways.\n\n"
    f"p is twice their share: **{exact_p(few_only, many_only):.4f}**."
)
toss_marks = checks.Marks(1)
even = HiddenDraw("outcomes/mcnemar").pick("even", 3, 7)  # as many of both, or nearly: p is 1
for one, other in HiddenDraw("outcomes/mcnemar").cases(
    ((6, 0), (even, even), (12, 3), (even - 2, even - 1)), by=[(2, 0), 0, (2, 1), 0]
):
    toss_marks.step(
        checks.number,
        "p for other counts",
        lambda a=one, b=other: mcnemar_p(a, b),
        exact_p(one, other),
        unit="",
        within=0.0005,
        expect="a chance from 0 to 1, two-sided, the same whichever count comes first",
    )
toss_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="eyes" goals="2 4"
# ## 9 · How many eyes? (2 points)
#
# Ottokar Benedetti has a new lens model and wants his constant from his own results. Write a function that
# takes the SD of his errors in **D** and how closely the mean error shall be known (± so many **D**, with 95 %
# confidence: 1.96 standard deviations of the mean), and returns the smallest whole number of **eyes** that will do.

# %% given="eyes"
eyes = Draw("outcomes/eyes")
his_sd_d = eyes.pick("sd_d", 0.41, 0.59, step=0.01)
close_d = eyes.pick("close_d", 0.06, 0.12, step=0.01)
eyes.tell(
    f"The SD of his errors is about **{his_sd_d:.2f} D**. He wants to know the mean to within "
    f"**± {close_d:.2f} D**."
)


# %% answer="eyes" own="shared_utils.power.sample_size.eyes_for_mean"
def eyes_needed(sd_d, within_d):
    ### BEGIN SOLUTION
    return math.ceil((1.96 * sd_d / within_d) ** 2)
    ### END SOLUTION


# %% check="eyes" points=1 hide=true
checks.number(
    "eyes needed",
    eyes_needed(his_sd_d, close_d),
    sample_size.eyes_for_mean(his_sd_d, close_d),
    unit="eyes",
    within=0.4,
    expect="a whole number of eyes, rounded up",
    slips={
        "the SD of a mean falls with the root of n, so the ratio must be squared.": math.ceil(
            1.96 * his_sd_d / close_d
        ),
        "one standard deviation was taken; 95 % confidence takes 1.96.": math.ceil(
            (his_sd_d / close_d) ** 2
        ),
        "± is half the width of the interval; the whole width was taken for it.": math.ceil(
            (1.96 * 2 * his_sd_d / close_d) ** 2
        ),
    },
)

# %% hidden="eyes" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"The mean of n eyes has the SD {his_sd_d:.2f} D / √n, and $1.96 · {his_sd_d:.2f} / \\sqrt{{n}} \\le "
    f"{close_d:.2f}$ D.\n\n"
    f"So n ≥ (1.96 · {his_sd_d:.2f} / {close_d:.2f})² = {(1.96 * his_sd_d / close_d) ** 2:.1f}: "
    f"**{sample_size.eyes_for_mean(his_sd_d, close_d):.0f} eyes**."
)
count_marks = checks.Marks(1)
count_draw = HiddenDraw("outcomes/eyes")
for sds_d, near_d in (((45, 60), 0.1), ((30, 40), 0.05), ((70, 90), 0.3)):
    # so that 1.96 and a longer 1.96 are rounded up to the same number of eyes
    clear = [n / 100 for n in range(*sds_d) if 0.1 < (1.96 * n / 100 / near_d) ** 2 % 1 < 0.9]
    scatter_d = count_draw.choose(f"sd within {near_d}", clear)
    count_marks.step(
        checks.number,
        "eyes for another surgeon",
        lambda s=scatter_d, c=near_d: eyes_needed(s, c),
        sample_size.eyes_for_mean(scatter_d, near_d),
        unit="eyes",
        within=0.4,
        expect="a whole number of eyes, rounded up",
    )
count_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="verdict" goals="2 4"
# ## 10 · In your own words (4 points)
#
# A colleague says: “I had 40 eyes with formula A and then 40 eyes with formula B, both with the label's
# constants, often both eyes of a patient. B's mean error is nearer to zero, so B is the better formula.” In four to
# seven sentences, tell them what is wrong and how you would compare the two.

# %% [markdown] written="verdict" points=4
# ### BEGIN MARK SCHEME
# One point each:
# 1. The mean error speaks of the constant, not of the formula: optimise each (mean zero), then compare scatter.
# 2. The same eyes by both formulas, and a paired test (SD by bootstrap, or McNemar for the share within 0.50 D).
# 3. One eye of each patient, since the eyes of one person err alike.
# 4. 40 eyes are too few for the usual differences of SD (0.02 to 0.05 D): about a hundred to several hundred eyes.
# ### END MARK SCHEME
# A mean error near zero only says that B's constant happens to suit. I would run both formulas on the same eyes,
# one of each patient, find for each the constant with mean error zero, and then compare the SD, the MAE and the
# share within 0.50 D with a paired test. Two eyes of one person err alike and count little more than one. And
# 40 eyes are too few: good formulas differ by 0.02 to 0.05 D in SD, which takes a hundred to several hundred
# eyes even when both are tried in the same ones.
