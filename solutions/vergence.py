# %% [markdown] question="start"
# # Problems {{number vergence}} · {{title vergence}}
#
# Eight problems and one written answer, 30 points, about 40 minutes. The lesson is
# [{{number vergence}} {{title vergence}}](../../lessons/{{stem vergence}}.ipynb).
#
# Run the cells from the top. Each problem gives you numbers of your own. Write your answer where it
# says `YOUR CODE HERE`, run the check below it, and read its one sentence. When you are done, save and press
# **Check my answers** below, or run `lens-course check {{number vergence}}` in a terminal.
#
# Signs: light travels to the right; a real object lies at a negative distance; converging light has
# positive vergence.
#
# *All patients are invented. For learning, not for patient care: follow the lens's labelling, local
# rules and the judgement of a licensed practitioner.*

# %% given="setup"
from shared_utils.problems import check_button, checks
from shared_utils.problems.hidden_numbers import HiddenDraw
from shared_utils.problems.numbers import Draw, learner_id
from shared_utils.optics import vergence

print(f"Numbers for learner: {learner_id()}")
check_button.show("vergence")

# %% [markdown] question="page" goals="1"
# ## 1 · Light from a page (2 points)
#
# Ottilie Marsch holds her book in front of her. What vergence does the light of the page have when it
# reaches her? Write a function that takes the distance of the page in **cm** (a positive number, as a
# ruler shows it) and returns the vergence in **D**, with its sign.

# %% given="page"
page = Draw("vergence/page")
page_distance_cm = page.pick("distance_cm", 23, 71)
page.tell(f"Her book stands **{page_distance_cm} cm** in front of her eyes.")


# %% answer="page"
def page_vergence_d(distance_cm):
    ### BEGIN SOLUTION
    return -100.0 / distance_cm
    ### END SOLUTION


# %% check="page" points=1 hide=true
checks.number(
    "vergence of the page's light",
    page_vergence_d(page_distance_cm),
    vergence.vergence(-page_distance_cm / 100),
    unit="D",
    within=0.01,
    expect="a vergence in dioptres, negative because light from a real object diverges",
    slips={
        "the sign: a real object sends out diverging light, and that is negative.": 100
        / page_distance_cm,
        "centimetres were not turned into metres before dividing.": -1 / page_distance_cm,
        "the distance itself is not a vergence: take its reciprocal, in metres.": -page_distance_cm
        / 100,
    },
)

# %% hidden="page" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"The page is {page_distance_cm / 100:.2f} m away, and its light diverges: "
    f"$V = 1 / (-{page_distance_cm / 100:.2f}\\ \\mathrm{{m}}) = {-100 / page_distance_cm:.2f}$ D."
)
for ruler_cm in HiddenDraw("vergence/page").cases((16.0, 55.0, 400.0), by=[2.0, 5.0, 50.0]):
    checks.number(
        "the same function for another distance",
        page_vergence_d(ruler_cm),
        vergence.vergence(-ruler_cm / 100),
        unit="D",
        within=0.01,
        expect="minus one over the distance in metres, whatever the distance",
    )
### END HIDDEN TESTS

# %% [markdown] question="aqueous" goals="1"
# ## 2 · Light inside the eye (2 points)
#
# Behind the cornea of Bertil Aaker light converges towards a point. The medium is aqueous, index 1.336.
# Write a function that takes the distance from the cornea to that point in **mm** and returns the
# vergence just behind the cornea in **D**.

# %% given="aqueous"
aqueous = Draw("vergence/aqueous")
focus_mm = aqueous.pick("focus_mm", 26.0, 34.0, step=0.1)
aqueous.tell(f"The point lies **{focus_mm:.1f} mm** behind the cornea, in aqueous.")


# %% answer="aqueous"
def vergence_in_aqueous_d(distance_mm):
    ### BEGIN SOLUTION
    return 1336.0 / distance_mm
    ### END SOLUTION


# %% check="aqueous" points=1 hide=true
checks.number(
    "vergence just behind the cornea",
    vergence_in_aqueous_d(focus_mm),
    vergence.vergence(focus_mm / 1000, index=1.336),
    unit="D",
    within=0.05,
    expect="a vergence in dioptres, positive because the light converges, index 1.336",
    slips={
        "the index was left out: vergence is index over distance.": 1000 / focus_mm,
        "the index was divided by instead of multiplied with.": 1000 / focus_mm / 1.336,
        "millimetres were not turned into metres.": 1.336 / focus_mm,
    },
)

# %% hidden="aqueous" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Index over distance in metres: $V = 1.336 / {focus_mm / 1000:.4f}\\ \\mathrm{{m}} = "
    f"{1336 / focus_mm:.2f}$ D, positive because the light converges."
)
for depth_mm in HiddenDraw("vergence/aqueous").cases((3.0, 17.5, 24.0), by=[0.8, 1.5, 2.0]):
    checks.number(
        "the same function for another distance",
        vergence_in_aqueous_d(depth_mm),
        vergence.vergence(depth_mm / 1000, index=1.336),
        unit="D",
        within=0.05,
        expect="index over distance in metres, whatever the distance",
    )
### END HIDDEN TESTS

# %% [markdown] question="image" goals="2"
# ## 3 · Where is the image? (3 points)
#
# Ffion Pardoe looks at a lamp through a thin lens in air. Write a function that takes the distance of
# the lamp in **cm** (positive, as a ruler shows it) and the power of the lens in **D**, and returns the
# distance of the image from the lens in **cm**: positive behind the lens (a real image), negative in
# front of it (a virtual one).

# %% given="image"
image = Draw("vergence/image")
lamp_cm = image.pick("lamp_cm", 30, 90)
lamp_lens_d = image.pick("lens_d", 4.0, 9.0, step=0.25)
image.tell(f"The lamp stands **{lamp_cm} cm** in front of a lens of **+{lamp_lens_d:.2f} D**.")


# %% answer="image"
def image_distance_cm(object_distance_cm, lens_power_d):
    ### BEGIN SOLUTION
    leaving_d = -100.0 / object_distance_cm + lens_power_d
    return 100.0 / leaving_d
    ### END SOLUTION


# %% check="image" points=1 hide=true
lamp_leaves_d = vergence.refract(vergence.vergence(-lamp_cm / 100), lamp_lens_d)
checks.number(
    "image of the lamp",
    image_distance_cm(lamp_cm, lamp_lens_d),
    100 * vergence.focus_distance(lamp_leaves_d),
    unit="cm",
    within=0.1,
    expect="a distance in cm, positive because this lens makes the light converge",
    slips={
        "the sign of the arriving light: U is negative, so the lens has to make up for it.": 100
        / (100 / lamp_cm + lamp_lens_d),
        "that is where light from far away would meet: the lamp's own vergence was left out.": 100
        / lamp_lens_d,
        "that is in metres; give centimetres.": 1 / lamp_leaves_d,
        "that is the vergence that leaves, in D; the distance is its reciprocal.": lamp_leaves_d,
    },
)

# %% hidden="image" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
lamp_arrives_d = vergence.vergence(-lamp_cm / 100)
checks.working(
    f"Arriving $U = -100 / {lamp_cm} = {lamp_arrives_d:.2f}$ D; the lens adds {lamp_lens_d:+.2f} D; "
    f"leaving $V = {lamp_leaves_d:.2f}$ D. The image lies $100 / V = {100 / lamp_leaves_d:.1f}$ cm away."
)
image_marks = checks.Marks(2)
for candle_cm, candle_lens_d in HiddenDraw("vergence/image").cases(
    ((25.0, 10.0), (20.0, 2.0), (100.0, -3.0), (40.0, 6.5)), by=(3.0, 0.5)
):
    image_marks.step(
        checks.number,
        "the same function for another lamp and lens",
        lambda d=candle_cm, f=candle_lens_d: image_distance_cm(d, f),
        100 * vergence.focus_distance(-100 / candle_cm + candle_lens_d),
        unit="cm",
        within=0.1,
        expect="negative for a virtual image, positive for a real one",
    )
image_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="surface" goals="2"
# ## 4 · The power of a surface (2 points)
#
# The front of Anselm Rook's cornea has been measured. Write a function that takes its radius in **mm**
# and the index behind it, and returns its power in air in **D**.

# %% given="surface"
surface = Draw("vergence/surface")
radius_mm = surface.pick("radius_mm", 7.2, 8.4, step=0.02)
surface.tell(
    f"The front surface has a radius of **{radius_mm:.2f} mm**; corneal stroma has index **1.376**."
)


# %% answer="surface"
def corneal_front_power_d(radius_mm, index_behind):
    ### BEGIN SOLUTION
    return 1000.0 * (index_behind - 1.0) / radius_mm
    ### END SOLUTION


# %% check="surface" points=1 hide=true
checks.number(
    "power of the corneal front",
    corneal_front_power_d(radius_mm, 1.376),
    vergence.surface_power(radius_mm, 1.0, 1.376),
    unit="D",
    within=0.05,
    expect="a surface power in dioptres, about 50, from index 1 to the index behind",
    slips={
        "that is the keratometer's number, which uses 1.3375 for the whole cornea.": 337.5
        / radius_mm,
        "the index of air, 1, was not taken away.": 1376 / radius_mm,
        "millimetres were not turned into metres.": 0.376 / radius_mm,
        "that is the reciprocal in metres without the step of the index.": 1000 / radius_mm,
    },
)

# %% hidden="surface" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"The step of the index over the radius: $F = (1.376 - 1) / {radius_mm / 1000:.5f}\\ \\mathrm{{m}} = "
    f"{376 / radius_mm:.2f}$ D."
)
for bend_mm, behind in HiddenDraw("vergence/surface").cases(
    ((7.80, 1.336), (8.00, 1.5), (-6.0, 1.49)), by=(0.3, 0.01)
):
    checks.number(
        "the same function for another surface",
        corneal_front_power_d(bend_mm, behind),
        vergence.surface_power(bend_mm, 1.0, behind),
        unit="D",
        within=0.05,
        expect="the step of the index over the radius in metres, with the radius's sign",
    )
### END HIDDEN TESTS

# %% [markdown] question="vertex" goals="3"
# ## 5 · From spectacles to a contact lens (3 points)
#
# Hedwig Castellan wants contact lenses. Write a function that takes her spectacle refraction in **D** and
# the vertex distance in **mm** and returns the contact lens power in **D** that does the same work.

# %% given="vertex"
vertex = Draw("vergence/vertex")
spectacle_d = vertex.choose("sign", [-1, 1]) * vertex.pick("power_d", 6.0, 14.0, step=0.25)
vertex_mm = vertex.pick("vertex_mm", 11, 15)
vertex.tell(
    f"Her spectacles have **{spectacle_d:+.2f} D** at a vertex distance of **{vertex_mm} mm**."
)


# %% answer="vertex"
def contact_lens_d(spectacle_d, vertex_mm):
    ### BEGIN SOLUTION
    return spectacle_d / (1.0 - vertex_mm / 1000.0 * spectacle_d)
    ### END SOLUTION


# %% check="vertex" points=1 hide=true
checks.number(
    "contact lens power",
    contact_lens_d(spectacle_d, vertex_mm),
    vergence.at_vertex(spectacle_d, vertex_mm, 0.0),
    unit="D",
    within=0.02,
    expect="a power at the cornea, same sign; weaker than a minus lens, stronger than a plus lens",
    slips={
        "the way went outward: moving from the eye to the spectacles instead of towards the eye.": vergence.at_vertex(
            spectacle_d, 0.0, vertex_mm
        ),
        "the spectacle power was handed on as it is; at this strength the way matters.": spectacle_d,
        "that is the rule of thumb d·F² with the wrong sign.": spectacle_d
        - vertex_mm / 1000 * spectacle_d**2,
        "that is the rule of thumb F + d·F²; here it is too rough.": spectacle_d
        + vertex_mm / 1000 * spectacle_d**2,
        "the vertex distance was taken in centimetres.": spectacle_d
        / (1 - vertex_mm / 100 * spectacle_d),
    },
)

# %% hidden="vertex" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Carry {spectacle_d:+.2f} D over {vertex_mm} mm: "
    f"$V = {spectacle_d:.2f} / (1 - {vertex_mm / 1000:.3f} \\cdot ({spectacle_d:.2f})) = "
    f"{vergence.at_vertex(spectacle_d, vertex_mm, 0.0):.2f}$ D."
)
vertex_marks = checks.Marks(2)
for worn_d, gap_mm in HiddenDraw("vergence/vertex").cases(
    ((-12.0, 12.0), (10.0, 14.0), (-3.0, 13.0), (5.5, 0.0)), by=(0.8, 1.0)
):
    vertex_marks.step(
        checks.number,
        "the same function for other spectacles",
        lambda f=worn_d, g=gap_mm: contact_lens_d(f, g),
        vergence.at_vertex(worn_d, gap_mm, 0.0),
        unit="D",
        within=0.02,
        expect="the vergence after the way from the spectacles to the cornea",
    )
vertex_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="points" goals="1"
# ## 6 · Far point and near point (4 points)
#
# Ivo Lindqvist is short-sighted and still accommodates a little. His refraction **at the cornea** is
# known. Write two functions: one returns how far in front of the eye his far point lies, the other how
# far in front his near point lies, both in **cm** and positive, as a ruler shows it.

# %% given="points"
points = Draw("vergence/points")
ocular_d = -points.pick("myopia_d", 2.0, 6.0, step=0.25)
amplitude_d = points.pick("amplitude_d", 1.1, 3.85, step=0.25)
points.tell(
    f"Refraction at the cornea **{ocular_d:+.2f} D**, amplitude of accommodation **{amplitude_d:.2f} D**."
)


# %% answer="points"
def far_point_cm(refraction_d):
    ### BEGIN SOLUTION
    return -100.0 / refraction_d
    ### END SOLUTION


def near_point_cm(refraction_d, amplitude_d):
    ### BEGIN SOLUTION
    return -100.0 / (refraction_d - amplitude_d)
    ### END SOLUTION


# %% check="points" points=2 hide=true
point_marks = checks.Marks(2)
point_marks.step(
    checks.number,
    "far point",
    lambda: far_point_cm(ocular_d),
    -100 * vergence.far_point(ocular_d, vertex_mm=0.0),
    unit="cm",
    within=0.1,
    expect="a distance in cm in front of the eye, positive",
    slips={
        "the sign: the problem asks for a distance as a ruler shows it, positive.": 100 / ocular_d,
        "that is in metres; give centimetres.": -1 / ocular_d,
    },
)
point_marks.step(
    checks.number,
    "near point",
    lambda: near_point_cm(ocular_d, amplitude_d),
    -100 * vergence.near_point(ocular_d, amplitude_d, vertex_mm=0.0),
    unit="cm",
    within=0.1,
    expect="a distance in cm in front of the eye, nearer than the far point",
    slips={
        "accommodation adds power, so a myope's near point comes nearer, not farther.": -100
        / (ocular_d + amplitude_d),
        "that counts accommodation alone, as if the eye were emmetropic.": 100 / amplitude_d,
        "that is the far point.": -100 / ocular_d,
    },
)
point_marks.score()

# %% hidden="points" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Far point: $100 / {-ocular_d:.2f} = {-100 / ocular_d:.1f}$ cm. Near point: the eye adds "
    f"{amplitude_d:.2f} D, $100 / {amplitude_d - ocular_d:.2f} = {100 / (amplitude_d - ocular_d):.1f}$ cm."
)
other_marks = checks.Marks(2)
for eye_d, reach_d in HiddenDraw("vergence/points").cases(
    ((-1.0, 2.0), (-8.0, 0.5), (-2.5, 6.0)), by=(0.3, 0.3)
):
    other_marks.step(
        checks.number,
        "far point of another eye",
        lambda e=eye_d: far_point_cm(e),
        -100 * vergence.far_point(eye_d, vertex_mm=0.0),
        unit="cm",
        within=0.1,
        expect="a distance in cm in front of the eye, positive",
    )
    other_marks.step(
        checks.number,
        "near point of another eye",
        lambda e=eye_d, r=reach_d: near_point_cm(e, r),
        -100 * vergence.near_point(eye_d, reach_d, vertex_mm=0.0),
        unit="cm",
        within=0.1,
        expect="a distance in cm in front of the eye, nearer than the far point",
    )
other_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="thick" goals="4"
# ## 7 · A thick lens (4 points)
#
# The lens of Solveig Tamm's reading glasses is thick. Write two functions that take the powers of its front
# and back surface in **D**, its centre thickness in **mm** and its index: one returns the equivalent
# power, the other the back vertex power, both in **D**.

# %% given="thick"
thick = Draw("vergence/thick")
front_d = thick.pick("front_d", 8.0, 14.0, step=0.25)
back_d = -thick.pick("back_d", 1.0, 5.0, step=0.25)
centre_mm = thick.pick("centre_mm", 4.0, 9.0, step=0.5)
thick.tell(
    f"Front surface **{front_d:+.2f} D**, back surface **{back_d:+.2f} D**, centre thickness "
    f"**{centre_mm:.1f} mm**, index **1.50**."
)


# %% answer="thick"
def equivalent_power_d(front_d, back_d, thickness_mm, index):
    ### BEGIN SOLUTION
    reduced_m = thickness_mm / 1000.0 / index
    return front_d + back_d - reduced_m * front_d * back_d
    ### END SOLUTION


def back_vertex_power_d(front_d, back_d, thickness_mm, index):
    ### BEGIN SOLUTION
    reduced_m = thickness_mm / 1000.0 / index
    return front_d / (1.0 - reduced_m * front_d) + back_d
    ### END SOLUTION


# %% check="thick" points=2 hide=true
lens = vergence.thick_lens(front_d, back_d, centre_mm, 1.5)
thick_marks = checks.Marks(2)
thick_marks.step(
    checks.number,
    "equivalent power",
    lambda: equivalent_power_d(front_d, back_d, centre_mm, 1.5),
    lens.equivalent_power_d,
    unit="D",
    within=0.01,
    expect="F1 + F2 − (t/n) F1 F2, in dioptres",
    slips={
        "the thickness was left out.": front_d + back_d,
        "the sign before (t/n) F1 F2 is minus.": front_d
        + back_d
        + centre_mm / 1500 * front_d * back_d,
        "the thickness was not divided by the index.": front_d
        + back_d
        - centre_mm / 1000 * front_d * back_d,
    },
)
thick_marks.step(
    checks.number,
    "back vertex power",
    lambda: back_vertex_power_d(front_d, back_d, centre_mm, 1.5),
    lens.back_vertex_power_d,
    unit="D",
    within=0.01,
    expect="the vergence that leaves the back surface when light comes from far away",
    slips={
        "that is the equivalent power.": lens.equivalent_power_d,
        "that is the front vertex power: light came in through the wrong side.": lens.front_vertex_power_d,
        "the thickness was not divided by the index.": front_d / (1 - centre_mm / 1000 * front_d)
        + back_d,
    },
)
thick_marks.score()

# %% hidden="thick" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Reduced thickness $t/n = {centre_mm:.1f}\\ \\mathrm{{mm}} / 1.50 = {centre_mm / 1.5:.2f}$ mm. "
    f"Equivalent power $F_1 + F_2 - (t/n) F_1 F_2 = {lens.equivalent_power_d:.2f}$ D. "
    f"Back vertex power $F_1 / (1 - (t/n) F_1) + F_2 = {lens.back_vertex_power_d:.2f}$ D."
)
slab_marks = checks.Marks(2)
for first_d, second_d, slab_mm, glass in HiddenDraw("vergence/thick").cases(
    (
        (10.0, 10.0, 10.0, 1.5),
        (8.0, -3.0, 5.0, 1.5),
        (48.83, -5.88, 0.5, 1.376),
    ),
    by=(1.0, 0.8, 0.3, 0.02),
):
    slab = vergence.thick_lens(first_d, second_d, slab_mm, glass)
    slab_marks.step(
        checks.number,
        "equivalent power of another lens",
        lambda a=first_d, b=second_d, t=slab_mm, n=glass: equivalent_power_d(a, b, t, n),
        slab.equivalent_power_d,
        unit="D",
        within=0.01,
        expect="F1 + F2 − (t/n) F1 F2",
    )
    slab_marks.step(
        checks.number,
        "back vertex power of another lens",
        lambda a=first_d, b=second_d, t=slab_mm, n=glass: back_vertex_power_d(a, b, t, n),
        slab.back_vertex_power_d,
        unit="D",
        within=0.01,
        expect="the vergence that leaves the back surface",
    )
slab_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="pair" goals="4"
# ## 8 · Two lenses, step by step (6 points)
#
# Light from a small object passes two thin lenses in air. Write a function that takes the distance of the
# object from the first lens in **cm** (positive, as a ruler shows it), the two powers in **D** and the
# separation in **cm**. It returns a list of four vergences in **D**: arriving at the first lens, leaving
# it, arriving at the second, leaving that. A second function returns the distance of the final image
# behind the second lens in **cm** (negative if it lies in front of it).

# %% given="pair"
pair = Draw("vergence/pair")
object_cm = pair.pick("object_cm", 40, 95)
first_d = pair.pick("first_d", 4.0, 7.0, step=0.25)
second_d = pair.pick("second_d", 6.0, 12.0, step=0.25)
separation_cm = pair.pick("separation_cm", 2, 9)
pair.tell(
    f"Object **{object_cm} cm** in front of the first lens of **{first_d:+.2f} D**; "
    f"**{separation_cm} cm** farther stands a second lens of **{second_d:+.2f} D**."
)


# %% answer="pair"
def vergences_d(object_cm, first_d, separation_cm, second_d):
    ### BEGIN SOLUTION
    arriving = -100.0 / object_cm
    leaving = arriving + first_d
    at_second = leaving / (1.0 - separation_cm / 100.0 * leaving)
    return [arriving, leaving, at_second, at_second + second_d]
    ### END SOLUTION


def final_image_cm(object_cm, first_d, separation_cm, second_d):
    ### BEGIN SOLUTION
    return 100.0 / vergences_d(object_cm, first_d, separation_cm, second_d)[3]
    ### END SOLUTION


# %% check="pair" points=3 hide=true
def pair_answer(which, *case):
    answer = vergences_d(*case)
    if not isinstance(answer, (list, tuple)) or len(answer) != 4:
        raise checks.NotRight(
            f"vergences_d gives {answer!r:.60}. Expected: a list of four vergences in D."
        )
    return answer[which]


right = vergence.two_lenses(first_d, second_d, separation_cm / 100, -100 / object_cm)
mine = (object_cm, first_d, separation_cm, second_d)
pair_marks = checks.Marks(3)
pair_marks.step(
    checks.number,
    "arriving at the first lens",
    lambda: pair_answer(0, *mine),
    right.at_first_d,
    unit="D",
    within=0.01,
    expect="a vergence in dioptres, negative for a real object",
)
pair_marks.step(
    checks.number,
    "leaving the first lens",
    lambda: pair_answer(1, *mine),
    right.after_first_d,
    unit="D",
    within=0.01,
    expect="the arriving vergence plus the lens",
    slips={"the object was taken to be far away.": first_d},
)
pair_marks.step(
    checks.number,
    "arriving at the second lens",
    lambda: pair_answer(2, *mine),
    right.at_second_d,
    unit="D",
    within=0.02,
    expect="the vergence after the way between the lenses",
    slips={
        "the way between the lenses was left out: vergence changes as light travels.": right.after_first_d,
        "the light went backwards: the denominator is 1 − d V.": right.after_first_d
        / (1 + separation_cm / 100 * right.after_first_d),
        "centimetres were not turned into metres.": right.after_first_d
        / (1 - separation_cm * right.after_first_d),
    },
)
pair_marks.step(
    checks.number,
    "leaving the second lens",
    lambda: pair_answer(3, *mine),
    right.after_second_d,
    unit="D",
    within=0.02,
    expect="the arriving vergence plus the second lens",
    slips={"the powers were added as if the lenses touched.": right.after_first_d + second_d},
)
pair_marks.step(
    checks.number,
    "final image",
    lambda: final_image_cm(*mine),
    100 * right.image_distance_m,
    unit="cm",
    within=0.1,
    expect="a distance in cm from the second lens",
    slips={
        "that is measured from the first lens.": 100 * right.image_distance_m + separation_cm,
        "that is in metres; give centimetres.": right.image_distance_m,
    },
)
pair_marks.score()

# %% hidden="pair" points=3 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Arriving {right.at_first_d:.2f} D; the first lens adds {first_d:+.2f} D: "
    f"{right.after_first_d:.2f} D; after {separation_cm} cm "
    f"$V / (1 - {separation_cm / 100:.2f} V) = {right.at_second_d:.2f}$ D; the second lens adds "
    f"{second_d:+.2f} D: {right.after_second_d:.2f} D. The image: "
    f"$100 / V = {100 * right.image_distance_m:.1f}$ cm from the second lens."
)
bench_marks = checks.Marks(3)
for bench in HiddenDraw("vergence/pair").cases(
    ((50.0, 5.0, 10.0, 8.0), (30.0, 2.0, 5.0, 3.0), (25.0, 14.0, 3.0, -6.0)),
    by=(4.0, 0.5, 1.0, 0.5),
):
    thing_cm, one_d, gap_cm, two_d = bench
    truth = vergence.two_lenses(one_d, two_d, gap_cm / 100, -100 / thing_cm)
    for place, vergence_d in enumerate(
        (truth.at_first_d, truth.after_first_d, truth.at_second_d, truth.after_second_d)
    ):

        def given_back(case=bench, place=place):
            answer = vergences_d(*case)
            return answer[place] if isinstance(answer, (list, tuple)) else answer

        bench_marks.step(
            checks.number,
            f"vergence {place + 1} of another pair",
            given_back,
            vergence_d,
            unit="D",
            within=0.02,
            expect="one of four vergences in D, in the order of the light",
        )
    bench_marks.step(
        checks.number,
        "final image of another pair",
        lambda case=bench: final_image_cm(*case),
        100 * truth.image_distance_m,
        unit="cm",
        within=0.1,
        expect="a distance in cm from the second lens, negative in front of it",
    )
bench_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="why" goals="3"
# ## 9 · In your own words (4 points)
#
# A colleague says: “A −10 D spectacle lens and a −10 D contact lens do the same to the eye, the number is
# the same.” In three to six sentences, tell them what is wrong, in which direction the contact lens power
# must differ, and why the same step can be forgotten for −1 D.

# %% [markdown] written="why" points=4
# ### BEGIN MARK SCHEME
# One point each:
# 1. Vergence changes as light travels from the spectacles to the cornea (12 to 14 mm).
# 2. Diverging light diverges less when it arrives: the contact lens must be weaker, about −8.9 D.
# 3. A reason in words or by V / (1 − d V), with a number.
# 4. The change grows with the square of the power: at −1 D it is about 0.01 D, below any step of a lens.
# ### END MARK SCHEME
# The vergence that counts is the one at the cornea. Light that leaves the −10 D spectacle lens travels
# about 12 mm before it gets there and diverges less on arrival: −10 / 1.12 = −8.93 D. The contact lens
# sits at the cornea, so it must be weaker. The change is about d F², 0.012 × 100 = 1.2 D here, but
# 0.012 D at −1 D, far below the quarter dioptre that a lens can be ordered in.
