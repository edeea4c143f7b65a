# %% [markdown] part="title"
# # {{number astigmatism}} · {{title astigmatism}}
#
# *{{minutes astigmatism}} minutes. You need: vergence (lesson {{number vergence}}), sine and cosine, and how to set a cylinder in a trial frame.*
#
# Press **Run ▸ Run All Cells** first.

# %% [markdown] part="goals"
# ## Goals
#
# After this page you can
#
# 1. **write a refraction in its other form and give its power along any meridian**;
# 2. **find both focal lines and the circle of least confusion**;
# 3. **turn a refraction into M, J0 and J45, and back**;
# 4. **add cylinders whose axes differ**.

# %% [markdown] part="case"
# ## A case to open with
#
# Maren Oduya, 70, invented like everybody here, has had both cataracts removed. For a year she has worn
# −1.00 −1.50 × 20 before her right eye. Now she sees less. You leave her glasses on, refract over them, and
# find −0.50 −1.00 × 65 on top. She wants one lens, not two.
#
# **Which single lens does what these two do together?** Not −1.50 −2.50 × 43, as sums and a mean would say.

# %% [markdown] part="recall"
# ## Recall
#
# Two things from lessons {{number vergence}} and {{number glasses}}. Choose an answer; it opens.

# %% hide=true
from shared_utils.cases import astigmatism as cases
from shared_utils.explore import astigmatism as demos, engine, page
from shared_utils.optics.sphero_cylinder import SpheroCylinder, interval_of_sturm
from shared_utils.bank import items
from shared_utils.show import astigmatism as figures

items.ask("virtual-image", "measured-at-another-vertex")

# %% [markdown] part="idea"
# ## Idea 1: one lens, two meridians, two ways to write it
#
# A cylinder bends light in one direction only. Along its **axis** it has no power; across the axis it has
# all of it. So −1.00 −2.00 × 30 has −1.00 D along 30° and −3.00 D along 120°. Those two **principal
# meridians** are the lens. You may begin at either:
#
# $$S\;C \times \alpha \;=\; (S + C)\;({-C}) \times (\alpha \pm 90)$$
#
# In words: the new sphere is sphere plus cylinder, the cylinder changes its sign, the axis turns by a right
# angle. This is **transposition**; the glass stays the same.
#
# Between the two, along a meridian at the angle $\theta$,
#
# $$F(\theta) = S + C \sin^2(\theta - \alpha)$$
#
# the sphere and a share of the cylinder, the sine squared of the angle from the axis.

# %% hide=true
figures.sphere_and_cylinder()

# %% [markdown] part="predict"
# ### Predict
#
# The lens is −1.00 −2.00 × 30. You look along 60°, a third of the way from the axis to the other meridian.

# %% hide=true
guess_along = page.Guess("Which power does it have along 60°?", unit="D")
guess_along

# %% [markdown] part="observe" goals="1"
# ### Observe
#
# Move the meridian from 30° to 60°, then to 75° and 120°. Where does the curve run steeply, where flat?
# Then make the cylinder positive: which of the two marks stays where it was?

# %% hide=true
engine.explore(demos.power_around())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_along,
    round(SpheroCylinder(-1.0, -2.0, 30).power_along(60), 9),
    "A third of the way is not a third of the cylinder: sin² 30° is a quarter, so −1.00 − 0.50 D. Halfway, "
    "at 45°, it is half. The usual slip is to take the axis for the meridian of the power. The axis is where "
    "the cylinder does nothing.",
)

# %% [markdown] part="idea"
# ## Idea 2: two lines and a circle
#
# An astigmatic eye has a strong and a weak meridian. Light in the strong one meets early, light in the
# weak one late. Neither makes a point. Where the vertical meridian meets, light is still spread
# sideways: a **horizontal line**. Where the horizontal meridian meets, it is spread up and down: a
# **vertical line**. Each meridian makes the line that lies **across** it.
#
# The way between the lines is the **interval of Sturm**. At its dioptric middle the spot is round: the
# **circle of least confusion**. Its place follows from the **spherical equivalent**, $M = S + C/2$, and its
# diameter grows with pupil and cylinder.
#
# So a refraction of +1.00 −2.00 × 180 has its circle on the retina. That is the best a sphere can do.

# %% hide=true
figures.spots_between_the_lines()

# %% [markdown] part="predict"
# ### Predict
#
# An eye needs 0.00 −2.00 × 180. You have only spheres in the drawer.

# %% hide=true
guess_sphere = page.Guess("Which sphere brings the circle onto the retina?", unit="D")
guess_sphere

# %% [markdown] part="observe" goals="2"
# ### Observe
#
# With no lens, which line lies on the retina? Is it the one that you expected? Now search for the round
# spot with the sphere, and for the other line. Last, make the pupil small.

# %% hide=true
engine.explore(demos.lines_and_circle())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_sphere,
    SpheroCylinder(0.0, -2.0, 180).spherical_equivalent_d,
    "The sphere of 0.00 says only that one line lies on the retina: the vertical one, made by the "
    "horizontal meridian, which needs nothing. The circle wants the spherical equivalent, half of the "
    "cylinder. A small pupil moves no line; it makes every spot smaller, which is why astigmatism "
    "hides in bright light.",
)

# %% [markdown] part="idea"
# ## Idea 3: cylinders are arrows at twice their axis
#
# Half a turn brings a cylinder back to itself: 180 is 0. So 180° of axis must fill a whole circle.
# Draw each cylinder as an arrow at **twice** its axis, half as long as the cylinder:
#
# $$M = S + \tfrac{C}{2} \qquad J_0 = -\tfrac{C}{2}\cos 2\alpha \qquad J_{45} = -\tfrac{C}{2}\sin 2\alpha$$
#
# In words: the mean power; the part of the cylinder that lies with 180 against 90; the part with 45 against
# 135. These three **add and average like plain numbers**. Cylinders and axes do not. Then back:
#
# $$C = -2\sqrt{J_0^2 + J_{45}^2} \qquad S = M - \tfrac{C}{2}$$
#
# and the axis is **half** the angle at which the point ($J_0$, $J_{45}$) lies.

# %% [markdown] part="predict"
# ### Predict
#
# Two lenses lie on each other: 0.00 −1.00 × 180 and 0.00 −1.00 × 60.

# %% hide=true
guess_sum = page.Guess("Which minus cylinder do they make together?", unit="D")
guess_sum

# %% [markdown] part="observe" goals="3 4"
# ### Observe
#
# The blue arrow stays. Turn the orange cylinder from 180 down to 90 and watch the black sum. At which
# angle is it as long as each alone? When does it vanish? Then turn on, from 90 to 5.

# %% hide=true
engine.explore(demos.adding_cylinders())

# %% [markdown] part="explain"
# ### Explain

# %% hide=true
page.Answer(
    guess_sum,
    cases.compute_cylinder_sum(-1.0, 60.0).total.cylinder_d,
    "Axes 60° apart are arrows 120° apart: with the sum they make a triangle of equal sides. The rest has "
    "not gone: it became sphere, −0.50 D. At 90° all of it becomes sphere. Adding cylinders as numbers "
    "holds only when the axes are the same.",
)

# %% [markdown] part="example" goals="1 3 4"
# ## Worked example: two lenses into one
#
# +1.00 −2.00 × 30 and −0.50 −1.00 × 75 lie on each other.

# %% hide=true
page.worked(cases.sum_steps(SpheroCylinder(1.0, -2.0, 30), SpheroCylinder(-0.5, -1.0, 75)))

# %% [markdown]
# ### The same, with steps missing
#
# −2.00 −1.00 × 90 and 0.00 −0.50 × 45. Write each missing number down, then open it.

# %% hide=true
page.faded(
    cases.sum_steps(SpheroCylinder(-2.0, -1.0, 90), SpheroCylinder(0.0, -0.5, 45)),
    missing=(1, 4, 5, 8, 9, 10),
)

# %% [markdown]
# ### Back to Maren Oduya
#
# Her axes lie 45° apart, so the arrows stand at a right angle and the cylinder is a hypotenuse.

# %% hide=true
page.worked(cases.sum_steps(SpheroCylinder(-1.0, -1.5, 20), SpheroCylinder(-0.5, -1.0, 65))[4:])

# %% [markdown]
# In quarter steps: **−1.75 −1.75 × 37**. Sums and a mean would have given her 0.70 D of cylinder too much.
#
# ### More from the same arrows
#
# - **Crossed cylinder.** The hand-held one of 0.25 D is +0.25 −0.50: a pure arrow with no sphere. To flip it
#   is to turn its arrow round, so the patient compares two sums.
# - **Length of the whole arrow.** $B = \sqrt{M^2 + J_0^2 + J_{45}^2}$ says in one number how much a refraction
#   blurs.
# - **Planes.** A cylinder has no vertex rule of its own: move each meridian. −8.00 −4.00 × 180 at 12 mm is
#   −7.30 −3.19 × 180 at the cornea.
# - **Near zero there is no axis.** Below about 0.10 D a measured axis is noise.

# %% [markdown] part="self-check"
# ## Check yourself

# %% hide=true
items.ask("thirty-from-axis", "line-on-the-retina", "vector-to-chart", "forty-five-apart")

# %% [markdown] part="outside"
# ## Checked from outside
#
# Our numbers beside numbers that others give or that a second way gives. This table is computed now. The
# second way for sums is a 2 × 2 matrix of powers, whose eigenvalues are the meridians.

# %% hide=true
first, second = SpheroCylinder(1.0, -2.0, 30), SpheroCylinder(-0.5, -1.0, 75)
thibos = SpheroCylinder(-1.0, -2.0, 30).power_vector()
sturm = interval_of_sturm(SpheroCylinder(-1.0, -2.0, 180), pupil_mm=4.0)
page.outside_check(
    [
        (
            "J45 of −1.00 −2.00 × 30",
            "Thibos, Wheeler & Horner 1997, by hand: sin 60°",
            0.866,
            thibos.j45_d,
            "D",
        ),
        (
            "cylinder of the worked example",
            "Long 1976: matrices of power, a second way",
            cases.compute_cylinder_by_matrix(first, second),
            (first + second).cylinder_d,
            "D",
        ),
        (
            "first line of an eye with −1.00 −2.00 × 180",
            "n / (F − R) by hand: 1333.33 / 63",
            21.164,
            sturm.first_line_mm,
            "mm",
        ),
        (
            "its circle of least confusion, 4-mm pupil",
            "pupil · |C|/2 over 62 D by hand: 4000 / 62",
            64.516,
            sturm.circle_diameter_um,
            "µm",
        ),
    ]
)

# %% [markdown] part="caution"
# ## Caution
#
# Thin lenses in one plane, two meridians at right angles: **regular** astigmatism. A scarred or bulging cornea
# has no two such meridians, and no cylinder mends it. The lines are reckoned in an eye of one surface that does
# not accommodate.
#
# **For learning, not for patient care.** Follow the lens's labelling, local rules and the judgement of a
# licensed practitioner.

# %% [markdown] part="problems"
# ## Problems
#
# [Problems {{number astigmatism}}](../exercises/{{stem astigmatism}}/problems.ipynb): 9 problems and one written answer, 30 points,
# about 40 minutes.

# %% [markdown] part="summary"
# ## In two lines
#
# A cylinder works across its axis; two meridians make two lines, with a circle where the spherical equivalent
# falls. Cylinders add as arrows at twice their axis, as M, J0 and J45, never as numbers.
#
# **Further reading.** Thibos, Wheeler & Horner, Optom Vis Sci 1997, on power vectors; Bennett & Rabbetts,
# *Clinical Visual Optics*, on Sturm's interval. **Come back** in two days, in eleven, and before the
# examination; do the self-check first.
