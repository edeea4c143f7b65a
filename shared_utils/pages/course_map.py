"""The map of the course: its parts and pages, with links, as the first page shows it."""

import html
import itertools

from IPython.display import HTML

from shared_utils.course import manifest
from shared_utils.show.figure_with_alt import TABLE


def table() -> HTML:
    """Return the map as a table.

    Returns
    -------
    IPython.display.HTML
    """
    pages = manifest.of().pages
    first = next(n for n, page in enumerate(pages) if page.part)
    rows = []
    for part, group in itertools.groupby(pages[first:], key=lambda page: page.part):
        together = list(group)
        name = f"{part.number} · {html.escape(part.title)}" if part else "Afterwards"
        for place, page in enumerate(together):
            head = f'<th scope="rowgroup" rowspan="{len(together)}">{name}</th>'
            problems = ""
            if page.problem_set:
                problems = f'<a href="../exercises/{page.stem}/problems.ipynb">problems</a>'
            rows.append(
                f"<tr>{head if place == 0 else ''}<td>{page.number}</td>"
                f"<td>{html.escape(page.title)}</td>"
                f'<td><a href="{page.stem}.ipynb">lesson</a></td><td>{problems}</td></tr>'
            )
    return HTML(
        f"{TABLE}<thead><tr><th>part</th><th>no.</th><th>title</th><th>page</th><th>problems</th>"
        f"</tr></thead><tbody>{''.join(rows)}</tbody></table>"
    )
