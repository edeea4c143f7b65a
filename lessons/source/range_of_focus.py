# %% [markdown] part="title"
# # {{number range_of_focus}} · {{title range_of_focus}}
#
# *{{minutes range_of_focus}} minutes. You need: blur and the pupil (lesson {{number one_focus}}), how light is shared (lesson {{number two_foci}}).*
#
# Press **Run ▸ Run All Cells** first.

# %% [markdown] part="goals"
# ## Goals
#
# After this page you can
#
# 1. **read acuity and the usable range off a defocus curve**;
# 2. **tell a stretched focus from a split one by its curve**;
# 3. **say what the pupil does to the range**;
# 4. **work out what two eyes with two targets see together**.

# %% [markdown] part="case"
# ## A case to open with
#
# Ingvild Sato, 66, invented like everybody here, draws maps for a hiking club. She wants her desk, her screen and
# labels at 40 cm without glasses. A few drusen lie in both maculas, so you would rather not split her
# light in half. Her pupils are 3 mm. Three plans are on the table: lenses of extended depth in both eyes, both
# aimed at far; monofocal lenses with one eye aimed at −1.25 D; or extended depth with one eye at −0.50 D.
#
# **Which of them read a label at 40 cm, and what does each take away?**

# %% [markdown] part="recall"
# ## Recall
#
# Two things from the last two lessons. Choose an answer; it opens.

# %% hide=true
from shared_utils.cases import range_of_focus as numbers
from shared_utils.choice.tasks import LENS_OF
from shared_utils.explore import engine, page, range_of_focus as demos
from shared_utils.optics import through_focus
from shared_utils.bank import items
from shared_utils.show import light, range_of_focus as figures

items.ask("half-dioptre", "gap-between")

# %% [markdown] part="idea"
# ## Idea 1: one curve tells what a lens can do
#
# Between one focus and two lies a third way: **stretch** the focus. A bulge in the middle of the lens, high steps
# whose two orders lie close together, or a small hole each smear the light over a stretch of distances. Nothing
# is free: what is stretched is thinner.
#
# A **defocus curve** shows it: acuity against the vergence of the object. In the clinic the chart stays far
# and lenses stand in front of the eye; −1.50 D makes it as if it hung at 67 cm. Read it in three steps: turn
# the distance into dioptres; go up to the curve; go across. The **usable range** reaches from far to the first
# place where acuity falls below a limit, commonly 0.2 logMAR (20/32), **without a gap**.

# %% hide=true
figures.how_to_read()

# %% [markdown] part="predict"
# ### Predict
#
# A monofocal lens with a 3-mm pupil stays at 20/32 or better over 1.4 D. The pupil opens to 5 mm.

# %% hide=true
guess_range = page.Guess("Over how many dioptres is it usable now?", unit="D")
guess_range

# %% [markdown] part="observe" goals="1 2 3"
# ### Observe
#
# Read extended depth off at 66 and 40 cm. Open and close the pupil. Then take every lens in turn at 3 mm:
# which curves fall in one slope, which have a valley? Last, move the limit: where would a bifocal lens count
# as “full range”?

# %% hide=true
engine.explore(demos.curve_and_range())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_range,
    numbers.curve_of("monofocal", 5.0).range_d,
    "Blur is pupil times defocus, so the wide pupil leaves less of it before the limit. The usual slip is to "
    "quote one range for a lens: every range belongs to a pupil, a limit, and a chart in good light.",
    near=0.2,
)

# %% [markdown]
# - **Stretched** lenses have one hill with a long slope: the enhanced monofocal 1.7 D, extended depth 2.2 D at
#   3 mm. **Split** lenses have hills with valleys: the bifocal ends at 0.8 D, dips, and comes back for near.
# - A published consensus asks of an extended-depth lens at least 0.5 D more than a monofocal at 0.2
#   logMAR; here it is 0.8 D.
# - Small pupils stretch everything: a plain monofocal at 2 mm has 2.0 D. At 5 mm extended depth falls to 1.1 D:
#   its bulge fills only the middle of so wide a pupil. **Ask for the pupil before you promise a range.**

# %% [markdown] part="idea"
# ## Idea 2: two eyes, two targets
#
# An eye of refraction $R$ sees an object of vergence $V$ as an eye without error sees $V - R$. So its whole
# curve **shifts** towards near by the target. Aim one eye at far, the other nearer: at each distance the better
# eye counts. That is **monovision**; with up to about 1.25 D between the eyes it is called mini-monovision.
#
# The range grows by the target, as long as no gap opens: the far eye must carry until the near eye takes over.
# And it costs: where only one eye is sharp, depth perception and the gain of two eyes are lost, the
# more the wider the difference; above 1.5 D many do not bear it.

# %% [markdown] part="predict"
# ### Predict
#
# Monofocal lenses, 3-mm pupils, one eye on far and the other on −1.25 D. Alone, the far eye reaches 73 cm.

# %% hide=true
guess_pair = page.Guess("How near do the two eyes reach, at 20/32 or better?", unit="cm")
guess_pair

# %% [markdown] part="observe" goals="3 4"
# ### Observe
#
# Move the target from −1.25 D towards −2.50 D: a valley grows between the eyes. Then do it with a 4-mm pupil:
# at which target does the range break in two? Watch how much of it both eyes share. Last, take extended depth and find the smallest target that reads at
# 40 cm with 0.20 logMAR or better.

# %% hide=true
engine.explore(demos.two_eyes())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_pair,
    100.0 / numbers.two_eyes_with(-1.25, 3.0, "monofocal").range_d,
    "1.37 D of the lens and 1.25 D of the target add up to 2.62 D. The usual slip is to add centimetres, or to "
    "take the near eye's target alone (80 cm) for the end of the range. Dioptres add; the lens's own range "
    "lies on both sides of the target.",
    near=2.0,
)

# %% [markdown]
# With 4 mm and −2.00 D a valley opens between the eyes: the far eye ends at 1.06 D, the near eye begins at
# 1.18 D. Monovision of 2 D and more needs small pupils or stretched lenses.

# %% [markdown] part="example" goals="4"
# ## Worked example: how far two eyes carry
#
# Monofocal lenses at 3 mm: an eye alone is usable over 1.37 D towards near and 1.22 D beyond its focus. The
# near eye is aimed at −1.25 D.

# %% hide=true
page.worked(
    numbers.plan_steps(
        numbers.curve_of("monofocal", 3.0).range_d, numbers.range_beyond_d("monofocal", 3.0), -1.25
    )
)

# %% [markdown]
# ### The same, with steps missing
#
# The same lenses through 4 mm: 1.06 D towards near, 0.82 D beyond; near eye at −2.25 D.

# %% hide=true
page.faded(
    numbers.plan_steps(
        numbers.curve_of("monofocal", 4.0).range_d, numbers.range_beyond_d("monofocal", 4.0), -2.25
    ),
    missing=(2, 3, 4, 5),
)

# %% [markdown]
# ### Back to Ingvild Sato
#
# Acuity at 40 cm, and how many dioptres of range both eyes share, for her three plans.

# %% hide=true
page.worked(
    [
        (
            f"{name}: {what}",
            "the model eye, 3 mm",
            value,
            unit,
        )
        for name, plan in (
            ("extended depth, both far", (0.0, 3.0, "extended depth of focus")),
            ("monofocal, one eye −1.25 D", (-1.25, 3.0, "monofocal")),
            ("extended depth, one eye −0.50 D", (-0.5, 3.0, "extended depth of focus")),
        )
        for what, value, unit in numbers.what_a_plan_gives(*plan)
    ]
)

# %% [markdown]
# Both far: screen and desk, but labels at 40 cm want glasses (0.30 logMAR). Monofocal with −1.25 D: labels at 0.16
# logMAR, all contrast kept in each eye, but at far and at near she sees with one sharp eye. Extended depth with
# −0.50 D: labels as well, both eyes share 2.2 D, and far contrast is thinner in both. With drusen the contrast
# that is left decides: **try −1.25 D in a trial frame or contact lens first**, and say that fine print
# wants glasses with every plan.

# %% [markdown]
# ### All classes beside one another

# %% hide=true
light.defocus_acuity(tuple(LENS_OF.values()), 3.0)

# %% [markdown] part="self-check"
# ## Check yourself

# %% hide=true
items.ask("read-66", "valley", "range-and-pupil", "monovision-reach", "gap-of-monovision")

# %% [markdown] part="outside"
# ## Checked from outside
#
# Our numbers beside numbers that others reckoned or that a second way gives. This table is computed now.

# %% hide=true
page.outside_check(
    [
        (
            "extended depth, range at 0.2 logMAR, 3 mm",
            "the trade's 17 inches: 1 / 0.43 m (common practice, no source)",
            2.3,
            numbers.curve_of("extended depth of focus", 3.0).range_d,
            "D",
        ),
        (
            "that range less the monofocal's",
            "at least 0.5 D: task force consensus, MacRae et al., Ophthalmology 2017 (from memory)",
            0.5,
            numbers.curve_of("extended depth of focus", 3.0).range_d
            - numbers.curve_of("monofocal", 3.0).range_d,
            "D",
        ),
        (
            "1.5-mm pupil: blur that reads as 1 D does through 4 mm",
            "Tabernero et al. 2011 (abstract)",
            2.5,
            through_focus.usable_range_d(
                LENS_OF["monofocal"],
                1.5,
                through_focus.acuity_logmar(LENS_OF["monofocal"], 4.0, -1.0),
            ),
            "D",
        ),
    ]
)

# %% [markdown] part="caution"
# ## Caution
#
# Ranges from this model are good to ±0.25 D, acuities to ±0.1 logMAR; the extended-depth lens is a
# smooth bulge whose power and width were chosen to land near the trade's rule, so the model shows why its range
# ends there and does not prove the number. Two eyes gain a little together and suppress blur; neither is in the model.
#
# **For learning, not for patient care.** Follow the lens's labelling, local rules and the judgement of a
# licensed practitioner.

# %% [markdown] part="problems"
# ## Problems
#
# [Problems {{number range_of_focus}}](../exercises/{{stem range_of_focus}}/problems.ipynb): 8 problems and one written answer, 30 points, about
# 40 minutes.

# %% [markdown] part="summary"
# ## In two lines
#
# A range belongs to a lens, a pupil and a limit; it ends at the first gap. Stretched curves slope, split ones dip.
# A target shifts an eye's curve; two eyes carry range plus target, if the far eye reaches the near eye.
#
# **Further reading.** MacRae and others, the task force's consensus on extended depth of focus (Ophthalmology 2017);
# Evans on monovision (Ophthalmic Physiol Opt 2007). **Come back** in two days, in eleven, and before the
# examination; do the self-check first.
