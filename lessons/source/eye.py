# %% [markdown] part="title"
# # {{number eye}} · {{title eye}}
#
# *{{minutes eye}} minutes. You need: vergence and its two steps, from [lesson {{number vergence}}]({{stem vergence}}.ipynb).*
#
# Press **Run ▸ Run All Cells** first.

# %% [markdown] part="goals"
# ## Goals
#
# After this page you can
#
# 1. **find the size of a retinal image with the nodal point of a model eye**;
# 2. **turn millimetres of length into dioptres and back, and say where the rule ends**;
# 3. **tell whether length or power makes an eye ametropic**;
# 4. **reckon the range of clear vision from refraction and age**.

# %% [markdown] part="case"
# ## A case to open with
#
# Rosamund Ekwue, 68, invented like everybody here, comes for cataract surgery. Her right eye has −5.50 D, her
# left −2.50 D, in spectacles 12 mm in front. Eight years ago both had −2.50 D. Now her eyes are measured:
# the right is 25.10 mm long, the left 25.13 mm; the corneas are alike. The technician hesitates: the right
# eye is 3 D more short-sighted, so should it not be longer?
#
# **Is the length wrong, or is something else different?**

# %% [markdown] part="recall"
# ## Recall
#
# Two things from lesson {{number vergence}}. Choose an answer; it opens.

# %% hide=true
from shared_utils.cases import eye as cases
from shared_utils.explore import engine, eye as demos, page
from shared_utils.optics import accommodation, acuity, model_eyes, paraxial
from shared_utils.bank import items
from shared_utils.show import eye as figures

items.ask("sign-of-near-light", "which-way-weaker")

# %% [markdown] part="idea"
# ## Idea 1: six points stand for the whole eye
#
# Cornea and lens have four surfaces. For light near the axis, six points replace them all:
#
# - **focal points** F and F′: parallel light meets at F′;
# - **principal points** P and P′: here the whole power seems to sit, 1.6 to 1.9 mm behind the cornea;
# - **nodal points** N and N′: a ray aimed at N leaves N′ in its old direction.
#
# So the angle of an object outside is the angle of its image inside, and
#
# $$y' = \frac{\tan\theta}{F}$$
#
# In words: the retinal image, in metres, is the tangent of the object's angle over the power of the eye;
# $1/F$ is the way from N′ to the retina of an eye in focus.
#
# Radii and indices that give such points are a **model eye**. The simplest, the **reduced eye**, has one
# surface, 60 D, and index 4/3.

# %% hide=true
figures.points_side_by_side()

# %% [markdown] part="predict"
# ### Predict
#
# The full moon is half a degree wide.

# %% hide=true
guess_moon = page.Guess("How wide is its image on your retina?", unit="mm")
guess_moon

# %% [markdown] part="observe" goals="1"
# ### Observe
#
# Bring the object to 0.5°: that is the moon. Then go up to 10° and follow the blue ray: it passes N and N′
# unturned. Change the model eye. How much does the image change, and where do N and N′ go in the reduced
# eye?

# %% hide=true
engine.explore(demos.six_points())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_moon,
    acuity.retinal_size_um(30.0) / 1000,
    "The usual slip is to open the angle at the cornea, 24 mm away: that gives 0.21 mm. It opens at the "
    "nodal point, 1000 / 60 = 16.7 mm in front of the retina. Model eyes differ by tenths of a millimetre "
    "in their points, hence by a few per cent in image size. In the reduced eye they stand 1.6 to 2.0 mm "
    "farther forward, since its one surface takes the place of the principal planes.",
    near=0.015,
)

# %% [markdown] part="idea"
# ## Idea 2: two ways to be out of focus
#
# An eye is in focus when its power and its length fit together. They may miss each other in two ways:
# **axial** ametropia, the length is wrong for the power; **refractive** ametropia, the power is wrong for the
# length. The refraction alone does not tell which.
#
# For an eye of average power, a dioptre at the cornea takes
#
# $$\Delta L \approx \frac{n'}{F^2} = \frac{1333}{60^2} = 0.37\ \text{mm}$$
#
# In words: millimetres a dioptre are the index behind, times a thousand, over the square of the power. The
# other way round, a millimetre is 2.7 D.
#
# The rule ends where power or length leave the average. Dioptres a millimetre go with one over the length
# squared: more in short eyes, fewer in long ones. Counted in spectacles the rule holds a little longer.

# %% hide=true
figures.length_and_refraction()

# %% [markdown] part="predict"
# ### Predict
#
# An eye is 26.0 mm long, about 2 mm more than the average. Nothing else is known of it.

# %% hide=true
guess_length = page.Guess(
    "What is its refraction?",
    options=(
        "short-sighted by 4 to 5 D, for sure",
        "perhaps that, perhaps none at all",
        "short-sighted by less than 1 D",
    ),
)
guess_length

# %% [markdown] part="observe" goals="2 3"
# ### Observe
#
# Lengthen the eye by 1 mm: how many dioptres at the cornea? Reset. Now reach the same refraction with the cornea
# alone, then with the index of the lens alone. Last, make a long eye, 26 mm, and take its myopia away with a
# flat cornea and a lens of lower index.

# %% hide=true
engine.explore(demos.length_cornea_lens())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_length,
    "perhaps that, perhaps none at all",
    "With an average cornea and lens it has −4.8 D in spectacles; with a cornea of 8.4 mm and a lens of index "
    "1.411 it needs no glasses. The usual misconception: a long eye is a short-sighted eye. Length and power "
    "must fit, and in many long eyes they do. The usual slip: 0.37 are millimetres a dioptre; dioptres a "
    "millimetre are 2.7, and negative, for in a long eye the light meets in front of the retina.",
)

# %% [markdown] part="idea"
# ## Idea 3: accommodation, and what age leaves of it
#
# To see near, the young lens becomes rounder. In the model of Gullstrand and Emsley its front radius
# falls from 10 to 5 mm, and its power rises from 21.8 to 32.3 D. The **amplitude** is how much vergence
# this can make up for. It falls every year; Hofstetter's line for the average is
#
# $$A = 18.5 - 0.30 \times \text{age}$$
#
# In words: eighteen and a half dioptres, less three tenths for each year of age; never below zero.
#
# **Far point** and **near point** bound what is clear: with $K$ the refraction at the cornea, they lie at
# $1/K$ and $1/(K - A)$. A long-sighted eye pays $K$ before it sees far. **Presbyopia** is when what is
# left no longer pays for reading. An artificial lens ends the matter: $A = 0$.

# %% [markdown] part="predict"
# ### Predict
#
# A page at 40 cm asks 2.50 D. People read for long with half their amplitude, no more.

# %% hide=true
guess_age = page.Guess(
    "At which age does half of the average amplitude just pay for the page?",
    options=("35 years", "45 years", "55 years"),
)
guess_age

# %% [markdown] part="observe" goals="4"
# ### Observe
#
# Age the eye year by year to 45: how near does it still see, and how much of its amplitude does a page at 40 cm
# take? Go on to 75. Then set the refraction to −2.50 D: what does this eye see, glasses off, glasses on? Last,
# +3.00 D at 50.

# %% hide=true
engine.explore(demos.age_and_range())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_age,
    "45 years",
    "18.5 − 0.30 × 45 = 5.0 D, and half of it is 2.50 D. The usual misconception: presbyopia begins at 45. "
    "The amplitude has fallen since childhood; at 45 it only stops paying for the page. And a myope of "
    "−2.50 D does not escape it: without glasses the page is clear at any age, but nothing else is.",
)

# %% [markdown] part="example" goals="1 2 3"
# ## Worked example: from a length to glasses
#
# A reduced eye, 60 D, is 24.0 mm long. Where is its far point, and which glasses does it need?

# %% hide=true
page.worked(cases.reduced_eye_steps(24.0))

# %% [markdown]
# ### The same, with steps missing
#
# A reduced eye of 21.0 mm. Write each missing number down, then open it.

# %% hide=true
page.faded(cases.reduced_eye_steps(21.0), missing=(2, 3, 4))

# %% [markdown]
# ### Back to Rosamund Ekwue
#
# Bring both refractions to the cornea, and ask which length would explain the difference.

# %% hide=true
page.worked(cases.two_eyes_steps(-5.50, -2.50, 25.10, 25.13))

# %% [markdown]
# If length were the reason, the right eye would be 1 mm longer. It is not, the corneas are alike, and
# eight years ago both eyes were equal. What is left is the **lens**: a nuclear cataract raises its index, and
# with it its power. In our model an index of 1.437 instead of 1.420 turns −2.50 D into −5.6 D. The
# lengths need no repeat for this reason; and the surgery removes the extra power together with the lens.
# So the lens power to implant follows from length and cornea, **not** from today's refraction.
#
# Turn it round for the next patient: equal old glasses and unequal lengths, by a millimetre or more, are a
# reason to **measure again**.

# %% [markdown] part="self-check"
# ## Check yourself

# %% hide=true
items.ask(
    "image-of-a-degree",
    "tenth-of-a-millimetre",
    "long-eye-without-glasses",
    "who-complains-first",
    "what-surgery-leaves",
)

# %% [markdown] part="outside"
# ## Checked from outside
#
# Our numbers beside published ones. The last row differs, and it should: Hofstetter's line is what people
# report; an instrument that watches the eye finds less.

# %% hide=true
gullstrand = paraxial.cardinal_points(model_eyes.get("gullstrand_exact"))
accommodated = model_eyes.get("gullstrand_exact", accommodated=True)
page.outside_check(
    [
        (
            "power of Gullstrand's eye",
            "Gullstrand 1909 (from memory)",
            58.64,
            gullstrand.power_d,
            "D",
        ),
        (
            "its second nodal point",
            "Gullstrand 1909 (from memory)",
            7.332,
            gullstrand.nodal_mm[1],
            "mm",
        ),
        (
            "its near point, fully accommodated",
            "Gullstrand 1909 (from memory)",
            -102.3,
            1000 / model_eyes.refraction(accommodated, vertex_mm=0.0),
            "mm",
        ),
        (
            "power of Liou and Brennan's eye",
            "Liou & Brennan 1997, abstract",
            60.35,
            paraxial.cardinal_points(model_eyes.get("liou_brennan")).power_d,
            "D",
        ),
        (
            "amplitude at 40 years",
            "Anderson and others 2008, abstract: 7.33 − 0.0035 (age − 3)²",
            7.33 - 0.0035 * 37**2,
            accommodation.amplitude_at_age(40),
            "D",
        ),
    ]
)

# %% [markdown] part="caution"
# ## Caution
#
# Model eyes are averages, with rays near the axis: no aberration, no pupil, no tilt. A real eye differs in
# every part; 0.37 mm a dioptre is for checking whether numbers fit together, never for choosing a lens.
# Hofstetter's lines include depth of focus, and people of one age differ by dioptres.
#
# **For learning, not for patient care.** Follow the lens's labelling, local rules and the judgement of a
# licensed practitioner.

# %% [markdown] part="problems"
# ## Problems
#
# [Problems {{number eye}}](../exercises/{{stem eye}}/problems.ipynb): 8 problems and one written answer, 30 points, about
# 40 minutes.

# %% [markdown] part="summary"
# ## In two lines
#
# Six points stand for the eye; the image is the tangent of the angle times 17 mm, from the nodal point.
# Length and power must fit, 0.37 mm a dioptre near the average; accommodation, as people report it, is spent at about 60.
#
# **Further reading.** Bennett & Rabbetts, *Clinical Visual Optics*, on schematic eyes and ametropia; Atchison &
# Smith, *Optics of the Human Eye*. **Come back** in two days, in eleven, and before the examination; do the
# self-check first.
