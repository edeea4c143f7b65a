# %% [markdown] part="title"
# # {{number measuring}} · {{title measuring}}
#
# *{{minutes measuring}} minutes. You need: surface power and vergence (lesson {{number vergence}}).*
#
# Press **Run ▸ Run All Cells** first.

# %% [markdown] part="goals"
# ## Goals
#
# After this page you can
#
# 1. **say what a keratometer measures and reckon what its index assumes**;
# 2. **turn an echo or a light path into a length, and name the error of each ruler**;
# 3. **turn an error of measurement into dioptres of refraction**;
# 4. **decide when to measure again**.

# %% [markdown] part="case"
# ## A case to open with
#
# Leopold Fenn, 74, invented like everybody here, cannot keep still. A probe on the cornea found
# **21.90 mm** in his right eye and **22.31 mm** in his left. Keratometry is 44.00 D and 44.12 D. Before
# the cataracts came, he wore +1.50 D on both sides.
#
# **Do you order the lens for the right eye? If 21.90 mm is wrong, what would it cost him?**

# %% [markdown] part="recall"
# ## Recall
#
# Two things from lesson {{number vergence}}. Choose an answer; it opens.

# %% hide=true
from shared_utils.cases import measuring as cases
from shared_utils.explore import engine, measuring as demos, page
from shared_utils.power import axial_length, cornea, pseudophakia
from shared_utils.power.biometry import Eye
from shared_utils.bank import items
from shared_utils.show import measuring as figures

items.ask("sign-of-near-light", "which-way-weaker")

# %% [markdown] part="idea"
# ## Idea 1: a keratometer measures a radius
#
# A keratometer sees an image that the front of the cornea mirrors. From its size follows one thing: the
# **radius of the front**. The dioptres on the display are
#
# $$K = \frac{337.5}{R}$$
#
# In words: 337.5 divided by the radius in millimetres. The 337.5 is an invented index, 1.3375, less
# one, times a thousand. No part of the eye has it. The true index of the cornea is 1.376, and the **back**
# surface, which nobody has seen, takes about 6 D away again. One index for both surfaces takes for granted
# that the back follows the front in a fixed ratio.
#
# Other instruments and formulas use 4/3, 1.332 or 1.3315. So carry **radii** from one to another, and
# convert once.

# %% hide=true
figures.where_the_rulers_end()

# %% [markdown] part="predict"
# ### Predict
#
# A usual cornea has a front radius of 7.80 mm and a back radius of 6.47 mm. The keratometer shows 43.27 D.

# %% hide=true
guess_cornea = page.Guess(
    "Compared with 43.27 D, the power that this cornea really has is:",
    options=("about 1 D more", "the same", "about 1 D less"),
)
guess_cornea

# %% [markdown] part="observe" goals="1"
# ### Observe
#
# Start where the picture starts. Then move the ratio until the reading is true: would you find such an
# eye? Go back to 0.83, then to 0.72: that is a cornea after laser for myopia, front flattened, back
# untouched. Last, change the index.

# %% hide=true
engine.explore(demos.front_and_back())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_cornea,
    "about 1 D less",
    "The usual belief is that a keratometer measures power. It measures the front radius; at 1.3375 the "
    "reading is right only where the back is flatter than the front (ratio 1.02 here). In usual eyes it "
    "is about 1 D too high, always by the same amount, so the lens constants swallow it. After corneal "
    "surgery the amount changes, and nothing swallows the rest.",
)

# %% [markdown] part="idea"
# ## Idea 2: a length is a time, and a speed assumed
#
# **Sound** gives the time of an echo from the retina's inner limit. Half of it times a speed is a length:
#
# $$L = \frac{t}{2}\,c$$
#
# Sound runs at 1641 m/s in the lens, at 1532 in the humours. One speed for all, 1555 m/s, is the mean of an
# **average** eye. A long eye is longer by vitreous: its mean is slower, and it is read too long. A probe
# that **touches** the cornea presses it: 0.1 to 0.3 mm too short.
#
# **Light** gives an optical path to the pigment epithelium, 0.25 mm deeper. One index, 1.3549, makes it a
# length; a published line puts it on the scale of sound, for the sake of old lens constants. There, each
# further millimetre of vitreous shows as 1.037 mm.
#
# **Each segment by itself**, at its own speed, has neither fault.

# %% [markdown] part="predict"
# ### Predict
#
# An eye is 30.0 mm long. The instrument measures by light, uses one index for all of it, and shows the
# length on the scale of sound.

# %% hide=true
guess_long = page.Guess("The length on its display is:", options=("too short", "right", "too long"))
guess_long

# %% [markdown] part="observe" goals="2 3"
# ### Observe
#
# Start with the probe on the cornea, then go through the rulers at 22, 23.5 and 30 mm. The picture says
# what each error leaves behind as refraction. Then make the lens thicker, as it grows with age.

# %% hide=true
engine.explore(demos.ruler_and_eye())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_long,
    "too long",
    "It shows 30.24 mm, and a lens chosen for that leaves +0.36 D. Many expect light to be exact. The "
    "light is; the one index is an average, and the line to the scale of sound was fitted to usual eyes. "
    "This is a part of why long eyes used to end up hyperopic. An "
    "adjustment made for such lengths must not be put on lengths that were measured by segments.",
)

# %% [markdown] part="idea"
# ## Idea 3: every error has a price in dioptres
#
# A length read too long or a cornea read too steep makes the formula choose a lens that is **too
# weak**: a hyperopic surprise. Too short or too flat: a myopic one. A lens expected too deep is chosen too
# strong: myopic again. In an average eye the spectacles pay about
#
# - **2.7 D** for 1 mm of axial length,
# - **1 D** for 1 D of keratometry,
# - **1.3 D** for 1 mm of lens position.
#
# The lens itself changes by more: 3.9 D for that millimetre. A dioptre in the lens is worth only 0.7 D at
# the spectacles.
#
# **Chamber depth** costs what the formula makes of it. With a formula that moves the lens by 0.4 mm for
# each millimetre, the price is about 0.6 D/mm; with one that does not ask for it, nothing.

# %% [markdown] part="predict"
# ### Predict
#
# Three eyes of 20, 23.5 and 30 mm have each been read 0.30 mm too long.

# %% hide=true
guess_price = page.Guess(
    "Who pays most?", options=("the 20 mm eye", "the 23.5 mm eye", "the 30 mm eye", "all alike")
)
guess_price

# %% [markdown] part="observe" goals="3"
# ### Observe
#
# Read the price of 0.30 mm at 20, 23.5 and 30 mm. Then change what is wrong. Which price does not depend on
# the eye? Where does the lens position cost nothing at all, and why?

# %% hide=true
engine.explore(demos.price())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_price,
    "the 20 mm eye",
    "A millimetre is a larger share of a short eye, and its lens is strong: "
    "3.9 D/mm at 20 mm, 2.7 at 23.5, 1.5 at 30. Long eyes have a bad name, but the same slip costs "
    "them less. Keratometry costs the same everywhere. Near 31 mm the lens has hardly any power left, "
    "and a lens without power may stand where it likes.",
)

# %% [markdown] part="example" goals="1 3 4"
# ## Worked example: a reading and a power
#
# Front radius 7.80 mm, back radius 6.50 mm, thickness 0.55 mm. Stroma 1.376, aqueous 1.336.

# %% hide=true
page.worked(cases.keratometry_steps(7.80, 6.50, 0.55))

# %% [markdown]
# ### The same, with steps missing
#
# A cornea after laser for myopia: 8.88 mm, 6.40 mm, 0.45 mm. Write each missing number down, then open it.

# %% hide=true
page.faded(cases.keratometry_steps(8.88, 6.40, 0.45), missing=(1, 2, 4, 5))

# %% [markdown]
# ### When to measure again
#
# Unusual is not wrong; it asks for a second look. A published list (Holladay and colleagues, 1988): axial
# length below 22 or above 25 mm; K below 40 or above 47 D; between the two eyes more than 0.3 mm, 1 D
# of K or 1 D of lens power. Common practice adds two:
#
# - readings of one eye that differ by more than about 0.05 mm or 0.25 D among themselves;
# - numbers that do not explain the **glasses worn before** the cataract: a millimetre between
#   the eyes should have shown as some 2.5 D between the glasses.
#
# For keratometry look at the surface first: a dry or just touched cornea reads anything.
#
# ### Back to Leopold Fenn
#
# His eyes differ by 0.41 mm, and the right one is below 22 mm: two reasons. Equal glasses and equal
# corneas say that the lengths should be equal too. Measured by light, the right eye has **22.28 mm**, the
# left 22.33 mm. The probe had pressed the restless eye.

# %% hide=true
page.worked(cases.second_reading_steps(21.90, 22.28, 44.0))

# %% [markdown]
# Do not order for 21.90 mm. It would have left more than a dioptre of myopia, and the mean of both readings
# still half of it: a wrong value does not become right by averaging.

# %% [markdown] part="self-check"
# ## Check yourself

# %% hide=true
items.ask("back-surface-assumed", "probe-presses", "price-in-short-eye", "unequal-lengths")

# %% [markdown] part="outside"
# ## Checked from outside
#
# Our numbers beside numbers that others reckoned or that a second way gives. This table is computed now.

# %% hide=true
average = pseudophakia.sensitivities(Eye(23.5, 43.5), elp_mm=5.19)
page.outside_check(
    [
        (
            "power of Gullstrand's cornea, 7.7 / 6.8 / 0.5 mm",
            "Gullstrand's exact eye, in Helmholtz (from memory)",
            43.05,
            cornea.thick_cornea(7.7, 6.8, 0.5).power_d,
            "D",
        ),
        (
            "mean speed of sound, eye of 30 mm, 4.63 mm lens",
            "Hoffer, J Cataract Refract Surg 1994 (from memory, rounded)",
            1550.0,
            2000.0 * 30.0 / axial_length.echo_time(30.0, 4.63),
            "m/s",
        ),
        (
            "eye of 28 mm by light, turned to segments",
            "Cooke & Cooke, J Cataract Refract Surg 2019 (from memory): 1.23853 + 0.958547 L − 0.05467 LT",
            1.23853
            + 0.958547 * axial_length.length_by_light(axial_length.optical_path(28.0, 4.6))
            - 0.05467 * 4.6,
            28.0,
            "mm",
        ),
        (
            "price of 1 mm of length, average eye",
            "Olsen, Acta Ophthalmol Scand 2007 (from memory: 2.3 to 2.8)",
            -2.7,
            average.axial_length_mm,
            "D/mm",
        ),
    ]
)

# %% [markdown] part="caution"
# ## Caution
#
# Thin lenses, usual thicknesses of cornea and chamber, a healthy macula. Eyes with oil, with a
# staphyloma or with an irregular cornea need more than this page. The prices hold the lens in place; a
# formula that moves its lens with the eye pays a little less.
#
# **For learning, not for patient care.** Follow the instrument's and the lens's labelling, local rules and
# the judgement of a licensed practitioner.

# %% [markdown] part="problems"
# ## Problems
#
# [Problems {{number measuring}}](../exercises/{{stem measuring}}/problems.ipynb): 9 problems and one written answer, 30 points,
# about 40 minutes.

# %% [markdown] part="summary"
# ## In two lines
#
# A keratometer gives a radius, a biometer a time or a path; index and speed are assumed.
# At the spectacles 1 mm of length costs 2.7 D, more in short eyes; 1 D of K about 1 D.
#
# **Further reading.** Hoffer on ultrasound velocities (J Cataract Refract Surg 1994); Norrby, *Sources of
# error in intraocular lens power calculation* (2008); Olsen, *Calculation of intraocular lens power* (2007).
# **Come back** in two days, in eleven, and before the examination; do the self-check first.
