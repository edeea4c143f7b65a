# %% [markdown] question="start"
# # Problems {{number examination}} · {{title examination}}
#
# Nine problems and one written answer, 30 points, about 40 minutes. The lesson is
# [{{number examination}} {{title examination}}](../../lessons/{{stem examination}}.ipynb).
#
# Run the cells from the top. Each problem gives you numbers of your own. Write your answer where it
# says `YOUR CODE HERE`, run the check below it, and read its one sentence. When you are done, save and press
# **Check my answers** below, or run `lens-course check {{number examination}}` in a terminal.
#
# Contrast counts in shares from 0 to 1, or in log units lost, positive. Aberration is the root mean square in
# µm over the zone named.
#
# *All patients are invented. For learning, not for patient care: follow the lens's labelling, local
# rules and the judgement of a licensed practitioner.*

# %% given="setup"
import math

from IPython.display import display
from scipy.stats import norm

from shared_utils.choice.candidacy import assess
from shared_utils.choice.findings import otherwise_healthy
from shared_utils.problems import check_button, checks
from shared_utils.problems.hidden_numbers import HiddenDraw
from shared_utils.problems.numbers import Draw, learner_id
from shared_utils.optics import centration
from shared_utils.show import examination as figures

print(f"Numbers for learner: {learner_id()}")
check_button.show("examination")

# %% [markdown] question="budget" goals="1"
# ## 1 · A contrast budget (3 points)
#
# Write a function that takes three shares: the light that tears and cornea **scatter** (0 to below 1), the
# contrast that the lens **passes** and the contrast that retina and nerve **pass** (above 0, at most 1). It
# returns the contrast lost in all, in **log units**, positive.

# %% given="budget"
budget = Draw("examination/budget")
scattered = budget.pick("scattered", 0.05, 0.20, step=0.01)
lens_passes = budget.pick("lens", 0.38, 0.50, step=0.01)
retina_passes = budget.pick("retina", 0.50, 0.80, step=0.01)
budget.tell(
    f"In Tadeo Brandt's eye tears and cornea scatter **{scattered:.2f}** of the light, the lens passes "
    f"**{lens_passes:.2f}** and the retina **{retina_passes:.2f}** of the contrast."
)


# %% answer="budget"
def contrast_lost_log(scattered_share, lens_share, retina_share):
    ### BEGIN SOLUTION
    left = (1.0 - scattered_share) * lens_share * retina_share
    return -math.log10(left)
    ### END SOLUTION


# %% check="budget" points=1 hide=true
budget_left = (1 - scattered) * lens_passes * retina_passes
checks.number(
    "contrast lost",
    contrast_lost_log(scattered, lens_passes, retina_passes),
    -math.log10(budget_left),
    unit="log",
    within=0.01,
    expect="a loss in log units, positive, with all three stages in it",
    slips={
        "scattered is what is lost: 1 minus it is what passes.": -math.log10(
            scattered * lens_passes * retina_passes
        ),
        "that is the share left, not its logarithm.": budget_left,
        "logarithms add where shares multiply; you multiplied the logarithms.": -math.log10(
            1 - scattered
        )
        * math.log10(lens_passes)
        * math.log10(retina_passes),
    },
)

# %% hidden="budget" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"What is left: $(1 - {scattered:.2f}) \\times {lens_passes:.2f} \\times {retina_passes:.2f} = "
    f"{budget_left:.3f}$. Lost: $-\\log_{{10}} {budget_left:.3f} = {-math.log10(budget_left):.2f}$ log "
    f"units, {-math.log10(budget_left) / 0.15:.1f} steps of a contrast chart."
)
budget_marks = checks.Marks(2)
# shares of 1 stay: nothing is lost there
for veil, through_lens, through_nerve in HiddenDraw("examination/budget").cases(
    ((0.0, 1.0, 0.5), (0.2, 0.4, 1.0), (0.1, 0.6, 0.25)),
    by=[(0, 0, 0.1), (0.06, 0.08, 0), (0.04, 0.1, 0.05)],
):
    budget_marks.step(
        checks.number,
        "the same function for another eye",
        lambda s=veil, a=through_lens, b=through_nerve: contrast_lost_log(s, a, b),
        -math.log10((1 - veil) * through_lens * through_nerve),
        unit="log",
        within=0.01,
        expect="minus the logarithm of the product of the three shares",
    )
budget_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="blur" goals="2"
# ## 2 · How strongly does an aberration blur? (2 points)
#
# Write a function that takes the root mean square of an aberration in **µm** and the diameter of the zone in
# **mm**, and returns the defocus that would blur as much, in **D**, without a sign.

# %% given="blur"
blur = Draw("examination/blur")
blur_um = blur.pick("rms_um", 0.20, 0.80, step=0.01)
blur_zone_mm = blur.pick("zone_mm", 4.0, 6.5, step=0.5)
blur.tell(
    f"The map of Ruta Amsel's cornea says **{blur_um:.2f} µm** of higher-order aberration over "
    f"**{blur_zone_mm:.1f} mm**."
)


# %% answer="blur" own="shared_utils.optics.centration.equivalent_defocus_d"
def like_a_defocus_d(rms_um, zone_mm):
    ### BEGIN SOLUTION
    radius_mm = zone_mm / 2.0
    return 4.0 * math.sqrt(3.0) * rms_um / radius_mm**2
    ### END SOLUTION


# %% check="blur" points=1 hide=true
checks.number(
    "equivalent defocus",
    like_a_defocus_d(blur_um, blur_zone_mm),
    centration.equivalent_defocus_d(blur_um, blur_zone_mm),
    unit="D",
    within=0.01,
    expect="4√3 times the root mean square in µm, over the square of the radius in mm",
    slips={
        "the diameter was taken for the radius.": 4 * math.sqrt(3) * blur_um / blur_zone_mm**2,
        "the radius was not squared.": 4 * math.sqrt(3) * blur_um / (blur_zone_mm / 2),
        "the root was left out: 4√3 is 6.93, not 12.": 12 * blur_um / (blur_zone_mm / 2) ** 2,
    },
)

# %% hidden="blur" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Radius ${blur_zone_mm:.1f} / 2 = {blur_zone_mm / 2:.2f}$ mm. "
    f"$4\\sqrt{{3}} \\times {blur_um:.2f} / {blur_zone_mm / 2:.2f}^2 = "
    f"{centration.equivalent_defocus_d(blur_um, blur_zone_mm):.2f}$ D."
)
for other_um, other_zone_mm in HiddenDraw("examination/blur").cases(
    ((0.5, 6.0), (0.3, 4.0), (0.1, 3.0)), by=[(0.1, 0.4), (0.08, 0.3), (0.03, 0.2)]
):
    checks.number(
        "the same function for another cornea",
        like_a_defocus_d(other_um, other_zone_mm),
        centration.equivalent_defocus_d(other_um, other_zone_mm),
        unit="D",
        within=0.01,
        expect="4√3 times the root mean square, over the square of the radius",
    )
### END HIDDEN TESTS

# %% [markdown] question="coma" goals="2"
# ## 3 · A lens beside the centre (3 points)
#
# Write two functions. The first takes the lens's spherical aberration over 6 mm in **µm**, with its sign,
# and the decentration in **mm**, and returns the coma that it makes over 6 mm in **µm**, positive. The second takes
# the add of a ringed lens at the cornea in **D** and the decentration in **mm**, and returns how far its halo
# stands beside the lamp, in **arcmin**.

# %% given="coma"
coma = Draw("examination/coma")
body_um = -coma.pick("body_um", 0.15, 0.30, step=0.01)
coma_off_mm = coma.pick("off_mm", 0.25, 0.80, step=0.05)
coma_add_d = coma.pick("add_d", 2.0, 3.0, step=0.25)
coma.tell(
    f"A lens body of **{body_um:.2f} µm** and an add of **{coma_add_d:.2f} D** at the cornea sits "
    f"**{coma_off_mm:.2f} mm** beside the centre of Leopold Achterberg's pupil."
)


# %% answer="coma" own="shared_utils.optics.centration.coma_um shared_utils.optics.centration.left_over_um shared_utils.optics.centration.halo_shift_arcmin"
def coma_made_um(lens_sa_um, decentration_mm):
    ### BEGIN SOLUTION
    return 2.0 * math.sqrt(10.0) / 3.0 * abs(lens_sa_um) * decentration_mm
    ### END SOLUTION


def halo_beside_arcmin(add_d, decentration_mm):
    ### BEGIN SOLUTION
    milliradians = add_d * decentration_mm
    return math.degrees(milliradians / 1000.0) * 60.0
    ### END SOLUTION


# %% check="coma" points=1 hide=true
coma_want_um = centration.coma_um(body_um, coma_off_mm)
shift_want_arcmin = centration.halo_shift_arcmin(coma_add_d, coma_off_mm)
coma_marks = checks.Marks(1)
coma_marks.step(
    checks.number,
    "coma over 6 mm",
    lambda: coma_made_um(body_um, coma_off_mm),
    coma_want_um,
    unit="µm",
    within=0.01,
    expect="a positive number of µm: 2√10/3 times aberration times decentration",
    slips={
        "the third was left out: 2√10/3 is 2.1.": 3 * coma_want_um,
        "coma has no sign here; take the size of the aberration.": -coma_want_um,
        "the factor 2√10/3 was left out.": abs(body_um) * coma_off_mm,
    },
)
coma_marks.step(
    checks.number,
    "halo beside the lamp",
    lambda: halo_beside_arcmin(coma_add_d, coma_off_mm),
    shift_want_arcmin,
    unit="arcmin",
    within=0.1,
    expect="an angle in arcmin: millimetres times dioptres are milliradians",
    slips={
        "that is in milliradians; one is 3.44 arcmin.": coma_add_d * coma_off_mm,
        "that is in degrees; one has 60 arcmin.": shift_want_arcmin / 60,
        "that is the size of the halo of a 6-mm pupil, not its shift.": shift_want_arcmin
        * 6
        / coma_off_mm,
    },
)
coma_marks.score()

# %% hidden="coma" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Coma: $2\\sqrt{{10}}/3 \\times {abs(body_um):.2f} \\times {coma_off_mm:.2f} = {coma_want_um:.2f}$ µm. "
    f"Halo: ${coma_add_d:.2f}\\,\\text{{D}} \\times {coma_off_mm:.2f}\\,\\text{{mm}} = "
    f"{coma_add_d * coma_off_mm:.2f}$ mrad, times 3.44: ${shift_want_arcmin:.1f}$ arcmin."
)
aside_marks = checks.Marks(2)
for other_body_um, other_add_d, other_off_mm in HiddenDraw("examination/coma").cases(
    (
        (-0.20, 2.5, 0.5),
        (0.1, 1.35, 0.3),
        (0.0, 3.0, 0.0),
    ),
    by=(0.04, 0.2, 0.1),
):
    aside_marks.step(
        checks.number,
        "coma of another lens",
        lambda a=other_body_um, d=other_off_mm: coma_made_um(a, d),
        centration.coma_um(other_body_um, other_off_mm),
        unit="µm",
        within=0.01,
        expect="2√10/3 times the size of the aberration times the decentration",
    )
    aside_marks.step(
        checks.number,
        "halo of another lens",
        lambda a=other_add_d, d=other_off_mm: halo_beside_arcmin(a, d),
        centration.halo_shift_arcmin(other_add_d, other_off_mm),
        unit="arcmin",
        within=0.1,
        expect="milliradians turned into arcmin",
    )
aside_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="crossing" goals="2"
# ## 4 · Read a figure: which body for which eye? (3 points)
#
# The figure shows, over a 6-mm pupil, the aberration that a negative and a neutral lens body leave behind one
# cornea, against their decentration. Read off the decentration in **mm** at which the two leave the same, and the
# aberration in **µm** that the negative body leaves when it is centred, each to within 0.03. Then say which
# body, `"negative"` or `"neutral"`, leaves less in this patient.

# %% given="crossing"
crossing = Draw("examination/crossing")
read_cornea_um = crossing.pick("cornea_um", 0.24, 0.32, step=0.01)
read_lens_um = -round(read_cornea_um * crossing.pick("share", 0.80, 1.16, step=0.04), 2)
read_off_mm = crossing.choose("off_mm", [0.12, 0.14, 0.16, 0.18, 0.68, 0.72, 0.76, 0.80])
display(figures.two_bodies(read_cornea_um, read_lens_um))
crossing.tell(f"Zenobia Harrow's lens sits **{read_off_mm:.2f} mm** beside her pupil's centre.")

# %% answer="crossing"
### BEGIN SOLUTION
coma_per_mm = 2.0 * math.sqrt(10.0) / 3.0 * abs(read_lens_um)
equal_at_mm = math.sqrt(read_cornea_um**2 - (read_cornea_um + read_lens_um) ** 2) / coma_per_mm
centred_um = abs(read_cornea_um + read_lens_um)
better_body = "negative" if read_off_mm < equal_at_mm else "neutral"
### END SOLUTION

# %% check="crossing" points=2 hide=true
coma_rise = centration.coma_um(read_lens_um, 1.0)
cross_want_mm = math.sqrt(read_cornea_um**2 - (read_cornea_um + read_lens_um) ** 2) / coma_rise
body_want = "negative" if read_off_mm < cross_want_mm else "neutral"
crossing_marks = checks.Marks(2)
crossing_marks.step(
    checks.number,
    "decentration at which both leave the same",
    lambda: equal_at_mm,
    cross_want_mm,
    unit="mm",
    within=0.03,
    expect="the place on the lower axis at which the two curves cross",
    slips={
        "that is the height of the crossing, on the other axis.": read_cornea_um,
        "that is where the patient's lens sits.": read_off_mm,
        "that is in centimetres.": cross_want_mm / 10,
    },
)
crossing_marks.step(
    checks.choice,
    "body that leaves less in this patient",
    lambda: better_body,
    body_want,
    options=("negative", "neutral"),
    slips={
        {"negative": "neutral", "neutral": "negative"}[
            body_want
        ]: "go up from the patient's decentration: the lower curve leaves less."
    },
)
crossing_marks.score()

# %% hidden="crossing" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Equal where $(2\\sqrt{{10}}/3 \\times {abs(read_lens_um):.2f}\\, d)^2 + "
    f"({read_cornea_um:.2f} - {abs(read_lens_um):.2f})^2 = {read_cornea_um:.2f}^2$, so "
    f"$d = {cross_want_mm:.2f}$ mm. The lens sits at {read_off_mm:.2f} mm, so the {body_want} body leaves "
    f"less. Centred, the negative one leaves "
    f"$|{read_cornea_um:.2f} - {abs(read_lens_um):.2f}| = {abs(read_cornea_um + read_lens_um):.2f}$ µm."
)
checks.number(
    "aberration left by the negative body, centred",
    centred_um,
    abs(read_cornea_um + read_lens_um),
    unit="µm",
    within=0.03,
    expect="the height at which the rising curve begins",
)
### END HIDDEN TESTS

# %% [markdown] question="gate" goals="3"
# ## 5 · Write a rule: the experts' gate (3 points)
#
# Ten experts want, before a diffractive multifocal lens: a pupil of **more than 2.8 mm** by day and **less than
# 6.0 mm** in the dark, **less than 0.50 µm** of corneal aberration over 6 mm, and a potential acuity **better
# than 0.30 logMAR**. Write two functions that take photopic pupil in **mm**, scotopic pupil in **mm**, aberration
# in **µm** and potential acuity in **logMAR**:
#
# - `gates_missed` returns how many of the four are missed;
# - `split_light` returns `"not advised"` if the potential acuity misses its gate, else `"with care"` if any
#   other is missed, else `"suits"`.

# %% given="gate"
gate = Draw("examination/gate")
missed = gate.choose("missed", [(0,), (1,), (2,), (3,), (0, 1, 2), (0, 1, 3), (0, 2, 3), (1, 2, 3)])
at_limit = gate.choose("limit", missed)
passing = (
    gate.pick("day", 2.9, 3.8, step=0.1),
    gate.pick("dark", 4.6, 5.9, step=0.1),
    gate.pick("um", 0.30, 0.49, step=0.01),
    gate.pick("logmar", 0.00, 0.28, step=0.02),
)
failing = (
    gate.pick("small day", 2.0, 2.7, step=0.1),
    gate.pick("wide dark", 6.1, 7.0, step=0.1),
    gate.pick("high um", 0.51, 0.80, step=0.01),
    gate.pick("poor logmar", 0.32, 0.60, step=0.02),
)
limits = (2.8, 6.0, 0.50, 0.30)
gate_eye = tuple(
    limits[n] if n == at_limit else failing[n] if n in missed else passing[n] for n in range(4)
)
gate.tell(
    f"Casimir Dobos: pupil **{gate_eye[0]:.1f} mm** by day and **{gate_eye[1]:.1f} mm** in the dark, "
    f"aberration **{gate_eye[2]:.2f} µm**, potential acuity **{gate_eye[3]:.2f} logMAR**."
)


# %% answer="gate"
def gates_missed(photopic_mm, scotopic_mm, rms_um, potential_logmar):
    ### BEGIN SOLUTION
    passed = (photopic_mm > 2.8, scotopic_mm < 6.0, rms_um < 0.50, potential_logmar < 0.30)
    return 4 - sum(passed)
    ### END SOLUTION


def split_light(photopic_mm, scotopic_mm, rms_um, potential_logmar):
    ### BEGIN SOLUTION
    if potential_logmar >= 0.30:
        return "not advised"
    return "with care" if gates_missed(photopic_mm, scotopic_mm, rms_um, 0.0) else "suits"
    ### END SOLUTION


# %% check="gate" points=1 hide=true
verdict_want = "not advised" if 3 in missed else "with care"
gate_marks = checks.Marks(1)
gate_marks.step(
    checks.number,
    "gates missed",
    lambda: gates_missed(*gate_eye),
    len(missed),
    unit="",
    within=0.1,
    expect="a whole number from 0 to 4; a value at the limit misses the gate",
    slips={
        "a value exactly at the limit is neither more nor less: it misses.": len(missed) - 1,
        "you counted those that pass.": 4 - len(missed),
    },
)
gate_marks.step(
    checks.choice,
    "verdict on lenses that split light",
    lambda: split_light(*gate_eye),
    verdict_want,
    options=("suits", "with care", "not advised"),
    slips={
        word: advice
        for word, advice in {
            "suits": "one gate is missed at least, so look at each.",
            "with care": "the potential acuity misses its gate, and that weighs more.",
            "not advised": "only the potential acuity leads to that verdict, and it passes.",
        }.items()
        if word != verdict_want
    },
)
gate_marks.score()

# %% hidden="gate" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"{len(missed)} of the four miss: "
    + ", ".join(
        ("photopic pupil", "scotopic pupil", "aberration", "potential acuity")[n] for n in missed
    )
    + f". A value at the limit misses. So: **{verdict_want}**."
)
rule_marks = checks.Marks(2)
# 2.8 mm, 6.0 mm, 0.50 µm and 0.30 logMAR stay: gates that are just missed
for other_eye, count, word in HiddenDraw("examination/gate").cases(
    (
        ((3.2, 5.0, 0.35, 0.0), 0, "suits"),
        ((2.8, 5.0, 0.35, 0.0), 1, "with care"),
        ((3.2, 6.0, 0.50, 0.1), 2, "with care"),
        ((3.2, 5.0, 0.35, 0.30), 1, "not advised"),
        ((2.0, 7.0, 0.90, 0.5), 4, "not advised"),
    ),
    by=[
        ((0.3, 0.5, 0.1, 0), 0, 0),
        ((0, 0.5, 0.1, 0), 0, 0),
        ((0.3, 0, 0, 0.05), 0, 0),
        ((0.3, 0.5, 0.1, 0), 0, 0),
        ((0.3, 0.5, 0.2, 0.1), 0, 0),
    ],
):
    rule_marks.step(
        checks.number,
        "gates missed by another eye",
        lambda e=other_eye: gates_missed(*e),
        count,
        unit="",
        within=0.1,
        expect="a whole number from 0 to 4",
    )
    rule_marks.step(
        checks.choice,
        "verdict on another eye",
        lambda e=other_eye: split_light(*e),
        word,
        options=("suits", "with care", "not advised"),
    )
rule_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="clinic" goals="4"
# ## 6 · Judge a clinic's maps (3 points)
#
# A clinic mapped thirteen **normal** corneas and asks how the gate of 0.50 µm treats them. Repeated maps of one eye
# differ by 0.04 µm. Write two functions: one takes a list of readings and the gate, both in **µm**, and returns
# how many **per cent** do not pass (not below the gate); the other also takes the spread in **µm** and
# returns how many per cent lie **within one spread of the gate, on either side**.

# %% given="clinic"
clinic = Draw("examination/clinic")
FAR = [0.31, 0.33, 0.35, 0.37, 0.39, 0.41, 0.43, 0.57, 0.59, 0.61, 0.63, 0.65, 0.67, 0.69]
NEAR = [0.47, 0.49, 0.51, 0.53]
maps_um = [clinic.choose("just below", NEAR[:2]), clinic.choose("just above", NEAR[2:])]
maps_um += [clinic.choose(f"low {n}", FAR[:7]) for n in range(2)]
maps_um += [clinic.choose(f"high {n}", FAR[7:]) for n in range(2)]
maps_um += [clinic.choose(f"far {n}", FAR) for n in range(3)]
maps_um += [clinic.choose(f"any {n}", FAR + NEAR) for n in range(4)]
clinic.tell(f"Aberration over 6 mm, µm: **{', '.join(f'{um:.2f}' for um in maps_um)}**.")


# %% answer="clinic"
def turned_away_percent(readings_um, gate_um):
    ### BEGIN SOLUTION
    return 100.0 * sum(um >= gate_um for um in readings_um) / len(readings_um)
    ### END SOLUTION


def uncertain_percent(readings_um, gate_um, spread_um):
    ### BEGIN SOLUTION
    return 100.0 * sum(abs(um - gate_um) <= spread_um for um in readings_um) / len(readings_um)
    ### END SOLUTION


# %% check="clinic" points=1 hide=true
away = sum(um >= 0.50 for um in maps_um)
unsure = sum(abs(um - 0.50) < 0.04 for um in maps_um)
clinic_marks = checks.Marks(1)
clinic_marks.step(
    checks.number,
    "turned away",
    lambda: turned_away_percent(maps_um, 0.50),
    100 * away / 13,
    unit="%",
    within=0.5,
    expect="a percentage of the thirteen: those not below the gate",
    slips={
        "those are the ones that pass.": 100 * (13 - away) / 13,
        "that is a count; divide by the number of corneas, times 100.": away,
        "that is a fraction; per cent are wanted.": away / 13,
    },
)
clinic_marks.step(
    checks.number,
    "within one spread of the gate",
    lambda: uncertain_percent(maps_um, 0.50, 0.04),
    100 * unsure / 13,
    unit="%",
    within=0.5,
    expect="a percentage: readings that a second map might put on the other side",
    slips={
        "the spread counts on both sides of the gate.": 100
        * sum(0 < um - 0.50 < 0.04 for um in maps_um)
        / 13,
        "those are the ones that are safe.": 100 * (13 - unsure) / 13,
    },
)
clinic_marks.score()

# %% hidden="clinic" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"{away} of 13 are 0.50 µm or more: {100 * away / 13:.0f} %, of normal corneas. {unsure} of 13 lie between "
    f"0.46 and 0.54 µm: {100 * unsure / 13:.0f} % may pass or fail by the next map alone."
)
sample_marks = checks.Marks(2)
edge_um = HiddenDraw("examination/clinic").near(0.5, 0.06)  # a reading at the gate itself
for sample_um, sample_gate_um, sample_spread_um, gone, unsettled in HiddenDraw(
    "examination/clinic"
).cases(
    (
        ([0.2, 0.3, 0.4, 0.6], 0.35, 0.1, 50.0, 50.0),
        ([edge_um, 0.8], edge_um, 0.1, 100.0, 50.0),
        ([0.1, 0.2, 0.3], 0.9, 0.05, 0.0, 0.0),
    ),
    by=[(0.03, 0, 0, 0, 0), ([0, 0.04], 0, 0.02, 0, 0), (0.04, 0.05, 0.01, 0, 0)],
):
    sample_marks.step(
        checks.number,
        "turned away in another clinic",
        lambda s=sample_um, g=sample_gate_um: turned_away_percent(s, g),
        gone,
        unit="%",
        within=0.5,
        expect="a percentage; a reading at the gate does not pass",
    )
    sample_marks.step(
        checks.number,
        "uncertain in another clinic",
        lambda s=sample_um, g=sample_gate_um, d=sample_spread_um: uncertain_percent(s, g, d),
        unsettled,
        unit="%",
        within=0.5,
        expect="a percentage, both sides of the gate counted",
    )
sample_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="chance" goals="4"
# ## 7 · On which side does the eye lie? (3 points)
#
# A reading lies a little above a threshold. Readings of one eye scatter with a known standard deviation, as in a
# normal distribution; no reading is favoured beforehand. Write a function that takes the mean of the readings, the
# threshold and the standard deviation of **one** reading (all in the same unit) and the number of readings. It
# returns the chance in **per cent** that the eye's true value lies **below** the threshold. `norm.cdf` is at hand.

# %% given="chance"
chance = Draw("examination/chance")
mu_sd_mm = chance.pick("sd_mm", 0.05, 0.08, step=0.005)
mu_mm = 0.50 + chance.pick("above_mm", 0.015, 0.05, step=0.005)
chance.tell(
    f"Chord mu of Fenna Okonjo reads **{mu_mm:.3f} mm**; the habit's threshold is 0.50 mm. One reading "
    f"scatters by **{mu_sd_mm:.3f} mm**. Try one reading, then the same as the mean of four."
)


# %% answer="chance"
def chance_below_percent(mean, threshold, sd_of_one, readings):
    ### BEGIN SOLUTION
    spread = sd_of_one / math.sqrt(readings)
    return 100.0 * float(norm.cdf((threshold - mean) / spread))
    ### END SOLUTION


# %% check="chance" points=1 hide=true
mu_z = (0.50 - mu_mm) / mu_sd_mm
chance_marks = checks.Marks(1)
chance_marks.step(
    checks.number,
    "chance with one reading",
    lambda: chance_below_percent(mu_mm, 0.50, mu_sd_mm, 1),
    100 * norm.cdf(mu_z),
    unit="%",
    within=0.5,
    expect="less than 50 %, for the reading lies above",
    slips={
        "that is the chance of lying above.": 100 * norm.cdf(-mu_z),
        "that is a fraction; per cent are wanted.": norm.cdf(mu_z),
    },
)
chance_marks.step(
    checks.number,
    "chance with the mean of four",
    lambda: chance_below_percent(mu_mm, 0.50, mu_sd_mm, 4),
    100 * norm.cdf(2 * mu_z),
    unit="%",
    within=0.5,
    expect="less than with one reading, for a mean scatters less",
    slips={
        "the mean of several scatters less than one reading.": 100 * norm.cdf(mu_z),
        "the spread shrinks with the root of the number.": 100 * norm.cdf(4 * mu_z),
        "more readings do not widen the spread.": 100 * norm.cdf(mu_z / 2),
    },
)
chance_marks.score()

# %% hidden="chance" points=2 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"One reading: $z = (0.500 - {mu_mm:.3f}) / {mu_sd_mm:.3f} = {mu_z:.2f}$, "
    f"so ${100 * norm.cdf(mu_z):.0f}$ %. Mean of four: the spread is halved, $z = {2 * mu_z:.2f}$, "
    f"so ${100 * norm.cdf(2 * mu_z):.0f}$ %. One reading near a threshold decides little."
)
side_marks = checks.Marks(2)
even = HiddenDraw("examination/chance").near(0.5, 0.1)  # at the limit: half of them
for read, limit, scatter, times in HiddenDraw("examination/chance").cases(
    (
        (even, even, 0.05, 3),
        (0.45, 0.5, 0.05, 1),
        (320.0, 316.0, 8.0, 4),
    ),
    by=[(0, 0, 0.01, 1), (0.02, 0.02, 0.01, 0), (1.0, 1.0, 1.0, 1)],
):
    side_marks.step(
        checks.number,
        "the same function for another measurement",
        lambda a=read, b=limit, c=scatter, n=times: chance_below_percent(a, b, c, n),
        100 * norm.cdf((limit - read) / (scatter / math.sqrt(times))),
        unit="%",
        within=0.5,
        expect="the normal distribution below the threshold, the spread of the mean for a unit",
    )
side_marks.score()
### END HIDDEN TESTS

# %% [markdown] question="class" goals="1 3"
# ## 8 · Choose and justify (3 points)
#
# One finding is told; all else in this eye is healthy, and the patient accepts glasses for some things. Of three
# classes, `"monofocal"`, `"extended depth of focus"` and `"trifocal"`, choose the one with the **most range that
# still suits** by the rules of the course. Then give the contrast that is lost in all with **your** class, in
# **log units**. Name the answers `my_class` and `my_loss_log`.

# %% given="class"
which = Draw("examination/class")
LENS_SHARES = {"monofocal": 1.00, "extended depth of focus": 0.73, "trifocal": 0.46}
CASES = (
    ("glaucoma, mild, stable for years", {"glaucoma": "mild"}),
    ("glaucoma, moderate, stable for years", {"glaucoma": "moderate"}),
    ("a suspect optic disc with a full field", {"glaucoma": "suspect"}),
    ("medium drusen, no pigment change", {"macular_degeneration": "early"}),
    ("large drusen and pigment change", {"macular_degeneration": "intermediate"}),
    ("a cornea that sees better with a rigid lens", {"irregular_astigmatism": "marked"}),
    ("dry eye, moderate, treated and stable", {"dry_eye": "moderate"}),
    ("dry eye, mild, treated and stable", {"dry_eye": "mild"}),
    ("a lens that trembles on weak zonules", {"zonules": "severe weakness"}),
    ("a pupil of 2.4 mm by day", {"photopic_pupil_mm": 2.4}),
)
told, found = which.choose("case", CASES)
veil_share = which.pick("veil", 0.06, 0.20, step=0.01)
nerve_share = which.pick("nerve", 0.55, 0.75, step=0.01)
which.tell(
    f"Iovanka Sel: **{told}**. We assume that tears and cornea scatter **{veil_share:.2f}** of the light and "
    f"that retina and nerve pass **{nerve_share:.2f}** of the contrast. The lenses pass "
    "1.00 (monofocal), 0.73 (extended depth of focus), 0.46 (trifocal)."
)

# %% answer="class"
### BEGIN SOLUTION
verdicts = {advice.lens_class: advice.verdict for advice in assess(otherwise_healthy(found))}
my_class = [name for name in LENS_SHARES if verdicts[name] == "suits"][-1]
my_loss_log = -math.log10((1.0 - veil_share) * LENS_SHARES[my_class] * nerve_share)
### END SOLUTION

# %% check="class" points=2 hide=true
suited = {a.lens_class for a in assess(otherwise_healthy(found)) if a.verdict == "suits"}
class_want = [name for name in LENS_SHARES if name in suited][-1]


def own_share():
    """Of the class that was chosen: a wrong class costs its own step only."""
    try:
        return LENS_SHARES[my_class.strip().lower()]
    except (NameError, AttributeError, KeyError):
        return LENS_SHARES[class_want]


class_marks = checks.Marks(2)
class_marks.step(
    checks.choice,
    "class of lens",
    lambda: my_class,
    class_want,
    options=tuple(LENS_SHARES),
    slips={
        name: advice
        for name, advice in {
            "monofocal": "it suits, but a class with more range does so too.",
            "extended depth of focus": "look at the rules for this finding and this class again.",
            "trifocal": "it shares light between three foci, and this finding asks for care.",
        }.items()
        if name != class_want
    },
)
class_marks.step(
    checks.number,
    "contrast lost with your class",
    lambda: my_loss_log,
    -math.log10((1 - veil_share) * own_share() * nerve_share),
    unit="log",
    within=0.01,
    expect="a loss in log units, positive, all stages in it",
    slips={
        "tears and cornea were left out.": -math.log10(own_share() * nerve_share),
        "retina and nerve were left out.": -math.log10((1 - veil_share) * own_share()),
        "scattered light is lost: 1 minus it is what passes.": -math.log10(
            veil_share * own_share() * nerve_share
        ),
    },
)
class_marks.score()

# %% hidden="class" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Suited: {', '.join(name for name in LENS_SHARES if name in suited)}; most range: **{class_want}**. Lost: "
    f"$-\\log_{{10}}({1 - veil_share:.2f} \\times {LENS_SHARES[class_want]:.2f} \\times {nerve_share:.2f}) = "
    f"{-math.log10((1 - veil_share) * LENS_SHARES[class_want] * nerve_share):.2f}$ log units."
)
checks.choice("class of lens, asked again", my_class, class_want, options=tuple(LENS_SHARES))
### END HIDDEN TESTS

# %% [markdown] question="error" goals="1"
# ## 9 · Find the error (3 points)
#
# A colleague reckoned a contrast budget in five steps. One step is wrong in itself; the later ones carry it on.
# Give its number as `wrong_step`, and as `corrected` the **share** (0 to 1) that this step should give.

# %% given="error"
error = Draw("examination/error")
e_veil = error.pick("veil", 0.08, 0.22, step=0.01)
e_lens = error.pick("lens", 0.38, 0.60, step=0.01)
e_nerve = error.pick("nerve", 0.75, 0.88, step=0.01)
e_where = error.choose("where", [1, 3, 4])
step_1 = e_veil if e_where == 1 else 1 - e_veil
step_3 = min(step_1, e_lens) if e_where == 3 else step_1 * e_lens
step_4 = step_3 - (1 - e_nerve) if e_where == 4 else step_3 * e_nerve
error.tell(
    f"Tears and cornea scatter {e_veil:.2f} of the light, the lens passes {e_lens:.2f}, retina and nerve pass "
    f"{e_nerve:.2f} of the contrast.\n\n"
    f"1. Tears and cornea pass {step_1:.3f}.\n"
    f"2. The lens passes {e_lens:.3f}.\n"
    f"3. After the lens {step_3:.3f} is left.\n"
    f"4. After retina and nerve {step_4:.3f} is left.\n"
    f"5. Lost in all: {-math.log10(step_4):.2f} log units."
)

# %% answer="error"
### BEGIN SOLUTION
wrong_step = 1 if step_1 < 0.5 else 3 if abs(step_3 - step_1 * e_lens) > 1e-9 else 4
right_steps = {1: 1.0 - e_veil, 3: (1.0 - e_veil) * e_lens, 4: (1.0 - e_veil) * e_lens * e_nerve}
corrected = right_steps[wrong_step]
### END SOLUTION

# %% check="error" points=2 hide=true
e_right = {1: 1 - e_veil, 3: (1 - e_veil) * e_lens, 4: (1 - e_veil) * e_lens * e_nerve}[e_where]
e_said = {1: step_1, 3: step_3, 4: step_4}[e_where]
error_marks = checks.Marks(2)
error_marks.step(
    checks.number,
    "the wrong step",
    lambda: wrong_step,
    e_where,
    unit="",
    within=0.1,
    expect="the number of the first step that does not follow from those before",
    slips={
        "that number was given, not reckoned.": 2,
        "that step follows from the one before it; the mistake is earlier.": 5,
    },
)
error_marks.step(
    checks.number,
    "the corrected share",
    lambda: corrected,
    e_right,
    unit="",
    within=0.01,
    expect="a share from 0 to 1",
    slips={
        "that is what the colleague has.": e_said,
        "that is in per cent; give a share.": 100 * e_right,
    },
)
error_marks.score()

# %% hidden="error" points=1 hide=true
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
checks.working(
    f"Step {e_where} is wrong. "
    + {
        1: f"What scatters is lost: $1 - {e_veil:.2f} = {e_right:.2f}$.",
        3: f"Shares multiply, the worse does not decide: ${1 - e_veil:.2f} \\times {e_lens:.2f} = {e_right:.3f}$.",
        4: f"Shares multiply: ${step_3:.3f} \\times {e_nerve:.2f} = {e_right:.3f}$.",
    }[e_where]
)
checks.number(
    "the corrected share, asked again",
    corrected,
    e_right,
    unit="",
    within=0.005,
    expect="a share from 0 to 1, to three decimals",
)
### END HIDDEN TESTS

# %% [markdown] question="first" goals="3 4"
# ## 10 · In your own words (4 points)
#
# A patient with an untreated dry eye, 0.52 µm of aberration and no tomography of the macula wants a trifocal next
# week. A colleague says: “The cornea fails the gate, so no trifocal, ever. Order a monofocal today.” In four to six
# sentences, tell them what is right and what is wrong with that.

# %% [markdown] written="first" points=4
# ### BEGIN MARK SCHEME
# One point each:
# 1. The surface comes first: treat until keratometry and map repeat; tears alone can make such a number.
# 2. A gate is a prompt by a small panel; 0.52 lies within its own spread of 0.50, and many normal eyes fail it.
# 3. The monofocal is not safe today either: its power rests on the same keratometry.
# 4. The macula is unknown, not normal: tomography before any choice; then choose, in words the patient can follow.
# ### END MARK SCHEME
# Right: nobody should order a trifocal for this eye today. But the number may be the tear film's. Treat the surface
# until maps and keratometry repeat, and only then read the aberration. The gate of 0.50 µm is the agreement of ten
# experts, two fifths of normal corneas miss it, and 0.52 may be 0.48 next time. A monofocal ordered today
# would be chosen for a wrong keratometry. And the macula has not been looked at: tomography comes before any
# class is chosen or refused.
