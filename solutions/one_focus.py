# %% [markdown] question="start"
# # Problems {{number one_focus}} · {{title one_focus}}
#
# Eight problems and one written answer, 30 points, about 40 minutes. The lesson is
# [{{number one_focus}} {{title one_focus}}](../../lessons/{{stem one_focus}}.ipynb).
#
# Run the cells from the top. Each problem gives you numbers of your own. Write your answer where it
# says `YOUR CODE HERE`, run the check below it, and read its one sentence. When you are done, save and press
# **Check my answers** below, or run `lens-course check {{number one_focus}}` in a terminal.
#
# Units: pupils are diameters in mm; angles are arcminutes; fineness is cycles per degree of visual angle; a
# milliradian is 3.438 arcmin.
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
from shared_utils.show import one_focus as figures

ARCMIN_PER_MRAD = 180 * 60 / math.pi / 1000
print(f"Numbers for learner: {learner_id()}")
check_button.show("one_focus")

# %% [markdown] question="airy" goals="1"
# ## 1 · The disc that no optics can remove (2 points)
#
# Petronella Ash has perfect optics. Write a function that takes the pupil in **mm** and the wavelength in
# **nm** and returns the radius of the Airy disc, to its first dark ring, in **arcmin**.

# %% given="airy"
airy = Draw("one_focus/airy")
airy_pupil_mm = airy.pick("pupil_mm", 2.0, 6.0, step=0.1)
airy_nm = airy.pick("wavelength_nm", 450, 650, step=10)
airy.tell(f"Pupil **{airy_pupil_mm:.1f} mm**, light of **{airy_nm} nm**.")


# %% answer="airy" own="shared_utils.cases.one_focus.airy_radius_arcmin shared_utils.cases.one_focus.airy_radius_mrad"
def airy_radius_arcmin(pupil_mm, wavelength_nm):
    ### BEGIN SOLUTION
    mrad = 1.22 * wavelength_nm / 1000 / pupil_mm
    return mrad * ARCMIN_PER_MRAD
    ### END SOLUTION


# %% check="airy" points=1 hide=true
airy_mrad = 1.22 * airy_nm / 1000 / airy_pupil_mm
checks.number(
    "radius of the Airy disc",
    airy_radius_arcmin(airy_pupil_mm, airy_nm),
    airy_mrad * ARCMIN_PER_MRAD,
    unit="arcmin",
    within=0.01,
    expect="an angle in arcmin, about one, from the middle to the first dark ring",
    slips={
        "the factor 1.22 of a round pupil was left out.": airy_mrad / 1.22 * ARCMIN_PER_MRAD,
        "that is the diameter; the radius is half of it.": 2 * airy_mrad * ARCMIN_PER_MRAD,
        "that is in milliradians; one of them is 3.438 arcmin.": airy_mrad,
        "that is in degrees; a degree has 60 arcmin.": airy_mrad * ARCMIN_PER_MRAD / 60,
    },
)

# %% hidden="airy" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"$1.22\\,\\lambda/p = 1.22 \\cdot {airy_nm / 1000:.3f}\\ \\mathrm{{µm}} / {airy_pupil_mm:.1f}\\ \\mathrm{{mm}} "
    f"= {airy_mrad:.4f}$ mrad; times 3.438 arcmin per mrad: {airy_mrad * ARCMIN_PER_MRAD:.2f} arcmin."
)
for stop_mm, colour_nm in HiddenDraw("one_focus/airy").cases(
    ((1.0, 555.0), (3.0, 555.0), (7.0, 620.0)), by=(0.2, 25.0)
):
    checks.number(
        "the same function for another pupil",
        airy_radius_arcmin(stop_mm, colour_nm),
        1.22 * colour_nm / 1000 / stop_mm * ARCMIN_PER_MRAD,
        unit="arcmin",
        within=0.01,
        expect="1.22 wavelengths over the pupil, in arcmin",
    )
### END HIDDEN TESTS

# %% [markdown] question="cutoff" goals="1"
# ## 2 · The finest lines (2 points)
#
# Write a function that takes the pupil in **mm** and the wavelength in **nm** and returns the cut-off, the
# fineness beyond which diffraction lets nothing pass, in **cycles per degree**.

# %% given="cutoff"
cutoff = Draw("one_focus/cutoff")
cutoff_pupil_mm = cutoff.pick("pupil_mm", 1.5, 6.0, step=0.1)
cutoff_nm = cutoff.pick("wavelength_nm", 470, 640, step=10)
cutoff.tell(
    f"Evander Roth has a pupil of **{cutoff_pupil_mm:.1f} mm** and looks at light of **{cutoff_nm} nm**."
)


# %% answer="cutoff" own="shared_utils.cases.one_focus.cut_off_cpd"
def cutoff_cpd(pupil_mm, wavelength_nm):
    ### BEGIN SOLUTION
    cycles_per_radian = pupil_mm / (wavelength_nm * 1e-6)
    return cycles_per_radian * math.pi / 180
    ### END SOLUTION


# %% check="cutoff" points=1 hide=true
cutoff_per_radian = cutoff_pupil_mm * 1e6 / cutoff_nm
checks.number(
    "cut-off",
    cutoff_cpd(cutoff_pupil_mm, cutoff_nm),
    cutoff_per_radian * math.pi / 180,
    unit="cycles/degree",
    within=0.5,
    expect="the pupil's diameter over the wavelength, both in mm, turned from radians to degrees",
    slips={
        "that is per radian; a degree is π/180 of a radian.": cutoff_per_radian,
        "the pupil's radius was taken; its diameter counts.": cutoff_per_radian * math.pi / 360,
        "the turn went the wrong way: multiply by π/180, do not divide by it.": cutoff_per_radian
        * 180
        / math.pi,
        "that is per milliradian; a degree has 17.45 of them.": cutoff_per_radian / 1000,
    },
)

# %% hidden="cutoff" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"$p/\\lambda = {cutoff_pupil_mm:.1f}\\ \\mathrm{{mm}} / {cutoff_nm * 1e-6:.6f}\\ \\mathrm{{mm}} = "
    f"{cutoff_per_radian:.0f}$ cycles per radian; times $\\pi/180$: "
    f"{cutoff_per_radian * math.pi / 180:.1f} cycles per degree."
)
for stop_mm, colour_nm in HiddenDraw("one_focus/cutoff").cases(
    ((3.0, 555.0), (1.0, 555.0), (7.5, 600.0)), by=(0.3, 25.0)
):
    checks.number(
        "the same function for another pupil",
        cutoff_cpd(stop_mm, colour_nm),
        stop_mm * 1e6 / colour_nm * math.pi / 180,
        unit="cycles/degree",
        within=0.5,
        expect="pupil over wavelength, per degree",
    )
### END HIDDEN TESTS

# %% [markdown] question="perfect" goals="2"
# ## 3 · What a perfect eye passes (4 points)
#
# In focus and without any aberration, the part of the contrast that passes is
#
# $$\mathrm{MTF} = \frac{2}{\pi}\left(\arccos s - s\sqrt{1 - s^2}\right)$$
#
# with $s$ the fineness over the cut-off; beyond the cut-off it is 0. Write a function that takes the
# pupil in **mm**, the wavelength in **nm** and the fineness in **cycles per degree** and returns the part
# that passes, a pure number from 0 to 1.

# %% given="perfect"
perfect = Draw("one_focus/perfect")
perfect_pupil_mm = perfect.pick("pupil_mm", 2.0, 4.0, step=0.1)
perfect_cpd = perfect.pick("fineness_cpd", 12, 40)
perfect.tell(
    f"Pupil **{perfect_pupil_mm:.1f} mm**, green light of **555 nm**, lines of "
    f"**{perfect_cpd} cycles per degree**."
)


# %% answer="perfect" own="shared_utils.optics.fourier_bessel.diffraction_limit shared_utils.optics.through_focus.mtf shared_utils.optics.through_focus.transfer shared_utils.optics.through_focus.signed_contrast shared_utils.cases.one_focus.compute_contrast_passed shared_utils.cases.one_focus.compute_perfect_contrast"
def perfect_mtf(pupil_mm, wavelength_nm, fineness_cpd):
    ### BEGIN SOLUTION
    s = fineness_cpd / (pupil_mm * 1e6 / wavelength_nm * math.pi / 180)
    if s >= 1:
        return 0.0
    return 2 / math.pi * (math.acos(s) - s * math.sqrt(1 - s**2))
    ### END SOLUTION


# %% check="perfect" points=2 hide=true
def closed_form(s):
    return 2 / math.pi * (math.acos(s) - s * math.sqrt(1 - s**2)) if s < 1 else 0.0


perfect_s = perfect_cpd / (perfect_pupil_mm * 1e6 / 555 * math.pi / 180)
checks.number(
    "part of the contrast that passes",
    perfect_mtf(perfect_pupil_mm, 555, perfect_cpd),
    closed_form(perfect_s),
    unit="",
    within=0.005,
    expect="a part between 0 and 1",
    slips={
        "that is the straight line 1 − s; the curve of a round pupil hangs below it.": 1
        - perfect_s,
        "the factor 2/π was left out.": math.pi / 2 * closed_form(perfect_s),
        "the arccosine is in degrees; the formula wants radians.": 2
        / math.pi
        * (math.degrees(math.acos(perfect_s)) - perfect_s * math.sqrt(1 - perfect_s**2)),
        "the cut-off was reckoned with the pupil's radius.": closed_form(2 * perfect_s),
    },
)

# %% hidden="perfect" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Cut-off {perfect_cpd / perfect_s:.1f} cycles per degree, so $s = {perfect_cpd} / "
    f"{perfect_cpd / perfect_s:.1f} = {perfect_s:.3f}$. Then $\\frac{{2}}{{\\pi}}("
    f"{math.acos(perfect_s):.3f} - {perfect_s * math.sqrt(1 - perfect_s**2):.3f}) = "
    f"{closed_form(perfect_s):.3f}$."
)
perfect_marks = checks.Marks(2)
for stop_mm, colour_nm, lines_cpd in HiddenDraw("one_focus/perfect").cases(
    (
        (3.0, 555.0, 30.0),
        (3.0, 546.0, 0.0),
        (1.0, 555.0, 45.0),
        (6.0, 600.0, 60.0),
    ),
    by=(0.15, 20.0, 3.0),
):
    perfect_marks.step(
        checks.number,
        "the same function for another eye",
        lambda a=stop_mm, b=colour_nm, c=lines_cpd: perfect_mtf(a, b, c),
        closed_form(lines_cpd / (stop_mm * 1e6 / colour_nm * math.pi / 180)),
        unit="",
        within=0.005,
        expect="1 for the coarsest lines, 0 beyond the cut-off",
    )
perfect_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="kerb" goals="2"
# ## 4 · Is it seen? (4 points)
#
# Lines on a test card have a brightest and a darkest place, in **cd/m²**. The eye of Lazlo Winter passes
# a part of their contrast. Write three functions: the contrast (modulation) of the card; the contrast on
# his retina; and whether he sees the lines, `"seen"` or `"not seen"`. They are seen if the contrast on the
# retina is at least one over the sensitivity of his retina and brain.

# %% given="kerb"
kerb = Draw("one_focus/kerb")
card_bright = kerb.pick("brightest", 60, 100, step=2)
card_dark = kerb.pick("darkest", 15, 40)
card_part = kerb.pick("part", 0.02, 0.20, step=0.01)
card_object = (card_bright - card_dark) / (card_bright + card_dark)
card_sensitivity = max(2, round(kerb.choose("margin", (0.4, 2.5)) / (card_object * card_part)))
kerb.tell(
    f"Brightest **{card_bright} cd/m²**, darkest **{card_dark} cd/m²**. His eye passes "
    f"**{100 * card_part:.0f} %** of the contrast of these lines. Sensitivity of retina and brain for "
    f"them: **{card_sensitivity}**."
)


# %% answer="kerb"
def card_contrast(brightest, darkest):
    ### BEGIN SOLUTION
    return (brightest - darkest) / (brightest + darkest)
    ### END SOLUTION


def retinal_contrast(brightest, darkest, part_passed):
    ### BEGIN SOLUTION
    return card_contrast(brightest, darkest) * part_passed
    ### END SOLUTION


def verdict(brightest, darkest, part_passed, sensitivity):
    ### BEGIN SOLUTION
    passed = retinal_contrast(brightest, darkest, part_passed)
    return "seen" if passed >= 1 / sensitivity else "not seen"
    ### END SOLUTION


# %% check="kerb" points=2 hide=true
def own_or(right, call):
    """The learner's own earlier value, if it can be gone on with."""
    try:
        own = float(call())
    except Exception:
        return right
    return own if 0.5 < own / right < 2 else right


card_retina = card_part * own_or(card_object, lambda: card_contrast(card_bright, card_dark))
card_verdict = "seen" if card_object * card_part >= 1 / card_sensitivity else "not seen"
kerb_marks = checks.Marks(2)
kerb_marks.step(
    checks.number,
    "contrast of the card",
    lambda: card_contrast(card_bright, card_dark),
    card_object,
    unit="",
    within=0.005,
    expect="brightest minus darkest over brightest plus darkest, a part between 0 and 1",
    slips={
        "divided by the brightest alone; modulation divides by the sum.": (card_bright - card_dark)
        / card_bright,
        "divided by the mean; that is twice the modulation.": 2 * card_object,
        "that is the difference in cd/m², not yet a contrast.": card_bright - card_dark,
    },
)
kerb_marks.step(
    checks.number,
    "contrast on the retina",
    lambda: retinal_contrast(card_bright, card_dark, card_part),
    card_retina,
    unit="",
    within=0.002,
    expect="what the card has, times the part that passes",
    slips={
        "that is the part that passes; the card itself has less than full contrast.": card_part,
        "what is lost was subtracted; the parts multiply.": card_retina / card_part
        - (1 - card_part),
        "the card's contrast was divided by the part.": card_retina / card_part**2,
    },
)
kerb_marks.step(
    checks.choice,
    "verdict",
    lambda: verdict(card_bright, card_dark, card_part, card_sensitivity),
    card_verdict,
    options=("seen", "not seen"),
    slips={
        word: "Compare the contrast on the retina with one over the sensitivity."
        for word in ("seen", "not seen")
        if word != card_verdict
    },
)
kerb_marks.score()

# %% hidden="kerb" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Card: $({card_bright} - {card_dark}) / ({card_bright} + {card_dark}) = {card_object:.3f}$. Retina: "
    f"${card_object:.3f} \\cdot {card_part:.2f} = {card_object * card_part:.4f}$. Threshold: $1 / {card_sensitivity} = "
    f"{1 / card_sensitivity:.4f}$. So the lines are {card_verdict}."
)
card_marks = checks.Marks(2)
for high, low, share, gain, word in HiddenDraw("one_focus/kerb").cases(
    (
        (90.0, 10.0, 0.5, 10.0, "seen"),
        (100.0, 80.0, 0.1, 50.0, "not seen"),
        (55.0, 45.0, 0.3, 40.0, "seen"),
    ),
    by=[(5.0, 3.0, 0.1, 2.0, 0), (3.0, 2.0, 0.015, 4.0, 0), (0.3, 0.3, 0.01, 1.0, 0)],
):
    card_marks.step(
        checks.number,
        "contrast on the retina for another card",
        lambda a=high, b=low, c=share: retinal_contrast(a, b, c),
        (high - low) / (high + low) * share,
        unit="",
        within=0.002,
        expect="what the card has, times the part that passes",
    )
    card_marks.step(
        checks.choice,
        "verdict for another card",
        lambda a=high, b=low, c=share, g=gain: verdict(a, b, c, g),
        word,
        options=("seen", "not seen"),
    )
card_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="disc" goals="3"
# ## 5 · The blur disc (2 points)
#
# Rosalind Keita keeps a refraction uncorrected. Write a function that takes the pupil in **mm** and the
# refraction left over in **D**, with its sign, and returns the diameter of the blur disc in **arcmin**,
# always positive.

# %% given="disc"
disc = Draw("one_focus/disc")
disc_pupil_mm = disc.pick("pupil_mm", 2.0, 6.0, step=0.1)
disc_d = disc.choose("sign", (-1, 1)) * disc.pick("size_d", 0.5, 2.0, step=0.25)
disc.tell(f"Pupil **{disc_pupil_mm:.1f} mm**, left over **{disc_d:+.2f} D**.")


# %% answer="disc" own="shared_utils.optics.acuity.blur_circle_arcmin shared_utils.optics.acuity.blur_circle_um"
def blur_disc_arcmin(pupil_mm, refraction_d):
    ### BEGIN SOLUTION
    return pupil_mm * abs(refraction_d) * ARCMIN_PER_MRAD
    ### END SOLUTION


# %% check="disc" points=1 hide=true
disc_mrad = disc_pupil_mm * abs(disc_d)
checks.number(
    "diameter of the blur disc",
    blur_disc_arcmin(disc_pupil_mm, disc_d),
    disc_mrad * ARCMIN_PER_MRAD,
    unit="arcmin",
    within=0.05,
    expect="pupil times dioptres, in arcmin, positive for either sign",
    slips={
        "that is in milliradians; one of them is 3.438 arcmin.": disc_mrad,
        "that is the radius of the disc, or came from the radius of the pupil.": disc_mrad
        * ARCMIN_PER_MRAD
        / 2,
        "that is in degrees; a degree has 60 arcmin.": disc_mrad * ARCMIN_PER_MRAD / 60,
    },
)

# %% hidden="disc" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"${disc_pupil_mm:.1f}\\ \\mathrm{{mm}} \\cdot {abs(disc_d):.2f}\\ \\mathrm{{D}} = {disc_mrad:.2f}$ mrad; times "
    f"3.438: {disc_mrad * ARCMIN_PER_MRAD:.1f} arcmin."
)
for stop_mm, error_d in HiddenDraw("one_focus/disc").cases(
    ((4.0, -1.0), (3.0, 0.5), (6.5, -2.5)), by=(0.5, 0.2)
):
    checks.number(
        "the same function for another eye",
        blur_disc_arcmin(stop_mm, error_d),
        stop_mm * abs(error_d) * ARCMIN_PER_MRAD,
        unit="arcmin",
        within=0.05,
        expect="pupil times dioptres, in arcmin, positive for either sign",
    )
### END HIDDEN TESTS

# %% [markdown] question="read" goals="2 3"
# ## 6 · Read a curve (4 points)
#
# The figure shows what the eye of Bohumil Crane passes. Read off, with the eye or with code from the
# arrays `curve_cpd`, `curve_sharp` and `curve_blurred`: the contrast passed at strokes of 20/40 (15 cycles
# per degree) in focus, and with the blur; and the fineness at which the curve **in focus** has fallen to
# 0.20, in **cycles per degree**. Then write a function that returns how many **log units** of contrast are
# lost from one value to a lower one, a positive number.

# %% given="read"
read = Draw("one_focus/read")
read_pupil_mm = read.pick("pupil_mm", 2.5, 5.0, step=0.25)
read_blur_d = read.pick("blur_d", 0.25, 0.5, step=0.05)
curve_cpd, curve_sharp, curve_blurred = figures.contrast_in_white(read_pupil_mm, read_blur_d)
display(figures.two_curves(read_pupil_mm, read_blur_d))
read.tell(f"Pupil **{read_pupil_mm:.2f} mm**, blur **{read_blur_d:.2f} D**.")


# %% answer="read"
def sharp_at_20_40():
    ### BEGIN SOLUTION
    return float(np.interp(15, curve_cpd, curve_sharp))
    ### END SOLUTION


def blurred_at_20_40():
    ### BEGIN SOLUTION
    return float(np.interp(15, curve_cpd, curve_blurred))
    ### END SOLUTION


def fineness_at_one_fifth_cpd():
    ### BEGIN SOLUTION
    return float(np.interp(-0.20, -curve_sharp, curve_cpd))
    ### END SOLUTION


def log_units_lost(before, after):
    ### BEGIN SOLUTION
    return math.log10(before / after)
    ### END SOLUTION


# %% check="read" points=2 hide=true
read_sharp, read_fine = np.interp([15, 30], curve_cpd, curve_sharp).tolist()
read_blurred = float(np.interp(15, curve_cpd, curve_blurred))
read_fifth = float(np.interp(-0.20, -curve_sharp, curve_cpd))
read_marks = checks.Marks(2)
read_marks.step(
    checks.number,
    "contrast at 20/40 in focus",
    lambda: sharp_at_20_40(),
    read_sharp,
    unit="",
    within=0.04,
    expect="the height of the solid curve at 15 cycles per degree",
    slips={"that is the height at 30, the strokes of 20/20.": read_fine},
)
read_marks.step(
    checks.number,
    "contrast at 20/40 with the blur",
    lambda: blurred_at_20_40(),
    read_blurred,
    unit="",
    within=0.04,
    expect="the height of the dashed curve at 15 cycles per degree",
    slips={"that is the curve in focus; take the dashed one.": read_sharp},
)
read_marks.step(
    checks.number,
    "fineness at which 0.20 is left in focus",
    lambda: fineness_at_one_fifth_cpd(),
    read_fifth,
    unit="cycles/degree",
    within=2.0,
    expect="where the solid curve crosses 0.20",
    slips={
        "that is where the dashed curve crosses; take the solid one.": float(
            curve_cpd[np.argmax(curve_blurred < 0.20)]
        ),
        "that is the contrast at 20 cycles per degree; read the other way round.": float(
            np.interp(20, curve_cpd, curve_sharp)
        ),
    },
)
read_marks.score()

# %% hidden="read" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"At 15 cycles per degree: in focus {read_sharp:.2f}, with {read_blur_d:.2f} D {read_blurred:.2f}. The "
    f"solid curve crosses 0.20 at {read_fifth:.0f} cycles per degree. Lost: "
    f"$\\log_{{10}}({read_sharp:.2f} / {read_blurred:.2f}) = {math.log10(read_sharp / read_blurred):.2f}$ "
    "log units."
)
loss_marks = checks.Marks(2)
alike = HiddenDraw("one_focus/read").near(0.8, 0.15)  # nothing is lost
for whole, part in HiddenDraw("one_focus/read").cases(
    ((0.62, 0.19), (0.5, 0.05), (alike, alike), (0.40, 0.20)),
    by=[(0.1, 0.05), (0.1, 0.02), 0, (0.1, 0.05)],
):
    loss_marks.step(
        checks.number,
        "log units lost",
        lambda a=whole, b=part: log_units_lost(a, b),
        math.log10(whole / part),
        unit="log units",
        within=0.01,
        expect="the logarithm to base 10 of before over after, positive for a loss",
    )
loss_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="error" goals="4"
# ## 7 · Find the error (4 points)
#
# A colleague reckons for Yusra Falk how much stronger the margin of her pupil is than its centre. The
# rule is $\Delta = \frac{8\sqrt5}{27}\,c\,r^2$, with $c$ in µm over 6 mm and $r$ in mm; the factor is 0.6625.
# **One** of the five steps is wrong; the later ones only carry the mistake on. Give the number of the step
# and the value that this step should have. Then write the function that does it right, in **D**.

# %% given="error"
error = Draw("one_focus/error")
error_cornea_um = error.pick("cornea_um", 0.18, 0.42, step=0.01)
error_lens_um = error.choose("lens_um", (0.06, 0.08, 0.10, 0.12))
error_night_mm = error.pick("night_mm", 5.2, 7.0, step=0.1)
error_day_mm = error.pick("day_mm", 2.2, 3.2, step=0.1)
error_at = error.pick("step", 1, 5)
FACTOR = 0.6625
value_1 = error_cornea_um - error_lens_um if error_at == 1 else error_cornea_um + error_lens_um
value_2 = error_night_mm if error_at == 2 else error_night_mm / 2
value_3 = 2 * value_2 if error_at == 3 else value_2**2
value_4 = FACTOR + value_1 * value_3 if error_at == 4 else FACTOR * value_1 * value_3
value_5 = value_4 * (error_day_mm / error_night_mm) ** (1 if error_at == 5 else 2)
colleague = [value_1, value_2, value_3, value_4, value_5]
error.tell(
    f"Cornea **{error_cornea_um:+.2f} µm**, lens **{error_lens_um:+.2f} µm**; pupil "
    f"**{error_night_mm:.1f} mm** at night, **{error_day_mm:.1f} mm** by day.\n\n"
    f"1. Aberration of the whole eye: {value_1:.2f} µm\n"
    f"2. Radius of the pupil at night: {value_2:.2f} mm\n"
    f"3. Its square: {value_3:.2f} mm²\n"
    f"4. Margin against centre at night: {value_4:.2f} D\n"
    f"5. The same by day, from the ratio of the pupils: {value_5:.2f} D"
)


# %% answer="error" own="shared_utils.cases.one_focus.margin_excess_d shared_utils.cases.one_focus.night_steps shared_utils.optics.lenses.aberration_um"
def wrong_step():
    ### BEGIN SOLUTION
    return right_steps()[0]
    ### END SOLUTION


def corrected_value():
    ### BEGIN SOLUTION
    return right_steps()[1]


def right_steps():
    carried = [
        error_cornea_um + error_lens_um,
        error_night_mm / 2,
        colleague[1] ** 2,
        FACTOR * colleague[0] * colleague[2],
        colleague[3] * (error_day_mm / error_night_mm) ** 2,
    ]
    wrong = [abs(a - b) > 1e-6 for a, b in zip(colleague, carried, strict=True)].index(True)
    return wrong + 1, carried[wrong]
    ### END SOLUTION


def margin_excess_d(cornea_um, lens_um, pupil_mm):
    ### BEGIN SOLUTION
    return 8 * math.sqrt(5) / 27 * (cornea_um + lens_um) * (pupil_mm / 2) ** 2
    ### END SOLUTION


# %% check="error" points=2 hide=true
error_right = {
    1: error_cornea_um + error_lens_um,
    2: error_night_mm / 2,
    3: value_2**2,
    4: FACTOR * value_1 * value_3,
    5: value_4 * (error_day_mm / error_night_mm) ** 2,
}[error_at]
error_marks = checks.Marks(2)
error_marks.step(
    checks.number,
    "number of the wrong step",
    lambda: wrong_step(),
    error_at,
    unit="",
    within=0.1,
    expect="one of 1 to 5: the first step that does not follow from the ones above and the rule",
    slips={
        "that step only carries on what came before; look further up."
        if later > error_at
        else "that step holds; reckon it again, then the next.": later
        for later in (error_at + 1, error_at - 1)
        if 1 <= later <= 5
    },
)
error_marks.step(
    checks.number,
    "what that step should give",
    lambda: corrected_value(),
    error_right,
    unit="",
    within=0.02,
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
checks.working(
    f"Step {error_at} is wrong: there stands {colleague[error_at - 1]:.2f}, it should be {error_right:.2f}. All right: "
    f"$c = {error_cornea_um + error_lens_um:.2f}$ µm, $r = {error_night_mm / 2:.2f}$ mm, "
    f"$\\Delta = 0.6625 \\cdot {error_cornea_um + error_lens_um:.2f} \\cdot {(error_night_mm / 2) ** 2:.2f} = "
    f"{FACTOR * (error_cornea_um + error_lens_um) * (error_night_mm / 2) ** 2:.2f}$ D at night; by day "
    f"{FACTOR * (error_cornea_um + error_lens_um) * (error_day_mm / 2) ** 2:.2f} D."
)
excess_marks = checks.Marks(2)
made_up_um = HiddenDraw("one_focus/error").near(0.20, 0.05)  # the lens makes up for the cornea
for front_um, body_um, stop_mm in HiddenDraw("one_focus/error").cases(
    (
        (0.27, 0.10, 6.0),
        (made_up_um, -made_up_um, 6.0),
        (0.45, 0.0, 3.0),
        (0.05, -0.20, 5.0),
    ),
    by=[(0.05, 0.03, 0.5), (0, 0, 0.5), (0.1, 0, 0.4), (0.03, 0.05, 0.5)],
):
    excess_marks.step(
        checks.number,
        "margin against centre of another eye",
        lambda a=front_um, b=body_um, p=stop_mm: margin_excess_d(a, b, p),
        8 * math.sqrt(5) / 27 * (front_um + body_um) * (stop_mm / 2) ** 2,
        unit="D",
        within=0.01,
        expect="0.6625 times the sum in µm times the square of the pupil's radius in mm",
    )
excess_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="bodies" goals="4"
# ## 8 · Which body for which cornea? (4 points)
#
# A clinic keeps three bodies of the same lens: `"spherical"` (+0.10 µm over 6 mm), `"neutral"` (0) and
# `"aspheric"` (−0.20). It wants the whole eye as near to 0 as can be. Write a function that takes the
# aberration of the cornea in **µm** and returns the word of the best body; one that returns what is then
# left in the whole eye, in **µm** with its sign; and one that takes a list of corneas and returns in how
# many of them the aspheric body leaves **more** aberration, whatever its sign, than the neutral one.

# %% given="bodies"
bodies = Draw("one_focus/bodies")
my_cornea_um = bodies.pick("mine_um", 0.16, 0.60, step=0.02)
clinic_um = [bodies.pick(f"eye {n}", -0.27, 0.59, step=0.02) for n in range(1, 8)]
bodies.tell(
    f"Wendelin Ode's cornea: **{my_cornea_um:+.2f} µm**. Seven more, some after laser: "
    f"**{', '.join(f'{um:+.2f}' for um in clinic_um)} µm** (the list `clinic_um`)."
)


# %% answer="bodies"
def best_body(cornea_um):
    ### BEGIN SOLUTION
    adds = {"spherical": 0.10, "neutral": 0.0, "aspheric": -0.20}
    return min(adds, key=lambda body: abs(cornea_um + adds[body]))
    ### END SOLUTION


def left_over_um(cornea_um):
    ### BEGIN SOLUTION
    adds = {"spherical": 0.10, "neutral": 0.0, "aspheric": -0.20}
    return cornea_um + adds[best_body(cornea_um)]
    ### END SOLUTION


def aspheric_is_worse(corneas_um):
    ### BEGIN SOLUTION
    return sum(abs(um - 0.20) > abs(um) for um in corneas_um)
    ### END SOLUTION


# %% check="bodies" points=2 hide=true
clinic_worse = sum(abs(um - 0.20) > abs(um) for um in clinic_um)
bodies_marks = checks.Marks(2)
bodies_marks.step(
    checks.choice,
    "best body for this cornea",
    lambda: best_body(my_cornea_um),
    "aspheric",
    options=("spherical", "neutral", "aspheric"),
    slips={
        "spherical": "It adds its +0.10 µm to what the cornea already has.",
        "neutral": "It leaves the cornea's aberration as it is; another body takes some away.",
    },
)
bodies_marks.step(
    checks.number,
    "what is left in the whole eye",
    lambda: left_over_um(my_cornea_um),
    my_cornea_um - 0.20,
    unit="µm",
    within=0.005,
    expect="cornea plus lens, with the sign",
    slips={
        "cornea minus lens; the two add, with their signs.": my_cornea_um + 0.20,
        "that is the cornea alone.": my_cornea_um,
        "that is with the spherical body.": my_cornea_um + 0.10,
    },
)
bodies_marks.step(
    checks.number,
    "eyes in which the aspheric body leaves more",
    lambda: aspheric_is_worse(clinic_um),
    clinic_worse,
    unit="eyes",
    within=0.1,
    expect="a whole number from 0 to 7; compare sizes, not signs",
    slips={"that counts the eyes in which it leaves less.": 7 - clinic_worse},
)
bodies_marks.score()

# %% hidden="bodies" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Aspheric: ${my_cornea_um:+.2f} - 0.20 = {my_cornea_um - 0.20:+.2f}$ µm, smaller in size than with the "
    f"others. It leaves more than the neutral body where the cornea is below half of 0.20, +0.10 µm: in "
    f"{clinic_worse} of the seven."
)
body_marks = checks.Marks(2)
for front_um, body, adds_um in HiddenDraw("one_focus/bodies").cases(
    (
        (0.27, "aspheric", -0.20),
        (0.05, "neutral", 0.0),
        (-0.20, "spherical", 0.10),
        (0.12, "aspheric", -0.20),
    ),
    by=[(0.08, 0, 0), (0.03, 0, 0), (0.08, 0, 0), (0.01, 0, 0)],
):
    body_marks.step(
        checks.choice,
        "best body for another cornea",
        lambda c=front_um: best_body(c),
        body,
        options=("spherical", "neutral", "aspheric"),
    )
    body_marks.step(
        checks.number,
        "what is left there",
        lambda c=front_um: left_over_um(c),
        front_um + adds_um,
        unit="µm",
        within=0.005,
        expect="cornea plus lens, with the sign",
    )
other_clinic_um = HiddenDraw("one_focus/bodies").near(
    [0.27, 0.06, -0.10, 0.08, 0.12], [0.05, 0.02, 0.05, 0.01, 0.01]
)
body_marks.step(
    checks.number,
    "count in another clinic",
    lambda: aspheric_is_worse(other_clinic_um),
    3,
    unit="eyes",
    within=0.1,
    expect="eyes whose cornea is nearer to 0 than to +0.20",
)
body_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="grey" goals="2 3"
# ## 9 · In your own words (4 points)
#
# Three months after surgery Annelie Brandt reads 20/20 with her new monofocal lens and says: “It is all a bit
# grey.” Her refraction is −0.50 D, her pupil 3 mm. A colleague says: “She reads 20/20, so the optics are
# fine.” In three to six sentences, tell the colleague what the chart does not show, with a number, what you
# would do next, and what a wide pupil at night will change.

# %% [markdown] written="grey" points=4
# ### BEGIN MARK SCHEME
# One point each:
# 1. A chart has full contrast and asks only how fine; half a dioptre costs about one line of it.
# 2. Contrast of fine lines suffers much more: strokes of 20/40 keep about a third of what they had (0.62 to
#    0.19 at 3 mm in white light), or an equivalent number.
# 3. A next step: correct −0.50 D in a trial frame and ask again; contrast sensitivity; ocular surface, capsule,
#    macula if that does not help.
# 4. Blur is pupil times defocus, so a wide pupil makes it worse at night (and adds spherical aberration).
# ### END MARK SCHEME
# A letter chart is black on white: it tells how fine she can see, not how faint. Half a dioptre costs about a
# line there, but of the contrast of strokes of 20/40 it leaves 0.19 where 0.62 passed in focus, less than
# a third. So I would hold −0.50 D before the eye and ask whether the grey goes; if not, look at the surface,
# the capsule and the macula. At night her pupil opens; the blur disc is pupil times defocus, so it grows
# with it, and spherical aberration comes on top.
