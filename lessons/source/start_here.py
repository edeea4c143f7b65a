# %% [markdown] part="title"
# # {{number start_here}} · {{title start_here}}
#
# *{{minutes start_here}} minutes. You need nothing first.*
#
# This course is about one decision: which lens goes into the eye of a patient with a cataract. Some
# lenses give one focus, some split the light between two or three, some stretch the focus. Each choice
# gives something and takes something: glasses that remain, contrast, rings around lights at night.
# By the end you can **reckon** all this, and say it to a patient.
#
# Press **Run ▸ Run All Cells** in the menu above. Do the same on every page.

# %% [markdown] part="check"
# ## Does everything work here?

# %% hide=true
from shared_utils.pages import readiness

readiness.report()

# %% [markdown] part="map"
# ## The map
#
# {{Count lessons}} lessons in four parts. Each lesson takes about 20 minutes and has a problem set.

# %% hide=true
from shared_utils.pages import course_map

course_map.table()

# %% [markdown] part="coverage"
# ## What you will be able to do
#
# Every goal of every lesson: which slider or example shows it, which question of the page asks it, how many
# questions practice has, and which problems grade it.

# %% hide=true
from shared_utils.authoring import coverage

coverage.table()

# %% [markdown] part="readers"
# ## How you proceed
#
# **You are a resident and have an instructor.** Tell the course the id that your instructor knows you
# by, once, in a terminal: `lens-course learner YOUR_ID`. Read a lesson, then open its problems. Every
# problem gives you numbers of your own. Press **Check my answers** at their top, or run
# `lens-course check {{number first}}`, as often as you like. Hand the notebook in as your instructor tells you.
#
# **You are the instructor.** Make a class of your own, outside this folder:
# `lens-course class new FOLDER`. Then `lens-course class --help` shows how to release, grade and give
# feedback. The grades and the form grader are nbgrader's.
#
# **You are alone before a board examination.** Any page stands by itself. Do the recall at its top; if
# that is easy, skip to the self-check near its end; read the middle only where you slip. The
# problems work without an instructor. Then [{{number practice}} Practice]({{stem practice}}.ipynb) brings questions back until
# the day, and [{{number mock_examination}} {{title mock_examination}}]({{stem mock_examination}}.ipynb) has a clock and a report.

# %% [markdown] part="page"
# ## How a page works
#
# Each page asks you to **guess before you look**. Guess in earnest and keep your guess: a wrong guess
# that is answered teaches more than a right picture that is looked at. Sliders move with the mouse and
# with the arrow keys. Answers open with a click, or with the Enter key.
#
# Code is folded away where it is not the lesson. Click the bar at the left of a cell to see it.

# %% [markdown] part="caution"
# ## Caution
#
# **For learning, not for patient care.** Follow the lens's labelling, local rules and the judgement
# of a licensed practitioner. All patients, cohorts and lenses are invented; the formulas and the facts are
# published, and each page says where.
