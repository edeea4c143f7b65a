# %% [markdown] question="start"
# # Problems {{number difficult_eyes}} · {{title difficult_eyes}}
#
# Nine problems and one written answer, 30 points, about 40 minutes. The lesson is
# [{{number difficult_eyes}} {{title difficult_eyes}}](../../lessons/{{stem difficult_eyes}}.ipynb).
#
# Run the cells from the top. Each problem gives you numbers of your own. Write your answer where it
# says `YOUR CODE HERE`, run the check below it, and read its one sentence. When you are done, save and press
# **Check my answers** below, or run `lens-course check {{number difficult_eyes}}` in a terminal.
#
# Refractions are at the spectacle plane, 12 mm in front of the cornea, unless it says otherwise; myopia is
# negative. K is the keratometer's, 337.5 / radius in mm. You may use `numpy as np` and `math`.
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
from shared_utils.power import after_laser, long_eyes, pseudophakia, secondary
from shared_utils.power.biometry import Eye
from shared_utils.power.lens_constants import LensConstants
from shared_utils.power.formulas import iol_power, predicted_refraction
from shared_utils.power.lens_steps import nearest_power
from shared_utils.show import difficult_eyes as figures

print(f"Numbers for learner: {learner_id()}")
check_button.show("difficult_eyes")

# %% [markdown] question="position" goals="1"
# ## 1 · A lens in the wrong place (3 points)
#
# Iolanthe Brix has a short eye. Write a function that takes the axial length in **mm**, the power of the cornea in
# **D**, the place of the lens behind the cornea in **mm** and its power in **D**, and returns the refraction at the
# spectacle plane in **D**. Index 1.336 throughout. Go backwards from the retina: the vergence that the lens must
# hand on, less the lens, carried forward to the cornea, less the cornea, carried to the spectacles.

# %% given="position"
position = Draw("difficult_eyes/position")
short_mm = position.pick("length_mm", 20.2, 21.4, step=0.05)
cornea_d = position.pick("cornea_d", 43.0, 45.5, step=0.25)
planned_mm = position.pick("planned_mm", 4.4, 4.8, step=0.05)
behind_mm = position.pick("behind_mm", 0.30, 0.60, step=0.05)
short_lens_d = 1336 / (short_mm - planned_mm) - 1336 / (1336 / cornea_d - planned_mm)
short_lens_d = round(short_lens_d, 2)
position.tell(
    f"Axial length **{short_mm:.2f} mm**, cornea **{cornea_d:.2f} D**. At {planned_mm:.2f} mm a lens of "
    f"**{short_lens_d:.2f} D** would leave no refraction. It comes to lie **{planned_mm + behind_mm:.2f} mm** "
    "behind the cornea."
)


# %% answer="position" own="shared_utils.power.pseudophakia.pseudophakic_refraction"
def refraction_d(length_mm, cornea_d, lens_mm, lens_d):
    ### BEGIN SOLUTION
    before_lens_d = 1336.0 / (length_mm - lens_mm) - lens_d
    behind_cornea_d = before_lens_d / (1.0 + lens_mm * before_lens_d / 1336.0)
    at_cornea_d = behind_cornea_d - cornea_d
    return at_cornea_d / (1.0 + 0.012 * at_cornea_d)
    ### END SOLUTION


# %% check="position" points=2 hide=true
def exact_refraction_d(length_mm, cornea_d, lens_mm, lens_d):
    return pseudophakia.pseudophakic_refraction(
        length_mm, cornea_d, lens_mm, lens_d, retinal_thickness_mm=0.0
    )


there_mm = planned_mm + behind_mm
wanted_at_lens_d = 1336 / (short_mm - there_mm) - short_lens_d
checks.number(
    "refraction that is left",
    refraction_d(short_mm, cornea_d, there_mm, short_lens_d),
    exact_refraction_d(short_mm, cornea_d, there_mm, short_lens_d),
    unit="D",
    within=0.02,
    expect="a refraction at the spectacle plane, hyperopic because the lens lies too far back",
    slips={
        "the lens was moved towards the cornea instead of towards the retina.": exact_refraction_d(
            short_mm, cornea_d, planned_mm - behind_mm, short_lens_d
        ),
        "the way from the lens to the cornea was left out.": wanted_at_lens_d - cornea_d,
        "that is the error at the lens's place; carry the vergence to the cornea first.": wanted_at_lens_d
        - cornea_d / (1 - there_mm * cornea_d / 1336),
        "the place of the lens was not taken off the axial length.": exact_refraction_d(
            short_mm + there_mm, cornea_d, there_mm, short_lens_d
        ),
    },
)

# %% hidden="position" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"After the lens: 1336 / ({short_mm:.2f} − {there_mm:.2f}) mm = "
    f"{1336 / (short_mm - there_mm):.3f} D. Before it: − {short_lens_d:.2f} D = {wanted_at_lens_d:.3f} D.\n\n"
    f"Behind the cornea: $V / (1 + d V / 1336)$ = "
    f"{wanted_at_lens_d / (1 + there_mm * wanted_at_lens_d / 1336):.3f} D; less {cornea_d:.2f} D: the "
    f"refraction at the cornea. At the spectacles "
    f"**{exact_refraction_d(short_mm, cornea_d, there_mm, short_lens_d):+.2f} D**, hyperopic."
)
place_marks = checks.Marks(1)
for globe_mm, front_d, seat_mm, glass_d in HiddenDraw("difficult_eyes/position").cases(
    (
        (23.5, 43.0, 5.0, 21.0),
        (27.0, 42.0, 5.6, 8.0),
        (24.0, 43.5, 4.0, 25.0),
    ),
    by=(0.6, 0.8, 0.3, 1.0),
):
    place_marks.step(
        checks.number,
        "the same function for another eye",
        lambda a=globe_mm, k=front_d, d=seat_mm, p=glass_d: refraction_d(a, k, d, p),
        exact_refraction_d(globe_mm, front_d, seat_mm, glass_d),
        unit="D",
        within=0.02,
        expect="a refraction at the spectacle plane, myopia negative",
    )
place_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="long" goals="2"
# ## 2 · A long eye, adjusted (3 points)
#
# Casimir Dove has a long eye. A published adjustment is a straight line, slope × length + offset, for eyes
# **longer than** a threshold; all others stay as measured. Write a function that takes the measured length in
# **mm**, the slope, the offset in **mm** and the threshold in **mm**, and returns the length to use in **mm**.

# %% given="long"
long = Draw("difficult_eyes/long")
measured_mm = long.pick("length_mm", 26.2, 31.8, step=0.01)
LINES_2011 = {"holladay_1": (0.8289, 4.2663, 25.0), "srk_t": (0.8544, 3.7222, 25.0)}
long.tell(
    f"His eye measures **{measured_mm:.2f} mm**. The lens is to be found with Holladay 1; its line of 2011 has slope "
    "**0.8289**, offset **4.2663 mm**, threshold **25.0 mm**. (SRK/T's line has 0.8544 and 3.7222 mm.)"
)


# %% answer="long" own="shared_utils.power.long_eyes.adjusted_length shared_utils.power.long_eyes.adjusted_eye shared_utils.cases.difficult_eyes.added_length"
def length_to_use_mm(length_mm, slope, offset_mm, threshold_mm):
    ### BEGIN SOLUTION
    if length_mm > threshold_mm:
        return slope * length_mm + offset_mm
    return length_mm
    ### END SOLUTION


# %% check="long" points=1 hide=true
once_mm = long_eyes.adjusted_length(measured_mm, "holladay_1")
checks.number(
    "length to use in Holladay 1",
    length_to_use_mm(measured_mm, *LINES_2011["holladay_1"]),
    once_mm,
    unit="mm",
    within=0.005,
    expect="a length in mm, a little shorter than measured",
    slips={
        "it was adjusted twice.": 0.8289 * once_mm + 4.2663,
        "that is the measured length: this eye is longer than the threshold.": measured_mm,
        "that is SRK/T's line; each formula has its own.": 0.8544 * measured_mm + 3.7222,
        "only what lies beyond the threshold was multiplied.": 25.0 + 0.8289 * (measured_mm - 25.0),
        "the offset was left out.": 0.8289 * measured_mm,
    },
)

# %% hidden="long" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"{measured_mm:.2f} mm is longer than 25.0 mm, so the line holds:\n\n"
    f"0.8289 · {measured_mm:.2f} mm + 4.2663 mm = **{once_mm:.3f} mm**, once, and for Holladay 1 alone."
)
length_marks = checks.Marks(2)
# 25.0 mm stays, and the next hundredth: the threshold itself is not yet above it
for globe_mm in HiddenDraw("difficult_eyes/long").cases(
    (22.0, 25.0, 25.01, 30.0), by=[0.8, 0, 0, 0.8]
):
    for formula, line in LINES_2011.items():
        length_marks.step(
            checks.number,
            "the same function for another eye or line",
            lambda a=globe_mm, straight=line: length_to_use_mm(a, *straight),
            long_eyes.adjusted_length(globe_mm, formula),
            unit="mm",
            within=0.005,
            expect="as measured up to the threshold itself, the line above it",
        )
length_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="steep" goals="1"
# ## 3 · Does SRK/T hold here? (3 points)
#
# Philippa Orlov has a long eye and a steep cornea. SRK/T finds the height of the corneal cap as
# $R - \sqrt{R^2 - W^2/4}$, with radius $R = 337.5 / K$ and width $W = -5.41 + 0.58412\,L_c + 0.098\,K$ (mm);
# above 24.2 mm $L_c = -3.446 + 1.716\,L - 0.0237\,L^2$, below it $L_c = L$. Write a function that takes the length
# in **mm** and K in **D** and returns what stands under the root, in **mm²**. Then say whether the height is real in
# her eye: a function without arguments that returns `"yes"` or `"no"`.

# %% given="steep"
steep = Draw("difficult_eyes/steep")
steep_k_d, steep_mm = steep.choose(
    "eye",
    [(k / 4, a / 10) for k in range(186, 192) for a in range(252, 262)]
    + [(k / 4, a / 10) for k in range(198, 204) for a in range(262, 278)],
)
steep.tell(f"Axial length **{steep_mm:.1f} mm**, K **{steep_k_d:.2f} D**.")


# %% answer="steep" own="shared_utils.power.thin_lens.srk_t shared_utils.power.formulas.steps shared_utils.power.formulas.trace_power shared_utils.power.formulas.trace_refraction"
def under_the_root_mm2(length_mm, k_d):
    ### BEGIN SOLUTION
    radius_mm = 337.5 / k_d
    corrected_mm = length_mm
    if length_mm > 24.2:
        corrected_mm = -3.446 + 1.716 * length_mm - 0.0237 * length_mm**2
    width_mm = -5.41 + 0.58412 * corrected_mm + 0.098 * k_d
    return radius_mm**2 - width_mm**2 / 4.0
    ### END SOLUTION


def height_is_real():
    ### BEGIN SOLUTION
    return "yes" if under_the_root_mm2(steep_mm, steep_k_d) >= 0 else "no"
    ### END SOLUTION


# %% check="steep" points=2 hide=true
def cap_mm2(length_mm, k_d, *, corrected=True, quarter=0.25, radius_scale=337.5):
    curved = -3.446 + 1.716 * length_mm - 0.0237 * length_mm**2
    width_mm = (
        -5.41 + 0.58412 * (curved if corrected and length_mm > 24.2 else length_mm) + 0.098 * k_d
    )
    return (radius_scale / k_d) ** 2 - quarter * width_mm**2


her_root_mm2 = cap_mm2(steep_mm, steep_k_d)
steep_marks = checks.Marks(2)
steep_marks.step(
    checks.number,
    "what stands under the root",
    lambda: under_the_root_mm2(steep_mm, steep_k_d),
    her_root_mm2,
    unit="mm²",
    within=0.05,
    expect="R² − W²/4 in mm², which may be negative",
    slips={
        "above 24.2 mm the width takes the corrected length.": cap_mm2(
            steep_mm, steep_k_d, corrected=False
        ),
        "the width was not halved: its square is divided by 4.": cap_mm2(
            steep_mm, steep_k_d, quarter=1.0
        ),
        "the width's square was divided by 2; half of the width squared is W²/4.": cap_mm2(
            steep_mm, steep_k_d, quarter=0.5
        ),
        "the radius is 337.5 / K; 333 belongs to the optics.": cap_mm2(
            steep_mm, steep_k_d, radius_scale=333.0
        ),
    },
)
steep_marks.step(
    checks.choice,
    "the height is real",
    height_is_real,
    "yes" if her_root_mm2 >= 0 else "no",
    options=("yes", "no"),
    slips={
        "no"
        if her_root_mm2 >= 0
        else "yes": "A root is real if what stands under it is not negative."
    },
)
steep_marks.score()

# %% hidden="steep" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"$R$ = 337.5 / {steep_k_d:.2f} = {337.5 / steep_k_d:.3f} mm; $L_c$ = "
    f"{-3.446 + 1.716 * steep_mm - 0.0237 * steep_mm**2:.3f} mm; $W$ = "
    f"{2 * math.sqrt((337.5 / steep_k_d) ** 2 - her_root_mm2):.3f} mm.\n\n"
    f"$R^2 - W^2/4$ = **{her_root_mm2:+.2f} mm²**: the height is "
    f"**{'real' if her_root_mm2 >= 0 else 'not real'}**"
    f"{', but near the edge.' if her_root_mm2 >= 0 else '; use a formula without such a cap, and say so.'}"
)
root_marks = checks.Marks(1)
# 24.2 mm stays: the longest eye whose length is not corrected
for globe_mm, curve_d in HiddenDraw("difficult_eyes/steep").cases(
    ((23.5, 43.5), (24.2, 44.0), (28.0, 42.0), (30.0, 48.0)),
    by=[(0.4, 0.8), (0, 0.8), (0.8, 0.8), (0.8, 0.8)],
):
    root_marks.step(
        checks.number,
        "the same function for another eye",
        lambda a=globe_mm, k=curve_d: under_the_root_mm2(a, k),
        cap_mm2(globe_mm, curve_d),
        unit="mm²",
        within=0.05,
        expect="R² − W²/4 in mm², with the measured length up to 24.2 mm",
    )
root_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="history" goals="3"
# ## 4 · K by history (2 points)
#
# Dragomir Fenn had laser surgery. Write a function that takes K before the laser in **D** and the spectacle
# refractions before it and after it in **D**, and returns the K of today in **D**, at the keratometer's scale, by his
# history. Vertex distance 12 mm for both refractions.

# %% given="history"
history = Draw("difficult_eyes/history")
before_k_d = history.pick("k_d", 42.0, 45.5, step=0.25)
before_d = -history.pick("before_d", 5.0, 9.0, step=0.25)
after_d = -history.pick("after_d", 0.5, 1.0, step=0.25)
history.tell(
    f"K before **{before_k_d:.2f} D**; refraction before **{before_d:+.2f} D**, after **{after_d:+.2f} D**."
)


# %% answer="history" own="shared_utils.power.after_laser.clinical_history_k shared_utils.power.after_laser.treated_refraction"
def k_by_history_d(k_before_d, refraction_before_d, refraction_after_d):
    ### BEGIN SOLUTION
    before_d = refraction_before_d / (1.0 - 0.012 * refraction_before_d)
    after_d = refraction_after_d / (1.0 - 0.012 * refraction_after_d)
    return k_before_d + before_d - after_d
    ### END SOLUTION


# %% check="history" points=1 hide=true
treated_d = after_laser.treated_refraction(before_d, after_d)
checks.number(
    "K by history",
    k_by_history_d(before_k_d, before_d, after_d),
    after_laser.clinical_history_k(before_k_d, before_d, after_d),
    unit="D",
    within=0.02,
    expect="a K lower than before: a myopic treatment flattens the cornea",
    slips={
        "the refractions were taken as they are at the spectacles; carry each to the cornea.": before_k_d
        + before_d
        - after_d,
        "the sign: a myopic treatment takes away from K.": before_k_d - treated_d,
        "the refractions were carried the wrong way, from the cornea to the spectacles.": before_k_d
        + before_d / (1 + 0.012 * before_d)
        - after_d / (1 + 0.012 * after_d),
        "the refraction after was added; the laser treated the difference.": before_k_d
        + before_d / (1 - 0.012 * before_d)
        + after_d / (1 - 0.012 * after_d),
    },
)

# %% hidden="history" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"At the cornea, $R / (1 - 0.012 R)$: before {before_d / (1 - 0.012 * before_d):+.3f} D, after "
    f"{after_d / (1 - 0.012 * after_d):+.3f} D; treated {treated_d:+.3f} D.\n\n"
    f"K: {before_k_d:.2f} D + ({treated_d:+.3f} D) = **{before_k_d + treated_d:.2f} D**."
)
past_marks = checks.Marks(1)
for old_k_d, first_d, then_d in HiddenDraw("difficult_eyes/history").cases(
    ((44.0, -10.0, 0.0), (41.5, 4.0, 0.5), (43.0, -3.0, 0.75)), by=(0.8, 0.5, 0.2)
):
    past_marks.step(
        checks.number,
        "the same function for another history",
        lambda k=old_k_d, b=first_d, a=then_d: k_by_history_d(k, b, a),
        after_laser.clinical_history_k(old_k_d, first_d, then_d),
        unit="D",
        within=0.02,
        expect="K before plus what was treated at the cornea, lower after a myopic laser, higher after a hyperopic one",
    )
past_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="double" goals="3"
# ## 5 · Double-K (4 points)
#
# Write Holladay 1 for emmetropia with **two** K. The function takes the length $L$ in **mm**, the K for the lens
# position, the K for the optics, both in **D**, and the surgeon factor $S$ in **mm**; it returns the lens power in
# **D**.
#
# - position: $R = 337.5 / K_{pos}$, but at least 7 mm; $A = 12.5\,L / 23.45$, but at most 13.5 mm;
#   $d = 0.56 + R - \sqrt{R^2 - A^2/4} + S$
# - optics: cornea $F = K_{opt} \cdot 333.33 / 337.5$; power $P = 1336 / (L + 0.2 - d) - 1336 / (1336 / F - d)$

# %% given="double"
double = Draw("difficult_eyes/double")
laser_mm = double.pick("length_mm", 25.4, 27.4, step=0.05)
position_k_d = double.pick("position_k_d", 42.5, 45.0, step=0.25)
optics_k_d = position_k_d - double.pick("flattened_d", 4.0, 7.0, step=0.25)
double.tell(
    f"Axial length **{laser_mm:.2f} mm**, K before the laser **{position_k_d:.2f} D**, corrected K of today "
    f"**{optics_k_d:.2f} D**, surgeon factor **1.45 mm**."
)


# %% answer="double" own="shared_utils.power.formulas.iol_power shared_utils.power.formulas.trace_power shared_utils.power.formulas.steps shared_utils.power.thin_lens.holladay_1 shared_utils.power.lens_steps.choices shared_utils.power.report.side_by_side shared_utils.power.after_laser.compare"
def double_k_power_d(length_mm, k_position_d, k_optics_d, surgeon_factor_mm):
    ### BEGIN SOLUTION
    radius_mm = max(337.5 / k_position_d, 7.0)
    width_mm = min(12.5 * length_mm / 23.45, 13.5)
    lens_mm = 0.56 + radius_mm - math.sqrt(radius_mm**2 - width_mm**2 / 4.0) + surgeon_factor_mm
    cornea_d = k_optics_d * (1000.0 / 3.0) / 337.5
    return 1336.0 / (length_mm + 0.2 - lens_mm) - 1336.0 / (1336.0 / cornea_d - lens_mm)
    ### END SOLUTION


# %% check="double" points=2 hide=true
def holladay_d(length_mm, k_position_d, k_optics_d, surgeon_factor_mm):
    lens = LensConstants.from_a_constant(118.6).with_constant("holladay_1", surgeon_factor_mm)
    return iol_power(Eye(length_mm, k_optics_d), "holladay_1", lens, elp_k_d=k_position_d)


def holladay_without_retina_d(length_mm, k_position_d, k_optics_d, surgeon_factor_mm):
    lens_mm = surgeon_factor_mm + 0.56 + 337.5 / k_position_d
    lens_mm -= math.sqrt((337.5 / k_position_d) ** 2 - min(12.5 * length_mm / 23.45, 13.5) ** 2 / 4)
    return 1336 / (length_mm - lens_mm) - 1336 / (1336 / (k_optics_d * 1000 / 3 / 337.5) - lens_mm)


checks.number(
    "lens power by double-K",
    double_k_power_d(laser_mm, position_k_d, optics_k_d, 1.45),
    holladay_d(laser_mm, position_k_d, optics_k_d, 1.45),
    unit="D",
    within=0.05,
    expect="the power for emmetropia, stronger than with the K of today for both",
    slips={
        "the K of today also guessed the position.": holladay_d(
            laser_mm, optics_k_d, optics_k_d, 1.45
        ),
        "the K of before also went into the optics.": holladay_d(
            laser_mm, position_k_d, position_k_d, 1.45
        ),
        "the two K were exchanged.": holladay_d(laser_mm, optics_k_d, position_k_d, 1.45),
        "the 0.2 mm behind the retina's surface were left out.": holladay_without_retina_d(
            laser_mm, position_k_d, optics_k_d, 1.45
        ),
    },
)

# %% hidden="double" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Position from K {position_k_d:.2f} D: $R$ = {337.5 / position_k_d:.3f} mm, $A$ = "
    f"{min(12.5 * laser_mm / 23.45, 13.5):.3f} mm, $d$ = "
    f"{2.01 + 337.5 / position_k_d - math.sqrt((337.5 / position_k_d) ** 2 - min(12.5 * laser_mm / 23.45, 13.5) ** 2 / 4):.3f} mm.\n\n"
    f"Optics from K {optics_k_d:.2f} D: $F$ = {optics_k_d * 1000 / 3 / 337.5:.3f} D.\n\n"
    f"$P$ = **{holladay_d(laser_mm, position_k_d, optics_k_d, 1.45):.2f} D**; with the K of today for both only "
    f"{holladay_d(laser_mm, optics_k_d, optics_k_d, 1.45):.2f} D."
)
power_marks = checks.Marks(2)
for globe_mm, place_d, sight_d, factor_mm in HiddenDraw("difficult_eyes/double").cases(
    (
        (23.5, 43.5, 43.5, 1.45),
        (22.3, 42.5, 46.5, 1.8),
        (30.0, 44.0, 36.0, 1.6),
        (23.0, 49.5, 46.0, 1.45),
    ),
    by=(0.5, 0.5, 0.5, 0.2),
):
    power_marks.step(
        checks.number,
        "the same function for another eye",
        lambda a=globe_mm, p=place_d, o=sight_d, s=factor_mm: double_k_power_d(a, p, o, s),
        holladay_d(globe_mm, place_d, sight_d, factor_mm),
        unit="D",
        within=0.05,
        expect="the power for emmetropia, with both limits (7 mm and 13.5 mm) kept",
    )
power_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="methods" goals="3"
# ## 6 · Read what the methods say (3 points)
#
# Apollonia Keel had laser surgery for myopia. The picture shows the lens for emmetropia by seven methods (dots),
# each rounded to 0.25 D, and uncorrected (diamond). Read off, in **D**: how far the seven methods lie apart, and
# the middle one of the seven (half of the others lie on either side). Then give the lens to order, in half
# dioptres: nearest to the middle one; a tie goes to the stronger lens.

# %% given="methods"
methods = Draw("difficult_eyes/methods")


def what_methods_say(draw):
    """Method → lens power, rounded to 0.25 D; the first is the uncorrected one."""
    k_before_d = draw.pick("k_before_d", 42.5, 44.5, step=0.25)
    treated_d = -draw.pick("treated_d", 4.5, 7.5, step=0.25)
    found = after_laser.compare(
        Eye(
            draw.pick("length_mm", 25.2, 27.0, step=0.1),
            k_before_d + 0.9 * treated_d,
            acd_mm=draw.pick("acd_mm", 3.2, 3.6, step=0.05),
        ),
        LensConstants.from_a_constant(118.6).with_constant("haigis", 0.975),
        "myopic",
        k_before_d=k_before_d,
        refraction_before_d=treated_d - 0.25,
        refraction_after_d=-0.25,
    )
    return {e.method: math.floor(4 * e.iol_power_d + 0.5) / 4 for e in found.estimates}


display(
    figures.method_dots(what_methods_say(methods), "the lens of Apollonia Keel, by each method")
)
methods.tell("Lines of the grid stand at whole and half dioptres.")


# %% answer="methods"
def methods_apart_d():
    ### BEGIN SOLUTION
    _, *seven = what_methods_say(methods).values()  # a learner reads them off the picture
    return max(seven) - min(seven)
    ### END SOLUTION


def middle_method_d():
    ### BEGIN SOLUTION
    _, *seven = what_methods_say(methods).values()
    return sorted(seven)[3]
    ### END SOLUTION


def lens_to_order_d():
    ### BEGIN SOLUTION
    return math.floor(2 * middle_method_d() + 0.5) / 2
    ### END SOLUTION


# %% check="methods" points=2 hide=true
as_nothing_d, *seven_d = what_methods_say(methods).values()
seven_d = sorted(seven_d)
method_marks = checks.Marks(2)
method_marks.step(
    checks.number,
    "how far the methods lie apart",
    methods_apart_d,
    seven_d[-1] - seven_d[0],
    unit="D",
    within=0.26,
    expect="the strongest less the weakest of the seven dots",
    slips={
        "the uncorrected lens was counted among the methods.": seven_d[-1] - as_nothing_d,
        "that is the power of the strongest; take the weakest away.": seven_d[-1],
    },
)
method_marks.step(
    checks.number,
    "the middle one of the seven",
    middle_method_d,
    seven_d[3],
    unit="D",
    within=0.26,
    expect="the dot with three of the others on either side",
    slips={
        "that is the uncorrected lens.": as_nothing_d,
        "that is the strongest of all.": seven_d[-1],
    },
)
method_marks.score()

# %% hidden="methods" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"The seven, sorted, D: {', '.join(f'{d:.2f}' for d in seven_d)}.\n\n"
    f"Apart: {seven_d[-1]:.2f} − {seven_d[0]:.2f} = **{seven_d[-1] - seven_d[0]:.2f} D**. Middle: the fourth, "
    f"**{seven_d[3]:.2f} D**. To order: **{nearest_power(seven_d[3]):.1f} D**, against {as_nothing_d:.2f} D "
    "uncorrected."
)
checks.lens_power(
    "lens to order, from your own middle one",
    lens_to_order_d(),
    nearest_power(middle_method_d()),
    expect="the half step nearest to the middle one; a tie goes to the stronger lens",
)
### END HIDDEN TESTS

# %% [markdown] question="steps" goals="4"
# ## 7 · Find the error (3 points)
#
# A colleague reckons a piggyback lens in five steps. **One step is wrong**; the later ones go on rightly from its
# number. Write three functions without arguments: the number of the wrong step, the right value of that step in
# **D**, and the lens that must really be added, in **D**.

# %% given="steps"
steps = Draw("difficult_eyes/steps")


def carried_d(vergence_d, way_mm):
    """A vergence in aqueous after a way towards the retina, D."""
    return vergence_d / (1.0 - way_mm * vergence_d / 1336.0)


def colleagues_steps(draw):
    """The steps as text, with the number, the right and the written value of the wrong one, and the lens."""
    number = draw.choose("number", [1, 3, 5])
    k = draw.pick("k_d", 42.0, 45.0, step=0.25)
    left = draw.choose("sign", [-1, 1]) * draw.pick("left_d", 3.0, 5.0, step=0.25)
    way = draw.pick("way_mm", 4.4, 5.0, step=0.1)
    right = [left / (1 - 0.012 * left)]
    right += [k + right[0], carried_d(k + right[0], way), carried_d(k, way)]
    right.append(right[2] - right[3])
    first = left / (1 + 0.012 * left) if number == 1 else right[0]
    now = k + first
    at_lens = now / (1 + way * now / 1336) if number == 3 else carried_d(now, way)
    last = right[3] - at_lens if number == 5 else at_lens - right[3]
    text = (
        f"K {k:.2f} D, refraction {left:+.2f} D, the lens to stand {way:.1f} mm behind the cornea.\n\n"
        f"1. The refraction at the cornea, 12 mm farther on: {first:+.2f} D.\n"
        f"2. Behind the cornea light is sharp with K + that: {now:+.2f} D.\n"
        f"3. Carried {way:.1f} mm on, in aqueous, to the lens: {at_lens:+.2f} D.\n"
        f"4. Light from far, K alone, carried to the same place: {right[3]:+.2f} D.\n"
        f"5. The lens to add: {last:+.2f} D."
    )
    written = {1: first, 3: at_lens, 5: last}[number]
    return text, number, right[number - 1], written, right[4]


steps.tell(colleagues_steps(steps)[0])


# %% answer="steps"
def wrong_step():
    ### BEGIN SOLUTION
    return colleagues_steps(steps)[1]  # a learner reads it off the text
    ### END SOLUTION


def right_value_d():
    ### BEGIN SOLUTION
    return colleagues_steps(steps)[2]
    ### END SOLUTION


def lens_really_to_add_d():
    ### BEGIN SOLUTION
    return colleagues_steps(steps)[4]
    ### END SOLUTION


# %% check="steps" points=2 hide=true
_, bad_step, mended_d, written_d, really_d = colleagues_steps(steps)
why_step_holds = {
    1: "step 1 holds: light changes its vergence from the spectacles to the cornea, by 1 − 0.012 R.",
    2: "step 2 holds: the cornea adds its power.",
    3: "step 3 holds: converging light converges more on its way, by 1 − d V / 1336.",
    4: "step 4 holds: light from far arrives without vergence and takes K alone.",
    5: "step 5 holds: what is sharp now, less light from far.",
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
    right_value_d,
    mended_d,
    unit="D",
    within=0.03,
    expect="the value in D that the wrong step should have given",
    slips={"that is the value as the colleague has it.": written_d},
)
step_marks.score()

# %% hidden="steps" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    {
        1: "**Step 1.** From the spectacles to the cornea the denominator is 1 − 0.012 R: ",
        3: "**Step 3.** Converging light converges more on its way, 1 − d V / 1336 below: ",
        5: "**Step 5.** The lens makes up for what is sharp now, less light from far: ",
    }[bad_step]
    + f"**{mended_d:+.2f} D** instead of {written_d:+.2f} D.\n\nThe lens to add is **{really_d:+.2f} D**."
)
checks.number(
    "lens that must really be added",
    lens_really_to_add_d(),
    really_d,
    unit="D",
    within=0.05,
    expect="a power in D with the sign of the refraction, about 1.4 to 1.5 times as large",
)
### END HIDDEN TESTS

# %% [markdown] question="exchange" goals="4"
# ## 8 · An exchange (3 points)
#
# Benedikt Lorne sees badly after surgery, and the lens will be exchanged for one at the same place. Write a function
# that takes K in **D**, the refraction now in **D**, the power of the old lens in **D** and its place behind the cornea in
# **mm**, and returns the power of the new lens for no refraction, in **D**, not rounded. A second function takes a power in
# **D** and returns the nearest lens that is made, in steps of 0.5 **D**; a tie goes to the stronger one.

# %% given="exchange"
exchange = Draw("difficult_eyes/exchange")
lens_k_d = exchange.pick("k_d", 42.0, 45.5, step=0.25)
surprise_d = exchange.choose("sign", [-1, 1]) * exchange.pick("surprise_d", 2.5, 4.5, step=0.25)
old_lens_d = exchange.pick("old_d", 17.0, 24.0, step=0.5)
lens_place_mm = exchange.pick("place_mm", 4.6, 5.4, step=0.1)
exchange.tell(
    f"K **{lens_k_d:.2f} D**, refraction **{surprise_d:+.2f} D**, old lens **{old_lens_d:+.1f} D**, "
    f"**{lens_place_mm:.1f} mm** behind the cornea."
)


# %% answer="exchange" own="shared_utils.power.secondary.exchange_power shared_utils.power.secondary.added_power shared_utils.power.lens_steps.nearest_power shared_utils.cases.difficult_eyes.compute_vergences_at_lens"
def new_lens_d(k_d, refraction_d, old_power_d, place_mm):
    ### BEGIN SOLUTION
    at_cornea_d = refraction_d / (1.0 - 0.012 * refraction_d)
    now_d = 1336.0 / (1336.0 / (k_d + at_cornea_d) - place_mm)
    far_d = 1336.0 / (1336.0 / k_d - place_mm)
    return old_power_d + now_d - far_d
    ### END SOLUTION


def nearest_step_d(power_d):
    ### BEGIN SOLUTION
    return math.floor(2.0 * power_d + 0.5) / 2.0
    ### END SOLUTION


# %% check="exchange" points=2 hide=true
his_lens_d = secondary.exchange_power(lens_k_d, surprise_d, old_lens_d, lens_place_mm)
exchange_marks = checks.Marks(2)
exchange_marks.step(
    checks.number,
    "new lens, not rounded",
    lambda: new_lens_d(lens_k_d, surprise_d, old_lens_d, lens_place_mm),
    his_lens_d,
    unit="D",
    within=0.03,
    expect="the old power plus the lens that would be added at its place",
    slips={
        "the refraction was added as it is; inside the eye it takes about 1.4 to 1.5 times as much.": old_lens_d
        + surprise_d,
        "that is the lens to add; an exchange also makes up for the old one.": his_lens_d
        - old_lens_d,
        "the sign: a hyperopic eye needs a stronger lens, a myopic one a weaker.": 2 * old_lens_d
        - his_lens_d,
        "the way from the spectacles to the cornea was left out.": secondary.exchange_power(
            lens_k_d, surprise_d, old_lens_d, lens_place_mm, vertex_mm=0.0
        ),
    },
)
exchange_marks.step(
    checks.lens_power,
    "lens to order, from your own power",
    lambda: nearest_step_d(new_lens_d(lens_k_d, surprise_d, old_lens_d, lens_place_mm)),
    nearest_power(new_lens_d(lens_k_d, surprise_d, old_lens_d, lens_place_mm)),
    expect="the half step nearest to your power",
)
exchange_marks.score()

# %% hidden="exchange" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"At the cornea: {surprise_d:+.2f} D / (1 − 0.012 · {surprise_d:+.2f}) = "
    f"{surprise_d / (1 - 0.012 * surprise_d):+.3f} D.\n\n"
    f"At the lens: now {carried_d(lens_k_d + surprise_d / (1 - 0.012 * surprise_d), lens_place_mm):.3f} D, from far "
    f"{carried_d(lens_k_d, lens_place_mm):.3f} D; difference {his_lens_d - old_lens_d:+.3f} D.\n\n"
    f"New lens: {old_lens_d:.1f} D + that = **{his_lens_d:.2f} D**; to order **{nearest_power(his_lens_d):.1f} D**."
)
swap_marks = checks.Marks(1)
for front_d, off_d, old_d, seat_mm in HiddenDraw("difficult_eyes/exchange").cases(
    (
        (43.5, 2.0, 20.0, 5.0),
        (40.0, -6.0, 25.0, 4.5),
        (46.0, 12.0, 0.0, 4.85),
    ),
    by=(0.8, 0.4, 1.0, 0.3),
):
    swap_marks.step(
        checks.number,
        "the same function for another eye",
        lambda k=front_d, r=off_d, o=old_d, d=seat_mm: new_lens_d(k, r, o, d),
        secondary.exchange_power(front_d, off_d, old_d, seat_mm),
        unit="D",
        within=0.03,
        expect="the old power plus the lens that would be added at its place",
    )
# 20.25 D stays: halfway between two steps
for exact_d in HiddenDraw("difficult_eyes/exchange").cases((21.62, 20.25, -3.4), by=[0.1, 0, 0.08]):
    swap_marks.step(
        checks.lens_power,
        "nearest step to another power",
        lambda p=exact_d: nearest_step_d(p),
        nearest_power(exact_d),
        expect="the nearest half step; a tie goes to the stronger lens",
    )
swap_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="series" goals="2"
# ## 9 · Which column was adjusted twice? (2 points)
#
# A clerk has reckoned the prediction errors of ten eyes by Holladay 1 three times: with the length as measured, adjusted
# once, and adjusted twice. The heads of the columns are lost. Write a function that takes lists of lengths in **mm** and
# errors in **D** and a limit in **mm**, and returns the mean error in **D** of the eyes **longer than** the limit. Then name the
# column that was adjusted twice: a function without arguments that returns `"a"`, `"b"` or `"c"`.

# %% given="series"
series = Draw("difficult_eyes/series")


def long_series(draw):
    """Lengths, and errors by column; the last is the letter of the column adjusted twice."""
    lengths = [draw.pick(f"short_{n}", 22.5, 24.8, step=0.1) for n in range(4)]
    lengths += [draw.pick(f"long_{n}", 27.0, 31.0, step=0.1) for n in range(6)]
    measured = np.array(lengths)
    once = np.asarray(long_eyes.adjusted_length(measured, "holladay_1"))
    twice = np.asarray(long_eyes.adjusted_length(once, "holladay_1"))
    lens, k = LensConstants.from_a_constant(118.6), 43.5
    powers = nearest_power(iol_power(Eye(once, k), "holladay_1", lens))
    noise = np.array([draw.pick(f"noise_{n}", -0.3, 0.3, step=0.01) for n in range(10)])
    achieved = predicted_refraction(Eye(once, k), "holladay_1", lens, powers) + noise
    columns = [
        (achieved - predicted_refraction(Eye(used, k), "holladay_1", lens, powers))
        .round(2)
        .tolist()
        for used in (measured, once, twice)
    ]
    order = draw.choose("order", [(0, 1, 2), (0, 2, 1), (2, 0, 1), (2, 1, 0)])
    return (
        lengths,
        dict(zip("abc", (columns[n] for n in order), strict=True)),
        "abc"[order.index(2)],
    )


series_mm, series_columns, _ = long_series(series)
series_rows = "\n".join(
    f"| {a:.1f} | {series_columns['a'][n]:+.2f} | {series_columns['b'][n]:+.2f} | {series_columns['c'][n]:+.2f} |"
    for n, a in enumerate(series_mm)
)
series.tell(
    "The lists are called `series_mm` and `series_columns['a']`, `['b']`, `['c']`; an error is achieved minus "
    "predicted.\n\n| axial length, mm | a, D | b, D | c, D |\n|---|---|---|---|\n" + series_rows
)


# %% answer="series"
def mean_of_longer_d(lengths_mm, errors_d, limit_mm):
    ### BEGIN SOLUTION
    longer_d = [e for a, e in zip(lengths_mm, errors_d, strict=True) if a > limit_mm]
    return sum(longer_d) / len(longer_d)
    ### END SOLUTION


def adjusted_twice():
    ### BEGIN SOLUTION
    # twice shortened, the formula expects too much hyperopia: the errors are the most myopic
    return min("abc", key=lambda c: mean_of_longer_d(series_mm, series_columns[c], 26.0))
    ### END SOLUTION


# %% check="series" points=1 hide=true
column_a_d = np.array(series_columns["a"])
is_longer = np.array(series_mm) > 26.0
twice_is = long_series(series)[2]
series_marks = checks.Marks(1)
series_marks.step(
    checks.number,
    "mean error of column a above 26 mm",
    lambda: mean_of_longer_d(series_mm, series_columns["a"], 26.0),
    float(column_a_d[is_longer].mean()),
    unit="D",
    within=0.01,
    expect="a mean with its sign, over the eyes longer than 26 mm",
    slips={
        "all ten eyes were taken.": float(column_a_d.mean()),
        "the eyes up to the limit were taken.": float(column_a_d[~is_longer].mean()),
        "that is the sum; divide it by the number of these eyes.": float(
            column_a_d[is_longer].sum()
        ),
    },
)
series_marks.step(
    checks.choice,
    "the column adjusted twice",
    adjusted_twice,
    twice_is,
    options=("a", "b", "c"),
    slips={
        other: "A length that is too short on paper makes the formula expect more hyperopia than comes: "
        "look for the most myopic errors in the long eyes."
        for other in "abc"
        if other != twice_is
    },
)
series_marks.score()

# %% hidden="series" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    "Mean above 26 mm: "
    + "; ".join(
        f"{letter} {np.array(column)[is_longer].mean():+.2f} D"
        for letter, column in series_columns.items()
    )
    + f".\n\nA shorter length on paper makes the formula expect more hyperopia than comes, so the errors turn "
    f"myopic: **{twice_is}** was adjusted twice. Near zero lies once; hyperopic errors are left as measured."
)
ward_marks = checks.Marks(1)
# 26.0 mm stays: the limit itself is not longer
for globes_mm, misses_d, from_mm in HiddenDraw("difficult_eyes/series").cases(
    (
        ([24.0, 26.0, 26.1, 29.0], [0.5, 1.0, -0.2, 0.4], 26.0),
        ([25.5, 22.0], [0.3, -0.7], 25.0),
    ),
    by=[([0.5, 0, 0.05, 1.0], 0.15, 0), ([0.3, 0.8], 0.1, 0)],
):
    ward_marks.step(
        checks.number,
        "mean error of another series",
        lambda a=globes_mm, e=misses_d, m=from_mm: mean_of_longer_d(a, e, m),
        float(np.mean([e for a, e in zip(globes_mm, misses_d, strict=True) if a > from_mm])),
        unit="D",
        within=0.01,
        expect="a mean with its sign, over the eyes longer than the limit; an eye at the limit is not longer",
    )
ward_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="total" goals="3"
# ## 10 · In your own words (4 points)
#
# A colleague says: “I now measure both surfaces of the cornea and type the total corneal power into SRK/T as K. So after
# laser surgery I need no history, no double-K and no excuses.” In four to seven sentences, tell them what is right, what
# is missing, in which direction the eye will miss, and what the patient should hear before surgery.

# %% [markdown] written="total" points=4
# ### BEGIN MARK SCHEME
# One point each:
# 1. Right: measuring both surfaces mends the errors of index and, at the centre, of the ring.
# 2. Missing: SRK/T uses K a second time, to guess the lens position; a flat K puts the lens too far forward
#    (also credit: a total power is about 1 D lower than K and does not fit constants made for 1.3375).
# 3. Direction: the lens is too weak, a hyperopic surprise, over a dioptre after a treatment of −6 D; remedy: the K
#    of before (or a usual K) for the position, or a formula without K in its position.
# 4. The patient: methods differ by a dioptre or two, about 60 to 70 in 100 come within 0.50 D; a slightly myopic aim,
#    and glasses, laser or a second lens may follow.
# ### END MARK SCHEME
# Measuring both surfaces is right: it mends the error of the index, and at the centre that of the ring too. But SRK/T
# uses K twice. The flat cornea also makes it expect the lens too far forward, so the lens comes out too weak and the eye
# ends hyperopic, by more than a dioptre after −6 D. So give the K of before for the position (double-K), or take a
# formula that does not look at K for it. Mind also that a total power is about a dioptre lower than the K for which lens
# constants were made. And tell the patient that only about two in three such eyes come within half a dioptre, that you aim
# slightly myopic, and that a second lens is possible.
