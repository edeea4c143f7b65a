"""The patient's sheet: plain words, nothing lost, nothing false, a translation, one page."""

import base64
import html
import io
import itertools
import re
import shutil
from pathlib import Path
from time import perf_counter

import matplotlib as mpl
import numpy as np
import pytest
import textstat
from fontTools.ttLib import TTFont

from shared_utils import CAUTION
from shared_utils.choice import candidacy, counselling, gate, sight, tasks
from shared_utils.choice.findings import Patient, otherwise_healthy
from shared_utils.choice.outlook import outlook_for
from shared_utils.choice.rules import book
from shared_utils.choice.vocabulary import FINDINGS, VOCABULARY, Graded
from shared_utils.clinic import day, patient_file
from shared_utils.optics.lenses import LENS_CLASSES
from shared_utils.show import sheet as sheets
from tests import lab

SCHOOL_GRADE_AT_TWELVE = 7.0
MARGIN_MM = 9.0  # of the sheet's own @page rule
PIXELS_PER_MM = 96.0 / 25.4
PATIENTS = {
    "healthy": otherwise_healthy(),
    "glaucoma and dry eye": otherwise_healthy(
        {"glaucoma": "moderate", "dry_eye": "moderate", "surface_treatment": "untreated"},
        {"night_driving": "often"},
    ),
    "nothing known": Patient(),
    "macula": otherwise_healthy({"macular_degeneration": "late"}, {"expectation": "perfectionist"}),
    "pupils": Patient({"photopic_pupil_mm": 2.6, "scotopic_pupil_mm": 6.5}),
    "fretful": otherwise_healthy({}, {"halo_tolerance": "intolerant", "night_driving": "often"}),
}


def whole(name):
    return counselling.sheet(PATIENTS[name])


# --- words -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", PATIENTS)
@pytest.mark.parametrize("fellow", [None, -1.25])
def test_a_reader_of_twelve_can_read_it(name, fellow):
    """Flesch and Kincaid 1975: the school grade; twelve years are grade 6 to 7."""
    text = counselling.sheet(PATIENTS[name], 0.0, fellow).plain_text()
    assert textstat.textstat.flesch_kincaid_grade(text) <= SCHOOL_GRADE_AT_TWELVE
    # Flesch 1948: 70 to 80 is fairly easy, 80 to 90 easy
    assert textstat.textstat.flesch_reading_ease(text) >= 75.0


def sentences(words, path=""):
    if isinstance(words, dict):
        for name, part in words.items():
            if name not in ("source", "classes", "trade") or path in ("", "heading"):
                yield from sentences(part, name)
    elif isinstance(words, list):
        for part in words:
            yield from sentences(part, path)
    else:
        yield words


def test_no_word_is_long_and_no_sentence_either():
    """Common practice, no source: at most about twenty words, and no word of five syllables."""
    texts = list(sentences(counselling.wording()))
    assert len(texts) > 120
    for text in texts:
        for sentence in re.split(r"[.?!:;] ", text):
            assert len(sentence.split()) <= 26, sentence
        assert all(textstat.textstat.syllable_count(w) < 5 for w in text.split()), text


def test_the_measure_of_reading_age_can_fail():
    hard = "Multifocal pseudophakia necessitates comprehensive preoperative ophthalmic evaluation."
    assert textstat.textstat.flesch_kincaid_grade(hard) > SCHOOL_GRADE_AT_TWELVE


@pytest.mark.parametrize("part", ["because", "check"])
def test_every_finding_and_wish_has_plain_words(part):
    assert set(counselling.wording()[part]) == set(VOCABULARY)


def test_every_task_and_class_and_verdict_has_plain_words():
    words = counselling.wording()
    assert set(words["task"]) == {task.name for task in tasks.TASKS}
    assert tuple(words["lens"]) == LENS_CLASSES
    assert set(words["verdict"]) == set(candidacy.VERDICTS)
    for entry in words["trade"] + words["night"]:
        assert set(entry["classes"]) <= set(LENS_CLASSES)
        assert counselling.source_of(entry)
    for lens_class in LENS_CLASSES:
        assert any(lens_class in entry["classes"] for entry in words["night"])


def test_nothing_is_told_to_calm_that_nobody_counted():
    """That rings fade in half a year with a stretched lens, or trouble one in 20, has no source."""
    night = " ".join(whole("healthy").night)
    assert "fade" not in night
    assert "in 20" not in night
    [split] = [line for line in whole("healthy").night if "half a year" in line]
    assert "Two or three distances" in split  # Rosa 2017: diffractive multifocals, 30 people
    assert "study of 30 people" in split


def test_numbers_of_the_trade_offs_are_the_published_ones():
    """By hand: 12 × 2.81 (1.06, 7.46); CD003169's table, of 1,000, and 88 × 0.27 (0.20, 0.38)."""
    trade = " ".join(whole("healthy").trade)
    assert "about 12 do without glasses with one distance" in trade
    assert "perhaps 34; the studies allow 13 to 90" in trade
    assert "But 88 of 100 people need glasses for something" in trade
    assert "55 of 100 still need glasses for something (likely 48 to 64)" in trade
    assert "A newer count: 24 (18 to 33)" in trade
    assert (
        "73 of 100 eyes end within 0.5 of the planned strength" in trade
    )  # Lundström 2018: 72.7 and 93.0 %
    assert "93 within 1" in trade
    assert "3 to 4 lines" in trade  # Li 2024: 0.35 logMAR (0.22 to 0.48), 0.1 a line
    assert "2 to 5" in trade
    assert "41 go to far and 41 to near. About 19 are lost" in trade  # (2/π)², Swanson 1989


def test_numbers_of_the_nights_are_the_published_ones():
    """CD003169: halos 80 and 286 (159 to 517), glare 180 and 254 (185 to 347) of 1,000."""
    night = " ".join(whole("healthy").night)
    assert "8 of 100 people see rings around lights, 18 are dazzled" in night
    assert "29 of 100 people see rings (likely 16 to 52)" in night
    assert "25 are dazzled (19 to 35)" in night


def test_a_wording_with_a_ratio_alone_is_refused(tmp_path):
    bare = "With this lens 2.8 times as many"
    path = other_language(tmp_path, lambda text: text.replace("With this lens perhaps", bare))
    with pytest.raises(ValueError, match="give base and interval beside the ratio"):
        counselling.wording(path)


# --- what is said follows from the advice ------------------------------------------------------


@pytest.mark.parametrize("name", PATIENTS)
def test_every_class_stands_once_with_its_verdict(name):
    message = whole(name)
    advised = {advice.lens_class: advice for advice in candidacy.assess(PATIENTS[name])}
    words = counselling.wording()
    found = [part.lens_class for part in message.lenses + message.not_advised]
    assert sorted(found) == sorted(LENS_CLASSES)
    for part in message.lenses + message.not_advised:
        advice = advised[part.lens_class]
        assert part.verdict == words["verdict"][advice.eye_verdict]
        assert (part in message.not_advised) == (advice.verdict == "not advised")
        assert any(line.startswith("Why:") for line in part.lines) == (
            advice.eye_verdict != "suits"
        )
    assert "monofocal" in {part.lens_class for part in message.lenses}


def each_grade():
    for name, kind in FINDINGS.items():
        if isinstance(kind, Graded):
            yield from ((name, grade) for grade in list(kind.grades)[1:])


@pytest.mark.parametrize(("name", "grade"), list(each_grade()), ids=str)
def test_a_finding_that_speaks_against_a_lens_is_named(name, grade):
    patient = otherwise_healthy({name: grade})
    words = counselling.wording()
    rules = {rule.key: rule for rule in book().rules}
    for advice, part in zip(
        candidacy.assess(patient), sorted_parts(counselling.sheet(patient)), strict=True
    ):
        counts = any(
            reason.effect in ("with care", "not advised") and name in rules[reason.rule].when
            for reason in advice.reasons
        )
        reason = words["because_if"].get(name, {}).get(grade, words["because"][name])
        assert (reason in " ".join(part.lines)) == counts


def sorted_parts(message):
    return sorted(
        message.lenses + message.not_advised, key=lambda p: LENS_CLASSES.index(p.lens_class)
    )


def test_good_news_is_no_reason_against():
    message = counselling.sheet(otherwise_healthy({"glaucoma": "moderate"}))
    assert "getting worse" not in str(message)
    assert "dry" not in str(message)


def test_what_is_unknown_is_to_be_checked():
    words = counselling.wording()
    assert whole("healthy").check == ()
    checked = " ".join(whole("nothing known").check)
    for rule in book().rules:
        fires = rule.missing and rule.fires(Patient().values)
        for name in rule.findings if fires else ():
            assert words["check"][name] in checked
    assert words["questions"]["check"] in whole("nothing known").questions
    assert words["say"]["not_checked"] in str(whole("nothing known"))


def test_that_the_power_may_miss_is_said_where_the_gate_says_so():
    """One list: what the gate withholds, or says to widen the spread by 0.3 D, no other."""
    words = counselling.wording()
    for name, grade in each_grade():
        patient = otherwise_healthy({name: grade})
        entries = [e for e in gate.of_patient(patient).entries if name in e.when]
        says = "hard to forecast" in " ".join(counselling.sheet(patient).notes)
        assert says == any(e.adds_sd_d >= 0.3 for e in entries), (name, grade)
        if any(e.outcome == "withheld" for e in entries):
            assert words["because"][name] in " ".join(counselling.sheet(patient).notes)


@pytest.mark.parametrize(
    ("wishes", "words"),
    [
        ({"spectacle_wear": "cannot wear them"}, "you cannot wear glasses"),
        ({"understanding": "needs more time"}, "not clear to you yet"),
        ({"understanding": "cannot explain it"}, "not clear to you yet"),
    ],
    ids=str,
)
def test_what_the_person_can_and_understands_is_said(wishes, words):
    assert words in str(counselling.sheet(otherwise_healthy({}, wishes)))


def test_only_the_tasks_that_matter_stand_on_the_sheet():
    healthy = otherwise_healthy()
    reader = Patient(healthy.findings, healthy.wishes, tasks=("newspaper",))
    text = str(counselling.sheet(reader))
    assert "a newspaper" in text
    assert "road signs" not in text
    assert "road signs" in str(counselling.sheet(healthy))


@pytest.mark.parametrize("name", PATIENTS)
def test_every_task_stands_where_most_such_people_are(name):
    words = counselling.wording()
    for part in whole(name).lenses:
        plan = PATIENTS[name], tasks.LENS_OF[part.lens_class]
        text = " ".join(part.lines)
        clear = " ".join(line for line in part.lines if line.startswith("Likely no glasses"))
        for numbers, found in zip(outlook_for(*plan), tasks.glasses_for(*plan), strict=True):
            thing = words["task"][found.task.name]
            assert thing in text
            assert (thing in clear) == (found.known and numbers.of_100 >= 50)


def test_what_could_go_either_way_has_a_question_mark():
    words = counselling.wording()
    few, most = counselling.EITHER_WAY_OF_100
    for part in whole("healthy").lenses:
        text = " ".join(part.lines)
        for numbers in outlook_for(PATIENTS["healthy"], tasks.LENS_OF[part.lens_class]):
            marked = f"{words['task'][numbers.task.name]} (?" in text
            assert marked == (few <= numbers.of_100 <= most)
    notes = " ".join(whole("healthy").notes)
    assert f"of 100 people like you, {few} to {most} need no glasses" in notes
    assert "can be a line off" in notes  # ±0.1 logMAR, a line of a logMAR chart
    assert "An eye disease may leave you less" in notes


def test_plans_for_near_and_for_one_eye_each_are_said():
    far = counselling.sheet(PATIENTS["healthy"])
    assert far.plan == ()
    [mono] = counselling.sheet(PATIENTS["healthy"], 0.0, -1.25).plan
    assert "(0)" in mono
    assert "(−1.25)" in mono
    [near] = counselling.sheet(PATIENTS["healthy"], -2.5).plan
    assert "not for far" in near
    assert "TV (−" in str(counselling.sheet(PATIENTS["healthy"], -2.5))


@pytest.mark.parametrize("wrong", [{}, None, "Ada"])
def test_only_a_patient_gets_a_sheet(wrong):
    with pytest.raises(ValueError, match="sheet takes a Patient"):
        counselling.sheet(wrong)


@pytest.mark.parametrize(
    ("target_d", "fellow_d", "says"),
    [
        (0.0, 0.25, ""),
        (1.75, 0.0, "one eye is set for far (0), the other beyond far (+1.75)"),
        (1.75, -2.0, "one eye is set for closer up (−2.00), the other beyond far (+1.75)"),
        (-1.25, -2.5, "your eyes are set for closer up (−1.25 and −2.50), not for far"),
        (2.0, 2.0, "your eyes are set beyond far (+2.00), not for far"),
    ],
)
def test_the_plan_is_named_as_vergence_says(target_d, fellow_d, says):
    """An eye at −d is sharp at 1/d m, one at +d nowhere: Keating, from memory."""
    made = counselling.sheet(PATIENTS["healthy"], target_d, fellow_d)
    assert says in " ".join(made.plan)
    assert bool(made.plan) == bool(says)
    far = any(part.what.startswith("Sharp far away") for part in made.lenses)
    assert far == ("not for far" not in " ".join(made.plan))


@pytest.mark.parametrize(
    ("found", "treated"),
    [
        ({"surface_lesion": "untreated"}, True),
        ({"uveitis": "active"}, True),
        ({"zonules": "severe weakness"}, False),
        ({"fellow_eye": "none or blind"}, False),
        ({"mean_k_d": 50.0}, False),
    ],
)
def test_treatment_is_offered_where_there_is_one(found, treated):
    """Common practice, no source."""
    made = counselling.sheet(otherwise_healthy(found))
    assert (counselling.wording()["say"]["treat"] in made.notes) == treated


def test_disease_of_the_other_eye_is_named_as_of_the_other_eye():
    found = Patient(otherwise_healthy().findings, otherwise_healthy().wishes)
    sick = Patient(found.findings, found.wishes, fellow_findings={"macular_degeneration": "late"})
    assert "how your other eye sees" in counselling.sheet(sick, 0.0, -1.25).plan[-1]


# --- a translation -----------------------------------------------------------------------------


def other_language(tmp_path, change=lambda text: text):
    text = counselling.FILE.read_text(encoding="utf-8")
    text = text.replace('language = "en"', 'language = "xx"').replace("Ask your surgeon", "Fragen")
    path = tmp_path / "wording_xx.toml"
    path.write_text(change(text), encoding="utf-8")
    return path


def test_a_translation_takes_the_place_of_every_word(tmp_path):
    words = counselling.wording(other_language(tmp_path))
    page = sheets.as_html(PATIENTS["healthy"], words=words)
    assert '<html lang="xx">' in page
    assert "Fragen" in page
    assert "Ask your surgeon" not in page


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('dry_eye = "dry eyes"\n', "", "lacks because.dry_eye"),
        (
            '"{thing} ({weakest}/{comfortable})"',
            '"{thing}"',
            "say.with_power has other words in braces",
        ),
        (
            '    "Which glasses will I still need, and for what?",\n',
            "",
            "questions.always has 2 entries",
        ),
        ('title = "Which lens for my eye?"', "title = 5", "title is not made as"),
        ("language", "language =", "is no TOML"),
    ],
)
def test_a_translation_that_lacks_something_says_what(tmp_path, old, new, says):
    assert old in counselling.FILE.read_text(encoding="utf-8")
    path = other_language(tmp_path, lambda text: text.replace(old, new, 1))
    with pytest.raises(ValueError, match=re.escape(says)):
        counselling.wording(path)


def test_no_translation_is_english():
    assert counselling.wording(None)["language"] == "en"
    with pytest.raises(ValueError, match="takes the path of a translation, not 3"):
        counselling.wording(3)


@pytest.mark.parametrize("refractions", [([0, 1],), (0.0, [0, 1]), ([0, 1], None)])
def test_a_sheet_for_more_than_one_refraction_is_refused(refractions):
    for made in (counselling.sheet, sheets.as_html):
        with pytest.raises(ValueError, match="target_d holds 2 numbers; give one number"):
            made(PATIENTS["healthy"], *refractions)


def test_a_translation_that_is_not_there_says_so(tmp_path):
    with pytest.raises(ValueError, match=r"none\.toml cannot be read"):
        counselling.wording(tmp_path / "none.toml")


# --- the page ----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", PATIENTS)
def test_nothing_that_is_said_is_lost_on_the_page(name):
    message = whole(name)
    page = html.unescape(re.sub(r"<[^>]*>", "", sheets.as_html(PATIENTS[name])))
    place = -1
    for line in message.plain_text().splitlines()[4:]:  # in the same order, the pictures between
        for sentence in line.rstrip(":").split(". "):
            place = page.find(sentence.strip(), place + 1)
            assert place >= 0, sentence
    body = re.sub(r"<[^>]*>", "", sheets.as_html(PATIENTS[name]).partition("<main")[2])
    body = html.unescape(body.partition(">")[2]).strip()
    assert body.count(CAUTION) == 2
    assert body.startswith(CAUTION)
    assert body.endswith(CAUTION)
    assert all(source in page for source in message.sources)


def test_every_word_of_the_sheet_comes_from_the_wording(tmp_path):
    """A copy in which every text is marked: no letter on the sheet is without the mark but data."""
    assert counselling.wording()["caution"] == CAUTION
    words = counselling.wording(
        other_language(tmp_path, lambda text: text.replace(CAUTION, "Nur zum Lernen."))
    )
    page = sheets.as_html(PATIENTS["healthy"], words=words)
    assert page.count("Nur zum Lernen.") == 2
    assert "patient care" not in page


def test_a_sheet_is_called_invented_only_if_the_patient_is():
    invented = counselling.wording()["invented"]
    assert invented not in sheets.as_html(PATIENTS["healthy"])
    assert invented in sheets.as_html(PATIENTS["healthy"], invented=True)
    assert invented not in str(counselling.sheet(PATIENTS["healthy"]))


@pytest.mark.parametrize("name", PATIENTS)
def test_both_glasses_stand_on_the_sheet_under_their_names(name):
    words = counselling.wording()
    for part in whole(name).lenses:
        for found in tasks.glasses_for(PATIENTS[name], tasks.LENS_OF[part.lens_class]):
            if found.known and found.clear_with and found.reader_d:
                [line] = [line for line in part.lines if line.startswith("Glasses")]
                assert "at least/comfortable" in line
                both = f"{found.reader_d:+.2f}/{found.comfortable_reader_d:+.2f})"
                thing = words["task"][found.task.name]
                assert re.search(
                    rf"{re.escape(thing)} \((\?, )?{re.escape(both.replace('-', '−'))}", line
                )


def test_text_of_the_patient_cannot_become_markup():
    page = sheets.as_html(otherwise_healthy(label="<script>Ada & Co</script>"))
    assert "<script" not in page
    assert "&lt;script&gt;Ada &amp; Co" in page


def test_the_pictures_say_in_words_what_they_show():
    healthy = PATIENTS["healthy"]
    ranges = sheets.range_picture(healthy, LENS_CLASSES).alt
    assert re.search(r"Two-distance lens: clear from far to .* and from .* to", ranges)
    assert ranges.count("clear from") == len(LENS_CLASSES)
    night = sheets.night_picture(healthy, LENS_CLASSES).alt
    # Alba-Bueno 2014, worked by hand: 5 mm times 2.75 D is 13.75 mrad, the moon 9 mrad
    assert "Two-distance lens: a ring of light 1.5 times as wide as the moon" in night
    assert "One-distance lens: no such ring" in night


def test_a_lens_that_is_clear_nowhere_is_drawn_and_said():
    blurred = sheets.range_picture(PATIENTS["healthy"], ["monofocal"], 2.0)
    assert blurred.alt == "One-distance lens: clear nowhere."


def test_other_pictures_take_their_place():
    picture = sheets.Picture("night", 'a "lamp"', png=b"\x89PNG")
    page = sheets.as_html(PATIENTS["healthy"], pictures=[picture])
    assert 'alt="a &quot;lamp&quot;"' in page
    assert "data:image/png;base64,iVBORw==" in page
    assert "<svg" not in page


def longest():
    """A patient whose sheet has most to say: every class with reasons, the rest unknown."""
    label = "Bartholomew Featherstonehaugh-Cholmondeley, right eye"
    findings = {
        "photopic_pupil_mm": 2.6,
        "scotopic_pupil_mm": 6.9,
        "endothelial_dystrophy": "guttata",
        "zonules": "mild weakness",
        "dry_eye": "mild",
        "corneal_surgery": "laser, centred",
        "surface_treatment": "treated, not yet stable",
    }
    return Patient(findings, {"glasses": "wants none"}, label=label)


def everyone():
    yield from PATIENTS.values()
    yield longest()
    for name in patient_file.examples():
        yield patient_file.read(patient_file.find(name)).patient
    yield from (visit.patient for visit in day.invent(6, 11, kind="trap"))


def only_fonts(folder, names):
    """The environment of a machine that has these of matplotlib's fonts and no others."""
    (folder / "fonts").mkdir()
    for name in names:
        shutil.copy(Path(mpl.get_data_path()) / "fonts" / "ttf" / name, folder / "fonts")
    (folder / "fonts.conf").write_text(
        '<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd"><fontconfig>'
        f"<dir>{folder}/fonts</dir><cachedir>{folder}/cache</cachedir></fontconfig>",
        encoding="utf-8",
    )
    return {"FONTCONFIG_FILE": str(folder / "fonts.conf")}


FONTS = {"wide": "DejaVuSansMono-Bold.ttf", "narrow": "STIXGeneral.ttf"}


@pytest.mark.browser
@pytest.mark.parametrize("fonts", FONTS)
def test_the_longest_sheet_prints_on_one_page_whatever_fonts_there_are(tmp_path, fonts):
    environment = only_fonts(tmp_path, [FONTS[fonts]])
    prints_on_one_page([longest()], tmp_path, environment)


@pytest.mark.slow
@pytest.mark.browser
def test_every_sheet_prints_on_one_page(tmp_path):
    prints_on_one_page(everyone(), tmp_path)


def prints_on_one_page(patients, folder, environment=None):
    """On A4 and on Letter, with a twentieth of the page to spare."""
    path = folder / "sheet.html"
    with lab.browser_page(environment=environment) as page:
        page.emulate_media(media="print")
        for patient in patients:
            path.write_text(sheets.as_html(patient, 0.0, -1.25, invented=True), encoding="utf-8")
            page.goto(path.as_uri())
            for paper, (width_mm, height_mm) in {"A4": (210, 297), "Letter": (216, 279)}.items():
                within = [round((side - 2 * MARGIN_MM) * PIXELS_PER_MM) for side in (width_mm, 900)]
                page.set_viewport_size({"width": within[0], "height": within[1]})
                tall = page.locator("main").bounding_box()["height"]
                assert tall <= 0.95 * (height_mm - 2 * MARGIN_MM) * PIXELS_PER_MM, patient
                printed = page.pdf(format=paper, prefer_css_page_size=True)
                assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1, patient


def test_far_tasks_of_a_diseased_eye_are_said_to_be_the_other_eye_s():
    """An eye with late macular degeneration beside a good one: the list counts the better eye."""
    ill = otherwise_healthy(
        {"macular_degeneration": "late", "potential_acuity_logmar": 0.8}, {"glasses": "wants none"}
    )
    text = counselling.sheet(ill, 0.0).plain_text()
    assert "Likely no glasses for: road signs by day" in text
    assert "counts the better eye" in text


def test_the_sheet_promises_no_task_without_glasses():
    """A task stands there from 50 of 100 such people on, so what it says is likely, not sure."""
    assert counselling.wording()["say"]["clear"].startswith("Likely")


def test_print_is_not_smaller_than_eight_points():
    """Common practice, no source: smaller print is not read by who has a cataract."""
    size = re.search(r"@media print \{\s*body \{ font-size: ([\d.]+)pt", sheets.as_html(longest()))
    assert float(size[1]) >= 8.0


def test_the_letters_of_a_sheet_come_with_it():
    """Its own font holds every letter, so no other font of the machine is asked for."""
    shown = sheets.as_html(longest(), 0.0, -1.25)
    fonts = re.findall(r"base64,([A-Za-z0-9+/=]+)\"\) format\(\"woff\"\)", shown)
    assert len(fonts) == 2
    letters = set(html.unescape(re.sub(r"<style>.*?</style>|<[^>]*>", "", shown, flags=re.S)))
    for data in fonts:
        with TTFont(io.BytesIO(base64.b64decode(data))) as font:
            assert not {x for x in letters if x.isprintable()} - set(map(chr, font.getBestCmap()))
            # the licence of DejaVu Sans wants its notice kept
            assert "Bitstream" in font["name"].getDebugName(0)


@pytest.mark.browser
def test_it_fits_a_phone_and_is_read_in_order(tmp_path):
    path = tmp_path / "sheet.html"
    path.write_text(sheets.as_html(longest()), encoding="utf-8")
    with lab.browser_page(width=390, height=844) as page:
        page.goto(path.as_uri())
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        read = page.locator("body").aria_snapshot()
    levels = [int(level) for level in re.findall(r"\[level=(\d)\]", read)]
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))
    assert read.count("img ") == 2
    assert read.index("still need to check") < read.index("Lenses you could have")
    assert read.index("not for patient care") < read.index("still need to check")
    assert read.index("Ask your surgeon") < read.rindex("not for patient care")


# --- speed -------------------------------------------------------------------------------------


@pytest.mark.benchmark
def test_a_sheet_costs_little_beside_the_curves_behind_it(capsys):
    """The kept curves are what makes a consultation quick: the same without them, in one run."""
    sheets.as_html(PATIENTS["healthy"])
    warm_s = min(timed(PATIENTS["healthy"]) for _ in range(5))
    sight._curve.cache_clear()
    cold_s = timed(PATIENTS["healthy"])
    with capsys.disabled():
        print(f"\none patient: {1e3 * warm_s:.0f} ms warm, {1e3 * cold_s:.0f} ms cold")
    assert cold_s > 3.0 * warm_s


def timed(patient):
    start = perf_counter()
    sheets.as_html(patient)
    return perf_counter() - start


@pytest.mark.benchmark
def test_many_patients_are_quicker_together_than_one_by_one(capsys):
    rng = np.random.default_rng(3)
    day = rng.uniform(2.4, 4.0, 400)
    pupils = {"bright": day, "dim": day + 1.0, "night": day + 2.0}
    lens = tasks.LENS_OF["trifocal"]
    tasks.glasses_needed(lens, pupils, 0.0)
    start = perf_counter()
    tasks.glasses_needed(lens, pupils, 0.0)
    together_s = perf_counter() - start
    start = perf_counter()
    for i in range(len(day)):
        tasks.glasses_needed(lens, {light: mm[i] for light, mm in pupils.items()}, 0.0)
    alone_s = perf_counter() - start
    with capsys.disabled():
        print(f"\n400 eyes: {1e3 * together_s:.0f} ms together, {1e3 * alone_s:.0f} ms one by one")
    assert alone_s > 5.0 * together_s
