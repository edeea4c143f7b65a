"""Sliders on vergence: light from a point, through one surface, to its image."""

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Ellipse, Rectangle

from shared_utils.cases import vergence as cases
from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.show import style
from shared_utils.show.style import signed

EDGE_CM = 100.0  # an image farther away is not marked
HALF_CM = 1.3


def _build():
    figure = Figure(figsize=(7.0, 3.3), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(-cases.REACH_CM, cases.REACH_CM),
        ylim=(-1.8, 1.75),
        yticks=[],
        xlabel="distance from the surface, cm (light travels to the right)",
    )
    axes.spines["left"].set_visible(False)
    axes.axhline(0, color=style.GREY, linewidth=0.8)
    medium = Rectangle((0, -HALF_CM), cases.REACH_CM, 2 * HALF_CM, color="#e4edf5", zorder=0)
    lens = Ellipse(
        (0, 0), 2.4, 2 * cases.APERTURE_CM + 0.3, facecolor="#b9cfe4", edgecolor="black", zorder=1
    )
    artists = {"medium": axes.add_patch(medium), "lens": axes.add_patch(lens)}
    beam = Rectangle((-cases.REACH_CM, -HALF_CM), 2 * cases.REACH_CM, 2 * HALF_CM, visible=False)
    axes.add_patch(beam)  # keeps the rays out of the words
    for n in range(len(cases.HEIGHTS_CM)):
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


def _move(artists, data):
    source, image = -data.object_distance_cm, data.image_distance_cm
    for n, (ray, back) in enumerate(zip(data.rays_cm, data.extended_back_cm, strict=True)):
        artists[f"ray {n}"].set_data(*ray)
        artists[f"back {n}"].set_data(*back)
    artists["waves arriving"].set_data(*data.arriving_waves_cm)
    artists["waves leaving"].set_data(*data.leaving_waves_cm)
    artists["object"].set_data([source], [0.0])
    artists["object name"].set_x(max(source, -95))
    inside = np.isfinite(image) and abs(image) <= EDGE_CM
    artists["image"].set_data(([image], [0.0]) if inside else ([], []))
    artists["image"].set_markerfacecolor(style.VERMILION if image > 0 else "white")
    artists["medium"].set_alpha(min(2.0 * (data.index_behind - 1.0), 1.0))
    kind = "real image" if image > 0 else "virtual image"
    artists["image name"].set_text(kind if inside else "")
    if inside:
        artists["image name"].set_x(np.clip(image, -85, 85))
        near = abs(image - source) < 30
        artists["image name"].set_y(-1.66 if near else -1.45)
    artists["U"].set_text(f"arrives U = {signed(data.object_vergence_d)}")
    artists["F"].set_text(f"F = {signed(data.surface_power_d)}")
    artists["V"].set_text(f"leaves V = {signed(data.image_vergence_d)}")


def _where(data):
    image = data.image_distance_cm
    if np.isinf(image):
        return "parallel: the image lies at infinity"
    kind = "real image" if image > 0 else "virtual image"
    side = "behind" if image > 0 else "in front of"
    bend = "converging" if image > 0 else "diverging"
    return f"{bend}: a {kind} lies {abs(image):.1f} cm {side} the surface"


def _sentence(data):
    return (
        f"Light from {data.object_distance_cm:.0f} cm arrives with "
        f"{signed(data.object_vergence_d)}; the surface adds {signed(data.surface_power_d)}; "
        f"{signed(data.image_vergence_d)} leave it, {_where(data)} "
        f"(index {data.index_behind:.3f})."
    )


def _alt(data):
    return (
        f"Ray picture. A point {data.object_distance_cm:.0f} cm in front of a surface of "
        f"{signed(data.surface_power_d)}. The light that leaves is {_where(data)}."
    )


def point_and_surface() -> Demo:
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
        compute=cases.compute_point_image,
        move=_move,
        sentence=_sentence,
        alt=_alt,
    )


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


def _move_way(artists, data):
    artists["unchanged"].set_data([0, 62], [data.lens_d] * 2)
    artists["along"].set_data(cases.WAY_MM, data.along_d)
    artists["plane"].set_data([data.way_mm] * 2, [-24, 36])
    artists["arrives"].set_data([data.way_mm], [data.arriving_d])
    # the words stand where the curve is not
    height = -19.0 if data.lens_d > 0 else 31.0
    artists["arrives text"].set_position((data.way_mm + 0.8, height))
    artists["arrives text"].set_text(f"arrives {signed(data.arriving_d)}")
    leaves_below = data.lens_d > 0
    artists["leaves text"].set_va("top" if leaves_below else "bottom")
    artists["leaves text"].set_y(data.lens_d + (-1.0 if leaves_below else -4.5))
    artists["leaves text"].set_text(f"leaves the lens {signed(data.lens_d)}")


def _change(data):
    if abs(data.change_d) < 0.005:
        return "The way changes nothing that matters"
    kind = "converges more" if data.lens_d > 0 else "diverges less"
    return f"The way changes it by {signed(data.change_d)}: it {kind}"


def _say_way(data):
    return (
        f"Light leaves the lens with {signed(data.lens_d)} and arrives "
        f"{data.way_mm:.0f} mm farther with {signed(data.arriving_d)}. {_change(data)}."
    )


def _describe_way(data):
    return (
        f"Curve of vergence against the way travelled. From {signed(data.lens_d)} at the lens it "
        f"runs to {signed(data.arriving_d)} at {data.way_mm:.0f} mm. {_change(data)}."
    )


def lens_and_way() -> Demo:
    """Return the demo: power of a lens and the way behind it against the vergence that arrives."""
    return Demo(
        title="light that travels on after a lens",
        controls=(
            Slider("lens_d", "Power of the lens, D", -20, 14, 0.25, -10, "D", True),
            Slider("way_mm", "Way to the eye, mm", 0, 40, 1, 12, "mm"),
        ),
        build=_build_way,
        compute=cases.compute_vergence_at_plane,
        move=_move_way,
        sentence=_say_way,
        alt=_describe_way,
    )
