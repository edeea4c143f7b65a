# %% [markdown] question="start"
# # Problems {{number consultation}} · {{title consultation}}
#
# Nine problems and one written answer, 30 points, about 40 minutes. The lesson is
# [{{number consultation}} {{title consultation}}](../../lessons/{{stem consultation}}.ipynb).
#
# Run the cells from the top. Each problem gives you numbers of your own. Write your answer where it
# says `YOUR CODE HERE`, run the check below it, and read its one sentence. When you are done, press
# **Validate** above, or run `lens-course check {{number consultation}}` in a terminal.
#
# Refractions are at the spectacle plane, myopia negative. A prediction error is achieved minus predicted: hyperopic
# surprise is positive. Chances are per cent, people are people of a hundred.
#
# *All patients are invented. For learning, not for patient care: follow the lens's labelling, local
# rules and the judgement of a licensed practitioner.*

# %% given="setup"
import math

import numpy as np
from IPython.display import display
from scipy.stats import norm

from shared_utils.choice import tasks
from shared_utils.problems import check_button, checks
from shared_utils.problems.hidden_numbers import HiddenDraw
from shared_utils.problems.numbers import Draw, learner_id
from shared_utils.optics.through_focus import acuity_logmar
from shared_utils.power import lens_steps
from shared_utils.power.biometry import Eye
from shared_utils.power.lens_constants import LensConstants
from shared_utils.show import consultation as figures

print(f"Numbers for learner: {learner_id()}")
check_button.show("consultation")

# %% [markdown] question="order" goals="1"
# ## 1 · The lens to order (3 points)
#
# A table lists lenses that are made: pairs (power in **D**, refraction that it would leave in **D**). Write a function
# that takes such a table and the target in **D** and returns the power whose refraction comes nearest to the target. If
# two miss alike (to within 0.001 D), take the **stronger** lens.

# %% given="order"
order = Draw("consultation/order")
order_eye = Eye(
    order.pick("length_mm", 22.6, 24.8, step=0.01), order.pick("k_d", 42.0, 45.0, step=0.05)
)
order_target_d = -order.pick("target_d", 0.80, 1.00, step=0.05)
made = lens_steps.choices(
    order_eye, "srk_t", LensConstants.from_a_constant(118.6), order_target_d, count=9
)
lens_table = [
    (float(power_d), round(float(left_d), 2))
    for power_d, left_d in zip(made.iol_power_d, made.predicted_d, strict=True)
]
order.tell(
    f"Theodor Imhof's near eye, target **{order_target_d:+.2f} D**. Lenses and what each would leave: "
    f"**{lens_table}**."
)


# %% answer="order" own="shared_utils.power.lens_steps.choices"
def lens_to_order(table, target_d):
    ### BEGIN SOLUTION
    return min(table, key=lambda lens: (round(abs(lens[1] - target_d), 3), -lens[0]))[0]
    ### END SOLUTION


# %% check="order" points=1 hide=true
def nearest_lens(table, target_d):
    return min(table, key=lambda lens: (round(abs(lens[1] - target_d), 3), -lens[0]))[0]


order_want_d = nearest_lens(lens_table, order_target_d)
leaves_hyperopic = dict(lens_table)[order_want_d] > order_target_d
checks.lens_power(
    "lens to order",
    lens_to_order(lens_table, order_target_d),
    order_want_d,
    expect="the power in the table whose refraction lies nearest to the target",
    slips={
        "that lens comes nearest to 0.00 D; the target is another.": nearest_lens(lens_table, 0.0),
        "the sign of the target was turned round.": nearest_lens(lens_table, -order_target_d),
        "its neighbour lies nearer to the target.": order_want_d
        + (0.5 if leaves_hyperopic else -0.5),
    },
)

# %% hidden="order" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Misses of {order_target_d:+.2f} D: "
    + ", ".join(f"{p:.1f} D: {abs(r - order_target_d):.2f}" for p, r in lens_table)
    + f". Least: **{order_want_d:.1f} D**, which leaves {dict(lens_table)[order_want_d]:+.2f} D."
)
order_marks = checks.Marks(2)
tie_d = HiddenDraw("consultation/order").near(0.17, 0.05)  # two lenses as near: the stronger one
for shelf, aim_d, right_d in HiddenDraw("consultation/order").cases(
    (
        ([(20.0, 0.43), (20.5, 0.09), (21.0, -0.25)], 0.0, 20.5),
        ([(20.0, tie_d), (20.5, -tie_d), (21.0, -0.51)], 0.0, 20.5),
        ([(21.0, -0.25), (20.5, 0.09), (20.0, 0.43)], -0.5, 21.0),
    ),
    by=[([(0, 0.06)] * 3, 0, 0), 0, ([(0, 0.06)] * 3, 0.05, 0)],
):
    order_marks.step(
        checks.lens_power,
        "lens to order from another table",
        lambda a=shelf, b=aim_d: lens_to_order(a, b),
        right_d,
        expect="nearest to the target; of two that miss alike, the stronger",
    )
order_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="chance" goals="1"
# ## 2 · What may come of it (3 points)
#
# Achieved refractions scatter about the predicted one as in a normal distribution. Write two functions that take the
# predicted refraction, the target, the standard deviation and a limit, all in **D**, and return a chance in **per cent**:
# `within_percent` that the eye ends within the limit of the **target**; `hyperopic_percent` that it ends more than the
# limit **above** the target. `norm.cdf` is at hand.

# %% given="chance"
chance = Draw("consultation/chance")
chance_target_d = -chance.pick("target_d", 0.25, 1.25, step=0.25)
chance_miss_d = chance.choose("side", [-1, 1]) * chance.pick("miss_d", 0.10, 0.17, step=0.01)
chance_predicted_d = round(chance_target_d + chance_miss_d, 2)
chance_sd_d = chance.pick("sd_d", 0.35, 0.55, step=0.01)
chance.tell(
    f"Amparo Lindgren: target **{chance_target_d:+.2f} D**, the lens ordered should leave "
    f"**{chance_predicted_d:+.2f} D**; the practice's standard deviation is **{chance_sd_d:.2f} D**. Limit 0.50 D."
)


# %% answer="chance"
def within_percent(predicted_d, target_d, sd_d, limit_d):
    ### BEGIN SOLUTION
    low, high = target_d - limit_d, target_d + limit_d
    return 100.0 * float(norm.cdf(high, predicted_d, sd_d) - norm.cdf(low, predicted_d, sd_d))
    ### END SOLUTION


def hyperopic_percent(predicted_d, target_d, sd_d, limit_d):
    ### BEGIN SOLUTION
    return 100.0 * float(1.0 - norm.cdf(target_d + limit_d, predicted_d, sd_d))
    ### END SOLUTION


# %% check="chance" points=1 hide=true
def between(low, high, middle, sd):
    return 100 * float(norm.cdf(high, middle, sd) - norm.cdf(low, middle, sd))


chance_case = (chance_predicted_d, chance_target_d, chance_sd_d, 0.5)
chance_ends = (chance_target_d - 0.5, chance_target_d + 0.5)
chance_marks = checks.Marks(1)
chance_marks.step(
    checks.number,
    "within ±0.50 D of the target",
    lambda: within_percent(*chance_case),
    between(*chance_ends, chance_predicted_d, chance_sd_d),
    unit="%",
    within=0.5,
    expect="a percentage: the part of the bell between the two limits about the target",
    slips={
        "the bell was put on the target; its middle is the predicted refraction.": between(
            *chance_ends, chance_target_d, chance_sd_d
        ),
        "the limit is 0.50 D on either side, not in all.": between(
            chance_target_d - 0.25, chance_target_d + 0.25, chance_predicted_d, chance_sd_d
        ),
        "that is a fraction; per cent are wanted.": between(
            *chance_ends, chance_predicted_d, chance_sd_d
        )
        / 100,
    },
)
chance_marks.step(
    checks.number,
    "hyperopic by more than the limit",
    lambda: hyperopic_percent(*chance_case),
    between(chance_ends[1], 99, chance_predicted_d, chance_sd_d),
    unit="%",
    within=0.5,
    expect="a percentage: the part of the bell above target plus limit",
    slips={
        "that is everything below the limit.": between(
            -99, chance_ends[1], chance_predicted_d, chance_sd_d
        ),
        "that is the myopic side.": between(-99, chance_ends[0], chance_predicted_d, chance_sd_d),
    },
)
chance_marks.score()

# %% hidden="chance" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Limits {chance_ends[0]:+.2f} and {chance_ends[1]:+.2f} D; the bell stands on {chance_predicted_d:+.2f} D with "
    f"spread {chance_sd_d:.2f} D. "
    f"$z = {(chance_ends[0] - chance_predicted_d) / chance_sd_d:.2f}$ and "
    f"${(chance_ends[1] - chance_predicted_d) / chance_sd_d:.2f}$: within "
    f"{between(*chance_ends, chance_predicted_d, chance_sd_d):.0f} %, above "
    f"{between(chance_ends[1], 99, chance_predicted_d, chance_sd_d):.0f} %."
)
bell_marks = checks.Marks(2)
for left_d, aim_d, sd_d, limit_d in HiddenDraw("consultation/chance").cases(
    (
        (0.0, 0.0, 0.4, 0.5),
        (0.09, 0.0, 0.4, 0.5),
        (-0.6, -0.5, 0.66, 1.0),
    ),
    by=(0.03, 0.1, 0.05, 0.08),
):
    case = (left_d, aim_d, sd_d, limit_d)
    bell_marks.step(
        checks.number,
        "within the limit, another eye",
        lambda c=case: within_percent(*c),
        between(aim_d - limit_d, aim_d + limit_d, left_d, sd_d),
        unit="%",
        within=0.5,
        expect="the part of the bell about the predicted refraction between the limits",
    )
    bell_marks.step(
        checks.number,
        "hyperopic, another eye",
        lambda c=case: hyperopic_percent(*c),
        between(aim_d + limit_d, 99, left_d, sd_d),
        unit="%",
        within=0.5,
        expect="the part of the bell above target plus limit",
    )
bell_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="audit" goals="1"
# ## 3 · Judge a practice's errors (3 points)
#
# Eleven prediction errors of one lens and formula are told, in **D**. Write functions that take such a list:
# `mean_error_d`; `sd_error_d`, the standard deviation of a **sample** (divisor n − 1); and `constant`, which returns
# `"change"` if the mean lies more than **two standard errors** (SD / √n) from zero, else `"keep"`.

# %% given="audit"
audit = Draw("consultation/audit")
audit_shift_d = audit.choose("shift_d", [-0.35, 0.0, 0.0, 0.35])
audit_errors_d = [
    round(audit_shift_d + audit.pick(f"error {n}", low, high, step=0.01), 2)
    for n, (low, high) in enumerate([(-0.60, -0.45), (0.45, 0.60)] + [(-0.50, 0.50)] * 9)
]
audit.tell(f"Errors, achieved minus predicted, D: **{audit_errors_d}**.")


# %% answer="audit" own="shared_utils.power.prediction_errors.summary"
def mean_error_d(errors_d):
    ### BEGIN SOLUTION
    return sum(errors_d) / len(errors_d)
    ### END SOLUTION


def sd_error_d(errors_d):
    ### BEGIN SOLUTION
    mean_d = mean_error_d(errors_d)
    return math.sqrt(sum((one - mean_d) ** 2 for one in errors_d) / (len(errors_d) - 1))
    ### END SOLUTION


def constant(errors_d):
    ### BEGIN SOLUTION
    standard_error_d = sd_error_d(errors_d) / math.sqrt(len(errors_d))
    return "change" if abs(mean_error_d(errors_d)) > 2.0 * standard_error_d else "keep"
    ### END SOLUTION


# %% check="audit" points=1 hide=true
audit_mean_d, audit_sd_d = float(np.mean(audit_errors_d)), float(np.std(audit_errors_d, ddof=1))
audit_word = "change" if abs(audit_mean_d) > 2 * audit_sd_d / math.sqrt(11) else "keep"
audit_marks = checks.Marks(1)
audit_marks.step(
    checks.number,
    "mean error",
    lambda: mean_error_d(audit_errors_d),
    audit_mean_d,
    unit="D",
    within=0.005,
    expect="the sum over the number, with its sign",
    slips={
        "that is the mean of the sizes; keep the signs.": float(np.mean(np.abs(audit_errors_d))),
    },
)
audit_marks.step(
    checks.number,
    "standard deviation",
    lambda: sd_error_d(audit_errors_d),
    audit_sd_d,
    unit="D",
    within=0.005,
    expect="that of a sample, about the mean error",
    slips={
        "the divisor is n − 1 for a sample.": float(np.std(audit_errors_d)),
        "that is the standard error of the mean.": audit_sd_d / math.sqrt(11),
    },
)
audit_marks.step(
    checks.choice,
    "what to do with the constant",
    lambda: constant(audit_errors_d),
    audit_word,
    options=("change", "keep"),
    slips={
        {"change": "keep", "keep": "change"}[
            audit_word
        ]: "compare the size of the mean with two standard errors."
    },
)
audit_marks.score()

# %% hidden="audit" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Mean {audit_mean_d:+.3f} D, SD {audit_sd_d:.3f} D, standard error "
    f"${audit_sd_d:.3f} / \\sqrt{{11}} = {audit_sd_d / math.sqrt(11):.3f}$ D; twice that is "
    f"{2 * audit_sd_d / math.sqrt(11):.3f} D: **{audit_word}**."
)
audit_again = checks.Marks(2)
for list_d, word in HiddenDraw("consultation/audit").cases(
    (
        ([0.1, 0.2, 0.3, 0.4], "change"),
        ([-0.5, 0.5, -0.4, 0.45], "keep"),
        ([-0.3, -0.2, -0.4], "change"),
    ),
    by=[(0.03, 0), (0.05, 0), (0.03, 0)],
):
    audit_again.step(
        checks.number,
        "mean error of another list",
        lambda a=list_d: mean_error_d(a),
        np.mean(list_d),
        unit="D",
        within=0.005,
        expect="the sum over the number",
    )
    audit_again.step(
        checks.number,
        "standard deviation of another list",
        lambda a=list_d: sd_error_d(a),
        np.std(list_d, ddof=1),
        unit="D",
        within=0.005,
        expect="that of a sample",
    )
    audit_again.step(
        checks.choice,
        "constant after another list",
        lambda a=list_d: constant(a),
        word,
        options=("change", "keep"),
    )
audit_again.score()
### END HIDDEN TESTS

# %% [markdown] question="people" goals="3"
# ## 4 · People of a hundred (3 points)
#
# Write two functions that take how many of 100 people do without glasses with one focus and the ratio for another lens:
# `owe_it_to_the_lens` returns how many of 100 do without **because of** the lens; `treated_for_one` returns how many people
# must get the lens so that **one more** does without.

# %% given="people"
people = Draw("consultation/people")
people_base = people.pick("base", 5, 24)
people_ratio = people.pick("ratio", 2.0, 3.2, step=0.1)
people.tell(
    f"Suppose that **{people_base}** of 100 do without glasses with one focus, and **{people_ratio:.1f}** times as many with "
    "another lens."
)


# %% answer="people"
def owe_it_to_the_lens(base_of_100, ratio):
    ### BEGIN SOLUTION
    return base_of_100 * ratio - base_of_100
    ### END SOLUTION


def treated_for_one(base_of_100, ratio):
    ### BEGIN SOLUTION
    return 100.0 / owe_it_to_the_lens(base_of_100, ratio)
    ### END SOLUTION


# %% check="people" points=1 hide=true
people_gain = people_base * (people_ratio - 1)
people_marks = checks.Marks(1)
people_marks.step(
    checks.number,
    "owe it to the lens",
    lambda: owe_it_to_the_lens(people_base, people_ratio),
    people_gain,
    unit="of 100",
    within=0.1,
    expect="those who do without with the lens, less those who would have anyway",
    slips={
        "that is all who do without; some would have anyway.": people_base * people_ratio,
        "that is the ratio as per cent more; of whom?": 100 * (people_ratio - 1),
    },
)
people_marks.step(
    checks.number,
    "people treated for one more",
    lambda: treated_for_one(people_base, people_ratio),
    100 / people_gain,
    unit="people",
    within=0.1,
    expect="a hundred over those who owe it to the lens",
    slips={
        "that counts those too who would have done without anyway.": 100
        / (people_base * people_ratio),
    },
)
people_marks.score()

# %% hidden="people" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"${people_base} \\times {people_ratio:.1f} = {people_base * people_ratio:.1f}$ of 100 do without, "
    f"{people_base} would have anyway: **{people_gain:.1f}** owe it to the lens. "
    f"$100 / {people_gain:.1f} = {100 / people_gain:.1f}$ people get the lens for one more without glasses."
)
people_again = checks.Marks(2)
for before, factor in HiddenDraw("consultation/people").cases(
    ((10, 2.8), (2, 1.5), (40, 2.0)), by=[(3, 0.4), (1, 0.2), (8, 0.3)]
):
    people_again.step(
        checks.number,
        "owe it to another lens",
        lambda a=before, b=factor: owe_it_to_the_lens(a, b),
        before * (factor - 1),
        unit="of 100",
        within=0.1,
        expect="people of a hundred",
    )
    people_again.step(
        checks.number,
        "treated for one more, another lens",
        lambda a=before, b=factor: treated_for_one(a, b),
        100 / (before * (factor - 1)),
        unit="people",
        within=0.1,
        expect="a hundred over those who owe it to the lens",
    )
people_again.score()
### END HIDDEN TESTS

# %% [markdown] question="ring" goals="2"
# ## 5 · A ring in moons (2 points)
#
# Write a function that takes the pupil at night in **mm** and the add of a lens at the cornea in **D** and returns how many
# **moons** wide the ring around a lamp is. The moon spans 9.0 milliradians.

# %% given="ring"
ring = Draw("consultation/ring")
ring_pupil_mm = ring.pick("pupil_mm", 4.5, 7.0, step=0.1)
ring_add_d = ring.pick("add_d", 1.25, 3.00, step=0.05)
ring.tell(f"Hanneke Ruiz: pupil at night **{ring_pupil_mm:.1f} mm**, add **{ring_add_d:.2f} D**.")


# %% answer="ring" own="shared_utils.optics.retina.geometric_halo_arcmin"
def ring_moons(pupil_mm, add_d):
    ### BEGIN SOLUTION
    return pupil_mm * add_d / 9.0
    ### END SOLUTION


# %% check="ring" points=1 hide=true
checks.number(
    "ring around a lamp",
    ring_moons(ring_pupil_mm, ring_add_d),
    ring_pupil_mm * ring_add_d / 9,
    unit="moons",
    within=0.02,
    expect="pupil times add in milliradians, over the moon's nine",
    slips={
        "that is in milliradians; a moon is nine of them.": ring_pupil_mm * ring_add_d,
        "that is its radius; the width is wanted.": ring_pupil_mm * ring_add_d / 18,
        "arcmin were divided by milliradians.": ring_pupil_mm * ring_add_d * 3.438 / 9,
    },
)

# %% hidden="ring" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"${ring_pupil_mm:.1f}\\,\\text{{mm}} \\times {ring_add_d:.2f}\\,\\text{{D}} = {ring_pupil_mm * ring_add_d:.2f}$ "
    f"mrad, over 9: **{ring_pupil_mm * ring_add_d / 9:.2f} moons**."
)
for wide_mm, extra_d in HiddenDraw("consultation/ring").cases(
    ((5.0, 2.5), (4.0, 1.35), (6.0, 0.0)), by=(0.5, 0.3)
):
    checks.number(
        "ring in another eye",
        ring_moons(wide_mm, extra_d),
        wide_mm * extra_d / 9,
        unit="moons",
        within=0.02,
        expect="pupil times add, over nine",
    )
### END HIDDEN TESTS

# %% [markdown] question="read" goals="2"
# ## 6 · Read a figure: two eyes (3 points)
#
# The figure shows the acuity of both eyes with the same monofocal lens; the left is set nearer. Read where the left eye
# becomes the better one: `crossing_d`, as a **positive** number of **D** (to within 0.06 D), and `crossing_cm`, the distance
# in **cm**. Read also the acuity of the left eye at 40 cm, `left_at_40_logmar`, to within 0.05.

# %% given="read"
read = Draw("consultation/read")
read_offset_d = read.pick("offset_d", 0.75, 1.25, step=0.05)
read_pupil_mm = read.pick("pupil_mm", 2.6, 3.6, step=0.1)
monofocal = tasks.LENS_OF["monofocal"]
display(figures.two_eyes(monofocal, read_offset_d, read_pupil_mm))
read.tell(
    f"Basil Thorne, pupil **{read_pupil_mm:.1f} mm**; right eye 0.00 D, left eye **−{read_offset_d:.2f} D**."
)

# %% answer="read"
### BEGIN SOLUTION
steps_d = np.linspace(0.0, -1.5, 301)
gap = acuity_logmar(monofocal, read_pupil_mm, steps_d) - acuity_logmar(
    monofocal, read_pupil_mm, steps_d + read_offset_d
)
crossing_d = float(-steps_d[np.flatnonzero(gap > 0)[0]])
crossing_cm = 100.0 / crossing_d
left_at_40_logmar = round(acuity_logmar(monofocal, read_pupil_mm, -2.5 + read_offset_d), 2)
### END SOLUTION

# %% check="read" points=2 hide=true
fine_d = np.linspace(0.0, -1.5, 151)
right_less_left = acuity_logmar(monofocal, read_pupil_mm, fine_d) - acuity_logmar(
    monofocal, read_pupil_mm, fine_d + read_offset_d
)
cross_want_d = float(-fine_d[np.flatnonzero(right_less_left > 0)[0]])


def own_crossing_cm():
    """From the crossing that was read, right or not: a slip there costs its own step only."""
    try:
        return 100 / crossing_d
    except (NameError, TypeError, ZeroDivisionError):
        return 100 / cross_want_d


read_marks = checks.Marks(2)
read_marks.step(
    checks.number,
    "where the left eye becomes the better",
    lambda: crossing_d,
    cross_want_d,
    unit="D",
    within=0.06,
    expect="a positive number of dioptres: where the two curves cross",
    slips={
        "that is where the left eye sees best; they cross before.": read_offset_d,
        "the vergence was given with its sign; a positive number is wanted.": -cross_want_d,
    },
)
read_marks.step(
    checks.number,
    "the same as a distance",
    lambda: crossing_cm,
    own_crossing_cm(),
    unit="cm",
    within=5.0,
    expect="the reciprocal of your crossing, in centimetres",
    slips={
        "that is in metres; give centimetres.": own_crossing_cm() / 100,
        "the reciprocal was not taken.": 10_000 / own_crossing_cm(),
    },
)
read_marks.score()

# %% hidden="read" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"The curves cross at −{cross_want_d:.2f} D, about half the offset: "
    f"$100 / {cross_want_d:.2f} = {100 / cross_want_d:.0f}$ cm. At −2.5 D the left eye has "
    f"{acuity_logmar(monofocal, read_pupil_mm, -2.5 + read_offset_d):.2f} logMAR."
)
checks.number(
    "acuity of the left eye at 40 cm",
    left_at_40_logmar,
    acuity_logmar(monofocal, read_pupil_mm, -2.5 + read_offset_d),
    unit="logMAR",
    within=0.05,
    expect="the height of the left eye's curve at −2.5 D",
)
### END HIDDEN TESTS

# %% [markdown] question="plan" goals="2"
# ## 7 · Choose a plan (3 points)
#
# Plans are tuples (name, tasks clear, ring in moons, weakest reader for the hardest task left in D). Write a rule: `best_plan` takes a list of
# plans and the widest ring that the patient accepts, in moons, and returns the **name**: leave out plans with a wider ring;
# of the rest take the most tasks clear; of those that are equal, the weakest reader. `tasks_given_up` takes the same and
# returns how many tasks the patient gives up against the best plan **without** a limit on the ring.

# %% given="plan"
plan = Draw("consultation/plan")
widest_moons = plan.pick("widest", 0.30, 0.60, step=0.01)
equal_tasks = plan.pick("equal", 5, 7)
plan_names = plan.choose(
    "names",
    [("a", "b", "c", "d"), ("b", "d", "a", "c"), ("c", "a", "d", "b"), ("d", "c", "b", "a")],
)
plans = sorted(
    [
        (plan_names[0], equal_tasks, 0.0, plan.pick("weak d", 1.00, 1.25, step=0.25)),
        (plan_names[1], equal_tasks, 0.0, plan.pick("strong d", 1.50, 1.75, step=0.25)),
        (
            plan_names[2],
            equal_tasks - plan.pick("fewer", 1, 2),
            0.0,
            plan.pick("few d", 0.5, 0.75, step=0.25),
        ),
        (
            plan_names[3],
            equal_tasks + plan.pick("more", 1, 3),
            plan.pick("moons", 0.70, 1.70, step=0.05),
            plan.pick("ringed d", 0.0, 1.0, step=0.25),
        ),
    ]
)
plan.tell(
    f"Solange Abelard accepts a ring of at most **{widest_moons:.2f} moons**. Her plans: **{plans}**."
)


# %% answer="plan"
def best_plan(plans, widest_moons):
    ### BEGIN SOLUTION
    accepted = [one for one in plans if one[2] <= widest_moons]
    return max(accepted, key=lambda one: (one[1], -one[3]))[0]
    ### END SOLUTION


def tasks_given_up(plans, widest_moons):
    ### BEGIN SOLUTION
    clear = {one[0]: one[1] for one in plans}
    return max(clear.values()) - clear[best_plan(plans, widest_moons)]
    ### END SOLUTION


# %% check="plan" points=1 hide=true
given_up = plans[[one[0] for one in plans].index(plan_names[3])][1] - equal_tasks
plan_marks = checks.Marks(1)
plan_marks.step(
    checks.choice,
    "best plan",
    lambda: best_plan(plans, widest_moons),
    plan_names[0],
    options=("a", "b", "c", "d"),
    slips={
        plan_names[1]: "as many tasks are clear with another plan, and its reader is weaker.",
        plan_names[2]: "the reader is weak, but fewer tasks are clear than with another plan.",
        plan_names[3]: "its ring is wider than the patient accepts.",
    },
)
plan_marks.step(
    checks.number,
    "tasks given up",
    lambda: tasks_given_up(plans, widest_moons),
    given_up,
    unit="",
    within=0.1,
    expect="a whole number, positive: what the best plan of all would add",
    slips={"the difference was taken the other way round.": -given_up},
)
plan_marks.score()

# %% hidden="plan" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Plan {plan_names[3]} is out, its ring is too wide. {plan_names[0]} and {plan_names[1]} have {equal_tasks} tasks "
    f"clear, {plan_names[0]} with the weaker reader: **{plan_names[0]}**. Given up: {given_up}."
)
plan_again = checks.Marks(2)
plan_draw = HiddenDraw("consultation/plan")
most, fewer = plan_draw.pick("most", 9, 12), plan_draw.pick("fewer", 5, 7)
rim_moons = plan_draw.near(0.8, 0.15)  # a ring as wide as accepted
other_plans = [
    ("a", most, plan_draw.near(1.5, 0.3), 0.25),
    ("b", fewer, rim_moons, 1.0),
    ("c", fewer, 0.0, 1.25),
    ("d", fewer - 2, 0.0, 1.75),
]
fewer_clear = most - fewer
for limit_moons, name, lost in (
    (2.0, "a", 0),
    (rim_moons, "b", fewer_clear),
    (0.5, "c", fewer_clear),
    (0.0, "c", fewer_clear),
):
    plan_again.step(
        checks.choice,
        "best of other plans",
        lambda m=limit_moons: best_plan(other_plans, m),
        name,
        options=("a", "b", "c", "d"),
    )
    plan_again.step(
        checks.number,
        "tasks given up with other plans",
        lambda m=limit_moons: tasks_given_up(other_plans, m),
        lost,
        unit="",
        within=0.1,
        expect="a whole number",
    )
plan_again.score()
### END HIDDEN TESTS

# %% [markdown] question="words" goals="3"
# ## 8 · Words that a patient can read (3 points)
#
# The school grade of a text (Kincaid et al. 1975) is 0.39 times the words of a sentence, plus 11.8 times the syllables of a
# word, minus 15.59, both as means. Write two functions: `school_grade` takes the numbers of sentences, words and syllables;
# `words_a_sentence` takes a grade and the mean syllables of a word and returns the mean length of a sentence, in words, that
# just has that grade.

# %% given="words"
words = Draw("consultation/words")
text_sentences = words.pick("sentences", 8, 14)
text_words = text_sentences * words.pick("length", 11, 18) + words.pick("odd", 1, 7)
text_syllables = round(text_words * words.pick("syllables", 1.30, 1.60, step=0.01))
words.tell(
    f"A leaflet of Dr Quillon's has **{text_sentences}** sentences, **{text_words}** words and **{text_syllables}** "
    "syllables. How long may its sentences be for grade 6.0, if the words stay?"
)


# %% answer="words"
def school_grade(sentences, words, syllables):
    ### BEGIN SOLUTION
    return 0.39 * words / sentences + 11.8 * syllables / words - 15.59
    ### END SOLUTION


def words_a_sentence(grade, syllables_a_word):
    ### BEGIN SOLUTION
    return (grade + 15.59 - 11.8 * syllables_a_word) / 0.39
    ### END SOLUTION


# %% check="words" points=1 hide=true
long_sentence, long_word = text_words / text_sentences, text_syllables / text_words
words_marks = checks.Marks(1)
words_marks.step(
    checks.number,
    "school grade",
    lambda: school_grade(text_sentences, text_words, text_syllables),
    0.39 * long_sentence + 11.8 * long_word - 15.59,
    unit="",
    within=0.05,
    expect="a grade: the two means weighted, less 15.59",
    slips={
        "the two weights were exchanged.": 11.8 * long_sentence + 0.39 * long_word - 15.59,
        "15.59 was added; take it away.": 0.39 * long_sentence + 11.8 * long_word + 15.59,
        "words and sentences were exchanged in the first mean.": 0.39 / long_sentence
        + 11.8 * long_word
        - 15.59,
    },
)
words_marks.step(
    checks.number,
    "words of a sentence for grade 6",
    lambda: words_a_sentence(6.0, long_word),
    (6 + 15.59 - 11.8 * long_word) / 0.39,
    unit="words",
    within=0.1,
    expect="the formula solved for the first mean",
    slips={
        "15.59 has the wrong sign after solving.": (6 - 15.59 - 11.8 * long_word) / 0.39,
        "you multiplied by 0.39; divide.": (6 + 15.59 - 11.8 * long_word) * 0.39,
    },
)
words_marks.score()

# %% hidden="words" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"${text_words}/{text_sentences} = {long_sentence:.2f}$ words a sentence, "
    f"${text_syllables}/{text_words} = {long_word:.3f}$ syllables a word. Grade "
    f"$0.39 \\times {long_sentence:.2f} + 11.8 \\times {long_word:.3f} - 15.59 = "
    f"{0.39 * long_sentence + 11.8 * long_word - 15.59:.1f}$. For grade 6: "
    f"${(6 + 15.59 - 11.8 * long_word) / 0.39:.1f}$ words a sentence."
)
words_again = checks.Marks(2)
for lines, all_words, beats in HiddenDraw("consultation/words").cases(
    ((10, 100, 130), (5, 100, 150), (20, 160, 200)), by=[(2, 10, 12), (1, 10, 12), (3, 15, 15)]
):
    words_again.step(
        checks.number,
        "grade of another text",
        lambda a=lines, b=all_words, c=beats: school_grade(a, b, c),
        0.39 * all_words / lines + 11.8 * beats / all_words - 15.59,
        unit="",
        within=0.05,
        expect="the two means weighted, less 15.59",
    )
    words_again.step(
        checks.number,
        "length of a sentence for another text",
        lambda b=all_words, c=beats: words_a_sentence(7.0, c / b),
        (7 + 15.59 - 11.8 * beats / all_words) / 0.39,
        unit="words",
        within=0.1,
        expect="the formula solved for the first mean",
    )
words_again.score()
### END HIDDEN TESTS

# %% [markdown] question="error" goals="4"
# ## 9 · Check an order (3 points)
#
# The record is right. One line of the order is wrong. Give its number as `wrong_line`, and as `corrected` the number that should
# stand there, in the unit of that line.

# %% given="error"
error = Draw("consultation/error")
e_length_mm = error.pick("length_mm", 22.8, 24.6, step=0.01)
e_k1_d = error.pick("k1_d", 42.0, 44.5, step=0.05)
e_k2_d = round(e_k1_d + error.pick("steeper_d", 0.40, 0.70, step=0.05), 2)
e_power_d = error.pick("power_d", 18.0, 23.0, step=0.5)
e_left_d = error.choose("sign", [-1, 1]) * error.pick("left_d", 0.06, 0.17, step=0.01)
e_where = error.choose("where", [1, 2, 3, 5])
right_order = {
    1: e_length_mm,
    2: round((e_k1_d + e_k2_d) / 2, 3),
    3: 118.6,
    4: e_power_d,
    5: e_left_d,
    6: 0.0,
}
wrong_order = {1: round(e_length_mm + 0.9, 2), 2: e_k1_d, 3: 119.2, 5: -e_left_d}
sent_order = right_order | {e_where: wrong_order[e_where]}
error.tell(
    f"**Record** of Emmerich Vos, right eye: length {e_length_mm:.2f} mm, keratometry {e_k1_d:.2f} and {e_k2_d:.2f} D, "
    f"lens model with A-constant 118.6, target 0.00 D; the formula: {e_power_d:.1f} D leaves {e_left_d:+.2f} D.\n\n"
    f"**Order**\n\n"
    f"1. Axial length {sent_order[1]:.2f} mm\n"
    f"2. Mean keratometry {sent_order[2]:.3f} D\n"
    f"3. A-constant {sent_order[3]:.1f}\n"
    f"4. Power {sent_order[4]:.1f} D\n"
    f"5. Predicted refraction {sent_order[5]:+.2f} D\n"
    f"6. Target {sent_order[6]:.2f} D"
)

# %% answer="error"
### BEGIN SOLUTION
wrong_line = next(n for n in sent_order if abs(sent_order[n] - right_order[n]) > 1e-9)
corrected = right_order[wrong_line]
### END SOLUTION

# %% check="error" points=2 hide=true
error_marks = checks.Marks(2)
error_marks.step(
    checks.number,
    "the wrong line",
    lambda: wrong_line,
    e_where,
    unit="",
    within=0.1,
    expect="the number of the line that does not agree with the record",
    slips={
        "that power is the one in the record.": 4,
        "that target is the one in the record.": 6,
    },
)
error_marks.step(
    checks.number,
    "the corrected number",
    lambda: corrected,
    right_order[e_where],
    unit="",
    within=0.02,
    expect="what the record gives for that line, in the unit of that line",
    slips={"that is what the order says.": sent_order[e_where]},
)
error_marks.score()

# %% hidden="error" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Line {e_where} is wrong. "
    + {
        1: f"The record says {e_length_mm:.2f} mm; 0.9 mm are worth more than 2 D of lens.",
        2: f"$({e_k1_d:.2f} + {e_k2_d:.2f})/2 = {right_order[2]:.3f}$ D; one reading stood for the mean.",
        3: "The constant belongs to the lens model: 118.6.",
        5: f"The sign: {e_left_d:+.2f} D. Audit would count the error the wrong way round.",
    }[e_where]
)
checks.number(
    "the wrong line, asked again",
    wrong_line,
    e_where,
    unit="",
    within=0.1,
    expect="a whole number from 1 to 6",
)
### END HIDDEN TESTS

# %% [markdown] question="talk" goals="2 3"
# ## 10 · In your own words (4 points)
#
# Write what you say to Wilhelmina Oort, in at most eight short sentences that a reader of twelve years understands: which
# lens you would choose for her and why, what she sees without glasses, which glasses remain, what about lights at night, and what
# is not certain. End with the question by which you find out what she has understood.

# %% [markdown] written="talk" points=4
# ### BEGIN MARK SCHEME
# One point each:
# 1. The lens and the plan for two eyes, with her reason: no rings, for she drives at night.
# 2. What is clear without glasses and which glasses remain for which task (print: at least +1.25, comfortable about +1.75).
# 3. The price and the uncertainty in people of a hundred, gain and price together; no promise.
# 4. Plain words and short sentences, and an open question that asks back.
# ### END MARK SCHEME
# I would choose the lens with one distance and a bit more. You drive at night and do not want rings around lights. With
# this lens few people see them. We set your right eye for far, and your left eye a little closer. Without glasses you
# should see the road, the TV, a screen and your phone. For a book or a newspaper you will want glasses,
# at least +1.25, comfortable about +1.75. Of 100 people about 78 end as close to the plan as we hope; the others may want thin glasses. What will you tell your
# family tonight about this lens?
