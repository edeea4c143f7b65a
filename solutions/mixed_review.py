# %% [markdown] question="start"
# # Problems {{number mixed_review}} · A clinic day
#
# Six patients and one written answer, 36 points, about 60 minutes. All lessons come together; the review is
# [{{number mixed_review}} Mixed review](../../lessons/{{stem mixed_review}}.ipynb).
#
# Six people wait, each with a chart of your own. For each give one dictionary:
#
# ```
# patient_1 = {
#     "keratometry": "holds",      # or "misleads": can a power be reckoned from it?
#     "lens_d": 21.5,              # lens to order by SRK/T, steps of 0.5 D; None if it misleads
#     "leaves_d": -0.12,           # refraction that this lens leaves, D; None likewise
#     "reader_d": 2.5,             # comfortable reader: newspaper at 40 cm, monofocal lens, D
#     "verdict": "with care",      # of the class asked about: "suits", "with care", "not advised"
#     "because": "dry_eye",        # the word on the chart that decides it, or "nothing"
# }
# ```
#
# You may use every function of the course, as you would use instruments. What counts is that you can
# argue each line. A later number is checked from your own earlier one, so a mistake costs once.
#
# *All patients are invented. For learning, not for patient care: follow the lens's labelling, local
# rules and the judgement of a licensed practitioner.*

# %% given="setup"
from shared_utils.clinic import rounds
from shared_utils.problems import check_button, checks, clinic_marks
from shared_utils.problems.numbers import Draw, learner_id

print(f"Numbers for learner: {learner_id()}")
check_button.show("mixed_review")

# %% [markdown] question="patient_1" goals="1"
# ## 1 · A first patient (5 points)
#
# Read the chart, then give `patient_1`, a dictionary with the six entries named above.

# %% given="patient_1"
draw_1 = Draw("mixed_review/patient_1")
chart_1 = rounds.chart(1, draw_1.pick("seed", 0, 99))
draw_1.tell(chart_1.markdown())

# %% answer="patient_1" own="shared_utils.clinic.rounds.verdict shared_utils.clinic.rounds.lens_and_rest shared_utils.clinic.rounds.left_by shared_utils.clinic.rounds.keratometry_holds shared_utils.problems.clinic_marks.working"
### BEGIN SOLUTION
from shared_utils.choice import gate
from shared_utils.choice.candidacy import assess
from shared_utils.choice.rules import book
from shared_utils.power import formulas, lens_steps
from shared_utils.power.lens_constants import LensConstants


def worked_up(chart):
    found = gate.of_patient(chart.patient, 118.7, chart.target_d)
    holds = found.keratometry_holds
    answer = dict.fromkeys(("lens_d", "leaves_d", "reader_d"))
    answer["keratometry"] = "holds" if holds else "misleads"
    if holds:
        lens = LensConstants.from_a_constant(118.6)
        exact_d = formulas.iol_power(chart.patient.eye, "srk_t", lens, chart.target_d)
        answer["lens_d"] = lens_steps.nearest_power(exact_d)
        answer["leaves_d"] = formulas.predicted_refraction(
            chart.patient.eye, "srk_t", lens, answer["lens_d"]
        )
        answer["reader_d"] = round((2.5 + answer["leaves_d"]) * 4) / 4
    advice = next(a for a in assess(chart.patient) if a.lens_class == chart.asked_class)
    answer["verdict"] = advice.verdict
    against = [r.rule for r in advice.reasons if r.effect == advice.verdict]
    names = [n for r in book().rules if r.key in against for n in (*r.when, *r.findings)]
    answer["because"] = "nothing" if advice.verdict == "suits" else names[0]
    return answer


patient_1 = worked_up(chart_1)
### END SOLUTION

# %% check="patient_1" points=2 hide=true
clinic_marks.computed(chart_1, lambda: patient_1, 2)

# %% hidden="patient_1" points=3 hide=true
# The class marks your judgement here.
### BEGIN HIDDEN TESTS
checks.working(clinic_marks.working(chart_1))
clinic_marks.judged(chart_1, lambda: patient_1, 3)
### END HIDDEN TESTS

# %% [markdown] question="patient_2" goals="2"
# ## 2 · The second (5 points)
#
# Read the chart, then give `patient_2`, a dictionary with the six entries named above.

# %% given="patient_2"
draw_2 = Draw("mixed_review/patient_2")
chart_2 = rounds.chart(2, draw_2.pick("seed", 0, 99))
draw_2.tell(chart_2.markdown())

# %% answer="patient_2" own="shared_utils.clinic.rounds.verdict shared_utils.clinic.rounds.lens_and_rest shared_utils.clinic.rounds.left_by shared_utils.clinic.rounds.keratometry_holds shared_utils.problems.clinic_marks.working"
### BEGIN SOLUTION
patient_2 = worked_up(chart_2)
### END SOLUTION

# %% check="patient_2" points=2 hide=true
clinic_marks.computed(chart_2, lambda: patient_2, 2)

# %% hidden="patient_2" points=3 hide=true
# The class marks your judgement here.
### BEGIN HIDDEN TESTS
checks.working(clinic_marks.working(chart_2))
clinic_marks.judged(chart_2, lambda: patient_2, 3)
### END HIDDEN TESTS

# %% [markdown] question="patient_3" goals="2 3"
# ## 3 · The third (5 points)
#
# Read the chart, then give `patient_3`, a dictionary with the six entries named above.

# %% given="patient_3"
draw_3 = Draw("mixed_review/patient_3")
chart_3 = rounds.chart(3, draw_3.pick("seed", 0, 99))
draw_3.tell(chart_3.markdown())

# %% answer="patient_3" own="shared_utils.clinic.rounds.verdict shared_utils.clinic.rounds.lens_and_rest shared_utils.clinic.rounds.left_by shared_utils.clinic.rounds.keratometry_holds shared_utils.problems.clinic_marks.working"
### BEGIN SOLUTION
patient_3 = worked_up(chart_3)
### END SOLUTION

# %% check="patient_3" points=2 hide=true
clinic_marks.computed(chart_3, lambda: patient_3, 2)

# %% hidden="patient_3" points=3 hide=true
# The class marks your judgement here.
### BEGIN HIDDEN TESTS
checks.working(clinic_marks.working(chart_3))
clinic_marks.judged(chart_3, lambda: patient_3, 3)
### END HIDDEN TESTS

# %% [markdown] question="patient_4" goals="1 2"
# ## 4 · The fourth (5 points)
#
# Read the chart, then give `patient_4`, a dictionary with the six entries named above.

# %% given="patient_4"
draw_4 = Draw("mixed_review/patient_4")
chart_4 = rounds.chart(4, draw_4.pick("seed", 0, 99))
draw_4.tell(chart_4.markdown())

# %% answer="patient_4" own="shared_utils.clinic.rounds.verdict shared_utils.clinic.rounds.lens_and_rest shared_utils.clinic.rounds.left_by shared_utils.clinic.rounds.keratometry_holds shared_utils.problems.clinic_marks.working"
### BEGIN SOLUTION
patient_4 = worked_up(chart_4)
### END SOLUTION

# %% check="patient_4" points=2 hide=true
clinic_marks.computed(chart_4, lambda: patient_4, 2)

# %% hidden="patient_4" points=3 hide=true
# The class marks your judgement here.
### BEGIN HIDDEN TESTS
checks.working(clinic_marks.working(chart_4))
clinic_marks.judged(chart_4, lambda: patient_4, 3)
### END HIDDEN TESTS

# %% [markdown] question="patient_5" goals="1 3"
# ## 5 · The fifth (5 points)
#
# Read the chart, then give `patient_5`, a dictionary with the six entries named above.

# %% given="patient_5"
draw_5 = Draw("mixed_review/patient_5")
chart_5 = rounds.chart(5, draw_5.pick("seed", 0, 99))
draw_5.tell(chart_5.markdown())

# %% answer="patient_5" own="shared_utils.clinic.rounds.verdict shared_utils.clinic.rounds.lens_and_rest shared_utils.clinic.rounds.left_by shared_utils.clinic.rounds.keratometry_holds shared_utils.problems.clinic_marks.working"
### BEGIN SOLUTION
patient_5 = worked_up(chart_5)
### END SOLUTION

# %% check="patient_5" points=2 hide=true
clinic_marks.computed(chart_5, lambda: patient_5, 2)

# %% hidden="patient_5" points=3 hide=true
# The class marks your judgement here.
### BEGIN HIDDEN TESTS
checks.working(clinic_marks.working(chart_5))
clinic_marks.judged(chart_5, lambda: patient_5, 3)
### END HIDDEN TESTS

# %% [markdown] question="patient_6" goals="2 3"
# ## 6 · The last before lunch (5 points)
#
# Read the chart, then give `patient_6`, a dictionary with the six entries named above.

# %% given="patient_6"
draw_6 = Draw("mixed_review/patient_6")
chart_6 = rounds.chart(6, draw_6.pick("seed", 0, 99))
draw_6.tell(chart_6.markdown())

# %% answer="patient_6" own="shared_utils.clinic.rounds.verdict shared_utils.clinic.rounds.lens_and_rest shared_utils.clinic.rounds.left_by shared_utils.clinic.rounds.keratometry_holds shared_utils.problems.clinic_marks.working"
### BEGIN SOLUTION
patient_6 = worked_up(chart_6)
### END SOLUTION

# %% check="patient_6" points=2 hide=true
clinic_marks.computed(chart_6, lambda: patient_6, 2)

# %% hidden="patient_6" points=3 hide=true
# The class marks your judgement here.
### BEGIN HIDDEN TESTS
checks.working(clinic_marks.working(chart_6))
clinic_marks.judged(chart_6, lambda: patient_6, 3)
### END HIDDEN TESTS

# %% [markdown] question="sheet" goals="4"
# ## 7 · What you tell one of them (6 points)
#
# Choose the patient whose verdict was hardest. Write what you would tell them, in words they can use, in at
# most 150 words: what you found, what you advise and why, what it costs, which glasses remain, and what could
# change the plan.

# %% [markdown] written="sheet" points=6
# ### BEGIN MARK SCHEME
# One point each:
# 1. The finding or wish that decides is named in plain words, no jargon.
# 2. The advice follows from it, and an alternative is named.
# 3. What the advised lens costs (contrast, halos, or glasses) is said.
# 4. The glasses that remain are named for far, arm's length and print, with the number from the table.
# 5. What could change the plan: what is to be treated, measured or examined first.
# 6. No promise; the decision stays the patient's; fit for reading aloud in a minute.
# ### END MARK SCHEME
# An answer for a patient with early change of the macula: “The centre of your retina is beginning to
# wear. It still sees well, and it needs all the light it gets. A lens that shares the light would take from it
# just what it needs for print, so I advise a lens with one focus, set for the distance. A lens with a
# little more depth would be possible later for the other eye. You will see the road and the television without
# glasses; for the computer and for print you will want glasses, about two and a half for a
# newspaper. I promise no number: one in ten needs a small correction for far as well. Before we
# settle it, I want one more picture of the retina. What would you miss most?”
