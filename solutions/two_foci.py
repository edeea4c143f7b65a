# %% [markdown] question="start"
# # Problems {{number two_foci}} · {{title two_foci}}
#
# Eight problems and one written answer, 30 points, about 40 minutes. The lesson is
# [{{number two_foci}} {{title two_foci}}](../../lessons/{{stem two_foci}}.ipynb).
#
# Run the cells from the top. Each problem gives you numbers of your own. Write your answer where it
# says `YOUR CODE HERE`, run the check below it, and read its one sentence. When you are done, save and press
# **Check my answers** below, or run `lens-course check {{number two_foci}}` in a terminal.
#
# Units: steps are in wavelengths of green (555 nm) unless a problem says otherwise; adds are in D, and each
# problem says in which plane; pupils are diameters in mm; a milliradian is 3.438 arcmin.
#
# *All patients and lenses are invented. For learning, not for patient care: follow the lens's labelling, local
# rules and the judgement of a licensed practitioner.*

# %% given="setup"
import math

from shared_utils.problems import check_button, checks
from shared_utils.problems.hidden_numbers import HiddenDraw
from shared_utils.problems.numbers import Draw, learner_id

ARCMIN_PER_MRAD = 180 * 60 / math.pi / 1000
print(f"Numbers for learner: {learner_id()}")
check_button.show("two_foci")


def own_or(right, call):
    """The learner's own earlier value, if it can be gone on with."""
    try:
        own = float(call())
    except Exception:
        return right
    return own if 0.5 < own / right < 2 else right


# %% [markdown] question="share" goals="1"
# ## 1 · The share of an order (4 points)
#
# Write a function that takes the height of the steps in **wavelengths** and the number of an order, and
# returns the share of the light that goes to it, $\mathrm{sinc}^2(\alpha - m)$, a number from 0 to 1. Mind the
# place where sine and denominator are both zero.

# %% given="share"
share = Draw("two_foci/share")
share_step = share.pick("step", 0.22, 0.78, step=0.01)
share_order = share.choose("order", (0, 1))
share.tell(
    f"The lens of Orsolya Brandt has steps of **{share_step:.2f} wavelengths**. What share goes to order "
    f"**{share_order}**?"
)


# %% answer="share" own="shared_utils.optics.lenses.Lens.order_energies shared_utils.optics.lenses.Lens.energy_budget shared_utils.cases.two_foci.shares shared_utils.cases.two_foci.order_shares"
def order_share(step_waves, order):
    ### BEGIN SOLUTION
    x = math.pi * (step_waves - order)
    return 1.0 if abs(x) < 1e-12 else (math.sin(x) / x) ** 2
    ### END SOLUTION


# %% check="share" points=2 hide=true
def sinc(x):
    return 1.0 if abs(x) < 1e-12 else math.sin(math.pi * x) / (math.pi * x)


share_want = sinc(share_step - share_order) ** 2
checks.number(
    "share of the light",
    order_share(share_step, share_order),
    share_want,
    unit="",
    within=0.005,
    expect="a share from 0 to 1",
    slips={
        "that is the amplitude; the share of the light is its square.": sinc(
            share_step - share_order
        ),
        "the sine took degrees; it wants radians.": (
            math.sin(math.radians(math.pi * (share_step - share_order)))
            / (math.pi * (share_step - share_order))
        )
        ** 2,
        "π is missing in the denominator.": (sinc(share_step - share_order) * math.pi) ** 2,
    },
)

# %% hidden="share" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"$\\alpha - m = {share_step:.2f} - {share_order} = {share_step - share_order:.2f}$; "
    f"$\\sin({share_step - share_order:.2f}\\pi) / ({share_step - share_order:.2f}\\pi) = "
    f"{sinc(share_step - share_order):.3f}$; its square is {share_want:.3f}."
)
share_marks = checks.Marks(2)
# a whole order stays, and no step at all: all of the light goes one way
for height, number in HiddenDraw("two_foci/share").cases(
    ((0.5, 1), (1.4, 1), (1.4, 2), (1.0, 1), (0.5, -1), (0.0, 1)),
    by=[(0.1, 0), (0.1, 0), (0.1, 0), 0, (0.1, 0), 0],
):
    share_marks.step(
        checks.number,
        "the same function for another order",
        lambda a=height, m=number: order_share(a, m),
        sinc(height - number) ** 2,
        unit="",
        within=0.005,
        expect="1 where the step is the order's own number, 0 at other whole steps",
    )
share_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="colour" goals="1"
# ## 2 · Another colour (3 points)
#
# The steps are a fixed path in the material. Write two functions that take the height of the steps in
# wavelengths of green and the colour of the light in **nm**: one returns the height in wavelengths of
# **that** colour; the other takes also the add at 555 nm in **D** and returns the power of order 1 in that
# colour, in **D**. The power of an order grows in proportion to the wavelength.

# %% given="colour"
colour = Draw("two_foci/colour")
colour_step = colour.pick("step", 0.35, 0.65, step=0.05)
colour_nm = colour.choose("nm", (450, 460, 470, 480, 490, 610, 620, 630, 640, 650))
colour_add_d = colour.pick("add_d", 2.0, 3.5, step=0.25)
colour.tell(
    f"Steps of **{colour_step:.2f} wavelengths** of green, add **{colour_add_d:.2f} D**, light of "
    f"**{colour_nm} nm**."
)


# %% answer="colour" own="shared_utils.optics.lenses.Lens.order_power_d"
def step_in_colour(step_waves, wavelength_nm):
    ### BEGIN SOLUTION
    return step_waves * 555 / wavelength_nm
    ### END SOLUTION


def add_in_colour_d(add_d, wavelength_nm):
    ### BEGIN SOLUTION
    return add_d * wavelength_nm / 555
    ### END SOLUTION


# %% check="colour" points=2 hide=true
colour_marks = checks.Marks(2)
colour_marks.step(
    checks.number,
    "height of the steps in this colour",
    lambda: step_in_colour(colour_step, colour_nm),
    colour_step * 555 / colour_nm,
    unit="wavelengths",
    within=0.005,
    expect="the same path, counted in shorter waves more of them, in longer waves fewer",
    slips={
        "the ratio is upside down: shorter waves fit more often into the same path.": colour_step
        * colour_nm
        / 555,
        "that is the height in green.": colour_step,
    },
)
colour_marks.step(
    checks.number,
    "power of order 1 in this colour",
    lambda: add_in_colour_d(colour_add_d, colour_nm),
    colour_add_d * colour_nm / 555,
    unit="D",
    within=0.02,
    expect="the add, weaker in blue and stronger in red",
    slips={
        "the ratio is upside down: diffraction bends long waves more.": colour_add_d
        * 555
        / colour_nm,
        "that is the add in green.": colour_add_d,
    },
)
colour_marks.score()

# %% hidden="colour" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Height: ${colour_step:.2f} \\cdot 555 / {colour_nm} = {colour_step * 555 / colour_nm:.3f}$ wavelengths. "
    f"Order 1: ${colour_add_d:.2f}\\ \\mathrm{{D}} \\cdot {colour_nm} / 555 = {colour_add_d * colour_nm / 555:.2f}$ D."
)
hue_marks = checks.Marks(1)
for height, nm, power_d in HiddenDraw("two_foci/colour").cases(
    ((0.5, 400.0, 3.0), (1.4, 700.0, 1.35), (0.3, 555.0, 2.5)), by=(0.1, 15.0, 0.3)
):
    hue_marks.step(
        checks.number,
        "height in another colour",
        lambda a=height, w=nm: step_in_colour(a, w),
        height * 555 / nm,
        unit="wavelengths",
        within=0.005,
        expect="the same path counted in other waves",
    )
    hue_marks.step(
        checks.number,
        "power in another colour",
        lambda d=power_d, w=nm: add_in_colour_d(d, w),
        power_d * nm / 555,
        unit="D",
        within=0.02,
        expect="in proportion to the wavelength",
    )
hue_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="distance" goals="2"
# ## 3 · From the printed add to the page (4 points)
#
# Write two functions. The first takes the add in the plane of the lens in **D**, the position of the lens
# behind the cornea in **mm** and the power of the cornea in **D**, and returns the add at the cornea in
# **D**. The beam at the lens is $1 - \frac{d}{n}K$ times as wide as at the cornea, $n = 1.336$. The second
# takes the same and the refraction left over, at the cornea and in **D**, and returns the distance of the near
# focus in **cm**, positive.

# %% given="distance"
distance = Draw("two_foci/distance")
printed_add_d = distance.pick("add_d", 2.75, 4.25, step=0.25)
position_mm = distance.pick("position_mm", 4.6, 5.8, step=0.1)
cornea_d = distance.pick("cornea_d", 41.0, 46.0, step=0.25)
left_over_d = distance.choose("left_over_d", (-0.75, -0.5, -0.25, 0.25, 0.5))
distance.tell(
    f"Gwendal Moreau's lens: printed add **{printed_add_d:+.2f} D** in its own plane, "
    f"**{position_mm:.1f} mm** behind a cornea of **{cornea_d:.2f} D**. Left over: "
    f"**{left_over_d:+.2f} D** at the cornea."
)


# %% answer="distance" own="shared_utils.optics.lenses.corneal_add_d shared_utils.cases.two_foci.add_steps"
def add_at_cornea_d(lens_add_d, lens_position_mm, corneal_power_d):
    ### BEGIN SOLUTION
    ratio = 1 - lens_position_mm / 1000 / 1.336 * corneal_power_d
    return lens_add_d * ratio**2
    ### END SOLUTION


def near_focus_cm(lens_add_d, lens_position_mm, corneal_power_d, refraction_d):
    ### BEGIN SOLUTION
    add_d = add_at_cornea_d(lens_add_d, lens_position_mm, corneal_power_d)
    return 100 / (add_d - refraction_d)
    ### END SOLUTION


# %% check="distance" points=2 hide=true
beam_ratio = 1 - position_mm / 1000 / 1.336 * cornea_d
own_add_d = own_or(
    printed_add_d * beam_ratio**2, lambda: add_at_cornea_d(printed_add_d, position_mm, cornea_d)
)
distance_marks = checks.Marks(2)
distance_marks.step(
    checks.number,
    "add at the cornea",
    lambda: add_at_cornea_d(printed_add_d, position_mm, cornea_d),
    printed_add_d * beam_ratio**2,
    unit="D",
    within=0.02,
    expect="an add at the corneal plane, about two thirds of what is printed",
    slips={
        "that is the add as it is printed, in the plane of the lens.": printed_add_d,
        "the ratio counts twice: the add goes with its square.": printed_add_d * beam_ratio,
        "it goes the other way: at the cornea the add is weaker.": printed_add_d / beam_ratio**2,
        "the index 1.336 was left out.": printed_add_d * (1 - position_mm / 1000 * cornea_d) ** 2,
    },
)
distance_marks.step(
    checks.number,
    "near focus",
    lambda: near_focus_cm(printed_add_d, position_mm, cornea_d, left_over_d),
    100 / (own_add_d - left_over_d),
    unit="cm",
    within=0.5,
    expect="a distance in cm, nearer than by the add alone if the eye is myopic",
    slips={
        "the sign of the refraction: myopia brings the focus nearer.": 100
        / (own_add_d + left_over_d),
        "the refraction left over was forgotten.": 100 / own_add_d,
        "that is in metres; give centimetres.": 1 / (own_add_d - left_over_d),
    },
)
distance_marks.score()

# %% hidden="distance" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Ratio $1 - {position_mm / 1000:.4f}/1.336 \\cdot {cornea_d:.2f} = {beam_ratio:.3f}$; add at the cornea "
    f"${printed_add_d:.2f} \\cdot {beam_ratio:.3f}^2 = {printed_add_d * beam_ratio**2:.2f}$ D. With "
    f"{left_over_d:+.2f} D left over the near focus needs {printed_add_d * beam_ratio**2 - left_over_d:.2f} D: "
    f"{100 / (printed_add_d * beam_ratio**2 - left_over_d):.1f} cm."
)
near_marks = checks.Marks(2)
for paper_d, behind_mm, front_d, error_d in HiddenDraw("two_foci/distance").cases(
    (
        (3.5, 5.4, 43.0, 0.0),
        (4.0, 5.0, 44.0, -1.0),
        (3.0, 6.2, 40.0, 0.25),
    ),
    by=(0.3, 0.3, 1.0, 0.15),
):
    near_marks.step(
        checks.number,
        "add at the cornea of another eye",
        lambda a=paper_d, b=behind_mm, k=front_d: add_at_cornea_d(a, b, k),
        paper_d * (1 - behind_mm / 1336 * front_d) ** 2,
        unit="D",
        within=0.02,
        expect="the printed add times the square of the ratio",
    )
    near_marks.step(
        checks.number,
        "near focus of another eye",
        lambda a=paper_d, b=behind_mm, k=front_d, r=error_d: near_focus_cm(a, b, k, r),
        100 / (paper_d * (1 - behind_mm / 1336 * front_d) ** 2 - error_d),
        unit="cm",
        within=0.5,
        expect="100 over (add minus refraction)",
    )
near_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="rings" goals="2"
# ## 4 · The width of the rings (2 points)
#
# The rings of a lens end at the radii $r_k = \sqrt{2 k \lambda / A}$ with the add $A$ at the cornea, seen in
# the entrance pupil. Write a function that takes the add in **D**, the number of the ring, counted from 1,
# and the wavelength in **nm**, and returns the radius in **mm**.

# %% given="rings"
rings = Draw("two_foci/rings")
rings_add_d = rings.pick("add_d", 1.5, 3.5, step=0.05)
rings_number = rings.pick("ring", 2, 9)
rings.tell(f"Add **{rings_add_d:.2f} D** at the cornea, ring **{rings_number}**, 555 nm.")


# %% answer="rings" own="shared_utils.optics.lenses.Lens.zone_radii_mm"
def ring_radius_mm(add_d, ring, wavelength_nm):
    ### BEGIN SOLUTION
    return 1000 * math.sqrt(2 * ring * wavelength_nm * 1e-9 / add_d)
    ### END SOLUTION


# %% check="rings" points=1 hide=true
rings_want = 1000 * math.sqrt(2 * rings_number * 555e-9 / rings_add_d)
checks.number(
    "radius of the ring",
    ring_radius_mm(rings_add_d, rings_number, 555),
    rings_want,
    unit="mm",
    within=0.01,
    expect="a radius in mm, a millimetre or two",
    slips={
        "that is the diameter.": 2 * rings_want,
        "the 2 under the root was left out.": rings_want / math.sqrt(2),
        "that is in metres; give millimetres.": rings_want / 1000,
    },
)

# %% hidden="rings" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"$r = \\sqrt{{2 \\cdot {rings_number} \\cdot 555 \\cdot 10^{{-9}}\\ \\mathrm{{m}} / {rings_add_d:.2f}\\ \\mathrm{{D}}}} = "
    f"{rings_want / 1000:.6f}$ m $= {rings_want:.2f}$ mm."
)
for strength_d, count, nm in HiddenDraw("two_foci/rings").cases(
    ((4.0, 1, 555.0), (2.5, 5, 555.0), (1.35, 3, 546.0)),
    by=[(0.4, 0, 10.0), (0.3, 1, 10.0), (0.15, 1, 10.0)],
):
    checks.number(
        "radius of another ring",
        ring_radius_mm(strength_d, count, nm),
        1000 * math.sqrt(2 * count * nm * 1e-9 / strength_d),
        unit="mm",
        within=0.01,
        expect="the root of 2 k λ over the add, in mm",
    )
### END HIDDEN TESTS

# %% [markdown] question="halo" goals="4"
# ## 5 · The halo (3 points)
#
# Write two functions. The first takes the pupil in **mm** and the add at the cornea in **D** and returns the
# diameter of the halo around a distant lamp in **arcmin**. The second takes that and a distance in **m**,
# and returns how wide the halo looks at the distance of the lamp, in **cm**: the angle in radians times the
# distance.

# %% given="halo"
halo = Draw("two_foci/halo")
halo_pupil_mm = halo.pick("pupil_mm", 3.5, 6.5, step=0.1)
halo_add_d = halo.pick("add_d", 1.5, 3.0, step=0.25)
lamp_m = halo.pick("lamp_m", 20, 90, step=10)
halo.tell(
    f"Pupil of Thaddeus Okoro at night **{halo_pupil_mm:.1f} mm**, add **{halo_add_d:.2f} D** at the "
    f"cornea; the headlights are **{lamp_m} m** away."
)


# %% answer="halo" own="shared_utils.optics.retina.geometric_halo_arcmin shared_utils.optics.retina.halo_diameter_arcmin shared_utils.cases.two_foci.lamp shared_utils.optics.acuity.blur_circle_arcmin"
def halo_arcmin(pupil_mm, add_d):
    ### BEGIN SOLUTION
    return pupil_mm * add_d * ARCMIN_PER_MRAD
    ### END SOLUTION


def halo_width_cm(angle_arcmin, distance_m):
    ### BEGIN SOLUTION
    return angle_arcmin / ARCMIN_PER_MRAD / 1000 * distance_m * 100
    ### END SOLUTION


# %% check="halo" points=2 hide=true
halo_mrad = halo_pupil_mm * halo_add_d
own_halo = own_or(halo_mrad * ARCMIN_PER_MRAD, lambda: halo_arcmin(halo_pupil_mm, halo_add_d))
halo_marks = checks.Marks(2)
halo_marks.step(
    checks.number,
    "diameter of the halo",
    lambda: halo_arcmin(halo_pupil_mm, halo_add_d),
    halo_mrad * ARCMIN_PER_MRAD,
    unit="arcmin",
    within=0.2,
    expect="pupil times add, in arcmin",
    slips={
        "that is in milliradians; one of them is 3.438 arcmin.": halo_mrad,
        "that is the radius; the pupil's diameter makes the diameter.": halo_mrad
        * ARCMIN_PER_MRAD
        / 2,
        "that is in degrees; a degree has 60 arcmin.": halo_mrad * ARCMIN_PER_MRAD / 60,
    },
)
halo_marks.step(
    checks.number,
    "width at the lamp's distance",
    lambda: halo_width_cm(own_halo, lamp_m),
    own_halo / ARCMIN_PER_MRAD / 10 * lamp_m,
    unit="cm",
    within=0.5,
    expect="the angle in radians times the distance, in cm",
    slips={
        "that is in metres; give centimetres.": own_halo / ARCMIN_PER_MRAD / 1000 * lamp_m,
        "arcminutes were not turned into radians.": own_halo * lamp_m,
    },
)
halo_marks.score()

# %% hidden="halo" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"${halo_pupil_mm:.1f}\\ \\mathrm{{mm}} \\cdot {halo_add_d:.2f}\\ \\mathrm{{D}} = {halo_mrad:.2f}$ mrad "
    f"$= {halo_mrad * ARCMIN_PER_MRAD:.1f}$ arcmin. At {lamp_m} m: ${halo_mrad / 1000:.5f} \\cdot {lamp_m}\\ \\mathrm{{m}} = "
    f"{halo_mrad * lamp_m / 10:.0f}$ cm."
)
ring_marks = checks.Marks(1)
for stop_mm, power_d, wide_mrad, far_m in HiddenDraw("two_foci/halo").cases(
    (
        (5.0, 2.5, 11.013, 100.0),
        (3.0, 1.35, 5.007, 10.0),
        (6.5, 3.5, 20.711, 50.0),
    ),
    by=(0.4, 0.2, 0.8, 5.0),
):
    ring_marks.step(
        checks.number,
        "halo of another eye",
        lambda p=stop_mm, a=power_d: halo_arcmin(p, a),
        stop_mm * power_d * ARCMIN_PER_MRAD,
        unit="arcmin",
        within=0.2,
        expect="pupil times add, in arcmin",
    )
    ring_marks.step(
        checks.number,
        "its width at another distance",
        lambda w=wide_mrad, d=far_m: halo_width_cm(w * ARCMIN_PER_MRAD, d),
        wide_mrad / 10 * far_m,
        unit="cm",
        within=0.5,
        expect="the angle in radians times the distance, in cm",
    )
ring_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="contrast" goals="3"
# ## 6 · What is left of the contrast (3 points)
#
# Write two functions: the contrast on the retina that a focus gives, from its share of the light and the
# contrast of a monofocal lens (the rest of the light makes an even grey); and how many log units that is
# **below** the monofocal, a positive number.

# %% given="contrast"
contrast = Draw("two_foci/contrast")
focus_share = contrast.pick("share", 0.18, 0.40, step=0.01)
whole_contrast = contrast.pick("monofocal", 0.42, 0.80, step=0.01)
contrast.tell(
    f"The focus gets **{100 * focus_share:.0f} %** of the light; a monofocal lens would leave a contrast of "
    f"**{whole_contrast:.2f}**."
)


# %% answer="contrast"
def contrast_in_focus(share_of_light, monofocal_contrast):
    ### BEGIN SOLUTION
    return share_of_light * monofocal_contrast
    ### END SOLUTION


def log_units_below(share_of_light, monofocal_contrast):
    ### BEGIN SOLUTION
    return math.log10(monofocal_contrast / contrast_in_focus(share_of_light, monofocal_contrast))
    ### END SOLUTION


# %% check="contrast" points=2 hide=true
contrast_marks = checks.Marks(2)
contrast_marks.step(
    checks.number,
    "contrast in focus",
    lambda: contrast_in_focus(focus_share, whole_contrast),
    focus_share * whole_contrast,
    unit="",
    within=0.004,
    expect="the share of the light times the contrast of the monofocal",
    slips={
        "that is the monofocal's: grey light dilutes contrast, it does not leave it alone.": whole_contrast,
        "that is the share alone; the monofocal itself has less than full contrast.": focus_share,
    },
)
contrast_marks.step(
    checks.number,
    "log units below the monofocal",
    lambda: log_units_below(focus_share, whole_contrast),
    -math.log10(focus_share),
    unit="log units",
    within=0.01,
    expect="a positive number below 1; base 10",
    slips={
        "that is the natural logarithm; contrast sensitivity goes by base 10.": -math.log(
            focus_share
        ),
        "the sign: the problem asks how far below, a positive number.": math.log10(focus_share),
        "that is the part that is lost; log units are the logarithm of what is left.": 1
        - focus_share,
    },
)
contrast_marks.score()

# %% hidden="contrast" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Contrast ${focus_share:.2f} \\cdot {whole_contrast:.2f} = {focus_share * whole_contrast:.3f}$. Below the "
    f"monofocal: $-\\log_{{10}} {focus_share:.2f} = {-math.log10(focus_share):.2f}$ log units, whatever the "
    "monofocal has."
)
dim_marks = checks.Marks(1)
# a share of 1 stays: nothing is lost
for part, whole in HiddenDraw("two_foci/contrast").cases(
    ((0.405, 0.62), (0.2, 0.5), (1.0, 0.8)), by=[(0.05, 0.08), (0.05, 0.08), (0, 0.08)]
):
    dim_marks.step(
        checks.number,
        "contrast in another focus",
        lambda a=part, b=whole: contrast_in_focus(a, b),
        part * whole,
        unit="",
        within=0.004,
        expect="the share times the contrast of the monofocal",
    )
    dim_marks.step(
        checks.number,
        "log units of another focus",
        lambda a=part, b=whole: log_units_below(a, b),
        -math.log10(part),
        unit="log units",
        within=0.01,
        expect="positive for a loss, 0 if all light is in the focus",
    )
dim_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="error" goals="2 4"
# ## 7 · Find the error (4 points)
#
# A colleague reckons near focus and halo for Ingrid Vasquez, from a printed add. **One** of the five steps is
# wrong; the later ones only carry the mistake on. Give the number of that step and the value it should
# have, in the unit that stands there. Then write the function that does it right: the halo in **arcmin**
# from the printed add in **D**, the ratio of the beam and the pupil in **mm**.

# %% given="error"
error = Draw("two_foci/error")
error_add_d = error.pick("add_d", 2.75, 4.25, step=0.25)
error_position_mm = error.pick("position_mm", 4.6, 5.8, step=0.1)
error_cornea_d = error.pick("cornea_d", 41.0, 46.0, step=0.5)
error_pupil_mm = error.pick("pupil_mm", 4.0, 6.5, step=0.1)
error_at = error.pick("step", 1, 5)
value_1 = 1 - error_position_mm / 1000 * error_cornea_d / (1.0 if error_at == 1 else 1.336)
value_2 = error_add_d * value_1 ** (1 if error_at == 2 else 2)
value_3 = 40 / value_2 if error_at == 3 else 100 / value_2
value_4 = error_pupil_mm / value_2 if error_at == 4 else error_pupil_mm * value_2
value_5 = value_4 * (60 / 1000 if error_at == 5 else ARCMIN_PER_MRAD)
colleague = [value_1, value_2, value_3, value_4, value_5]
error.tell(
    f"Printed add **{error_add_d:+.2f} D**, lens **{error_position_mm:.1f} mm** behind a cornea of "
    f"**{error_cornea_d:.1f} D**, pupil at night **{error_pupil_mm:.1f} mm**.\n\n"
    f"1. Ratio of the beam at the lens to that at the cornea: {value_1:.4f}\n"
    f"2. Add at the cornea: {value_2:.3f} D\n"
    f"3. Distance of the near focus: {value_3:.1f} cm\n"
    f"4. Halo: {value_4:.2f} mrad\n"
    f"5. The same in arcmin: {value_5:.2f} arcmin"
)


# %% answer="error" own="shared_utils.optics.lenses.corneal_add_d shared_utils.optics.retina.geometric_halo_arcmin shared_utils.cases.two_foci.add_steps"
def wrong_step():
    ### BEGIN SOLUTION
    return right_step()[0]
    ### END SOLUTION


def corrected_value():
    ### BEGIN SOLUTION
    return right_step()[1]


def right_step():
    carried = [
        1 - error_position_mm / 1336 * error_cornea_d,
        error_add_d * colleague[0] ** 2,
        100 / colleague[1],
        error_pupil_mm * colleague[1],
        colleague[3] * ARCMIN_PER_MRAD,
    ]
    wrong = [abs(a - b) > 1e-6 for a, b in zip(colleague, carried, strict=True)].index(True)
    return wrong + 1, carried[wrong]
    ### END SOLUTION


def halo_of_printed_add_arcmin(lens_add_d, beam_ratio, pupil_mm):
    ### BEGIN SOLUTION
    return pupil_mm * lens_add_d * beam_ratio**2 * ARCMIN_PER_MRAD
    ### END SOLUTION


# %% check="error" points=2 hide=true
error_right = {
    1: 1 - error_position_mm / 1336 * error_cornea_d,
    2: error_add_d * value_1**2,
    3: 100 / value_2,
    4: error_pupil_mm * value_2,
    5: value_4 * ARCMIN_PER_MRAD,
}[error_at]
error_near = 0.002 if error_at == 1 else 0.02 if error_at == 2 else 0.1
error_marks = checks.Marks(2)
error_marks.step(
    checks.number,
    "number of the wrong step",
    lambda: wrong_step(),
    error_at,
    unit="",
    within=0.1,
    expect="one of 1 to 5: the first step that does not follow from the ones above",
    slips={
        "that step only carries on what came before; look further up."
        if other > error_at
        else "that step holds; reckon it again, then the next.": other
        for other in (error_at + 1, error_at - 1)
        if 1 <= other <= 5
    },
)
error_marks.step(
    checks.number,
    "what that step should give",
    lambda: corrected_value(),
    error_right,
    unit="",
    within=error_near,
    expect="the value of the one wrong step, in the unit that stands there",
    slips={
        "that is what the colleague has.": colleague[error_at - 1],
        "the sign: everything here is positive.": -error_right,
    },
)
error_marks.score()

# %% hidden="error" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
error_ratio = 1 - error_position_mm / 1336 * error_cornea_d
checks.working(
    f"Step {error_at} is wrong: there stands {colleague[error_at - 1]:.3f}, it should be {error_right:.3f}. All right: ratio "
    f"{error_ratio:.4f}, add at the cornea {error_add_d * error_ratio**2:.2f} D, near focus "
    f"{100 / (error_add_d * error_ratio**2):.1f} cm, halo {error_pupil_mm * error_add_d * error_ratio**2:.2f} mrad "
    f"= {error_pupil_mm * error_add_d * error_ratio**2 * ARCMIN_PER_MRAD:.1f} arcmin."
)
paper_marks = checks.Marks(2)
for paper_d, narrow, stop_mm in HiddenDraw("two_foci/error").cases(
    ((3.5, 0.826, 5.0), (4.0, 0.835, 6.0), (2.0, 1.0, 3.0)),
    by=[(0.3, 0.02, 0.4), (0.3, 0.02, 0.4), (0.3, 0, 0.4)],
):
    paper_marks.step(
        checks.number,
        "halo from another printed add",
        lambda a=paper_d, r=narrow, p=stop_mm: halo_of_printed_add_arcmin(a, r, p),
        stop_mm * paper_d * narrow**2 * ARCMIN_PER_MRAD,
        unit="arcmin",
        within=0.2,
        expect="pupil times add at the cornea, in arcmin",
    )
paper_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="shelf" goals="1 2"
# ## 8 · Which lens from the shelf? (3 points)
#
# The list `shelf` holds five invented bifocal lenses as `(name, add at the cornea in D, step in
# wavelengths)`. Hollis Varga needs her near focus within 0.15 D of her reading distance, and of the lenses that
# give her this the one with the **most far light**, for she drives. Write a function that takes such a list
# and a distance in **cm** and returns the name; and one that takes a step and returns the share of the light,
# **in per cent**, that neither of the two foci gets.

# %% given="shelf"
case = Draw("two_foci/shelf")
wanted_cm = case.pick("distance_cm", 36, 46)
shelf_steps = [0.34, 0.40, 0.46, 0.52, 0.58]
turn = case.pick("turn", 0, 4)
shelf_steps = shelf_steps[turn:] + shelf_steps[:turn]
slot = case.pick("slot", 0, 4)
offsets = [0.08, -0.10, 0.45, -0.40, 0.12]
offsets = offsets[slot:] + offsets[:slot]
shelf = [
    (name, round(100 / wanted_cm + offset, 2), step)
    for name, offset, step in zip("ABCDE", offsets, shelf_steps, strict=True)
]
case.tell(
    f"She reads at **{wanted_cm} cm**. The shelf: "
    + "; ".join(f"**{name}** add {add:.2f} D, step {step:.2f}" for name, add, step in shelf)
    + "."
)


# %% answer="shelf" own="shared_utils.optics.lenses.Lens.order_energies shared_utils.optics.lenses.Lens.energy_budget shared_utils.cases.two_foci.order_shares"
def best_lens(lenses, distance_cm):
    ### BEGIN SOLUTION
    fitting = [lens for lens in lenses if abs(lens[1] - 100 / distance_cm) <= 0.15]
    return max(fitting, key=lambda lens: order_share(lens[2], 0))[0]
    ### END SOLUTION


def lost_percent(step_waves):
    ### BEGIN SOLUTION
    return 100 * (1 - order_share(step_waves, 0) - order_share(step_waves, 1))
    ### END SOLUTION


# %% check="shelf" points=2 hide=true
def sinc_of(x):
    return 1.0 if abs(x) < 1e-12 else math.sin(math.pi * x) / (math.pi * x)


shelf_fits = [lens for lens in shelf if abs(lens[1] - 100 / wanted_cm) <= 0.15]
shelf_best = max(shelf_fits, key=lambda lens: sinc_of(lens[2]) ** 2)


def lost_of(step):
    """Per cent in neither focus, by the learner's own function of problem 1 if that can be used."""
    return own_or(
        100 * (1 - sinc_of(step) ** 2 - sinc_of(step - 1) ** 2),
        lambda: 100 * (1 - order_share(step, 0) - order_share(step, 1)),
    )


shelf_lost = lost_of(shelf_best[2])
shelf_marks = checks.Marks(2)
shelf_marks.step(
    checks.choice,
    "lens from the shelf",
    lambda: str(best_lens(shelf, wanted_cm)).lower(),
    shelf_best[0].lower(),
    options=("a", "b", "c", "d", "e"),
    slips={
        name.lower(): "Its near focus lies too far from her reading distance: compare in dioptres."
        if abs(add - 100 / wanted_cm) > 0.15
        else "It fits her distance, but another that fits sends more light to far."
        for name, add, step in shelf
        if name != shelf_best[0]
    },
)
shelf_marks.step(
    checks.number,
    "light in neither focus",
    lambda: lost_percent(shelf_best[2]),
    shelf_lost,
    unit="%",
    within=0.5,
    expect="per cent of all light, below 20",
    slips={
        "that is a share; give per cent.": shelf_lost / 100,
        "that is the light of both foci together.": 100 - shelf_lost,
        "that is the far focus alone, subtracted from 100.": 100
        * (1 - sinc_of(shelf_best[2]) ** 2),
    },
)
shelf_marks.score()

# %% hidden="shelf" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"{wanted_cm} cm is {100 / wanted_cm:.2f} D. Within 0.15 D: {', '.join(lens[0] for lens in shelf_fits)}. The lowest "
    f"steps among them send most to far: {shelf_best[0]}, $\\mathrm{{sinc}}^2({shelf_best[2]:.2f}) = "
    f"{sinc_of(shelf_best[2]) ** 2:.2f}$. In neither focus: {shelf_lost:.0f} %."
)
rack = HiddenDraw("two_foci/shelf").cases(
    [("p", 2.52, 0.5), ("q", 2.46, 0.3), ("r", 1.5, 0.2), ("s", 3.3, 0.1)], by=(0, 0.03, 0.03)
)
rack_marks = checks.Marks(1)
for arm_cm, name in HiddenDraw("two_foci/shelf").cases(
    ((40.0, "q"), (66.0, "r"), (30.0, "s")), by=[(0.4, 0), (1.0, 0), (0.3, 0)]
):
    rack_marks.step(
        checks.choice,
        "lens from another shelf",
        lambda d=arm_cm: best_lens(rack, d),
        name,
        options=("p", "q", "r", "s"),
    )
for height in HiddenDraw("two_foci/shelf").cases((0.5, 0.3, 0.6), by=0.04):
    rack_marks.step(
        checks.number,
        "light in neither focus of another lens",
        lambda a=height: lost_percent(a),
        lost_of(height),
        unit="%",
        within=0.5,
        expect="100 minus both foci",
    )
rack_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="talk" goals="3 4"
# ## 9 · In your own words (4 points)
#
# Before surgery Tancred Ilves asks: “With the lens that has two foci, do I get two full pictures, and why do
# people speak of rings around lamps?” Answer him in four to seven plain sentences: how the light is shared, what
# that does to contrast, where the ring comes from and when it is widest, and one finding in his eye that
# would make you more careful.

# %% [markdown] written="talk" points=4
# ### BEGIN MARK SCHEME
# One point each:
# 1. The light is shared: about 40 % for each focus, the rest (about a fifth) in no focus; not two full pictures.
# 2. Contrast in each focus is about its share, 0.4 of a single-focus lens, because the other light lies over it
#    as grey.
# 3. The ring (a disc) is light of the near focus, out of focus at far; its width is pupil times add, so it is
#    widest in the dark or with a strong add; and dimmer as it widens.
# 4. A finding that takes contrast itself: macular disease, dry surface, irregular cornea, hazy capsule,
#    advanced glaucoma, with a word on why (less to lose).
# ### END MARK SCHEME
# No: the lens shares the light. Each focus gets about four tenths, and a fifth is never in focus. When you
# look far, the near light lies over the picture as an even grey, so you see the same lines with less than half of
# the contrast; at near it is the other way round. Around a lamp in the dark this grey becomes visible as a
# disc. Its width is your pupil times the strength of the near focus, so it is widest at night. If your macula or the
# surface of your eye already cost contrast, I would rather not give more of it away.
