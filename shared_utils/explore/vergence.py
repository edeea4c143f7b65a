"""Sliders on vergence: light from a point, through one surface, to its image."""

from dataclasses import dataclass

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Ellipse, Rectangle

from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.optics.vergence import (
    focus_distance,
    propagate,
    refract,
    two_lenses,
    vergence,
)
from shared_utils.show import style
from shared_utils.show.style import signed

REACH_CM = 100.0
APERTURE_CM = 1.0
HALF_CM = 1.3
RAYS = np.linspace(-APERTURE_CM, APERTURE_CM, 5)
WAVES_CM = np.array([6.0, 12.0, 18.0, 24.0])


@dataclass(frozen=True)
class PointImage:
    """One object point, one surface, one image point."""

    object_distance_cm: float
    surface_power_d: float
    index_behind: float
    object_vergence_d: float
    image_vergence_d: float
    image_distance_cm: float


def image_of_a_point(object_distance_cm, surface_power_d, index_behind):
    """Return the vergences and the image of a point in front of one surface.

    Parameters
    ----------
    object_distance_cm : float
        How far the point lies in front of the surface, cm; positive here, as a ruler shows it.
    surface_power_d : float
        Power of the surface, D.
    index_behind : float
        Refractive index of the medium behind it.

    Returns
    -------
    PointImage

    Examples
    --------
    >>> image_of_a_point(40.0, 5.0, 1.0).image_distance_cm
    40.0
    """
    arriving_d = vergence(-object_distance_cm / 100.0)
    leaving_d = refract(arriving_d, surface_power_d)
    return PointImage(
        object_distance_cm,
        surface_power_d,
        index_behind,
        arriving_d,
        leaving_d,
        100.0 * focus_distance(leaving_d, index_behind),
    )


def _build():
    figure = Figure(figsize=(7.0, 3.3), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(-REACH_CM - 4, REACH_CM + 4),
        ylim=(-1.8, 1.75),
        yticks=[],
        xlabel="distance from the surface, cm (light travels to the right)",
    )
    axes.spines["left"].set_visible(False)
    axes.axhline(0, color=style.GREY, linewidth=0.8)
    medium = Rectangle((0, -HALF_CM), REACH_CM + 4, 2 * HALF_CM, color="#e4edf5", zorder=0)
    lens = Ellipse(
        (0, 0), 2.4, 2 * APERTURE_CM + 0.3, facecolor="#b9cfe4", edgecolor="black", zorder=1
    )
    artists = {"medium": axes.add_patch(medium), "lens": axes.add_patch(lens)}
    beam = Rectangle((-REACH_CM - 4, -HALF_CM), 2 * REACH_CM + 8, 2 * HALF_CM, visible=False)
    axes.add_patch(beam)  # keeps the rays out of the words
    for n in range(len(RAYS)):
        (artists[f"ray {n}"],) = axes.plot([], [], color=style.ORANGE, linewidth=1.5)
        (artists[f"back {n}"],) = axes.plot(
            [], [], color=style.ORANGE, linewidth=1.0, dashes=(3, 3)
        )
    for side in ("arriving", "leaving"):
        (artists[f"waves {side}"],) = axes.plot([], [], color=style.BLUE, linewidth=1.6)
    for name, artist in artists.items():
        if name not in ("medium", "lens"):
            artist.set_clip_path(beam)
    (artists["object"],) = axes.plot([], [], "o", color="black", markersize=8)
    (artists["image"],) = axes.plot([], [], "o", color=style.VERMILION, markersize=8)
    for name, x, ha in (("U", -66, "center"), ("F", 0, "center"), ("V", 66, "center")):
        artists[name] = axes.text(x, 1.52, "", ha=ha, va="center", fontsize=13)
    artists["object name"] = axes.text(0, -1.45, "object", ha="center", va="center")
    artists["image name"] = axes.text(0, -1.45, "", ha="center", va="center", color=style.VERMILION)
    return figure, artists


def _waves(centre_cm, sign):
    """Wavefronts at a few places: arcs about the point that the light comes from or goes to."""
    x, y = [], []
    heights = np.linspace(-APERTURE_CM, APERTURE_CM, 21)
    for place in sign * WAVES_CM:
        # the height at which the outermost ray passes here
        share = 1.0 if np.isinf(centre_cm) else abs(1.0 - place / centre_cm)
        beyond = np.isfinite(centre_cm) and sign * centre_cm > 0 and sign * (place - centre_cm) > 0
        if share < 0.05 or beyond:
            continue
        rise = share * heights
        # radii of metres would look flat on this stretched scale: the sag is drawn 120 times larger
        sag = 0.0 if np.isinf(centre_cm) else 120.0 * rise**2 / (2.0 * (centre_cm - place))
        x += [*(place + np.clip(sag, -6.0, 6.0) * np.ones_like(rise)), np.nan]
        y += [*rise, np.nan]
    return x, y


def _move(artists, seen):
    source = -seen.object_distance_cm
    image = seen.image_distance_cm
    edge = REACH_CM + 4
    for n, height in enumerate(RAYS):
        slope = 0.0 if np.isinf(image) else -height / image
        artists[f"ray {n}"].set_data([source, 0.0, edge], [0.0, height, height + slope * edge])
        if image < 0:
            start = max(image, -edge)
            artists[f"back {n}"].set_data([start, 0.0], [height + slope * start, height])
        else:
            artists[f"back {n}"].set_data([], [])
    artists["waves arriving"].set_data(*_waves(source, -1))
    artists["waves leaving"].set_data(*_waves(image, 1))
    artists["object"].set_data([source], [0.0])
    artists["object name"].set_x(max(source, -95))
    inside = np.isfinite(image) and abs(image) <= REACH_CM
    artists["image"].set_data(([image], [0.0]) if inside else ([], []))
    artists["image"].set_markerfacecolor(style.VERMILION if image > 0 else "white")
    artists["medium"].set_alpha(min(2.0 * (seen.index_behind - 1.0), 1.0))
    kind = "real image" if image > 0 else "virtual image"
    artists["image name"].set_text(kind if inside else "")
    if inside:
        artists["image name"].set_x(np.clip(image, -85, 85))
        near = abs(image - source) < 30
        artists["image name"].set_y(-1.66 if near else -1.45)
    artists["U"].set_text(f"arrives U = {signed(seen.object_vergence_d)}")
    artists["F"].set_text(f"F = {signed(seen.surface_power_d)}")
    artists["V"].set_text(f"leaves V = {signed(seen.image_vergence_d)}")


def _where(seen):
    image = seen.image_distance_cm
    if np.isinf(image):
        return "parallel: the image lies at infinity"
    kind = "real image" if image > 0 else "virtual image"
    side = "behind" if image > 0 else "in front of"
    bend = "converging" if image > 0 else "diverging"
    return f"{bend}: a {kind} lies {abs(image):.1f} cm {side} the surface"


def _sentence(seen):
    return (
        f"Light from {seen.object_distance_cm:.0f} cm arrives with "
        f"{signed(seen.object_vergence_d)}; the surface adds {signed(seen.surface_power_d)}; "
        f"{signed(seen.image_vergence_d)} leave it, {_where(seen)} "
        f"(index {seen.index_behind:.3f})."
    )


def _alt(seen):
    return (
        f"Ray picture. A point {seen.object_distance_cm:.0f} cm in front of a surface of "
        f"{signed(seen.surface_power_d)}. The light that leaves is {_where(seen)}."
    )


def point_and_surface():
    """Return the demo: object distance, power and medium against the place of the image."""
    return Demo(
        title="light from a point through one surface",
        controls=(
            Slider("object_distance_cm", "Object in front of it, cm", 10, 100, 1, 40, "cm"),
            Slider(
                "surface_power_d", "Power of the surface, D", -10, 15, 0.25, 5, "D", signed=True
            ),
            Choice(
                "index_behind",
                "Medium behind:",
                {"air, 1.000": 1.0, "aqueous, 1.336": 1.336, "glass, 1.500": 1.5},
                1.0,
            ),
        ),
        build=_build,
        compute=image_of_a_point,
        move=_move,
        sentence=_sentence,
        alt=_alt,
    )


def two_lens_steps(object_cm, first_d, way_cm, second_d):
    """Return the steps of light through two lenses in air, ready for a worked example.

    Parameters
    ----------
    object_cm : float
        Distance of the object in front of the first lens, cm, positive.
    first_d, second_d : float
        Powers of the lenses, D.
    way_cm : float
        Way from lens to lens, cm.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> two_lens_steps(50, 5.0, 10, 8.0)[0]
    ('light arrives at the first lens', '1 / (−0.50)', -2.0, 'D')
    """
    pair = two_lenses(first_d, second_d, way_cm / 100, vergence(-object_cm / 100))
    way = f"V / (1 − {way_cm / 100:.2f} · V)"
    return [
        (
            "light arrives at the first lens",
            f"1 / (−{object_cm / 100:.2f})",
            pair.at_first_d,
            "D",
        ),
        ("the first lens adds its power", f"U + {first_d:.2f} D", pair.after_first_d, "D"),
        ("the light travels to the second lens", way, pair.at_second_d, "D"),
        ("the second lens adds its power", f"+ {second_d:.2f} D", pair.after_second_d, "D"),
        ("the image, from the second lens", "100 / V", 100 * pair.image_distance_m, "cm"),
    ]


WAY_MM = np.linspace(0.0, 60.0, 241)


@dataclass(frozen=True)
class Way:
    """Vergence along the way that light travels after a lens."""

    lens_d: float
    way_mm: float
    arriving_d: float
    along_d: np.ndarray


def light_that_travels(lens_d, way_mm):
    """Return the vergence along the way from a lens to a plane behind it.

    Parameters
    ----------
    lens_d : float
        Power of the lens, D; the light comes from far away.
    way_mm : float
        Distance from the lens to the plane, mm.

    Returns
    -------
    Way

    Examples
    --------
    >>> round(light_that_travels(-10.0, 12.0).arriving_d, 2)
    -8.93
    """
    along_d = np.full_like(WAY_MM, np.nan)  # past a focus, or too strong to draw
    before_focus = 1.0 - WAY_MM / 1000.0 * lens_d > 0.05
    along_d[before_focus] = propagate(lens_d, WAY_MM[before_focus] / 1000.0)
    return Way(lens_d, way_mm, propagate(lens_d, way_mm / 1000.0), along_d)


def _build_way():
    figure = Figure(figsize=(7.0, 3.2), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(0, 62),
        ylim=(-24, 36),
        xlabel="way travelled after the lens, mm",
        ylabel="vergence, D",
    )
    axes.axhline(0, color=style.GREY, linewidth=0.8)
    artists = {}
    (artists["unchanged"],) = axes.plot([], [], ":", color=style.GREY)
    (artists["along"],) = axes.plot([], [], color=style.BLUE)
    (artists["plane"],) = axes.plot([], [], color=style.VERMILION, linewidth=1.2)
    (artists["arrives"],) = axes.plot([], [], "o", color=style.VERMILION, markersize=8)
    artists["arrives text"] = axes.text(0, 0, "", color=style.VERMILION, va="center", ha="left")
    artists["leaves text"] = axes.text(61.5, 0, "", color=style.GREY, va="bottom", ha="right")
    return figure, artists


def _move_way(artists, seen):
    artists["unchanged"].set_data([0, 62], [seen.lens_d] * 2)
    artists["along"].set_data(WAY_MM, seen.along_d)
    artists["plane"].set_data([seen.way_mm] * 2, [-24, 36])
    artists["arrives"].set_data([seen.way_mm], [seen.arriving_d])
    # the words stand where the curve is not
    height = -19.0 if seen.lens_d > 0 else 31.0
    artists["arrives text"].set_position((seen.way_mm + 0.8, height))
    artists["arrives text"].set_text(f"arrives {signed(seen.arriving_d)}")
    leaves_below = seen.lens_d > 0
    artists["leaves text"].set_va("top" if leaves_below else "bottom")
    artists["leaves text"].set_y(seen.lens_d + (-1.0 if leaves_below else -4.5))
    artists["leaves text"].set_text(f"leaves the lens {signed(seen.lens_d)}")


def _change(seen):
    gained_d = seen.arriving_d - seen.lens_d
    if abs(gained_d) < 0.005:
        return "The way changes nothing that matters"
    kind = "converges more" if seen.lens_d > 0 else "diverges less"
    return f"The way changes it by {signed(gained_d)}: it {kind}"


def _say_way(seen):
    return (
        f"Light leaves the lens with {signed(seen.lens_d)} and arrives "
        f"{seen.way_mm:.0f} mm farther with {signed(seen.arriving_d)}. {_change(seen)}."
    )


def _describe_way(seen):
    return (
        f"Curve of vergence against the way travelled. From {signed(seen.lens_d)} at the lens it "
        f"runs to {signed(seen.arriving_d)} at {seen.way_mm:.0f} mm. {_change(seen)}."
    )


def lens_and_way():
    """Return the demo: power of a lens and the way behind it against the vergence that arrives."""
    return Demo(
        title="light that travels on after a lens",
        controls=(
            Slider("lens_d", "Power of the lens, D", -20, 14, 0.25, -10, "D", True),
            Slider("way_mm", "Way to the eye, mm", 0, 40, 1, 12, "mm"),
        ),
        build=_build_way,
        compute=light_that_travels,
        move=_move_way,
        sentence=_say_way,
        alt=_describe_way,
    )
