"""The map of the course: its parts, its lessons, and which of them are there."""

import html

from IPython.display import HTML

from shared_utils.course.place import course_root
from shared_utils.show.figure_with_alt import TABLE

PARTS = (
    (
        "Vergence",
        (
            ("01", "vergence", "Vergence"),
            ("02", "eye", "The eye as an optical system"),
            ("03", "glasses", "Glasses and planes"),
            ("04", "astigmatism", "Astigmatism"),
        ),
    ),
    (
        "Lens power",
        (
            ("05", "measuring", "Measuring the eye"),
            ("06", "formulas", "Power formulas"),
            ("07", "outcomes", "Constants and outcomes"),
            ("08", "difficult_eyes", "Difficult eyes"),
            ("09", "toric", "Toric lenses"),
        ),
    ),
    (
        "Splitting light",
        (
            ("10", "one_focus", "One focus"),
            ("11", "two_foci", "Two foci and more"),
            ("12", "range_of_focus", "Range of focus"),
        ),
    ),
    (
        "Candidacy",
        (
            ("13", "examination", "The examination"),
            ("14", "tasks", "Tasks and glasses"),
            ("15", "consultation", "The consultation"),
        ),
    ),
)

# what stands behind the lessons
AFTER = (
    ("16", "mixed_review", "Mixed review and a clinic day"),
    ("17", "practice", "Practice, spaced over the days"),
    ("18", "mock_examination", "Mock examination"),
)


def stems():
    """Return the names of the lessons that are there, in order.

    Returns
    -------
    list of str
    """
    root = course_root() / "lessons" / "source"
    named = [f"{number}_{slug}" for _, lessons in PARTS for number, slug, _ in lessons]
    return [stem for stem in named if (root / f"{stem}.py").is_file()]


def named(numbers):
    """Return the names of lessons from their numbers or names.

    Parameters
    ----------
    numbers : sequence of str
        As ``"1"``, ``"01"`` or ``"01_vergence"``.

    Returns
    -------
    list of str

    Raises
    ------
    ValueError
        If a lesson is not there; the message lists those that are.

    Examples
    --------
    >>> named(["1"])
    ['01_vergence']
    """
    found = []
    for wanted in numbers:
        here = [s for s in stems() if s == wanted or s[:2].lstrip("0") == wanted.lstrip("0")]
        if not here:
            raise ValueError(f"There is no lesson {wanted!r}; give one of: {', '.join(stems())}.")
        found += here
    return found


def title_of_set(name):
    """Return what a problem set is called: its number, and the title of its lesson if it has one.

    Parameters
    ----------
    name : str

    Returns
    -------
    str

    Examples
    --------
    >>> title_of_set("01_vergence")
    'Problem set 01: Vergence'
    """
    number, _, rest = name.partition("_")
    return f"Problem set {number}: {_titles().get(name, rest)}"


def title_of(stem):
    """Return a lesson's number and title.

    Parameters
    ----------
    stem : str
        Such as ``"01_vergence"``.

    Returns
    -------
    str

    Examples
    --------
    >>> title_of("01_vergence")
    '01 Vergence'
    """
    return f"{stem.partition('_')[0]} {_titles()[stem]}"


def _titles():
    return {f"{number}_{slug}": title for _, part in PARTS for number, slug, title in part}


def part_number(stem):
    """Return the part that a lesson belongs to, counted from 1.

    Parameters
    ----------
    stem : str
        Such as ``"01_vergence"``.

    Returns
    -------
    int

    Examples
    --------
    >>> part_number("06_formulas")
    2
    """
    for part, (_, lessons) in enumerate(PARTS, start=1):
        if any(stem == f"{number}_{slug}" for number, slug, _ in lessons):
            return part
    raise ValueError(f"There is no lesson {stem!r}; the map in lesson 00 has them all.")


def part_of(stem):
    """Return the part that a lesson belongs to, in words.

    Parameters
    ----------
    stem : str

    Returns
    -------
    str

    Examples
    --------
    >>> part_of("06_formulas")
    '2 · Lens power'
    """
    number = part_number(stem)
    return f"{number} · {PARTS[number - 1][0]}"


def course_map():
    """Return the map as a table: lessons with links, and what is still to come.

    Returns
    -------
    IPython.display.HTML
    """
    root = course_root()
    rows = []
    groups = [(f"{part} · {name}", lessons) for part, (name, lessons) in enumerate(PARTS, start=1)]
    for name, lessons in (*groups, ("Afterwards", AFTER)):
        for place, (number, slug, title) in enumerate(lessons):
            stem = f"{number}_{slug}"
            head = f'<th scope="rowgroup" rowspan="{len(lessons)}">{name}</th>'
            lesson, problems = "in preparation", ""
            if (root / "lessons" / "source" / f"{stem}.py").is_file():
                lesson = f'<a href="{stem}.ipynb">lesson</a>'
            if (root / "solutions" / f"{stem}.py").is_file():
                problems = f'<a href="../exercises/{stem}/problems.ipynb">problems</a>'
            rows.append(
                f"<tr>{head if place == 0 else ''}<td>{number}</td><td>{html.escape(title)}</td>"
                f"<td>{lesson}</td><td>{problems}</td></tr>"
            )
    return HTML(
        f"{TABLE}<thead><tr><th>part</th><th>no.</th><th>title</th><th>page</th><th>problems</th>"
        f"</tr></thead><tbody>{''.join(rows)}</tbody></table>"
    )
