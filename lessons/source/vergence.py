# %% [markdown] part="title"
# # {{number vergence}} · {{title vergence}}
#
# *{{minutes vergence}} minutes. You need: the reciprocal of a number, and that a lens bends light.*
#
# Press **Run ▸ Run All Cells** first.

# %% [markdown] part="goals"
# ## Goals
#
# After this page you can
#
# 1. **reckon the vergence of light at any place**, with its sign and unit;
# 2. **find the image that a lens or a surface makes**, in any medium;
# 3. **carry vergence over a distance, as from spectacles to the cornea**;
# 4. **follow light through two lenses step by step**.

# %% [markdown] part="case"
# ## A case to open with
#
# Theodora Valk, 61, invented like everybody here, has had her right eye operated on. Her left eye still
# waits. Before, she wore −9.00 D on both sides, 13 mm in front of her eyes. With one eye set free and the
# other not, spectacles make her dizzy: the two images differ in size. She asks for a contact lens for
# the left eye until its turn comes.
#
# **Which power must the contact lens have?** It is not −9.00 D.

# %% [markdown] part="recall"
# ## Recall
#
# Two things from before this course. Choose an answer; it opens.

# %% hide=true
from shared_utils.cases import vergence as cases
from shared_utils.explore import engine, page, vergence as demos
from shared_utils.optics import paraxial, vergence
from shared_utils.bank import items
from shared_utils.show import vergence as figures

items.ask("reciprocal", "slower-light")

# %% [markdown] part="idea"
# ## Idea 1: a number for how light spreads
#
# Light from a point spreads. Far from the point it is nearly parallel; near the point it spreads
# strongly. **Vergence** says how strongly, at one place:
#
# $$V = \frac{n}{v}$$
#
# In words: vergence in dioptres is the refractive index, divided by the distance to the point in metres.
# Light travels to the right. The distance is negative when the point lies in front, so spreading
# (diverging) light has **negative** vergence. Light that runs together (converging) has **positive**
# vergence. Parallel light has none.
#
# A lens simply **adds its power**: what leaves is what arrives plus the lens, $V = U + F$.

# %% hide=true
figures.three_kinds_of_light()

# %% [markdown] part="predict"
# ### Predict
#
# An object stands 40 cm in front of a lens of +5.00 D in air. Reckon before you look.

# %% hide=true
guess_image = page.Guess("What vergence leaves the lens?", unit="D")
guess_image

# %% [markdown] part="observe" goals="1 2"
# ### Observe
#
# Start where the picture starts: 40 cm and +5.00 D. Then bring the object nearer, one step at a time.
# When does the light that leaves become parallel? What happens when the object comes nearer still?
# Last, put aqueous behind the surface and leave the power as it is.

# %% hide=true
engine.explore(demos.point_and_surface())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_image,
    vergence.refract(vergence.vergence(-0.40), 5.0),
    "The usual slip is to forget the sign of the arriving light: it is 1 / (−0.40 m) = −2.50 D, and the "
    "lens must first make up for it. The rest, +2.50 D, brings the light together 40 cm behind the lens. "
    "With aqueous behind the surface the vergence stays the same, but the image moves: v = n / V.",
)

# %% [markdown] part="idea"
# ## Idea 2: light changes its vergence on the way
#
# Vergence belongs to a **place**. Diverging light, some millimetres farther on, is farther from its
# point: it diverges less. Converging light has come nearer to its focus: it converges more. So after a way
# $d$ (metres, in a medium of index $n$)
#
# $$V' = \frac{V}{1 - \frac{d}{n}\,V}$$
#
# In words: divide the vergence by one minus the way times the vergence, the way counted through the
# index. The trade calls this **effectivity**. It is why a contact lens is not the spectacle lens, why every
# refraction needs its vertex distance, and why the place of a lens inside the eye decides its power.

# %% [markdown] part="predict"
# ### Predict
#
# A spectacle lens of −10.00 D stands 12 mm in front of the cornea.

# %% hide=true
guess_way = page.Guess(
    "Compared with −10.00 D, the contact lens that does the same must be:",
    options=("weaker", "the same", "stronger"),
)
guess_way

# %% [markdown] part="observe" goals="3"
# ### Observe
#
# The dotted line is the vergence that leaves the lens; the curve is what becomes of it. Move the lens to
# the eye and away from it. Then change the sign of the lens. Then try −1.00 D.

# %% hide=true
engine.explore(demos.lens_and_way())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_way,
    "weaker",
    "Diverging light diverges less when it arrives, so a minus contact lens is weaker and a plus contact "
    "lens is stronger than the spectacles. The change is about d F²: over a dioptre at 10 D, a hundredth "
    "at 1 D. That is why nobody notices it in low powers.",
)

# %% [markdown] part="example" goals="4"
# ## Worked example: two lenses
#
# Everything longer, the whole eye too, is these two steps in turn: **add** at a lens, **carry** over a way.
# An object stands 50 cm in front of a lens of +5.00 D; 10 cm farther stands a lens of +8.00 D.

# %% hide=true
page.worked(cases.two_lens_steps(50, 5.0, 10, 8.0))

# %% [markdown]
# ### The same, with steps missing
#
# Object 40 cm in front of +6.00 D; 5 cm farther +10.00 D. Write each missing number down, then open it.

# %% hide=true
page.faded(cases.two_lens_steps(40, 6.0, 5, 10.0), missing=(2, 3, 4, 5))

# %% [markdown]
# ### Back to Theodora Valk
#
# One step: carry −9.00 D over 13 mm.

# %% hide=true
page.worked(
    [
        (
            "from the spectacles to the cornea",
            "−9.00 / (1 + 0.013 · 9.00)",
            vergence.at_vertex(-9.0, 13.0, 0.0),
            "D",
        ),
        (
            "rounded to the quarter dioptres that are made",
            "nearest 0.25 D",
            round(vergence.at_vertex(-9.0, 13.0, 0.0) * 4) / 4,
            "D",
        ),
    ]
)

# %% [markdown]
# ### More from the same two steps
#
# - **Far point.** A relaxed eye sees clearly what sends it light of its own refraction: the far point of an
#   eye with −4.00 D at the cornea lies at 1 / (−4.00 D), 25 cm in front. Accommodation of 2 D brings
#   the near point to 1 / (−6.00 D).
# - **Surface power.** A surface of radius $r$ adds $F = (n' - n) / r$: the step of the index over the
#   radius in metres.
# - **Thick lens.** Add at the front, carry through the thickness over the index, add at the back: that is the
#   **back vertex power**. The **equivalent power** is $F_1 + F_2 - \frac{t}{n} F_1 F_2$: the sum of the
#   surfaces, less their product times the reduced thickness.

# %% [markdown] part="self-check"
# ## Check yourself

# %% hide=true
items.ask("sign-of-near-light", "lens-adds", "which-way-weaker", "when-it-matters", "two-apart")

# %% [markdown] part="outside"
# ## Checked from outside
#
# Our numbers beside numbers that others reckoned or that a second way gives. This table is computed now.

# %% hide=true
reduced_eye = paraxial.System([50 / 9], [], [1.0, 4 / 3])
thick = paraxial.refraction(10.0) @ paraxial.translation(10.0, 1.5) @ paraxial.refraction(10.0)
page.outside_check(
    [
        (
            "power of the one-surface reduced eye",
            "Emsley, Visual Optics (from memory)",
            60.0,
            paraxial.cardinal_points(reduced_eye).power_d,
            "D",
        ),
        (
            "thick lens +10/+10 D, 10 mm, n 1.5",
            "ray-transfer matrices, a second way",
            float(-thick[1, 0]),
            vergence.thick_lens(10.0, 10.0, 10.0, 1.5).equivalent_power_d,
            "D",
        ),
        (
            "+12.00 D moved 12 mm to the cornea",
            "F / (1 − dF) by hand: 12 / 0.856",
            14.019,
            vergence.at_vertex(12.0, 12.0, 0.0),
            "D",
        ),
    ]
)

# %% [markdown] part="caution"
# ## Caution
#
# Thin lenses and rays near the axis: no aberration, no diffraction, no pupil. Vergence says where the
# image is, not how good it is; that comes in part 3.
#
# **For learning, not for patient care.** Follow the lens's labelling, local rules and the judgement of a
# licensed practitioner.

# %% [markdown] part="problems"
# ## Problems
#
# [Problems {{number vergence}}](../exercises/{{stem vergence}}/problems.ipynb): 8 problems and one written answer, 30 points, about
# 40 minutes.

# %% [markdown] part="summary"
# ## In two lines
#
# Vergence is index over distance in metres, negative when light diverges; a lens adds its power.
# On the way vergence changes: $V / (1 - \frac{d}{n} V)$; so every power belongs to a place.
#
# **Further reading.** Keating, *Geometric, Physical and Visual Optics*; Bennett & Rabbetts, *Clinical Visual
# Optics*, on effectivity. **Come back** in two days, in eleven, and before the examination; do the
# self-check first.
