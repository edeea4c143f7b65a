# %% [markdown] question="start"
# # Problems {{number glasses}} · {{title glasses}}
#
# Eight problems and one written answer, 30 points, about 40 minutes. The lesson is
# [{{number glasses}} {{title glasses}}](../../lessons/{{stem glasses}}.ipynb).
#
# Run the cells from the top. Each problem gives you numbers of your own. Write your answer where it
# says `YOUR CODE HERE`, run the check below it, and read its one sentence. When you are done, save and press
# **Check my answers** below, or run `lens-course check {{number glasses}}` in a terminal.
#
# In this set the entrance pupil lies 3 mm behind the cornea, glasses stand 12 mm in front of it unless the
# problem says otherwise, and prism is positive for base up.
#
# *All patients are invented. For learning, not for patient care: follow the lens's labelling, local
# rules and the judgement of a licensed practitioner.*

# %% given="setup"
import numpy as np
from IPython.display import display

from shared_utils.problems import check_button, checks
from shared_utils.problems.hidden_numbers import HiddenDraw
from shared_utils.problems.numbers import Draw, learner_id
from shared_utils.optics import spectacles, vergence
from shared_utils.show import glasses as figures

print(f"Numbers for learner: {learner_id()}")
check_button.show("glasses")

# %% [markdown] question="plane" goals="1"
# ## 1 · Measured here, worn there (3 points)
#
# The refraction of Mirela Oduya was measured at one distance from the cornea; her lens will stand at another.
# Write a function that takes the refraction in **D** and both distances from the cornea in **mm** (0 for a contact
# lens) and returns the power in **D** that does the same work at the new place.

# %% given="plane"
plane = Draw("glasses/plane")
mirela_d = plane.choose("sign", [-1, 1]) * plane.pick("power_d", 7.0, 13.0, step=0.25)
measured_mm = plane.pick("measured_mm", 12, 16)
plane.tell(
    f"Measured: **{mirela_d:+.2f} D** at **{measured_mm} mm**. Worn as a **contact lens**, at **0 mm**."
)


# %% answer="plane" own="shared_utils.optics.vergence.at_vertex shared_utils.optics.vergence.propagate"
def power_worn_d(refraction_d, measured_mm, worn_mm):
    ### BEGIN SOLUTION
    way_m = (measured_mm - worn_mm) / 1000.0
    return refraction_d / (1.0 - way_m * refraction_d)
    ### END SOLUTION


# %% check="plane" points=1 hide=true
mirela_way_m = measured_mm / 1000
checks.number(
    "power at the new place",
    power_worn_d(mirela_d, measured_mm, 0),
    vergence.at_vertex(mirela_d, measured_mm, 0),
    unit="D",
    within=0.02,
    expect="a power of the same sign; nearer to the eye a minus lens is weaker, a plus lens stronger",
    slips={
        "the way went outward: the lens moves towards the eye.": mirela_d
        / (1 + mirela_way_m * mirela_d),
        "the power was handed on as it is.": mirela_d,
        "the 3 mm to the entrance pupil belong to image size, not to power.": mirela_d
        / (1 - (mirela_way_m + 0.003) * mirela_d),
        "there is air before the cornea: the way is not divided by an index.": mirela_d
        / (1 - mirela_way_m / 1.336 * mirela_d),
    },
)

# %% hidden="plane" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Way {measured_mm} mm = {mirela_way_m:.3f} m towards the eye. "
    f"$F / (1 - dF)$ = {mirela_d:+.2f} / (1 − {mirela_way_m:.3f} × ({mirela_d:+.2f})) = "
    f"**{mirela_d / (1 - mirela_way_m * mirela_d):+.2f} D**."
)
plane_marks = checks.Marks(2)
for seen_d, from_mm, to_mm in HiddenDraw("glasses/plane").cases(
    (
        (-9.0, 14.0, 0.0),
        (11.0, 10.0, 13.0),
        (-15.0, 12.0, 8.0),
        (2.0, 12.0, 0.0),
    ),
    by=(0.8, 1.0, 1.0),
):
    plane_marks.step(
        checks.number,
        "power at another place",
        lambda f=seen_d, a=from_mm, b=to_mm: power_worn_d(f, a, b),
        vergence.at_vertex(seen_d, from_mm, to_mm),
        unit="D",
        within=0.02,
        expect="the power that gives the same vergence at the cornea, whichever way the lens moves",
    )
plane_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="size" goals="2"
# ## 2 · How much larger? (3 points)
#
# The plus glasses of Gwendal Pires are thick: the front surface adds a factor of its own to the size,
# $1 / (1 - \frac{t}{n} F_1)$, beside $1 / (1 - h F)$ with the back vertex power $F$ and the way $h$ from lens to
# entrance pupil. Write a function that takes front surface power in **D**, thickness in **mm**, index, back vertex
# power in **D** and vertex distance in **mm**, and returns the change of image size in **%**, positive for larger.

# %% given="size"
size = Draw("glasses/size")
front_surface_d = size.pick("front_d", 8.0, 11.0, step=0.5)
centre_mm = size.pick("centre_mm", 4.0, 7.0, step=0.5)
gwendal_d = size.pick("back_vertex_d", 3.5, 5.5, step=0.5)
gwendal_vertex_mm = size.pick("vertex_mm", 12, 14)
size.tell(
    f"Front surface **{front_surface_d:+.2f} D**, thickness **{centre_mm:.1f} mm**, index **1.50**, back vertex power "
    f"**{gwendal_d:+.2f} D**, vertex distance **{gwendal_vertex_mm} mm**."
)


# %% answer="size" own="shared_utils.optics.spectacles.magnification"
def size_change_percent(front_d, thickness_mm, index, back_vertex_d, vertex_mm):
    ### BEGIN SOLUTION
    shape = 1.0 / (1.0 - thickness_mm / 1000.0 / index * front_d)
    power = 1.0 / (1.0 - (vertex_mm + 3.0) / 1000.0 * back_vertex_d)
    return 100.0 * (shape * power - 1.0)
    ### END SOLUTION


# %% check="size" points=1 hide=true
gwendal_h_m = (gwendal_vertex_mm + 3) / 1000
shape_alone = 1 / (1 - centre_mm / 1500 * front_surface_d)
power_alone = 1 / (1 - gwendal_h_m * gwendal_d)
checks.number(
    "change of image size",
    size_change_percent(front_surface_d, centre_mm, 1.5, gwendal_d, gwendal_vertex_mm),
    spectacles.magnification(gwendal_d, front_surface_d, centre_mm, 1.5, gwendal_vertex_mm).percent,
    unit="%",
    within=0.1,
    expect="a change in %, positive for a plus lens: both factors multiplied, less one",
    slips={
        "the shape of the lens was left out.": 100 * (power_alone - 1),
        "only the shape was counted.": 100 * (shape_alone - 1),
        "the 3 mm from cornea to entrance pupil were left out.": 100
        * (shape_alone / (1 - gwendal_vertex_mm / 1000 * gwendal_d) - 1),
        "the thickness was not divided by the index.": 100
        * (power_alone / (1 - centre_mm / 1000 * front_surface_d) - 1),
        "that is the ratio; the change in % is ratio less one, times a hundred.": shape_alone
        * power_alone,
    },
)

# %% hidden="size" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Shape: 1 / (1 − {centre_mm / 1500:.5f} × {front_surface_d:.1f}) = {shape_alone:.4f}. Power: "
    f"1 / (1 − {gwendal_h_m:.3f} × {gwendal_d:.1f}) = {power_alone:.4f}. Product "
    f"{shape_alone * power_alone:.4f}: **{100 * (shape_alone * power_alone - 1):+.1f} %**."
)
size_marks = checks.Marks(2)
for curve_d, thick_mm, glass, worn_d, gap_mm in HiddenDraw("glasses/size").cases(
    (
        (8.0, 4.0, 1.5, 4.0, 12.0),
        (2.0, 1.5, 1.6, -6.0, 13.0),
        (0.0, 0.0, 1.5, 14.0, 0.0),
    ),
    by=(0.8, 0.4, 0.03, 0.5, 1.0),
):
    size_marks.step(
        checks.number,
        "change of size behind another lens",
        lambda a=curve_d, t=thick_mm, n=glass, f=worn_d, v=gap_mm: size_change_percent(
            a, t, n, f, v
        ),
        spectacles.magnification(worn_d, curve_d, thick_mm, glass, gap_mm).percent,
        unit="%",
        within=0.1,
        expect="both factors multiplied, less one, in %; negative for a smaller image",
    )
size_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="unequal" goals="2"
# ## 3 · Two images, two sizes (3 points)
#
# Wendeline Ashby has unequal thin glasses. Write a function that takes the right and the left lens in **D** and the
# vertex distance in **mm** and returns in **%** how much larger the right eye's image is than the left's: negative
# if it is smaller.

# %% given="unequal"
unequal = Draw("glasses/unequal")
wendeline_right_d = unequal.pick("right_d", -2.0, 2.0, step=0.25)
wendeline_left_d = wendeline_right_d + unequal.choose("sign", [-1, 1]) * unequal.pick(
    "apart_d", 4.0, 7.0, step=0.25
)
wendeline_mm = unequal.pick("vertex_mm", 11, 14)
unequal.tell(
    f"Right **{wendeline_right_d:+.2f} D**, left **{wendeline_left_d:+.2f} D**, **{wendeline_mm} mm** in front."
)


# %% answer="unequal" own="shared_utils.optics.spectacles.magnification shared_utils.optics.spectacles.aniseikonia_percent"
def right_larger_percent(right_d, left_d, vertex_mm):
    ### BEGIN SOLUTION
    h_m = (vertex_mm + 3.0) / 1000.0
    right, left = 1.0 / (1.0 - h_m * right_d), 1.0 / (1.0 - h_m * left_d)
    return 100.0 * (right / left - 1.0)
    ### END SOLUTION


# %% check="unequal" points=1 hide=true
wendeline_sizes = [
    spectacles.magnification(d, vertex_mm=wendeline_mm).total
    for d in (wendeline_right_d, wendeline_left_d)
]
wendeline_percent = spectacles.aniseikonia_percent(*wendeline_sizes)
checks.number(
    "right image larger by",
    right_larger_percent(wendeline_right_d, wendeline_left_d, wendeline_mm),
    wendeline_percent,
    unit="%",
    within=0.1,
    expect="the ratio of right to left size, less one, in %",
    slips={
        "that compares the left with the right; the question is right against left.": spectacles.aniseikonia_percent(
            *wendeline_sizes[::-1]
        ),
        "that is 2 % a dioptre, which needs 20 mm to the pupil.": 2
        * (wendeline_right_d - wendeline_left_d),
        "the 3 mm from cornea to entrance pupil were left out.": 100
        * (
            (1 - wendeline_mm / 1000 * wendeline_left_d)
            / (1 - wendeline_mm / 1000 * wendeline_right_d)
            - 1
        ),
        "that is the ratio itself; give the difference in %.": wendeline_sizes[0]
        / wendeline_sizes[1],
    },
)

# %% hidden="unequal" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"$h$ = {wendeline_mm} + 3 = {wendeline_mm + 3} mm. Right size 1 / (1 − {(wendeline_mm + 3) / 1000:.3f} × "
    f"({wendeline_right_d:+.2f})) = {wendeline_sizes[0]:.4f}, left {wendeline_sizes[1]:.4f}. Right over left "
    f"{wendeline_sizes[0] / wendeline_sizes[1]:.4f}: **{wendeline_percent:+.1f} %**."
)
unequal_marks = checks.Marks(2)
alike_d = HiddenDraw("glasses/unequal").near(-3.0, 0.6)
for one_d, two_d, gap_mm in HiddenDraw("glasses/unequal").cases(
    (
        (0.0, -9.0, 12.0),
        (5.0, 1.0, 13.0),
        (alike_d, alike_d, 12.0),
        (0.0, 13.0, 0.0),
    ),
    by=[(0, 0.8, 1.0), (0.4, 0.4, 1.0), (0, 0, 1.0), (0, 0.8, 0)],
):
    unequal_marks.step(
        checks.number,
        "difference of another pair",
        lambda a=one_d, b=two_d, v=gap_mm: right_larger_percent(a, b, v),
        spectacles.aniseikonia_percent(
            spectacles.magnification(one_d, vertex_mm=gap_mm).total,
            spectacles.magnification(two_d, vertex_mm=gap_mm).total,
        ),
        unit="%",
        within=0.1,
        expect="right size over left size, less one, in %",
    )
unequal_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="prism" goals="3"
# ## 4 · Looking down to read (3 points)
#
# Casimir Boone looks down through both lenses of his glasses. Write a function that takes the vertical powers of the
# right and the left lens in **D** and how far below the optical centres he looks in **mm**. It returns a list of three
# prisms in **Δ**, base up positive: of the right lens, of the left lens, and the imbalance, right minus left.

# %% given="prism"
prism = Draw("glasses/prism")
casimir_right_d = prism.choose("right sign", [-1, 1]) * prism.pick("right_d", 1.0, 3.0, step=0.25)
casimir_left_d = prism.choose("left sign", [-1, 1]) * prism.pick("left_d", 4.0, 7.0, step=0.25)
casimir_down_mm = prism.pick("down_mm", 7, 12)
prism.tell(
    f"Right **{casimir_right_d:+.2f} D**, left **{casimir_left_d:+.2f} D**; he looks **{casimir_down_mm} mm** below "
    "the centres."
)


# %% answer="prism" own="shared_utils.optics.spectacles.prism shared_utils.optics.spectacles.vertical_imbalance"
def prisms(right_d, left_d, down_mm):
    ### BEGIN SOLUTION
    right, left = (down_mm / 10.0 * power_d for power_d in (right_d, left_d))
    return [right, left, right - left]
    ### END SOLUTION


# %% check="prism" points=1 hide=true
def prism_answer(which, *case):
    answer = prisms(*case)
    if not isinstance(answer, (list, tuple)) or len(answer) != 3:
        raise checks.NotRight(
            f"prisms gives {answer!r:.60}. Expected: a list of three prisms in Δ."
        )
    return answer[which]


casimir = (casimir_right_d, casimir_left_d, casimir_down_mm)
casimir_prisms = [spectacles.prism(casimir_down_mm, d) for d in casimir[:2]]
prism_marks = checks.Marks(1)
for which, eye in enumerate(("right", "left")):
    prism_marks.step(
        checks.number,
        f"prism of the {eye} lens",
        lambda w=which: prism_answer(w, *casimir),
        casimir_prisms[which],
        unit="Δ",
        within=0.05,
        expect="a prism in Δ: base up, positive, below the centre of a plus lens",
        slips={
            "the sign: below its centre a plus lens is a prism with its base up.": -casimir_prisms[
                which
            ],
            "the rule wants centimetres.": 10 * casimir_prisms[which],
        },
    )
prism_marks.step(
    checks.number,
    "imbalance",
    lambda: prism_answer(2, *casimir),
    spectacles.vertical_imbalance(*casimir),
    unit="Δ",
    within=0.05,
    expect="the prism of the right lens less that of the left",
    slips={
        "the two prisms were added.": sum(casimir_prisms),
        "that is left minus right.": casimir_prisms[1] - casimir_prisms[0],
    },
)
prism_marks.score()

# %% hidden="prism" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"$P = cF$ with $c$ = {casimir_down_mm / 10:.1f} cm: right {casimir_down_mm / 10:.1f} × ({casimir_right_d:+.2f}) = "
    f"{casimir_prisms[0]:+.2f} Δ, left {casimir_prisms[1]:+.2f} Δ; imbalance **"
    f"{casimir_prisms[0] - casimir_prisms[1]:+.2f} Δ**."
)
other_marks = checks.Marks(2)
alike_d = HiddenDraw("glasses/prism").near(4.0, 0.8)
for down in HiddenDraw("glasses/prism").cases(
    ((-6.0, -3.0, 8.0), (0.0, -8.0, 8.0), (alike_d, alike_d, 10.0), (2.0, -1.0, 0.0)),
    by=[(0.5, 0.5, 1.0), (0, 0.8, 1.0), (0, 0, 1.0), (0.5, 0.3, 0)],
):
    wanted = [
        spectacles.prism(down[2], down[0]),
        spectacles.prism(down[2], down[1]),
        spectacles.vertical_imbalance(*down),
    ]
    for which, name in enumerate(("right prism", "left prism", "imbalance")):
        other_marks.step(
            checks.number,
            f"{name} of another pair",
            lambda w=which, case=down: prism_answer(w, *case),
            wanted[which],
            unit="Δ",
            within=0.05,
            expect="one of three prisms in Δ: right, left, right minus left",
        )
other_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="way" goals="2 3"
# ## 5 · Glasses or a contact lens? (3 points)
#
# The right eye of Nkechi Lorenz is operated on and needs no lens. Until the left one follows, it can wear glasses or
# a contact lens. Her clinic's rule: glasses if the images differ by at most 5 % in size **and** the lenses by at most
# 2 Δ at 8 mm below the centres; else a contact lens. Write two functions:
#
# - `contact_difference_percent` takes the left lens in glasses (12 mm) in **D** and returns how much larger, in
#   **%**, the right image is when the left eye wears the **contact lens** that does the same. First carry the power to
#   the cornea; then the contact lens is 3 mm from the entrance pupil.
# - `wear` takes the same and returns the word `glasses` or `contact lens` by the clinic's rule.

# %% given="way" hide=true
way = Draw("glasses/way")
# up to 2.50 D both limits are kept, from 2.75 to 3.25 D the prism alone is too much
nkechi_size_d = way.choose("size", [1.75, 2.0, 2.25, 2.75, 3.0, 3.25, 4.5, 5.0, 5.5, 6.0, 6.75])
nkechi_d = nkechi_size_d * way.choose("sign", [-1, 1])
way.tell(f"Left eye in glasses: **{nkechi_d:+.2f} D**, 12 mm in front.")


# %% answer="way" own="shared_utils.optics.spectacles.magnification shared_utils.optics.spectacles.aniseikonia_percent"
def contact_difference_percent(glasses_d):
    ### BEGIN SOLUTION
    contact_d = glasses_d / (1.0 - 0.012 * glasses_d)
    return 100.0 * ((1.0 - 0.003 * contact_d) - 1.0)
    ### END SOLUTION


def wear(glasses_d):
    ### BEGIN SOLUTION
    difference_percent = 100.0 * ((1.0 - 0.015 * glasses_d) - 1.0)
    imbalance = 0.8 * glasses_d
    return "glasses" if abs(difference_percent) <= 5.0 and abs(imbalance) <= 2.0 else "contact lens"
    ### END SOLUTION


# %% check="way" points=2 hide=true
nkechi_contact_d = vergence.at_vertex(nkechi_d, 12, 0)
nkechi_wears = "glasses" if abs(nkechi_d) <= 2.5 else "contact lens"
way_marks = checks.Marks(2)
way_marks.step(
    checks.number,
    "difference with the contact lens",
    lambda: contact_difference_percent(nkechi_d),
    spectacles.aniseikonia_percent(
        1.0, spectacles.magnification(nkechi_contact_d, vertex_mm=0).total
    ),
    unit="%",
    within=0.02,
    expect="right image against left in %, positive when the left eye has a minus lens; small",
    slips={
        "that is the difference in glasses, 15 mm from the entrance pupil.": -1.5 * nkechi_d,
        "the sign: a minus lens makes the left image smaller, so the right one is larger.": 0.3
        * nkechi_contact_d,
        "15 mm were used at the cornea; a contact lens is 3 mm from the entrance pupil.": -1.5
        * nkechi_contact_d,
    },
)
way_marks.step(
    checks.choice,
    "what she should wear",
    lambda: wear(nkechi_d),
    nkechi_wears,
    options=("glasses", "contact lens"),
    slips={"contact lens": "both limits are kept: work size and prism out again."}
    if nkechi_wears == "glasses"
    else {"glasses": "a limit is passed; the prism passes its own first, from 2.5 D on."},
)
way_marks.score()

# %% hidden="way" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Glasses: size 1.5 × {abs(nkechi_d):.2f} = {1.5 * abs(nkechi_d):.1f} % apart, prism 0.8 × {abs(nkechi_d):.2f} = "
    f"{0.8 * abs(nkechi_d):.1f} Δ: **{nkechi_wears}**. Contact lens: {nkechi_contact_d:+.2f} D at the cornea, right "
    f"over left 1 − 0.003 × ({nkechi_contact_d:+.2f}): **{-0.3 * nkechi_contact_d:+.2f} %**."
)
wear_marks = checks.Marks(1)
for left_d, word in HiddenDraw("glasses/way").cases(
    (
        (-8.0, "contact lens"),
        (-3.0, "contact lens"),
        (-1.0, "glasses"),
        (2.0, "glasses"),
    ),
    by=(0.25, 0),
):
    wear_marks.step(
        checks.number,
        "difference of another eye with its contact lens",
        lambda d=left_d: contact_difference_percent(d),
        -0.3 * vergence.at_vertex(left_d, 12, 0),
        unit="%",
        within=0.02,
        expect="right image against left in %, with the lens at the cornea",
    )
    wear_marks.step(
        checks.choice,
        "what another patient should wear",
        lambda d=left_d: wear(d),
        word,
        options=("glasses", "contact lens"),
    )
wear_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="curve" goals="4"
# ## 6 · Read the range of an add (4 points)
#
# The figure shows how much defocus is left at each distance when an operated eye, in focus for far and without
# accommodation, looks through the readers of Philippa Noor. A quarter dioptre goes unnoticed. Read off, and give as
# functions without arguments, in **cm**:
#
# - `nearest_cm` and `farthest_cm`: the ends of the range in which the defocus is at most 0.25 D (to within 1 cm).
#
# Then write `add_d`, which takes the two ends in **cm** and returns the add in **D**: its place in dioptres is the
# middle of the two ends **in dioptres**.

# %% given="curve" hide=true
curve = Draw("glasses/curve")
philippa_d = curve.pick("add_d", 1.6, 2.6, step=0.05)
curve_cm = np.arange(30.0, 81.0, 0.25)
curve_d = np.abs(100.0 / curve_cm - philippa_d)
display(figures.defocus_against_distance(curve_cm, curve_d))
curve.tell("Read the two distances at which the curve crosses 0.25 D.")


# %% answer="curve"
def nearest_cm():
    ### BEGIN SOLUTION
    return float(curve_cm[curve_d <= 0.25].min())
    ### END SOLUTION


def farthest_cm():
    ### BEGIN SOLUTION
    return float(curve_cm[curve_d <= 0.25].max())
    ### END SOLUTION


def add_d(nearest_cm, farthest_cm):
    ### BEGIN SOLUTION
    return (100.0 / nearest_cm + 100.0 / farthest_cm) / 2.0
    ### END SOLUTION


# %% check="curve" points=2 hide=true
philippa_near_cm, philippa_far_cm = 100 / (philippa_d + 0.25), 100 / (philippa_d - 0.25)
curve_marks = checks.Marks(2)
curve_marks.step(
    checks.number,
    "nearest clear place",
    lambda: nearest_cm(),
    philippa_near_cm,
    unit="cm",
    within=1.0,
    expect="the nearer place at which the curve crosses 0.25 D",
    slips={
        "that is where the defocus is nought; the range reaches to 0.25 D.": 100 / philippa_d,
        "that is the other end.": philippa_far_cm,
    },
)
curve_marks.step(
    checks.number,
    "farthest clear place",
    lambda: farthest_cm(),
    philippa_far_cm,
    unit="cm",
    within=1.0,
    expect="the farther place at which the curve crosses 0.25 D",
    slips={
        "that is where the defocus is nought; the range reaches to 0.25 D.": 100 / philippa_d,
        "that is read at 0.50 D; the limit is 0.25 D.": 100 / (philippa_d - 0.5),
    },
)
curve_marks.score()

# %% hidden="curve" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"The curve crosses 0.25 D at **{philippa_near_cm:.1f} cm** and **{philippa_far_cm:.1f} cm**. In dioptres "
    f"{100 / philippa_near_cm:.2f} and {100 / philippa_far_cm:.2f} D; the middle is the add, **{philippa_d:.2f} D**. "
    "The middle in centimetres would be too far away."
)
ends_marks = checks.Marks(2)
for reader_d, blur_d in HiddenDraw("glasses/curve").cases(
    ((2.6, 0.25), (1.4, 0.25), (2.9, 0.5)), by=(0.2, 0.05)
):
    ends_marks.step(
        checks.number,
        "add from other ends",
        lambda a=100 / (reader_d + blur_d), b=100 / (reader_d - blur_d): add_d(a, b),
        reader_d,
        unit="D",
        within=0.02,
        expect="the mean of the two ends in dioptres",
        slips={
            "that is one over the mean of the distances; take the mean of the dioptres.": 200
            / (100 / (reader_d + blur_d) + 100 / (reader_d - blur_d))
        },
    )
ends_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="error" goals="4"
# ## 7 · Find the error (3 points)
#
# A resident chooses an add for Jerome Vasquez, whose glasses for far are right. One of the five numbered steps holds
# an error; the steps after it follow from it and hold no new one. Write
#
# - `wrong_step`, without arguments: the number of the step, 1 to 5;
# - `corrected`, without arguments: the right value **of that step**, in its unit;
# - `clear_cm`, which takes the distance of the page in **cm** and the amplitude in **D** and returns a list of the
#   nearest and the farthest clear place in **cm** through the right add, with the whole amplitude to spend and
#   nothing for unnoticed blur.

# %% given="error" hide=true
error = Draw("glasses/error")
jerome_cm = error.pick("page_cm", 33, 45)
jerome_amplitude_d = error.pick("amplitude_d", 1.0, 2.0, step=0.1)
jerome_slip = error.choose("slip", [2, 3, 4])
told_used_d = jerome_amplitude_d if jerome_slip == 2 else jerome_amplitude_d / 2
told_add_d = 100 / jerome_cm + told_used_d if jerome_slip == 3 else 100 / jerome_cm - told_used_d
told_nearest_cm = 100 / (told_add_d + (told_used_d if jerome_slip == 4 else jerome_amplitude_d))
error.tell(
    f"Page at **{jerome_cm} cm**, amplitude **{jerome_amplitude_d:.2f} D**, half of it to stay in reserve.\n\n"
    f"1. The page asks 100 / {jerome_cm} = {100 / jerome_cm:.2f} D\n"
    f"2. Accommodation that is used for long: {told_used_d:.2f} D\n"
    f"3. Add: {told_add_d:.2f} D\n"
    f"4. Nearest clear place, all accommodation spent: {told_nearest_cm:.1f} cm\n"
    f"5. Farthest clear place, all accommodation relaxed: 100 / {told_add_d:.2f} = {100 / told_add_d:.1f} cm"
)


# %% answer="error" own="shared_utils.optics.spectacles.reading_add"
def wrong_step():
    ### BEGIN SOLUTION
    return jerome_slip
    ### END SOLUTION


def corrected():
    ### BEGIN SOLUTION
    used_d = jerome_amplitude_d / 2.0
    add = 100.0 / jerome_cm - used_d
    return [used_d, add, 100.0 / (add + jerome_amplitude_d)][jerome_slip - 2]
    ### END SOLUTION


def clear_cm(page_cm, amplitude_d):
    ### BEGIN SOLUTION
    add = 100.0 / page_cm - amplitude_d / 2.0
    return [100.0 / (add + amplitude_d), 100.0 / add]
    ### END SOLUTION


# %% check="error" points=2 hide=true
jerome_add_d = spectacles.reading_add(-jerome_cm / 100, jerome_amplitude_d)
jerome_right = (jerome_amplitude_d / 2, jerome_add_d, 100 / (jerome_add_d + jerome_amplitude_d))
jerome_told = (told_used_d, told_add_d, told_nearest_cm)
step_advice = {
    1: "step 1 holds: what a page asks is one over its distance in metres.",
    2: "step 2 holds: half of the amplitude is used.",
    3: "step 3 holds: the add gives what accommodation does not, so that is taken off.",
    4: "step 4 holds: add and whole amplitude together.",
    5: "step 5 holds: with accommodation relaxed the add alone is left.",
}
error_marks = checks.Marks(2)
error_marks.step(
    checks.number,
    "step with the error",
    lambda: wrong_step(),
    jerome_slip,
    unit="",
    within=0.1,
    expect="the number of a step, 1 to 5",
    slips={advice: step for step, advice in step_advice.items() if step != jerome_slip},
)
error_marks.step(
    checks.number,
    "right value of that step",
    lambda: corrected(),
    jerome_right[jerome_slip - 2],
    unit="cm" if jerome_slip == 4 else "D",
    within=0.1 if jerome_slip == 4 else 0.02,
    expect="the value that should stand in that step, in its unit",
    slips={"that is the value as it stands there.": jerome_told[jerome_slip - 2]},
)
error_marks.score()

# %% hidden="error" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Step {jerome_slip} holds the error. Rightly: {100 / jerome_cm:.2f} D asked, {jerome_amplitude_d / 2:.2f} D used, "
    f"add {jerome_add_d:.2f} D; nearest 100 / ({jerome_add_d:.2f} + {jerome_amplitude_d:.2f}) = {jerome_right[2]:.1f} cm; "
    f"farthest 100 / {jerome_add_d:.2f} = {100 / jerome_add_d:.1f} cm. So step {jerome_slip} should read "
    f"**{jerome_right[jerome_slip - 2]:.2f} {'cm' if jerome_slip == 4 else 'D'}**."
)
clear_marks = checks.Marks(1)
for text_cm, left_d in HiddenDraw("glasses/error").cases(
    ((40.0, 1.0), (50.0, 0.0), (33.0, 2.0)), by=(2.0, 0.3)
):
    text_add_d = spectacles.reading_add(-text_cm / 100, left_d)
    for which, place_cm in enumerate((100 / (text_add_d + left_d), 100 / text_add_d)):
        clear_marks.step(
            checks.number,
            "end of another range",
            lambda w=which, d=text_cm, a=left_d: clear_cm(d, a)[w],
            place_cm,
            unit="cm",
            within=0.2,
            expect="nearest, then farthest clear place in cm through the right add",
        )
clear_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="list" goals="2"
# ## 8 · Whom to warn? (4 points)
#
# Below are the glasses that ten patients will have between the operations on their two eyes, all 12 mm in front. The
# clinic wants to warn everybody whose two images will differ by **more than 5 %** in size. Write two functions, each
# taking the list of right lenses and the list of left lenses in **D**:
#
# - `how_many`: how many patients that is;
# - `worst`: the number of the patient with the largest difference, **counted from 1**.
#
# A difference is one whichever eye has the larger image.

# %% given="list" hide=true
listed = Draw("glasses/list")
larger_right = listed.pick("larger right", 1, 2)
larger_left = listed.pick("larger left", 3, 4)
near_pairs = [(-6.5, -3.75), (1.0, 3.75)]
strong_pairs = [(-9.0, -8.5), (-7.5, -7.5), (-8.0, -8.75), (6.0, 5.75)]
far_pairs = [(0.0, -5.0 - 0.5 * n) for n in range(larger_right)]
far_pairs += [(-4.0 - 0.5 * n, 0.0) for n in range(larger_left - 1)] + [(0.25, 7.5)]
fair_pairs = [*strong_pairs, (-0.5, 0.5)][: 10 - len(near_pairs) - len(far_pairs)]
pairs = [
    (right + shift, left + shift)
    for n, (right, left) in enumerate(far_pairs + near_pairs + fair_pairs)
    for shift in [listed.choose(f"shift {n}", [-0.25, 0.0, 0.25])]
]
turned = listed.pick("turned", 0, 9)
pairs = pairs[turned:] + pairs[:turned]
rights_d, lefts_d = [right for right, _ in pairs], [left for _, left in pairs]
listed.tell(
    "| patient | right, D | left, D |\n|---|---|---|\n"
    + "\n".join(
        f"| {n} | {right:+.2f} | {left:+.2f} |" for n, (right, left) in enumerate(pairs, start=1)
    )
    + "\n\nThe lists are `rights_d` and `lefts_d`."
)


# %% answer="list" own="shared_utils.optics.spectacles.magnification shared_utils.optics.spectacles.aniseikonia_percent"
def differences_percent(rights_d, lefts_d):
    ### BEGIN SOLUTION
    return [
        abs(100.0 * ((1.0 - 0.015 * left) / (1.0 - 0.015 * right) - 1.0))
        for right, left in zip(rights_d, lefts_d, strict=True)
    ]
    ### END SOLUTION


def how_many(rights_d, lefts_d):
    ### BEGIN SOLUTION
    return sum(difference > 5.0 for difference in differences_percent(rights_d, lefts_d))
    ### END SOLUTION


def worst(rights_d, lefts_d):
    ### BEGIN SOLUTION
    differences = differences_percent(rights_d, lefts_d)
    return differences.index(max(differences)) + 1
    ### END SOLUTION


# %% check="list" points=2 hide=true
def listed_percent(rights, lefts):
    return spectacles.aniseikonia_percent(
        spectacles.magnification(rights).total, spectacles.magnification(lefts).total
    )


listed_sizes = listed_percent(rights_d, lefts_d)
listed_worst = int(np.argmax(np.abs(listed_sizes))) + 1
list_marks = checks.Marks(2)
list_marks.step(
    checks.number,
    "patients to warn",
    lambda: how_many(rights_d, lefts_d),
    int(np.sum(np.abs(listed_sizes) > 5)),
    unit="",
    within=0.1,
    expect="a number of patients, those with more than 5 % either way",
    slips={
        "that counts only those whose right image is the larger one.": int(
            np.sum(listed_sizes > 5)
        ),
        "that counts with 2 % a dioptre; with 15 mm to the pupil it is 1.5 %.": int(
            np.sum(2 * np.abs(np.subtract(rights_d, lefts_d)) > 5)
        ),
        "that counts every patient: strong but equal lenses need no warning.": 10,
    },
)
list_marks.step(
    checks.number,
    "patient with the largest difference",
    lambda: worst(rights_d, lefts_d),
    listed_worst,
    unit="",
    within=0.1,
    expect="the number of a patient, counted from 1",
    slips={
        "patients are counted from 1, not from 0.": listed_worst - 1,
    },
)
list_marks.score()

# %% hidden="list" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    "Size of each eye 1 / (1 − 0.015 F); right over left, less one:\n\n"
    + ", ".join(f"{n}: {percent:+.1f} %" for n, percent in enumerate(listed_sizes, start=1))
    + f".\n\nMore than 5 % either way: **{int(np.sum(np.abs(listed_sizes) > 5))}** patients; the largest is patient "
    f"**{listed_worst}**."
)
ward_marks = checks.Marks(2)
for ward_rights, ward_lefts in HiddenDraw("glasses/list").cases(
    (
        ([0.0, -9.0, -2.0], [-6.0, -9.0, -1.0]),
        ([2.0, 0.0, 0.0, 5.0], [-2.0, 3.0, -3.0, 0.0]),
        ([-1.0, -12.0], [-1.0, -11.0]),
    ),
    by=[0.2, 0.2, 0.1],
):
    ward_percent = listed_percent(ward_rights, ward_lefts)
    ward_marks.step(
        checks.number,
        "patients to warn on another list",
        lambda r=ward_rights, s=ward_lefts: how_many(r, s),
        int(np.sum(np.abs(ward_percent) > 5)),
        unit="",
        within=0.1,
        expect="those with more than 5 % either way",
    )
    ward_marks.step(
        checks.number,
        "largest difference on another list",
        lambda r=ward_rights, s=ward_lefts: worst(r, s),
        int(np.argmax(np.abs(ward_percent))) + 1,
        unit="",
        within=0.1,
        expect="the number of the patient with the largest difference either way",
    )
ward_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="why" goals="1 2 3"
# ## 9 · In your own words (4 points)
#
# Both eyes of a patient have −7.00 D in glasses. You will operate on one eye, for far; the other may wait half a year. In
# three to six sentences, tell the patient what glasses with one strong lens would do between the operations, with two
# numbers, and what you suggest instead, with its power.

# %% [markdown] written="why" points=4
# ### BEGIN MARK SCHEME
# One point each:
# 1. The images differ in size: about 1.5 % a dioptre, 10 to 11 %, more than the 5 % or so that people fuse.
# 2. Looking down to read, the lens is a prism: 0.8 cm × 7 D = 5.6 Δ (8 to 10 mm below the centre), vertical, double
#    lines.
# 3. A contact lens moves with the eye and sits near the pupil: little prism, about 2 % difference of size; or the
#    second eye is operated on sooner.
# 4. Its power is that at the cornea, −7 / (1 + 0.084) = −6.46, ordered as −6.50 D, not −7.00 D.
# ### END MARK SCHEME
# With a plain lens on one side and −7.00 D on the other each eye would see well alone, but the images would differ by
# about 10 % in size, and few people fuse more than 5 %. When you look down to read, the strong lens works as a
# prism of about 5.6 Δ, so lines would stand double, one above the other. A contact lens on the waiting eye avoids both,
# since it moves with the eye and sits close to the pupil; 2 % would remain. Its power would be −6.50 D, less than in
# glasses, for at the cornea the light has spread less. Otherwise we bring the second operation forward.
