# %% [markdown] question="start"
# # Problems {{number tasks}} · {{title tasks}}
#
# Nine problems and one written answer, 30 points, about 40 minutes. The lesson is
# [{{number tasks}} {{title tasks}}](../../lessons/{{stem tasks}}.ipynb).
#
# Run the cells from the top. Each problem gives you numbers of your own. Write your answer where it
# says `YOUR CODE HERE`, run the check below it, and read its one sentence. When you are done, save and press
# **Check my answers** below, or run `lens-course check {{number tasks}}` in a terminal.
#
# Distances are positive, as a ruler shows them; the vergence of an object is negative; readers are positive. A
# smaller logMAR is better.
#
# *All patients are invented. For learning, not for patient care: follow the lens's labelling, local
# rules and the judgement of a licensed practitioner.*

# %% given="setup"
import itertools
import math

import numpy as np
from IPython.display import display

from shared_utils.choice import tasks
from shared_utils.problems import check_button, checks
from shared_utils.problems.hidden_numbers import HiddenDraw
from shared_utils.problems.numbers import Draw, learner_id
from shared_utils.optics import lenses, through_focus
from shared_utils.show import tasks as figures

print(f"Numbers for learner: {learner_id()}")
check_button.show("tasks")

# %% [markdown] question="need" goals="1"
# ## 1 · What a task needs (3 points)
#
# Write a function that takes the distance of a task in **cm**, the height of a small x in **mm**, the reserve in
# **logMAR** and what the light costs in **logMAR** (both positive). It returns the acuity that the task needs, in
# **logMAR**. The detail that must be resolved is a fifth of the x.

# %% given="need"
need = Draw("tasks/need")
need_cm = need.pick("distance_cm", 33, 75)
need_mm = need.pick("letter_mm", 1.4, 2.6, step=0.1)
need_light, need_light_log = need.choose("light", [("dim", 0.1), ("night", 0.2)])
need.tell(
    f"Odalys Brenner reads a menu at **{need_cm} cm**, small x **{need_mm:.1f} mm**, with a reserve of **0.30**, in "
    f"**{need_light}** light, which costs **{need_light_log:.2f} logMAR**."
)


# %% answer="need" own="shared_utils.optics.acuity.logmar_of_letter"
def needed_logmar(distance_cm, letter_mm, reserve_logmar, light_logmar):
    ### BEGIN SOLUTION
    detail_arcmin = math.degrees(letter_mm / 5.0 / (10.0 * distance_cm)) * 60.0
    return math.log10(detail_arcmin) - reserve_logmar - light_logmar
    ### END SOLUTION


# %% check="need" points=1 hide=true
def needs(distance_cm, letter_mm, reserve, light):
    return math.log10(math.degrees(letter_mm / 50 / distance_cm) * 60) - reserve - light


need_want = needs(need_cm, need_mm, 0.3, need_light_log)
checks.number(
    "acuity that the menu needs",
    needed_logmar(need_cm, need_mm, 0.3, need_light_log),
    need_want,
    unit="logMAR",
    within=0.01,
    expect="the logarithm of the detail in arcmin, less the reserve, less the light",
    slips={
        "the whole x was taken; the detail is a fifth of it.": need_want + math.log10(5),
        "the reserve was added: it makes the task harder, so take it away.": need_want + 0.6,
        "the light was added: it makes the task harder, so take it away.": need_want
        + 2 * need_light_log,
        "the detail is in degrees; one has 60 arcmin.": need_want - math.log10(60),
        "centimetres and millimetres were mixed.": need_want + 1,
    },
)

# %% hidden="need" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Detail: ${need_mm:.1f}/5 = {need_mm / 5:.2f}$ mm at {10 * need_cm} mm is "
    f"${math.degrees(need_mm / 50 / need_cm) * 60:.2f}$ arcmin; its logarithm "
    f"${needs(need_cm, need_mm, 0, 0):.2f}$. Less 0.30 and {need_light_log:.2f}: "
    f"**{need_want:.2f} logMAR**."
)
need_marks = checks.Marks(2)
for far_cm, x_mm, kept, dark in HiddenDraw("tasks/need").cases(
    (
        (40, 1.5, 0.3, 0.0),
        (2000, 80.0, 0.1, 0.2),
        (300, 12.0, 0.1, 0.0),
    ),
    by=[(6, 0.3, 0.08, 0), (200, 10.0, 0.05, 0.05), (30, 2.0, 0.05, 0)],
):
    need_marks.step(
        checks.number,
        "the same function for another task",
        lambda a=far_cm, b=x_mm, c=kept, d=dark: needed_logmar(a, b, c, d),
        needs(far_cm, x_mm, kept, dark),
        unit="logMAR",
        within=0.01,
        expect="the logarithm of the detail in arcmin, less reserve and light",
    )
need_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="reader" goals="3"
# ## 2 · The weakest reader (3 points)
#
# Write a function that takes the distance of a page in **cm** and the usable depth of a lens set for far in **D**.
# It returns the **weakest** reader in **D**, the one that just makes the page clear, not the comfortable one: in steps
# of 0.25 D, rounded **up**, and 0 if none is needed.

# %% given="reader"
reader = Draw("tasks/reader")
page_cm = reader.pick("distance_cm", 33, 42)
steps_short = reader.pick("steps", 1, 6)
depth_d = round(
    100 / page_cm - 0.25 * steps_short - reader.pick("over_d", 0.03, 0.09, step=0.01), 2
)
reader.tell(
    f"Piotr Almond's lens has **{depth_d:.2f} D** of usable depth, counted from far. His page lies at "
    f"**{page_cm} cm**."
)


# %% answer="reader"
def weakest_reader_d(distance_cm, depth_d):
    ### BEGIN SOLUTION
    lacking_d = 100.0 / distance_cm - depth_d
    return max(0.0, 0.25 * math.ceil(lacking_d / 0.25 - 1e-9))
    ### END SOLUTION


# %% check="reader" points=1 hide=true
def up_to_a_quarter(power_d):
    return max(0.0, 0.25 * math.ceil(power_d / 0.25 - 1e-9))


checks.lens_power(
    "weakest reader",
    weakest_reader_d(page_cm, depth_d),
    up_to_a_quarter(100 / page_cm - depth_d),
    step_d=0.25,
    expect="demand less depth, in quarters of a dioptre, rounded up",
    slips={
        checks.slip(
            "whole-demand-lens-brings-part",
            "that is the comfortable reader, the whole demand; for the weakest the lens brings a part.",
        ): up_to_a_quarter(100 / page_cm),
        "rounded to the nearest quarter it is a little too weak; round up.": 0.25 * steps_short,
        "the depth was added; take it away from the demand.": up_to_a_quarter(
            100 / page_cm + depth_d
        ),
    },
)

# %% hidden="reader" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Demand $100 / {page_cm} = {100 / page_cm:.2f}$ D, less {depth_d:.2f} D: "
    f"${100 / page_cm - depth_d:.2f}$ D, rounded up: "
    f"**+{up_to_a_quarter(100 / page_cm - depth_d):.2f} D**."
)
reader_marks = checks.Marks(2)
# the last stays: what is lacking is a whole number of quarters already
for sheet_cm, has_d in HiddenDraw("tasks/reader").cases(
    ((40.0, 0.88), (80.0, 2.0), (33.0, 1.16), (50.0, 1.5)),
    by=[(0.5, 0.06), (3.0, 0.2), (0.4, 0.05), 0],
):
    reader_marks.step(
        checks.lens_power,
        "reader for another lens",
        lambda a=sheet_cm, b=has_d: weakest_reader_d(a, b),
        up_to_a_quarter(100 / sheet_cm - has_d),
        step_d=0.25,
        expect="demand less depth, rounded up to a quarter, never below 0",
    )
reader_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="curve" goals="1 2"
# ## 3 · A curve and five tasks (3 points)
#
# A curve is a list of pairs (vergence in **D**, acuity in **logMAR**), from far towards near; between two points go in a
# straight line. Write two functions: `acuity_at` takes a curve and a distance in **cm** and returns the acuity there;
# `how_many_clear` takes a curve and a list of pairs (distance in cm, acuity needed) and returns how many are clear.

# %% given="curve"
curve = Draw("tasks/curve")
points = [(0.0, round(curve.pick("far", -0.06, 0.04, step=0.01), 2))]
for half in range(1, 8):
    fall = curve.pick(f"fall {half}", 0.08, 0.20, step=0.01)
    points.append((-0.5 * half, round(points[-1][1] + fall, 2)))
asked_cm = curve.choose("asked_cm", [88.9, 61.5, 47.1, 38.1])
five_tasks = [
    (
        round(curve.pick(f"cm {n}", near, near + 15), 1),
        curve.pick(f"need {n}", 0.105, 0.455, step=0.01),
    )
    for n, near in enumerate((150, 90, 60, 45, 33))
]
curve.tell(
    f"The curve of Ansgar Vale's eye: **{points}**. What is his acuity at **{asked_cm} cm**? His tasks: "
    f"**{[(cm, round(need_of, 3)) for cm, need_of in five_tasks]}**."
)


# %% answer="curve"
def acuity_at(curve, distance_cm):
    ### BEGIN SOLUTION
    vergence_d = -100.0 / distance_cm
    for (far_d, far_logmar), (near_d, near_logmar) in itertools.pairwise(curve):
        if near_d <= vergence_d <= far_d:
            part = (far_d - vergence_d) / (far_d - near_d)
            return far_logmar + part * (near_logmar - far_logmar)
    return curve[-1][1]
    ### END SOLUTION


def how_many_clear(curve, tasks):
    ### BEGIN SOLUTION
    return sum(acuity_at(curve, distance_cm) <= needed for distance_cm, needed in tasks)
    ### END SOLUTION


# %% check="curve" points=1 hide=true
def along(pairs, distance_cm):
    nearer_d, logmar = zip(*((-vergence_d, at) for vergence_d, at in pairs), strict=True)
    return float(np.interp(100 / distance_cm, nearer_d, logmar))


at_point = int(200 / asked_cm)  # the tabulated point on the far side
clear_want = sum(along(points, cm) <= need_of for cm, need_of in five_tasks)
curve_marks = checks.Marks(1)
curve_marks.step(
    checks.number,
    "acuity at that distance",
    lambda: acuity_at(points, asked_cm),
    along(points, asked_cm),
    unit="logMAR",
    within=0.005,
    expect="an acuity between those of the two neighbouring points",
    slips={
        "that is the neighbour on the far side; go on in a straight line.": points[at_point][1],
        "that is the neighbour on the near side.": points[at_point + 1][1],
        "that is half-way between the neighbours; take the share of the way.": (
            points[at_point][1] + points[at_point + 1][1]
        )
        / 2,
    },
)
curve_marks.step(
    checks.number,
    "tasks that are clear",
    lambda: how_many_clear(points, five_tasks),
    clear_want,
    unit="",
    within=0.1,
    expect="a whole number from 0 to 5; clear means a smaller logMAR than needed",
    slips={"those are the ones that are not clear: smaller is better.": 5 - clear_want},
)
curve_marks.score()

# %% hidden="curve" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"{asked_cm} cm is ${-100 / asked_cm:.3f}$ D, between {points[at_point][0]:.1f} and "
    f"{points[at_point + 1][0]:.1f} D, a quarter of the way: "
    f"${points[at_point][1]:.2f} + 0.25 \\times "
    f"{points[at_point + 1][1] - points[at_point][1]:.2f} = {along(points, asked_cm):.3f}$. "
    f"Clear: **{clear_want}** of five, "
    + ", ".join(f"{cm} cm: {along(points, cm):.2f} for {need_of:.3f}" for cm, need_of in five_tasks)
    + "."
)
curve_draw = HiddenDraw("tasks/curve")
other_curve = curve_draw.near([(0.0, 0.0), (-1.0, 0.2), (-2.0, 0.1), (-3.0, 0.5)], [(0, 0.03)] * 4)
curve_again = checks.Marks(2)
# 100 cm stays: it lies on a point of the curve, the others between two
for away_cm in curve_draw.near([200.0, 100.0, 66.0, 40.0], [10.0, 0, 4.0, 3.0]):
    logmar = np.interp(100 / away_cm, [0, 1, 2, 3], [value for _, value in other_curve])
    curve_again.step(
        checks.number,
        "acuity on another curve",
        lambda d=away_cm: acuity_at(other_curve, d),
        logmar,
        unit="logMAR",
        within=0.005,
        expect="a straight line between the neighbouring points",
    )
curve_tasks = curve_draw.near(
    [(200.0, 0.05), (50.0, 0.17), (40.0, 0.2), (34.0, 0.6)], [(0, 0.02)] * 4
)
curve_again.step(
    checks.number,
    "tasks clear on another curve",
    lambda: how_many_clear(other_curve, curve_tasks),
    2,
    unit="",
    within=0.1,
    expect="a whole number",
)
curve_again.score()
### END HIDDEN TESTS

# %% [markdown] question="read" goals="2"
# ## 4 · Read a figure (3 points)
#
# The figure shows the curve of one lens. Read off how far its range reaches at **0.2 logMAR**, counted from far, as a
# positive number in **D** (`range_d`, to within 0.1 D), and how near that is in **cm** (`nearest_cm`). Read also the
# acuity at 40 cm in **logMAR** (`at_40_logmar`, to within 0.05).

# %% given="read"
read = Draw("tasks/read")
read_lens = lenses.extended_depth_smooth(
    read.pick("centre_d", 1.6, 2.8, step=0.1), 0.7, lens_sa_um=tasks.BODY_SA_UM
)
read_pupil_mm = read.pick("pupil_mm", 2.6, 3.6, step=0.1)
display(figures.one_curve(read_lens, read_pupil_mm))
read.tell(f"A generic extended-depth lens with a smooth centre, pupil **{read_pupil_mm:.1f} mm**.")

# %% answer="read"
### BEGIN SOLUTION
range_d = round(through_focus.usable_range_d(read_lens, read_pupil_mm), 2)
nearest_cm = 100.0 / range_d
at_40_logmar = round(through_focus.acuity_logmar(read_lens, read_pupil_mm, -2.5), 2)
### END SOLUTION

# %% check="read" points=2 hide=true
reach_want_d = through_focus.usable_range_d(read_lens, read_pupil_mm)


def own_nearest_cm():
    """From the range that was read, right or not: a slip there costs its own step only."""
    try:
        return 100 / range_d
    except (NameError, TypeError, ZeroDivisionError):
        return 100 / reach_want_d


read_marks = checks.Marks(2)
read_marks.step(
    checks.number,
    "range at 0.2 logMAR",
    lambda: range_d,
    reach_want_d,
    unit="D",
    within=0.1,
    expect="a positive number of dioptres, from far to where the curve crosses 0.2 logMAR",
    slips={
        "that is where the curve crosses 0.3 logMAR.": through_focus.usable_range_d(
            read_lens, read_pupil_mm, 0.3
        ),
        "that is where the curve crosses 0.1 logMAR.": through_focus.usable_range_d(
            read_lens, read_pupil_mm, 0.1
        ),
    },
)
read_marks.step(
    checks.number,
    "nearest clear distance",
    lambda: nearest_cm,
    own_nearest_cm(),
    unit="cm",
    within=1.0,
    expect="the reciprocal of your range, in centimetres",
    slips={
        "that is in metres; give centimetres.": own_nearest_cm() / 100,
        "the reciprocal was not taken.": 10_000 / own_nearest_cm(),
    },
)
read_marks.score()

# %% hidden="read" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"The curve crosses 0.2 logMAR at −{reach_want_d:.2f} D: $100 / {reach_want_d:.2f} = "
    f"{100 / reach_want_d:.0f}$ cm. At −2.5 D it passes "
    f"{through_focus.acuity_logmar(read_lens, read_pupil_mm, -2.5):.2f} logMAR."
)
checks.number(
    "acuity at 40 cm",
    at_40_logmar,
    through_focus.acuity_logmar(read_lens, read_pupil_mm, -2.5),
    unit="logMAR",
    within=0.05,
    expect="the height of the curve at −2.5 D",
)
### END HIDDEN TESTS

# %% [markdown] question="choose" goals="2 3"
# ## 5 · Choose and justify (3 points)
#
# Three tasks are told. Of `"monofocal"`, `"extended depth of focus"` and `"bifocal"`, both eyes alike and set for
# far, choose the class that leaves the **fewest of them to glasses**; if two are equal, the one that stands first here.
# Name it `my_class`. Then give as `my_reader_d` the weakest reader in **D** that makes **all** that is left clear with
# **your** class, the strongest of the weakest ones; 0 if nothing is left. Use
# `tasks.glasses_needed(tasks.LENS_OF[name], pupil_mm, 0.0, three_tasks)`.

# %% given="choose"
choose = Draw("tasks/choose")
choose_pupil_mm = choose.pick("pupil_mm", 2.6, 3.4, step=0.1)
near_cm, arm_cm, third = (
    choose.pick("near_cm", 36, 42),
    choose.pick("arm_cm", 55, 75),
    choose.choose("third", ["arm", "near", "far"]),
)
third_cm = {"arm": 62, "near": 34, "far": 300}[third]
three_tasks = [
    tasks.Task("a page", near_cm / 100, 1.5, page=True),
    tasks.Task("a screen", arm_cm / 100, 2.4, page=True),
    tasks.Task("the third", third_cm / 100, {"arm": 2.0, "near": 1.4, "far": 12.0}[third]),
]
choose.tell(
    f"Marguerite Sandoval, pupil **{choose_pupil_mm:.1f} mm**: a page at **{near_cm} cm**, a screen at "
    f"**{arm_cm} cm**, a third task at **{third_cm} cm**."
)

# %% answer="choose"
### BEGIN SOLUTION
left_over = {}
for name in ("monofocal", "extended depth of focus", "bifocal"):
    found = tasks.glasses_needed(tasks.LENS_OF[name], choose_pupil_mm, 0.0, three_tasks)
    left_over[name] = [one.reader_d for one in found if not one.clear]
my_class = min(left_over, key=lambda name: len(left_over[name]))
my_reader_d = max(left_over[my_class], default=0.0)
### END SOLUTION

# %% check="choose" points=2 hide=true
remaining = {
    name: [
        one.reader_d
        for one in tasks.glasses_needed(tasks.LENS_OF[name], choose_pupil_mm, 0.0, three_tasks)
        if not one.clear
    ]
    for name in ("monofocal", "extended depth of focus", "bifocal")
}
class_want = min(remaining, key=lambda name: len(remaining[name]))


def own_reader_d():
    """With the class that was chosen: a wrong one costs its own step only."""
    try:
        return max(remaining[my_class.strip().lower()], default=0.0)
    except (NameError, AttributeError, KeyError):
        return max(remaining[class_want], default=0.0)


choose_marks = checks.Marks(2)
choose_marks.step(
    checks.choice,
    "class that leaves fewest to glasses",
    lambda: my_class,
    class_want,
    options=tuple(remaining),
    slips={
        name: f"count again: with {name}, {len(left)} of the three need glasses."
        for name, left in remaining.items()
        if name != class_want
    },
)
choose_marks.step(
    checks.number,
    "weakest reader for what is left",
    lambda: my_reader_d,
    own_reader_d(),
    unit="D",
    within=0.05,
    expect="a power in quarters of a dioptre: the strongest of those that your class leaves",
    slips={
        checks.slip(
            "whole-demand-nearest-task-lens",
            "that is the comfortable reader, the whole demand of the nearest task; the weakest counts.",
        ): 100 / min(near_cm, third_cm),
        "these are all readers added up; one pair serves, the strongest.": own_reader_d() + 3.0,
    },
)
choose_marks.score()

# %% hidden="choose" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    "Weakest readers that remain, D: "
    + "; ".join(
        f"{name} {[f'{d:+.2f}' for d in left] or 'none'}" for name, left in remaining.items()
    )
    + f". Fewest: **{class_want}**, weakest reader {max(remaining[class_want], default=0.0):+.2f} D."
)
checks.choice("class, asked again", my_class, class_want, options=tuple(remaining))
### END HIDDEN TESTS

# %% [markdown] question="offset" goals="3"
# ## 6 · One eye for near (2 points)
#
# Both eyes have the same lens. One is set for far, the other to a **negative** target. Write two functions that take the
# target of the near eye in **D**: `best_distance_cm` returns where it sees best, in **cm**; `reader_over_d` also takes
# the distance of a page in **cm** and the depth of the lens in **D**, and returns the weakest reader that makes the page
# clear **to the near eye**, in **D**, rounded up to a quarter, 0 if none.

# %% given="offset"
offset = Draw("tasks/offset")
near_target_d = -offset.pick("offset_d", 0.50, 1.25, step=0.25)
offset_page_cm = offset.pick("page_cm", 33, 40)
# a number that leaves the wrong ways of this problem apart
demand_d = up_to_a_quarter(100 / offset_page_cm)
offset_steps = offset.choose(
    "steps",
    [
        steps
        for steps in (1, 2, 3)
        if demand_d + near_target_d not in (0.25 * (steps + 1) - n * near_target_d for n in (1, 2))
    ],
)
offset_depth_d = round(
    100 / offset_page_cm
    + near_target_d
    - 0.25 * offset_steps
    - offset.pick("over_d", 0.03, 0.09, step=0.01),
    2,
)
offset.tell(
    f"Idris Calloway's near eye is set to **{near_target_d:+.2f} D**; his lenses have **{offset_depth_d:.2f} D** of "
    f"usable depth; his page lies at **{offset_page_cm} cm**."
)


# %% answer="offset"
def best_distance_cm(target_d):
    ### BEGIN SOLUTION
    return -100.0 / target_d
    ### END SOLUTION


def reader_over_d(target_d, distance_cm, depth_d):
    ### BEGIN SOLUTION
    lacking_d = 100.0 / distance_cm + target_d - depth_d
    return max(0.0, 0.25 * math.ceil(lacking_d / 0.25 - 1e-9))
    ### END SOLUTION


# %% check="offset" points=1 hide=true
offset_marks = checks.Marks(1)
offset_marks.step(
    checks.number,
    "best distance of the near eye",
    lambda: best_distance_cm(near_target_d),
    -100 / near_target_d,
    unit="cm",
    within=0.5,
    expect="a positive distance in cm: the far point of a short-sighted eye",
    slips={
        "that is in metres; give centimetres.": -1 / near_target_d,
        "a distance before the eye is positive here.": 100 / near_target_d,
    },
)
offset_marks.step(
    checks.lens_power,
    "weakest reader for the near eye",
    lambda: reader_over_d(near_target_d, offset_page_cm, offset_depth_d),
    up_to_a_quarter(100 / offset_page_cm + near_target_d - offset_depth_d),
    step_d=0.25,
    expect="demand, less what the target brings, less the depth, rounded up",
    slips={
        "that is the comfortable reader; the weakest spends the depth of the lens as well.": up_to_a_quarter(
            100 / offset_page_cm + near_target_d
        ),
        "the target was left out: a short-sighted eye brings a part itself.": up_to_a_quarter(
            100 / offset_page_cm - offset_depth_d
        ),
        "the target was counted with the wrong sign.": up_to_a_quarter(
            100 / offset_page_cm - near_target_d - offset_depth_d
        ),
    },
)
offset_marks.score()

# %% hidden="offset" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Best at $100 / {-near_target_d:.2f} = {-100 / near_target_d:.0f}$ cm. Weakest reader: "
    f"${100 / offset_page_cm:.2f} - {-near_target_d:.2f} - {offset_depth_d:.2f} = "
    f"{100 / offset_page_cm + near_target_d - offset_depth_d:.2f}$ D, rounded up "
    f"{up_to_a_quarter(100 / offset_page_cm + near_target_d - offset_depth_d):+.2f} D."
)
other_offset = checks.Marks(1)
# the first stays: nothing is lacking, to the last hundredth
for aim_d, book_cm, reach_d in HiddenDraw("tasks/offset").cases(
    ((-1.25, 40.0, 1.25), (-0.5, 33.0, 0.9), (-1.75, 40.0, 0.6)),
    by=[0, (0.02, 0.4, 0.03), (0.02, 0.4, 0.03)],
):
    other_offset.step(
        checks.number,
        "best distance of another eye",
        lambda a=aim_d: best_distance_cm(a),
        -100 / aim_d,
        unit="cm",
        within=0.5,
        expect="a positive distance in cm",
    )
    other_offset.step(
        checks.lens_power,
        "reader for another eye",
        lambda a=aim_d, b=book_cm, c=reach_d: reader_over_d(a, b, c),
        up_to_a_quarter(100 / book_cm + aim_d - reach_d),
        step_d=0.25,
        expect="demand, less target, less depth, rounded up, never below 0",
    )
other_offset.score()
### END HIDDEN TESTS

# %% [markdown] question="pupil" goals="4"
# ## 7 · Pupil and blur (3 points)
#
# Write two functions. `blur_arcmin` takes the pupil in **mm** and the defocus in **D** (a positive number) and returns
# the width of the blur disc in **arcmin**. `widest_pupil_mm` takes the detail that a task asks for in **arcmin** and the
# defocus in **D** and returns the widest pupil in **mm** whose blur disc is **no more than twice** that detail.

# %% given="pupil"
pupil = Draw("tasks/pupil")
blur_pupil_mm = pupil.pick("pupil_mm", 2.0, 5.0, step=0.1)
blur_defocus_d = pupil.pick("defocus_d", 0.50, 1.50, step=0.05)
blur_detail_arcmin = pupil.pick("detail_arcmin", 2.0, 3.5, step=0.1)
pupil.tell(
    f"Nerys Fontaine: pupil **{blur_pupil_mm:.1f} mm**, her page **{blur_defocus_d:.2f} D** out of focus, its detail "
    f"**{blur_detail_arcmin:.1f} arcmin**."
)


# %% answer="pupil" own="shared_utils.optics.acuity.blur_circle_arcmin shared_utils.optics.acuity.blur_circle_um"
def blur_arcmin(pupil_mm, defocus_d):
    ### BEGIN SOLUTION
    return math.degrees(pupil_mm * defocus_d / 1000.0) * 60.0
    ### END SOLUTION


def widest_pupil_mm(detail_arcmin, defocus_d):
    ### BEGIN SOLUTION
    return 2.0 * detail_arcmin / blur_arcmin(1.0, defocus_d)
    ### END SOLUTION


# %% check="pupil" points=1 hide=true
def disc_arcmin(across_mm, out_d):
    return math.degrees(across_mm * out_d / 1000) * 60


pupil_marks = checks.Marks(1)
pupil_marks.step(
    checks.number,
    "blur disc",
    lambda: blur_arcmin(blur_pupil_mm, blur_defocus_d),
    disc_arcmin(blur_pupil_mm, blur_defocus_d),
    unit="arcmin",
    within=0.05,
    expect="pupil times defocus, turned from milliradians into arcmin",
    slips={
        "that is in milliradians; one is 3.44 arcmin.": blur_pupil_mm * blur_defocus_d,
        "that is its radius; the width is wanted.": disc_arcmin(blur_pupil_mm, blur_defocus_d) / 2,
        "that is in degrees; one has 60 arcmin.": disc_arcmin(blur_pupil_mm, blur_defocus_d) / 60,
    },
)
pupil_marks.step(
    checks.number,
    "widest pupil",
    lambda: widest_pupil_mm(blur_detail_arcmin, blur_defocus_d),
    2 * blur_detail_arcmin / disc_arcmin(1, blur_defocus_d),
    unit="mm",
    within=0.05,
    expect="twice the detail over the blur of each millimetre",
    slips={
        "once the detail was taken; twice is allowed.": blur_detail_arcmin
        / disc_arcmin(1, blur_defocus_d),
        "half the detail was taken; twice is allowed.": blur_detail_arcmin
        / 2
        / disc_arcmin(1, blur_defocus_d),
    },
)
pupil_marks.score()

# %% hidden="pupil" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"${blur_pupil_mm:.1f}\\,\\text{{mm}} \\times {blur_defocus_d:.2f}\\,\\text{{D}} = "
    f"{blur_pupil_mm * blur_defocus_d:.2f}$ mrad, times 3.44: "
    f"${disc_arcmin(blur_pupil_mm, blur_defocus_d):.1f}$ arcmin. Widest pupil: "
    f"$2 \\times {blur_detail_arcmin:.1f} / {disc_arcmin(1, blur_defocus_d):.2f} = "
    f"{2 * blur_detail_arcmin / disc_arcmin(1, blur_defocus_d):.1f}$ mm."
)
wide_marks = checks.Marks(2)
for across_mm, out_d, fine_arcmin in HiddenDraw("tasks/pupil").cases(
    ((4.0, 1.0, 2.0), (2.0, 2.5, 5.0), (6.0, 0.25, 1.0)), by=(0.4, 0.1, 0.2)
):
    wide_marks.step(
        checks.number,
        "blur disc of another eye",
        lambda a=across_mm, b=out_d: blur_arcmin(a, b),
        disc_arcmin(across_mm, out_d),
        unit="arcmin",
        within=0.05,
        expect="pupil times defocus in arcmin",
    )
    wide_marks.step(
        checks.number,
        "widest pupil for another task",
        lambda a=fine_arcmin, b=out_d: widest_pupil_mm(a, b),
        2 * fine_arcmin / disc_arcmin(1, out_d),
        unit="mm",
        within=0.05,
        expect="twice the detail over the blur of each millimetre",
    )
wide_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="diary" goals="2"
# ## 8 · Judge a diary (3 points)
#
# A patient wrote down a day: pairs (distance in **cm**, **minutes**). Write a function that takes such a list and the
# nearest distance in **cm** at which a lens is clear, and returns the **per cent of the minutes** for which glasses
# are needed (tasks nearer than that). A second one takes the diary and the nearest distances of two lenses, the first
# reaching less near, and returns how many **minutes** a day the second lens saves.

# %% given="diary"
diary = Draw("tasks/diary")
day = [
    (diary.pick("page cm", 34, 44), diary.pick("page min", 20, 40)),
    (diary.pick("phone cm", 33, 44), diary.pick("phone min", 20, 40)),
    (diary.pick("kitchen cm", 52, 63), diary.pick("kitchen min", 30, 60)),
    (diary.pick("screen cm", 60, 70), diary.pick("screen min", 60, 120)),
    (diary.pick("piano cm", 76, 90), diary.pick("piano min", 10, 60)),
    (diary.pick("faces cm", 120, 250), diary.pick("faces min", 60, 150)),
    (diary.pick("street cm", 500, 900), diary.pick("street min", 240, 420)),
]
single_cm, stretched_cm = diary.pick("single cm", 71, 75), diary.pick("stretched cm", 45, 51)
diary.tell(
    f"Casilda Roth's day: **{day}**. A monofocal is clear down to **{single_cm} cm**, an extended-depth lens down to "
    f"**{stretched_cm} cm**."
)


# %% answer="diary"
def minutes_with_glasses(diary, nearest_cm):
    ### BEGIN SOLUTION
    return sum(minutes for distance_cm, minutes in diary if distance_cm < nearest_cm)
    ### END SOLUTION


def with_glasses_percent(diary, nearest_cm):
    ### BEGIN SOLUTION
    return 100.0 * minutes_with_glasses(diary, nearest_cm) / sum(minutes for _, minutes in diary)
    ### END SOLUTION


def minutes_saved(diary, first_cm, second_cm):
    ### BEGIN SOLUTION
    return minutes_with_glasses(diary, first_cm) - minutes_with_glasses(diary, second_cm)
    ### END SOLUTION


# %% check="diary" points=1 hide=true
def worn(entries, nearest_cm):
    return sum(minutes for cm, minutes in entries if cm < nearest_cm)


whole_day = sum(minutes for _, minutes in day)
diary_marks = checks.Marks(1)
diary_marks.step(
    checks.number,
    "with glasses, monofocal",
    lambda: with_glasses_percent(day, single_cm),
    100 * worn(day, single_cm) / whole_day,
    unit="%",
    within=0.5,
    expect="a percentage of the minutes of the whole list",
    slips={
        "entries were counted; count their minutes.": 100
        * sum(cm < single_cm for cm, _ in day)
        / len(day),
        "those are minutes; divide by the minutes of the day, times 100.": worn(day, single_cm),
        "that is a fraction; per cent are wanted.": worn(day, single_cm) / whole_day,
    },
)
diary_marks.step(
    checks.number,
    "saved by the extended-depth lens",
    lambda: minutes_saved(day, single_cm, stretched_cm),
    worn(day, single_cm) - worn(day, stretched_cm),
    unit="min",
    within=0.5,
    expect="minutes a day, positive: those between the two nearest distances",
    slips={
        "those are the minutes that still need glasses.": worn(day, stretched_cm),
        "the lenses were exchanged.": worn(day, stretched_cm) - worn(day, single_cm),
    },
)
diary_marks.score()

# %% hidden="diary" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Monofocal: {worn(day, single_cm)} of {whole_day} minutes, "
    f"{100 * worn(day, single_cm) / whole_day:.0f} %. Extended depth: {worn(day, stretched_cm)} minutes. Saved: "
    f"**{worn(day, single_cm) - worn(day, stretched_cm)} minutes** a day, in exchange for contrast at every distance."
)
# 60 cm stays: what is done at the limit needs no glasses
other_day = HiddenDraw("tasks/diary").cases(
    [(40, 10), (60, 20), (100, 30), (600, 40)], by=[(4, 4), (0, 6), (10, 8), (50, 10)]
)
diary_again = checks.Marks(2)
for limit_cm in (50, 60, 200, 30):
    nearer = sum(minutes for place_cm, minutes in other_day if place_cm < limit_cm)
    share = 100 * nearer / sum(minutes for _, minutes in other_day)
    diary_again.step(
        checks.number,
        "with glasses on another day",
        lambda d=limit_cm: with_glasses_percent(other_day, d),
        share,
        unit="%",
        within=0.5,
        expect="a percentage of the minutes; what lies at the nearest distance is clear",
    )
diary_again.step(
    checks.number,
    "saved on another day",
    lambda: minutes_saved(other_day, 150, 50),
    other_day[1][1] + other_day[2][1],
    unit="min",
    within=0.5,
    expect="minutes a day",
)
diary_again.score()
### END HIDDEN TESTS

# %% [markdown] question="error" goals="1 3"
# ## 9 · Find the error (3 points)
#
# A colleague reckoned the need of a page and the reader for it in five steps. One step is wrong in itself; later ones may
# carry it on. Give its number as `wrong_step`, and as `corrected` the number that this step should give, in its unit.

# %% given="error"
error = Draw("tasks/error")
e_cm = error.pick("cm", 34, 48)
e_mm = error.pick("mm", 1.3, 1.9, step=0.1)
e_depth_d = error.pick("depth_d", 0.90, 1.60, step=0.05)
e_where = error.choose("where", [1, 2, 4])
step_1 = -e_cm / 100 if e_where == 1 else -100 / e_cm
step_2 = math.degrees(e_mm / (1 if e_where == 2 else 5) / (10 * e_cm)) * 60
step_3 = math.log10(step_2)
step_4 = step_3 + 0.3 if e_where == 4 else step_3 - 0.3
step_5 = abs(step_1) - e_depth_d
error.tell(
    f"A page at {e_cm} cm, small x {e_mm:.1f} mm, reserve 0.30, bright light; the lens has {e_depth_d:.2f} D of "
    f"depth.\n\n"
    f"1. Vergence of the page: {step_1:.2f} D.\n"
    f"2. Detail, a fifth of the x: {step_2:.2f} arcmin.\n"
    f"3. Its logarithm: {step_3:.2f} logMAR.\n"
    f"4. With the reserve the page needs {step_4:.2f} logMAR.\n"
    f"5. The lens lacks, before rounding: {step_5:.2f} D."
)

# %% answer="error"
### BEGIN SOLUTION
right_detail = math.degrees(e_mm / 5.0 / (10.0 * e_cm)) * 60.0
right_steps = {1: -100.0 / e_cm, 2: right_detail, 4: step_3 - 0.3}
said_steps = {1: step_1, 2: step_2, 4: step_4}
wrong_step = next(n for n in said_steps if abs(said_steps[n] - right_steps[n]) > 0.01)
corrected = right_steps[wrong_step]
### END SOLUTION

# %% check="error" points=2 hide=true
e_detail = math.degrees(e_mm / 50 / e_cm) * 60
e_right = {1: -100 / e_cm, 2: e_detail, 4: math.log10(e_detail) - 0.3}[e_where]
e_said = {1: step_1, 2: step_2, 4: step_4}[e_where]
e_unit = {1: "D", 2: "arcmin", 4: "logMAR"}[e_where]
error_marks = checks.Marks(2)
error_marks.step(
    checks.number,
    "the wrong step",
    lambda: wrong_step,
    e_where,
    unit="",
    within=0.1,
    expect="the number of the step that does not follow from what is told and from those before",
    slips={
        "that logarithm follows from the step before it.": 3,
        "that difference follows from the first step and the depth.": 5,
    },
)
error_marks.step(
    checks.number,
    "the corrected number",
    lambda: corrected,
    e_right,
    unit=e_unit,
    within=0.02,
    expect=f"what step {e_where} should give, in {e_unit}"
    if e_where == 1
    else "what that step should give",
    slips={"that is what the colleague has.": e_said},
)
error_marks.score()

# %% hidden="error" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Step {e_where} is wrong. "
    + {
        1: f"Vergence is a reciprocal: $-100 / {e_cm} = {e_right:.2f}$ D.",
        2: f"A fifth of the x counts: ${e_mm:.1f}/5$ mm at {10 * e_cm} mm is ${e_right:.2f}$ arcmin.",
        4: f"The reserve makes the task harder: ${step_3:.2f} - 0.30 = {e_right:.2f}$ logMAR.",
    }[e_where]
)
checks.number(
    "the wrong step, asked again",
    wrong_step,
    e_where,
    unit="",
    within=0.1,
    expect="a whole number from 1 to 5",
)
### END HIDDEN TESTS

# %% [markdown] question="lamp" goals="3 4"
# ## 10 · In your own words (4 points)
#
# Six weeks after the operation a patient with extended-depth lenses says: “In your room I read everything, at home in the
# evening nothing. You promised.” The refraction is 0.00 D on both sides. In four to six sentences, tell the patient why,
# what you suggest first, and which glasses you would offer.

# %% [markdown] written="lamp" points=4
# ### BEGIN MARK SCHEME
# One point each:
# 1. Dim light asks for better acuity, and the wider pupil takes depth away: both at once.
# 2. First a reading lamp, larger print, the page a little farther away; no lens exchange.
# 3. The weakest reader that does it, about +0.75 to +1.00 D, and the comfortable one, about +2.00 D, tried in the
#    patient's own light.
# 4. In words a patient can follow, honest about what was said before and about what a model cannot tell.
# ### END MARK SCHEME
# Nothing is wrong with your lenses; they are sharp from far away to arm's length. In my room the light is bright. It
# makes your pupil small, and a small pupil helps you to see close up, as a pinhole does. At home in the evening the
# pupil is wide and the print is dim, so the book falls out of your range. Please try a strong lamp beside the book
# first, and hold it a little farther away. If that is not enough, we try reading glasses in your own light: the
# weakest that will do, probably about +1, and those for a long evening, about +2. I should have told you this before the operation.
