# %% [markdown] question="start"
# # Problems {{number toric}} · {{title toric}}
#
# Nine problems and one written answer, 30 points, about 40 minutes. The lesson is
# [{{number toric}} {{title toric}}](../../lessons/{{stem toric}}.ipynb).
#
# Run the cells from the top. Each problem gives you numbers of your own. Write your answer where it
# says `YOUR CODE HERE`, run the check below it, and read its one sentence. When you are done, save and press
# **Check my answers** below, or run `lens-course check {{number toric}}` in a terminal.
#
# Here an astigmatism is a list `[size, meridian]`: its size in D, 0 or more, and the **steep** meridian in degrees, above 0 and up
# to 180. On the double-angle plot $x = C\cos 2\theta$ and $y = C\sin 2\theta$, with the rule on the left. Toric
# lenses are made in cylinder steps of 0.75 D, an invented ladder.
#
# *All patients are invented. For learning, not for patient care: follow the lens's labelling, local
# rules and the judgement of a licensed practitioner.*

# %% given="setup"
import numpy as np
from matplotlib.figure import Figure

from shared_utils.problems import check_button, checks
from shared_utils.problems.hidden_numbers import HiddenDraw
from shared_utils.problems.numbers import Draw, learner_id
from shared_utils.optics.sphero_cylinder import SpheroCylinder
from shared_utils.power import toric
from shared_utils.power.biometry import Eye
from shared_utils.power.lens_steps import nearest_power
from shared_utils.show import style
from shared_utils.show.figure_with_alt import FigureWithAlt


def entry(answer, place, kind="[size, meridian]"):
    if not isinstance(answer, (list, tuple)) or len(answer) != kind.count(",") + 1:
        raise checks.NotRight(f"Your function gives {answer!r:.60}. Expected: a list {kind}.")
    return answer[place]


def steep(size_d, meridian_deg):
    return SpheroCylinder(-size_d / 2, size_d, meridian_deg)


print(f"Numbers for learner: {learner_id()}")
check_button.show("toric")

# %% [markdown] question="kerato" goals="1"
# ## 1 · From readings to astigmatism (2 points)
#
# The keratometer has measured Balthasar Ngata. Write a function that takes the first reading and the second
# reading in **D** and the meridian of the **first** in **degrees**, and returns the astigmatism as
# `[size, meridian]`. Either reading may be the steep one; the second lies at a right angle to the first.

# %% given="kerato"
kerato = Draw("toric/kerato")
mean_reading_d = kerato.pick("mean_d", 42.0, 45.5, step=0.25)
half_apart_d = kerato.choose("sign", [-1, 1]) * kerato.pick("half_apart_d", 0.4, 1.5, step=0.05)
first_reading_d = round(mean_reading_d + half_apart_d, 2)
second_reading_d = round(mean_reading_d - half_apart_d, 2)
first_meridian_deg = kerato.choose("meridian_deg", [m for m in range(2, 179) if 4 < m % 45 < 41])
kerato.tell(
    f"**{first_reading_d:.2f} D** along **{first_meridian_deg}°**, **{second_reading_d:.2f} D** "
    "along the other meridian."
)


# %% answer="kerato" own="shared_utils.power.toric.corneal_astigmatism"
def corneal_astigmatism(first_d, second_d, first_meridian_deg):
    ### BEGIN SOLUTION
    if first_d >= second_d:
        return [first_d - second_d, first_meridian_deg or 180]
    return [second_d - first_d, (first_meridian_deg + 90) % 180 or 180]
    ### END SOLUTION


# %% check="kerato" points=1 hide=true
kerato_right = toric.corneal_astigmatism(
    Eye(23.5, first_reading_d, second_reading_d, k1_axis_deg=first_meridian_deg)
)
kerato_mine = (first_reading_d, second_reading_d, first_meridian_deg)
kerato_marks = checks.Marks(1)
kerato_marks.step(
    checks.number,
    "size of the astigmatism",
    lambda: entry(corneal_astigmatism(*kerato_mine), 0),
    kerato_right.cylinder_d,
    unit="D",
    within=0.01,
    expect="steep reading less flat reading, in D",
    slips={
        "the flat reading comes first there; a size is 0 or more.": -kerato_right.cylinder_d,
        "that is half of the difference: each reading's distance from their mean.": kerato_right.cylinder_d
        / 2,
        "that is the mean of the readings.": mean_reading_d,
    },
)
kerato_marks.step(
    checks.axis,
    "steep meridian",
    lambda: entry(corneal_astigmatism(*kerato_mine), 1),
    kerato_right.axis_deg,
    within_deg=1,
    expect="the meridian of the higher reading",
    slips={
        "that is the flat meridian, of the lower reading.": kerato_right.axis_deg + 90,
        "the meridian was mirrored.": 180 - kerato_right.axis_deg,
    },
)
kerato_marks.score()

# %% hidden="kerato" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"The higher reading, {max(first_reading_d, second_reading_d):.2f} D, lies along "
    f"{kerato_right.axis_deg:.0f}°: that is the steep meridian. Size: "
    f"{max(first_reading_d, second_reading_d):.2f} − {min(first_reading_d, second_reading_d):.2f} = "
    f"{kerato_right.cylinder_d:.2f} D."
)
reading_marks = checks.Marks(1)
# the meridian 180 stays: it is written so, not as 0
for one_d, two_d, along_deg in HiddenDraw("toric/kerato").cases(
    ((43.0, 44.5, 180), (44.5, 43.0, 12), (41.25, 43.75, 100)),
    by=[(0.4, 0.4, 0), (0.4, 0.4, 8), (0.4, 0.4, 20)],
):
    truth = toric.corneal_astigmatism(Eye(23.5, one_d, two_d, k1_axis_deg=along_deg))
    reading_marks.step(
        checks.number,
        "size in another eye",
        lambda c=(one_d, two_d, along_deg): entry(corneal_astigmatism(*c), 0),
        truth.cylinder_d,
        unit="D",
        within=0.01,
        expect="steep less flat",
    )
    reading_marks.step(
        checks.axis,
        "steep meridian of another eye",
        lambda c=(one_d, two_d, along_deg): entry(corneal_astigmatism(*c), 1),
        truth.axis_deg,
        within_deg=1,
        expect="the meridian of the higher reading",
    )
reading_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="total" goals="1"
# ## 2 · The whole cornea (3 points)
#
# Only the front of Ximena Baptiste's cornea was measured. Estimate the whole with the regression of
# Abulafia & Koch, θ being the steep meridian, $x = C\cos 2\theta$, $y = C\sin 2\theta$:
#
# $$x' = 0.508 + 0.926\,x \qquad y' = 0.009 + 0.932\,y$$
#
# Write a function that takes size in **D** and steep meridian in **degrees** and returns the total as
# `[size, meridian]`. (`np.arctan2(y, x)` knows all four quadrants.)

# %% given="total"
whole = Draw("toric/total")
front_d = whole.pick("size_d", 1.0, 2.5, step=0.05)
front_deg = whole.choose(
    "meridian_deg", [*range(70, 81), *range(100, 111), *range(10, 21), *range(160, 171)]
)
whole.tell(f"The keratometer shows **{front_d:.2f} D**, steep at **{front_deg}**.")


# %% answer="total" own="shared_utils.power.toric.total_from_keratometry shared_utils.cases.toric.total_along_x"
def total_astigmatism(size_d, meridian_deg):
    ### BEGIN SOLUTION
    twice = np.radians(2 * meridian_deg)
    x_d = 0.508 + 0.926 * size_d * np.cos(twice)
    y_d = 0.009 + 0.932 * size_d * np.sin(twice)
    meridian = np.degrees(np.arctan2(y_d, x_d)) / 2 % 180
    return [float(np.hypot(x_d, y_d)), float(meridian or 180.0)]
    ### END SOLUTION


# %% check="total" points=2 hide=true
front_x_d, front_y_d = toric.double_angle(steep(front_d, front_deg))
total_right = toric.total_from_keratometry(steep(front_d, front_deg), "abulafia_koch")
total_x_d, total_y_d = toric.double_angle(total_right)
total_marks = checks.Marks(2)
total_marks.step(
    checks.number,
    "size of the total",
    lambda: entry(total_astigmatism(front_d, front_deg), 0),
    total_right.cylinder_d,
    unit="D",
    within=0.01,
    expect="less than measured with the rule, more against it, in D",
    slips={
        "that is what the keratometer shows, unchanged.": front_d,
        "x has the wrong sign: θ is the steep meridian, so with the rule is negative.": np.hypot(
            0.508 - 0.926 * front_x_d, 0.009 - 0.932 * front_y_d
        ),
        "the 0.508 was left out.": np.hypot(0.926 * front_x_d, 0.009 + 0.932 * front_y_d),
    },
)
total_marks.step(
    checks.axis,
    "steep meridian of the total",
    lambda: entry(total_astigmatism(front_d, front_deg), 1),
    total_right.axis_deg,
    within_deg=1,
    expect="half the angle of the point (x', y')",
    slips={
        "that is the measured meridian; the back turns it towards 180.": front_deg,
        "the angle of the point was not halved.": 2 * total_right.axis_deg,
    },
)
total_marks.score()

# %% hidden="total" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"$x$ = {front_d:.2f} · cos {2 * front_deg}° = {front_x_d:+.3f} D, $y$ = {front_y_d:+.3f} D. "
    f"$x'$ = 0.508 + 0.926 · ({front_x_d:+.3f}) = {total_x_d:+.3f} D, $y'$ = {total_y_d:+.3f} D. Size "
    f"$\\sqrt{{x'^2 + y'^2}}$ = {total_right.cylinder_d:.2f} D, steep at {total_right.axis_deg:.0f}."
)
regression_marks = checks.Marks(1)
# the meridians 90 and 180 stay: with the rule and against it the total stays on the axes
for shown_d, shown_deg in HiddenDraw("toric/total").cases(
    ((1.5, 90), (1.5, 180), (1.5, 45), (0.5, 130)), by=[(0.3, 0), (0.3, 0), (0.3, 10), (0.15, 10)]
):
    truth = toric.total_from_keratometry(steep(shown_d, shown_deg), "abulafia_koch")
    regression_marks.step(
        checks.number,
        "total in another eye",
        lambda c=(shown_d, shown_deg): entry(total_astigmatism(*c), 0),
        truth.cylinder_d,
        unit="D",
        within=0.01,
        expect="the length of (x', y')",
    )
    regression_marks.step(
        checks.axis,
        "steep meridian of the total in another eye",
        lambda c=(shown_d, shown_deg): entry(total_astigmatism(*c), 1),
        truth.axis_deg,
        within_deg=1,
        expect="half the angle of (x', y')",
    )
regression_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="induced" goals="1 4"
# ## 3 · What the incision made (3 points)
#
# Caspian Holloway's cornea was measured before and after. Write a function that takes both astigmatisms, before and
# after, as lists `[size, meridian]`, and returns what surgery made, as such a list: its size and the meridian that was
# **steepened**.

# %% given="induced"
incision = Draw("toric/induced")
before = [incision.pick("before_d", 1.25, 2.0, step=0.05), incision.pick("before_deg", 50, 125)]
after = [
    round(before[0] - incision.pick("drop_d", 0.25, 0.75, step=0.05), 2),
    before[1] + incision.choose("sense", [-1, 1]) * incision.pick("turn_deg", 15, 30),
]
incision.tell(
    f"Before: **{before[0]:.2f} D** steep at **{before[1]}**. After: **{after[0]:.2f} D** steep at "
    f"**{after[1]}**."
)


# %% answer="induced" own="shared_utils.power.toric.induced shared_utils.optics.sphero_cylinder.SpheroCylinder.__sub__ shared_utils.optics.sphero_cylinder.SpheroCylinder.__add__ shared_utils.optics.sphero_cylinder.SpheroCylinder._combined"
def made_by_surgery(before, after):
    ### BEGIN SOLUTION
    (x0, y0), (x1, y1) = (
        (size * np.cos(np.radians(2 * deg)), size * np.sin(np.radians(2 * deg)))
        for size, deg in (before, after)
    )
    meridian = np.degrees(np.arctan2(y1 - y0, x1 - x0)) / 2 % 180
    return [float(np.hypot(x1 - x0, y1 - y0)), float(meridian or 180.0)]
    ### END SOLUTION


# %% check="induced" points=2 hide=true
made_right = toric.induced(steep(*before), steep(*after))
made_x_d, made_y_d = toric.double_angle(made_right)


def third_side(one_d, two_d, angle_deg):
    return np.sqrt(one_d**2 + two_d**2 - 2 * one_d * two_d * np.cos(np.radians(angle_deg)))


opened_deg = after[1] - before[1]
induced_marks = checks.Marks(2)
induced_marks.step(
    checks.number,
    "size of what surgery made",
    lambda: entry(made_by_surgery(before, after), 0),
    made_right.cylinder_d,
    unit="D",
    within=0.01,
    expect="the length of the arrow from before to after, in D",
    slips={
        "the sizes were subtracted as numbers.": before[0] - after[0],
        "the angle between the arrows was not doubled.": third_side(
            before[0], after[0], opened_deg
        ),
        "the arrows were added instead of subtracted.": third_side(
            before[0], after[0], 180 - 2 * opened_deg
        ),
    },
)
induced_marks.step(
    checks.axis,
    "meridian that was steepened",
    lambda: entry(made_by_surgery(before, after), 1),
    made_right.axis_deg,
    within_deg=1,
    expect="half the angle of after minus before",
    slips={
        "that is before minus after: the meridian that was flattened.": made_right.axis_deg + 90,
        "the meridians were averaged; what surgery made is a difference.": (before[1] + after[1])
        / 2,
    },
)
induced_marks.score()

# %% hidden="induced" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"At twice the angle: after ({after[0] * np.cos(np.radians(2 * after[1])):+.3f}, "
    f"{after[0] * np.sin(np.radians(2 * after[1])):+.3f}), before "
    f"({before[0] * np.cos(np.radians(2 * before[1])):+.3f}, "
    f"{before[0] * np.sin(np.radians(2 * before[1])):+.3f}) D. The difference, ({made_x_d:+.3f}, "
    f"{made_y_d:+.3f}) D, is {made_right.cylinder_d:.2f} D, steepened along {made_right.axis_deg:.0f}°."
)
surgery_marks = checks.Marks(1)
# the second stays at 90: what surgery made lies on the same meridian or across it
for was, became in HiddenDraw("toric/induced").cases(
    (([1.5, 90], [1.1, 100]), ([1.0, 90], [0.5, 90]), ([0.75, 170], [0.75, 10])),
    by=[([0.1, 2], [0.1, 2]), ([0.2, 0], [0.1, 0]), ([0.1, 5], [0.1, 5])],
):
    truth = toric.induced(steep(*was), steep(*became))
    surgery_marks.step(
        checks.number,
        "size of what surgery made in another eye",
        lambda a=was, b=became: entry(made_by_surgery(a, b), 0),
        truth.cylinder_d,
        unit="D",
        within=0.01,
        expect="the length of the difference",
    )
    surgery_marks.step(
        checks.axis,
        "meridian that was steepened in another eye",
        lambda a=was, b=became: entry(made_by_surgery(a, b), 1),
        truth.axis_deg,
        within_deg=1,
        expect="half the angle of the difference",
    )
surgery_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="plane" goals="2"
# ## 4 · From the cornea to the lens (3 points)
#
# Write a function that takes a cylinder at the cornea in **D**, the power of the cornea in **D** and the place of the lens behind
# it in **mm**, and returns the cylinder, in **D**, that a lens needs there to do the same: the cylinder at the cornea over
# $\left(1 - \frac{d}{1.336} F\right)^2$, $d$ in metres.

# %% given="plane"
plane = Draw("toric/plane")
plane_corneal_d = plane.pick("corneal_d", 1.0, 3.5, step=0.05)
plane_power_d = plane.pick("power_d", 40.0, 46.0, step=0.25)
plane_elp_mm = plane.pick("elp_mm", 4.2, 6.2, step=0.1)
plane.tell(
    f"Marek Oyelaran: **{plane_corneal_d:.2f} D** at a cornea of **{plane_power_d:.2f} D**, lens "
    f"**{plane_elp_mm:.1f} mm** behind it."
)


# %% answer="plane" own="shared_utils.power.toric.cylinder_ratio shared_utils.power.toric.cylinder_ratio_approximate"
def cylinder_at_lens(corneal_d, cornea_power_d, elp_mm):
    ### BEGIN SOLUTION
    left = 1 - elp_mm / 1000 / 1.336 * cornea_power_d
    return corneal_d / left**2
    ### END SOLUTION


# %% check="plane" points=1 hide=true
def true_ratio(power_d, elp_mm):
    return toric.cylinder_ratio_approximate(Eye(23.5, power_d), elp_mm, corneal_index=1.3375)


plane_ratio = true_ratio(plane_power_d, plane_elp_mm)
checks.number(
    "cylinder at the lens",
    cylinder_at_lens(plane_corneal_d, plane_power_d, plane_elp_mm),
    plane_corneal_d * plane_ratio,
    unit="D",
    within=0.01,
    expect="more than at the cornea, in D",
    slips={
        "the way was taken from the lens to the cornea: towards the lens the cylinder grows.": plane_corneal_d
        / plane_ratio,
        "the share of the beam was not squared: both meridians are carried.": plane_corneal_d
        * np.sqrt(plane_ratio),
        "the index was left out: the lens lies in aqueous.": plane_corneal_d
        / (1 - plane_elp_mm / 1000 * plane_power_d) ** 2,
        "the cylinder was handed on as it is.": plane_corneal_d,
    },
)

# %% hidden="plane" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Share of the beam left at the lens: $1 - dF/n$ = 1 − {plane_elp_mm / 1000:.4f} · "
    f"{plane_power_d:.2f} / 1.336 = {1 / np.sqrt(plane_ratio):.4f}. Ratio {plane_ratio:.3f}; "
    f"{plane_corneal_d:.2f} · {plane_ratio:.3f} = {plane_corneal_d * plane_ratio:.2f} D."
)
plane_marks = checks.Marks(2)
for at_cornea_d, front_power_d, deep_mm in HiddenDraw("toric/plane").cases(
    ((1.0, 43.0, 5.0), (2.5, 39.5, 6.5), (3.0, 47.0, 4.0)), by=(0.3, 0.8, 0.3)
):
    plane_marks.step(
        checks.number,
        "cylinder at the lens in another eye",
        lambda c=(at_cornea_d, front_power_d, deep_mm): cylinder_at_lens(*c),
        at_cornea_d * true_ratio(front_power_d, deep_mm),
        unit="D",
        within=0.01,
        expect="cylinder over the share squared",
    )
plane_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="order" goals="1 2"
# ## 5 · Which lens, and which way a colleague errs (3 points)
#
# Write two functions. `lens_to_order` takes the **total** astigmatism at the cornea in **D** and the ratio of lens
# to cornea, and returns the cylinder to order in **D**: of the ladder 0.75, 1.50, 2.25 D and so on the nearest to what is
# wanted at the lens. `without_the_back` takes the steep meridian in **degrees** (within 30° of 90 or of 180) and says
# whether a colleague who plans with the keratometer alone corrects `"too much"` or `"too little"` in the average eye.

# %% given="order"
order = Draw("toric/order")
order_total_d = order.choose(
    "total_d",
    [1.95, 2.0, 2.05, 2.1, 2.15, 2.2, 2.5, 2.55, 2.65, 2.7, 2.85, 3.05, 3.1, 3.15, 3.2, 3.35],
)
order_ratio = order.choose("ratio", [1.38, 1.40, 1.42, 1.48, 1.50])
order_deg = order.choose("meridian_deg", [*range(65, 116), *range(1, 26), *range(155, 181)])
order.tell(
    f"Zuleika Ferreira: total **{order_total_d:.2f} D**, steep at **{order_deg}**, ratio "
    f"**{order_ratio:.2f}**."
)


# %% answer="order"
def lens_to_order(total_d, ratio):
    ### BEGIN SOLUTION
    return 0.75 * round(total_d * ratio / 0.75)
    ### END SOLUTION


def without_the_back(meridian_deg):
    ### BEGIN SOLUTION
    return "too much" if 60 <= meridian_deg <= 120 else "too little"
    ### END SOLUTION


# %% check="order" points=2 hide=true
ERRS = ("too much", "too little")
errs_right = "too much" if toric.rule_class(steep(1.0, order_deg)) == "with" else "too little"
errs_advice = {
    "too much": "Against the rule the back adds to what the front shows: without it too little is corrected.",
    "too little": "With the rule the back takes away from what the front shows: without it too much is corrected.",
}
order_marks = checks.Marks(2)
order_marks.step(
    checks.lens_power,
    "cylinder to order",
    lambda: lens_to_order(order_total_d, order_ratio),
    nearest_power(order_total_d * order_ratio, 0.75),
    step_d=0.75,
    expect="a rung of the ladder, at the lens, nearest to total times ratio",
    slips={
        "that is the rung for the cylinder at the cornea; carry it to the lens first.": nearest_power(
            order_total_d, 0.75
        ),
        "the total was divided by the ratio: at the lens more is needed, not less.": nearest_power(
            order_total_d / order_ratio, 0.75
        ),
    },
)
order_marks.step(
    checks.choice,
    "a plan without the back corrects",
    lambda: without_the_back(order_deg),
    errs_right,
    options=ERRS,
    slips={word: advice for word, advice in errs_advice.items() if word != errs_right},
)
order_marks.score()

# %% hidden="order" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Wanted at the lens: {order_total_d:.2f} · {order_ratio:.2f} = {order_total_d * order_ratio:.2f} D; "
    f"nearest rung {nearest_power(order_total_d * order_ratio, 0.75):.2f} D. Steep at {order_deg}: "
    f"{toric.rule_class(steep(1.0, order_deg))} the rule. The back, about 0.3 D against the rule, is "
    f"left out, so the colleague corrects {errs_right}."
)
rung_marks = checks.Marks(1)
for whole_d, over in HiddenDraw("toric/order").cases(
    ((1.0, 1.44), (1.67, 1.44), (0.4, 1.40), (4.0, 1.52)), by=(0.08, 0.02)
):
    rung_marks.step(
        checks.lens_power,
        "cylinder to order for another eye",
        lambda c=(whole_d, over): lens_to_order(*c),
        nearest_power(whole_d * over, 0.75),
        step_d=0.75,
        expect="the nearest rung at the lens",
    )
# 180 stays: it is written so, not as 0
for along_deg, word in HiddenDraw("toric/order").cases(
    (
        (90, "too much"),
        (180, "too little"),
        (115, "too much"),
        (20, "too little"),
    ),
    by=[(15, 0), 0, (3, 0), (12, 0)],
):
    rung_marks.step(
        checks.choice,
        "a plan without the back in another eye",
        lambda m=along_deg: without_the_back(m),
        word,
        options=ERRS,
    )
rung_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="turned" goals="3"
# ## 6 · The lens has turned (3 points)
#
# Write two functions. `left_after_turn` takes the corneal cylinder and the lens's cylinder at the corneal plane, both in **D**,
# and the turn in **degrees**, and returns the size of the cylinder that is left, in **D**. `nothing_gained_deg` takes the two cylinders
# and returns the turn, in **degrees**, at which as much is left as with no toric lens.

# %% given="turned"
turned = Draw("toric/turned")
turned_corneal_d = turned.pick("corneal_d", 2.0, 3.0, step=0.05)
turned_lens_d = round(turned_corneal_d - turned.pick("short_d", 0.9, 1.0, step=0.05), 2)
turned_deg = turned.choose("turn_deg", [8, 9])
turned.tell(
    f"Isaura Lindgren's cornea has **{turned_corneal_d:.2f} D**, her lens does "
    f"**{turned_lens_d:.2f} D** there and lies turned by **{turned_deg}°**."
)


# %% answer="turned" own="shared_utils.power.toric.misaligned_cylinder shared_utils.power.toric.residual"
def left_after_turn(corneal_d, lens_d, turn_deg):
    ### BEGIN SOLUTION
    twice = np.radians(2 * turn_deg)
    square = corneal_d**2 + lens_d**2 - 2 * corneal_d * lens_d * np.cos(twice)
    return float(np.sqrt(max(square, 0.0)))
    ### END SOLUTION


def nothing_gained_deg(corneal_d, lens_d):
    ### BEGIN SOLUTION
    return float(np.degrees(np.arccos(lens_d / (2 * corneal_d))) / 2)
    ### END SOLUTION


# %% check="turned" points=2 hide=true
turned_right = toric.misaligned_cylinder(turned_corneal_d, turned_lens_d, turned_deg)
even_right = np.degrees(np.arccos(turned_lens_d / (2 * turned_corneal_d))) / 2
turned_marks = checks.Marks(2)
turned_marks.step(
    checks.number,
    "cylinder that is left",
    lambda: left_after_turn(turned_corneal_d, turned_lens_d, turned_deg),
    turned_right,
    unit="D",
    within=0.01,
    expect="the third side of the triangle at twice the turn, in D",
    slips={
        "the angle was not doubled.": toric.misaligned_cylinder(
            turned_corneal_d, turned_lens_d, turned_deg / 2
        ),
        "2 C sin θ holds only if both cylinders are equal.": 2
        * turned_corneal_d
        * np.sin(np.radians(turned_deg)),
        "3.3 % per degree holds only if both cylinders are equal.": 0.033
        * turned_deg
        * turned_corneal_d,
    },
)
turned_marks.step(
    checks.number,
    "turn at which nothing is gained",
    lambda: nothing_gained_deg(turned_corneal_d, turned_lens_d),
    even_right,
    unit="degrees",
    within=0.5,
    expect="a turn of the lens, between 30 and 45 degrees here",
    slips={
        "that is the angle between the arrows; the lens has turned by half of it.": 2 * even_right,
        "30° holds only if both cylinders are equal.": 30.0,
        "the ratio is lens over twice the cornea, not the other way round.": np.degrees(
            np.arccos(turned_corneal_d / (2 * turned_lens_d))
        )
        / 2,
        "that is in radians.": np.radians(even_right),
    },
)
turned_marks.score()

# %% hidden="turned" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Left: $\\sqrt{{C_1^2 + C_2^2 - 2 C_1 C_2 \\cos 2\\theta}}$ with {turned_corneal_d:.2f}, "
    f"{turned_lens_d:.2f} D and {2 * turned_deg}° is {turned_right:.2f} D. Nothing is gained where that equals "
    f"$C_1$: $\\cos 2\\theta = C_2 / (2 C_1)$ = {turned_lens_d / (2 * turned_corneal_d):.3f}, so "
    f"$\\theta$ = {even_right:.1f}°."
)
turn_marks = checks.Marks(1)
for cornea_d, toric_d, off_deg in HiddenDraw("toric/turned").cases(
    ((2.0, 2.0, 10), (1.5, 1.0, 30), (1.0, 1.5, 0), (2.5, 2.5, 90)),
    by=[(0.3, 0.3, 4), (0.2, 0.2, 6), (0.2, 0.2, 0), (0.4, 0.4, 0)],
):
    turn_marks.step(
        checks.number,
        "cylinder that is left in another eye",
        lambda c=(cornea_d, toric_d, off_deg): left_after_turn(*c),
        toric.misaligned_cylinder(cornea_d, toric_d, off_deg),
        unit="D",
        within=0.01,
        expect="the third side of the triangle",
    )
for cornea_d, toric_d in HiddenDraw("toric/turned").cases(((2.0, 2.0), (3.0, 1.0)), by=(0.3, 0.3)):
    turn_marks.step(
        checks.number,
        "turn at which nothing is gained in another eye",
        lambda c=(cornea_d, toric_d): nothing_gained_deg(*c),
        np.degrees(np.arccos(toric_d / (2 * cornea_d))) / 2,
        unit="degrees",
        within=0.5,
        expect="a turn of the lens",
    )
turn_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="error" goals="1 2 3"
# ## 7 · Find the slip (3 points)
#
# A colleague plans a toric lens for an eye **with the rule**, steep at 90, in five steps. The lens is made to measure. **Exactly one
# step is wrong**; what comes after goes on from it. Give the number of the wrong step, the value in **D** that this step
# should have, and the right end of the plan as a list: total, cylinder at the lens, left after the turn, all in **D**.

# %% given="error"
plan = Draw("toric/error")
plan_flat_d = plan.pick("flat_d", 42.0, 44.0, step=0.25)
plan_c_d = plan.pick("astigmatism_d", 1.75, 3.0, step=0.05)
plan_ratio = plan.pick("ratio", 1.36, 1.52, step=0.02)
plan_turn_deg = plan.pick("turn_deg", 8, 14)
plan_wrong = plan.pick("wrong", 1, 5)
plan_1 = plan_c_d / 2 if plan_wrong == 1 else plan_c_d
plan_2 = 0.0 if plan_wrong == 2 else -plan_1
plan_3 = abs(0.926 * plan_2) if plan_wrong == 3 else abs(0.508 + 0.926 * plan_2)
plan_4 = plan_3 / plan_ratio if plan_wrong == 4 else plan_3 * plan_ratio
plan_5 = (1 if plan_wrong == 5 else 2) * plan_3 * np.sin(np.radians(plan_turn_deg))
plan_printed = [plan_1, plan_2, plan_3, plan_4, plan_5]
plan.tell(
    f"Flat **{plan_flat_d:.2f} D** along 180, steep **{plan_flat_d + plan_c_d:.2f} D** along 90, ratio "
    f"**{plan_ratio:.2f}**, later turned by **{plan_turn_deg}°**.\n\n"
    f"1. keratometric astigmatism = {plan_1:.3f} D\n"
    f"2. x = C cos 2θ, θ the steep meridian = {plan_2:+.3f} D\n"
    f"3. total = size of 0.508 + 0.926 x = {plan_3:.3f} D\n"
    f"4. cylinder at the lens, from total and ratio = {plan_4:.3f} D\n"
    f"5. left at the cornea after the turn, lens and total equal there = {plan_5:.3f} D".replace(
        "-", "−"
    )
)


# %% answer="error"
def wrong_step():
    ### BEGIN SOLUTION
    return plan_wrong
    ### END SOLUTION


def value_it_should_have():
    ### BEGIN SOLUTION
    total = abs(0.508 - 0.926 * plan_c_d)
    left = 2 * total * np.sin(np.radians(plan_turn_deg))
    return [plan_c_d, -plan_c_d, total, total * plan_ratio, left][plan_wrong - 1]
    ### END SOLUTION


def right_end():
    ### BEGIN SOLUTION
    total = abs(0.508 - 0.926 * plan_c_d)
    return [total, total * plan_ratio, 2 * total * np.sin(np.radians(plan_turn_deg))]
    ### END SOLUTION


# %% check="error" points=2 hide=true
plan_total_d = abs(0.508 - 0.926 * plan_c_d)
plan_left_d = toric.misaligned_cylinder(plan_total_d, plan_total_d, plan_turn_deg)
plan_right = [plan_c_d, -plan_c_d, plan_total_d, plan_total_d * plan_ratio, plan_left_d]
plan_step_right = plan_right[plan_wrong - 1]
plan_marks = checks.Marks(2)
plan_marks.step(
    checks.number,
    "number of the wrong step",
    wrong_step,
    plan_wrong,
    unit="",
    within=0.1,
    expect="a whole number from 1 to 5: the first step that does not follow from what stands above it",
)
plan_marks.step(
    checks.number,
    "value that this step should have",
    value_it_should_have,
    plan_step_right,
    unit="D",
    within=0.02,
    expect="the step reckoned anew, in D",
    slips={
        "that is the value as it stands there.": plan_printed[plan_wrong - 1],
        "that is twice the right value.": 2 * plan_step_right,
        "that is what the step starts from, not what it leads to.": [
            plan_flat_d + plan_c_d,
            plan_c_d,
            -plan_c_d,
            plan_total_d,
            plan_total_d * plan_ratio,
        ][plan_wrong - 1],
    },
)
plan_marks.score()

# %% hidden="error" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Step {plan_wrong}: "
    + (
        "the difference of the readings was halved",
        "the angle was not doubled: cos 180° is −1, cos 90° is 0",
        "the 0.508 was left out",
        "from cornea to lens you multiply by the ratio",
        "the 2 of 2 C sin θ was left out",
    )[plan_wrong - 1]
    + f". It should be {plan_step_right:+.3f} D. The right end: total {plan_total_d:.3f} D, at the lens "
    f"{plan_total_d * plan_ratio:.3f} D, left after the turn {plan_left_d:.3f} D."
)
end_marks = checks.Marks(1)
for place, (what, end_d) in enumerate(
    (
        ("total", plan_total_d),
        ("cylinder at the lens", plan_total_d * plan_ratio),
        ("left after the turn", plan_left_d),
    )
):
    end_marks.step(
        checks.number,
        what,
        lambda p=place: entry(right_end(), p, "[total, at the lens, left]"),
        end_d,
        unit="D",
        within=0.03,
        expect="the plan with every step right, in D",
    )
end_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="plot" goals="4"
# ## 8 · Read a double-angle plot (3 points)
#
# The plot shows prediction errors of fourteen eyes and their centroid, the cross. `read_centroid` takes nothing and returns
# what you read as a list `[x, y]` in **D**, with signs; a tenth is near enough. `as_astigmatism` turns any such point into
# `[size, meridian]`.

# %% given="plot"
double = Draw("toric/plot")
centre_x_d = double.choose("side", [-1, 1]) * double.pick("x_d", 0.5, 0.8, step=0.05)
centre_y_d = double.choose("height", [-1, 1]) * double.pick("y_d", 0.15, 0.3, step=0.05)
eyes_xy_d = np.array(
    [
        [
            double.pick(f"eye_x_{n}", -0.6, 0.6, step=0.05),
            double.pick(f"eye_y_{n}", -0.6, 0.6, step=0.05),
        ]
        for n in range(14)
    ]
)
eyes_xy_d += [centre_x_d, centre_y_d] - eyes_xy_d.mean(axis=0)
with style.applied():
    double_figure = Figure(figsize=(6.0, 5.2), dpi=style.DPI, layout="constrained")
    double_axes = double_figure.add_subplot()
    double_axes.plot(*eyes_xy_d.T, "o", color=style.BLUE, markersize=6)
    double_axes.plot([centre_x_d], [centre_y_d], "X", color=style.VERMILION, markersize=13)
    double_axes.set(
        xlim=(-1.8, 1.8),
        ylim=(-1.5, 1.5),
        aspect="equal",
        xticks=np.arange(-1.5, 1.6, 0.5),
        yticks=np.arange(-1.5, 1.6, 0.5),
        xlabel="x = C cos 2θ, D",
        ylabel="y = C sin 2θ, D",
        title=f"errors of 14 eyes, learner {learner_id()}",
    )
    double_axes.set_xticks(np.arange(-1.7, 1.75, 0.1), minor=True)
    double_axes.set_yticks(np.arange(-1.5, 1.55, 0.1), minor=True)
    double_axes.grid(color="#cccccc")
    double_axes.grid(which="minor", color="#eeeeee", linewidth=0.5)
FigureWithAlt(
    double_figure,
    f"Double-angle plot of 14 eyes; the cross of the centroid stands at x = {centre_x_d:+.2f} D, "
    f"y = {centre_y_d:+.2f} D.",
)


# %% answer="plot" own="shared_utils.power.toric.from_double_angle shared_utils.optics.sphero_cylinder.SpheroCylinder.from_power_vector.__func__"
def read_centroid():
    ### BEGIN SOLUTION
    return [centre_x_d, centre_y_d]
    ### END SOLUTION


def as_astigmatism(x_d, y_d):
    ### BEGIN SOLUTION
    meridian = np.degrees(np.arctan2(y_d, x_d)) / 2 % 180
    return [float(np.hypot(x_d, y_d)), float(meridian or 180.0)]
    ### END SOLUTION


# %% check="plot" points=2 hide=true
POINT = "[x, y]"
cross_right = toric.from_double_angle(centre_x_d, centre_y_d)
plot_marks = checks.Marks(2)
plot_marks.step(
    checks.number,
    "x of the centroid",
    lambda: entry(read_centroid(), 0, POINT),
    centre_x_d,
    unit="D",
    within=0.1,
    expect="the cross's place along the horizontal, right is positive",
    slips={
        "x: left and right were mixed; the right is positive.": -centre_x_d,
        "x and y were exchanged: that is the height of the cross.": centre_y_d,
    },
)
plot_marks.step(
    checks.number,
    "y of the centroid",
    lambda: entry(read_centroid(), 1, POINT),
    centre_y_d,
    unit="D",
    within=0.1,
    expect="the cross's height, up is positive",
    slips={
        "y: up and down were mixed; up is positive.": -centre_y_d,
        "y and x were exchanged: that is the cross's place along the horizontal.": centre_x_d,
    },
)
plot_marks.step(
    checks.number,
    "size of the centroid at x = −0.60, y = +0.25 D",
    lambda: entry(as_astigmatism(-0.60, 0.25), 0),
    0.65,
    unit="D",
    within=0.01,
    expect="the distance from the middle of the plot, in D",
    slips={
        "x and y were added as numbers; they are the sides of a right angle.": 0.85,
        "that is half of it: on this plot the arrow is as long as the cylinder.": 0.325,
    },
)
plot_marks.step(
    checks.axis,
    "steep meridian of that point",
    lambda: entry(as_astigmatism(-0.60, 0.25), 1),
    toric.from_double_angle(-0.60, 0.25).axis_deg,
    within_deg=1,
    expect="half the angle at which the point lies",
    slips={
        "the angle was not halved.": 2 * toric.from_double_angle(-0.60, 0.25).axis_deg,
        "arctan of y / x does not know left from right; use arctan2.": toric.from_double_angle(
            0.60, -0.25
        ).axis_deg,
    },
)
plot_marks.score()

# %% hidden="plot" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"The cross stands at $x$ = {centre_x_d:+.2f}, $y$ = {centre_y_d:+.2f} D. Size "
    f"$\\sqrt{{x^2 + y^2}}$ = {cross_right.cylinder_d:.2f} D, meridian half of "
    f"{2 * cross_right.axis_deg:.0f}°: steep at {cross_right.axis_deg:.0f}, "
    f"{toric.rule_class(cross_right)} the rule."
)
point_marks = checks.Marks(1)
for along_d, up_d in HiddenDraw("toric/plot").cases(
    ((0.5, 0.0), (0.0, 0.8), (-0.3, -0.4), (-1.0, 0.0), (0.6, -0.25)), by=(0.15, 0.15)
):
    truth = toric.from_double_angle(along_d, up_d)
    point_marks.step(
        checks.number,
        "size of another point",
        lambda c=(along_d, up_d): entry(as_astigmatism(*c), 0),
        truth.cylinder_d,
        unit="D",
        within=0.01,
        expect="the distance from the middle",
    )
    point_marks.step(
        checks.axis,
        "steep meridian of another point",
        lambda c=(along_d, up_d): entry(as_astigmatism(*c), 1),
        truth.axis_deg,
        within_deg=1,
        expect="half the angle of the point",
    )
point_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="series" goals="4"
# ## 9 · Two surgeons, one question (3 points)
#
# Two surgeons have eight eyes each; the lists say what their incisions made. Write two functions. `centroid` takes a list
# of astigmatisms `[size, meridian]` and returns their centroid as such a list. `larger_mean_effect` takes two series and says
# whose **mean effect**, the size of the centroid, is the larger: `"first"` or `"second"`. That surgeon has something to put
# into the next plan.

# %% given="series"
surgeons = Draw("toric/series")
steady_eyes = [
    [
        surgeons.pick(f"steady_d_{n}", 0.25, 0.45, step=0.05),
        (180 + turn + surgeons.pick(f"steady_deg_{n}", -2, 2) - 1) % 180 + 1,
    ]
    for n, turn in enumerate((-24, -18, -11, -4, 5, 12, 19, 25))
]
random_eyes = [
    [
        surgeons.pick(f"random_d_{n}", 0.6, 0.8, step=0.05),
        (place + surgeons.pick(f"random_deg_{n}", -3, 3) - 1) % 180 + 1,
    ]
    for n, place in enumerate((6, 97, 28, 120, 51, 140, 72, 165))
]
steady_first = surgeons.choose("steady_first", [True, False])
first_eyes, second_eyes = (steady_eyes, random_eyes) if steady_first else (random_eyes, steady_eyes)
surgeons.tell(
    "\n\n".join(
        f"**{name}**: " + "; ".join(f"{size:.2f} at {meridian}" for size, meridian in eyes)
        for name, eyes in (("First surgeon", first_eyes), ("Second surgeon", second_eyes))
    )
)


# %% answer="series" own="shared_utils.power.toric.double_angle_statistics"
def centroid(eyes):
    ### BEGIN SOLUTION
    size_d, meridian_deg = np.array(eyes, float).T
    twice = np.radians(2 * meridian_deg)
    x_d, y_d = np.mean(size_d * np.cos(twice)), np.mean(size_d * np.sin(twice))
    meridian = np.degrees(np.arctan2(y_d, x_d)) / 2 % 180
    return [float(np.hypot(x_d, y_d)), float(meridian or 180.0)]
    ### END SOLUTION


def larger_mean_effect(first, second):
    ### BEGIN SOLUTION
    return "first" if centroid(first)[0] > centroid(second)[0] else "second"
    ### END SOLUTION


# %% check="series" points=2 hide=true
def true_centroid(eyes):
    size_d, meridian_deg = np.transpose(eyes).astype(float)
    return toric.double_angle_statistics(steep(size_d, meridian_deg)).centroid


steady_right = true_centroid(steady_eyes)
random_right = true_centroid(random_eyes)
series_right = "first" if steady_first else "second"
series_marks = checks.Marks(2)
series_marks.step(
    checks.number,
    "centroid of the series with the smaller sizes: its size",
    lambda: entry(centroid(steady_eyes), 0),
    steady_right.cylinder_d,
    unit="D",
    within=0.01,
    expect="the length of the mean arrow, smaller than the mean of the sizes, in D",
    slips={
        "that is the mean of the sizes.": np.mean([size for size, _ in steady_eyes]),
        "the angles were not doubled.": np.hypot(
            np.mean([size * np.cos(np.radians(deg)) for size, deg in steady_eyes]),
            np.mean([size * np.sin(np.radians(deg)) for size, deg in steady_eyes]),
        ),
        "that is half of it: here the arrow is as long as the cylinder.": steady_right.cylinder_d
        / 2,
    },
)
series_marks.step(
    checks.axis,
    "centroid of that series: its meridian",
    lambda: entry(centroid(steady_eyes), 1),
    steady_right.axis_deg,
    within_deg=1.5,
    expect="a meridian near 180, where all eight lie",
    slips={
        "the meridians were averaged as numbers; 2 and 178 are neighbours.": np.mean(
            [deg for _, deg in steady_eyes]
        ),
    },
)
series_marks.step(
    checks.choice,
    "surgeon with the larger mean effect",
    lambda: larger_mean_effect(first_eyes, second_eyes),
    series_right,
    options=("first", "second"),
    slips={
        "second"
        if steady_first
        else "first": "That series has the larger sizes, but its arrows point "
        "everywhere and cancel."
    },
)
series_marks.score()

# %% hidden="series" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Mean of $x$ and of $y$ for each series. The {series_right} surgeon's centroid is "
    f"{steady_right.cylinder_d:.2f} D at {steady_right.axis_deg:.0f}, though the sizes average only "
    f"{np.mean([size for size, _ in steady_eyes]):.2f} D. The other's sizes average "
    f"{np.mean([size for size, _ in random_eyes]):.2f} D, but the centroid is "
    f"{random_right.cylinder_d:.2f} D."
)
group_marks = checks.Marks(1)
for group in HiddenDraw("toric/series").cases(
    (
        [[1.0, 10], [1.0, 170], [1.0, 180]],
        [[0.5, 90], [0.5, 180], [0.25, 45]],
        [[0.4, 85], [0.3, 95], [0.6, 100], [0.2, 70]],
    ),
    by=[[(0.1, 4), (0.1, 4), (0.1, 0)], [(0.08, 5), (0.08, 0), (0.08, 5)], [(0.08, 5)] * 4],
):
    truth = true_centroid(group)
    group_marks.step(
        checks.number,
        "size of another centroid",
        lambda g=group: entry(centroid(g), 0),
        truth.cylinder_d,
        unit="D",
        within=0.01,
        expect="the length of the mean arrow",
    )
    group_marks.step(
        checks.axis,
        "meridian of another centroid",
        lambda g=group: entry(centroid(g), 1),
        truth.axis_deg,
        within_deg=1.5,
        expect="half the angle of the mean arrow",
    )
two_series = HiddenDraw("toric/series").near(
    ([[0.9, 5], [0.9, 95], [0.9, 50]], [[0.4, 90], [0.4, 91], [0.4, 89]]), [[(0.03, 1)] * 3] * 2
)
group_marks.step(
    checks.choice,
    "larger mean effect of two other series",
    lambda: larger_mean_effect(*two_series),
    "second",
    options=("first", "second"),
)
group_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="why" goals="1 3"
# ## 10 · In your own words (4 points)
#
# A colleague says: “Both my patients have 1.25 D on the keratometer, one at 90, one at 180. Both get the same toric lens. And
# if it turns by ten degrees, that is ten parts of ninety: nobody will notice.” In four to seven sentences, tell them what is wrong.

# %% [markdown] written="why" points=4
# ### BEGIN MARK SCHEME
# One point each:
# 1. The back of the cornea is not measured by a keratometer; on average it is steep vertically and, as a minus
#    surface, adds about 0.3 D against the rule.
# 2. So the eye at 90 needs less than 1.25 D and the eye at 180 more (by regression about 0.65 and 1.67 D): different lenses.
# 3. What is left after a turn is 2 C sin θ: at 10° about 35 %, not 11 %.
# 4. The remainder stands at a new axis, about 45° off; at 30° nothing is gained. (The spherical equivalent stays.)
# ### END MARK SCHEME
# A keratometer sees only the front and takes for granted that the back follows. On average the back is steep vertically, and because
# it is a minus surface it adds about 0.3 D against the rule. The eye that is steep at 90 therefore has less than 1.25 D in
# all, the eye that is steep at 180 has more; a regression expects 0.65 and 1.67 D. They need different lenses. A turn of ten degrees opens the
# arrows by twenty: 2 C sin 10° is 35 % of the cylinder, and it stands near 45° from the marks. At thirty degrees
# all is lost.
