# %% [markdown] part="title"
# # {{number one_focus}} · {{title one_focus}}
#
# *{{minutes one_focus}} minutes. You need: vergence (lesson {{number vergence}}), and that 20/20 means strokes of one arcminute.*
#
# Press **Run ▸ Run All Cells** first.

# %% [markdown] part="goals"
# ## Goals
#
# After this page you can
#
# 1. **reckon the finest detail that a pupil lets through**;
# 2. **say how much contrast an eye passes, and read a curve of it**;
# 3. **tell what left-over defocus costs through a given pupil**;
# 4. **add the spherical aberration of cornea and lens, and say when it matters**.

# %% [markdown] part="case"
# ## A case to open with
#
# Casimir Oduya, 44, invented like everybody here, drives a snowplough. Steroids gave him cataracts early; he
# now has a spherical monofocal lens in each eye. By day he reads 20/15 without glasses, and his pupils are
# 2.5 mm. At night they open to 6 mm, and road signs smear. His refraction, measured by day, is zero.
#
# **Why does he see well by day and badly at night, and what would glasses for the night do?**

# %% [markdown] part="recall"
# ## Recall
#
# Two things from lesson {{number vergence}}. Choose an answer; it opens.

# %% hide=true
from shared_utils.cases import one_focus as cases
from shared_utils.explore import engine, one_focus as demos, page
from shared_utils.optics import acuity, through_focus
from shared_utils.optics.lenses import monofocal
from shared_utils.bank import items
from shared_utils.show import one_focus as figures

items.ask("sign-of-near-light", "lens-adds")

# %% [markdown] part="idea"
# ## Idea 1: even a perfect eye takes contrast away
#
# Light bends at the edge of the pupil. A point becomes a small disc with rings, the **Airy disc**. Its
# radius, to the first dark ring, is
#
# $$\theta = 1.22\,\frac{\lambda}{p}$$
#
# In words: 1.22 times the wavelength over the pupil. For 3 mm in green light it is 0.78 arcmin.
#
# Discs that overlap wash out fine lines. **Contrast** (modulation) is brightest minus darkest over
# brightest plus darkest. The **modulation transfer function** says which part of it reaches the retina,
# for each fineness in cycles per degree. It falls from 1 to 0 at the **cut-off**,
#
# $$\nu_c = \frac{p}{\lambda}$$
#
# pupil over wavelength, in cycles per radian. Strokes of 20/20 are 30 cycles per degree; of 20/40, 15.

# %% hide=true
figures.contrast_left()

# %% [markdown] part="predict"
# ### Predict
#
# An eye without any error, a 3-mm pupil, green light, perfect focus. Lines as fine as the strokes of a 20/20
# letter are black and white on the chart: contrast 100 %.

# %% hide=true
guess_contrast = page.Guess("How much of it is left on the retina?", unit="%")
guess_contrast

# %% [markdown] part="observe" goals="1 2 3"
# ### Observe
#
# Start with the pupil alone: close it to 1 mm, open it to 7 mm. Where does the curve end? Back at 3 mm, add
# blur, one step at a time, and watch the two strips. At which blur are strokes of 20/40 nearly gone? Take one
# step more: some come back. Last, look at white light.

# %% hide=true
engine.explore(demos.contrast_and_fineness())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_contrast,
    100 * cases.compute_contrast_passed(3.0, 0.0, "green").fine,
    "The usual belief is that a perfect eye passes everything that it can resolve at all. It does not: "
    "contrast falls from the coarse to the fine, long before the cut-off at 94 cycles per degree. An eye "
    "chart asks only whether enough is left; contrast says how much.",
    near=5.0,
)

# %% [markdown]
# Half a dioptre, 3-mm pupil, white light: strokes of 20/40 had 62 % of their contrast, now 19 %. Acuity
# on a chart of full contrast hardly shows it: the law of Blendowske, fitted to many eyes, says 0.10 logMAR,
# one line. **A patient can read 20/20 and still rightly complain.** More blur exchanges black and white:
# what then seems to come back is false detail, **spurious resolution**.

# %% [markdown] part="idea"
# ## Idea 2: the pupil multiplies every error
#
# An error of focus spreads each point over a disc:
#
# $$\text{blur disc (mrad)} = \text{pupil (mm)} \times \text{defocus (D)}$$
#
# In words: pupil times defocus; a milliradian is 3.44 arcmin. Twice the pupil, twice the blur.
#
# **Spherical aberration** is a focus that changes over the pupil: with a positive sign the margin is
# stronger than the centre. Cornea and lens add, in µm over a 6-mm pupil: an average cornea has +0.27, a
# spherical lens about +0.10, an invented aspheric lens −0.20. That aspheric lens takes away most of the average
# cornea's aberration and leaves +0.07 µm. The margin exceeds the centre by
#
# $$\Delta = \frac{8\sqrt5}{27}\; c\, r^2$$
#
# $c$ in µm, $r$ the pupil's radius in mm: it grows with the **square** of the pupil. So a small pupil
# hides errors, until diffraction takes over; a wide pupil shows them.

# %% [markdown] part="predict"
# ### Predict
#
# An average eye with the aspheric lens has −0.50 D left over. It looks at a distant chart.

# %% hide=true
guess_pupil = page.Guess(
    "Through which pupil does it see the smallest letters?", options=("1.5 mm", "3 mm", "6 mm")
)
guess_pupil

# %% [markdown] part="observe" goals="3 4"
# ### Observe
#
# Start with no error. Then leave −0.50 D over and open and close the pupil: the curve on the right is your
# prediction. Now take the spherical lens, no refraction, and open the pupil to 6 mm. Which refraction makes
# that eye sharp again, plus or minus? Compare how both lenses bear half a dioptre at 6 mm.

# %% hide=true
engine.explore(demos.letters_and_pupil())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_pupil,
    "1.5 mm",
    "Blur is pupil times defocus, so the small pupil wins as soon as there is an error; in perfect focus "
    "2 to 3 mm are best, and below that diffraction takes over. The usual slip is to take one best pupil "
    "for all eyes. A pinhole shows the same at the slit lamp: what it improves is an error of optics.",
)

# %% [markdown]
# The aspheric lens is sharper in focus and **less forgiving** out of it: aberration smears one focus into
# many poor ones. And the spherical lens moves its best focus: through 6 mm the eye behaves as if it were
# short-sighted, for most of its light comes through the stronger margin.

# %% [markdown] part="example" goals="1 3 4"
# ## Worked example: what a pupil of 3 mm does
#
# Green light, 0.555 µm. First a perfect focus, then 0.50 D left over.

# %% hide=true
page.worked(cases.perfect_eye_steps(3.0, 0.5))

# %% [markdown]
# The blur disc, 5 arcmin, is as large as a whole 20/20 letter, and three times as wide as the Airy disc. Yet
# such an eye reads better than that: the middle of the disc keeps some detail.
#
# ### The same, with steps missing
#
# A pupil of 5 mm and 0.25 D. Write each missing number down, then open it.

# %% hide=true
page.faded(cases.perfect_eye_steps(5.0, 0.25), missing=(1, 2, 3, 4))

# %% [markdown]
# ### Back to Casimir Oduya
#
# Average cornea, spherical lens; 2.5 mm by day, 6 mm at night.

# %% hide=true
page.worked(
    [
        *cases.night_steps(0.27, 0.10, 2.5, 6.0),
        (
            "contrast of coarse lines (6 per degree) by day",
            "the model eye, 2.5 mm",
            100 * through_focus.mtf(monofocal(0.10), 2.5, 0.0, 6.0),
            "%",
        ),
        (
            "the same at night",
            "the model eye, 6 mm",
            100 * through_focus.mtf(monofocal(0.10), 6.0, 0.0, 6.0),
            "%",
        ),
        (
            "with −0.75 D in front of the eye at night",
            "far is then as an object at −0.75 D",
            100 * through_focus.mtf(monofocal(0.10), 6.0, -0.75, 6.0),
            "%",
        ),
    ]
)

# %% [markdown]
# By day the stop hides the aberration: 0.4 D between centre and margin. At night it is 2.2 D, and nothing
# is wrong with the lens or the biometry. Glasses of −0.75 D for the night bring back a third of what the
# pupil took, and two lines of acuity in this model; the glow around lamps stays. The model has neither
# scatter nor a retina in the dark: **try the lens in a dark room before you prescribe it.** For the
# next such patient, know the pupil and the cornea's aberration before choosing the body of the lens.

# %% [markdown] part="self-check"
# ## Check yourself

# %% hide=true
items.ask("airy-and-pupil", "modulation", "half-dioptre", "pinhole", "sum-of-aberration")

# %% [markdown] part="outside"
# ## Checked from outside
#
# Our numbers beside numbers that others reckoned or that a second way gives. This table is computed now.

# %% hide=true
page.outside_check(
    [
        (
            "Airy radius, 3 mm and 555 nm",
            "Born & Wolf: 1.22 λ / p by hand",
            0.776,
            cases.perfect_eye_steps(3.0, 0.5)[0][2],
            "arcmin",
        ),
        (
            "contrast at 100 lines/mm, 3 mm, 546 nm, perfect eye of 60 D",
            "closed form (Goodman), the limit that ISO 11979-2 refers to",
            0.620,
            through_focus.mtf(
                monofocal(),
                3.0,
                0.0,
                100 * through_focus.LENGTH_OF_ONE_DEGREE_MM,
                546.0,
                corneal_sa_um=0.0,
            ),
            "",
        ),
        (
            "loss by 1 D, 4-mm pupil, +0.10 µm in all",
            "log(1 + b²), Blendowske 2015 (abstract)",
            acuity.blendowske_logmar(1.0),
            through_focus.acuity_logmar(monofocal(), 4.0, -1.0, 0.10)
            - through_focus.acuity_logmar(monofocal(), 4.0, 0.0, 0.10),
            "logMAR",
        ),
    ]
)

# %% [markdown] part="caution"
# ## Caution
#
# A model eye: round pupil, no scatter, no coma or astigmatism, no neural adaptation. Predicted acuity is
# fitted to the area under the curve of contrast, good to ±0.1 logMAR, and the pictures need not agree with it
# to the line. Values of aberration are averages; single corneas differ widely, after laser above all.
#
# **For learning, not for patient care.** Follow the lens's labelling, local rules and the judgement of a
# licensed practitioner.

# %% [markdown] part="problems"
# ## Problems
#
# [Problems {{number one_focus}}](../exercises/{{stem one_focus}}/problems.ipynb): 8 problems and one written answer, 30 points, about
# 40 minutes.

# %% [markdown] part="summary"
# ## In two lines
#
# Diffraction sets the limit (1.22 λ/p, cut-off p/λ); contrast falls long before it, and acuity hides that.
# Blur is pupil times defocus, aberration grows with the pupil's square: know the pupil by day and by night.
#
# **Further reading.** Goodman, *Introduction to Fourier Optics*, on the transfer function; Thibos and others,
# on metrics of image quality (J Vis 2004). **Come back** in two days, in eleven, and before the
# examination; do the self-check first.
