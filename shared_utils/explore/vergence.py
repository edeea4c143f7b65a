"""Sliders on vergence: light from a point, through one surface, to its image."""

from dataclasses import dataclass

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Ellipse, Rectangle

from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.optics.vergence import focus_distance, refract, vergence
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
        reckon=image_of_a_point,
        move=_move,
        sentence=_sentence,
        alt=_alt,
    )
