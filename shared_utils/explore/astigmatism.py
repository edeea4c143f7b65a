"""Sliders on astigmatism: power around a lens, the lines of an astigmatic eye, cylinders added."""

from dataclasses import dataclass

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Ellipse, FancyArrowPatch, Rectangle

from shared_utils.explore.engine import Demo, Slider
from shared_utils.optics import acuity
from shared_utils.optics.sphero_cylinder import SpheroCylinder, Sturm, interval_of_sturm
from shared_utils.show import style
from shared_utils.show.style import signed

SPHERE_D = -1.00
MERIDIANS_DEG = np.linspace(0.0, 180.0, 181)


def degrees(angle_deg):
    """Return an angle as it is written: whole degrees.

    >>> degrees(29.6)
    '30°'
    """
    return f"{angle_deg:.0f}°"


# --- power around a lens ---------------------------------------------------------------------


@dataclass(frozen=True)
class Around:
    """A lens, and its power along a meridian and along all."""

    lens: SpheroCylinder
    meridian_deg: float
    power_d: float
    powers_d: np.ndarray
    from_axis_deg: float
    share: float


def around(cylinder_d, axis_deg, meridian_deg):
    """Return the power of a lens of sphere −1.00 D along a meridian.

    Parameters
    ----------
    cylinder_d : float
        Cylinder, D, either sign.
    axis_deg, meridian_deg : float
        Its axis, and the meridian asked about, 0 to 180°.

    Returns
    -------
    Around

    Examples
    --------
    >>> around(-2.0, 30.0, 60.0).power_d
    -1.5
    """
    lens = SpheroCylinder(SPHERE_D, cylinder_d, axis_deg)
    gap_deg = abs((meridian_deg - axis_deg + 90.0) % 180.0 - 90.0)
    return Around(
        lens,
        meridian_deg,
        round(lens.power_along(meridian_deg), 9),
        lens.power_along(MERIDIANS_DEG),
        gap_deg,
        float(np.sin(np.radians(gap_deg)) ** 2),
    )


def _build_around():
    figure = Figure(figsize=(7.0, 3.4), dpi=style.DPI, layout="constrained")
    glass, curve = figure.subplots(1, 2, width_ratios=(1.0, 1.55))
    glass.set(xlim=(-1.5, 1.5), ylim=(-1.75, 1.55), aspect="equal", xticks=[], yticks=[])
    for spine in glass.spines.values():
        spine.set_visible(False)
    glass.add_patch(Circle((0, 0), 1.0, facecolor="#e4edf5", edgecolor=style.GREY))
    curve.set(
        xlim=(0, 180),
        ylim=(-4.6, 2.9),
        xticks=range(0, 181, 30),
        xlabel="meridian, °",
        ylabel="power along it, D",
    )
    curve.axhline(SPHERE_D, color=style.GREY, linewidth=0.8)
    curve.text(184, SPHERE_D, "sphere", color=style.GREY, ha="left", va="center")
    artists = {}
    (artists["axis"],) = glass.plot([], [], color=style.BLUE, linewidth=3)
    (artists["across"],) = glass.plot([], [], color=style.VERMILION, linewidth=3, dashes=(4, 2))
    (artists["asked"],) = glass.plot([], [], color="black", linewidth=1.5)
    artists["asked text"] = glass.text(0, 1.32, "", ha="center", va="center")
    artists["axis text"] = glass.text(0, -1.28, "", ha="center", va="center", color=style.BLUE)
    artists["across text"] = glass.text(
        0, -1.58, "", ha="center", va="center", color=style.VERMILION
    )
    (artists["powers"],) = curve.plot([], [], color=style.GREY)
    for name, marker, colour in (
        ("at axis", "s", style.BLUE),
        ("at across", "D", style.VERMILION),
        ("here", "o", "black"),
    ):
        (artists[name],) = curve.plot([], [], marker, color=colour, markersize=8, clip_on=False)
        artists[name].set_in_layout(False)  # the edge of the axes does not cut it
    artists["here text"] = curve.text(90, 2.55, "", ha="center", va="center", weight="bold")
    return figure, artists


def _line(angle_deg, reach=1.0):
    x, y = reach * np.cos(np.radians(angle_deg)), reach * np.sin(np.radians(angle_deg))
    return [-x, x], [-y, y]


def _move_around(artists, seen):
    axis_deg = seen.lens.axis_deg
    across_deg = seen.lens.transposed().axis_deg
    artists["axis"].set_data(*_line(axis_deg))
    artists["across"].set_data(*_line(across_deg))
    artists["asked"].set_data(*_line(seen.meridian_deg, 1.15))
    artists["asked text"].set_text(f"asked: along {degrees(seen.meridian_deg)}")
    artists["axis text"].set_text(f"axis {degrees(axis_deg)}: no cylinder")
    artists["across text"].set_text(f"{degrees(across_deg)}: all of it")
    artists["powers"].set_data(MERIDIANS_DEG, seen.powers_d)
    artists["at axis"].set_data([axis_deg], [SPHERE_D])
    artists["at across"].set_data([across_deg], [SPHERE_D + seen.lens.cylinder_d])
    artists["here"].set_data([seen.meridian_deg], [seen.power_d])
    artists["here text"].set_text(f"{degrees(seen.meridian_deg)}: {signed(seen.power_d)}")


def _say_around(seen):
    if not seen.lens.axis_is_meaningful:
        return (
            "With no cylinder the lens is a sphere: −1.00 D along every meridian, and no axis to "
            f"speak of. So it is along {degrees(seen.meridian_deg)}."
        )
    return (
        f"{seen.lens.written()} and {seen.lens.transposed().written()} are one lens. Along "
        f"{degrees(seen.meridian_deg)}, {degrees(seen.from_axis_deg)} from the first axis, it has "
        f"{signed(seen.power_d)}: the sphere and {100 * seen.share:.0f} % of the cylinder."
    )


def _describe_around(seen):
    return (
        f"A lens with its meridians, and the curve of its power along them. {_say_around(seen)} "
        "Between axis and right angle the power runs as a sine squared."
    )


def power_around():
    """Return the demo: cylinder, axis and a meridian against the power along it."""
    return Demo(
        title="power of a lens along its meridians",
        controls=(
            Slider("cylinder_d", "Cylinder, D (sphere −1.00 D)", -3, 3, 0.25, -2, "D", signed=True),
            Slider("axis_deg", "Its axis, °", 5, 180, 5, 30, "°"),
            Slider("meridian_deg", "Meridian asked about, °", 5, 180, 5, 30, "°"),
        ),
        build=_build_around,
        compute=around,
        move=_move_around,
        sentence=_say_around,
        alt=_describe_around,
    )


# --- two lines and a circle ------------------------------------------------------------------

REACH_MM = (-2.1, 1.45)
PLACES_MM = np.array(REACH_MM)
LETTER_UM = acuity.retinal_size_um(15.0)  # 20/60


@dataclass(frozen=True)
class Spot:
    """What an astigmatic eye behind a sphere makes of a distant point."""

    eye: SpheroCylinder
    lens_d: float
    pupil_mm: float
    remaining: SpheroCylinder
    sturm: Sturm
    vertical_line_mm: float
    horizontal_line_mm: float
    circle_mm: float
    width_um: float
    height_um: float


def spot(cylinder_d, lens_d, pupil_mm):
    """Return lines, circle and the spot on the retina of an eye 0.00 C × 180 behind a sphere.

    Parameters
    ----------
    cylinder_d : float
        Cylinder of the eye's refraction, axis 180, D; 0 or less.
    lens_d : float
        Sphere held before the eye, at its cornea, D.
    pupil_mm : float
        Pupil diameter, mm.

    Returns
    -------
    Spot
        Places in mm behind the retina, negative in front of it; no accommodation.

    Examples
    --------
    Half the cylinder as sphere puts the circle of least confusion on the retina.

    >>> round(spot(-2.0, -1.0, 4.0).circle_mm, 6)
    0.0
    """
    eye = SpheroCylinder(0.0, cylinder_d, 180)
    remaining = SpheroCylinder(-lens_d, cylinder_d, 180)
    sturm = interval_of_sturm(remaining, pupil_mm)
    # light in the horizontal meridian, which has the axis, ends in the vertical line
    vertical_mm, horizontal_mm = sturm.second_line_mm, sturm.first_line_mm
    return Spot(
        eye,
        lens_d,
        pupil_mm,
        remaining,
        sturm,
        vertical_mm - sturm.retina_mm,
        horizontal_mm - sturm.retina_mm,
        sturm.circle_mm - sturm.retina_mm,
        1000.0 * pupil_mm * abs(1.0 - sturm.retina_mm / vertical_mm),
        1000.0 * pupil_mm * abs(1.0 - sturm.retina_mm / horizontal_mm),
    )


def _build_spot():
    figure = Figure(figsize=(7.0, 3.5), dpi=style.DPI, layout="constrained")
    way, retina = figure.subplots(1, 2, width_ratios=(1.75, 1.0))
    way.set(
        xlim=REACH_MM,
        ylim=(-0.76, 0.76),
        yticks=[],
        xlabel="mm behind the retina (negative: in front)",
    )
    way.spines["left"].set_visible(False)
    way.plot([0, 0], [-0.56, 0.56], color=style.GREY, linewidth=3)
    way.axhline(0, color=style.GREY, linewidth=0.6)
    way.text(0.06, -0.53, "retina", color=style.GREY, va="center")
    way.text(-2.05, -0.53, "black bar: the circle", va="center")
    beam = Rectangle((REACH_MM[0], -0.46), np.ptp(REACH_MM), 0.92, visible=False)
    way.add_patch(beam)
    retina.set(
        xlim=(-270, 270),
        ylim=(-270, 270),
        aspect="equal",
        xticks=(-200, 0, 200),
        yticks=(-200, 0, 200),
        xlabel="spot on the retina, µm",
    )
    _draw_letter(retina)
    artists = {}
    for meridian, colour, dashes in (
        ("vertical", style.BLUE, (None, None)),
        ("horizontal", style.ORANGE, (5, 2)),
    ):
        for side in (-1, 1):
            (artists[f"{meridian} {side}"],) = way.plot([], [], color=colour, dashes=dashes)
            artists[f"{meridian} {side}"].set_clip_path(beam)
    (artists["circle"],) = way.plot([], [], color="black", linewidth=4, solid_capstyle="butt")
    (artists["horizontal line"],) = way.plot([], [], "s", color=style.BLUE, markersize=8)
    (artists["vertical line"],) = way.plot([], [], "D", color=style.ORANGE, markersize=8)
    artists["horizontal text"] = way.text(
        np.mean(REACH_MM), 0.68, "", color=style.BLUE, ha="center", va="center"
    )
    artists["vertical text"] = way.text(
        np.mean(REACH_MM), -0.68, "", color="#8a5f00", ha="center", va="center"
    )
    artists["spot"] = retina.add_patch(
        Ellipse((0, 0), 1, 1, facecolor=style.VERMILION, edgecolor="black", alpha=0.75)
    )
    return figure, artists


def _draw_letter(axes):
    """Draw an E as large as a 20/60 letter on the retina into the corner."""
    bar, left, low = LETTER_UM / 5.0, 150.0, -250.0
    axes.add_patch(Rectangle((left, low), bar, LETTER_UM, color="black"))
    for row in (0, 2, 4):
        axes.add_patch(Rectangle((left, low + row * bar), LETTER_UM, bar, color="black"))
    axes.set_title("E: a 20/60 letter")


def _move_spot(artists, seen):
    places_mm = PLACES_MM + seen.sturm.retina_mm
    for meridian, focus_mm in (
        ("vertical", seen.horizontal_line_mm),
        ("horizontal", seen.vertical_line_mm),
    ):
        half = seen.pupil_mm / 2.0 * (1.0 - places_mm / (focus_mm + seen.sturm.retina_mm))
        for side in (-1, 1):
            artists[f"{meridian} {side}"].set_data(REACH_MM, side * half)
    half_circle = seen.sturm.circle_diameter_um / 2000.0
    artists["circle"].set_data([seen.circle_mm] * 2, [-half_circle, half_circle])
    artists["horizontal line"].set_data([seen.horizontal_line_mm], [0.0])
    artists["vertical line"].set_data([seen.vertical_line_mm], [0.0])
    for name, place_mm in (
        ("horizontal", seen.horizontal_line_mm),
        ("vertical", seen.vertical_line_mm),
    ):
        artists[f"{name} text"].set_text(f"{name} line {_place(place_mm)}")
    artists["spot"].set_width(max(seen.width_um, 4.0))
    artists["spot"].set_height(max(seen.height_um, 4.0))


def _place(place_mm):
    if abs(place_mm) < 0.005:
        return "on the retina"
    return f"{abs(place_mm):.2f} mm {'behind' if place_mm > 0 else 'in front'}"


def _say_spot(seen):
    return (
        f"Eye {seen.eye.written()} behind {signed(seen.lens_d)}: horizontal line "
        f"{_place(seen.horizontal_line_mm)}, vertical line {_place(seen.vertical_line_mm)}, "
        f"circle {_place(seen.circle_mm)}; spot {seen.width_um:.0f} µm wide, "
        f"{seen.height_um:.0f} µm high."
    )


def _describe_spot(seen):
    if max(seen.width_um, seen.height_um) < 1.0:
        shape = "a point"
    elif abs(seen.width_um - seen.height_um) < 1.0:
        shape = "a circle"
    elif seen.width_um > seen.height_um:
        shape = "lying, wider than high"
    else:
        shape = "standing, higher than wide"
    return (
        f"Light near the retina in two meridians, and its spot on the retina, which is {shape}. "
        f"{_say_spot(seen)}"
    )


def lines_and_circle():
    """Return the demo: cylinder, sphere before the eye and pupil against the spot on the retina."""
    return Demo(
        title="two focal lines and the spot on the retina",
        controls=(
            Slider("lens_d", "Sphere before the eye, D", -2.5, 2.5, 0.25, 0, "D", signed=True),
            Slider("cylinder_d", "The eye's cylinder × 180, D", -2.5, 0, 0.25, -2, "D", True),
            Slider("pupil_mm", "Pupil, mm", 2, 6, 0.5, 4, "mm"),
        ),
        build=_build_spot,
        compute=spot,
        move=_move_spot,
        sentence=_say_spot,
        alt=_describe_spot,
    )


# --- cylinders added -------------------------------------------------------------------------

FIRST = SpheroCylinder(0.0, -1.00, 180)


@dataclass(frozen=True)
class Pair:
    """Two cylinders and their sum."""

    second: SpheroCylinder
    total: SpheroCylinder
    apart_deg: float


def added(second_d, second_axis_deg):
    """Return what −1.00 × 180 and a second minus cylinder make together.

    Parameters
    ----------
    second_d : float
        Second cylinder, D, 0 or less.
    second_axis_deg : float
        Its axis, 0 to 180°.

    Returns
    -------
    Pair

    Examples
    --------
    Two equal cylinders 60° apart make one of the same size.

    >>> added(-1.0, 60.0).total.written()
    '−0.50 −1.00 × 30'
    """
    second = SpheroCylinder(0.0, second_d, second_axis_deg)
    apart_deg = abs((second_axis_deg - FIRST.axis_deg + 90.0) % 180.0 - 90.0)
    return Pair(second, FIRST + second, apart_deg)


def _build_added():
    figure = Figure(figsize=(7.0, 3.7), dpi=style.DPI, layout="constrained")
    frame, plane = figure.subplots(1, 2, width_ratios=(1.0, 1.15))
    frame.set(xlim=(-1.4, 1.4), ylim=(-1.4, 1.4), aspect="equal", xticks=[], yticks=[])
    frame.set_title("in the trial frame")
    for spine in frame.spines.values():
        spine.set_visible(False)
    frame.add_patch(Circle((0, 0), 1.0, facecolor="#f4f4f4", edgecolor=style.GREY))
    for axis_deg in (45, 90, 135, 180):
        x, y = 1.22 * np.cos(np.radians(axis_deg)), 1.22 * np.sin(np.radians(axis_deg))
        frame.text(x, y, str(axis_deg), color=style.GREY, ha="center", va="center")
    plane.set(xlim=(-2.4, 2.4), ylim=(-2.4, 2.4), aspect="equal", xlabel="J0, D", ylabel="J45, D")
    plane.set_title("at twice the angle")
    plane.set(xticks=(-2, -1, 0, 1, 2), yticks=(-2, -1, 0, 1, 2))
    plane.axhline(0, color=style.GREY, linewidth=0.6)
    plane.axvline(0, color=style.GREY, linewidth=0.6)
    for x, y, axis in ((2.1, -0.25, "180"), (0.3, 2.15, "45"), (-2.1, -0.25, "90")):
        plane.text(x, y, axis, color=style.GREY, ha="center", va="center")
    plane.text(0.4, -2.15, "135", color=style.GREY, ha="center", va="center")
    artists = {}
    for name, colour, dashes, width in (
        ("first", style.BLUE, "-", 3),
        ("second", style.ORANGE, "--", 3),
        ("total", "black", "-", 2),
    ):
        (artists[f"{name} axis"],) = frame.plot([], [], color=colour, linestyle=dashes)
        artists[f"{name} axis"].set_linewidth(width)
        artists[name] = plane.add_patch(
            FancyArrowPatch(
                (0, 0),
                (1, 0),
                arrowstyle="-|>,head_length=7,head_width=4",
                color=colour,
                linestyle=dashes if name == "second" else "-",
                linewidth=width,
                shrinkA=0,
                shrinkB=0,
            )
        )
    artists["words"] = plane.text(-2.3, -1.75, "", ha="left", va="center", weight="bold")
    return figure, artists


def _move_added(artists, seen):
    for name, lens in (("first", FIRST), ("second", seen.second), ("total", seen.total)):
        drawn = lens.axis_is_meaningful
        artists[f"{name} axis"].set_data(*_line(lens.axis_deg) if drawn else ([], []))
        artists[name].set_visible(bool(drawn))
    tip = np.array(FIRST.power_vector()[1:])
    end = np.array(seen.total.power_vector()[1:])
    artists["first"].set_positions((0, 0), tip)
    artists["second"].set_positions(tip, end)
    artists["total"].set_positions((0, 0), end)
    artists["words"].set_text(f"cylinder {signed(seen.total.cylinder_d)}")


def _sum_in_words(seen):
    total = seen.total
    if not total.axis_is_meaningful:
        return f"a sphere of {signed(total.spherical_equivalent_d)}"
    return total.written()


def _say_added(seen):
    if seen.second.cylinder_d == 0.0:
        return "Nothing is added: −1.00 × 180 stays as it is, for a cylinder of 0.00 has no axis."
    return (
        f"−1.00 × 180 and {signed(seen.second.cylinder_d, '')} × {seen.second.axis_deg:.0f} make "
        f"{_sum_in_words(seen)}. The axes lie {degrees(seen.apart_deg)} apart, the arrows "
        f"{degrees(2 * seen.apart_deg)}. As numbers they would add to "
        f"{signed(FIRST.cylinder_d + seen.second.cylinder_d)}."
    )


def _describe_added(seen):
    return (
        "Two cylinders at their axes, and as arrows at twice the angle, the second set on the tip "
        f"of the first, the black arrow their sum. {_say_added(seen)}"
    )


def adding_cylinders():
    """Return the demo: a second cylinder and its axis against the sum with −1.00 × 180."""
    return Demo(
        title="two cylinders added at twice their angle",
        controls=(
            Slider("second_d", "Second cylinder, D", -3, 0, 0.25, -1, "D", signed=True),
            Slider("second_axis_deg", "Its axis, °", 5, 180, 5, 180, "°"),
        ),
        build=_build_added,
        compute=added,
        move=_move_added,
        sentence=_say_added,
        alt=_describe_added,
    )


# --- worked examples -------------------------------------------------------------------------


def sum_steps(first, second):
    """Return the steps of adding two sphero-cylinders, ready for a worked example.

    Parameters
    ----------
    first, second : SpheroCylinder

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> steps = sum_steps(SpheroCylinder(-1, -1.5, 20), SpheroCylinder(-0.5, -1, 65))
    >>> [round(value, 2) for _, _, value, _ in steps[-3:]]
    [-1.8, 36.85, -1.85]
    """
    one, two = first.power_vector(), second.power_vector()
    total = first + second
    m_d, j0_d, j45_d = total.power_vector()

    def halves(lens, function):
        half = signed(-lens.cylinder_d / 2, "")
        return f"{half} · {function} {2 * lens.axis_deg:.0f}°"

    def sums(name):
        return f"{signed(getattr(one, name), '')} {signed(getattr(two, name), '')}"

    return [
        ("J0 of the first lens", halves(first, "cos"), one.j0_d, "D"),
        ("J45 of the first lens", halves(first, "sin"), one.j45_d, "D"),
        ("J0 of the second lens", halves(second, "cos"), two.j0_d, "D"),
        ("J45 of the second lens", halves(second, "sin"), two.j45_d, "D"),
        ("add the spherical equivalents M", sums("m_d"), m_d, "D"),
        ("add J0", sums("j0_d"), j0_d, "D"),
        ("add J45", sums("j45_d"), j45_d, "D"),
        ("back: the cylinder", "−2 · √(J0² + J45²)", total.cylinder_d, "D"),
        ("back: the axis", "half the angle of the point (J0, J45)", total.axis_deg, "°"),
        ("back: the sphere", "M − C / 2", total.sphere_d, "D"),
    ]


def cylinder_by_matrix(first, second):
    """Return the minus cylinder of two lenses in contact by matrices of power, not by vectors.

    Parameters
    ----------
    first, second : SpheroCylinder

    Returns
    -------
    float
        D.

    Sources
    -------
    Long, Am J Optom Physiol Opt 1976;53:27 (from memory): the eigenvalues of the summed matrix
    are the powers of the principal meridians.

    Examples
    --------
    >>> round(cylinder_by_matrix(SpheroCylinder(0, -1, 180), SpheroCylinder(0, -1, 60)), 6)
    -1.0
    """
    weakest_d, strongest_d = np.linalg.eigvalsh(_matrix(first) + _matrix(second))
    return float(weakest_d - strongest_d)


def _matrix(lens):
    sine, cosine = np.sin(np.radians(lens.axis_deg)), np.cos(np.radians(lens.axis_deg))
    across = np.array([[sine * sine, -sine * cosine], [-sine * cosine, cosine * cosine]])
    return lens.sphere_d * np.eye(2) + lens.cylinder_d * across
