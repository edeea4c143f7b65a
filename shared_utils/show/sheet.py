"""The patient's sheet as a web page that prints on one page, with its two pictures.

The words come from ``choice.counselling``. The pictures are drawn as SVG, so that they stay sharp
on paper and their letters can be read aloud; others may be handed over instead.
"""

from __future__ import annotations

import base64
import html
import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING

from shared_utils.cases.light import MOON_MRAD
from shared_utils.cases.sheet import DISTANCE_M, clear_ranges, rings_by_class
from shared_utils.choice import counselling
from shared_utils.choice.counselling import LensPart
from shared_utils.show import embedded_font, style

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Any

    from shared_utils.choice.counselling import Sheet
    from shared_utils.choice.findings import Patient

_TICKS_M = (20.0, 2.0, 1.0, 0.6, 0.4, 0.33)
_CSS = """
:root { color-scheme: light; }
body { font: 1.06rem/1.4 "Sheet Sans", sans-serif; color: #000; background: #fff; margin: 0 auto;
  max-width: 46rem; padding: 0.8rem; overflow-wrap: anywhere;
  text-rendering: geometricPrecision; /* letters as wide as the font says, on any machine */ }
h1 { font-size: 1.55rem; margin: 0 0 0.3rem; }
h2 { font-size: 1.15rem; margin: 0.9rem 0 0.2rem; border-bottom: 2px solid #000; }
h3 { font-size: 1.05rem; margin: 0.5rem 0 0; }
p, ul { margin: 0.15rem 0; }
ul { padding-left: 1.2rem; }
.small { font-size: 0.85rem; }
.first { font-weight: bold; }
.caution { border: 2px solid #000; padding: 0.3rem 0.5rem; font-weight: bold; }
figure { margin: 0.4rem 0; }
figure svg, figure img { display: block; width: 100%; height: auto; max-width: 34rem; }
@page { margin: 9mm; }
@media print {
  body { font-size: 8pt; line-height: 1.07; max-width: none; padding: 0; }
  h1 { font-size: 13pt; }
  h2 { font-size: 9.3pt; margin: 1mm 0 0.2mm; border-bottom-width: 1px; break-after: avoid; }
  h3 { font-size: 8.5pt; margin: 0.7mm 0 0; }
  .small { font-size: 7pt; }
  .sheet { columns: 2; column-gap: 7mm; }
  figure svg, figure img { max-width: 72mm; margin: 0 auto; }
  .lens, figure, .caution { break-inside: avoid; }
}
"""


@dataclass(frozen=True)
class Picture:
    """A picture of the sheet.

    Parameters
    ----------
    section : str
        Under which heading it stands: "see" or "night".
    alt : str
        What to conclude from it, in the patient's words.
    svg : str
        The drawing; or
    png : bytes
        a picture of points.
    """

    section: str
    alt: str
    svg: str = ""
    png: bytes = b""

    def as_html(self) -> str:
        """Return the picture as a figure of a web page, read aloud as its alt text."""
        alt = html.escape(self.alt, quote=True)
        if self.svg:
            drawn = self.svg.replace("<svg ", f'<svg role="img" aria-label="{alt}" ', 1)
        else:
            data = base64.b64encode(self.png).decode("ascii")
            drawn = f'<img alt="{alt}" src="data:image/png;base64,{data}">'
        return f"<figure>{drawn}</figure>"


def as_html(
    patient: Patient,
    target_d: float = 0.0,
    fellow_target_d: float | None = None,
    words: dict[str, Any] | None = None,
    pictures: Sequence[Picture] | None = None,
    invented: bool = False,
) -> str:
    """Return the whole sheet of a patient as a web page of its own.

    Parameters
    ----------
    patient, target_d, fellow_target_d, words
        As for ``counselling.sheet``.
    pictures : sequence of Picture, optional
        Other pictures than `range_picture` and `night_picture`.
    invented : bool
        As for ``counselling.sheet``.

    Returns
    -------
    str
        HTML; prints on one page of A4 or Letter.

    Examples
    --------
    >>> from shared_utils.choice.findings import otherwise_healthy
    >>> page = as_html(otherwise_healthy())
    >>> page.startswith("<!doctype html>"), "not for patient care" in page
    (True, True)
    """
    words = counselling.wording() if words is None else words
    message = counselling.sheet(patient, target_d, fellow_target_d, words, invented)
    if pictures is None:
        classes = [part.lens_class for part in message.lenses]
        pictures = (
            range_picture(patient, classes, target_d, fellow_target_d, words),
            night_picture(patient, classes, words),
        )
    return page(message, pictures)


def page(message: Sheet, pictures: Sequence[Picture] = ()) -> str:
    """Return a web page of the words of a sheet and its pictures.

    Parameters
    ----------
    message : counselling.Sheet
    pictures : sequence of Picture

    Returns
    -------
    str
        HTML.
    """
    body = [
        _paragraph(message.caution, "small first"),
        f"<h1>{_safe(message.title)}</h1>",
        _paragraph(message.for_whom, "small"),
        _paragraph(" ".join(message.intro)),
    ]
    drawn = {key: [p.as_html() for p in pictures if p.section == key] for key in ("see", "night")}
    for key, heading, parts in message.sections():
        body.append(f"<h2>{_safe(heading)}</h2>")
        if key == "night":
            body += drawn["night"]
        lens_parts = [part for part in parts if isinstance(part, LensPart)]
        if lens_parts:
            body += [
                _lens(part) if isinstance(part, LensPart) else _paragraph(part, "note")
                for part in parts
            ]
        else:
            body.append(f"<ul>{''.join(f'<li>{_safe(part)}</li>' for part in parts)}</ul>")
        if key == "lenses" and drawn["see"]:
            body += [f"<h2>{_safe(message.headings['see'])}</h2>", *drawn["see"]]
    sources = "; ".join(message.sources)
    body.append(_paragraph(f"{message.headings['sources']}: {sources}.", "small"))
    body.append(_paragraph(message.caution, "caution"))
    shown = "\n".join(body)
    css = _CSS + embedded_font.css(html.unescape(shown))
    return (
        f'<!doctype html>\n<html lang="{_safe(message.language)}">\n<head>\n'
        '<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{_safe(message.title)} {_safe(message.for_whom)}</title>\n<style>{css}</style>\n"
        f'</head>\n<body>\n<main class="sheet">\n{shown}\n</main>\n</body>\n</html>\n'
    )


def range_picture(
    patient: Patient,
    classes: Sequence[str],
    target_d: float = 0.0,
    fellow_target_d: float | None = None,
    words: dict[str, Any] | None = None,
) -> Picture:
    """Return the picture of how far a patient would see clearly with each lens.

    Parameters
    ----------
    patient : findings.Patient
    classes : sequence of str
        Classes of lens to draw.
    target_d, fellow_target_d, words
        As for ``counselling.sheet``.

    Returns
    -------
    Picture
        A bar where the model predicts 20/32 or better, a thin one where the model's uncertainty
        of one line may make it so.
    """
    words = counselling.wording() if words is None else words
    message = words["picture"]
    bottom = 14 + 34 * len(classes)
    rows = [
        f'<path d="M{_x(distance):.1f} 0V{bottom - 8}" stroke="#999" stroke-dasharray="2 4"/>'
        for distance in _TICKS_M
    ]
    alt = []
    for row, ranges in enumerate(clear_ranges(patient, classes, target_d, fellow_target_d)):
        lens_class = ranges.lens_class
        top = 14 + 34 * row
        colour = style.LENS_LINES[lens_class].colour
        name = words["lens"][lens_class]["name"]
        rows.append(
            f'<text x="4" y="{top}" font-size="13" stroke="#fff" stroke-width="4" '
            f'paint-order="stroke">{_safe(name)}</text>'
        )
        for stretches, height in ((ranges.perhaps, 4), (ranges.clear, 11)):
            for start, end in stretches:
                left, right = _x(DISTANCE_M[start]), _x(DISTANCE_M[end])
                rows.append(
                    f'<rect x="{left:.1f}" y="{top + 11 - height / 2:g}" height="{height}" '
                    f'width="{max(right - left, 2.0):.1f}" fill="{colour}"/>'
                )
        clear = [
            message["see_range"].format(start=_far_or(start, message), end=_far_or(end, message))
            for start, end in ranges.clear
        ]
        template = message["see_alt"] if clear else message["see_none"]
        alt.append(template.format(name=name, ranges=message["and"].join(clear)))
    for distance in _TICKS_M:
        x = _x(distance)
        label = message["far"] if distance == _TICKS_M[0] else _distance(distance, message)
        anchor = "start" if distance == _TICKS_M[0] else "middle"
        rows.append(
            f'<text x="{x:.1f}" y="{bottom + 6}" font-size="12" text-anchor="{anchor}">'
            f"{_safe(label)}</text>"
        )
    key = bottom + 24
    rows.append(
        f'<rect x="90" y="{key - 9}" width="26" height="11"/><text x="122" y="{key}" '
        f'font-size="12">{_safe(message["clear"])}</text><rect x="190" y="{key - 6}" width="26" '
        f'height="4"/><text x="222" y="{key}" font-size="12">{_safe(message["maybe"])}</text>'
    )
    return Picture("see", " ".join(alt), _svg(360, key + 8, rows))


def night_picture(
    patient: Patient, classes: Sequence[str], words: dict[str, Any] | None = None
) -> Picture:
    """Return the picture of a street lamp at night through each lens.

    Each focus that is not used for far adds a disc as wide as pupil times add, its light spread
    over its area.

    Parameters
    ----------
    patient : findings.Patient
    classes : sequence of str
        Classes of lens to draw.
    words : dict, optional
        From ``counselling.wording``.

    Returns
    -------
    Picture

    Sources
    -------
    Alba-Bueno et al. 2014: the width of a halo is the pupil times the add over the eye's power;
    as an angle, pupil times add.
    """
    words = counselling.wording() if words is None else words
    message = words["picture"]
    rings = rings_by_class(patient, classes)
    step = 360.0 / len(classes)
    widest = max((ring for found in rings.values() for ring, _ in found), default=MOON_MRAD)
    per_mrad = min(0.92 * step, 110.0) / max(widest, 2.0 * MOON_MRAD)
    tall = max(110.0, 66 + per_mrad * widest)
    drawn = [f'<rect width="360" height="{tall:.0f}" fill="#000"/>']
    each = []
    for column, (lens_class, found) in enumerate(rings.items()):
        x, y = step * (column + 0.5), 8 + (tall - 54) / 2
        for ring, share in found:
            drawn.append(
                f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{ring * per_mrad / 2:.1f}" fill="#ffe9b0" '
                f'fill-opacity="{0.15 + 0.6 * share:.2f}"/>'
            )
        drawn.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.2" fill="#fff"/>')
        name = words["lens"][lens_class]["name"]
        for line, part in enumerate(textwrap.wrap(name, max(12, int(step / 6)))):
            drawn.append(
                f'<text x="{x:.1f}" y="{tall - 30 + 11 * line:.0f}" font-size="10.5" fill="#fff" '
                f'text-anchor="middle">{_safe(part)}</text>'
            )
        if found:
            times = f"{max(ring for ring, _ in found) / MOON_MRAD:.1f}"
            each.append(message["night_ring"].format(name=name, times=times))
        else:
            each.append(message["night_no_ring"].format(name=name))
    moon, y = MOON_MRAD * per_mrad, tall + 14
    drawn.append(
        f'<path d="M6 {y - 4:.0f}h{moon:.1f}" stroke="#000" stroke-width="3"/>'
        f'<text x="{moon + 12:.1f}" y="{y:.0f}" font-size="12">{_safe(message["moon"])}</text>'
        f'<text x="6" y="{y + 16:.0f}" font-size="11">{_safe(message["night_note"])}</text>'
    )
    alt = f"{message['night_alt'].format(each=' '.join(each))} {message['night_note']}"
    return Picture("night", alt, _svg(360, y + 22, drawn))


def _x(distance_m):
    """Place on the axis: equal steps of vergence, far on the left."""
    return 14.0 + 326.0 * (1.0 / distance_m - 0.05) / (3.3 - 0.05)


def _far_or(place, message):
    return message["far"] if place == 0 else _distance(DISTANCE_M[place], message)


def _distance(distance_m, message):
    if distance_m >= 1.0:
        return message["metres"].format(number=f"{distance_m:.2g}")
    return message["centimetres"].format(number=f"{100.0 * distance_m:.0f}")


def _svg(width, height, parts):
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height:.0f}" '
        f'font-family="{embedded_font.FAMILY}, sans-serif">{"".join(parts)}</svg>'
    )


def _lens(part):
    title = f"{_safe(part.name)} <span class='small'>({_safe(part.trade_name)})</span>"
    lines = "".join(f"<li>{_safe(line)}</li>" for line in part.lines)
    return (
        f'<div class="lens"><h3>{title}</h3><p>{_safe(part.what)} <strong>'
        f"{_safe(part.verdict)}</strong> {_safe(part.wish)}</p>"
        f"{f'<ul>{lines}</ul>' if lines else ''}</div>"
    )


def _paragraph(text, kind=""):
    return f'<p class="{kind}">{_safe(text)}</p>' if kind else f"<p>{_safe(text)}</p>"


def _safe(text):
    return html.escape(text, quote=True)
