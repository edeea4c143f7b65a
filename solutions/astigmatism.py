# %% [markdown] question="start"
# # Problems {{number astigmatism}} · {{title astigmatism}}
#
# Nine problems and one written answer, 30 points, about 40 minutes. The lesson is
# [{{number astigmatism}} {{title astigmatism}}](../../lessons/{{stem astigmatism}}.ipynb).
#
# Run the cells from the top. Each problem gives you numbers of your own. Write your answer where it
# says `YOUR CODE HERE`, run the check below it, and read its one sentence. When you are done, save and press
# **Check my answers** below, or run `lens-course check {{number astigmatism}}` in a terminal.
#
# Signs: myopia is negative; cylinders are minus cylinders unless the problem says otherwise; axes run from 1 to
# 180, and 0 is written 180. A refraction is a list `[sphere, cylinder, axis]` in D, D and degrees.
#
# *All patients are invented. For learning, not for patient care: follow the lens's labelling, local
# rules and the judgement of a licensed practitioner.*

# %% given="setup"
import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import MultipleLocator

from shared_utils.problems import check_button, checks
from shared_utils.problems.hidden_numbers import HiddenDraw
from shared_utils.problems.numbers import Draw, learner_id
from shared_utils.optics.sphero_cylinder import SpheroCylinder, interval_of_sturm
from shared_utils.show import style
from shared_utils.show.figure_with_alt import FigureWithAlt


def entry(answer, place, kind="[sphere, cylinder, axis]"):
    if not isinstance(answer, (list, tuple)) or len(answer) != kind.count(",") + 1:
        raise checks.NotRight(f"Your function gives {answer!r:.60}. Expected: a list {kind}.")
    return answer[place]


print(f"Numbers for learner: {learner_id()}")
check_button.show("astigmatism")

# %% [markdown] question="transpose" goals="1"
# ## 1 · The other form (2 points)
#
# The old chart of Casimir Volkov is written in minus cylinders; your theatre list wants plus cylinders. Write a
# function that takes sphere and cylinder in **D** and the axis in **degrees** and returns the other form as
# a list `[sphere, cylinder, axis]`, axis above 0 and up to 180.

# %% given="transpose"
chart = Draw("astigmatism/transpose")
chart_sphere_d = chart.pick("sphere_d", -5.0, 3.0, step=0.25)
chart_cylinder_d = -chart.pick("cylinder_d", 0.75, 3.5, step=0.25)
chart_axis_deg = chart.choose("axis_deg", [a for a in range(2, 179) if 4 < a % 45 < 41])
chart.tell(
    f"The chart says **{chart_sphere_d:+.2f} {chart_cylinder_d:+.2f} × {chart_axis_deg}**.".replace(
        "-", "−"
    )
)


# %% answer="transpose" own="shared_utils.optics.sphero_cylinder.SpheroCylinder.transposed shared_utils.optics.sphero_cylinder.SpheroCylinder.plus_form shared_utils.optics.sphero_cylinder.SpheroCylinder.minus_form"
def other_form(sphere_d, cylinder_d, axis_deg):
    ### BEGIN SOLUTION
    turned = axis_deg + 90 if axis_deg <= 90 else axis_deg - 90
    return [sphere_d + cylinder_d, -cylinder_d, turned]
    ### END SOLUTION


# %% check="transpose" points=1 hide=true
chart_lens = (chart_sphere_d, chart_cylinder_d, chart_axis_deg)
transpose_marks = checks.Marks(1)
transpose_marks.step(
    checks.number,
    "sphere of the other form",
    lambda: entry(other_form(*chart_lens), 0),
    chart_sphere_d + chart_cylinder_d,
    unit="D",
    within=0.01,
    expect="the power of the other principal meridian, in D",
    slips={
        "the sphere changes too: the new one is sphere plus cylinder.": chart_sphere_d,
        "the cylinder is added with its sign, not taken away.": chart_sphere_d - chart_cylinder_d,
        "that is the spherical equivalent, half of the way.": chart_sphere_d + chart_cylinder_d / 2,
    },
)
transpose_marks.step(
    checks.number,
    "cylinder of the other form",
    lambda: entry(other_form(*chart_lens), 1),
    -chart_cylinder_d,
    unit="D",
    within=0.01,
    expect="the same size with the other sign, in D",
    slips={"the cylinder must change its sign.": chart_cylinder_d},
)
transpose_marks.step(
    checks.axis,
    "axis of the other form",
    lambda: entry(other_form(*chart_lens), 2),
    chart_axis_deg + 90,
    within_deg=1,
    expect="the other principal meridian",
    slips={
        "the axis was left where it was; it turns by 90°.": chart_axis_deg,
        "the axis was mirrored, 180 − axis; it turns by 90°.": 180 - chart_axis_deg,
    },
)
transpose_marks.score()

# %% hidden="transpose" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Sphere: $S + C$ = {chart_sphere_d:+.2f} {chart_cylinder_d:+.2f} = "
    f"{chart_sphere_d + chart_cylinder_d:+.2f} D. Cylinder: {-chart_cylinder_d:+.2f} D. Axis: "
    f"{chart_axis_deg}° and 90° make {(chart_axis_deg + 90) % 180 or 180}°."
)
form_marks = checks.Marks(1)
# the axes 90 and 180 stay: from there on the other axis lies on the other side
for known in HiddenDraw("astigmatism/transpose").cases(
    ((1.0, -2.0, 180), (-0.75, 2.25, 160), (0.0, -0.5, 90), (-3.0, -1.25, 17)),
    by=[(0.25, 0.25, 0), (0.25, 0.25, 8), (0, 0.2, 0), (0.25, 0.25, 8)],
):
    turned_lens = SpheroCylinder(*known).transposed()
    form_marks.step(
        checks.number,
        "sphere of another lens",
        lambda k=known: entry(other_form(*k), 0),
        turned_lens.sphere_d,
        unit="D",
        within=0.01,
        expect="sphere plus cylinder",
    )
    form_marks.step(
        checks.number,
        "cylinder of another lens",
        lambda k=known: entry(other_form(*k), 1),
        turned_lens.cylinder_d,
        unit="D",
        within=0.01,
        expect="the other sign",
    )
    form_marks.step(
        checks.number,
        "axis of another lens",
        lambda k=known: entry(other_form(*k), 2),
        turned_lens.axis_deg,
        unit="degrees",
        within=0.5,
        expect="an axis above 0 and up to 180",
    )
form_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="meridian" goals="1"
# ## 2 · Power along a meridian (2 points)
#
# The slit beam lies across the spectacle lens of Inge Sorensen. Write a function that takes sphere and
# cylinder in **D**, the axis in **degrees** and a meridian in **degrees**, and returns the power along that
# meridian in **D**.

# %% given="meridian"
slit = Draw("astigmatism/meridian")
slit_sphere_d = slit.pick("sphere_d", -4.0, 3.0, step=0.25)
slit_cylinder_d = -slit.pick("cylinder_d", 1.5, 4.0, step=0.25)
slit_axis_deg = slit.pick("axis_deg", 3, 105)
slit_meridian_deg = slit_axis_deg + slit.choose("gap_deg", [20, 25, 30, 35, 55, 60, 65, 70])
slit.tell(
    f"The lens is **{slit_sphere_d:+.2f} {slit_cylinder_d:+.2f} × {slit_axis_deg}**; the beam lies "
    f"along **{slit_meridian_deg}°**.".replace("-", "−")
)


# %% answer="meridian" own="shared_utils.optics.sphero_cylinder.SpheroCylinder.power_along"
def power_along_d(sphere_d, cylinder_d, axis_deg, meridian_deg):
    ### BEGIN SOLUTION
    angle = np.radians(meridian_deg - axis_deg)
    return sphere_d + cylinder_d * np.sin(angle) ** 2
    ### END SOLUTION


# %% check="meridian" points=1 hide=true
slit_gap_deg = slit_meridian_deg - slit_axis_deg
checks.number(
    "power along the beam",
    power_along_d(slit_sphere_d, slit_cylinder_d, slit_axis_deg, slit_meridian_deg),
    SpheroCylinder(slit_sphere_d, slit_cylinder_d, slit_axis_deg).power_along(slit_meridian_deg),
    unit="D",
    within=0.01,
    expect="the sphere and a share of the cylinder, in D",
    slips={
        "the share is the sine squared; this is the cosine squared, counted from the other meridian.": slit_sphere_d
        + slit_cylinder_d * np.cos(np.radians(slit_gap_deg)) ** 2,
        "the sine was not squared.": slit_sphere_d
        + slit_cylinder_d * np.sin(np.radians(slit_gap_deg)),
        "the share does not grow in step with the angle, parts of 90.": slit_sphere_d
        + slit_cylinder_d * slit_gap_deg / 90,
        "degrees were handed to the sine as if they were radians.": slit_sphere_d
        + slit_cylinder_d * np.sin(slit_gap_deg) ** 2,
    },
)

# %% hidden="meridian" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"The beam lies {slit_gap_deg}° from the axis; $\\sin^2 {slit_gap_deg}°$ = "
    f"{np.sin(np.radians(slit_gap_deg)) ** 2:.3f}. Power: {slit_sphere_d:+.2f} + "
    f"({slit_cylinder_d:+.2f}) · {np.sin(np.radians(slit_gap_deg)) ** 2:.3f} = "
    f"{slit_sphere_d + slit_cylinder_d * np.sin(np.radians(slit_gap_deg)) ** 2:+.2f} D."
)
along_marks = checks.Marks(1)
along_draw = HiddenDraw("astigmatism/meridian")
# along the axis and across it stay: there the power is the sphere, and the sphere with the cylinder
along_lens = along_draw.near((1.0, -2.0, 30), (0.5, 0.5, 15))
for other, beam_deg in (
    (along_lens, along_lens[2]),
    (along_lens, along_lens[2] + 90),
    along_draw.near(((-0.5, 3.0, 170), 10), ((0.3, 0.5, 8), 8)),
):
    along_marks.step(
        checks.number,
        "power of another lens along another meridian",
        lambda k=other, b=beam_deg: power_along_d(*k, b),
        SpheroCylinder(*other).power_along(beam_deg),
        unit="D",
        within=0.01,
        expect="nothing of the cylinder along its axis, all of it across",
    )
along_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="curve" goals="1"
# ## 3 · Read a curve (3 points)
#
# A lens meter that scans has drawn the power of Lucasta Reyes's lens along every meridian. Read three things from
# the curve: the highest power in **D**, the lowest power in **D** (with signs), and the meridian of the
# highest power in **degrees**. A quarter of a dioptre and five degrees are near enough. `read_curve` takes nothing and
# returns the three as a list. Then write a function that turns any such three into a **minus-cylinder**
# refraction `[sphere, cylinder, axis]`.

# %% given="curve"
scan = Draw("astigmatism/curve")
scan_lens = SpheroCylinder(
    -scan.pick("sphere_d", 0.5, 3.0, step=0.5),
    -scan.pick("cylinder_d", 1.5, 3.5, step=0.5),
    scan.choose(
        "axis_deg", [15, 20, 25, 30, 60, 65, 70, 75, 105, 110, 115, 120, 150, 155, 160, 165]
    ),
)
with style.applied():
    scan_figure = Figure(figsize=(7.0, 3.8), dpi=style.DPI, layout="constrained")
    scan_axes = scan_figure.add_subplot()
    scan_axes.plot(np.arange(181), scan_lens.power_along(np.arange(181.0)), color=style.BLUE)
    scan_axes.set(
        xlim=(0, 180),
        xticks=range(0, 181, 15),
        ylim=(scan_lens.sphere_d + scan_lens.cylinder_d - 0.4, scan_lens.sphere_d + 0.4),
        xlabel="meridian, degrees",
        ylabel="power along it, D",
        title=f"scan of the lens, learner {learner_id()}",
    )
    scan_axes.yaxis.set_major_locator(MultipleLocator(0.5))
    scan_axes.grid(color="#cccccc")
FigureWithAlt(
    scan_figure,
    "Power along every 15 degrees from 0, D: "
    + ", ".join(f"{power_d:.2f}" for power_d in scan_lens.power_along(np.arange(0.0, 180.0, 15.0))),
)


# %% answer="curve"
def read_curve():
    ### BEGIN SOLUTION
    highest_deg = scan_lens.minus_form().axis_deg
    return [scan_lens.sphere_d, scan_lens.sphere_d + scan_lens.cylinder_d, highest_deg]
    ### END SOLUTION


def as_minus_cylinder(highest_d, lowest_d, highest_meridian_deg):
    ### BEGIN SOLUTION
    return [highest_d, lowest_d - highest_d, highest_meridian_deg]
    ### END SOLUTION


# %% check="curve" points=2 hide=true
THREE_READ = "[highest power, lowest power, meridian of the highest]"
highest_d, lowest_d = scan_lens.sphere_d, scan_lens.sphere_d + scan_lens.cylinder_d
curve_marks = checks.Marks(2)
curve_marks.step(
    checks.number,
    "highest power",
    lambda: entry(read_curve(), 0, THREE_READ),
    highest_d,
    unit="D",
    within=0.25,
    expect="the top of the curve, a negative number here",
    slips={
        "that is the lowest power: highest is nearest to plus.": lowest_d,
        "that is the middle of the curve, the spherical equivalent.": (highest_d + lowest_d) / 2,
        "the minus sign was lost.": -highest_d,
    },
)
curve_marks.step(
    checks.number,
    "lowest power",
    lambda: entry(read_curve(), 1, THREE_READ),
    lowest_d,
    unit="D",
    within=0.25,
    expect="the bottom of the curve, the most negative number",
    slips={
        "that is the cylinder, lowest less highest; the curve shows the power itself.": lowest_d
        - highest_d,
        "the minus sign was lost on the way.": -lowest_d,
    },
)
curve_marks.step(
    checks.axis,
    "meridian of the highest power",
    lambda: entry(read_curve(), 2, THREE_READ),
    scan_lens.axis_deg,
    within_deg=5,
    expect="where the curve has its top",
    slips={
        "that is where the curve has its bottom.": scan_lens.axis_deg + 90,
        "the angle was counted from the vertical; meridians count from the horizontal.": 90
        - scan_lens.axis_deg,
    },
)
curve_marks.score()

# %% hidden="curve" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Top of the curve {highest_d:+.2f} D at {scan_lens.axis_deg:.0f}°, bottom {lowest_d:+.2f} D. "
    "A minus cylinder has its axis on the meridian of the highest power, where it takes nothing "
    f"away: {scan_lens.written()}."
)
minus_marks = checks.Marks(1)
for top_d, bottom_d, top_deg in HiddenDraw("astigmatism/curve").cases(
    ((-1.0, -3.0, 30), (2.5, 0.5, 90), (0.75, -1.0, 175)), by=(0.3, 0.3, 4)
):
    for place, (what, right_entry) in enumerate(
        (("sphere", top_d), ("cylinder", bottom_d - top_d), ("axis", top_deg))
    ):
        minus_marks.step(
            checks.number,
            f"{what} of another curve",
            lambda p=place, c=(top_d, bottom_d, top_deg): entry(as_minus_cylinder(*c), p),
            right_entry,
            unit="degrees" if what == "axis" else "D",
            within=0.01,
            expect="a minus cylinder with its axis where the power is highest",
        )
minus_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="lines" goals="2"
# ## 4 · Two lines and a circle (3 points)
#
# Think of the eye of Rasmus Adeyemi as one surface of **60 D** with an index of **4/3** behind it. In a meridian with
# refraction $R$ (at the cornea) it has 60 − $R$ dioptres. Write three functions: one takes the power 60 and the
# refraction of a meridian in **D** and returns where distant light of that meridian meets, in **mm** behind the
# cornea; one takes the power, sphere and cylinder and returns where the circle of least confusion lies,
# in **mm**; one takes the pupil in **mm** as well and returns the circle's diameter in **µm**.

# %% given="lines"
eye_draw = Draw("astigmatism/lines")
sturm_sphere_d = -eye_draw.pick("sphere_d", 0.75, 3.0, step=0.25)
sturm_cylinder_d = -eye_draw.pick("cylinder_d", 1.25, 3.0, step=0.25)
sturm_pupil_mm = eye_draw.pick("pupil_mm", 3.0, 6.0, step=0.5)
eye_draw.tell(
    f"Refraction at the cornea **{sturm_sphere_d:+.2f} {sturm_cylinder_d:+.2f} × 180**, pupil "
    f"**{sturm_pupil_mm:.1f} mm**. Where does the light of the meridian with "
    f"{sturm_sphere_d + sturm_cylinder_d:+.2f} D meet, and where is the circle?".replace("-", "−")
)


# %% answer="lines" own="shared_utils.optics.sphero_cylinder.interval_of_sturm"
def line_mm(eye_power_d, meridian_refraction_d):
    ### BEGIN SOLUTION
    return 1000 * (4 / 3) / (eye_power_d - meridian_refraction_d)
    ### END SOLUTION


def circle_mm(eye_power_d, sphere_d, cylinder_d):
    ### BEGIN SOLUTION
    return 1000 * (4 / 3) / (eye_power_d - sphere_d - cylinder_d / 2)
    ### END SOLUTION


def circle_diameter_um(eye_power_d, sphere_d, cylinder_d, pupil_mm):
    ### BEGIN SOLUTION
    mean_d = eye_power_d - sphere_d - cylinder_d / 2
    return 1000 * pupil_mm * abs(cylinder_d) / 2 / mean_d
    ### END SOLUTION


# %% check="lines" points=2 hide=true
sturm = interval_of_sturm(SpheroCylinder(sturm_sphere_d, sturm_cylinder_d, 180), sturm_pupil_mm)
strong_d = 60 - sturm_sphere_d - sturm_cylinder_d
lines_marks = checks.Marks(2)
lines_marks.step(
    checks.number,
    "line of the strong meridian",
    lambda: line_mm(60, sturm_sphere_d + sturm_cylinder_d),
    sturm.first_line_mm,
    unit="mm",
    within=0.02,
    expect="a place in mm behind the cornea, in front of the retina for a myopic meridian",
    slips={
        "the sign: a myopic meridian has more power than 60, and −(−) adds.": 4000
        / 3
        / (120 - strong_d),
        "the index was left out.": 1000 / strong_d,
        "that is the retina, where 60 D alone would meet.": 4000 / 3 / 60,
    },
)
lines_marks.step(
    checks.number,
    "place of the circle",
    lambda: circle_mm(60, sturm_sphere_d, sturm_cylinder_d),
    sturm.circle_mm,
    unit="mm",
    within=0.02,
    expect="the dioptric middle of the two meridians, in mm behind the cornea",
    slips={
        "that is the line of the sphere's meridian: half of the cylinder is missing.": sturm.second_line_mm,
        "that is the line of the strong meridian: the whole cylinder was counted.": sturm.first_line_mm,
        "that is the retina.": sturm.retina_mm,
    },
)
lines_marks.step(
    checks.number,
    "diameter of the circle",
    lambda: circle_diameter_um(60, sturm_sphere_d, sturm_cylinder_d, sturm_pupil_mm),
    sturm.circle_diameter_um,
    unit="µm",
    within=0.3,
    expect="pupil times half the cylinder over the mean power, in µm",
    slips={
        "the whole cylinder was taken; the circle lies half a cylinder from either line.": 2
        * sturm.circle_diameter_um,
        "the radius of the pupil was taken, or the circle's radius given.": sturm.circle_diameter_um
        / 2,
        "divided by 60; the light's vergence inside this eye is the mean of its meridians.": 1000
        * sturm_pupil_mm
        * abs(sturm_cylinder_d)
        / 2
        / 60,
    },
)
lines_marks.score()

# %% hidden="lines" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Strong meridian: $60 - R$ = {strong_d:.2f} D, so 1333.3 / {strong_d:.2f} = "
    f"{sturm.first_line_mm:.3f} mm. Spherical equivalent {sturm_sphere_d + sturm_cylinder_d / 2:+.3f} "
    f"D, so the circle lies at 1333.3 / {60 - sturm_sphere_d - sturm_cylinder_d / 2:.3f} = "
    f"{sturm.circle_mm:.3f} mm. Diameter: 1000 · {sturm_pupil_mm:.1f} mm · "
    f"{abs(sturm_cylinder_d) / 2:.3f} D / {60 - sturm_sphere_d - sturm_cylinder_d / 2:.3f} D = "
    f"{sturm.circle_diameter_um:.1f} µm."
)
other_lines = checks.Marks(1)
for power_d, rx, wide_mm in HiddenDraw("astigmatism/lines").cases(
    (
        (60, (1.0, -2.0, 180), 3.0),
        (58, (-2.0, -0.5, 90), 5.0),
        (62, (0.0, -4.0, 45), 4.0),
    ),
    by=(2, (0.3, 0.3, 0), 0.5),
):
    truth = interval_of_sturm(SpheroCylinder(*rx), wide_mm, emmetropic_power_d=power_d)
    other_lines.step(
        checks.number,
        "line of another eye",
        lambda f=power_d, r=rx: line_mm(f, r[0]),
        truth.second_line_mm,
        unit="mm",
        within=0.02,
        expect="index over power, in mm",
    )
    other_lines.step(
        checks.number,
        "circle of another eye",
        lambda f=power_d, r=rx: circle_mm(f, *r[:2]),
        truth.circle_mm,
        unit="mm",
        within=0.02,
        expect="index over mean power, in mm",
    )
    other_lines.step(
        checks.number,
        "diameter in another eye",
        lambda f=power_d, r=rx, p=wide_mm: circle_diameter_um(f, *r[:2], p),
        truth.circle_diameter_um,
        unit="µm",
        within=0.3,
        expect="pupil times half the cylinder over the mean power",
    )
other_lines.score()
### END HIDDEN TESTS

# %% [markdown] question="drawer" goals="2"
# ## 5 · A drawer with spheres only (3 points)
#
# On a mission Felicity Nakamura has no cylinders, and her patients cannot accommodate. Write two functions. `on_retina` takes a
# refraction with axis 90 or 180 and says what a distant lamp makes on the retina of the eye **without a
# lens**: `"vertical line"`, `"horizontal line"` or `"circle"`. `sphere_for_circle` takes sphere and cylinder in **D**
# and returns the sphere, in **D**, that brings the circle of least confusion onto the retina.

# %% given="drawer"
drawer = Draw("astigmatism/drawer")
right_cylinder_d = -drawer.pick("right_cylinder_d", 1.0, 4.0, step=0.5)
right_share = drawer.choose("right_share", [0.0, 0.5, 1.0])
right_eye = [-right_cylinder_d * right_share, right_cylinder_d, drawer.choose("axis", [90, 180])]
left_sphere_d = drawer.pick("left_sphere_d", 1.75, 3.0, step=0.25)
left_cylinder_d = -drawer.pick("left_cylinder_d", 1.0, 3.0, step=0.5)
drawer.tell(
    "What lies on the retina of the right eye, "
    f"**{right_eye[0]:+.2f} {right_eye[1]:+.2f} × {right_eye[2]}**? Which sphere for the left eye, "
    f"**{left_sphere_d:+.2f} {left_cylinder_d:+.2f} × 90**?".replace("-", "−")
)


# %% answer="drawer"
def on_retina(sphere_d, cylinder_d, axis_deg):
    ### BEGIN SOLUTION
    if abs(sphere_d + cylinder_d / 2) < 0.01:
        return "circle"
    sharp_deg = axis_deg if abs(sphere_d) < 0.01 else 270 - axis_deg
    return "vertical line" if sharp_deg == 180 else "horizontal line"
    ### END SOLUTION


def sphere_for_circle(sphere_d, cylinder_d):
    ### BEGIN SOLUTION
    return sphere_d + cylinder_d / 2
    ### END SOLUTION


# %% check="drawer" points=2 hide=true
def seen_on_retina(sphere_d, cylinder_d, axis_deg):
    horizontal_d, vertical_d = (
        SpheroCylinder(sphere_d, cylinder_d, axis_deg).power_along(m) for m in (180, 90)
    )
    if abs(horizontal_d + vertical_d) < 0.01:
        return "circle"
    return "vertical line" if abs(horizontal_d) < 0.01 else "horizontal line"


LAMP = ("vertical line", "horizontal line", "circle")
lamp_advice = {
    "vertical line": "A vertical line needs the horizontal meridian (180) to be without error: reckon its power.",
    "horizontal line": "A horizontal line needs the vertical meridian (90) to be without error: reckon its power.",
    "circle": "A circle needs a spherical equivalent of zero.",
}
lamp_right = seen_on_retina(*right_eye)
drawer_marks = checks.Marks(2)
drawer_marks.step(
    checks.choice,
    "on the retina of the right eye",
    lambda: on_retina(*right_eye),
    lamp_right,
    options=LAMP,
    slips={word: advice for word, advice in lamp_advice.items() if word != lamp_right},
)
drawer_marks.step(
    checks.number,
    "sphere for the left eye",
    lambda: sphere_for_circle(left_sphere_d, left_cylinder_d),
    left_sphere_d + left_cylinder_d / 2,
    unit="D",
    within=0.01,
    expect="the spherical equivalent, in D",
    slips={
        "that is the sphere of the chart: it brings one line onto the retina.": left_sphere_d,
        "that is sphere plus the whole cylinder: it brings the other line onto the retina.": left_sphere_d
        + left_cylinder_d,
        "half of the cylinder was taken away: add it with its sign.": left_sphere_d
        - left_cylinder_d / 2,
        "that is half of the cylinder alone; the sphere belongs to it.": left_cylinder_d / 2,
    },
)
drawer_marks.score()

# %% hidden="drawer" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Right eye: along 180° it needs {SpheroCylinder(*right_eye).power_along(180):+.2f} D, along 90° "
    f"{SpheroCylinder(*right_eye).power_along(90):+.2f} D. The meridian that needs nothing draws the line "
    f"across itself; equal and opposite needs make a circle. Here: {lamp_right}. Left eye: "
    f"$S + C/2$ = {left_sphere_d:+.2f} {left_cylinder_d / 2:+.2f} = "
    f"{left_sphere_d + left_cylinder_d / 2:+.2f} D."
)
lamp_marks = checks.Marks(1)
lamp_draw = HiddenDraw("astigmatism/drawer")
# lines and the circle stand on the retina only where a meridian, or the mean, needs nothing
for place, (share, lamp_axis_deg) in enumerate(
    ((0.0, 180), (0.0, 90), (1.0, 180), (1.0, 90), (0.5, 180))
):
    lamp_cylinder_d = lamp_draw.pick(f"cylinder {place}", 0.75, 4.0, step=0.25)
    lamp_eye = (lamp_cylinder_d * share, -lamp_cylinder_d, lamp_axis_deg)
    lamp_marks.step(
        checks.choice,
        "on the retina of another eye",
        lambda e=lamp_eye: on_retina(*e),
        seen_on_retina(*lamp_eye),
        options=LAMP,
    )
for glass_d, more_d in HiddenDraw("astigmatism/drawer").cases(
    ((-2.0, -1.0), (0.0, -2.5)), by=(0.5, 0.5)
):
    lamp_marks.step(
        checks.number,
        "sphere for another eye",
        lambda s=glass_d, c=more_d: sphere_for_circle(s, c),
        glass_d + more_d / 2,
        unit="D",
        within=0.01,
        expect="the spherical equivalent",
    )
lamp_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="vector" goals="3"
# ## 6 · There and back (4 points)
#
# Write two functions. `to_vector` takes sphere and cylinder in **D** and the axis in **degrees** and returns
# `[M, J0, J45]` in **D**. `from_vector` takes $M$, $J_0$ and $J_{45}$ and returns the **minus-cylinder** refraction
# `[sphere, cylinder, axis]`, axis above 0 and up to 180. (`np.arctan2(y, x)` knows all four quadrants.)

# %% given="vector"
vector = Draw("astigmatism/vector")
there = SpheroCylinder(
    -vector.pick("sphere_d", 0.5, 5.0, step=0.25),
    -vector.pick("cylinder_d", 1.0, 3.0, step=0.25),
    vector.choose("axis_deg", [*range(12, 29), *range(152, 169)]),
)
back = SpheroCylinder(
    vector.pick("back_sphere_d", -3.0, 3.0, step=0.25),
    -vector.pick("back_cylinder_d", 1.0, 3.0, step=0.25),
    vector.choose("back_axis_deg", [*range(12, 29), *range(102, 119)]),
)
back_vector = [round(value, 3) for value in back.power_vector()]
vector.tell(
    f"Turn **{there.written()}** into a vector. Turn **M {back_vector[0]:+.3f}, J0 "
    f"{back_vector[1]:+.3f}, J45 {back_vector[2]:+.3f} D** into a refraction.".replace("-", "−")
)


# %% answer="vector" own="shared_utils.optics.sphero_cylinder.SpheroCylinder.power_vector shared_utils.optics.sphero_cylinder.SpheroCylinder.from_power_vector.__func__ shared_utils.power.toric.double_angle shared_utils.power.toric.from_double_angle"
def to_vector(sphere_d, cylinder_d, axis_deg):
    ### BEGIN SOLUTION
    twice = np.radians(2 * axis_deg)
    half = -cylinder_d / 2
    return [sphere_d + cylinder_d / 2, half * np.cos(twice), half * np.sin(twice)]
    ### END SOLUTION


def from_vector(m_d, j0_d, j45_d):
    ### BEGIN SOLUTION
    cylinder_d = -2 * np.hypot(j0_d, j45_d)
    axis_deg = np.degrees(np.arctan2(j45_d, j0_d)) / 2 % 180
    return [m_d - cylinder_d / 2, cylinder_d, axis_deg or 180.0]
    ### END SOLUTION


# %% check="vector" points=2 hide=true
THREE_VECTOR = "[M, J0, J45]"
there_list = [there.sphere_d, there.cylinder_d, there.axis_deg]
half_there_d = -there.cylinder_d / 2
once = np.radians(there.axis_deg)
there_m, there_j0, there_j45 = there.power_vector()
vector_marks = checks.Marks(2)
vector_marks.step(
    checks.number,
    "M",
    lambda: entry(to_vector(*there_list), 0, THREE_VECTOR),
    there_m,
    unit="D",
    within=0.01,
    expect="the spherical equivalent, in D",
    slips={
        "that is the sphere; half of the cylinder belongs to it.": there.sphere_d,
        "the whole cylinder was added instead of half of it.": there.sphere_d + there.cylinder_d,
        "half of the cylinder was taken away.": there.sphere_d - there.cylinder_d / 2,
    },
)
for name, place, right_j, undoubled in (
    ("J0", 1, there_j0, half_there_d * np.cos(once)),
    ("J45", 2, there_j45, half_there_d * np.sin(once)),
):
    vector_marks.step(
        checks.number,
        name,
        lambda p=place: entry(to_vector(*there_list), p, THREE_VECTOR),
        right_j,
        unit="D",
        within=0.01,
        expect="minus half the cylinder, times a cosine or sine of twice the axis",
        slips={
            f"{name}: the angle was not doubled.": undoubled,
            f"{name}: the cylinder was not halved.": 2 * right_j,
            f"{name}: there is a minus before C/2.": -right_j,
        },
    )
vector_marks.step(
    checks.number,
    "cylinder, on the way back",
    lambda: entry(from_vector(*back_vector), 1),
    back.cylinder_d,
    unit="D",
    within=0.01,
    expect="a minus cylinder, twice as long as the arrow",
    slips={
        "the arrow's length is half of the cylinder.": back.cylinder_d / 2,
        "the form asked for is the minus cylinder.": -back.cylinder_d,
        "J0 and J45 were added as numbers; they are the sides of a right angle.": -2
        * (abs(back_vector[1]) + abs(back_vector[2])),
    },
)
vector_marks.step(
    checks.number,
    "spherical equivalent of the lens that comes back",
    lambda: entry(from_vector(*back_vector), 0) + entry(from_vector(*back_vector), 1) / 2,
    back_vector[0],
    unit="D",
    within=0.01,
    expect="M again: your sphere and half of your cylinder",
    slips={
        "M was handed on as the sphere.": back_vector[0] + back.cylinder_d / 2,
        "half of the cylinder was added to M instead of taken away.": back_vector[0]
        + back.cylinder_d,
    },
)
vector_marks.step(
    checks.axis,
    "axis, on the way back",
    lambda: entry(from_vector(*back_vector), 2),
    back.axis_deg,
    within_deg=1,
    expect="half the angle of the point (J0, J45)",
    slips={
        "the angle was not halved.": 2 * back.axis_deg,
        "the sign of J45 was lost on the way.": 180 - back.axis_deg,
    },
)
vector_marks.score()

# %% hidden="vector" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"There: $M$ = {there.sphere_d:+.2f} {there.cylinder_d / 2:+.3f} = {there_m:+.3f} D; twice the axis "
    f"is {2 * there.axis_deg:.0f}°; $J_0$ = {half_there_d:.3f} · cos = {there_j0:+.3f} D, $J_{{45}}$ = "
    f"{half_there_d:.3f} · sin = {there_j45:+.3f} D. Back: arrow "
    f"$\\sqrt{{J_0^2 + J_{{45}}^2}}$ = {-back.cylinder_d / 2:.3f} D, so $C$ = {back.cylinder_d:+.2f} D, "
    f"$S = M - C/2$ = {back.sphere_d:+.2f} D; the point lies at {2 * back.axis_deg:.0f}°, so the axis "
    f"is {back.axis_deg:.0f}°."
)
round_marks = checks.Marks(2)
# the axes 90 and 180 stay: one of J0 and J45 is none there
for chart_form in HiddenDraw("astigmatism/vector").cases(
    ((-1.0, -2.0, 30.0), (0.5, -1.5, 180.0), (2.0, -0.75, 120.0), (0.0, -1.0, 90.0)),
    by=[(0.3, 0.4, 8.0), (0.2, 0.4, 0), (0.4, 0.2, 12.0), (0, 0.3, 0)],
):
    true_vector = SpheroCylinder(*chart_form).power_vector()
    for place, name in enumerate(("M", "J0", "J45")):
        round_marks.step(
            checks.number,
            f"{name} of another refraction",
            lambda p=place, c=chart_form: entry(to_vector(*c), p, THREE_VECTOR),
            true_vector[place],
            unit="D",
            within=0.01,
            expect="one of M, J0, J45 in D",
        )
for chart_form in HiddenDraw("astigmatism/vector").cases(
    ((-0.5, -1.25, 50.0), (1.0, -2.25, 180.0), (0.25, -1.75, 165.0)),
    by=[(0.2, 0.3, 8.0), (0.3, 0.4, 0), (0.1, 0.4, 6.0)],
):
    given_vector = SpheroCylinder(*chart_form).power_vector()
    for place, name in enumerate(("sphere", "cylinder", "axis")):
        round_marks.step(
            checks.number,
            f"{name} of another vector",
            lambda p=place, v=given_vector: entry(from_vector(*v), p),
            chart_form[place],
            unit="degrees" if name == "axis" else "D",
            within=0.01,
            expect="the minus-cylinder form, axis above 0 and up to 180",
        )
round_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="error" goals="3 4"
# ## 7 · Find the slip (3 points)
#
# A colleague adds two lenses that lie on each other, in five steps. **Exactly one step is wrong**; what comes after
# goes on from it. Give the number of the wrong step, the value in **D** that this step should have, and the lens that
# comes out when all is right, as `[sphere, cylinder, axis]` in minus-cylinder form.

# %% given="error"
slip = Draw("astigmatism/error")
lower = SpheroCylinder(
    -slip.pick("first_sphere_d", 0.5, 0.75, step=0.25),
    -slip.pick("first_cylinder_d", 1.25, 2.5, step=0.25),
    slip.pick("first_axis_deg", 12, 28),
)
upper = SpheroCylinder(
    -slip.pick("second_sphere_d", 0.5, 0.75, step=0.25),
    -slip.pick("second_cylinder_d", 1.25, 2.5, step=0.25),
    slip.pick("second_axis_deg", 12, 28),
)
wrong = slip.pick("wrong", 1, 5)
lower_vector, upper_vector = lower.power_vector(), upper.power_vector()
slip_m = lower_vector.m_d + upper_vector.m_d
slip_j0 = lower_vector.j0_d + upper_vector.j0_d
slip_j45 = lower_vector.j45_d + upper_vector.j45_d
if wrong == 1:
    slip_m += (lower.cylinder_d + upper.cylinder_d) / 2
if wrong == 2:
    slip_j0 = lower_vector.j0_d - upper_vector.j0_d
if wrong == 3:
    slip_j45 = lower_vector.j45_d - upper.cylinder_d / 2 * np.sin(np.radians(upper.axis_deg))
slip_c = -np.hypot(slip_j0, slip_j45) * (1 if wrong == 4 else 2)
slip_s = slip_m + slip_c / 2 if wrong == 5 else slip_m - slip_c / 2
printed = [slip_m, slip_j0, slip_j45, slip_c, slip_s]
slip.tell(
    f"**{lower.written()}** and **{upper.written()}**\n\n"
    f"1. sum of the spherical equivalents, M = {printed[0]:+.3f} D\n"
    f"2. sum of J0 = {printed[1]:+.3f} D\n"
    f"3. sum of J45 = {printed[2]:+.3f} D\n"
    f"4. cylinder from J0 and J45 = {printed[3]:+.3f} D\n"
    f"5. sphere from M and the cylinder = {printed[4]:+.3f} D".replace("-", "−")
)


# %% answer="error"
def wrong_step():
    ### BEGIN SOLUTION
    return wrong
    ### END SOLUTION


def value_it_should_have():
    ### BEGIN SOLUTION
    total = lower + upper
    return [*total.power_vector(), total.cylinder_d, total.sphere_d][wrong - 1]
    ### END SOLUTION


def lens_when_all_is_right():
    ### BEGIN SOLUTION
    total = lower + upper
    return [total.sphere_d, total.cylinder_d, total.axis_deg]
    ### END SOLUTION


# %% check="error" points=2 hide=true
right_lens = lower + upper
right_steps = [*right_lens.power_vector(), right_lens.cylinder_d, right_lens.sphere_d]
error_marks = checks.Marks(2)
error_marks.step(
    checks.number,
    "number of the wrong step",
    wrong_step,
    wrong,
    unit="",
    within=0.1,
    expect="a whole number from 1 to 5: the first step that does not follow from what stands above it",
)
error_marks.step(
    checks.number,
    "value that this step should have",
    value_it_should_have,
    right_steps[wrong - 1],
    unit="D",
    within=0.02,
    expect="the step reckoned anew, in D",
    slips={
        "that is the value as it stands there.": printed[wrong - 1],
        "the size is right, the sign is not.": -right_steps[wrong - 1],
        "that is twice the right value: mind the half in C/2.": 2 * right_steps[wrong - 1],
    },
)
error_marks.score()

# %% hidden="error" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Step {wrong}: "
    + (
        "the cylinders were added whole, not halved",
        "J0 of the second lens was taken away instead of added",
        "the angle of the second lens was not doubled",
        "the cylinder is twice the length of the arrow",
        "half of the cylinder must be taken from M, not added",
    )[wrong - 1]
    + f". It should be {right_steps[wrong - 1]:+.3f} D. All right: "
    f"$M$ = {right_steps[0]:+.3f}, $J_0$ = {right_steps[1]:+.3f}, $J_{{45}}$ = {right_steps[2]:+.3f}, "
    f"$C$ = {right_steps[3]:+.3f}, $S$ = {right_steps[4]:+.3f} D, axis "
    f"{right_lens.axis_deg:.0f}°: {right_lens.written()}."
)
lens_marks = checks.Marks(1)
lens_marks.step(
    checks.number,
    "cylinder of the lens",
    lambda: entry(lens_when_all_is_right(), 1),
    right_lens.cylinder_d,
    unit="D",
    within=0.05,
    expect="a minus cylinder in D",
)
lens_marks.step(
    checks.number,
    "spherical equivalent of the lens",
    lambda: entry(lens_when_all_is_right(), 0) + entry(lens_when_all_is_right(), 1) / 2,
    right_steps[0],
    unit="D",
    within=0.05,
    expect="the sum of both spherical equivalents",
)
lens_marks.step(
    checks.axis,
    "axis of the lens",
    lambda: entry(lens_when_all_is_right(), 2),
    right_lens.axis_deg,
    within_deg=2,
    expect="half the angle of the summed arrow",
)
lens_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="sum" goals="4"
# ## 8 · One lens for two (3 points)
#
# You refract Evander Quist over his own glasses. Write a function that takes two refractions as lists
# `[sphere, cylinder, axis]` and returns the one **minus-cylinder** lens that does what both do together, as
# such a list.

# %% given="sum"
over = Draw("astigmatism/sum")
worn = [
    over.pick("worn_sphere_d", -4.0, 2.0, step=0.25),
    -over.pick("worn_cylinder_d", 1.5, 2.5, step=0.25),
    over.pick("worn_axis_deg", 20, 60),
]
added_lens = [
    over.pick("over_sphere_d", -0.75, 0.75, step=0.25),
    -over.pick("over_cylinder_d", 0.75, 1.25, step=0.25),
    worn[2] + over.choose("apart_deg", [*range(30, 41), *range(50, 56)]),
]
over.tell(
    f"His glasses are **{worn[0]:+.2f} {worn[1]:+.2f} × {worn[2]}**, over them you find "
    f"**{added_lens[0]:+.2f} {added_lens[1]:+.2f} × {added_lens[2]}**.".replace("-", "−")
)


# %% answer="sum" own="shared_utils.optics.sphero_cylinder.SpheroCylinder.__add__ shared_utils.optics.sphero_cylinder.SpheroCylinder.__sub__ shared_utils.optics.sphero_cylinder.SpheroCylinder._combined"
def one_lens(first, second):
    ### BEGIN SOLUTION
    total = np.zeros(3)
    for sphere_d, cylinder_d, axis_deg in (first, second):
        twice = np.radians(2 * axis_deg)
        half = -cylinder_d / 2
        total += [sphere_d - half, half * np.cos(twice), half * np.sin(twice)]
    m_d, j0_d, j45_d = total
    cylinder = -2 * np.hypot(j0_d, j45_d)
    axis = np.degrees(np.arctan2(j45_d, j0_d)) / 2 % 180
    return [float(m_d - cylinder / 2), float(cylinder), float(axis or 180.0)]
    ### END SOLUTION


# %% check="sum" points=2 hide=true
both = SpheroCylinder(*worn) + SpheroCylinder(*added_lens)
apart = np.radians(added_lens[2] - worn[2])
sum_marks = checks.Marks(2)
sum_marks.step(
    checks.number,
    "cylinder of the one lens",
    lambda: entry(one_lens(worn, added_lens), 1),
    both.cylinder_d,
    unit="D",
    within=0.02,
    expect="a minus cylinder in D, smaller than the sum of the two as numbers",
    slips={
        "the cylinders were added as numbers.": worn[1] + added_lens[1],
        "the angle between the arrows was not doubled.": -np.sqrt(
            worn[1] ** 2 + added_lens[1] ** 2 + 2 * worn[1] * added_lens[1] * np.cos(apart)
        ),
        "that is the length of the arrow; the cylinder is twice as long.": both.cylinder_d / 2,
        "the second lens was taken away instead of added.": (
            SpheroCylinder(*worn) - SpheroCylinder(*added_lens)
        ).cylinder_d,
    },
)
sum_marks.step(
    checks.number,
    "spherical equivalent of the one lens",
    lambda: entry(one_lens(worn, added_lens), 0) + entry(one_lens(worn, added_lens), 1) / 2,
    both.spherical_equivalent_d,
    unit="D",
    within=0.02,
    expect="your sphere and half of your cylinder, which must make the sum of both spherical equivalents",
    slips={
        "the spheres alone were added: what the cylinders lose becomes sphere.": worn[0]
        + added_lens[0]
        + both.cylinder_d / 2,
        "M was handed on as the sphere.": both.spherical_equivalent_d + both.cylinder_d / 2,
    },
)
sum_marks.step(
    checks.axis,
    "axis of the one lens",
    lambda: entry(one_lens(worn, added_lens), 2),
    both.axis_deg,
    within_deg=1,
    expect="half the angle of the summed arrow, nearer to the stronger cylinder",
    slips={
        "the axes were averaged.": (worn[2] + added_lens[2]) / 2,
        "the angle of the arrow was not halved.": 2 * both.axis_deg,
        "that is the axis of the glasses.": worn[2],
    },
)
sum_marks.score()

# %% hidden="sum" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"$M$ = {both.power_vector().m_d:+.3f}, $J_0$ = {both.power_vector().j0_d:+.3f}, $J_{{45}}$ = "
    f"{both.power_vector().j45_d:+.3f} D, each the sum of two. $C = -2\\sqrt{{J_0^2 + J_{{45}}^2}}$ = "
    f"{both.cylinder_d:+.3f} D, $S = M - C/2$ = {both.sphere_d:+.3f} D, axis half of "
    f"{2 * both.axis_deg:.1f}°: {both.written()}."
)
stack_marks = checks.Marks(1)
# the axis 180 stays: it is written so, not as 0
for below, above in HiddenDraw("astigmatism/sum").cases(
    (
        ([1.0, -2.0, 30], [-0.5, -1.0, 75]),
        ([0.0, -1.0, 180], [0.0, -1.0, 60]),
        ([-2.0, -0.75, 170], [0.5, -0.5, 15]),
    ),
    by=[([0.2, 0.3, 5], [0.2, 0.2, 5]), ([0, 0.2, 0], [0, 0.2, 6]), ([0.4, 0.1, 5], [0.2, 0.1, 5])],
):
    stack = SpheroCylinder(*below) + SpheroCylinder(*above)
    stack_marks.step(
        checks.number,
        "cylinder of another pair",
        lambda a=below, b=above: entry(one_lens(a, b), 1),
        stack.cylinder_d,
        unit="D",
        within=0.02,
        expect="the length of the summed arrow, twice",
    )
    stack_marks.step(
        checks.number,
        "spherical equivalent of another pair",
        lambda a=below, b=above: entry(one_lens(a, b), 0) + entry(one_lens(a, b), 1) / 2,
        stack.spherical_equivalent_d,
        unit="D",
        within=0.02,
        expect="the sum of both",
    )
    stack_marks.step(
        checks.axis,
        "axis of another pair",
        lambda a=below, b=above: entry(one_lens(a, b), 2),
        stack.axis_deg,
        within_deg=1,
        expect="half the angle of the summed arrow",
    )
stack_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="readings" goals="3 4"
# ## 9 · Six readings, one blink (3 points)
#
# The autorefractor has measured Noor Haddad's eye six times; once she blinked or accommodated. Write two functions that take a list of
# readings `[sphere, cylinder, axis]`. `mean_reading` returns their mean, as such a list in minus-cylinder
# form: average $M$, $J_0$ and $J_{45}$, then go back. `odd_one` returns the number, counted from 1, of the reading that lies
# farthest from the mean of all: the longest difference of the vectors $(M, J_0, J_{45})$. Then take the mean
# of the other five.

# %% given="readings"
meter = Draw("astigmatism/readings")
base_sphere_d = meter.pick("sphere_d", -3.0, 1.0, step=0.25)
base_cylinder_d = -meter.pick("cylinder_d", 0.75, 1.5, step=0.25)
turns_deg = [meter.pick(f"turn_{n}", low, low + 8) for n, low in enumerate((-26, -16, 4, 12, 20))]
readings = [[base_sphere_d, base_cylinder_d, (180 + turn - 1) % 180 + 1] for turn in turns_deg]
odd_place = meter.pick("odd_place", 1, 6)
odd_reading = [
    base_sphere_d - meter.pick("blink_d", 1.25, 2.0, step=0.25),
    base_cylinder_d,
    meter.pick("odd_axis_deg", 60, 120),
]
readings.insert(odd_place - 1, odd_reading)
meter.tell(
    "\n".join(
        f"{n}. {sphere:+.2f} {cylinder:+.2f} × {axis}".replace("-", "−")
        for n, (sphere, cylinder, axis) in enumerate(readings, start=1)
    )
)


# %% answer="readings"
def mean_reading(readings):
    ### BEGIN SOLUTION
    sphere_d, cylinder_d, axis_deg = np.array(readings, float).T
    twice, half = np.radians(2 * axis_deg), -cylinder_d / 2
    m_d, j0_d, j45_d = (
        np.mean(part) for part in (sphere_d - half, half * np.cos(twice), half * np.sin(twice))
    )
    cylinder = -2 * np.hypot(j0_d, j45_d)
    axis = np.degrees(np.arctan2(j45_d, j0_d)) / 2 % 180
    return [float(m_d - cylinder / 2), float(cylinder), float(axis or 180.0)]
    ### END SOLUTION


def odd_one(readings):
    ### BEGIN SOLUTION
    sphere_d, cylinder_d, axis_deg = np.array(readings, float).T
    twice, half = np.radians(2 * axis_deg), -cylinder_d / 2
    vectors = np.array([sphere_d - half, half * np.cos(twice), half * np.sin(twice)])
    away = np.linalg.norm(vectors - vectors.mean(axis=1, keepdims=True), axis=0)
    return int(np.argmax(away)) + 1
    ### END SOLUTION


# %% check="readings" points=2 hide=true
def true_mean(rows):
    vectors = np.transpose(SpheroCylinder(*np.transpose(rows)).power_vector())
    return SpheroCylinder.from_power_vector(*vectors.mean(axis=0)), vectors


def truly_odd(rows):
    vectors = true_mean(rows)[1]
    return int(np.argmax(np.linalg.norm(vectors - vectors.mean(axis=0), axis=1))) + 1


others = [row for n, row in enumerate(readings, start=1) if n != truly_odd(readings)]
right_mean, _ = true_mean(others)
readings_marks = checks.Marks(2)
readings_marks.step(
    checks.number,
    "number of the odd reading",
    lambda: odd_one(readings),
    truly_odd(readings),
    unit="",
    within=0.1,
    expect="a whole number from 1 to 6, counted from 1",
    slips={"counted from 0; the first reading is number 1.": truly_odd(readings) - 1},
)
readings_marks.step(
    checks.number,
    "cylinder of the mean of the other five",
    lambda: entry(mean_reading(others), 1),
    right_mean.cylinder_d,
    unit="D",
    within=0.02,
    expect="a minus cylinder, smaller than the readings because their axes scatter",
    slips={
        "the cylinders were averaged as numbers.": base_cylinder_d,
        "that is the mean arrow; the cylinder is twice as long.": right_mean.cylinder_d / 2,
    },
)
readings_marks.step(
    checks.axis,
    "axis of the mean of the other five",
    lambda: entry(mean_reading(others), 2),
    right_mean.axis_deg,
    within_deg=1.5,
    expect="an axis near 180, where all five lie",
    slips={
        "the axes were averaged as numbers; 1 and 179 are neighbours.": np.mean(
            [row[2] for row in others]
        ),
    },
)
readings_marks.step(
    checks.number,
    "spherical equivalent of the mean of the other five",
    lambda: entry(mean_reading(others), 0) + entry(mean_reading(others), 1) / 2,
    right_mean.spherical_equivalent_d,
    unit="D",
    within=0.02,
    expect="your sphere and half of your cylinder: the mean of M",
    slips={
        "M was handed on as the sphere.": right_mean.spherical_equivalent_d
        + right_mean.cylinder_d / 2,
        "the spheres were averaged; what the cylinders lose becomes sphere.": base_sphere_d
        + right_mean.cylinder_d / 2,
    },
)
readings_marks.score()

# %% hidden="readings" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Reading {truly_odd(readings)} lies farthest from the mean of all. The other five have the mean "
    f"$M$ = {right_mean.power_vector().m_d:+.3f}, $J_0$ = {right_mean.power_vector().j0_d:+.3f}, "
    f"$J_{{45}}$ = {right_mean.power_vector().j45_d:+.3f} D, which is {right_mean.written()}."
)
scatter_marks = checks.Marks(1)
for rows in HiddenDraw("astigmatism/readings").cases(
    (
        [[-1.0, -1.0, 10], [-1.0, -1.0, 170], [-1.25, -0.75, 5], [-3.0, -1.0, 175]],
        [[0.5, -0.5, 45], [0.5, -2.5, 130], [0.25, -0.75, 50], [0.5, -0.5, 38]],
    ),
    by=[[(0.15, 0.1, 3)] * 4] * 2,
):
    found, _ = true_mean(rows)
    scatter_marks.step(
        checks.number,
        "odd one of other readings",
        lambda r=rows: odd_one(r),
        truly_odd(rows),
        unit="",
        within=0.1,
        expect="the number of the reading farthest from the mean, counted from 1",
    )
    scatter_marks.step(
        checks.number,
        "mean cylinder of other readings",
        lambda r=rows: entry(mean_reading(r), 1),
        found.cylinder_d,
        unit="D",
        within=0.02,
        expect="from the mean of J0 and of J45",
    )
    scatter_marks.step(
        checks.axis,
        "mean axis of other readings",
        lambda r=rows: entry(mean_reading(r), 2),
        found.axis_deg,
        within_deg=1.5,
        expect="from the mean of J0 and of J45",
    )
scatter_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="why" goals="3 4"
# ## 10 · In your own words (4 points)
#
# A student finds −1.00 × 180 on one day and −1.00 × 90 on the next and writes: “On average he needs −1.00 × 135.” In
# three to six sentences, tell them what is wrong, what the mean really is, why the angle is doubled, and what
# two such readings should make them do.

# %% [markdown] written="why" points=4
# ### BEGIN MARK SCHEME
# One point each:
# 1. Axes must not be averaged: 135 lies as far from both readings as an axis can.
# 2. The mean of the vectors is M −0.50 D with J0 and J45 zero: a sphere of −0.50 D, no cylinder, no axis.
# 3. Half a turn brings a cylinder back to itself, so 180° of axis fill the circle; at twice the angle the two
#    readings are opposite arrows and cancel.
# 4. Two readings that disagree by 90° are no basis for a mean: repeat them, look for the cause (surface, blink,
#    a swapped eye, a transposition between plus and minus form).
# ### END MARK SCHEME
# An axis is not a number on a line: 135 lies 45° from both readings, the farthest that an axis can lie. Cylinders
# add at twice their axis, because half a turn brings them back to themselves. There −1.00 × 180 and −1.00 × 90
# are two arrows of equal length in opposite directions: they cancel. What is left is the mean of M, −0.50 D, a sphere
# without a cylinder. But a mean of two such readings is not worth prescribing. I would measure again, treat
# the ocular surface, and ask whether somebody changed between plus and minus form.
