"""Sliders on the eye: its six points, what makes it ametropic, and what age leaves it."""

from dataclasses import dataclass

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Ellipse, Rectangle

from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.optics import accommodation, acuity, model_eyes, paraxial
from shared_utils.optics.vergence import at_vertex, far_point, propagate, refract, vergence
from shared_utils.show import style
from shared_utils.show.style import signed

VERTEX_MM = 12.0
EYES = {
    "one surface: the reduced eye": "emsley_reduced",
    "three surfaces": "gullstrand_emsley",
    "four surfaces": "le_grand",
    "six surfaces": "gullstrand_exact",
}


@dataclass(frozen=True)
class SixPoints:
    """A model eye's points, mm from the cornea, and the image of an angle."""

    angle_deg: float
    surfaces: int
    points: paraxial.CardinalPoints
    image_mm: float

    @property
    def nodal_way_mm(self):
        """From the second nodal point to the image."""
        return self.points.back_focal_mm - self.points.nodal_mm[1]


def image_of_an_angle(angle_deg, name):
    """Return the six points of a model eye and the image of a distant object in it.

    Parameters
    ----------
    angle_deg : float
        Angle that the object subtends, °.
    name : str
        A model eye.

    Returns
    -------
    SixPoints

    Examples
    --------
    Five degrees in the 60 D eye: tan 5° times 16.67 mm.

    >>> round(image_of_an_angle(5.0, "emsley_reduced").image_mm, 2)
    1.46
    """
    eye = model_eyes.get(name)
    points = paraxial.cardinal_points(eye)
    image_mm = acuity.retinal_size_um(60.0 * angle_deg, points.power_d) / 1000.0
    return SixPoints(angle_deg, len(eye.radius_mm), points, image_mm)


LABELS_MM = 8.6
START_MM = -20.0


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


def _move_points(artists, seen):
    points = seen.points
    slope = -np.tan(np.radians(seen.angle_deg))
    first, second = points.principal_mm
    end, height = points.back_focal_mm, -seen.image_mm
    for n, crosses in enumerate((points.nodal_mm[0], points.front_focal_mm, first)):
        # the light arrives along its slope and leaves the second principal plane as high
        at_plane = slope * (first - crosses)
        start = START_MM if n == 0 else max(START_MM, points.front_focal_mm)
        artists[f"ray {n}"].set_data(
            [start, first, second, end], [slope * (start - crosses), at_plane, at_plane, height]
        )
    places = {
        "F": points.front_focal_mm,
        "P": np.mean(points.principal_mm),
        "N": np.mean(points.nodal_mm),
        "F2": end,
    }
    for name, place in places.items():
        artists[f"{name} line"].set_data([place, place], [0.0, LABELS_MM - 0.2])
        artists[f"{name} name"].set_x(place)
    dots = [points.front_focal_mm, *points.principal_mm, *points.nodal_mm, end]
    artists["dots"].set_data(dots, np.zeros(6))
    artists["image"].set_data([end, end], [0.0, height])
    artists["image text"].set_text(f"image {seen.image_mm:.2f} mm")
    artists["eye"].set_width(end)
    artists["eye"].set_center((end / 2.0, 0.0))


def _say_points(seen):
    return (
        f"An object of {seen.angle_deg:.1f}° makes an image of {seen.image_mm:.2f} mm on the "
        f"retina of this eye of {seen.points.power_d:.2f} D: tan {seen.angle_deg:.1f}° times the "
        f"{seen.nodal_way_mm:.2f} mm from N′ to F′."
    )


def _describe_points(seen):
    points = seen.points
    return (
        f"An eye with {seen.surfaces} refracting surface{'s' if seen.surfaces > 1 else ''} in "
        f"section. F lies {-points.front_focal_mm:.1f} mm in front of the cornea; P and P′ lie at "
        f"{points.principal_mm[0]:.1f} and {points.principal_mm[1]:.1f} mm, N and N′ at "
        f"{points.nodal_mm[0]:.1f} and {points.nodal_mm[1]:.1f} mm, F′ at "
        f"{points.back_focal_mm:.1f} mm. The ray to N leaves N′ unturned; the image of "
        f"{seen.angle_deg:.1f}° is {seen.image_mm:.2f} mm, upside down."
    )


def six_points():
    """Return the demo: angle and model eye against the image on the retina."""
    return Demo(
        title="six points of an eye and the image that they place",
        controls=(
            Slider("angle_deg", "Size of the object, degrees", 0, 10, 0.5, 5, "degrees"),
            Choice("name", "Model eye:", EYES, "le_grand"),
        ),
        build=_build_points,
        compute=image_of_an_angle,
        move=_move_points,
        sentence=_say_points,
        alt=_describe_points,
    )


LE_GRAND = model_eyes.get("le_grand")
NORMAL_INDEX = LE_GRAND.index[3]
BACK_SHARE = LE_GRAND.radius_mm[1] / LE_GRAND.radius_mm[0]  # of the cornea's two radii


@dataclass(frozen=True)
class Ametropia:
    """An eye with its own cornea, lens and length."""

    axial_length_mm: float
    corneal_radius_mm: float
    lens_index: float
    power_d: float
    principal_mm: float
    focus_mm: float
    at_cornea_d: float
    spectacle_d: float


def made_of(axial_length_mm, corneal_radius_mm, lens_index):
    """Return the refraction of Le Grand's eye with another length, cornea or lens.

    Parameters
    ----------
    axial_length_mm : float
        Cornea to retina, mm.
    corneal_radius_mm : float
        Radius of the corneal front, mm; the back keeps its share.
    lens_index : float
        Refractive index of the lens.

    Returns
    -------
    Ametropia

    Examples
    --------
    >>> round(made_of(24.2, 7.8, 1.42).spectacle_d, 2)
    -0.01
    """
    eye = paraxial.System(
        (corneal_radius_mm, BACK_SHARE * corneal_radius_mm, *LE_GRAND.radius_mm[2:]),
        LE_GRAND.thickness_mm,
        (*LE_GRAND.index[:3], lens_index, LE_GRAND.index[4]),
    )
    points = paraxial.cardinal_points(eye)
    at_cornea_d = model_eyes.refraction(eye, axial_length_mm, 0.0)
    return Ametropia(
        axial_length_mm,
        corneal_radius_mm,
        lens_index,
        points.power_d,
        points.principal_mm[1],
        points.back_focal_mm,
        at_cornea_d,
        at_vertex(at_cornea_d, 0.0, VERTEX_MM),
    )


HALF_PUPIL_MM = 2.6
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
    heights = np.linspace(-3.6, 3.6, 61)
    cornea = LE_GRAND.radius_mm[0] - np.sqrt(LE_GRAND.radius_mm[0] ** 2 - heights**2)
    axes.plot(cornea, heights, color=style.BLUE, linewidth=2.2)
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


def _move_ametropia(artists, seen):
    retina = seen.axial_length_mm
    for n, height in enumerate(np.linspace(-HALF_PUPIL_MM, HALF_PUPIL_MM, 5)):
        slope = -height / (seen.focus_mm - seen.principal_mm)
        end = height + slope * (retina - seen.principal_mm)
        artists[f"ray {n}"].set_data([-7.0, seen.principal_mm, retina], [height, height, end])
        if n == 4:
            artists["blur"].set_data([retina, retina], [-end, end])
    artists["retina"].set_data([retina, retina], [-3.6, 3.6])
    artists["retina name"].set_x(retina)
    artists["focus"].set_data([seen.focus_mm], [0.0])
    artists["focus"].set_markerfacecolor(style.VERMILION if seen.focus_mm < retina else "white")
    artists["focus name"].set_x(seen.focus_mm)
    artists["mark"].set_data([seen.spectacle_d], [0.22])
    right = seen.spectacle_d > 4.0
    artists["mark text"].set_ha("right" if right else "left")
    artists["mark text"].set_x(seen.spectacle_d + (-0.7 if right else 0.7))
    artists["mark text"].set_text(signed(seen.spectacle_d))


def _focus_words(seen):
    gap_mm = seen.axial_length_mm - seen.focus_mm
    if abs(gap_mm) < 0.005:
        return "on the retina"
    return f"{abs(gap_mm):.2f} mm {'in front of' if gap_mm > 0 else 'behind'} the retina"


def _say_ametropia(seen):
    away_m = far_point(seen.at_cornea_d, vertex_mm=0.0)
    far = ""
    if seen.at_cornea_d < -0.2:
        far = f"; its far point lies {-100.0 * away_m:.0f} cm in front"
    return (
        f"An eye of {seen.axial_length_mm:.1f} mm and {seen.power_d:.1f} D brings distant light to "
        f"a focus {_focus_words(seen)}: {signed(seen.at_cornea_d)} at the cornea, "
        f"{signed(seen.spectacle_d)} in spectacles{far}."
    )


def _describe_ametropia(seen):
    kind = "short-sighted" if seen.at_cornea_d < -0.05 else "long-sighted"
    if abs(seen.at_cornea_d) <= 0.05:
        kind = "in focus"
    return (
        f"An eye in section. Distant light meets {_focus_words(seen)}, so the eye is {kind}: "
        f"{signed(seen.spectacle_d)} in spectacles. Retina at {seen.axial_length_mm:.1f} mm, "
        f"corneal radius {seen.corneal_radius_mm:.2f} mm, index of the lens {seen.lens_index:.3f}."
    )


def length_cornea_lens():
    """Return the demo: length, cornea and lens of an eye against its refraction."""
    return Demo(
        title="length, cornea and lens against the refraction",
        controls=(
            Slider("axial_length_mm", "Length of the eye, mm", 21, 29, 0.1, 24.2, "mm"),
            Slider("corneal_radius_mm", "Radius of the cornea, mm", 7.2, 8.4, 0.05, 7.8, "mm"),
            Slider("lens_index", "Index of the lens", 1.405, 1.435, 0.001, 1.42),
        ),
        build=_build_ametropia,
        compute=made_of,
        move=_move_ametropia,
        sentence=_say_ametropia,
        alt=_describe_ametropia,
    )


AGES = np.arange(10.0, 81.0)
READING_D = 2.5  # 40 cm
DEEPEST_D = 12.0


@dataclass(frozen=True)
class ClearRange:
    """What an eye sees clearly: vergences of the objects as they reach the bare cornea, D."""

    age_years: float
    refraction_d: float
    worn: bool
    amplitude_d: float
    far_d: float
    near_d: float

    @property
    def reachable(self):
        """Whether any real object is clear."""
        return self.near_d <= 0.0

    @property
    def reads(self):
        """Whether a page at 40 cm is clear, to within the quarter dioptre that nobody notices."""
        return self.near_d - 0.25 <= -READING_D <= self.far_d + 0.25


def clear_range(age_years, refraction_d, worn):
    """Return the range of clear vision of an eye of an age, with or without glasses for far.

    Parameters
    ----------
    age_years : float
        Age, 5 to 100 years.
    refraction_d : float
        Refraction at the spectacle plane, D.
    worn : bool
        Whether the glasses for far are on.

    Returns
    -------
    ClearRange
        ``far_d`` above 0 says that far vision costs accommodation.

    Examples
    --------
    −2.50 D at 70, glasses off: clear at 1 / 2.43 m from the cornea and nowhere else.

    >>> seen = clear_range(70, -2.5, False)
    >>> round(seen.far_d, 2), round(seen.near_d, 2)
    (-2.43, -2.43)
    """
    amplitude_d = accommodation.amplitude_at_age(age_years)
    relaxed_d = at_vertex(refraction_d, VERTEX_MM, 0.0)
    strained_d = refract(relaxed_d, -amplitude_d)
    if worn:  # what must reach the glasses so that this reaches the cornea, told from the cornea
        way_m = VERTEX_MM / 1000.0
        near_d = propagate(refract(propagate(strained_d, -way_m), -refraction_d), way_m)
        return ClearRange(age_years, refraction_d, True, amplitude_d, 0.0, near_d)
    return ClearRange(age_years, refraction_d, False, amplitude_d, relaxed_d, strained_d)


def _build_range():
    figure = Figure(figsize=(7.0, 3.6), dpi=style.DPI, layout="constrained")
    ages, axes = figure.subplots(1, 2, width_ratios=(2.6, 4.4))
    ages.set(xlim=(10, 80), ylim=(0, 22), xlabel="age, years", ylabel="amplitude, D")
    ages.set_xticks([20, 40, 60, 80])
    for population, dashes in (("minimum", ":"), ("average", "-"), ("maximum", ":")):
        amplitude_d = accommodation.amplitude_at_age(AGES, population)
        ages.plot(AGES, amplitude_d, color=style.BLUE, linestyle=dashes, linewidth=1.6)
    ages.text(44, 19.3, "average, and\nhighest, lowest", ha="center", va="center")
    axes.set(xlim=(0.0, -DEEPEST_D), ylim=(0.0, 1.0), yticks=[], xlabel="vergence of the object, D")
    axes.xaxis.set_major_formatter(lambda d, _: signed(d, "", 0))
    axes.set_xticks([0, -2, -4, -6, -8, -10, -12])
    axes.spines["left"].set_visible(False)
    top = axes.secondary_xaxis("top")
    top.set_xticks([0.0, -2.5, -5.0, -10.0], ["far", "40", "20", "10"])
    top.set_xlabel("distance of the object, cm")
    axes.axvline(-READING_D, color=style.GREY, linewidth=1.2, dashes=(4, 3))
    axes.text(-2.7, 0.9, "a page at 40 cm", color=style.GREY, ha="left", va="center")
    bar = Rectangle((0, 0.36), 0, 0.28, fc=style.SKY, ec=style.BLUE, linewidth=1.5)
    artists = {"bar": axes.add_patch(bar)}
    (artists["now"],) = ages.plot([], [], "o", color=style.VERMILION, markersize=9, clip_on=False)
    artists["clear"] = axes.text(-6.0, 0.2, "", ha="center", va="center", weight="bold")
    return figure, artists


def _move_range(artists, seen):
    artists["now"].set_data([seen.age_years], [seen.amplitude_d])
    start = min(seen.far_d, 0.0)
    end = max(seen.near_d, -DEEPEST_D)
    width = end - start if seen.reachable else 0.0
    if seen.reachable and width > -0.06:  # a single distance: a thin bar
        start, width = start + 0.03, -0.06
    artists["bar"].set_x(start)
    artists["bar"].set_width(width)
    artists["bar"].set_visible(seen.reachable)
    artists["clear"].set_text(f"clear: {_distances(seen)}")


def _distances(seen):
    """The range in words, from far to near."""
    if not seen.reachable:
        return "nothing"
    near = "far only" if seen.near_d > -0.05 else f"{_cm(seen.near_d)}"
    if seen.far_d >= -0.05:
        return near if near == "far only" else f"far to {near}"
    if seen.far_d - seen.near_d < 0.01:
        return f"{near} only"
    return f"{_cm(seen.far_d)} to {near}"


def _cm(vergence_d):
    return f"{-100.0 / vergence_d:.0f} cm"


def _say_range(seen):
    glasses = "with glasses for far" if seen.worn else "without glasses"
    page = "A page at 40 cm is clear" if seen.reads else "A page at 40 cm is not clear"
    return (
        f"At {seen.age_years:.0f} years an average eye accommodates {seen.amplitude_d:.1f} D. With "
        f"{signed(seen.refraction_d)}, {glasses}, it sees clearly: {_distances(seen)}. {page}."
    )


def _describe_range(seen):
    glasses = "glasses for far on" if seen.worn else "no glasses"
    page = "inside" if seen.reads else "outside"
    return (
        f"Left, amplitude falling with age: {seen.amplitude_d:.1f} D at {seen.age_years:.0f}. "
        f"Right, a bar of what is clear with {signed(seen.refraction_d)}, {glasses}: "
        f"{_distances(seen)}. A page at 40 cm lies {page} the bar."
    )


def age_and_range():
    """Return the demo: age, refraction and glasses against the range of clear vision."""
    return Demo(
        title="age, refraction and the range of clear vision",
        controls=(
            Slider("age_years", "Age, years", 10, 80, 1, 35, "years"),
            Slider("refraction_d", "Refraction, D", -6, 6, 0.25, 0, "D", signed=True),
            Choice("worn", "Glasses for far:", {"off": False, "on": True}, False),
        ),
        build=_build_range,
        compute=clear_range,
        move=_move_range,
        sentence=_say_range,
        alt=_describe_range,
    )


def reduced_eye_steps(axial_length_mm):
    """Return the steps from the length of a reduced eye to its glasses, for a worked example.

    Parameters
    ----------
    axial_length_mm : float
        Surface to retina, mm.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> [round(step[2], 2) for step in reduced_eye_steps(24.0)]
    [55.56, -4.44, -4.69, -22.5]
    """
    eye = model_eyes.get("emsley_reduced")
    at_retina_d = vergence(axial_length_mm / 1000.0, index=4 / 3)
    at_cornea_d = model_eyes.refraction(eye, axial_length_mm, 0.0)
    spectacle_d = at_vertex(at_cornea_d, 0.0, VERTEX_MM)
    return [
        (
            "what the length needs to have its focus on the retina",
            f"(4/3) / {axial_length_mm / 1000:.4f} m",
            at_retina_d,
            "D",
        ),
        (
            "what the eye lacks (+) or has too much (−): refraction at the cornea",
            "that − 60.00 D",
            at_cornea_d,
            "D",
        ),
        ("the same in spectacles, 12 mm in front", "K / (1 + 0.012 K)", spectacle_d, "D"),
        (
            "far point, from the cornea (− in front, + behind)",
            "100 / K",
            100.0 * far_point(at_cornea_d, vertex_mm=0.0),
            "cm",
        ),
    ]


MM_PER_D = 0.37


def two_eyes_steps(right_d, left_d, right_mm, left_mm):
    """Return the steps that ask whether length explains how two eyes differ.

    Parameters
    ----------
    right_d, left_d : float
        Refractions in spectacles, D.
    right_mm, left_mm : float
        Lengths measured, mm.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> [round(step[2], 2) for step in two_eyes_steps(-5.50, -2.50, 25.10, 25.13)]
    [-5.16, -2.43, -2.73, 1.01, -0.03]
    """
    right_cornea_d = at_vertex(right_d, VERTEX_MM, 0.0)
    left_cornea_d = at_vertex(left_d, VERTEX_MM, 0.0)
    apart_d = right_cornea_d - left_cornea_d
    to_cornea = "F / (1 − 0.012 F)"
    return [
        ("right eye, at the cornea", to_cornea, right_cornea_d, "D"),
        ("left eye, at the cornea", to_cornea, left_cornea_d, "D"),
        ("how they differ", "right − left", apart_d, "D"),
        ("length that would explain it", "−0.37 mm a dioptre", -MM_PER_D * apart_d, "mm"),
        ("length that was measured", "right − left", right_mm - left_mm, "mm"),
    ]
