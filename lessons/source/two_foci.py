# %% [markdown] part="title"
# # {{number two_foci}} · {{title two_foci}}
#
# *{{minutes two_foci}} minutes. You need: contrast and the blur disc (lesson {{number one_focus}}), vergence and reading distance (lesson {{number vergence}}).*
#
# Press **Run ▸ Run All Cells** first.

# %% [markdown] part="goals"
# ## Goals
#
# After this page you can
#
# 1. **share out the light of a stepped lens among its foci, in any colour**;
# 2. **turn the add of a lens into a reading distance**;
# 3. **say how much contrast is left in focus, and why**;
# 4. **reckon the width of a halo, and say what the pupil does to it**.

# %% [markdown] part="case"
# ## A case to open with
#
# Marguerite Solheim, 63, invented like everybody here, conducts a choir and drives home at night. She wants
# to be rid of reading glasses. A diffractive bifocal lens is discussed; its paper says “add +3.50 D”. Her
# cornea has 43 D, the lens will sit 5.4 mm behind it, her pupil at night is 5 mm.
#
# **At which distance is her second focus, how much light does it get, and what will a street lamp look
# like?** It is not 29 cm, and it is not half of the light.

# %% [markdown] part="recall"
# ## Recall
#
# Two things from lesson {{number one_focus}}. Choose an answer; it opens.

# %% hide=true
from shared_utils.cases import two_foci as numbers
from shared_utils.explore import engine, page, two_foci as demos
from shared_utils.optics import retina
from shared_utils.optics.lenses import diffractive_bifocal
from shared_utils.bank import items
from shared_utils.show import two_foci as figures

items.ask("blur-disc", "modulation")

# %% [markdown] part="idea"
# ## Idea 1: steps share out the light
#
# A diffractive lens carries rings of equal area. At each ring's edge the surface jumps back by a **step**. A
# step of a whole wavelength changes nothing but the power: all light goes to one new focus. A step of a part
# of a wavelength cannot decide: the light divides among **orders**, numbered $m$, whose powers lie one
# **add** apart. With steps of $\alpha$ wavelengths each order gets
#
# $$\eta_m = \mathrm{sinc}^2(\alpha - m), \qquad \mathrm{sinc}\,x = \frac{\sin \pi x}{\pi x}$$
#
# In words: the nearer the step is to the number of the order, the more light the order gets. The **height**
# of the steps shares the light; the **width** of the rings sets the add. Orders that nobody needs take light
# too: it reaches the retina, never in focus.

# %% hide=true
figures.steps_and_shares()

# %% [markdown] part="predict"
# ### Predict
#
# Steps of half a wavelength share evenly between far and near.

# %% hide=true
guess_share = page.Guess("How much of the light does the near focus get?", unit="%")
guess_share

# %% [markdown] part="observe" goals="1 2"
# ### Observe
#
# Raise the steps from 0 to 1 and watch the light move from far to near. Back at 0.50, turn the light to blue
# (450 nm), then to red. Which focus does blue favour? Which of the two places moves less with colour? Then
# take the other lenses: steps of 0.30 for the trifocal, 1.40 for extended depth with high steps. (Everywhere else in
# this course the extended-depth lens is a smooth bulge without orders.)

# %% hide=true
engine.explore(demos.steps_and_orders())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_share,
    100 * numbers.shares(0.5, 555, "bifocal").energy[1],
    "The usual belief is half and half. But sinc²(½) = (2/π)²: two foci with 40.5 % each, and 19 % in orders "
    "that are never in focus. No height of the steps does better for two equal foci.",
    near=1.5,
)

# %% [markdown]
# A step of half a wavelength of green is 0.62 wavelengths of blue and 0.43 of red. So **blue favours near,
# red favours far**. And diffraction bends red more than blue, the other way round than the eye: from
# 450 to 650 nm the far focus moves by 1.2 D, the near one by 0.3 D only. A **trifocal** lens has two
# heights of steps in turn: far, an intermediate focus at half the add, and near get 39, 20 and 26 %; 15 % is lost.

# %% [markdown] part="idea"
# ## Idea 2: contrast in focus follows the share
#
# Look at a distant object through a bifocal lens. The far order draws a sharp picture. The near order draws
# the **same object** over it, so blurred that fine lines are even grey. Grey adds light, but no contrast:
#
# $$\text{contrast in focus} \approx \text{share of the light} \times \text{contrast of a monofocal}$$
#
# In words: what is left is the share that is in focus. The denominator of contrast counts all the light, also
# that which only makes grey. With 0.4 of it, −0.4 log units of contrast sensitivity. That is the trade's
# “about half”, and the reason why a hazy capsule, a dry surface or a sick macula weigh more behind such a
# lens: there is less to lose.

# %% [markdown] part="predict"
# ### Predict
#
# A bifocal lens, steps of 0.50, 3-mm pupil. A **near** object at 40 cm, green light.

# %% hide=true
guess_near = page.Guess(
    "Its contrast, against that of a monofocal lens focused for 40 cm, is about",
    options=("the same", "0.8 of it", "0.4 of it", "0.2 of it"),
)
guess_near

# %% [markdown] part="observe" goals="3"
# ### Observe
#
# Compare the two numbers at far, then at 40 cm. Move the steps: does contrast follow the light? Look between
# the foci, at 67 cm. Last, take white light and read off near again.

# %% hide=true
engine.explore(demos.contrast_and_share())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_near,
    "0.4 of it",
    "Both foci pay, not only far: each has its share and the other's grey. The usual slip is to think that "
    "at near the lens is simply a reading lens. Between the foci both pictures are blurred, and a bifocal "
    "lens has a gap there. In white light near does a little better than its share, for its colours lie closer "
    "together.",
)

# %% [markdown] part="idea"
# ## Idea 3: the other focus makes the halo
#
# At night a lamp is a point on black. Far light draws the point; near light, an add too strong, draws a
# **disc** around it. It is the blur disc of lesson {{number one_focus}}, with the add for the defocus:
#
# $$\text{halo (mrad)} = \text{pupil (mm)} \times \text{add (D)}$$
#
# In words: the diameter of the halo is pupil times add; a milliradian is 3.44 arcmin. A stronger add or a
# wider pupil makes it wider, and as the same light covers more area, **dimmer**. Steps that shrink outwards
# (apodised) give the light of a wide pupil to far: less halo at night, and less reading in dim light.

# %% [markdown] part="predict"
# ### Predict
#
# An add of 2.50 D at the cornea, a pupil of 5 mm. The full Moon measures 31 arcmin.

# %% hide=true
guess_halo = page.Guess("How wide is the halo around a distant lamp?", unit="arcmin")
guess_halo

# %% [markdown] part="observe" goals="4"
# ### Observe
#
# Check your guess against the line on the right. Close the pupil: what happens to the width, and to the
# light inside? Weaken the add. Then take the lens whose steps shrink outwards, and the monofocal lens.
#
# In the second picture the eye itself scatters light too: cornea, vitreous and a cloudy capsule lay a haze
# without an edge around every lamp. A straylight meter gives its size as a logarithm, **log s**: 0.9 in youth,
# 1.2 at 65 years (age norm, Invest Ophthalmol Vis Sci 2007, abstract read); 0.3 more is twice as much.
# Raise it, and see where the haze hides the edge of the halo.

# %% hide=true
engine.explore(demos.lamp_at_night())

# %% hide=true
engine.explore(demos.lamp_in_a_scattering_eye())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_halo,
    retina.geometric_halo_arcmin(5.0, 2.5),
    "12.5 mrad, wider than the Moon. The usual belief is that a halo is a flaw of one lens or of surgery; it is "
    "the second focus itself, seen from far. The scale here is logarithmic: per area the halo is about a "
    "thousand times dimmer than the lamp, so it is seen around lamps and not by day.",
    near=3.0,
)

# %% [markdown] part="example" goals="2 4"
# ## Worked example: what the paper says and what the patient gets
#
# An add printed for the lens itself is weaker at the cornea, because the beam has narrowed on its way
# to the lens. Lens and cornea see the same path difference, add · r²/2, so the add shrinks with the
# **square** of that ratio. In usual eyes 0.66 to 0.70 of it are left; some papers count 0.8 at the
# spectacles, so say which plane you mean.
#
# ### Back to Marguerite Solheim

# %% hide=true
page.worked(numbers.add_steps(3.5, 5.4, 43.0, 5.0))

# %% [markdown]
# Her second focus lies at 42 cm with 41 % of the light, and contrast in both foci is 0.4 of a monofocal's,
# about −0.4 log units. A street lamp gets a dim disc of 41 arcmin, 1.3 Moons. Her score on the music stand,
# at 65 cm, falls into the gap between the foci; a trifocal lens of the same add would put a fifth of the light
# at 84 cm. This is what to talk about before surgery, halo first: **she drives home at night.**
#
# ### The same, with steps missing
#
# Printed add +4.00 D, lens 5.0 mm behind a cornea of 44 D, pupil 6 mm. Write each missing number down, then open it.

# %% hide=true
page.faded(numbers.add_steps(4.0, 5.0, 44.0, 6.0), missing=(2, 3, 5))

# %% [markdown] part="self-check"
# ## Check yourself

# %% hide=true
items.ask("half-and-half", "printed-add", "grey-picture", "halo-width", "blue-and-near")

# %% [markdown] part="outside"
# ## Checked from outside
#
# Our numbers beside numbers that others reckoned or that a second way gives. This table is computed now.

# %% hide=true
page.outside_check(
    [
        (
            "share of each focus, steps of half a wavelength",
            "Swanson 1989, sinc²: 4/π² by hand",
            40.528,
            100 * numbers.shares(0.5, 555, "bifocal").energy[1],
            "%",
        ),
        (
            "first ring of an add of 4 D",
            "Goodman, zone plate: √(2 · 0.000555 · 250) mm by hand",
            0.527,
            diffractive_bifocal(4.0).zone_radii_mm(3.0)[0],
            "mm",
        ),
        (
            "white halo out to half its level, 5 mm and 2.5 D, no spherical aberration",
            "pupil times add, the law of Alba-Bueno 2014 (abstract): 43 arcmin",
            42.97,
            retina.halo_diameter_arcmin(diffractive_bifocal(), 5.0, corneal_sa_um=0.0),
            "arcmin",
        ),
    ]
)

# %% [markdown] part="caution"
# ## Caution
#
# Generic lenses with stated parameters, scalar theory, a model eye without scatter, coma or neural adaptation. A
# pupil of 3 mm holds three or four rings only, so shares and foci shift a little. Brain and habit dim a
# halo over months in most patients, not in all; the model knows nothing of that.
#
# **For learning, not for patient care.** Follow the lens's labelling, local rules and the judgement of a
# licensed practitioner.

# %% [markdown] part="problems"
# ## Problems
#
# [Problems {{number two_foci}}](../exercises/{{stem two_foci}}/problems.ipynb): 8 problems and one written answer, 30 points, about
# 40 minutes.

# %% [markdown] part="summary"
# ## In two lines
#
# Steps share the light, sinc²(α − m): 41 % far, 41 % near, the rest lost; contrast in focus is about that share.
# The halo is pupil times add; an add printed for the lens is worth two thirds of it at the cornea.
#
# **Further reading.** Swanson, *Binary Optics Technology* (MIT Lincoln Laboratory 1989); Davison & Simpson on
# apodised lenses (J Cataract Refract Surg 2006). **Come back** in two days, in eleven, and before the
# examination; do the self-check first.
