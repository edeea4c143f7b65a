# %% [markdown] part="title"
# # {{number toric}} · {{title toric}}
#
# *{{minutes toric}} minutes. You need: cylinders as arrows at twice their axis (lesson {{number astigmatism}}), keratometry, lens position.*
#
# Press **Run ▸ Run All Cells** first.

# %% [markdown] part="goals"
# ## Goals
#
# After this page you can
#
# 1. **say which cylinder must be corrected, from keratometry, back surface and incision**;
# 2. **carry a cylinder from the cornea to the lens and choose the lens**;
# 3. **reckon what a turned lens leaves**;
# 4. **read a double-angle plot and its centroid**.

# %% [markdown] part="case"
# ## A case to open with
#
# Anneliese Duarte, 72, invented like everybody here, wants to drive without glasses. Her keratometer
# shows 43.00 D along 90 and 44.25 D along 180: astigmatism of 1.25 D **against the rule**. Her lens will lie
# 5.2 mm behind the cornea. Toric lenses are made here in cylinder steps of 0.75 D, an invented ladder.
#
# **Which cylinder do you order?** And a month later its marks lie 10° off: **what is left?**

# %% [markdown] part="recall"
# ## Recall
#
# Two things from lessons {{number astigmatism}} and {{number measuring}}. Choose an answer; it opens.

# %% hide=true
from shared_utils.cases import toric as cases
from shared_utils.explore import engine, page, toric as demos
from shared_utils.power import toric
from shared_utils.bank import items
from shared_utils.show import toric as figures

items.ask("mean-of-axes", "back-surface-assumed")

# %% [markdown] part="idea"
# ## Idea 1: the keratometer sees half of the cornea
#
# A keratometer measures the **front**. With its index of 1.3375 it takes for granted that the back has the
# same shape. But in most eyes the back is steep vertically, whatever the front does, and it is a **minus**
# surface: it takes power away where it is steep. So it adds about 0.3 D **against the rule**. With the rule
# becomes less, against the rule becomes more.
#
# Best is to measure both surfaces. Else a **regression** estimates the total, as that of Abulafia & Koch,
# with θ the steep meridian, $x = C\cos 2\theta$ and $y = C\sin 2\theta$:
#
# $$x' = 0.508 + 0.926\,x \qquad y' = 0.009 + 0.932\,y$$
#
# It knows the average eye, not yours. Never use it on a **measured** total: that would count the back twice.

# %% hide=true
figures.front_and_back()

# %% [markdown] part="predict"
# ### Predict
#
# A keratometer shows 0.50 D with the rule, steep at 90.

# %% hide=true
guess_total = page.Guess(
    "What will the regression expect of the whole cornea?",
    options=("about 1.00 D with the rule", "0.50 D with the rule", "next to nothing"),
)
guess_total

# %% [markdown] part="observe" goals="1"
# ### Observe
#
# Bring the keratometer to 0.50 D at 90, then turn the steep meridian to 180. Compare the two totals. Then
# set 0.00 D. Last, hold 1.50 D near 30 and change the estimate: where do two of them jump?

# %% hide=true
engine.explore(demos.total_cornea())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_total,
    "next to nothing",
    "0.508 − 0.926 · 0.50 = 0.05 D. The same 0.50 D at 180 becomes 0.97 D. The usual slip is to treat both "
    "alike. The regression takes off more than the back surface alone has: it was fitted to refractions "
    "after surgery and carries whatever else those eyes had.",
)

# %% [markdown] part="idea"
# ## Idea 2: a cylinder belongs to a plane
#
# A toric lens lies some 5 mm behind the cornea, in converging light. Like every power it must be stronger
# there to do the same work. Carry each corneal meridian to the lens and subtract; for a cornea of power $F$
# and a lens at $d$ metres, both meridians together give nearly
#
# $$\frac{C_\text{lens}}{C_\text{cornea}} = \frac{1}{\left(1 - \frac{d}{1.336} F\right)^2}$$
#
# In words: one over the square of the share of the beam's width that is left at the lens. About 1.44 in an
# average eye. The lens's power and the eye's length enter only through the **place** of the lens.

# %% [markdown] part="predict"
# ### Predict
#
# The label says 3.00 D of cylinder. The eye is average.

# %% hide=true
guess_plane = page.Guess("How much of it acts at the cornea?", unit="D")
guess_plane

# %% [markdown] part="observe" goals="2"
# ### Observe
#
# Set 3.00 D. Then bring the lens forward to 4 mm, as in a short eye, and back to 6 mm, as in a long one.
# Which of the two would one ratio for every eye overcorrect?

# %% hide=true
engine.explore(demos.cornea_and_lens())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_plane,
    round(3.0 / cases.cylinder_ratio(43.0, 5.2), 2),
    "A label speaks of the lens's own plane. 3.00 / 1.44 leaves about two dioptres at the cornea. The slip is "
    "to multiply. In a short eye the true ratio is lower than 1.46, so a lens chosen with 1.46 does too "
    "much; in a long eye too little.",
    near=0.1,
)

# %% [markdown] part="idea"
# ## Idea 3: a turned lens leaves a new cylinder
#
# The marks of a toric lens show its meridian of **least** power; they belong on the **steep** meridian of the
# cornea. Turn the lens by $\theta$, and the arrows open by $2\theta$. What remains of equal cylinders $C$
# is the third side:
#
# $$C_\text{left} = 2\,C \sin\theta$$
#
# In words: twice the cylinder times the sine of the turn. At 30° that is all of it. Hence the rule of 3.3 %
# per degree.
#
# The new cylinder lies **far from both**: for a small turn about 45° away. The spherical equivalent does not
# change. If the sizes differ, the law of cosines takes over:
# $\sqrt{C_1^2 + C_2^2 - 2 C_1 C_2 \cos 2\theta}$.

# %% [markdown] part="predict"
# ### Predict
#
# A cornea of 2.00 D, a lens that does exactly 2.00 D there, turned by 10°: a ninth of a right angle.

# %% hide=true
guess_turn = page.Guess("How much cylinder is left?", unit="D")
guess_turn

# %% [markdown] part="observe" goals="3"
# ### Observe
#
# Turn the lens slowly to 10°, then to 30°, 45° and 90°. Then give the lens only 1.25 D. Which of the two
# lenses forgives a small turn better?

# %% hide=true
engine.explore(demos.turned_lens())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_turn,
    round(float(toric.misaligned_cylinder(2.0, 2.0, 10.0)), 2),
    "A ninth of a right angle is not a ninth of the effect: 2 · 2.00 · sin 10° is 0.69 D, more than a third. "
    "The curve is steepest at the start. A weaker lens leaves more when it lies well and loses less when it "
    "turns. Look at the refraction, not only at the marks: the new cylinder stands near 45° from them.",
    near=0.05,
)

# %% [markdown] part="idea"
# ## Idea 4: many eyes on one plot
#
# Every cylinder is a point at twice its steep meridian: with the rule on the left, against on the right. What
# surgery made is **after minus before**, as arrows. The mean of all points is the **centroid**.
#
# Two numbers must not be mixed. The **centroid** is what happens on average, with its direction: that is what a plan for
# the next eye may use. The **mean of the sizes** says how much happens to one eye; it is never negative, so
# it is large even if all directions cancel.
#
# The small outline holds the population's mean 19 times in 20. The large dashed one holds the next eye.

# %% hide=true
figures.how_to_read()

# %% [markdown] part="predict"
# ### Predict
#
# Forty small incisions each change the cornea by about half a dioptre, in every direction.

# %% hide=true
guess_centroid = page.Guess(
    "How large is their centroid?", options=("about 0.50 D", "about 0.25 D", "near zero")
)
guess_centroid

# %% [markdown] part="observe" goals="4"
# ### Observe
#
# Start where the plot starts, then take the centroid to zero: does the mean of the sizes follow? Then make
# the scatter small. From which centroid on does zero leave the small outline?

# %% hide=true
engine.explore(demos.series_of_eyes())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_centroid,
    "near zero",
    "Arrows in every direction cancel; their sizes cannot. A surgeon who plans with the mean of the sizes "
    "adds half a dioptre in a direction that the next eye will not take. Even the centroid says little where "
    "the scatter is three times as large.",
)

# %% [markdown] part="example" goals="1 2"
# ## Worked example: from readings to a lens
#
# 42.50 D along 180, 44.75 D along 90, lens 5.2 mm behind the cornea.

# %% hide=true
page.worked(cases.plan_steps(42.50, 44.75, 90, 5.2))

# %% [markdown]
# ### The same, with steps missing
#
# 44.00 D along 90, 46.00 D along 180, a short eye with the lens at 4.6 mm. Write each number down, then open it.

# %% hide=true
page.faded(cases.plan_steps(44.00, 46.00, 180, 4.6), missing=(1, 3, 5, 6, 8))

# %% [markdown]
# ### Back to Anneliese Duarte

# %% hide=true
page.worked(
    [
        *cases.plan_steps(43.00, 44.25, 180, 5.2),
        (
            "what remains, turned by 10°",
            "√(1.67² + 1.56² − 2 · 1.67 · 1.56 · cos 20°)",
            cases.cylinder_after_turn(43.00, 44.25, 180, 5.2, 10.0),
            "D",
        ),
    ]
)

# %% [markdown]
# **Order 2.25 D.** Without the back surface you would have ordered 1.50 D and left 0.63 D against the rule. The
# turn of 10° costs her half a dioptre and leaves 0.57 D.
#
# ### More for the clinic
#
# - **Incision.** Add the centroid of your own incisions as an arrow, if it is yours and if the regression does not
#   hold it already. In eyes against the rule, adding both made predictions worse in a study of 2021.
# - **Between two steps** many prefer to leave a little with the rule, for corneas drift against the rule with age.
# - **Turning back.** Refract first. If the size is wrong too, no turn makes it zero.
# - **Tilt and dry eyes** make cylinders of their own. Repeat keratometry that changes.

# %% [markdown] part="self-check"
# ## Check yourself

# %% hide=true
items.ask(
    "with-the-rule-total",
    "label-to-cornea",
    "ten-degrees-off",
    "where-it-is-left",
    "plan-with-which",
)

# %% [markdown] part="outside"
# ## Checked from outside
#
# Our numbers beside numbers that others give or that a second way gives. This table is computed now.

# %% hide=true
page.outside_check(
    [
        (
            "left of 1 D after 10°, equal cylinders",
            "Felipe et al., J Cataract Refract Surg 2011, abstract: a third",
            1 / 3,
            toric.misaligned_cylinder(1.0, 1.0, 10.0),
            "D",
        ),
        (
            "1.50 D at 90, total by regression",
            "Abulafia, Koch et al. 2016 (from memory), by hand: 0.926 · 1.5 − 0.508",
            0.881,
            cases.compute_total_cornea(1.5, 90, "abulafia_koch").total.cylinder_d,
            "D",
        ),
        (
            "ratio at 5.0 mm, cornea 43 D",
            "by hand: 1 / (1 − 0.005 · 43 / 1.336)²",
            1.420,
            cases.cylinder_ratio(43.0, 5.0),
            "",
        ),
        (
            "made by surgery: 1.50 at 90 to 1.10 at 100",
            "law of cosines, a second way",
            0.599,
            toric.induced(
                cases.astigmatism_steep_at(1.5, 90), cases.astigmatism_steep_at(1.1, 100)
            ).cylinder_d,
            "D",
        ),
    ]
)

# %% [markdown] part="caution"
# ## Caution
#
# Thin lenses, regular astigmatism, a lens without tilt; an invented ladder of cylinders. The regressions' coefficients are
# remembered, their eyes were average. Irregular corneas, weak zonules and unstable keratometry speak against a toric lens.
#
# **For learning, not for patient care.** Follow the lens's labelling, local rules and the judgement of a
# licensed practitioner.

# %% [markdown] part="problems"
# ## Problems
#
# [Problems {{number toric}}](../exercises/{{stem toric}}/problems.ipynb): 9 problems and one written answer, 30 points, about
# 40 minutes.

# %% [markdown] part="summary"
# ## In two lines
#
# Correct the whole cornea, not the keratometer's half, at the plane of the lens; a turn leaves 2 C sin θ.
# Plan with the centroid at the double angle, never with a mean of axes or of sizes.
#
# **Further reading.** Koch et al., J Cataract Refract Surg 2012, on the posterior cornea; Abulafia, Koch et al., same
# journal 2016, on total astigmatism; Holladay et al., same journal 2022, on double-angle plots. **Come back** in two days, in eleven, and before the
# examination; do the self-check first.
