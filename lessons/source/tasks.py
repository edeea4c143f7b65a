# %% [markdown] part="title"
# # {{number tasks}} · {{title tasks}}
#
# *{{minutes tasks}} minutes. You need: vergence (lesson {{unpadded vergence}}), acuity in logMAR, the curves of lesson {{number range_of_focus}}.*
#
# Press **Run ▸ Run All Cells** first.

# %% [markdown] part="goals"
# ## Goals
#
# After this page you can
#
# 1. **turn a task into a vergence and the acuity that it needs**;
# 2. **say which tasks a class of lens makes clear, and where it cannot be told**;
# 3. **find the weakest and the comfortable reader for a task, and what they cost elsewhere**;
# 4. **say what light and pupil change**.

# %% [markdown] part="case"
# ## A case to open with
#
# Bertrand Oduya, 70, invented like everybody here, leads a choir. His notes stand 85 cm away, on a dim stage. He
# reads a tablet on his lap and the newspaper at breakfast. His eyes are healthy; he will have extended-depth
# lenses in both. “So I shall throw my glasses away,” he says.
#
# **For which of his tasks does he still need glasses, and of which power?**

# %% [markdown] part="recall"
# ## Recall
#
# Two things from earlier lessons. Choose an answer; it opens.

# %% hide=true
from shared_utils.cases import tasks as numbers
from shared_utils.choice import everyday_tasks, tasks
from shared_utils.explore import engine, page, tasks as demos
from shared_utils.optics import acuity, through_focus
from shared_utils.bank import items
from shared_utils.show import tasks as figures

items.ask("add-for-a-screen", "read-66")

# %% [markdown] part="idea"
# ## Idea 1: a task is a distance, a letter, a light and a reserve
#
# “Near vision” is not a task. The newspaper is: letters with an x of 1.5 mm, at 40 cm, in bright light. Its **vergence** is −1 / 0.40 m = −2.50 D. A fifth of the x, seen from there, spans 2.6 arcmin. Who just
# resolves that has
#
# $$\log_{10} 2.6 = 0.41\ \text{logMAR}$$
#
# In words: acuity in logMAR is the logarithm of the finest detail in arcmin.
#
# But nobody reads at the limit. A page wants a **reserve** of two to one, 0.30 logMAR; a word 0.10. Dim light costs
# another 0.10, night 0.20; the last three are assumed.
#
# So the newspaper needs 0.11 logMAR at −2.50 D. A lens makes it clear if its curve passes **above** that point. The
# curve is good to 0.1 logMAR: near the point **the model cannot tell**.

# %% [markdown] part="predict"
# ### Predict
#
# The same newspaper. He brings it from 40 cm to 33 cm: the letters look larger.

# %% hide=true
guess_closer = page.Guess(
    "With an extended-depth lens, does bringing it nearer help?",
    options=("yes", "it makes no difference", "no, it makes it worse"),
)
guess_closer

# %% [markdown] part="observe" goals="1 2"
# ### Observe
#
# The star is the task. Bring the page nearer and watch the star **and** the blue dot: which moves farther? Move it
# away to 60 cm. Then choose dim light: what happens to the star, and what to the curves? Which classes stay
# filled?

# %% hide=true
engine.explore(demos.task_among_curves())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_closer,
    "no, it makes it worse",
    "Nearer by a fifth, letters grow by 0.08 logMAR: the star sinks that much. The curve of the extended-depth "
    "lens falls there by more than 0.2. The usual misconception is that who cannot read should hold it "
    "closer. With a lens that ends at arm's length the right advice is: **farther, larger, brighter**.",
)

# %% [markdown] part="idea"
# ## Idea 2: the weakest reader and the comfortable one
#
# A reader shifts everything by its power. With +1.00 D in front, an eye set for far sees best at 1 m, and its whole
# curve stands one dioptre nearer. So
#
# $$\text{comfortable reader} = \text{demand} \qquad \text{weakest reader} = \text{demand} - \text{depth}$$
#
# In words: the **comfortable reader** brings the focus to the page and leaves the depth in reserve; the **weakest
# reader** spends the depth that lens and pupil give by themselves.
# The page at 40 cm demands 2.50 D, so behind a monofocal set for far +2.50 D is comfortable. Even a monofocal has
# about a dioptre of depth at 3 mm, so +1.50 D does. Behind a stretched lens the
# comfortable reader is +2.00 D.
#
# Name both: what a reader adds near it takes away far. The figure lists them.

# %% hide=true
figures.glasses_that_remain()

# %% [markdown] part="predict"
# ### Predict
#
# Extended-depth lenses in both eyes, set for far: 7 of the 10 tasks are clear without glasses.

# %% hide=true
guess_reader = page.Guess("How many are clear with a reader of +1.00 D on the nose?")
guess_reader

# %% [markdown] part="observe" goals="2 3"
# ### Observe
#
# Choose the extended-depth lens, no reader. Bring the reader up step by step to +1.00 D. What is lost first? Do
# the same with the monofocal up to +1.75 D. Last, no reader, but both eyes set to −0.50 D: how does that compare
# with a reader of +0.50 D?

# %% hide=true
engine.explore(demos.reader_over_a_lens())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_reader,
    len(numbers.tasks_behind(1.0, "extended depth of focus", 0.0).tasks(clear=True)),
    "With +1.00 D its depth still serves the far side: of what was clear only the road sign at night is "
    "lost, and fine print in dim light is not yet won. With the monofocal there is little depth to share out, so the comfortable "
    "reader for the page, +2.50 D, takes road and television away, and the weakest, +1.50 D, the road at night. The usual misconception is that there is "
    "one reader for 40 cm: name the weakest and the comfortable one. And a target of −0.50 D does what a reader of +0.50 D does, only it cannot be taken off.",
)

# %% [markdown] part="idea"
# ## Idea 3: light works twice
#
# Less light means coarser sight: the task asks for more. And less light means a **wider pupil**. Blur from defocus
# grows with it:
#
# $$\text{blur in mrad} = \text{pupil in mm} \times \text{defocus in D}$$
#
# In words: the blur disc, as an angle, is pupil times defocus; a milliradian is 3.4 arcmin. So depth shrinks as the
# pupil grows: the monofocal's, to 0.2 logMAR, from 2.0 D at 2 mm to 0.9 D at 5 mm.
#
# A near focus does not cure that. At 40 cm the bifocal is in focus with any pupil, but a wide one lets aberration
# in, and in dim light the page asks for more.
#
# So a lamp is a pair of glasses: it lowers what is needed, and it narrows the pupil.

# %% [markdown] part="predict"
# ### Predict
#
# The newspaper at 40 cm, pupil 3 mm: clear with bifocal and trifocal. Now the evening: dim light, pupil 4 mm.

# %% hide=true
guess_evening = page.Guess(
    "With which lenses is it clear now, without a reader?",
    options=("bifocal and trifocal", "the trifocal only", "the bifocal only", "none"),
)
guess_evening

# %% [markdown] part="observe" goals="4"
# ### Observe
#
# Leave the pupil and choose dim light: the line that must be reached rises. Then widen the pupil to 4 mm. Then
# narrow it to 2 mm: which lens joins? Last, choose the computer, bright, and widen the pupil slowly: which
# lens keeps it longest?

# %% hide=true
engine.explore(demos.light_and_pupil())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_evening,
    "none",
    "Both effects add: the page asks for 0.10 more, and the wider pupil costs the bifocal about as much. The "
    "usual misconception is that patients who read in the surgery's light will read at home. Ask where the "
    "lamp stands. On the other side a pupil of 2 mm gives every lens depth: old, small pupils need fewer glasses "
    "than the lens's class predicts.",
)

# %% [markdown] part="example" goals="1 2 3"
# ## Worked example: the newspaper
#
# Bertrand Oduya's pupils: 2.8 mm by day, 3.6 mm in dim light. Extended-depth lens, target 0.00 D.

# %% hide=true
page.worked(numbers.task_steps(numbers.NEWSPAPER, "extended depth of focus"))

# %% [markdown]
# ### The same, with steps missing
#
# His notes on the dim stage. Write each missing number down, then open it. For step 5 the curve gives 0.04.

# %% hide=true
page.faded(
    numbers.task_steps(numbers.MUSIC_ON_STAGE, "extended depth of focus"),
    missing=(1, 2, 3, 4, 6, 7, 8),
)

# %% [markdown]
# ### Back to Bertrand Oduya

# %% hide=true
figures.glasses_table(
    ("monofocal", "extended depth of focus", "trifocal"), numbers.PUPIL_OF_PATIENT_MM, numbers.ASKED
)

# %% [markdown]
# He keeps **one reader for the newspaper: weakest +0.50 D, comfortable +2.00 D**. The tablet stands on the edge,
# marked with a question mark: the model cannot tell; larger letters, or 5 cm farther, settle it. On the dim stage his notes are on the edge
# too, and the answer is not a pair of glasses: it is **a lamp**. With it they are clear with room to spare. A
# trifocal would have spared him the newspaper's reader and would not have helped on the stage.
#
# All this is said of eyes that end on target. Few end exactly there: of 100 people like him with trifocals, 55 would
# read the newspaper without a reader, and the model is so rough that it may be 0 to 93; with monofocals 2, at most 5.

# %% [markdown] part="self-check"
# ## Check yourself

# %% hide=true
items.ask(
    "limit-is-not-enough", "question-mark", "weakest-reader", "closer-or-farther", "evening-lamp"
)

# %% [markdown] part="outside"
# ## Checked from outside
#
# Our numbers beside numbers that others published or that a second way gives. This table is computed now.

# %% hide=true
plain = tasks.LENS_OF["monofocal"]
page.outside_check(
    [
        (
            "a 6/6 letter, 8.73 mm at 6 m, without reserve",
            "Bennett & Rabbetts: 5 arcmin, the definition of 6/6",
            0.0,
            tasks.Task("letter", 6.0, 8.727).needed_logmar + everyday_tasks.WORD_RESERVE_LOGMAR,
            "logMAR",
        ),
        (
            "print of 1 M at 40 cm, without reserve",
            "definition of the M unit, 5 arcmin at 1 m: log₁₀ (1 / 0.40), by hand",
            0.398,
            acuity.logmar_of_m_units(1.0, 0.40),
            "logMAR",
        ),
        (
            "monofocal, loss by 1 D of defocus, 3.75 mm",
            "Blendowske, Optom Vis Sci 2015: MAR grows as 1 + b²",
            acuity.blendowske_logmar(-1.0),
            through_focus.acuity_logmar(plain, 3.75, -1.0)
            - through_focus.acuity_logmar(plain, 3.75, 0.0),
            "logMAR",
        ),
        (
            "telephone of presbyopes, 39.0 cm",
            "Boccardo 2021, mean distance; 1 / 0.390, by hand",
            -2.564,
            tasks.Task("telephone", 0.39, 1.5).vergence_d,
            "D",
        ),
    ]
)

# %% [markdown] part="caution"
# ## Caution
#
# A model eye without disease; generic lenses; reserve and light are assumed; what two eyes gain together is left
# out. Acuity is good to ±0.1 logMAR, a reader to about ±0.25 D. Ask about the task, then try the reader in free
# space.
#
# **For learning, not for patient care.** Follow the lens's labelling, local rules and the judgement of a
# licensed practitioner.

# %% [markdown] part="problems"
# ## Problems
#
# [Problems {{number tasks}}](../exercises/{{stem tasks}}/problems.ipynb): 9 problems and one written answer, 30 points, about
# 40 minutes.

# %% [markdown] part="summary"
# ## In two lines
#
# A task is a vergence and an acuity: size of the letters, less a reserve, less what poor light costs.
# The weakest reader makes up demand less depth, the comfortable one all of it: name both, and ask for the lamp.
#
# **Further reading.** Whittaker & Lovie-Kitchin, *Optom Vis Sci* 1993 (the reserve for reading); Blendowske, *Optom
# Vis Sci* 2015 (acuity and defocus). **Come back** in two days, in eleven, and before the examination; do the
# self-check first.
