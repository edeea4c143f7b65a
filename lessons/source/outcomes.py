# %% [markdown] part="title"
# # {{number outcomes}} · {{title outcomes}}
#
# *{{minutes outcomes}} minutes. You need: that a formula with a lens constant predicts a refraction; mean and median.*
#
# Press **Run ▸ Run All Cells** first.

# %% [markdown] part="goals"
# ## Goals
#
# After this page you can
#
# 1. **reckon a prediction error** with its sign, against the lens that was implanted;
# 2. **find the constant that brings the mean error to zero**, and say what it cannot mend;
# 3. **audit a series**: mean, SD, mean and median size, eyes within 0.50 D, outliers;
# 4. **compare two formulas fairly**, and say how many eyes that takes.

# %% [markdown] part="case"
# ## A case to open with
#
# Rosalind Achterberg, 68, invented like everybody here, was promised good sight for far. The surgeon used
# SRK/T with the constant on the lens's label, A = 118.35, and implanted 20.5 D. Four weeks later her
# refraction is +1.00 −0.50 × 90. She sees neither far nor near without glasses, and asks before her other
# eye is done:
#
# **“Was that bad luck, or will it happen again?”** The surgeon has 120 finished eyes with the same lens, and
# has never looked at them together.

# %% [markdown] part="recall"
# ## Recall
#
# Two things from earlier pages. Choose an answer; it opens.

# %% hide=true
from shared_utils.cases import outcomes as cases
from shared_utils.explore import engine, outcomes as demos, page
from shared_utils.power import formula_comparison, prediction_errors
from shared_utils.bank import items
from shared_utils.show import outcomes as figures

items.ask("steep-reading", "price-in-short-eye")

# %% [markdown] part="idea"
# ## Idea 1: what leans can be mended
#
# $$\text{prediction error} = \text{achieved} - \text{predicted}$$
#
# In words: the refraction after surgery, as spherical equivalent and once it is stable, less the refraction
# that the formula gave **for the lens that was implanted**. Plus is a hyperopic surprise.
#
# A series of errors can do two things. It can **lean**: its mean is not zero. It can **scatter**: its
# standard deviation (SD) is wide.
#
# A lens constant moves all predictions together. So your own results can find the constant that makes
# the mean error zero. That is called **optimising**. A larger A-constant puts the lens farther back, predicts
# more hyperopia and so lowers the error.

# %% hide=true
figures.lean_and_scatter()

# %% [markdown] part="predict"
# ### Predict
#
# The surgeon's 120 eyes lean by +0.45 D. A new constant takes this out.

# %% hide=true
guess_scatter = page.Guess(
    "What will the new constant do to the SD of the errors?",
    options=("shrink it to about half", "hardly change it", "make it zero"),
)
guess_scatter

# %% [markdown] part="observe" goals="1 2 3"
# ### Observe
#
# Each dot is one eye. Move the constant until the mean is zero. Which constant is it? What happened to the SD,
# and to the share of eyes within 0.50 D? Then, with that constant, count the short eyes alone, and the long
# ones. Do they too have a mean of zero?

# %% hide=true
engine.explore(demos.constant_and_errors())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_scatter,
    "hardly change it",
    "The constant shifts the whole cloud; it does not make it smaller. The SD goes from 0.59 to 0.55 D, "
    "yet two eyes in three now lie within 0.50 D instead of 52 in a hundred. A constant is right on "
    "average only: in this series the long eyes still lean to the myopic side, by 0.20 D.",
)

# %% [markdown]
# The usual mistake is to change the constant after one bad surprise. One eye says next to nothing. With an
# SD of 0.55 D the mean of $n$ eyes is uncertain by 1.96 × 0.55 / √n: by 0.28 D with 15 eyes, by 0.10 D
# with 120. A second one is to take the mean of the constants that single eyes would want: that mean is
# biased, and a weak lens in a long eye throws it off altogether.

# %% [markdown] part="idea"
# ## Idea 2: what scatters must be compared fairly
#
# Which formula scatters least? A contest is fair if
#
# 1. all formulas are tried in **the same eyes**, none left out because it looks bad;
# 2. **each has its own optimised constant**, or else constants are compared, not formulas;
# 3. **one eye of each patient** counts: two eyes of one person err together;
# 4. the test is **paired**: it looks at each eye under both formulas.
#
# Then compare the SD, with the mean size of the error (MAE), the middle size (MedAE) and the share
# within 0.50 D beside it. Look at every outlier: a wrong eye or a typing slip may be mended, a true surprise
# stays in.
#
# And the series must be large. An SD found in $n$ eyes is itself uncertain, by about SD / √(2n).

# %% [markdown] part="predict"
# ### Predict
#
# Formula A truly has an SD of 0.40 D, formula B 0.45 D. In 60 clinics, 40 patients get their lens by A and 40
# others by B. Each clinic then crowns the formula with the smaller SD.

# %% hide=true
guess_clinics = page.Guess("How many of the 60 clinics crown the worse formula?", unit="clinics")
guess_clinics

# %% [markdown] part="observe" goals="3 4"
# ### Observe
#
# Each mark is one clinic; diamonds on the left were misled. Take more eyes, one step at a time. When is
# nobody misled? Go back to 40 eyes and try both formulas **in the same eyes**. Then let the true
# difference be 0.02 D, as it often is between good formulas.

# %% hide=true
engine.explore(demos.clinics_compare())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_clinics,
    cases.compute_clinics(40, 0.05, False).wrong,
    "One clinic in five. With 40 eyes chance alone moves an SD of 0.40 D by 0.04 D up or down, "
    "as much as the formulas differ. In the same eyes most of the chance is common to both "
    "and drops out: what needed 570 eyes for each formula needs 112 eyes in all.",
    near=3,
)

# %% [markdown] part="example" goals="1 2 3"
# ## Worked example: a series by hand
#
# Six eyes of six people: −0.50, −0.20, 0.00, +0.10, +0.30 and +0.90 D.

# %% hide=true
page.worked(cases.summary_steps([-0.50, -0.20, 0.00, 0.10, 0.30, 0.90]))

# %% [markdown]
# The +0.90 D carries most of the SD and hardly touches the MedAE. Do not delete it; look it up.
#
# ### The same, with steps missing
#
# Six others: −1.20, −0.50, −0.30, −0.20, +0.10 and +0.60 D. Write each missing number down, then open it.

# %% hide=true
page.faded(cases.summary_steps([-1.20, -0.50, -0.30, -0.20, 0.10, 0.60]), missing=(1, 3, 4, 5))

# %% [markdown]
# ### Back to Rosalind Achterberg
#
# Her eye: axial length 23.50 mm, K 43.50 D. Her other eye: 23.46 mm, 43.25 D.

# %% hide=true
page.worked(cases.patient_steps())

# %% [markdown]
# So to her question: of her surprise of +0.75 D the constant made about 0.5 D, which would have come again. The
# rest, +0.29 D, is her eye's own. Her other eye gets half a dioptre more. (Some surgeons go on and take out
# about half of what the first eye's own error was: a series in Ophthalmology 2010;117:49, from memory.)

# %% [markdown]
# ### Your own series
#
# The same audit runs on your own results. Save a table as CSV, one row an eye, one eye a patient, one lens
# model, with these names in its first row:
#
# `label, axial_length_mm, k1_d, k2_d, acd_mm, iol_power_d, achieved_d`
#
# `k2_d` and `acd_mm` may be left out; `achieved_d` is the spherical equivalent. **No names, no dates of
# birth, no record numbers:** the label is a running number. Write the name of the file below. Nothing leaves this
# machine. Without a file, press *Write an example*; open it in a spreadsheet, spoil a cell, and see what is said.

# %% hide=true
demos.OwnSeries()

# %% [markdown] part="self-check"
# ## Check yourself

# %% hide=true
items.ask(
    "implanted-lens", "how-far-to-move", "one-typing-slip", "labels-compared", "half-the-difference"
)

# %% [markdown] part="outside"
# ## Checked from outside
#
# Our numbers beside numbers that others published or that a second way gives. This table is computed now.

# %% hide=true
glasgow = prediction_errors.if_gaussian(0.67)
page.outside_check(
    [
        (
            "MAE of Gaussian errors, SD 0.50 D",
            "0.79788 SD: half-normal distribution, any table",
            0.399,
            prediction_errors.if_gaussian(0.50).mae_d,
            "D",
        ),
        (
            "within 0.50 D, SD 0.50 D",
            "one SD: any table of the normal distribution",
            68.3,
            100 * prediction_errors.if_gaussian(0.50).within[0.50],
            "%",
        ),
        (
            "within 0.50 D of the target, SD 0.67 D, 8 943 eyes",
            "Brogan, Diaper & Rotchford, Br J Ophthalmol 2019;103:539 (abstract)",
            62.36,
            100 * glasgow.within[0.50],
            "%",
        ),
        (
            "6 eyes within 0.50 D by one formula alone, 0 by the other: p",
            "McNemar's exact test by hand: 2 / 2⁶",
            0.03125,
            formula_comparison.compare_within({"new": [0.1] * 6, "old": [0.9] * 6})[0].p,
            "",
        ),
    ]
)

# %% [markdown]
# The third row differs, and should: real errors are not Gaussian. A few large surprises widen the SD, while the
# many small errors crowd near zero. So report the SD **and** the share within.

# %% [markdown] part="caution"
# ## Caution
#
# Series and clinics here are invented; which formula does well in them follows from how they were
# invented and says nothing about formulas. A constant belongs to one lens model, one biometer and one way of
# refracting. Found and judged in the same eyes it looks a little better than it is.
#
# **For learning, not for patient care.** Follow the lens's labelling, local rules and the judgement of a
# licensed practitioner.

# %% [markdown] part="problems"
# ## Problems
#
# [Problems {{number outcomes}}](../exercises/{{stem outcomes}}/problems.ipynb): 9 problems and one written answer, 30 points, about
# 40 minutes.

# %% [markdown] part="summary"
# ## In two lines
#
# Error is achieved minus predicted for the implanted lens; a constant from your own eyes takes the mean out.
# What remains is scatter: compare it in the same eyes, one a patient, each formula optimised, and many eyes.
#
# **Further reading.** Hoffer et al., *Protocols for studies of intraocular lens formula accuracy*, Am J
# Ophthalmol 2015;160:403; Wang et al., J Cataract Refract Surg 2017 (editorial). **Come back** in two days, in
# eleven, and before the examination; do the self-check first.
