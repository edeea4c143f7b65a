# %% [markdown] part="title"
# # {{number practice}} · Practice
#
# *Ten minutes a day. You need: the lessons you want to be asked about.*
#
# Press **Run ▸ Run All Cells** first.
#
# Questions come from all lessons, mixed. What you get right comes back after days, then weeks; what you
# miss comes back in ten minutes, with other numbers. Give the day of your examination, and nothing
# comes back later than the day before.
#
# By keyboard: Tab moves, the arrow keys choose, Space or Enter presses. Answer first in your head or on
# paper; then look at the options.

# %% [markdown] part="observe"
# ## Today's questions

# %% hide=true
from shared_utils.practice import page

page.ReviewPage()

# %% [markdown] part="explain"
# ## How it counts
#
# - Every answer is kept at once, in one file on this machine. A crash loses at most the answer that you
#   are typing. Nothing is sent anywhere.
# - At most twenty new questions come a day. What is due comes first.
# - In a terminal the same goes with `lens-course practice`; `--export`, `--import` and `--forget` carry your
#   progress over or delete it.
# - The intervals are those of an open scheduler for spaced repetition (library `fsrs`).

# %% [markdown] part="caution"
# ## Caution
#
# **For learning, not for patient care.** Follow the lens's labelling, local rules and the judgement
# of a licensed practitioner.
