# %% [markdown] question="start"
# # Problems {{number measuring}} · {{title measuring}}
#
# Nine problems and one written answer, 30 points, about 40 minutes. The lesson is
# [{{number measuring}} {{title measuring}}](../../lessons/{{stem measuring}}.ipynb).
#
# Run the cells from the top. Each problem gives you numbers of your own. Write your answer where it
# says `YOUR CODE HERE`, run the check below it, and read its one sentence. When you are done, save and press
# **Check my answers** below, or run `lens-course check {{number measuring}}` in a terminal.
#
# Signs: an error is measured minus true; refraction is at the spectacles, myopia negative. Speeds of
# sound: 1532 m/s in the humours, 1641 m/s in the lens, 1555 m/s for a whole eye with its lens, 980 m/s in
# silicone oil.
#
# *All patients are invented. For learning, not for patient care: follow the lens's labelling, local
# rules and the judgement of a licensed practitioner.*

# %% given="setup"
from shared_utils.problems import check_button, checks
from shared_utils.problems.hidden_numbers import HiddenDraw
from shared_utils.problems.numbers import Draw, learner_id
from shared_utils.power import axial_length, cornea, pseudophakia
from shared_utils.power.biometry import Eye
from shared_utils.show import measuring as figures

print(f"Numbers for learner: {learner_id()}")
check_button.show("measuring")

# %% [markdown] question="radius" goals="1"
# ## 1 · From a radius to a reading (2 points)
#
# A keratometer has found the front radius of Emeric Stahl's cornea. Write a function that takes the
# radius in **mm** and the keratometric index, and returns the reading in **D**.

# %% given="radius"
radius = Draw("measuring/radius")
front_radius_mm = radius.pick("radius_mm", 7.20, 8.40, step=0.01)
radius.tell(
    f"The front radius is **{front_radius_mm:.2f} mm**; the keratometer's index is **1.3375**."
)


# %% answer="radius" own="shared_utils.power.cornea.keratometry shared_utils.power.cornea.convert_keratometry shared_utils.optics.vergence.surface_power"
def keratometry_d(radius_mm, index):
    ### BEGIN SOLUTION
    return 1000.0 * (index - 1.0) / radius_mm
    ### END SOLUTION


# %% check="radius" points=1 hide=true
checks.number(
    "the reading",
    keratometry_d(front_radius_mm, 1.3375),
    cornea.keratometry(front_radius_mm),
    unit="D",
    within=0.01,
    expect="a reading in dioptres, about 40 to 47, from the index less one",
    slips={
        "the index of air, 1, was not taken away.": 1337.5 / front_radius_mm,
        "that is the power of the front surface, with the stroma's index 1.376.": 376
        / front_radius_mm,
        "that is 1 over the radius, without the index.": 1000 / front_radius_mm,
        "millimetres were not turned into metres.": 0.3375 / front_radius_mm,
    },
)

# %% hidden="radius" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"""
$K = 1000\\,(n - 1)/R$ with $R$ in mm:

$K = 337.5 / {front_radius_mm:.2f}$ mm $= {cornea.keratometry(front_radius_mm):.2f}$ D.
"""
)
for bend_mm, shown_with in HiddenDraw("measuring/radius").cases(
    ((7.50, 1.332), (8.10, 4 / 3), (7.75, 1.3315)), by=(0.3, 0.001)
):
    checks.number(
        "the same function for another radius and index",
        keratometry_d(bend_mm, shown_with),
        1000 * (shown_with - 1) / bend_mm,
        unit="D",
        within=0.01,
        expect="the index less one over the radius in metres, whatever the index",
    )
### END HIDDEN TESTS

# %% [markdown] question="between" goals="1 3"
# ## 2 · From one instrument to another (3 points)
#
# Bettina Orlov was measured with an old keratometer. Your formula expects readings at 1.3375. Write a
# function that takes a reading in **D**, the index it was made with and the index that is wanted, and
# returns the reading in **D** at the index that is wanted. A second function returns a word: what the eye is
# left with if the old reading is entered as it is, `"myopia"`, `"hyperopia"` or `"nothing"`.

# %% given="between"
between = Draw("measuring/between")
old_reading_d = between.pick("reading_d", 41.0, 46.0, step=0.01)
old_index = between.choose("index", (1.3315, 1.332, 1.333))
between.tell(f"The old keratometer shows **{old_reading_d:.2f} D**; its index is **{old_index}**.")


# %% answer="between" own="shared_utils.power.cornea.convert_keratometry"
def converted_d(reading_d, from_index, to_index):
    ### BEGIN SOLUTION
    return reading_d * (to_index - 1.0) / (from_index - 1.0)
    ### END SOLUTION


def left_with():
    ### BEGIN SOLUTION
    return "myopia"
    ### END SOLUTION


# %% check="between" points=2 hide=true
between_marks = checks.Marks(2)
between_marks.step(
    checks.number,
    "reading at 1.3375",
    lambda: converted_d(old_reading_d, old_index, 1.3375),
    cornea.convert_keratometry(old_reading_d, old_index),
    unit="D",
    within=0.01,
    expect="a reading in dioptres, larger than the old one, by way of the same radius",
    slips={
        "the indices were divided as they are; it is the index less one that counts.": old_reading_d
        * 1.3375
        / old_index,
        "the ratio was turned round: a larger index makes a larger reading.": old_reading_d
        * (old_index - 1)
        / 0.3375,
        "that is the old reading itself.": old_reading_d,
        "that is the radius in mm; go on to the reading.": 1000 * (old_index - 1) / old_reading_d,
    },
)
between_marks.step(
    checks.choice,
    "what the old reading leaves",
    left_with,
    "myopia",
    options=("myopia", "hyperopia", "nothing"),
    slips={
        "hyperopia": "Too low a reading makes the formula choose a stronger lens.",
        "nothing": "The old reading is half a dioptre or more too low, and each dioptre counts.",
    },
)
between_marks.score()

# %% hidden="between" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"""
The radius is the same: $R = 1000\\,({old_index} - 1) / {old_reading_d:.2f}$ D
$= {1000 * (old_index - 1) / old_reading_d:.3f}$ mm, and
$337.5 / R = {cornea.convert_keratometry(old_reading_d, old_index):.2f}$ D.

Entered as it is, the cornea counts as too weak. The lens is then chosen too strong, which leaves
myopia, nearly dioptre for dioptre.
"""
)
for shown_d, first_index, second_index in HiddenDraw("measuring/between").cases(
    ((44.0, 1.3375, 1.3315), (45.0, 1.336, 1.3375)), by=(1.5, 0.0008, 0.0008)
):
    checks.number(
        "the same function between other indices",
        converted_d(shown_d, first_index, second_index),
        shown_d * (second_index - 1) / (first_index - 1),
        unit="D",
        within=0.01,
        expect="the reading that the same radius gives at the other index",
    )
### END HIDDEN TESTS

# %% [markdown] question="cornea" goals="1"
# ## 3 · Both surfaces (4 points)
#
# A tomograph has measured both surfaces of Ilse Quandt's cornea. Stroma has index 1.376, aqueous 1.336. Write
# a function that takes both radii and the thickness in **mm** and returns the power of the cornea in
# **D**. A second function takes the front radius in **mm** and that power in **D** and returns the
# keratometric index with which the front radius alone would give it.

# %% given="cornea"
surfaces = Draw("measuring/cornea")
front_mm = surfaces.pick("front_mm", 7.30, 8.30, step=0.05)
back_mm = round(front_mm * surfaces.pick("ratio", 0.78, 0.87, step=0.01), 2)
centre_um = surfaces.pick("thickness_um", 490, 600, step=5)
surfaces.tell(
    f"Front radius **{front_mm:.2f} mm**, back radius **{back_mm:.2f} mm**, thickness "
    f"**{centre_um / 1000:.3f} mm**."
)


# %% answer="cornea" own="shared_utils.power.cornea.thick_cornea shared_utils.power.cornea.total_keratometry shared_utils.optics.vergence.thick_lens shared_utils.optics.paraxial.cardinal_points"
def cornea_power_d(front_mm, back_mm, thickness_mm):
    ### BEGIN SOLUTION
    front_d = 376.0 / front_mm
    back_d = -40.0 / back_mm
    return front_d + back_d - thickness_mm / 1000.0 / 1.376 * front_d * back_d
    ### END SOLUTION


def index_for_power(front_mm, power_d):
    ### BEGIN SOLUTION
    return 1.0 + power_d * front_mm / 1000.0
    ### END SOLUTION


# %% check="cornea" points=2 hide=true
true_cornea = cornea.thick_cornea(front_mm, back_mm, centre_um / 1000)
try:  # a wrong power is marked once: the index is held against it
    own_power_d = float(cornea_power_d(front_mm, back_mm, centre_um / 1000))
except Exception:
    own_power_d = true_cornea.power_d
surface_sum_d = true_cornea.anterior_d + true_cornea.posterior_d
cornea_marks = checks.Marks(2)
cornea_marks.step(
    checks.number,
    "power of the cornea",
    lambda: cornea_power_d(front_mm, back_mm, centre_um / 1000),
    true_cornea.power_d,
    unit="D",
    within=0.01,
    expect="F1 + F2 − (t/n) F1 F2, in dioptres, with a negative back surface",
    slips={
        "that is the keratometer's reading, which knows the front alone.": 337.5 / front_mm,
        "the thickness was left out: the sum of the surfaces is for a thin cornea.": surface_sum_d,
        "the back surface takes power away: aqueous is less dense than stroma.": 376 / front_mm
        + 40 / back_mm,
        "the thickness was not divided by the index of the stroma.": surface_sum_d
        - centre_um / 1e6 * true_cornea.anterior_d * true_cornea.posterior_d,
    },
)
cornea_marks.step(
    checks.number,
    "keratometric index for that power",
    lambda: index_for_power(front_mm, own_power_d),
    1 + own_power_d * front_mm / 1000,
    unit="",
    within=0.0003,
    expect="an index of about 1.33, from your own power",
    slips={
        "that is the index less one; add the index of air.": own_power_d * front_mm / 1000,
        "that is the keratometer's own index, not this cornea's.": 1.3375,
        "the radius in mm and the power in D want a factor of a thousand.": 1
        + own_power_d * front_mm,
    },
)
cornea_marks.score()

# %% hidden="cornea" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"""
1. $F_1 = 376 / {front_mm:.2f} = {true_cornea.anterior_d:.3f}$ D
2. $F_2 = -40 / {back_mm:.2f} = {true_cornea.posterior_d:.3f}$ D
3. $F = F_1 + F_2 - \\frac{{{centre_um / 1e6:.6f}}}{{1.376}} F_1 F_2 = {true_cornea.power_d:.2f}$ D
4. $n = 1 + F R / 1000 = {true_cornea.equivalent_index:.4f}$; the keratometer takes 1.3375 and reads
   ${true_cornea.keratometry_excess_d:+.2f}$ D more.
"""
)
other_cornea_marks = checks.Marks(2)
for fore_mm, aft_mm, deep_mm in HiddenDraw("measuring/cornea").cases(
    ((7.7, 6.8, 0.5), (8.88, 6.4, 0.45), (7.26, 6.3, 0.55)), by=(0.3, 0.2, 0.04)
):
    another = cornea.thick_cornea(fore_mm, aft_mm, deep_mm)
    weaker_d = another.power_d - 1.5
    other_cornea_marks.step(
        checks.number,
        "power of another cornea",
        lambda a=fore_mm, b=aft_mm, t=deep_mm: cornea_power_d(a, b, t),
        another.power_d,
        unit="D",
        within=0.01,
        expect="F1 + F2 − (t/n) F1 F2",
    )
    other_cornea_marks.step(
        checks.number,
        "index of another cornea",
        lambda a=fore_mm, f=weaker_d: index_for_power(a, f),
        1 + weaker_d * fore_mm / 1000,
        unit="",
        within=0.0003,
        expect="one plus power times radius in metres",
    )
other_cornea_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="echo" goals="2"
# ## 4 · From an echo to a length (2 points)
#
# An echo comes back from the retina of Jonte Farkas. Write a function that takes the time of the echo in
# **µs**, there and back, and the speed in **m/s**, and returns the length in **mm**.

# %% given="echo"
echo = Draw("measuring/echo")
echo_us = echo.pick("time_us", 28.0, 33.5, step=0.05)
echo.tell(f"The echo comes back after **{echo_us:.2f} µs**. The eye still has its lens.")


# %% answer="echo" own="shared_utils.power.axial_length.length_by_sound"
def echo_length_mm(time_us, speed_m_per_s):
    ### BEGIN SOLUTION
    return time_us / 2.0 * speed_m_per_s / 1000.0
    ### END SOLUTION


# %% check="echo" points=1 hide=true
checks.number(
    "axial length",
    echo_length_mm(echo_us, 1555.0),
    axial_length.length_by_sound(echo_us),
    unit="mm",
    within=0.02,
    expect="a length in mm, half the time times the speed",
    slips={
        "the sound went there and back: halve the time.": echo_us * 1.555,
        "that is the speed in the humours, 1532 m/s, for the whole eye.": echo_us * 0.766,
        "that is the speed in the lens, 1641 m/s, for the whole eye.": echo_us * 0.8205,
    },
)

# %% hidden="echo" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"""
One way takes ${echo_us:.2f} / 2 = {echo_us / 2:.3f}$ µs. At 1555 m/s, which is 1.555 mm/µs:

$L = {echo_us / 2:.3f} \\cdot 1.555 = {axial_length.length_by_sound(echo_us):.2f}$ mm.
"""
)
for way_us, pace in HiddenDraw("measuring/echo").cases(
    ((31.0, 1532.0), (44.0, 980.0), (4.0, 1641.0)), by=(1.5, 20.0)
):
    checks.number(
        "the same function for another echo",
        echo_length_mm(way_us, pace),
        axial_length.length_by_sound(way_us, pace),
        unit="mm",
        within=0.02,
        expect="half the time times the speed, in mm",
    )
### END HIDDEN TESTS

# %% [markdown] question="oil" goals="2"
# ## 5 · Find the mistake (3 points)
#
# Radim Osei's vitreous has been replaced by silicone oil. A colleague has reckoned the length of his eye in
# the five steps below. One of them is wrong; the ones after it go on rightly from what they got. Write
# a function that returns the **number of the wrong step**, and a function that takes what lies before the
# oil in **mm**, the times of the echoes of the back of the lens and of the retina in **µs** and the
# speed in the oil in **m/s**, and returns the right axial length in **mm**.

# %% given="oil" hide=true
oil = Draw("measuring/oil")
before_mm = oil.pick("before_mm", 7.2, 8.4, step=0.05)
lens_back_us = oil.pick("lens_back_us", 9.0, 10.4, step=0.1)
retina_us = round(lens_back_us + oil.pick("in_oil_us", 29.0, 37.0, step=0.1), 1)
mistaken = oil.choose("step", (1, 2, 3))
oil_us = retina_us + lens_back_us if mistaken == 1 else retina_us - lens_back_us
one_way_us = oil_us if mistaken == 2 else oil_us / 2
oil_speed = 1555 if mistaken == 3 else 980
colleague_oil_mm = one_way_us * oil_speed / 1000
colleague_mm = before_mm + colleague_oil_mm
oil.tell(
    f"""Echo of the back of the lens: **{lens_back_us:.1f} µs**, of the retina: **{retina_us:.1f} µs**,
both there and back. Cornea, chamber and lens together were measured: **{before_mm:.2f} mm**.

1. Time in the oil, there and back: {oil_us:.1f} µs
2. Time in the oil, one way: {one_way_us:.2f} µs
3. Way in the oil, at {oil_speed} m/s: {colleague_oil_mm:.2f} mm
4. Before the oil, as measured: {before_mm:.2f} mm
5. Axial length, the sum: {colleague_mm:.2f} mm"""
)


# %% answer="oil"
def wrong_step():
    ### BEGIN SOLUTION
    if abs(oil_us - (retina_us - lens_back_us)) > 0.01:
        return 1
    return 2 if abs(one_way_us - oil_us / 2) > 0.01 else 3
    ### END SOLUTION


def oil_eye_length_mm(before_mm, lens_back_us, retina_us, speed_m_per_s):
    ### BEGIN SOLUTION
    return before_mm + (retina_us - lens_back_us) / 2.0 * speed_m_per_s / 1000.0
    ### END SOLUTION


# %% check="oil" points=2 hide=true
right_oil_mm = (retina_us - lens_back_us) / 2 * 0.98
oil_marks = checks.Marks(2)
oil_marks.step(
    checks.number,
    "number of the wrong step",
    wrong_step,
    mistaken,
    unit="",
    within=0.1,
    expect="the first step that does not follow from what stands before it",
    slips={
        "that number was measured, not reckoned.": 4,
        "the last step adds rightly what it was given.": 5,
    },
)
oil_marks.step(
    checks.number,
    "right axial length",
    lambda: oil_eye_length_mm(before_mm, lens_back_us, retina_us, 980.0),
    before_mm + right_oil_mm,
    unit="mm",
    within=0.02,
    expect="what lies before the oil, plus half the time in the oil times its speed",
    slips={
        "that is your colleague's own number.": colleague_mm,
        "that is the oil alone; add what lies before it.": right_oil_mm,
        "the time up to the oil was counted in; take the difference of the echoes.": before_mm
        + retina_us / 2 * 0.98,
    },
)
oil_marks.score()

# %% hidden="oil" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"""
Step {mistaken} is wrong: {
        (
            "the time in the oil is the difference of the echoes, not their sum.",
            "the sound went there and back, so the time has to be halved.",
            "in silicone oil sound runs at 980 m/s, not at 1555.",
        )[mistaken - 1]
    }

$({retina_us:.1f} - {lens_back_us:.1f}) / 2 \\cdot 0.980 = {right_oil_mm:.2f}$ mm of oil; with
{before_mm:.2f} mm before it ${before_mm + right_oil_mm:.2f}$ mm.
"""
)
for fore_mm, first_us, second_us, pace in HiddenDraw("measuring/oil").cases(
    ((7.7, 9.8, 42.0, 980.0), (7.9, 10.0, 30.4, 1532.0)), by=(0.2, 0.5, 2.0, 15.0)
):
    checks.number(
        "the same function for another eye",
        oil_eye_length_mm(fore_mm, first_us, second_us, pace),
        fore_mm + (second_us - first_us) / 2000 * pace,
        unit="mm",
        within=0.02,
        expect="what lies before, plus half the time behind the lens times the speed there",
    )
### END HIDDEN TESTS

# %% [markdown] question="trace" goals="2"
# ## 6 · Read an echogram (3 points)
#
# The picture shows the echoes of Marit Solberg's eye: cornea (1), front of the lens (2), back of the
# lens (3), retina (4). Write a function that returns the times of echoes 2, 3 and 4 as you read them, a
# list of three numbers in **µs**. A second function takes such a list and returns the segments in **mm**, a
# list of three: chamber depth, lens, vitreous. Take 1532 m/s in chamber and vitreous, 1641 m/s in the
# lens.

# %% given="trace" hide=true
trace = Draw("measuring/trace")
trace_us = [0.0]
for segment, shortest, longest in (
    ("chamber", 3.4, 4.6),
    ("lens", 4.9, 6.3),
    ("vitreous", 19.0, 23.0),
):
    trace_us.append(round(trace_us[-1] + trace.pick(segment, shortest, longest, step=0.1), 1))
figures.a_scan(trace_us)


# %% answer="trace" own="shared_utils.power.axial_length.length_by_sound"
def echoes_read_us():
    ### BEGIN SOLUTION
    return trace_us[1:]
    ### END SOLUTION


def segments_mm(echoes_us):
    ### BEGIN SOLUTION
    front, back, retina = echoes_us
    return [
        front / 2.0 * 1.532,
        (back - front) / 2.0 * 1.641,
        (retina - back) / 2.0 * 1.532,
    ]
    ### END SOLUTION


# %% check="trace" points=2 hide=true
def of_three(function, place, *case):
    answer = function(*case)
    if not isinstance(answer, (list, tuple)) or len(answer) != 3:
        raise checks.NotRight(f"You have {answer!r:.60}. Expected: a list of three numbers.")
    return answer[place]


try:  # a time read wrongly is marked once: the segments are held against the times as read
    own_us = [float(time) for time in echoes_read_us()]
    own_us = own_us if 0 < own_us[0] < own_us[1] < own_us[2] else trace_us[1:]
except Exception:
    own_us = trace_us[1:]
gaps_us = [own_us[0], own_us[1] - own_us[0], own_us[2] - own_us[1]]
trace_marks = checks.Marks(2)
for place, surface in enumerate(("front of the lens", "back of the lens", "retina")):
    trace_marks.step(
        checks.number,
        f"echo of the {surface}",
        lambda place=place: of_three(echoes_read_us, place),
        trace_us[place + 1],
        unit="µs",
        within=0.3,
        expect="a time read at the foot of the numbered echo, there and back",
        slips={"that is the time one way; read it as it stands.": trace_us[place + 1] / 2},
    )
for place, (segment, pace) in enumerate((("chamber", 1.532), ("lens", 1.641), ("vitreous", 1.532))):
    trace_marks.step(
        checks.number,
        f"{segment}",
        lambda place=place: of_three(segments_mm, place, own_us),
        gaps_us[place] / 2 * pace,
        unit="mm",
        within=0.02,
        expect="half the time between two echoes, as you read them, times the speed between them",
        slips={
            "the sound went there and back: halve the time.": gaps_us[place] * pace,
            "each segment has its own speed: 1532 in the humours, 1641 in the lens.": gaps_us[place]
            / 2
            * (1.641 if pace == 1.532 else 1.532),
        },
    )
trace_marks.score()

# %% hidden="trace" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"""
The echoes stand at {trace_us[1]:.1f}, {trace_us[2]:.1f} and {trace_us[3]:.1f} µs.

- chamber: ${trace_us[1]:.1f} / 2 \\cdot 1.532 = {trace_us[1] * 0.766:.2f}$ mm
- lens: ${trace_us[2] - trace_us[1]:.1f} / 2 \\cdot 1.641 = {(trace_us[2] - trace_us[1]) * 0.8205:.2f}$ mm
- vitreous: ${trace_us[3] - trace_us[2]:.1f} / 2 \\cdot 1.532 = {(trace_us[3] - trace_us[2]) * 0.766:.2f}$ mm
"""
)
other_us = HiddenDraw("measuring/trace").near([4.2, 9.6, 30.0], [0.3, 0.4, 1.5])
for place, wanted_mm in enumerate(
    (
        other_us[0] * 0.766,
        (other_us[1] - other_us[0]) * 0.8205,
        (other_us[2] - other_us[1]) * 0.766,
    )
):
    checks.number(
        "a segment of another eye",
        of_three(segments_mm, place, list(other_us)),
        wanted_mm,
        unit="mm",
        within=0.02,
        expect="half the time between two echoes times the speed between them",
    )
### END HIDDEN TESTS

# %% [markdown] question="price" goals="3"
# ## 7 · The price of a wrong length (3 points)
#
# The length of Vendela Roth's short eye was read wrongly, and the lens was chosen for it, aiming at
# zero. Write a function that takes the true length, the length as read, keratometry in **D** and
# the lens position in **mm**, and returns the refraction that is left in **D**. Two functions of the course
# do the optics:
#
# - `pseudophakia.emmetropic_power(Eye(length_mm, k_d), elp_mm)`: the lens for a refraction of zero;
# - `pseudophakia.pseudophakic_refraction(length_mm, k_d * pseudophakia.PER_K, elp_mm, lens_d)`: the refraction of
#   an eye with a lens.

# %% given="price"
price = Draw("measuring/price")
true_mm = price.pick("true_mm", 20.8, 22.0, step=0.05)
read_mm = round(true_mm + price.choose("sign", (-1, 1)) * price.pick("off_mm", 0.25, 0.5, 0.01), 2)
price_k_d = price.pick("k_d", 43.0, 46.0, step=0.25)
price_elp_mm = price.pick("elp_mm", 4.6, 5.0, step=0.05)
price.tell(
    f"True length **{true_mm:.2f} mm**, read as **{read_mm:.2f} mm**; keratometry "
    f"**{price_k_d:.2f} D**, lens at **{price_elp_mm:.2f} mm**."
)


# %% answer="price"
def refraction_left_d(true_mm, read_mm, k_d, elp_mm):
    ### BEGIN SOLUTION
    lens_d = pseudophakia.emmetropic_power(Eye(read_mm, k_d), elp_mm)
    return pseudophakia.pseudophakic_refraction(true_mm, k_d * pseudophakia.PER_K, elp_mm, lens_d)
    ### END SOLUTION


# %% check="price" points=2 hide=true
lens_for_read_d = pseudophakia.emmetropic_power(Eye(read_mm, price_k_d), price_elp_mm)
lens_for_true_d = pseudophakia.emmetropic_power(Eye(true_mm, price_k_d), price_elp_mm)
price_cornea_d = price_k_d * pseudophakia.PER_K
left_d = pseudophakia.pseudophakic_refraction(
    true_mm, price_cornea_d, price_elp_mm, lens_for_read_d
)
checks.number(
    "refraction that is left",
    refraction_left_d(true_mm, read_mm, price_k_d, price_elp_mm),
    left_d,
    unit="D",
    within=0.02,
    expect="a refraction at the spectacles: negative if the eye was read too short",
    slips={
        "the lens goes by the length as read, the refraction by the true one; yours are swapped.": pseudophakia.pseudophakic_refraction(
            read_mm, price_cornea_d, price_elp_mm, lens_for_true_d
        ),
        "that is by how much the lens was chosen wrongly; ask what it leaves.": lens_for_read_d
        - lens_for_true_d,
        "2.7 D a millimetre is for an average eye; this one is short.": 2.7 * (read_mm - true_mm),
        "that is the lens itself.": lens_for_read_d,
    },
)

# %% hidden="price" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"""
1. Lens for {read_mm:.2f} mm: ${lens_for_read_d:.2f}$ D (for the true length {lens_for_true_d:.2f} D)
2. That lens in the true eye of {true_mm:.2f} mm: ${left_d:+.2f}$ D at the spectacles
3. Price: ${left_d / (read_mm - true_mm):.2f}$ D for a millimetre, more than in an average eye
"""
)
rightly_mm = HiddenDraw("measuring/price").near(20.5, 0.4)
for real_mm, shown_mm, reading_d, place_mm in HiddenDraw("measuring/price").cases(
    (
        (23.5, 23.3, 43.5, 5.2),
        (30.0, 30.3, 43.0, 5.8),
        (rightly_mm, rightly_mm, 45.0, 4.6),
    ),
    by=[(0.4, 0.4, 1.0, 0.3), (0.5, 0.5, 1.0, 0.3), (0, 0, 1.0, 0.3)],
):
    order_d = pseudophakia.emmetropic_power(Eye(shown_mm, reading_d), place_mm)
    checks.number(
        "the same function for another eye",
        refraction_left_d(real_mm, shown_mm, reading_d, place_mm),
        pseudophakia.pseudophakic_refraction(
            real_mm, reading_d * pseudophakia.PER_K, place_mm, order_d
        ),
        unit="D",
        within=0.02,
        expect="the refraction of the true eye with the lens chosen for the length as read",
    )
### END HIDDEN TESTS

# %% [markdown] question="worst" goals="3"
# ## 8 · Which doubt weighs most? (3 points)
#
# You doubt three numbers of Casimir Holt's eye: its length, its keratometry and the lens position that the
# formula expects. Write a function that takes the eye's length in **mm**, keratometry in **D** and lens
# position in **mm**, then the three doubts (mm, D, mm; all positive), and returns a list of three costs in
# **D** at the spectacles, all positive: length, keratometry, position. A second function takes such a list
# and returns the one to measure again: `"length"`, `"keratometry"` or `"position"`. The slopes come from
# `pseudophakia.sensitivities(Eye(length_mm, k_d), elp_mm)`: its `.axial_length_mm`, `.k_d` and `.elp_mm` are
# D for 1 more of each.

# %% given="worst" hide=true
worst = Draw("measuring/worst")
worst_mm = worst.pick("length_mm", 21.2, 23.4, step=0.05)
worst_k_d = worst.pick("k_d", 42.0, 46.0, step=0.25)
worst_elp_mm = worst.pick("elp_mm", 4.8, 5.2, step=0.05)
heaviest = worst.choose("heaviest", ("length", "keratometry", "position"))
doubt_mm = 0.30 if heaviest == "length" else 0.10
doubt_k_d = 0.75 if heaviest == "keratometry" else 0.30
doubt_elp_mm = 0.45 if heaviest == "position" else 0.15
worst.tell(
    f"Length **{worst_mm:.2f} mm**, keratometry **{worst_k_d:.2f} D**, lens position "
    f"**{worst_elp_mm:.2f} mm**. Doubts: **{doubt_mm:.2f} mm** of length, **{doubt_k_d:.2f} D** of "
    f"keratometry, **{doubt_elp_mm:.2f} mm** of position."
)


# %% answer="worst"
def costs_d(length_mm, k_d, elp_mm, length_doubt_mm, k_doubt_d, elp_doubt_mm):
    ### BEGIN SOLUTION
    slopes = pseudophakia.sensitivities(Eye(length_mm, k_d), elp_mm)
    return [
        abs(slopes.axial_length_mm) * length_doubt_mm,
        abs(slopes.k_d) * k_doubt_d,
        abs(slopes.elp_mm) * elp_doubt_mm,
    ]
    ### END SOLUTION


def measure_first(costs_d):
    ### BEGIN SOLUTION
    return ("length", "keratometry", "position")[costs_d.index(max(costs_d))]
    ### END SOLUTION


# %% check="worst" points=2 hide=true
slopes = pseudophakia.sensitivities(Eye(worst_mm, worst_k_d), worst_elp_mm)
at_lens = slopes.in_lens_power()
doubts = (doubt_mm, doubt_k_d, doubt_elp_mm)
worst_case = (worst_mm, worst_k_d, worst_elp_mm, *doubts)
named_slopes = {
    "length": (slopes.axial_length_mm, at_lens.axial_length_mm),
    "keratometry": (slopes.k_d, at_lens.k_d),
    "position": (slopes.elp_mm, at_lens.elp_mm),
}
try:  # a wrong cost is marked once: the choice is held against your own costs
    own_costs_d = [float(cost) for cost in costs_d(*worst_case)]
    own_heaviest = tuple(named_slopes)[own_costs_d.index(max(own_costs_d))]
except Exception:
    own_costs_d = [abs(s) * d for (s, _), d in zip(named_slopes.values(), doubts, strict=True)]
    own_heaviest = heaviest
worst_marks = checks.Marks(2)
for place, (name, (slope, slope_at_lens)) in enumerate(named_slopes.items()):
    worst_marks.step(
        checks.number,
        f"cost of the doubt in {name}",
        lambda place=place: of_three(costs_d, place, *worst_case),
        abs(slope) * doubts[place],
        unit="D",
        within=0.02,
        expect="a cost at the spectacles, positive: the doubt times what 1 more costs",
        slips={
            "that is what the lens changes by; at the spectacles it is less.": abs(slope_at_lens)
            * doubts[place],
            "that is the price of 1 more; multiply with the doubt.": abs(slope),
        },
    )
worst_marks.step(
    checks.choice,
    "what to measure first",
    lambda: measure_first(own_costs_d),
    own_heaviest,
    options=tuple(named_slopes),
    slips={
        name: f"The doubt in {name} costs less than another one of your three."
        for name in named_slopes
        if name != own_heaviest
    },
)
worst_marks.score()

# %% hidden="worst" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"""
- length: ${abs(slopes.axial_length_mm):.2f}$ D/mm · {doubt_mm:.2f} mm
  $= {abs(slopes.axial_length_mm) * doubt_mm:.2f}$ D
- keratometry: ${abs(slopes.k_d):.2f}$ · {doubt_k_d:.2f} D $= {abs(slopes.k_d) * doubt_k_d:.2f}$ D
- position: ${abs(slopes.elp_mm):.2f}$ D/mm · {doubt_elp_mm:.2f} mm
  $= {abs(slopes.elp_mm) * doubt_elp_mm:.2f}$ D

The largest is {heaviest}.
"""
)
worst_draw = HiddenDraw("measuring/worst")
other_eye = worst_draw.near((28.0, 43.0, 5.5), (1.0, 0.8, 0.3))
other_doubts = worst_draw.near((0.1, 0.5, 0.3), (0.04, 0.15, 0.1))
long_eye = pseudophakia.sensitivities(Eye(*other_eye[:2]), other_eye[2])
for place, wanted_d in enumerate(
    (
        abs(long_eye.axial_length_mm) * other_doubts[0],
        abs(long_eye.k_d) * other_doubts[1],
        abs(long_eye.elp_mm) * other_doubts[2],
    )
):
    checks.number(
        "a cost in another eye",
        of_three(costs_d, place, *other_eye, *other_doubts),
        wanted_d,
        unit="D",
        within=0.02,
        expect="a cost at the spectacles, positive",
    )
checks.choice(
    "what to measure first, for other costs",
    measure_first(worst_draw.near([0.2, 0.3, 0.5], 0.06)),
    "position",
    options=("length", "keratometry", "position"),
)
### END HIDDEN TESTS

# %% [markdown] question="again" goals="4"
# ## 9 · Which pairs must be measured again? (3 points)
#
# Eight people were measured this morning. Write a function that takes the lengths of the right and the left
# eye in **mm** and their keratometry in **D**, and returns `"again"` or `"go on"` by the published
# list: again if an eye is shorter than 22 or longer than 25 mm, if a reading is below 40 or above 47 D, or
# if the two eyes differ by more than 0.3 mm or by more than 1 D.

# %% given="again" hide=true
again = Draw("measuring/again")
pairs = []
for number in range(8):
    kind = ("usual", "usual", "usual", "short", "long", "steep", "apart", "unlike")[number]
    lengths_mm = {"short": (21.2, 21.8), "long": (25.2, 27.5)}.get(kind, (22.6, 24.5))
    one_mm = again.pick(f"length {number}", *lengths_mm, step=0.01)
    one_d = again.pick(f"k {number}", *((47.25, 48.5) if kind == "steep" else (42.0, 45.0)), 0.25)
    other_mm = round(one_mm + (0.45 if kind == "apart" else 0.08), 2)
    other_d = one_d + (1.5 if kind == "unlike" else 0.25)
    pairs.append((kind, one_mm, other_mm, one_d, other_d))
turned_by = again.pick("turned", 0, 7)
pairs = pairs[turned_by:] + pairs[:turned_by]
rows = "\n".join(
    f"| {n} | {one_mm:.2f} | {other_mm:.2f} | {one_d:.2f} | {other_d:.2f} |"
    for n, (_, one_mm, other_mm, one_d, other_d) in enumerate(pairs, start=1)
)
again.tell("| pair | right, mm | left, mm | right, D | left, D |\n|---|---|---|---|---|\n" + rows)


# %% answer="again" own="shared_utils.power.biometry.screening shared_utils.power.biometry.between_eyes"
def again_or_go_on(right_mm, left_mm, right_k_d, left_k_d):
    ### BEGIN SOLUTION
    for length_mm, k_d in ((right_mm, right_k_d), (left_mm, left_k_d)):
        if length_mm < 22.0 or length_mm > 25.0 or k_d < 40.0 or k_d > 47.0:
            return "again"
    if abs(right_mm - left_mm) > 0.3 or abs(right_k_d - left_k_d) > 1.0:
        return "again"
    return "go on"
    ### END SOLUTION


# %% check="again" points=2 hide=true
WHY = {
    "usual": "Every number of this pair is within the list's limits.",
    "short": "An eye of this pair is shorter than 22 mm.",
    "long": "An eye of this pair is longer than 25 mm.",
    "steep": "A reading of this pair is above 47 D.",
    "apart": "The two lengths of this pair differ by more than 0.3 mm.",
    "unlike": "The two readings of this pair differ by more than 1 D.",
}
again_marks = checks.Marks(2)
for number, (kind, *numbers_of_pair) in enumerate(pairs, start=1):
    again_marks.step(
        checks.choice,
        f"pair {number}",
        lambda case=numbers_of_pair: again_or_go_on(*case),
        "go on" if kind == "usual" else "again",
        options=("again", "go on"),
        slips={"again" if kind == "usual" else "go on": WHY[kind]},
    )
again_marks.score()

# %% hidden="again" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    "\n".join(
        f"- Pair {n}: {'go on' if kind == 'usual' else 'again'}. {WHY[kind]}"
        for n, (kind, *_) in enumerate(pairs, start=1)
    )
)
edge_marks = checks.Marks(1)
# 22.0, 25.0, 40.0 and 47.0 stay where they are, and keratometry 1.0 apart: limits that still hold
for verdict, *edge in HiddenDraw("measuring/again").cases(
    (
        ("go on", 22.0, 22.2, 40.0, 40.5),
        ("go on", 25.0, 24.8, 47.0, 46.0),
        ("again", 23.0, 23.2, 39.75, 40.5),
        ("again", 23.0, 22.6, 44.0, 44.0),
        ("again", 23.0, 23.1, 44.0, 42.75),
        ("again", 24.9, 25.1, 43.0, 43.0),
        ("again", 22.1, 21.9, 43.0, 43.0),
    ),
    by=[
        (0, 0, 0.06, 0, 0.3),
        (0, 0, 0.06, 0, 0),
        (0, 0.05, 0.04, 0.15, 0.05),
        (0, 0.03, 0.03, 0.3, 0.3),
        (0, 0.05, 0.05, 0.08, 0.08),
        (0, 0.04, 0.05, 0.3, 0.3),
        (0, 0.04, 0.05, 0.3, 0.3),
    ],
):
    edge_marks.step(
        checks.choice,
        "another pair",
        lambda case=edge: again_or_go_on(*case),
        verdict,
        options=("again", "go on"),
    )
edge_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="why" goals="4"
# ## 10 · In your own words (4 points)
#
# Your technician shows you: right eye 22.6 mm, left eye 23.1 mm, equal keratometry, equal glasses before the
# cataracts; both by a probe on the cornea. “I took the mean, 22.85 mm, for both.” In three to six
# sentences, tell them what you think of the two lengths, what the mean would do to each eye, and
# what you want done instead.

# %% [markdown] written="why" points=4
# ### BEGIN MARK SCHEME
# One point each:
# 1. The eyes differ by 0.5 mm, more than the 0.3 mm at which one measures again; equal glasses and corneas
#    make the difference implausible (it should have shown as more than a dioptre).
# 2. The likely cause: a probe that pressed the right eye, so the shorter value is the doubtful one; or a
#    reading off the axis.
# 3. The mean is wrong for both: if 23.1 mm is true, 22.85 mm is 0.25 mm too short and leaves about −0.7 D,
#    in the left eye too, which had been read rightly.
# 4. Measure both eyes again, by light or through water, several readings, and look at their spread before
#    anything is ordered.
# ### END MARK SCHEME
# The two lengths differ by half a millimetre. That should have shown as well over a dioptre between
# the glasses, and they were equal, so one of the lengths is probably wrong: most likely the right one, since a
# probe that presses reads short. The mean does not make a wrong value right. If both eyes are
# 23.1 mm, it makes both 0.25 mm too short: the lenses become too strong and leave about −0.7 D in each.
# Please measure both eyes again by light or through water, with several readings each, and show me how far
# they lie apart.
