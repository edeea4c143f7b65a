"""Sliders on the eye: its six points, what makes it ametropic, and what age leaves it."""

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Ellipse, Rectangle

from shared_utils.cases import eye as cases
from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.show import style
from shared_utils.show.style import signed

EYES = {
    "one surface: the reduced eye": "emsley_reduced",
    "three surfaces": "gullstrand_emsley",
    "four surfaces": "le_grand",
    "six surfaces": "gullstrand_exact",
}


LABELS_MM = 8.6


def _build_points():
    figure = Figure(figsize=(7.0, 3.7), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(-20.5, 28.0),
        ylim=(-9.6, 10.4),
        aspect="equal",
        yticks=[],
        xlabel="distance from the cornea, mm",
    )
    axes.spines["left"].set_visible(False)
    axes.axhline(0, color=style.GREY, linewidth=0.8)
    artists = {"eye": axes.add_patch(Ellipse((12, 0), 24, 17, fc="#e4edf5", ec=style.GREY))}
    for name, text in (("F", "F"), ("P", "P P′"), ("N", "N N′"), ("F2", "F′")):
        (artists[f"{name} line"],) = axes.plot([], [], color=style.GREY, linewidth=1.0)
        artists[f"{name} name"] = axes.text(0, LABELS_MM, text, ha="center", va="bottom")
    for n in range(3):
        (artists[f"ray {n}"],) = axes.plot(
            [], [], color=style.ORANGE if n else style.BLUE, linewidth=1.6
        )
    (artists["dots"],) = axes.plot([], [], "o", color="black", markersize=4)
    (artists["image"],) = axes.plot([], [], color=style.VERMILION, linewidth=4.0)
    artists["image text"] = axes.text(12, -5.9, "", color=style.VERMILION, ha="center", va="center")
    return figure, artists


def _move_points(artists, data):
    points = data.points
    end, height = points.back_focal_mm, -data.image_mm
    for n, ray in enumerate(data.rays_mm):
        artists[f"ray {n}"].set_data(*ray)
    for name, place in data.places_mm.items():
        artists[f"{name} line"].set_data([place, place], [0.0, LABELS_MM - 0.2])
        artists[f"{name} name"].set_x(place)
    dots = [points.front_focal_mm, *points.principal_mm, *points.nodal_mm, end]
    artists["dots"].set_data(dots, np.zeros(6))
    artists["image"].set_data([end, end], [0.0, height])
    artists["image text"].set_text(f"image {data.image_mm:.2f} mm")
    artists["eye"].set_width(end)
    artists["eye"].set_center((end / 2.0, 0.0))


def _say_points(data):
    return (
        f"An object of {data.angle_deg:.1f}° makes an image of {data.image_mm:.2f} mm on the "
        f"retina of this eye of {data.points.power_d:.2f} D: tan {data.angle_deg:.1f}° times the "
        f"{data.nodal_way_mm:.2f} mm from N′ to F′."
    )


def _describe_points(data):
    points = data.points
    return (
        f"An eye with {data.surfaces} refracting surface{'s' if data.surfaces > 1 else ''} in "
        f"section. F lies {-points.front_focal_mm:.1f} mm in front of the cornea; P and P′ lie at "
        f"{points.principal_mm[0]:.1f} and {points.principal_mm[1]:.1f} mm, N and N′ at "
        f"{points.nodal_mm[0]:.1f} and {points.nodal_mm[1]:.1f} mm, F′ at "
        f"{points.back_focal_mm:.1f} mm. The ray to N leaves N′ unturned; the image of "
        f"{data.angle_deg:.1f}° is {data.image_mm:.2f} mm, upside down."
    )


def six_points() -> Demo:
    """Return the demo: angle and model eye against the image on the retina."""
    return Demo(
        title="six points of an eye and the image that they place",
        controls=(
            Slider("angle_deg", "Size of the object, degrees", 0, 10, 0.5, 5, "degrees"),
            Choice("name", "Model eye:", EYES, "le_grand"),
        ),
        build=_build_points,
        compute=cases.compute_six_points,
        move=_move_points,
        sentence=_say_points,
        alt=_describe_points,
    )


SCALE_D = (-24.0, 16.0)


def _build_ametropia():
    figure = Figure(figsize=(7.0, 3.7), dpi=style.DPI, layout="constrained")
    axes, scale = figure.subplots(2, 1, height_ratios=(3.0, 1.0))
    axes.set(xlim=(-7.0, 32.0), ylim=(-4.6, 5.2), yticks=[], xlabel="distance from the cornea, mm")
    axes.spines["left"].set_visible(False)
    axes.axhline(0, color=style.GREY, linewidth=0.8)
    scale.set(xlim=SCALE_D, ylim=(0.0, 1.0), yticks=[], xlabel="refraction in spectacles, D")
    scale.xaxis.set_major_formatter(lambda d, _: signed(d, "", 0))
    scale.spines["left"].set_visible(False)
    scale.axvline(0.0, color=style.GREY, linewidth=0.8)
    axes.plot(*cases.compute_cornea_profile(), color=style.BLUE, linewidth=2.2)
    axes.add_patch(Ellipse((5.6, 0.0), 4.0, 7.2, fc="#b9cfe4", ec=style.GREY))
    axes.text(-0.3, 4.5, "cornea", ha="center", va="center")
    axes.text(5.6, 4.5, "lens", ha="center", va="center")
    artists = {}
    for n in range(5):
        (artists[f"ray {n}"],) = axes.plot([], [], color=style.ORANGE, linewidth=1.4)
    (artists["retina"],) = axes.plot([], [], color="black", linewidth=3.0)
    (artists["blur"],) = axes.plot([], [], color=style.VERMILION, linewidth=6.0)
    (artists["focus"],) = axes.plot([], [], "o", color=style.VERMILION, markersize=7)
    artists["retina name"] = axes.text(0, 4.5, "retina", ha="center", va="center")
    artists["focus name"] = axes.text(
        0, -4.2, "focus", color=style.VERMILION, ha="center", va="center"
    )
    (artists["mark"],) = scale.plot([], [], "v", color=style.VERMILION, markersize=11)
    artists["mark text"] = scale.text(
        0, 0.5, "", color=style.VERMILION, ha="left", va="center", weight="bold"
    )
    return figure, artists


def _move_ametropia(artists, data):
    retina = data.axial_length_mm
    for n, ray in enumerate(data.rays_mm):
        artists[f"ray {n}"].set_data(*ray)
    artists["blur"].set_data([retina, retina], data.blur_mm)
    artists["retina"].set_data([retina, retina], [-3.6, 3.6])
    artists["retina name"].set_x(retina)
    artists["focus"].set_data([data.focus_mm], [0.0])
    artists["focus"].set_markerfacecolor(style.VERMILION if data.focus_mm < retina else "white")
    artists["focus name"].set_x(data.focus_mm)
    artists["mark"].set_data([data.spectacle_d], [0.22])
    right = data.spectacle_d > 4.0
    artists["mark text"].set_ha("right" if right else "left")
    artists["mark text"].set_x(data.spectacle_d + (-0.7 if right else 0.7))
    artists["mark text"].set_text(signed(data.spectacle_d))


def _focus_words(data):
    if abs(data.gap_mm) < 0.005:
        return "on the retina"
    return f"{abs(data.gap_mm):.2f} mm {'in front of' if data.gap_mm > 0 else 'behind'} the retina"


def _say_ametropia(data):
    far = ""
    if data.at_cornea_d < -0.2:
        far = f"; its far point lies {-data.far_point_cm:.0f} cm in front"
    return (
        f"An eye of {data.axial_length_mm:.1f} mm and {data.power_d:.1f} D brings distant light to "
        f"a focus {_focus_words(data)}: {signed(data.at_cornea_d)} at the cornea, "
        f"{signed(data.spectacle_d)} in spectacles{far}."
    )


def _describe_ametropia(data):
    kind = "short-sighted" if data.at_cornea_d < -0.05 else "long-sighted"
    if abs(data.at_cornea_d) <= 0.05:
        kind = "in focus"
    return (
        f"An eye in section. Distant light meets {_focus_words(data)}, so the eye is {kind}: "
        f"{signed(data.spectacle_d)} in spectacles. Retina at {data.axial_length_mm:.1f} mm, "
        f"corneal radius {data.corneal_radius_mm:.2f} mm, index of the lens {data.lens_index:.3f}."
    )


def length_cornea_lens() -> Demo:
    """Return the demo: length, cornea and lens of an eye against its refraction."""
    return Demo(
        title="length, cornea and lens against the refraction",
        controls=(
            Slider("axial_length_mm", "Length of the eye, mm", 21, 29, 0.1, 24.2, "mm"),
            Slider("corneal_radius_mm", "Radius of the cornea, mm", 7.2, 8.4, 0.05, 7.8, "mm"),
            Slider("lens_index", "Index of the lens", 1.405, 1.435, 0.001, 1.42),
        ),
        build=_build_ametropia,
        compute=cases.compute_ametropia,
        move=_move_ametropia,
        sentence=_say_ametropia,
        alt=_describe_ametropia,
    )


DEEPEST_D = 12.0


def _build_range():
    figure = Figure(figsize=(7.0, 3.6), dpi=style.DPI, layout="constrained")
    ages, axes = figure.subplots(1, 2, width_ratios=(2.6, 4.4))
    ages.set(xlim=(10, 80), ylim=(0, 22), xlabel="age, years", ylabel="amplitude, D")
    ages.set_xticks([20, 40, 60, 80])
    for population, dashes in (("minimum", ":"), ("average", "-"), ("maximum", ":")):
        amplitude_d = cases.compute_amplitude_curve(population)
        ages.plot(cases.AGES, amplitude_d, color=style.BLUE, linestyle=dashes, linewidth=1.6)
    ages.text(44, 19.3, "average, and\nhighest, lowest", ha="center", va="center")
    axes.set(xlim=(0.0, -DEEPEST_D), ylim=(0.0, 1.0), yticks=[], xlabel="vergence of the object, D")
    axes.xaxis.set_major_formatter(lambda d, _: signed(d, "", 0))
    axes.set_xticks([0, -2, -4, -6, -8, -10, -12])
    axes.spines["left"].set_visible(False)
    top = axes.secondary_xaxis("top")
    top.set_xticks([0.0, -2.5, -5.0, -10.0], ["far", "40", "20", "10"])
    top.set_xlabel("distance of the object, cm")
    axes.axvline(-cases.READING_D, color=style.GREY, linewidth=1.2, dashes=(4, 3))
    axes.text(-2.7, 0.9, "a page at 40 cm", color=style.GREY, ha="left", va="center")
    bar = Rectangle((0, 0.36), 0, 0.28, fc=style.SKY, ec=style.BLUE, linewidth=1.5)
    artists = {"bar": axes.add_patch(bar)}
    (artists["now"],) = ages.plot([], [], "o", color=style.VERMILION, markersize=9, clip_on=False)
    artists["clear"] = axes.text(-6.0, 0.2, "", ha="center", va="center", weight="bold")
    return figure, artists


def _move_range(artists, data):
    artists["now"].set_data([data.age_years], [data.amplitude_d])
    start = min(data.far_d, 0.0)
    end = max(data.near_d, -DEEPEST_D)
    width = end - start if data.reachable else 0.0
    if data.reachable and width > -0.06:  # a single distance: a thin bar
        start, width = start + 0.03, -0.06
    artists["bar"].set_x(start)
    artists["bar"].set_width(width)
    artists["bar"].set_visible(data.reachable)
    artists["clear"].set_text(f"clear: {_distances(data)}")


def _distances(data):
    """The range in words, from far to near."""
    if not data.reachable:
        return "nothing"
    near = "far only" if data.near_d > -0.05 else f"{_cm(data.near_d)}"
    if data.far_d >= -0.05:
        return near if near == "far only" else f"far to {near}"
    if data.far_d - data.near_d < 0.01:
        return f"{near} only"
    return f"{_cm(data.far_d)} to {near}"


def _cm(vergence_d):
    return f"{-100.0 / vergence_d:.0f} cm"


def _say_range(data):
    glasses = "with glasses for far" if data.worn else "without glasses"
    page = "A page at 40 cm is clear" if data.reads else "A page at 40 cm is not clear"
    return (
        f"At {data.age_years:.0f} years an average eye accommodates {data.amplitude_d:.1f} D. With "
        f"{signed(data.refraction_d)}, {glasses}, it sees clearly: {_distances(data)}. {page}."
    )


def _describe_range(data):
    glasses = "glasses for far on" if data.worn else "no glasses"
    page = "inside" if data.reads else "outside"
    return (
        f"Left, amplitude falling with age: {data.amplitude_d:.1f} D at {data.age_years:.0f}. "
        f"Right, a bar of what is clear with {signed(data.refraction_d)}, {glasses}: "
        f"{_distances(data)}. A page at 40 cm lies {page} the bar."
    )


def age_and_range() -> Demo:
    """Return the demo: age, refraction and glasses against the range of clear vision."""
    return Demo(
        title="age, refraction and the range of clear vision",
        controls=(
            Slider("age_years", "Age, years", 10, 80, 1, 35, "years"),
            Slider("refraction_d", "Refraction, D", -6, 6, 0.25, 0, "D", signed=True),
            Choice("worn", "Glasses for far:", {"off": False, "on": True}, False),
        ),
        build=_build_range,
        compute=cases.compute_clear_range,
        move=_move_range,
        sentence=_say_range,
        alt=_describe_range,
    )
