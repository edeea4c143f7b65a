"""Evidence with its size: the loader, no ratio without base and interval, nothing from memory."""

import re
import tomllib
from itertools import chain
from pathlib import Path

import pytest

from shared_utils import cli
from shared_utils.choice import counselling, evidence, gate, rules

ROOT = Path(__file__).parents[1]
EFFECTS = evidence.effects()
STUDIES = {effect.study.key: effect.study for effect in EFFECTS.values()}
BOOK = rules.book()
ALL_RULES = (*BOOK.rules, *BOOK.plans.rules)
BODIES = ("Review CD", "NICE", "Group", "Academy")  # who signs instead of a person

# what a learner or a patient reads and what quotes evidence
TEXTS = [
    ROOT / "shared_utils" / "choice" / name
    for name in ("rules.toml", "wording.toml", "findings.toml")
] + [
    ROOT / "shared_utils" / "bank" / "items" / f"{n}.toml" for n in ("consultation", "examination")
]
QUOTING = ("consultation", "examination")
LESSONS = [ROOT / "lessons" / "source" / f"{n}.py" for n in QUOTING]
LESSONS += [ROOT / "solutions" / f"{n}.py" for n in QUOTING]


def strings(part):
    """Every string within tables and lists."""
    if isinstance(part, dict):
        for one in part.values():
            yield from strings(one)
    elif isinstance(part, list):
        for one in part:
            yield from strings(one)
    elif isinstance(part, str):
        yield part


def prose(path):
    """The prose of a lesson without its comment signs, a paragraph a line."""
    lines = [line.removeprefix("# ") for line in path.read_text(encoding="utf-8").splitlines()]
    text = re.sub(r'"\s*\n\s*"', "", "\n".join(lines))  # strings that go on in the next line
    return [re.sub(r"\s+", " ", part) for part in re.split(r"\n#?\s*\n|# %%[^\n]*\n", text)]


def evidence_of_words():
    words = counselling.wording()
    for entry in words["trade"] + words["night"]:
        yield from entry.get("evidence", ())
        yield from entry.get("of_100", {}).values()


# --- every record ------------------------------------------------------------------------------


@pytest.mark.parametrize("effect", EFFECTS.values(), ids=lambda effect: effect.key)
def test_every_effect_has_its_interval_or_says_why_not(effect):
    assert bool(effect.interval) != bool(effect.no_interval)
    assert effect.study.population
    assert effect.study.kind
    assert effect.study.read in evidence.READ
    assert any(character.isdigit() for character in effect.study.citation)
    assert (effect.kind == "ratio") == bool(effect.base_per_1000) == bool(effect.base_from)
    if effect.kind == "ratio":  # the others count people themselves, or measure, or say it in words
        assert effect.interval
        assert 0 < effect.base_per_1000 <= 1000
    if effect.kind in ("difference", "mean"):
        assert effect.unit


@pytest.mark.parametrize("study", STUDIES.values(), ids=lambda study: study.key)
def test_every_study_has_year_kind_population_and_says_how_it_was_read(study):
    assert study.year or "year not shown" in study.place
    assert study.kind
    assert study.population
    assert study.strength in evidence.STRENGTHS
    assert evidence.READ[study.read] in study.citation
    assert study.shown


@pytest.mark.parametrize("study", STUDIES.values(), ids=lambda study: study.key)
def test_a_citation_names_its_authors_or_says_that_they_were_not_read(study):
    signed = " et al." in study.authors or " & " in study.authors or study.authors.istitle()
    signed = signed or any(body in study.authors for body in BODIES)
    assert signed != study.authors.startswith("Authors not read: "), study.authors


def test_every_effect_is_cited_or_it_is_dead():
    used = set(evidence_of_words())
    used |= {one.key for rule in ALL_RULES for one in rule.evidence}
    whole = tomllib.loads(rules.FILE.read_text(encoding="utf-8"))
    for conflict in whole["conflict"]:
        used |= {key for side in conflict["sides"] for key in side.get("evidence", ())}
    assert set(EFFECTS) - used <= {"multifocal, near"}


def test_nothing_from_memory_is_shown():
    shown = [one for rule in ALL_RULES for one in rule.evidence]
    shown += [evidence.effect(key) for key in evidence_of_words()]
    assert all(one.study.shown for one in shown)
    sources = [rule.source for rule in ALL_RULES]
    sources += [side.source for conflict in BOOK.conflicts for side in conflict.sides]
    sources += [entry.source for entry in gate.entries()] + [gate.SCREENING_SOURCE]
    sources += [counselling.source_of(entry) for entry in counselling.wording()["trade"]]
    sources += [counselling.source_of(entry) for entry in counselling.wording()["night"]]
    assert len(sources) > 300
    assert not [source for source in sources if "memory" in source]


@pytest.mark.parametrize("patient", ["lock_keeper", "laser_long_ago", "one_eye_for_near"])
def test_consult_and_the_sheet_print_nothing_from_memory(patient, tmp_path, capsys):
    sheet = tmp_path / "sheet.html"
    assert cli.main(["consult", patient, "--why", "--sheet", str(sheet)]) == 0
    printed = capsys.readouterr().out
    assert "[" in printed, "sources are printed"
    assert "memory" not in printed
    assert "memory" not in sheet.read_text(encoding="utf-8")


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_in_a_lesson_that_quotes_evidence_only_formulas_are_from_memory(path):
    remembered = [text for text in prose(path) if "from memory" in text]
    for text in remembered:
        for sentence in re.findall(r"[^\"]*from memory[^\"]*", text):
            assert re.search(r"Thibos|Holladay", sentence), sentence


def test_how_a_publication_was_read_stands_beside_it():
    for rule in ALL_RULES:
        for one in rule.evidence:
            assert one.study.citation in rule.source
            assert evidence.READ[one.study.read] in rule.source


def test_a_rule_is_no_better_founded_than_its_evidence():
    for rule in ALL_RULES:
        if rule.evidence and rule.strength != "common practice":
            assert rule.strength in {one.study.strength for one in rule.evidence}, rule.key


def test_the_share_of_rules_without_a_source_does_not_grow():
    # what is left is a definition, the patient's word, or was looked for and not found
    for some, share in ((BOOK.rules, 0.21), (BOOK.plans.rules, 0.72), (gate.entries(), 0.65)):
        bare = [one for one in some if one.source == rules.NO_SOURCE]
        assert len(bare) <= share * len(some), (len(bare), len(some))
    every = (*BOOK.rules, *BOOK.plans.rules)
    assert sum(one.source == rules.NO_SOURCE for one in every) < 0.4 * len(every)


# --- numbers as published ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("key", "people"),
    [
        # the summary table of CD003169, of 1,000, which its authors computed themselves
        ("multifocal, needs glasses", (88.0, 55.4, 48.4, 64.2)),
        ("multifocal, halos", (8.0, 28.6, 15.9, 51.7)),
        ("multifocal, glare", (18.0, 25.4, 18.5, 34.7)),
        ("multifocal, near", (57.0, 11.4, 4.0, 33.0)),
        # by hand: 12 × 2.81 (1.06, 7.46)
        ("stretched, no glasses", (12.0, 33.7, 12.7, 89.5)),
    ],
)
def test_people_of_a_hundred_are_those_of_the_published_table(key, people):
    found = EFFECTS[key].of_100()
    got = [found[name] for name in ("base", "value", "low", "high")]
    assert got == pytest.approx(people, abs=0.06)


def test_only_a_ratio_or_a_share_counts_people():
    with pytest.raises(ValueError, match="only a ratio or a share counts people"):
        EFFECTS["trifocal, near"].of_100()


def ends(effect):
    """The ends of an interval as a text may print them: as they are, of 100, of 1,000."""
    low, high = sorted(abs(end) for end in effect.interval)
    if effect.kind == "difference":
        yield f"{low:.2f} to {high:.2f}" if min(effect.interval) * max(effect.interval) > 0 else ""
        return
    people = effect.of_100()
    for scale in (1, 10):
        yield f"{scale * people['low']:.0f} to {scale * people['high']:.0f}"


def test_a_base_from_another_review_is_said_to_be_one():
    whole = tomllib.loads(rules.FILE.read_text(encoding="utf-8"))
    sides = [side for conflict in whole["conflict"] for side in conflict["sides"]]
    checked = 0
    for part in (*whole["rule"], *whole["plan_rule"], *sides):
        effects = [EFFECTS[key] for key in part.get("evidence", ())]
        if any("another review" in one.base_from for one in effects):
            assert "two reviews combined" in part["text"], part["text"]
            assert "Review CD003169" in evidence.citations(effects), part["text"]
            checked += 1
    assert checked >= 6


MARKED = r"(?:\binterval |allow |\()(\d[\d.]* to \d[\d.]*\d)"


def test_every_interval_in_a_text_is_that_of_its_evidence():
    """A number copied wrongly, or left behind when the evidence changed, is found here."""
    checked = 0
    for rule in ALL_RULES:
        allowed = set(chain.from_iterable(ends(one) for one in rule.evidence if one.interval))
        for interval in re.findall(MARKED, rule.text):
            assert interval in allowed, (rule.key, interval)
            checked += 1
    for conflict in tomllib.loads(rules.FILE.read_text(encoding="utf-8"))["conflict"]:
        for side in conflict["sides"]:
            found = [EFFECTS[key] for key in side.get("evidence", ())]
            allowed = set(chain.from_iterable(ends(one) for one in found if one.interval))
            for interval in re.findall(MARKED, side["text"]):
                assert interval in allowed, (conflict["key"], interval)
                checked += 1
    assert checked > 30


# --- a ratio alone -----------------------------------------------------------------------------

ALONE = [
    "With it 2.8 times as many do without glasses.",
    "Of 100 people 12 do without glasses; with it 2.81 times as many.",
    "It is 2.81 times as many (95 % interval 1.06 to 7.46).",
    "About three times as much light is lost.",
    "In nine studies about 3 times as many people (2.8) did without glasses.",
    "With it 40 % more see halos.",
    "Twice times as often is no sentence, but 4.5 times as often is a ratio.",
]
COMPLETE = [
    "Of 100 people 12 do without glasses; 2.81 times as many with it (interval 1.06 to 7.46).",
    "Of 100 people about 12 do without glasses, with it perhaps 34; the studies allow 13 to 90.",
    "“2.8 times as many do without glasses” is true and useless.",
    "With it {ratio:.1f} times as many do without glasses.",
    "A map is measured four times.",
]


@pytest.mark.parametrize("text", ALONE)
def test_a_ratio_without_base_and_interval_is_found(text):
    assert evidence.bare_ratios(text)


@pytest.mark.parametrize("text", COMPLETE)
def test_a_ratio_with_both_passes(text):
    assert not evidence.bare_ratios(text)


@pytest.mark.parametrize("path", TEXTS, ids=lambda path: path.name)
def test_no_text_states_a_ratio_without_base_and_interval(path):
    found = list(strings(tomllib.loads(path.read_text(encoding="utf-8"))))
    assert len(found) > 100
    assert not [bare for text in found for bare in evidence.bare_ratios(text)]


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_no_lesson_that_quotes_evidence_states_one_either(path):
    paragraphs = prose(path)
    assert len(paragraphs) > 30
    assert not [bare for text in paragraphs for bare in evidence.bare_ratios(text)]


def test_the_paragraphs_of_a_lesson_are_seen_whole(tmp_path):
    path = tmp_path / "lesson.py"
    path.write_text(
        '# With the lens 2.8 times as\n# many do without.\n\npage.Answer(\n    "With it 3 times "\n'
        '    "as many see halos."\n)\n',
        encoding="utf-8",
    )
    assert len([bare for text in prose(path) for bare in evidence.bare_ratios(text)]) == 2


# --- the loader --------------------------------------------------------------------------------

STUDY = {
    "key": "nobody",
    "authors": "Nobody",
    "journal": "J Invented Rules",
    "year": 2027,
    "kind": "trial",
    "population": "12 people",
    "strength": "study",
    "read": "abstract",
}
RATIO = {
    "key": "rings",
    "study": "nobody",
    "of": "people who see rings",
    "kind": "ratio",
    "value": 2.0,
    "interval": [1.5, 3.0],
    "base_per_1000": 100,
    "base_from": "the same trial",
}


def as_toml(**blocks):
    def value(given):
        return str(given).lower() if isinstance(given, bool) else repr(given)

    return "\n".join(
        f"[[{kind}]]\n" + "\n".join(f"{k} = {value(v)}" for k, v in table.items() if v is not None)
        for kind, table in blocks.items()
    )


def test_a_good_record_is_read():
    (found,) = evidence.read(as_toml(study=STUDY, effect=RATIO)).values()
    assert found.of_100() == {"value": 20.0, "low": 15.0, "high": 30.0, "base": 10.0}
    assert found.study.citation == "Nobody, J Invented Rules 2027 (abstract read)"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"interval": None}, "give its interval, or say why not"),
        ({"interval": None, "no_interval": "none printed"}, "a ratio needs its interval"),
        ({"base_per_1000": None}, "a ratio needs its base"),
        ({"base_from": None}, "say where the base comes from"),
        ({"base_per_1000": 1200}, "its base lies outside 0 to 1,000"),
        ({"interval": [2.5, 3.0]}, "its value lies outside its interval"),
        ({"interval": [1.5]}, "an interval has two ends"),
        ({"kind": "odds"}, "kind 'odds' is none of"),
        ({"kind": "finding"}, "only a finding in words has no value"),
        ({"kind": "share", "value": 1500, "interval": [900, 1600]}, "a share is of 1,000"),
        ({"study": "somebody"}, "'somebody' is no study"),
        ({"of": None}, "lacks of"),
        ({"of": "3 times as many see rings"}, "states a ratio without base and interval"),
        ({"colour": "red"}, "colour is no part of it"),
    ],
)
def test_a_bad_effect_gets_one_sentence(change, words):
    with pytest.raises(ValueError, match=r"^Effect 'rings': .*\.$") as caught:
        evidence.read(as_toml(study=STUDY, effect=RATIO | change))
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"population": None}, "lacks population"),
        ({"journal": None, "year": None}, "lacks journal and year, place or doi"),
        ({"read": "whole"}, "read is none of"),
        ({"strength": "hearsay"}, "strength is none of"),
        ({"colour": "red"}, "colour is no part of it"),
    ],
)
def test_a_bad_study_gets_one_sentence(change, words):
    with pytest.raises(ValueError, match=r"^Study 'nobody': .*\.$") as caught:
        evidence.read(as_toml(study=STUDY | change, effect=RATIO))
    assert words in str(caught.value)


def test_bad_files_get_one_sentence():
    with pytest.raises(ValueError, match="no TOML"):
        evidence.read("[[study")
    with pytest.raises(ValueError, match="'studies' is neither"):
        evidence.read(as_toml(studies=STUDY))
    with pytest.raises(ValueError, match="'nobody' stands twice"):
        evidence.read(as_toml(study=STUDY) + "\n" + as_toml(study=STUDY))
    with pytest.raises(ValueError, match="'nobody' has no effect"):
        evidence.read(as_toml(study=STUDY))


def test_a_rule_cannot_rest_on_what_is_not_there_or_only_remembered(monkeypatch):
    rule = """[[rule]]
key = "one"
text = "Rings are seen by many people."
evidence = ["rings"]
strength = "study"
effect = { trifocal = "with care" }
"""
    with pytest.raises(ValueError, match=r"^Rule 'one': There is no evidence 'rings'"):
        rules.read(rule)
    for read, words in (("memory", "only remembered is not shown"), ("abstract", None)):
        made = evidence.read(as_toml(study=STUDY | {"read": read}, effect=RATIO))
        monkeypatch.setattr(evidence, "effects", lambda made=made: made)
        if words:
            with pytest.raises(ValueError, match=f"^Rule 'one': .*{words}"):
                rules.read(rule)
        else:
            (good,) = rules.read(rule).rules
            assert good.source == "Nobody, J Invented Rules 2027 (abstract read)"
            with pytest.raises(ValueError, match="none of its evidence is a review"):
                rules.read(rule.replace('"study"', '"review"'))


@pytest.mark.parametrize("block", ["rule", "conflict"])
def test_no_rule_and_no_side_states_a_ratio_alone(block):
    text = "With it 2.8 times as many do without glasses."
    rule = f"""[[rule]]
key = "one"
text = "{text if block == "rule" else "Rings are seen by many people."}"
source = "common practice, no source"
strength = "common practice"
effect = {{ trifocal = "with care" }}
[[conflict]]
key = "two"
rules = ["one"]
classes = ["trifocal"]
sides = [{{ text = "{text}", source = "nobody", strength = "study" }}]
"""
    with pytest.raises(ValueError, match="a ratio needs its base and its interval"):
        rules.read(rule)
