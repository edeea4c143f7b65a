# %% [markdown] part="title"
# # {{number mock_examination}} · {{title mock_examination}}
#
# *{{minutes mock_examination}} minutes. You need: all {{count lessons}} lessons, paper and a pocket calculator.*
#
# Press **Run ▸ Run All Cells** first, then **Begin**.
#
# Forty questions over the four parts: vergence 9, lens power 12, splitting light 10, candidacy 9. Nothing
# is said about an answer before the end. You may go back and change it. **Pause** stops the clock; what is
# answered after the time does not count. If the machine stops, run this page again: you go on where you were.

# %% [markdown] part="observe"
# ## The examination

# %% hide=true
from shared_utils.practice import page

page.ExamPage()

# %% [markdown] part="explain"
# ## What the report says
#
# - Your score, and the range that forty questions leave: a score from few questions is rough.
# - Right answers by part, and how each goal fared.
# - The seconds that each question took, beside what came of it.
# - For every question missed: your answer, the right one, and the slip that leads to yours.
# - Which lessons to read again. Their questions come back on the page
#   [{{number practice}} Practice]({{stem practice}}.ipynb).
#
# In a terminal: `lens-course exam`.

# %% [markdown] part="caution"
# ## Caution
#
# A good score here says that you can reckon; it does not make a surgeon. **For learning, not for patient
# care.** Follow the lens's labelling, local rules and the judgement of a licensed practitioner.
