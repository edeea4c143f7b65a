# %% [markdown] part="title"
# # {{number mixed_review}} · {{title mixed_review}}
#
# *{{minutes mixed_review}} minutes, then the clinic day. You need: lessons {{number first}} to {{number last}}.*
#
# Press **Run ▸ Run All Cells** first.
#
# In each lesson you knew which tool was meant. In the clinic nobody says so. Here the questions of all four
# parts stand mixed; **first say which lesson a question belongs to, then answer it**. That choosing is what
# mixed practice trains.

# %% [markdown] part="goals"
# ## Goals
#
# After this page you can
#
# 1. **tell which relation a clinical question needs, without being told the chapter**;
# 2. **reckon a patient from biometry to the glasses that remain**;
# 3. **say which finding decides for or against a class of lens**;
# 4. **tell a patient what was found, what it costs and which glasses remain**.

# %% [markdown] part="self-check"
# ## First round: which tool?

# %% hide=true
from shared_utils.explore import page
from shared_utils.power import formulas, lens_steps
from shared_utils.power.biometry import Eye
from shared_utils.power.lens_constants import LensConstants
from shared_utils.bank import items

items.ask(*items.interleaved(1))

# %% [markdown] part="example"
# ## One patient in five lines
#
# Tobias Rehm, 70, invented like everybody here: 23.80 mm, 43.00 D and 43.40 D, target 0.00 D, A = 118.6.
# Each line comes from another lesson. Cover the right column and reckon down.

# %% hide=true
eye = Eye(23.80, 43.00, 43.40)
lens = LensConstants.from_a_constant(118.6)
exact_d = formulas.iol_power(eye, "srk_t", lens)
ordered_d = lens_steps.nearest_power(exact_d)
left_d = formulas.predicted_refraction(eye, "srk_t", lens, ordered_d)
page.worked(
    [
        ("mean keratometry ({{number measuring}})", "(43.00 + 43.40) / 2", 43.20, "D"),
        (
            "power that SRK/T asks for ({{number formulas}})",
            "length, keratometry, constant",
            exact_d,
            "D",
        ),
        ("step that can be ordered ({{number formulas}})", "nearest 0.5 D", ordered_d, "D"),
        (
            "what it leaves at the spectacles ({{number formulas}})",
            "the same formula, backwards",
            left_d,
            "D",
        ),
        (
            "comfortable reader for 40 cm with one focus ({{number tasks}})",
            "2.50 D plus what is left",
            2.50 + left_d,
            "D",
        ),
    ]
)

# %% [markdown]
# Which lens class? The biometry does not say. Macula, surface, pupil and wishes do ({{number examination}}), and the price in
# contrast and halos is reckoned with ({{number one_focus}}, {{number two_foci}}, {{number range_of_focus}}).

# %% [markdown] part="self-check"
# ## Second round

# %% hide=true
items.ask(*items.interleaved(2))

# %% [markdown] part="self-check"
# ## Third round, the harder ones

# %% hide=true
items.ask(*items.interleaved(3))

# %% [markdown] part="problems"
# ## The clinic day
#
# [Problems {{number mixed_review}}](../exercises/{{stem mixed_review}}/problems.ipynb): six patients of your own and one written answer,
# 36 points, about 60 minutes.

# %% [markdown] part="summary"
# ## Where to go back
#
# Missed the sign or the plane: lessons {{number vergence}} and {{number glasses}}. Missed a power: {{number formulas}}. Missed what an error costs: {{number measuring}} and {{number outcomes}}.
# Missed an axis: {{number astigmatism}} and {{number toric}}. Missed contrast or halo: {{number one_focus}} and {{number two_foci}}. Missed a verdict: {{number examination}}. What you missed comes
# back on the page [{{number practice}} Practice]({{stem practice}}.ipynb); when it stays away, sit the
# [mock examination]({{stem mock_examination}}.ipynb).

# %% [markdown] part="caution"
# ## Caution
#
# **For learning, not for patient care.** Follow the lens's labelling, local rules and the judgement
# of a licensed practitioner.
