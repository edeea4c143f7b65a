"""Answers of two learners that are alike in a way that is rare in the class: for a person to judge.

Right code is alike by itself, so it counts for nothing. What counts: numbers that were drawn for
another learner or are right for them alone; the same rare wrong results; long passages, of code or
words, that hardly anybody else has; a notebook that shows another learner's id. A finding is no
verdict and changes no mark. It is kept, with both texts, for as long as the class is.
"""

from __future__ import annotations

import difflib
import hashlib
import json
import math
import re
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from functools import cache
from itertools import combinations
from typing import TYPE_CHECKING

from shared_utils.classroom import answer_text, drawn_values
from shared_utils.pages import cells
from shared_utils.problems.check_records import CheckRecord

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from shared_utils.classroom.folder import ClassFolder

NUMBERS, RESULTS, CODE, WORDS, ID = "numbers", "results", "code", "words", "id"
IN_WORDS = {
    NUMBERS: "another learner's numbers",
    RESULTS: "the same rare wrong results",
    CODE: "the same rare code",
    WORDS: "the same rare words",
    ID: "another learner's id",
}
RARE_SHARE, RARE_COUNTS = 0.1, (2, 5)  # rare is what at most so many of those who answered have
LONG_CODE, SHORT_CODE = 40, 8  # runs of five tokens that are rare and in both
LONG_WORDS = 12  # runs of four words
ALIKE = 0.6  # share of the rare runs that both have
CHANCE_BITS = 5.0  # shared numbers by chance: less than one class in 32
ENOUGH = 2  # weights of what two learners have in common in a set
LARGEST_TEXT = 4000
PLAIN_NUMBERS = {0.5, 0.25, 0.1, 0.01, 0.001, 45.0, 90.0, 180.0, 360.0, 270.0}


@dataclass(frozen=True)
class Alike:
    """What the answers of two learners have in common.

    Attributes
    ----------
    set, problem : str
        An empty problem is the whole notebook.
    kind : str
        One of ``IN_WORDS``.
    one, other : str
        The learners; for ``numbers`` and ``id`` the first has what is the second's.
    why : str
        What is alike and how rare it is, a sentence.
    text_one, text_other : str
        What they wrote.
    found : str
        When it was first noticed, UTC.
    """

    set: str
    problem: str
    kind: str
    one: str
    other: str
    why: str
    text_one: str
    text_other: str
    found: str = ""

    @property
    def pair(self) -> tuple[str, str]:
        """The two learners, in alphabetical order."""
        return (self.one, self.other) if self.one <= self.other else (self.other, self.one)


@dataclass
class Answer:
    """What a learner wrote to a problem, and what its tests said."""

    text: str
    is_code: bool
    earned: float = 0.0
    possible: float = 0.0
    wrong: tuple[str, ...] = ()  # what hidden tests got, where no slip has a name for it
    runs: frozenset = frozenset()

    @property
    def is_right(self) -> bool:
        """Whether every test held."""
        return self.possible > 0 and self.earned >= self.possible


@dataclass
class AnsweredSet:
    """A set as its learners answered it: problem → learner → answer."""

    name: str
    answers: dict[str, dict[str, Answer]] = field(default_factory=lambda: defaultdict(dict))
    shows: dict[str, set[str]] = field(default_factory=dict)
    own_cells: dict[str, str] = field(default_factory=dict)


def look(
    folder: ClassFolder,
    name: str,
    values_of: Callable[[str], Mapping[str, drawn_values.DrawnValues]] | None = None,
) -> list[Alike]:
    """Look through the marked submissions of a set, and return all that was ever found.

    Parameters
    ----------
    folder : ClassFolder
    name : str
        A released set.
    values_of : callable, optional
        Learner → the learner's numbers; computed from the set if not given.

    Returns
    -------
    list of Alike
        Also what was found earlier, and stands in no submission any more.
    """
    from shared_utils.grading.supervisor.records import Records, utc_text

    records = Records(folder.path)
    looked = _state_of(folder, name)
    if records.setting(f"looked {name}") != looked:
        values_of = values_of or (lambda learner: drawn_values.values_of(folder, name, learner))
        found = compare(_read(folder, name), _known(folder, name), values_of)
        with records.opened() as database:
            database.executemany(
                "INSERT OR IGNORE INTO alike VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
                [
                    (
                        *(a.set, a.problem, a.kind, a.one, a.other, a.why),
                        *(a.text_one, a.text_other, utc_text()),
                    )
                    for a in found
                ],
            )
        records.keep_setting(f"looked {name}", looked)
    return kept(folder, name)


def kept(folder: ClassFolder, name: str) -> list[Alike]:
    """Return what was ever found in a set, the pairs with most of it first."""
    from shared_utils.grading.supervisor.records import Records

    query = "SELECT * FROM alike WHERE set_name = ? ORDER BY problem, kind, one, other, found"
    found = [
        Alike(
            *(row["set_name"], row["problem"], row["kind"], row["one"], row["other"], row["why"]),
            *(row["text_one"], row["text_other"], row["found"]),
        )
        for row in Records(folder.path).rows(query, (name,))
    ]
    counts = Counter(each.pair for each in found)
    return sorted(found, key=lambda each: (-counts[each.pair], each.pair))


def compare(
    answered: AnsweredSet,
    known: frozenset,
    values_of: Callable[[str], Mapping[str, drawn_values.DrawnValues]],
) -> list[Alike]:
    """Return what is alike in a rare way in a set.

    Parameters
    ----------
    answered : _Set
        What the learners wrote.
    known : frozenset
        Numbers, and runs of tokens and words, that stand in the set itself.
    values_of : callable
        Learner → the learner's numbers.

    Returns
    -------
    list of Alike
    """
    pieces: dict[tuple[str, str], list[tuple[int, Alike]]] = defaultdict(list)
    for problem, answers in answered.answers.items():
        for weight, alike in _of_problem(answered.name, problem, answers, known):
            pieces[alike.pair].append((weight, alike))
    for alike in _ids(answered):
        pieces[alike.pair].append((ENOUGH, alike))
    for alike in _numbers(answered, known, values_of):
        pieces[alike.pair].append((ENOUGH, alike))
    found = []
    for of_pair in pieces.values():
        best: dict[str, int] = defaultdict(int)
        for weight, alike in of_pair:
            best[alike.problem] = max(best[alike.problem], weight)
        if sum(best.values()) >= ENOUGH:
            found += [alike for _, alike in of_pair]
    return found


def side_by_side(one: str, other: str) -> list[tuple[str, str, bool]]:
    """Return two texts line beside line: (line, line, whether they are the same).

    Examples
    --------
    >>> side_by_side("a = 1\\nb = 2", "a = 1\\nc = 2")
    [('a = 1', 'a = 1', True), ('b = 2', 'c = 2', False)]
    """
    left, right = one.splitlines(), other.splitlines()
    rows = []
    for what, a, b, c, d in difflib.SequenceMatcher(None, left, right, False).get_opcodes():
        here, there = left[a:b], right[c:d]
        for n in range(max(len(here), len(there))):
            pair = [lines[n] if n < len(lines) else "" for lines in (here, there)]
            rows.append((pair[0], pair[1], what == "equal"))
    return rows


def _of_problem(name, problem, answers, known) -> Iterator[tuple[int, Alike]]:
    count = len(answers)
    if count < 3:
        return  # among two nothing is rare
    rare = _rare(count)

    def alike(kind, one, other, why):
        return Alike(name, problem, kind, one, other, why, answers[one].text, answers[other].text)

    by_result = defaultdict(list)
    for learner, answer in answers.items():
        if answer.wrong:
            by_result[answer.wrong].append(learner)
    for learners in by_result.values():
        if 2 <= len(learners) <= rare:
            for one, other in combinations(sorted(learners), 2):
                yield (
                    1,
                    alike(
                        *(RESULTS, one, other),
                        f"Their functions give the same wrong results, which no known slip leads "
                        f"to and {len(learners)} of {count} have: {answers[one].wrong[0]}",
                    ),
                )
    having = Counter(run for answer in answers.values() for run in answer.runs)
    own = {
        learner: frozenset(r for r in answer.runs if having[r] <= rare and r not in known)
        for learner, answer in answers.items()
    }
    sharing = defaultdict(list)
    for learner, runs in own.items():
        for run in runs:
            sharing[run].append(learner)
    pairs = {pair for learners in sharing.values() for pair in combinations(sorted(learners), 2)}
    for one, other in sorted(pairs):
        shared = len(own[one] & own[other])
        if answer_text.jaccard(own[one], own[other]) < ALIKE:
            continue
        is_code = answers[one].is_code
        wrong = is_code and not (answers[one].is_right or answers[other].is_right)
        if shared >= (LONG_CODE if is_code else LONG_WORDS):
            weight = ENOUGH
        elif wrong and shared >= SHORT_CODE:
            weight = 1
        else:
            continue
        what = "runs of five tokens, names and comments aside," if is_code else "runs of four words"
        why = (
            f"{shared} {what} stand in both that at most {rare} of {count} learners have, of "
            f"{len(own[one])} and {len(own[other])}."
        )
        yield weight, alike(CODE if is_code else WORDS, one, other, why)


def _rare(count):
    at_least, at_most = RARE_COUNTS
    return min(max(at_least, int(RARE_SHARE * count)), at_most)


def _ids(answered) -> Iterator[Alike]:
    for learner, ids in answered.shows.items():
        for other in ids:
            why = (
                f"The notebook of {learner} was handed in with outputs for the numbers of {other}."
            )
            yield Alike(answered.name, "", ID, learner, other, why, "", "")


def _numbers(answered, known, values_of) -> Iterator[Alike]:
    """Find numbers in an answer that are another learner's and not one's own."""
    unexplained: dict[str, dict[str, list[answer_text.WrittenNumber]]] = defaultdict(dict)
    learners = sorted({who for answers in answered.answers.values() for who in answers})
    if len(learners) < 2:
        return
    written = {
        (problem, who): _numbers_of(answer)
        for problem, answers in answered.answers.items()
        for who, answer in answers.items()
    }
    having: Counter[tuple[str, float]] = Counter()
    for problem in answered.answers:
        for who in answered.answers[problem]:
            having.update({(problem, number.value) for number in written[problem, who]})
    common = _rare(len(learners)) + 1
    for (problem, who), found in written.items():
        left = [
            number
            for number in found
            if having[problem, number.value] < common and not _is_plain(number, known)
        ]
        if left:
            unexplained[who][problem] = left
    if not unexplained:
        return
    values = {who: values_of(who) for who in learners}
    for who, by_problem in unexplained.items():
        own = [v for values_here in values[who].values() for v in _all_of(values_here)]
        unlike = {
            problem: [n for n in found if not any(n.is_written_for(v) for v in own)]
            for problem, found in by_problem.items()
        }
        tried = sum(len(found) for found in unlike.values())
        for other in learners:
            if other == who:
                continue
            hits = list(_hits(unlike, values[other]))
            bits = sum(hit[0] for hit in hits)
            # among so many others and so many numbers some agree by chance
            bits -= math.log2(max(len(learners) - 1, 1)) + math.log2(math.comb(tried, len(hits)))
            if hits and bits >= CHANCE_BITS:
                for _, problem, number, what, value in hits:
                    mine = _own_value(values[who].get(problem), what)
                    why = (
                        f"{number.value:g} stands in the answer of {who}: {what} is {value:g} for "
                        f"{other}" + (f" and {mine:g} for {who}." if mine is not None else ".")
                    )
                    there = answered.answers[problem].get(other)
                    yield Alike(
                        *(answered.name, problem, NUMBERS, who, other, why),
                        *(answered.answers[problem][who].text, there.text if there else ""),
                    )


def _hits(left, values) -> Iterator[tuple[float, str, answer_text.WrittenNumber, str, float]]:
    """Yield which numbers are another's: bits of surprise, problem, number, what it is, value.

    What is right follows from what was drawn, so it surprises no more than that does.
    """
    for problem, found in left.items():
        here = values.get(problem)
        if not here:
            continue
        cap = sum(math.log2(count) for _, count in here.drawn.values())
        drawn = {
            what: (math.log2(count), number, value)
            for what, (value, count) in here.drawn.items()
            for number in found
            if count > 1 and number.is_written_for(value)
        }
        right = {
            what: (_bits_of(number, value), number, value)
            for what, value in here.right.items()
            for number in found
            if number.digits >= 3 and number.is_written_for(value)
        }
        bits = [sum(hit[0] for hit in hits.values()) for hits in (drawn, right)]
        hits, total = (drawn, bits[0]) if bits[0] >= min(bits[1], cap) else (right, bits[1])
        for what, (own_bits, number, value) in hits.items():
            share = min(total, cap) * own_bits / total
            yield share, problem, number, what.replace("_", " "), value


def _bits_of(number, value):
    """Return how surprising it is that a number is written just so, in bits."""
    is_in_quarters = abs(4 * value - round(4 * value)) < 1e-9  # as powers are made
    return 4.0 if is_in_quarters else (number.digits - 1) * math.log2(10)


def _own_value(values, what):
    if values is None:
        return None
    drawn = {name.replace("_", " "): value for name, (value, _) in values.drawn.items()}
    return drawn.get(what, values.right.get(what))


def _all_of(values):
    return [*(value for value, _ in values.drawn.values()), *values.right.values()]


def _numbers_of(answer):
    if answer.is_code:
        return answer_text.numbers_in_code(answer.text)
    return answer_text.numbers_in_text(answer.text)


def _is_plain(number, known):
    """Return whether a number says nothing of where it is from."""
    size = abs(number.value)
    is_power = size > 0 and abs(math.log10(size) - round(math.log10(size))) < 1e-12
    small = number.decimals == 0 and size <= 12
    return small or is_power or size in PLAIN_NUMBERS or number.value in known or size in known


def _known(folder, name):
    """Return what stands in the set itself: numbers, and runs of tokens and words."""
    known: set = set()
    for text in (folder.source(name), folder.released(name)):
        for cell in json.loads(text.read_bytes())["cells"]:
            source = "".join(cell["source"])
            if cell["cell_type"] == "code":
                known |= {abs(number.value) for number in answer_text.numbers_in_code(source)}
                known |= _runs(source, True)
            known |= {abs(number.value) for number in answer_text.numbers_in_text(source)}
            if cell["cell_type"] != "code":
                known |= _runs(source, False)
    return frozenset(known)


@cache
def _runs(text, is_code):
    if is_code:
        return answer_text.shingles(answer_text.code_tokens(text), answer_text.TOKENS_TOGETHER)
    return answer_text.shingles(answer_text.words(text), answer_text.WORDS_TOGETHER)


def _read(folder, name):
    """Return what learners wrote in a set, from the marked notebooks."""
    answered = AnsweredSet(name)
    roster = folder.roster()
    released = {
        cells.grade_id(cell): "".join(cell["source"]).strip()
        for cell in json.loads(folder.released(name).read_bytes())["cells"]
    }
    for learner in folder.graded(name):
        try:
            notebook = json.loads(folder.marked(name, learner).read_bytes())
            _add(answered, learner, notebook, released)
        except (OSError, ValueError, LookupError, TypeError, AttributeError):
            continue  # the report names a marked notebook that was damaged
        answered.shows[learner] = {
            shown for shown in _ids_shown(folder, name, learner) if shown in roster
        } - {learner}
    return answered


def _add(answered, learner, notebook, released):
    before = ""
    for cell in notebook["cells"]:
        problem, kind = cells.grade_id_parts(cell)
        text = "".join(cell["source"])
        if not kind:
            if cell["cell_type"] == "code":
                before = text
            continue
        key = problem or ""
        if kind in ("answer", "written"):
            if text.strip() == released.get(cells.grade_id(cell)):
                continue
            is_code = cell["cell_type"] == "code"
            whole = f"{before}\n\n{text}".strip() if is_code and before else text
            answer = Answer(whole[:LARGEST_TEXT], is_code)
            answer.runs = _runs(answer.text, is_code)
            answered.answers[key][learner] = answer
            before = ""
        elif kind in ("check", "hidden") and learner in answered.answers[key]:
            answer = answered.answers[key][learner]
            records = [CheckRecord.from_dict(record) for record in cells.records(cell)]
            answer.earned += sum(record.earned or 0.0 for record in records)
            answer.possible += sum(record.possible or 0.0 for record in records)
            if kind == "hidden":
                answer.wrong += tuple(
                    record.sentence
                    for record in map(CheckRecord.from_dict, cells.results(cell))
                    if record.slip in ("unnamed", "stopped")
                )


def _ids_shown(folder, name, learner):
    """Return whose numbers the outputs show that were handed in."""
    try:
        notebook = json.loads(folder.submitted(name, learner).read_bytes())
        outputs = json.dumps([cell.get("outputs", []) for cell in notebook["cells"]])
    except (OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError):
        return set()
    return set(re.findall(r"Numbers (?:for learner:|of learner) ([A-Za-z0-9._@-]*[\w@-])", outputs))


def _state_of(folder, name):
    """Return what tells the marked submissions to a set, as they are, from any others."""
    digest = hashlib.sha256(folder.source(name).read_bytes())
    for learner in folder.graded(name):
        marked = folder.marked(name, learner).stat()
        digest.update(f"{learner} {marked.st_size} {marked.st_mtime_ns}\0".encode())
    return digest.hexdigest()
