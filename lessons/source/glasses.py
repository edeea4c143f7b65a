# %% [markdown] part="title"
# # {{number glasses}} · {{title glasses}}
#
# *{{minutes glasses}} minutes. You need: how vergence changes on its way, from [lesson {{number vergence}}]({{stem vergence}}.ipynb), and
# accommodation, from [lesson {{number eye}}]({{stem eye}}.ipynb).*
#
# Press **Run ▸ Run All Cells** first.

# %% [markdown] part="goals"
# ## Goals
#
# After this page you can
#
# 1. **carry a lens from the place where it was measured to the place where it is worn**;
# 2. **reckon the image size behind a lens, and the difference between two eyes**;
# 3. **find the prism beside the optical centre, and the vertical imbalance of a pair**;
# 4. **choose a reading add and say its range**.

# %% [markdown] part="case"
# ## A case to open with
#
# Aurelio Strand, 66, invented like everybody here, wore −8.00 D on both eyes, 12 mm in front. His right eye was
# operated on and now sees far without glasses. The left eye must wait three months. His new glasses have a
# plain right lens and −8.00 D on the left. With either eye he sees well. With both he is dizzy, and when he
# reads, the lines stand double, one above the other.
#
# **What do these glasses do to him, and what would spare him until the second operation?**

# %% [markdown] part="recall"
# ## Recall
#
# Two things from lessons {{number vergence}} and {{number eye}}. Choose an answer; it opens.

# %% hide=true
from shared_utils.cases import glasses as cases
from shared_utils.explore import engine, glasses as demos, page
from shared_utils.optics import spectacles, vergence
from shared_utils.bank import items
from shared_utils.show import glasses as figures

items.ask("when-it-matters", "what-surgery-leaves")

# %% [markdown] part="idea"
# ## Idea 1: the place of a lens sets its power and its image size
#
# A correction belongs to a place (lesson {{number vergence}}): hand it on together with its place. Glasses of +12.00 D that
# slide 4 mm down the nose gain 0.83 D at the cornea.
#
# The place also sets the **size** of the image. Through a thin lens of $F$ dioptres, $h$ metres in front of the
# entrance pupil,
#
# $$\text{size} = \frac{1}{1 - hF}$$
#
# In words: size is one over one minus the way times the power. The entrance pupil lies 3 mm behind the
# cornea, so $h$ is 15 mm for glasses, about 1.5 % a dioptre, and 3 mm for a contact lens. Thick plus lenses
# magnify a little more.
#
# Sizes that differ between the eyes are **aniseikonia**. Above about 5 % few people fuse (common practice).

# %% hide=true
figures.size_change()

# %% [markdown] part="predict"
# ### Predict
#
# One eye looks through −8.00 D at 12 mm; the operated fellow eye needs no lens.

# %% hide=true
guess_size = page.Guess("By how much is the fellow eye's image the larger one?", unit="%")
guess_size

# %% [markdown] part="observe" goals="1 2"
# ### Observe
#
# Start at −8.00 D and 12 mm. Move the lens to the cornea: what happens to its power, what to the letter? Now
# +12.00 D, an eye without its lens as it was corrected in former times: compare glasses and contact lens.

# %% hide=true
engine.explore(demos.glasses_and_size())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_size,
    spectacles.aniseikonia_percent(1.0, spectacles.magnification(-8.0).total),
    "The rule of thumb of 2 % a dioptre would say 16 %; with 15 mm it is 1.5 %. The usual misconception: "
    "clear means equal. Each image may be sharp, and the two still not fit together. At the cornea the "
    "same correction is −7.30 D and leaves 2 %.",
    near=1.0,
)

# %% [markdown] part="idea"
# ## Idea 2: beside its centre every lens is a prism
#
# Who looks through the optical centre meets no prism. Beside it, by **Prentice's rule**,
#
# $$P = c\,F$$
#
# In words: prism dioptres are the distance from the centre in **centimetres** times the power. One prism dioptre
# (Δ) shifts the image by 1 cm at 1 m. A plus lens is thickest in the middle, so its base points to the centre;
# a minus lens is thickest at the edge, so its base points away. The image moves away from the base.
#
# Reading eyes look 8 to 10 mm below the centres. Through equal lenses both images move alike; through unequal
# ones, in **anisometropia**, one moves more: a **vertical imbalance**. Above 1 to 2 Δ most people are troubled
# (common practice).

# %% hide=true
figures.base_of_the_prism()

# %% [markdown] part="predict"
# ### Predict
#
# No lens on the right, −8.00 D on the left, 8 mm below the centres, a page at 40 cm.

# %% hide=true
guess_prism = page.Guess(
    "How far apart do the two eyes see the same line of print?", options=("1 mm", "6 mm", "26 mm")
)
guess_prism

# %% [markdown] part="observe" goals="3"
# ### Observe
#
# Look at the page on the right of the picture. Then give both eyes −8.00 D. Then −8.00 D and −6.00 D: at which
# gaze does the imbalance pass 1 Δ? Last, two plus lenses: which way does the page move?

# %% hide=true
engine.explore(demos.down_through_two_lenses())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_prism,
    "26 mm",
    "0.8 cm × 8 D = 6.4 Δ, and 6.4 cm at 1 m are 2.6 cm at 40 cm: several lines of print. The usual slip is "
    "to leave millimetres in the rule. The usual misconception is that strong lenses are the trouble: "
    "two equal lenses of −10 D make none; it is the difference that counts.",
)

# %% [markdown] part="idea"
# ## Idea 3: an add buys nearness and sells range
#
# What accommodation no longer gives, a **reading add** does:
#
# $$\text{add} = \frac{1}{d} - \frac{A}{2}$$
#
# In words: the add is what the page asks, one over its distance in metres, less half of the amplitude that is
# left. Half stays in reserve (common practice). Behind a lens with one focus $A$ is zero, and the add is the
# whole demand.
#
# Through an add the **farthest** clear place is where the eye relaxes, at one over the add; the **nearest** is at
# one over add plus amplitude. With no amplitude the two are one place, and only the blur that nobody
# notices, a quarter dioptre or so to either side, makes a range of it.

# %% [markdown] part="predict"
# ### Predict
#
# An operated eye, no accommodation, changes readers from +2.00 D to +3.00 D.

# %% hide=true
guess_add = page.Guess(
    "What becomes of the length of its clear range?",
    options=("shorter by more than half", "the same", "longer"),
)
guess_add

# %% [markdown] part="observe" goals="4"
# ### Observe
#
# Which add clears the page, which the screen? Compare the lengths at +1.50 D, +2.00 D and +3.00 D. Then give 1 D of
# accommodation back. Can one add clear page and screen?

# %% hide=true
engine.explore(demos.add_and_range())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_add,
    "shorter by more than half",
    "+2.00 D is clear from 44 to 57 cm, +3.00 D from 31 to 36 cm: 13 cm against 6 cm. A quarter dioptre is "
    "many centimetres far off and few near by. The usual misconception is that stronger readers are better "
    "readers; they are for nearer pages. Give the weakest add that clears the task.",
)

# %% [markdown] part="example" goals="1 2 3 4"
# ## Worked example: two unequal glasses
#
# Mr Strand's pair: right 0.00 D, left −8.00 D, gaze 8 mm below the centres.

# %% hide=true
page.worked(cases.two_glasses_steps(0.0, -8.0, 8.0))

# %% [markdown]
# ### The same, with steps missing
#
# Right +1.00 D, left +4.00 D, gaze 10 mm below the centres. Write each missing number down, then open it.

# %% hide=true
page.faded(cases.two_glasses_steps(1.0, 4.0, 10.0), missing=(2, 3, 5, 6))

# %% [markdown]
# ### Back to Aurelio Strand
#
# His glasses make two images that differ by 12 % and stand 6.4 Δ apart: both are more than most people fuse. A contact lens on
# the left moves with the eye, so he always looks through its centre, and it sits near the pupil.

# %% hide=true
page.worked(cases.contact_lens_steps(-8.0))

# %% [markdown]
# Until the second operation: a contact lens of −7.25 D on the left, with **one pair of readers for both eyes**.
# If he cannot wear one, he may leave the left lens out and use the right eye alone for a while; the surest
# cure is to operate on the second eye sooner. Say so **before** the first operation to everybody whose eyes
# have more than about 3 D.
#
# ### His readers
#
# A page at 40 cm. First his own eyes, with no amplitude.

# %% hide=true
page.worked(cases.add_steps(40, 0.0))

# %% [markdown]
# Then, for comparison, an eye that has 1 D left: a weaker add, and a range.

# %% hide=true
page.worked(cases.add_steps(40, 1.0))

# %% [markdown]
# ### More from the same rules
#
# - **From glasses to contact lenses at 45.** For an object at a third of a metre a −6.00 D myope accommodates
#   2.53 D in glasses, 2.90 D in contact lenses: presbyopia comes earlier with them. For +6.00 D it is 3.35 D in
#   glasses: there contact lenses help.
# - **Two eyes of unequal length.** For an eye that is too long at normal power, glasses at its front focus make the
#   image as large as a normal eye's (Knapp's rule). What the retina makes of it is another matter.

# %% [markdown] part="self-check"
# ## Check yourself

# %% hide=true
items.ask(
    "plus-to-contact-lens",
    "size-of-minus-five",
    "imbalance-of-two-minus",
    "why-contact-lens-has-no-prism",
    "stronger-readers",
)

# %% [markdown] part="outside"
# ## Checked from outside
#
# Published rules worked by hand or by a second way, beside our functions. Computed now.

# %% hide=true
thick = vergence.thick_lens(8.0, 4.0 - 8.0 / (1 - 0.004 / 1.5 * 8.0), 4.0, 1.5)
page.outside_check(
    [
        (
            "size behind a thin −5.00 D at 15 mm",
            "Bennett & Rabbetts' equation by hand: 1 / 1.075",
            0.930,
            spectacles.magnification(-5.0).total,
            "times",
        ),
        (
            "size behind a thick +4.00 D, front +8.00 D, 4 mm",
            "1 / (1 − (t/n) F₁) · 1 / (1 − 0.015 · 4) by hand",
            1.087,
            spectacles.magnification(4.0, 8.0, 4.0, 1.5).total,
            "times",
        ),
        (
            "back vertex power of that lens",
            "thick-lens equation, a second way",
            4.0,
            thick.back_vertex_power_d,
            "D",
        ),
        (
            "size behind +12.00 D glasses after aphakia",
            "1 / (1 − 0.015 · 12) by hand: 1 / 0.82",
            1.220,
            spectacles.magnification(12.0).total,
            "times",
        ),
        (
            "imbalance of −6.00 and −3.00 D, 8 mm down",
            "Prentice's rule by hand: 0.8 cm · 3 D",
            -2.4,
            spectacles.vertical_imbalance(-6.0, -3.0, 8.0),
            "Δ",
        ),
    ]
)

# %% [markdown] part="caution"
# ## Caution
#
# Thin lenses, and objects far away for the size. What people perceive also depends on the retina, on habit and
# on age: limits of 5 % and 2 Δ are customs of the trade, not measurements of your patient. Lenses with more
# than one power, and prism worked into a lens, are left out.
#
# **For learning, not for patient care.** Follow the lens's labelling, local rules and the judgement of a
# licensed practitioner.

# %% [markdown] part="problems"
# ## Problems
#
# [Problems {{number glasses}}](../exercises/{{stem glasses}}/problems.ipynb): 8 problems and one written answer, 30 points, about
# 40 minutes.

# %% [markdown] part="summary"
# ## In two lines
#
# A lens belongs to its place: power, size ($1/(1 - hF)$) and prism ($cF$, in cm) all follow from where one looks through it.
# It is the difference of two lenses that hurts; a contact lens removes most of it. Give the weakest add that clears the task.
#
# **Further reading.** Bennett & Rabbetts, *Clinical Visual Optics*, on spectacle magnification, aniseikonia and
# anisometropia; Keating, *Geometric, Physical and Visual Optics*. **Come back** in two days, in eleven, and before
# the examination; do the self-check first.
