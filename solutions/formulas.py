# %% [markdown] question="start"
# # Problems {{number formulas}} · {{title formulas}}
#
# Nine problems and one written answer, 30 points, about 40 minutes. The lesson is
# [{{number formulas}} {{title formulas}}](../../lessons/{{stem formulas}}.ipynb).
#
# Run the cells from the top. Each problem gives you numbers of your own. Write your answer where it
# says `YOUR CODE HERE`, run the check below it, and read its one sentence. When you are done, save and press
# **Check my answers** below, or run `lens-course check {{number formulas}}` in a terminal.
#
# Signs and units: aqueous has index 1.336, so a vergence is 1336 over millimetres; refraction is at the
# spectacles, 12 mm in front of the cornea, myopia negative.
#
# *All patients are invented. For learning, not for patient care: follow the lens's labelling, local
# rules and the judgement of a licensed practitioner.*

# %% given="setup"
import math

from IPython.display import display

from shared_utils.problems import check_button, checks
from shared_utils.problems.hidden_numbers import HiddenDraw
from shared_utils.problems.numbers import Draw, learner_id
from shared_utils.power import core, formulas, lens_steps
from shared_utils.power.biometry import Eye
from shared_utils.power.lens_constants import LensConstants
from shared_utils.show import formulas as figures

print(f"Numbers for learner: {learner_id()}")
check_button.show("formulas")

# %% [markdown] question="core" goals="1"
# ## 1 · The equation (3 points)
#
# Write the thin-lens equation as a function: it takes the length in **mm**, the power of the cornea in **D** and
# the position of the lens in **mm**, and returns the lens power in **D** that leaves no refraction.

# %% given="core"
sum_of = Draw("formulas/core")
core_length_mm = sum_of.pick("length_mm", 21.5, 26.0, step=0.05)
core_cornea_d = sum_of.pick("cornea_d", 41.0, 46.0, step=0.25)
core_position_mm = sum_of.pick("position_mm", 4.6, 5.6, step=0.05)
sum_of.tell(
    f"Xaver Lindholm's eye is **{core_length_mm:.2f} mm** long, his cornea has "
    f"**{core_cornea_d:.2f} D**, the lens will lie **{core_position_mm:.2f} mm** behind it."
)


# %% answer="core" own="shared_utils.power.formulas.iol_power shared_utils.power.formulas.trace_power shared_utils.power.core.Steps.to_power shared_utils.power.pseudophakia.emmetropic_power shared_utils.power.lens_steps.choices shared_utils.power.report.side_by_side shared_utils.cases.formulas.compute_vergence_gap shared_utils.cases.formulas.compute_vergence_curves"
def lens_power_d(length_mm, cornea_d, position_mm):
    ### BEGIN SOLUTION
    needed_d = 1336.0 / (length_mm - position_mm)
    arriving_d = 1336.0 / (1336.0 / cornea_d - position_mm)
    return needed_d - arriving_d
    ### END SOLUTION


# %% check="core" points=1 hide=true
core_arrives_d = 1336 / (1336 / core_cornea_d - core_position_mm)
core_needed_d = 1336 / (core_length_mm - core_position_mm)
checks.number(
    "lens power",
    lens_power_d(core_length_mm, core_cornea_d, core_position_mm),
    core_needed_d - core_arrives_d,
    unit="D",
    within=0.01,
    expect="what the retina needs at the lens, less what arrives there from the cornea",
    slips={
        "the cornea's light changes on its way to the lens: carry it there first.": core_needed_d
        - core_cornea_d,
        "the lens stands nearer to the retina than the cornea: take its position off the length.": 1336
        / core_length_mm
        - core_arrives_d,
        "the light went backwards: it has come nearer to its focus, 1336 / K less the position.": core_needed_d
        - 1336 / (1336 / core_cornea_d + core_position_mm),
        "the way lies in aqueous: 1336, not 1000.": 1000 / (core_length_mm - core_position_mm)
        - 1000 / (1000 / core_cornea_d - core_position_mm),
    },
)

# %% hidden="core" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"""
1. Needed: $1336 / ({core_length_mm:.2f} - {core_position_mm:.2f}) = {core_needed_d:.2f}$ D
2. Arriving: $1336 / (1336 / {core_cornea_d:.2f} - {core_position_mm:.2f}) = {core_arrives_d:.2f}$ D
3. Lens: ${core_needed_d:.2f} - {core_arrives_d:.2f} = {core_needed_d - core_arrives_d:+.2f}$ D
"""
)
core_marks = checks.Marks(2)
for eye_mm, bent_d, place_mm in HiddenDraw("formulas/core").cases(
    ((23.5, 43.5, 5.2), (20.5, 45.0, 4.5), (31.0, 44.0, 5.6)), by=(0.5, 0.8, 0.2)
):
    core_marks.step(
        checks.number,
        "lens power of another eye",
        lambda a=eye_mm, b=bent_d, c=place_mm: lens_power_d(a, b, c),
        1336 / (eye_mm - place_mm) - 1336 / (1336 / bent_d - place_mm),
        unit="D",
        within=0.01,
        expect="needed less arriving; negative in a very long eye",
    )
core_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="target" goals="1"
# ## 2 · A target that is not zero (3 points)
#
# Yelena Brandt likes to read without glasses and wants to stay short-sighted. Write a function that takes
# length, cornea and position as before and the target refraction at the spectacles in **D**, and
# returns the lens power in **D**.

# %% given="target"
target = Draw("formulas/target")
target_length_mm = target.pick("length_mm", 22.5, 25.5, step=0.05)
target_cornea_d = target.pick("cornea_d", 41.5, 45.0, step=0.25)
target_position_mm = target.pick("position_mm", 4.9, 5.5, step=0.05)
target_d = -target.pick("target_d", 2.0, 3.5, step=0.25)
target.tell(
    f"Length **{target_length_mm:.2f} mm**, cornea **{target_cornea_d:.2f} D**, position "
    f"**{target_position_mm:.2f} mm**, target **{target_d:+.2f} D**."
)


# %% answer="target" own="shared_utils.power.formulas.iol_power shared_utils.power.formulas.trace_power shared_utils.power.core.Steps.to_power shared_utils.power.lens_steps.choices shared_utils.power.report.side_by_side"
def lens_for_target_d(length_mm, cornea_d, position_mm, target_d):
    ### BEGIN SOLUTION
    behind_cornea_d = cornea_d + target_d / (1.0 - 0.012 * target_d)
    arriving_d = 1336.0 / (1336.0 / behind_cornea_d - position_mm)
    return 1336.0 / (length_mm - position_mm) - arriving_d
    ### END SOLUTION


# %% check="target" points=1 hide=true
def power_behind(behind_cornea_d):
    return 1336 / (target_length_mm - target_position_mm) - 1336 / (
        1336 / behind_cornea_d - target_position_mm
    )


power_for_zero_d = power_behind(target_cornea_d)
target_at_cornea_d = target_d / (1 - 0.012 * target_d)
checks.number(
    "lens for the target",
    lens_for_target_d(target_length_mm, target_cornea_d, target_position_mm, target_d),
    power_behind(target_cornea_d + target_at_cornea_d),
    unit="D",
    within=0.01,
    expect="a lens stronger than for zero: the target, carried to the cornea, joins the cornea",
    slips={
        "the sign of the target: a myopic eye needs a stronger lens.": power_behind(
            target_cornea_d - target_d / (1 + 0.012 * target_d)
        ),
        "the target stands at the spectacles: carry it to the cornea first.": power_behind(
            target_cornea_d + target_d
        ),
        "the target was carried outwards, from the cornea to the spectacles.": power_behind(
            target_cornea_d + target_d / (1 + 0.012 * target_d)
        ),
        "a dioptre at the spectacles is more than a dioptre at the lens.": power_for_zero_d
        - target_d,
        "that is the lens for a refraction of zero.": power_for_zero_d,
    },
)

# %% hidden="target" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"""
1. Target at the cornea: ${target_d:.2f} / (1 - 0.012 \\cdot ({target_d:.2f})) = {target_at_cornea_d:+.3f}$ D
2. Behind the cornea: ${target_cornea_d:.2f} {target_at_cornea_d:+.3f} = {target_cornea_d + target_at_cornea_d:.3f}$ D
3. From there as for zero: ${power_behind(target_cornea_d + target_at_cornea_d):+.2f}$ D (for zero
   it would be {power_for_zero_d:+.2f} D)
"""
)
target_marks = checks.Marks(2)
for eye_mm, bent_d, place_mm, wish_d in HiddenDraw("formulas/target").cases(
    (
        (23.5, 43.5, 5.2, -0.5),
        (22.0, 44.0, 4.8, 0.75),
        (27.0, 42.0, 5.6, -3.0),
        (24.0, 43.0, 5.3, 0.0),
    ),
    by=(0.5, 0.8, 0.2, 0.2),
):
    wished_d = bent_d + wish_d / (1 - 0.012 * wish_d)
    target_marks.step(
        checks.number,
        "lens for another eye and target",
        lambda a=eye_mm, b=bent_d, c=place_mm, t=wish_d: lens_for_target_d(a, b, c, t),
        1336 / (eye_mm - place_mm) - 1336 / (1336 / wished_d - place_mm),
        unit="D",
        within=0.01,
        expect="the target at the cornea joins the cornea; the rest as for zero",
    )
target_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="srk" goals="3"
# ## 3 · A line without optics (2 points)
#
# SRK II is $P = A_1 - 2.5\,L - 0.9\,K$, where $A_1$ is the A-constant **plus** 3 for lengths below 20 mm, plus 2
# from 20 to below 21, plus 1 from 21 to below 22, plus 0 from 22 to below 24.5, and **minus** 0.5 from
# 24.5 mm on. Write it as a function of the A-constant, the length in **mm** and keratometry in **D** that
# returns the lens power for zero in **D**.

# %% given="srk"
srk = Draw("formulas/srk")
srk_kind = srk.choose("kind", ("short", "long"))
srk_length_mm = srk.pick(
    "length_mm", *((20.1, 21.9) if srk_kind == "short" else (24.6, 26.8)), 0.05
)
srk_k_d = srk.pick("k_d", 41.5, 46.0, step=0.25)
srk_a = srk.pick("a_constant", 118.0, 119.4, step=0.1)
srk.tell(
    f"Wanda Ferreira: length **{srk_length_mm:.2f} mm**, keratometry **{srk_k_d:.2f} D**, A-constant "
    f"**{srk_a:.1f}**."
)


# %% answer="srk" own="shared_utils.power.formulas.iol_power shared_utils.power.formulas.trace_power shared_utils.power.formulas.steps shared_utils.power.regression.srk_1 shared_utils.power.regression.srk_2 shared_utils.power.lens_steps.choices shared_utils.power.report.side_by_side"
def srk_2_power_d(a_constant, length_mm, k_d):
    ### BEGIN SOLUTION
    if length_mm < 20.0:
        a_constant = a_constant + 3.0
    elif length_mm < 21.0:
        a_constant = a_constant + 2.0
    elif length_mm < 22.0:
        a_constant = a_constant + 1.0
    elif length_mm >= 24.5:
        a_constant = a_constant - 0.5
    return a_constant - 2.5 * length_mm - 0.9 * k_d
    ### END SOLUTION


# %% check="srk" points=1 hide=true
srk_lens = LensConstants.from_a_constant(srk_a)
srk_right_d = formulas.iol_power(Eye(srk_length_mm, srk_k_d), "srk_2", srk_lens)
srk_unbent_d = formulas.iol_power(Eye(srk_length_mm, srk_k_d), "srk_1", srk_lens)
checks.number(
    "power by SRK II",
    srk_2_power_d(srk_a, srk_length_mm, srk_k_d),
    srk_right_d,
    unit="D",
    within=0.01,
    expect="the adjusted A-constant, less 2.5 times the length, less 0.9 times K",
    slips={
        "that is SRK I: the A-constant was not adjusted to the length.": srk_unbent_d,
        "the adjustment has the other sign: more for short eyes, less for long ones.": 2
        * srk_unbent_d
        - srk_right_d,
        "2.5 goes with the length and 0.9 with K.": srk_right_d
        + 1.6 * srk_length_mm
        - 1.6 * srk_k_d,
    },
)

# %% hidden="srk" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"""
At {srk_length_mm:.2f} mm the A-constant becomes
${srk_a:.1f} {srk_right_d - srk_unbent_d:+.1f} = {srk_a + srk_right_d - srk_unbent_d:.1f}$, and

$P = {srk_a + srk_right_d - srk_unbent_d:.1f} - 2.5 \\cdot {srk_length_mm:.2f} - 0.9 \\cdot {srk_k_d:.2f} = {srk_right_d:.2f}$ D.
"""
)
step_a, step_k_d = HiddenDraw("formulas/srk").near((118.7, 44.0), (0.6, 0.8))
# the lengths at which a step begins stay; constant and keratometry are drawn
for eye_mm, added in HiddenDraw("formulas/srk").cases(
    (
        (19.5, 3.0),
        (20.0, 2.0),
        (21.0, 1.0),
        (22.0, 0.0),
        (24.4, 0.0),
        (24.5, -0.5),
    ),
    by=[(0.3, 0), 0, 0, 0, (0.05, 0), 0],
):
    checks.number(
        "power by SRK II for another eye",
        srk_2_power_d(step_a, eye_mm, step_k_d),
        step_a + added - 2.5 * eye_mm - 0.9 * step_k_d,
        unit="D",
        within=0.01,
        expect="the A-constant adjusted to the length, at the edges too",
    )
### END HIDDEN TESTS

# %% [markdown] question="holladay" goals="1 2"
# ## 4 · Holladay 1 (4 points)
#
# Write two functions. The first takes length in **mm**, keratometry in **D** and the surgeon factor in
# **mm** and returns the lens position in **mm**:
#
# - radius $R = 337.5 / K$, at least 7 mm;
# - width $w = 12.5\,L / 23.45$, at most 13.5 mm;
# - position $d = 0.56 + R - \sqrt{R^2 - w^2/4} + SF$.
#
# The second takes length, keratometry and such a position and returns the lens power for zero in
# **D**: the equation of problem 1, with a cornea of index 4/3 on the true radius (333.33 over the
# radius, which is not limited here) and a length of 0.20 mm more.

# %% given="holladay"
holladay = Draw("formulas/holladay")
hol_length_mm = holladay.pick("length_mm", 21.6, 25.2, step=0.05)
hol_k_d = holladay.pick("k_d", 41.0, 46.0, step=0.25)
hol_factor_mm = holladay.pick("factor_mm", 1.2, 2.0, step=0.05)
holladay.tell(
    f"Detlev Amundsen: length **{hol_length_mm:.2f} mm**, keratometry **{hol_k_d:.2f} D**, surgeon factor "
    f"**{hol_factor_mm:.2f} mm**."
)


# %% answer="holladay" own="shared_utils.power.formulas.iol_power shared_utils.power.formulas.trace_power shared_utils.power.formulas.trace_refraction shared_utils.power.formulas.steps shared_utils.power.thin_lens.holladay_1 shared_utils.power.core.Steps.to_power shared_utils.power.pseudophakia.emmetropic_power shared_utils.power.lens_steps.choices shared_utils.power.report.side_by_side shared_utils.cases.formulas.holladay_steps"
def holladay_position_mm(length_mm, k_d, surgeon_factor_mm):
    ### BEGIN SOLUTION
    radius_mm = max(337.5 / k_d, 7.0)
    width_mm = min(12.5 * length_mm / 23.45, 13.5)
    dome_mm = radius_mm - math.sqrt(radius_mm**2 - width_mm**2 / 4.0)
    return 0.56 + dome_mm + surgeon_factor_mm
    ### END SOLUTION


def holladay_power_d(length_mm, k_d, position_mm):
    ### BEGIN SOLUTION
    cornea_d = 1000.0 / 3.0 / (337.5 / k_d)
    arriving_d = 1336.0 / (1336.0 / cornea_d - position_mm)
    return 1336.0 / (length_mm + 0.20 - position_mm) - arriving_d
    ### END SOLUTION


# %% check="holladay" points=2 hide=true
hol_lens = LensConstants.from_surgeon_factor(hol_factor_mm)
hol_right = formulas.trace_power(Eye(hol_length_mm, hol_k_d), "holladay_1", hol_lens).named


def thin_power_d(length_mm, cornea_d, position_mm):
    return 1336 / (length_mm - position_mm) - 1336 / (1336 / cornea_d - position_mm)


def dome_mm(radius_mm, width_mm):
    return radius_mm - math.sqrt(radius_mm**2 - width_mm**2 / 4)


try:  # a wrong position is marked once: the power is held against it
    own_position_mm = float(holladay_position_mm(hol_length_mm, hol_k_d, hol_factor_mm))
    own_position_mm = own_position_mm if 2 < own_position_mm < 9 else hol_right["elp_mm"]
except Exception:
    own_position_mm = hol_right["elp_mm"]
hol_cornea_d = hol_right["cornea_d"]
hol_marks = checks.Marks(2)
hol_marks.step(
    checks.number,
    "lens position",
    lambda: holladay_position_mm(hol_length_mm, hol_k_d, hol_factor_mm),
    hol_right["elp_mm"],
    unit="mm",
    within=0.005,
    expect="0.56 mm, the dome over the chamber and the surgeon factor together",
    slips={
        "the 0.56 mm were left out.": hol_right["elp_mm"] - 0.56,
        "the surgeon factor was left out.": hol_right["elp_mm"] - hol_factor_mm,
        "that is the dome alone.": hol_right["elp_mm"] - hol_factor_mm - 0.56,
        "a keratometer's radius is 337.5 / K, not 333 / K.": 0.56
        + dome_mm(333 / hol_k_d, hol_right["chamber_width_mm"])
        + hol_factor_mm,
    },
)
hol_marks.step(
    checks.number,
    "lens power",
    lambda: holladay_power_d(hol_length_mm, hol_k_d, own_position_mm),
    thin_power_d(hol_length_mm + 0.2, hol_cornea_d, own_position_mm),
    unit="D",
    within=0.02,
    expect="the equation with the cornea at 4/3, 0.20 mm more of length and your own position",
    slips={
        "the 0.20 mm of retina were left out.": thin_power_d(
            hol_length_mm, hol_cornea_d, own_position_mm
        ),
        "the cornea is 333.33 / R here, not the keratometer's 337.5 / R.": thin_power_d(
            hol_length_mm + 0.2, hol_k_d, own_position_mm
        ),
        "the cornea's light changes on its way to the lens: carry it there first.": 1336
        / (hol_length_mm + 0.2 - own_position_mm)
        - hol_cornea_d,
    },
)
hol_marks.score()

# %% hidden="holladay" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"""
1. $R = 337.5 / {hol_k_d:.2f} = {hol_right["elp_radius_mm"]:.3f}$ mm
2. $w = 12.5 \\cdot {hol_length_mm:.2f} / 23.45 = {hol_right["chamber_width_mm"]:.3f}$ mm
3. $0.56 + R - \\sqrt{{R^2 - w^2/4}} = {hol_right["anatomic_chamber_depth_mm"]:.3f}$ mm; with SF
   $d = {hol_right["elp_mm"]:.3f}$ mm
4. Cornea $333.33 / R = {hol_cornea_d:.2f}$ D, length $+ 0.20 = {hol_length_mm + 0.2:.2f}$ mm
5. Needed {hol_right["behind_lens_d"]:.2f} D, arriving {hol_right["at_lens_d"]:.2f} D, lens
   ${hol_right["iol_power_d"]:+.2f}$ D
"""
)
cap_marks = checks.Marks(2)
cap_factor_mm, deeper_by_mm = HiddenDraw("formulas/holladay").near((1.6, 0.4), (0.3, 0.1))
for eye_mm, reading_d in HiddenDraw("formulas/holladay").cases(
    ((23.5, 43.5), (26.8, 43.0), (23.0, 49.5), (28.0, 41.0)), by=(0.8, 0.8)
):
    dome_of = formulas.trace_power(
        Eye(eye_mm, reading_d), "holladay_1", LensConstants.from_surgeon_factor(cap_factor_mm)
    ).named
    deeper_mm = dome_of["elp_mm"] + deeper_by_mm
    cap_marks.step(
        checks.number,
        "lens position in another eye",
        lambda a=eye_mm, k=reading_d: holladay_position_mm(a, k, cap_factor_mm),
        dome_of["elp_mm"],
        unit="mm",
        within=0.005,
        expect="the radius at least 7 mm and the width at most 13.5 mm",
    )
    cap_marks.step(
        checks.number,
        "lens power in another eye",
        lambda a=eye_mm, k=reading_d, d=deeper_mm: holladay_power_d(a, k, d),
        1336 / (eye_mm + 0.2 - deeper_mm)
        - 1336 / (1336 / (1000 / 3 / (337.5 / reading_d)) - deeper_mm),
        unit="D",
        within=0.02,
        expect="the equation with the cornea at 4/3 and 0.20 mm more of length",
    )
cap_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="kin" goals="3"
# ## 5 · The kin of the A-constant (2 points)
#
# Holladay's paper gives two lines: $SF = 0.5663\,A - 65.60$ and $SF = 0.9704\,pACD - 3.595$. Write a
# function that takes an A-constant and returns the surgeon factor in **mm**, and a function that
# takes a surgeon factor in **mm** and returns the pACD in **mm**.

# %% given="kin"
kin = Draw("formulas/kin")
kin_a = kin.pick("a_constant", 117.50, 119.60, step=0.01)
kin.tell(f"A lens has an A-constant of **{kin_a:.2f}**.")


# %% answer="kin"
def surgeon_factor_mm(a_constant):
    ### BEGIN SOLUTION
    return 0.5663 * a_constant - 65.60
    ### END SOLUTION


def pacd_mm(surgeon_factor_mm):
    ### BEGIN SOLUTION
    return (surgeon_factor_mm + 3.595) / 0.9704
    ### END SOLUTION


# %% check="kin" points=1 hide=true
kin_lens = LensConstants.from_a_constant(kin_a)
try:  # a wrong surgeon factor is marked once: the pACD is held against it
    own_factor_mm = float(surgeon_factor_mm(kin_a))
except Exception:
    own_factor_mm = kin_lens.surgeon_factor_mm
kin_marks = checks.Marks(1)
kin_marks.step(
    checks.number,
    "surgeon factor",
    lambda: surgeon_factor_mm(kin_a),
    kin_lens.surgeon_factor_mm,
    unit="mm",
    within=0.005,
    expect="a small length, between 0.9 and 2.2 mm",
    slips={
        "first multiply, then take 65.60 away.": 0.5663 * (kin_a - 65.60),
        "65.60 is taken away, not added.": 0.5663 * kin_a + 65.60,
    },
)
kin_marks.step(
    checks.number,
    "pACD",
    lambda: pacd_mm(own_factor_mm),
    (own_factor_mm + 3.595) / 0.9704,
    unit="mm",
    within=0.005,
    expect="the second line solved for pACD, with your own surgeon factor",
    slips={
        "the line was used forwards; solve it for pACD.": 0.9704 * own_factor_mm - 3.595,
        "divide by 0.9704 to solve for pACD.": (own_factor_mm + 3.595) * 0.9704,
        "3.595 joins before the division.": own_factor_mm / 0.9704 + 3.595,
    },
)
kin_marks.score()

# %% hidden="kin" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"""
$SF = 0.5663 \\cdot {kin_a:.2f} - 65.60 = {kin_lens.surgeon_factor_mm:.3f}$ mm

$pACD = ({kin_lens.surgeon_factor_mm:.3f} + 3.595) / 0.9704 = {(kin_lens.surgeon_factor_mm + 3.595) / 0.9704:.3f}$ mm
"""
)
for a in HiddenDraw("formulas/kin").cases((117.0, 118.6, 120.0), by=0.6):
    checks.number(
        "surgeon factor of another lens",
        surgeon_factor_mm(a),
        0.5663 * a - 65.60,
        unit="mm",
        within=0.005,
        expect="the first line",
    )
for factor_mm in HiddenDraw("formulas/kin").cases((0.8, 1.45, 2.3), by=0.3):
    checks.number(
        "pACD of another lens",
        pacd_mm(factor_mm),
        (factor_mm + 3.595) / 0.9704,
        unit="mm",
        within=0.005,
        expect="the second line solved for pACD",
    )
### END HIDDEN TESTS

# %% [markdown] question="deepest" goals="2"
# ## 6 · Three opinions (3 points)
#
# Ragna Holm's eye is unusual. Use the course's functions: `formulas.iol_power(eye, name, lens)` and
# `formulas.predicted_refraction(eye, name, lens, lens_d)` with `eye = Eye(length_mm, k_d)` and
# `lens = LensConstants.from_a_constant(a_constant)`. Write three functions:
#
# - of length in **mm**, keratometry in **D** and A-constant: the list of the powers for zero in **D** by
#   `"srk_t"`, `"holladay_1"` and `"hoffer_q"`, in this order;
# - of such a list: the **name** of the formula that lets the lens lie deepest for such an eye, which is the one
#   that asks for the most power;
# - of length, keratometry and A-constant: what the formula with the **weakest** lens predicts, in **D**,
#   if the **strongest** of the three is implanted.

# %% given="deepest" hide=true
deepest = Draw("formulas/deepest")
deep_kind = deepest.choose("kind", ("short and flat", "long and steep"))
deep_short = deep_kind == "short and flat"
deep_length_mm = deepest.pick("length_mm", *((21.3, 22.2) if deep_short else (25.2, 26.2)), 0.05)
deep_k_d = deepest.pick("k_d", *((40.25, 42.25) if deep_short else (45.5, 47.0)), 0.25)
deep_a = deepest.pick("a_constant", 118.0, 119.4, step=0.1)
deepest.tell(
    f"Length **{deep_length_mm:.2f} mm**, keratometry **{deep_k_d:.2f} D**, A-constant "
    f"**{deep_a:.1f}**."
)


# %% answer="deepest"
def three_powers_d(length_mm, k_d, a_constant):
    ### BEGIN SOLUTION
    eye, lens = Eye(length_mm, k_d), LensConstants.from_a_constant(a_constant)
    return [formulas.iol_power(eye, name, lens) for name in ("srk_t", "holladay_1", "hoffer_q")]
    ### END SOLUTION


def deepest_formula(powers_d):
    ### BEGIN SOLUTION
    return ("srk_t", "holladay_1", "hoffer_q")[powers_d.index(max(powers_d))]
    ### END SOLUTION


def other_opinion_d(length_mm, k_d, a_constant):
    ### BEGIN SOLUTION
    powers_d = three_powers_d(length_mm, k_d, a_constant)
    weakest = ("srk_t", "holladay_1", "hoffer_q")[powers_d.index(min(powers_d))]
    eye, lens = Eye(length_mm, k_d), LensConstants.from_a_constant(a_constant)
    return formulas.predicted_refraction(eye, weakest, lens, max(powers_d))
    ### END SOLUTION


# %% check="deepest" points=2 hide=true
THREE = ("srk_t", "holladay_1", "hoffer_q")


def of_three(function, place, *case):
    answer = function(*case)
    if not isinstance(answer, (list, tuple)) or len(answer) != 3:
        raise checks.NotRight(f"You have {answer!r:.60}. Expected: a list of three numbers.")
    return answer[place]


deep_case = (deep_length_mm, deep_k_d, deep_a)
deep_eye, deep_lens = Eye(deep_length_mm, deep_k_d), LensConstants.from_a_constant(deep_a)
deep_powers_d = [formulas.iol_power(deep_eye, name, deep_lens) for name in THREE]
strongest_d = max(deep_powers_d)
deep_name = THREE[deep_powers_d.index(strongest_d)]
weak_name = THREE[deep_powers_d.index(min(deep_powers_d))]
try:  # a wrong power is marked once: the choice is held against your own powers
    own_powers_d = [float(power) for power in three_powers_d(*deep_case)]
    own_deepest = THREE[own_powers_d.index(max(own_powers_d))]
except Exception:
    own_powers_d, own_deepest = deep_powers_d, deep_name
deep_marks = checks.Marks(2)
for place, name in enumerate(THREE):
    deep_marks.step(
        checks.number,
        f"power by {name}",
        lambda place=place: of_three(three_powers_d, place, *deep_case),
        deep_powers_d[place],
        unit="D",
        within=0.02,
        expect="the power for a refraction of zero, by this formula",
        slips={
            f"that is the power by {other}: mind the order.": deep_powers_d[n]
            for n, other in enumerate(THREE)
            if n != place
        },
    )
deep_marks.step(
    checks.choice,
    "formula that lets the lens lie deepest",
    lambda: deepest_formula(own_powers_d),
    own_deepest,
    options=THREE,
    slips={
        name: f"{name} asks for less than another of your three; deeper lenses are stronger."
        for name in THREE
        if name != own_deepest
    },
)
deep_marks.step(
    checks.number,
    "the other opinion",
    lambda: other_opinion_d(*deep_case),
    formulas.predicted_refraction(deep_eye, weak_name, deep_lens, strongest_d),
    unit="D",
    within=0.02,
    expect="a refraction at the spectacles, negative: to this formula the lens is too strong",
    slips={
        "that is how far the powers lie apart; ask for the refraction.": min(deep_powers_d)
        - strongest_d,
        "the two are exchanged: the strongest lens is implanted, the other formula predicts.": formulas.predicted_refraction(
            deep_eye, deep_name, deep_lens, min(deep_powers_d)
        ),
        "a formula predicts zero for the lens that it asks for itself.": 0.0,
    },
)
deep_marks.score()

# %% hidden="deepest" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"""
SRK/T {deep_powers_d[0]:.2f} D, Holladay 1 {deep_powers_d[1]:.2f} D, Hoffer Q {deep_powers_d[2]:.2f} D.

The eye is {deep_kind}: {deep_name} lets the lens lie deepest. If its {strongest_d:.2f} D are implanted,
{weak_name} predicts
{formulas.predicted_refraction(deep_eye, weak_name, deep_lens, strongest_d):+.2f} D.
"""
)
deepest_draw = HiddenDraw("formulas/deepest")
usual = deepest_draw.near((24.6, 41.0, 118.6), (0.5, 0.8, 0.4))
usual_eye, usual_lens = Eye(*usual[:2]), LensConstants.from_a_constant(usual[2])
for place, name in enumerate(THREE):
    checks.number(
        "a power in another eye",
        of_three(three_powers_d, place, *usual),
        formulas.iol_power(usual_eye, name, usual_lens),
        unit="D",
        within=0.02,
        expect="the power for a refraction of zero, by this formula",
    )
checks.choice(
    "the deepest, for other powers",
    deepest_formula(deepest_draw.near([20.1, 20.9, 20.4], 0.15)),
    "holladay_1",
    options=THREE,
)
### END HIDDEN TESTS

# %% [markdown] question="trace" goals="1 2"
# ## 7 · Find the mistake (3 points)
#
# T2 needs four numbers before the equation:
#
# - corneal height $H = -10.326 + 0.32630\,L + 0.13533\,K$;
# - lens position $d = H + 0.62467\,A - 68.747 - 3.336$;
# - cornea $333\,K / 337.5$;
# - optical length $L + 0.65696 - 0.02029\,L$.
#
# A colleague has reckoned the five steps below. One is wrong; the ones after it go on rightly from what they
# got. Write a function that returns the **number of the wrong step**, and T2 itself: a function of length
# in **mm**, keratometry in **D** and A-constant that returns the lens power for zero in **D**.

# %% given="trace" hide=true
trace = Draw("formulas/trace")
t2_length_mm = trace.pick("length_mm", 22.0, 26.0, step=0.05)
t2_k_d = trace.pick("k_d", 41.5, 46.0, step=0.25)
t2_a = trace.pick("a_constant", 118.0, 119.4, step=0.1)
mistaken = trace.choose("step", (2, 3, 4))
t2_height_mm = -10.326 + 0.32630 * t2_length_mm + 0.13533 * t2_k_d
t2_position_mm = t2_height_mm + 0.62467 * t2_a - 68.747 - (0.0 if mistaken == 2 else 3.336)
t2_cornea_d = t2_k_d * (1.0 if mistaken == 3 else 333 / 337.5)
t2_retina_mm = (0.65696 - 0.02029 * t2_length_mm) * (-1.0 if mistaken == 4 else 1.0)
t2_optical_mm = t2_length_mm + t2_retina_mm
colleague_d = 1336 / (t2_optical_mm - t2_position_mm) - 1336 / (1336 / t2_cornea_d - t2_position_mm)
trace.tell(
    f"""Length **{t2_length_mm:.2f} mm**, keratometry **{t2_k_d:.2f} D**, A-constant **{t2_a:.1f}**.

1. Corneal height: {t2_height_mm:.3f} mm
2. Lens position: {t2_position_mm:.3f} mm
3. Cornea: {t2_cornea_d:.3f} D
4. Optical length: {t2_optical_mm:.3f} mm
5. Lens power: {colleague_d:.2f} D"""
)


# %% answer="trace" own="shared_utils.power.formulas.iol_power shared_utils.power.formulas.trace_power shared_utils.power.formulas.trace_refraction shared_utils.power.formulas.steps shared_utils.power.thin_lens.t2 shared_utils.power.core.Steps.to_power shared_utils.power.lens_steps.choices shared_utils.power.report.side_by_side"
def wrong_step():
    ### BEGIN SOLUTION
    if abs(t2_position_mm - (t2_height_mm + 0.62467 * t2_a - 72.083)) > 0.01:
        return 2
    return 3 if abs(t2_cornea_d - 333.0 * t2_k_d / 337.5) > 0.01 else 4
    ### END SOLUTION


def t2_power_d(length_mm, k_d, a_constant):
    ### BEGIN SOLUTION
    height_mm = -10.326 + 0.32630 * length_mm + 0.13533 * k_d
    position_mm = height_mm + 0.62467 * a_constant - 68.747 - 3.336
    cornea_d = 333.0 * k_d / 337.5
    optical_mm = length_mm + 0.65696 - 0.02029 * length_mm
    arriving_d = 1336.0 / (1336.0 / cornea_d - position_mm)
    return 1336.0 / (optical_mm - position_mm) - arriving_d
    ### END SOLUTION


# %% check="trace" points=2 hide=true
t2_right = formulas.trace_power(
    Eye(t2_length_mm, t2_k_d), "t2", LensConstants.from_a_constant(t2_a)
).named
t2_needed_d = t2_right["behind_lens_d"]
trace_marks = checks.Marks(2)
trace_marks.step(
    checks.number,
    "number of the wrong step",
    wrong_step,
    mistaken,
    unit="",
    within=0.1,
    expect="the first step that does not follow from what stands before it",
    slips={
        "the corneal height is as published.": 1,
        "the last step goes on rightly from what it was given.": 5,
    },
)
trace_marks.step(
    checks.number,
    "lens power by T2",
    lambda: t2_power_d(t2_length_mm, t2_k_d, t2_a),
    t2_right["iol_power_d"],
    unit="D",
    within=0.02,
    expect="the four numbers as listed, then needed less arriving",
    slips={
        "that is your colleague's own number.": colleague_d,
        "the cornea's light changes on its way to the lens: carry it there first.": t2_needed_d
        - t2_right["cornea_d"],
        "the lens position was not taken off the length.": 1336 / t2_right["optical_length_mm"]
        - t2_right["at_lens_d"],
    },
)
trace_marks.score()

# %% hidden="trace" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"""
Step {mistaken} is wrong: {
        (
            "3.336 mm were not taken off the position.",
            "keratometry itself was taken for the cornea's power; it is 333 K / 337.5.",
            "the retina's thickness is added to the length, not taken off.",
        )[mistaken - 2]
    }

Rightly: position {t2_right["elp_mm"]:.3f} mm, cornea {t2_right["cornea_d"]:.3f} D, optical length
{t2_right["optical_length_mm"]:.3f} mm; needed {t2_needed_d:.2f} D, arriving
{t2_right["at_lens_d"]:.2f} D, lens **{t2_right["iol_power_d"]:.2f} D**.
"""
)
for eye_mm, reading_d, a in HiddenDraw("formulas/trace").cases(
    ((23.5, 43.5, 118.6), (21.5, 44.5, 119.0), (28.0, 42.0, 118.7)), by=(0.5, 0.8, 0.3)
):
    checks.number(
        "T2 for another eye",
        t2_power_d(eye_mm, reading_d, a),
        formulas.iol_power(Eye(eye_mm, reading_d), "t2", LensConstants.from_a_constant(a)),
        unit="D",
        within=0.02,
        expect="the four numbers as listed, then needed less arriving",
    )
### END HIDDEN TESTS

# %% [markdown] question="back" goals="4"
# ## 8 · Backwards (3 points)
#
# In Salome Quist's practice only one lens is left today. Write a function that takes the length in **mm**,
# the cornea in **D**, the position in **mm** and the power of a lens in **D**, and returns the refraction
# that it leaves at the spectacles in **D**.

# %% given="back"
back = Draw("formulas/back")
back_length_mm = back.pick("length_mm", 22.0, 25.0, step=0.05)
back_cornea_d = back.pick("cornea_d", 41.5, 45.0, step=0.25)
back_position_mm = back.pick("position_mm", 4.9, 5.4, step=0.05)
back_exact_d = 1336 / (back_length_mm - back_position_mm) - 1336 / (
    1336 / back_cornea_d - back_position_mm
)
back_lens_d = lens_steps.nearest_power(back_exact_d) + back.choose(
    "off_d", (-3.0, -2.5, 2.5, 3.0, 3.5)
)
back.tell(
    f"Length **{back_length_mm:.2f} mm**, cornea **{back_cornea_d:.2f} D**, position "
    f"**{back_position_mm:.2f} mm**; the lens has **{back_lens_d:+.1f} D**."
)


# %% answer="back" own="shared_utils.power.formulas.predicted_refraction shared_utils.power.formulas.trace_refraction shared_utils.power.core.Steps.to_refraction shared_utils.power.pseudophakia.pseudophakic_refraction shared_utils.power.lens_steps.choices shared_utils.power.report.side_by_side"
def refraction_left_d(length_mm, cornea_d, position_mm, lens_d):
    ### BEGIN SOLUTION
    at_lens_d = 1336.0 / (length_mm - position_mm) - lens_d
    behind_cornea_d = 1336.0 / (1336.0 / at_lens_d + position_mm)
    at_cornea_d = behind_cornea_d - cornea_d
    return at_cornea_d / (1.0 + 0.012 * at_cornea_d)
    ### END SOLUTION


# %% check="back" points=1 hide=true
back_at_lens_d = 1336 / (back_length_mm - back_position_mm) - back_lens_d
back_at_cornea_d = 1336 / (1336 / back_at_lens_d + back_position_mm) - back_cornea_d
checks.number(
    "refraction that is left",
    refraction_left_d(back_length_mm, back_cornea_d, back_position_mm, back_lens_d),
    back_at_cornea_d / (1 + 0.012 * back_at_cornea_d),
    unit="D",
    within=0.01,
    expect="a refraction at the spectacles: negative if the lens is stronger than needed for zero",
    slips={
        "that is at the cornea; carry it out to the spectacles.": back_at_cornea_d,
        "a dioptre of lens is less than a dioptre at the spectacles.": back_exact_d - back_lens_d,
        "it was carried inwards, from the spectacles to the cornea.": back_at_cornea_d
        / (1 - 0.012 * back_at_cornea_d),
        "what must arrive at the lens was not carried back to the cornea.": back_at_lens_d
        - back_cornea_d,
    },
)

# %% hidden="back" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"""
1. Must arrive at the lens: $1336 / ({back_length_mm:.2f} - {back_position_mm:.2f}) - {back_lens_d:.1f} = {back_at_lens_d:.2f}$ D
2. So must leave the cornea: $1336 / (1336 / {back_at_lens_d:.2f} + {back_position_mm:.2f}) = {back_at_cornea_d + back_cornea_d:.2f}$ D
3. Less the cornea: ${back_at_cornea_d:+.2f}$ D at the cornea
4. At the spectacles: ${back_at_cornea_d / (1 + 0.012 * back_at_cornea_d):+.2f}$ D
"""
)
back_marks = checks.Marks(2)
for eye_mm, bent_d, place_mm, put_in_d in HiddenDraw("formulas/back").cases(
    (
        (23.5, 43.5, 5.2, 20.0),
        (21.0, 44.0, 4.6, 33.0),
        (28.0, 42.5, 5.6, 6.0),
        (24.0, 43.0, 5.2, 0.0),
    ),
    by=(0.5, 0.8, 0.2, 1.0),
):
    seen = core.Steps(bent_d, eye_mm, place_mm).to_refraction(put_in_d, 12.0)
    back_marks.step(
        checks.number,
        "refraction of another eye",
        lambda a=eye_mm, b=bent_d, c=place_mm, p=put_in_d: refraction_left_d(a, b, c, p),
        float(seen["refraction_d"]),
        unit="D",
        within=0.01,
        expect="back through the eye, then out to the spectacles",
    )
back_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="shelf" goals="4"
# ## 9 · Read the shelf (3 points)
#
# The picture shows the lenses on the shelf and what each is predicted to leave in Tore Abendroth's eye. Write
# three functions that return what you read: the predicted refraction in **D** of the lens named below the
# picture; the power in **D** of the lens that comes **nearest to the target**; and the power of the
# **weakest lens that leaves no hyperopia**.

# %% given="shelf" hide=true
shelf = Draw("formulas/shelf")
shelf_target_d = -shelf.pick("target_d", 0.50, 1.00, step=0.25)
shelf_k_d = shelf.pick("k_d", 42.0, 45.5, step=0.25)
for attempt in range(60):  # the first eye in which no two lenses are too close to call
    shelf_length_mm = shelf.pick(f"length {attempt}", 22.6, 24.6, step=0.02)
    shelf_lens = LensConstants.from_a_constant(118.6)
    shelf_middle_d = lens_steps.nearest_power(
        formulas.iol_power(Eye(shelf_length_mm, shelf_k_d), "srk_t", shelf_lens)
    )
    shelf_d = [shelf_middle_d + 0.5 * n for n in range(-3, 6)]
    shelf_left_d = formulas.predicted_refraction(
        Eye(shelf_length_mm, shelf_k_d), "srk_t", shelf_lens, shelf_d
    ).tolist()
    misses_d = sorted(abs(left - shelf_target_d) for left in shelf_left_d)
    if misses_d[1] - misses_d[0] > 0.10 and min(abs(left) for left in shelf_left_d) > 0.06:
        break
named_lens = shelf.choose("named", (0, 1, 6, 7, 8))
display(figures.ladder(shelf_d, shelf_left_d, shelf_target_d))
shelf.tell(f"Read the predicted refraction of the lens of **{shelf_d[named_lens]:+.1f} D**.")


# %% answer="shelf"
def read_refraction_d():
    ### BEGIN SOLUTION
    return shelf_left_d[named_lens]
    ### END SOLUTION


def nearest_to_target_d():
    ### BEGIN SOLUTION
    misses = [abs(left - shelf_target_d) for left in shelf_left_d]
    return shelf_d[misses.index(min(misses))]
    ### END SOLUTION


def no_hyperopia_d():
    ### BEGIN SOLUTION
    return min(power for power, left in zip(shelf_d, shelf_left_d, strict=True) if left <= 0.0)
    ### END SOLUTION


# %% check="shelf" points=2 hide=true
by_miss = sorted(
    zip(shelf_left_d, shelf_d, strict=True), key=lambda lens: abs(lens[0] - shelf_target_d)
)
shelf_nearest_d = by_miss[0][1]
shelf_no_plus_d = min(p for p, left in zip(shelf_d, shelf_left_d, strict=True) if left <= 0)
other_sign_d = min(
    zip(shelf_left_d, shelf_d, strict=True), key=lambda lens: abs(lens[0] + shelf_target_d)
)[1]
beside = named_lens + (1 if named_lens < 4 else -1)
shelf_marks = checks.Marks(2)
shelf_marks.step(
    checks.number,
    "predicted refraction of the lens named",
    read_refraction_d,
    shelf_left_d[named_lens],
    unit="D",
    within=0.1,
    expect="the height of its dot, with its sign",
    slips={
        "that is the dot of the lens beside it.": shelf_left_d[beside],
        "the sign: below the line of 0.00 it is myopia, negative.": -shelf_left_d[named_lens],
    },
)
shelf_marks.step(
    checks.lens_power,
    "lens nearest to the target",
    nearest_to_target_d,
    shelf_nearest_d,
    expect="the lens whose dot lies nearest to the line of the target",
    slips={
        "the sign of the target: it lies below zero.": other_sign_d,
        "the next weaker lens comes nearer to the target.": shelf_nearest_d + 0.5,
        "the next stronger lens comes nearer to the target.": shelf_nearest_d - 0.5,
    },
)
shelf_marks.step(
    checks.lens_power,
    "weakest lens without hyperopia",
    no_hyperopia_d,
    shelf_no_plus_d,
    expect="the first dot, from the weak end, that does not lie above 0.00",
    slips={
        "this lens still leaves hyperopia.": shelf_no_plus_d - 0.5,
        "a weaker lens leaves no hyperopia either.": shelf_no_plus_d + 0.5,
    },
)
shelf_marks.score()

# %% hidden="shelf" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"""
The lens of {shelf_d[named_lens]:+.1f} D leaves {shelf_left_d[named_lens]:+.2f} D.

Nearest to the target of {shelf_target_d:+.2f} D is **{shelf_nearest_d:+.1f} D** with
{by_miss[0][0]:+.2f} D; the next best, {by_miss[1][1]:+.1f} D, leaves {by_miss[1][0]:+.2f} D.

The weakest without hyperopia is **{shelf_no_plus_d:+.1f} D**.
"""
)
checks.number(
    "predicted refraction of the lens named, read with care",
    read_refraction_d(),
    shelf_left_d[named_lens],
    unit="D",
    within=0.06,
    expect="the height of its dot, to the fine lines of 0.05 D",
)
### END HIDDEN TESTS

# %% [markdown] question="why" goals="2 4"
# ## 10 · In your own words (4 points)
#
# A colleague shows you two printouts of one short eye: Hoffer Q 27.5 D, SRK/T 26.5 D. “One of them must have its
# optics wrong. I take the mean, 27.0 D, and write ‘target 0.00’ into the chart.” In three to six sentences, say
# where the difference comes from, what it is worth at the spectacles, and what should stand in the
# chart instead.

# %% [markdown] written="why" points=4
# ### BEGIN MARK SCHEME
# One point each:
# 1. Both share the thin-lens equation; they differ in the guess of the lens's position (from length and K),
#    SRK/T letting it come farther forward in a short eye, so its lens is weaker.
# 2. A dioptre of lens is about 0.7 D at the spectacles.
# 3. The position lies in the future; neither printout is wrong in its optics. Which guess is better shows
#    in outcomes (own constants, published habit for short eyes), not in an average.
# 4. Into the chart goes the predicted refraction of the lens that is implanted, with the formula and the
#    constant that predicted it; not the target.
# ### END MARK SCHEME
# Both printouts use the same equation: what the retina needs less what arrives. They differ in where they
# expect the lens: in a short eye SRK/T lets it come farther forward than Hoffer Q does, and a lens
# nearer the cornea can be weaker. The dioptre between them is worth about 0.7 D at the spectacles. Who is
# right lies in the future; outcomes with a constant of our own tell which guess suits our eyes, an average
# does not. Whatever lens you implant, write down its power, the formula with its constant and the
# refraction that it predicts for this very lens, for only that can be compared with the outcome.
