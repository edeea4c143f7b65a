"""Figures on vergence."""

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Arc

from shared_utils.cases import vergence as cases
from shared_utils.show import style
from shared_utils.show.figure_with_alt import FigureWithAlt
from shared_utils.show.style import signed


def three_kinds_of_light() -> FigureWithAlt:
    """Return the figure of diverging, parallel and converging light at one place.

    Returns
    -------
    FigureWithAlt
    """
    with style.applied():
        figure = Figure(figsize=(7.0, 2.5), dpi=style.DPI, layout="constrained")
        axes_row = figure.subplots(1, 3)
        beams = cases.compute_beam_vergences()
        for axes, (kind, here_d) in zip(axes_row, beams.items(), strict=True):
            _draw_panel(axes, kind, cases.BEAM_POINTS_M[kind], here_d)
    words = [f"{kind} light has {signed(here_d)}" for kind, here_d in beams.items()]
    return FigureWithAlt(figure, "Three beams that pass one place. " + "; ".join(words) + ".")


def _draw_panel(axes, kind, distance_m, here_d):
    axes.set(xlim=(-0.62, 0.62), ylim=(-0.3, 0.5), xticks=[], yticks=[])
    axes.spines[:].set_visible(False)
    axes.axvline(0.0, ymin=0.02, ymax=0.7, color=style.GREY, linewidth=1.2)
    point = 0.0 if np.isinf(distance_m) else distance_m
    for height in np.linspace(-0.2, 0.2, 5):
        if np.isinf(distance_m):
            x, y = [-0.5, 0.5], [height, height]
        else:
            end = -0.15 * np.sign(point)
            x, y = [point, end], [0.0, height * (1 - end / point)]
        axes.plot(x, y, color=style.ORANGE, linewidth=1.4)
    if np.isinf(distance_m):
        for place in (-0.3, -0.15, 0.15, 0.3):
            axes.plot([place, place], [-0.22, 0.22], color=style.BLUE, linewidth=1.5)
        axes.text(0, 0.44, "from a distant object", ha="center", va="center")
    else:
        side = -np.sign(point)  # on which side of the point the light is drawn
        middle = 0.0 if side > 0 else 180.0
        for radius in (0.2, 0.35, 0.5):
            axes.add_patch(
                Arc(
                    (point, 0.0),
                    2 * radius,
                    2 * radius,
                    theta1=middle - 22,
                    theta2=middle + 22,
                    color=style.BLUE,
                    linewidth=1.5,
                )
            )
        axes.plot([point], [0.0], "o", color="black", markersize=7)
        side_word = "in front" if point < 0 else "behind"
        axes.text(
            0, 0.44, f"point {abs(distance_m) * 100:.0f} cm {side_word}", ha="center", va="center"
        )
    axes.text(0, 0.34, f"{kind}: {signed(here_d)}", ha="center", va="center", weight="bold")


def lens_to_read(object_cm: float = 50, image_cm: float = 25) -> FigureWithAlt:
    """Return the figure of a point, a thin lens and the image, on a scale, to be read.

    Parameters
    ----------
    object_cm, image_cm : float
        How far the point lies in front of the lens and the image behind it, cm; at most 60 and 40.

    Returns
    -------
    FigureWithAlt
    """
    with style.applied():
        figure = Figure(figsize=(7.0, 2.6), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(
            xlim=(-64, 44),
            ylim=(-1.5, 1.7),
            yticks=[],
            xlabel="cm from the lens; light travels to the right",
        )
        style.ruled(axes.xaxis, 10, digits=0)
        axes.spines["left"].set_visible(False)
        axes.plot([0, 0], [-1.25, 1.25], color=style.BLUE, linewidth=4)
        axes.text(0, 1.5, "lens", color=style.BLUE, ha="center", va="center")
        for height in np.linspace(-1.0, 1.0, 5):
            axes.plot([-object_cm, 0, image_cm], [0, height, 0], color=style.ORANGE, linewidth=1.4)
        for place, name in ((-object_cm, "point"), (image_cm, "image")):
            axes.plot([place], [0], "o", color="black", markersize=7)
            axes.text(place, 0.6, name, ha="center", va="center")
    alt = (
        f"A scale in cm. Rays leave a point {object_cm:.0f} cm in front of a thin lens in air and "
        f"meet {image_cm:.0f} cm behind it."
    )
    return FigureWithAlt(figure, alt)


def way_to_read(start_d: float = 2.5, end_cm: float = 8) -> FigureWithAlt:
    """Return the figure of the vergence of light on its way behind a lens, to be read.

    Parameters
    ----------
    start_d : float
        Vergence at the lens, D; converging, at most 4.5.
    end_cm : float
        How far behind the lens the curve goes, cm; short of the focus, at most 10.

    Returns
    -------
    FigureWithAlt
    """
    curve = cases.compute_vergence_curve(start_d, end_cm)
    way_cm, here_d = curve.distances_cm, curve.along_d
    top_d = np.floor(2 * here_d[-1] + 2) / 2
    with style.applied():
        figure = Figure(figsize=(7.0, 3.4), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(
            xlim=(-0.3, 10.3),
            ylim=(start_d - 1.0, top_d),
            xlabel="cm behind the lens",
            ylabel="vergence, D",
        )
        style.ruled(axes.xaxis, 1)
        style.ruled(axes.yaxis, 0.5, digits=1)
        axes.plot(way_cm, here_d, color=style.BLUE)
        axes.plot(way_cm[[0, -1]], here_d[[0, -1]], "o", color="black", markersize=6)
    read = ", ".join(
        f"{signed(here_d)} at {cm} cm"
        for cm, here_d in zip(curve.whole_cm, curve.at_whole_d, strict=True)
    )
    return FigureWithAlt(
        figure,
        f"A rising curve of the vergence of light in air against its way behind a lens. It reads "
        f"{read}, where it ends.",
    )


def two_lenses_to_read(
    way_cm: float = 15, beyond_cm: float = 30, image_cm: float = 10
) -> FigureWithAlt:
    """Return the figure of light from far away through two lenses, on a scale, to be read.

    Parameters
    ----------
    way_cm : float
        From the first lens to the second, cm.
    beyond_cm : float
        From the second lens to where the light would meet without it, cm; with the way at most 60.
    image_cm : float
        From the second lens to where the light meets, cm; less than beyond_cm.

    Returns
    -------
    FigureWithAlt
    """
    found = cases.compute_two_lens_rays(way_cm, beyond_cm, image_cm)
    without_cm, with_cm = found.without_second_cm, found.image_cm
    with style.applied():
        figure = Figure(figsize=(7.0, 3.0), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(
            xlim=(-11, 67),
            ylim=(-1.5, 2.2),
            yticks=[],
            xticks=range(-10, 61, 5),
            xlabel="cm from the first lens; light travels to the right",
        )
        style.ruled(axes.xaxis, digits=0, plus=False)
        axes.spines["left"].set_visible(False)
        for place, name in ((0, "first\nlens"), (way_cm, "second\nlens")):
            axes.plot([place, place], [-1.25, 1.25], color=style.BLUE, linewidth=4)
            axes.text(place, 1.75, name, color=style.BLUE, ha="center", va="center")
        for ray, without in zip(found.rays, found.rays_without_second, strict=True):
            axes.plot(*ray, color=style.ORANGE, linewidth=1.4)
            axes.plot(*without, color=style.GREY, linewidth=1.2, dashes=(4, 3))
        axes.plot([with_cm], [0], "o", color="black", markersize=7)
        axes.plot([without_cm], [0], "o", mfc="white", mec="black", markersize=7)
        axes.text(with_cm, -1.05, "image", ha="center", va="center")
        axes.text(without_cm, 0.65, "without the\nsecond lens", ha="center", va="center")
    return FigureWithAlt(
        figure,
        "A scale in cm from a first thin lens, with light from far away. A second thin lens stands "
        f"at {way_cm:.0f} cm. Behind it the light meets at {with_cm:.0f} cm; without it, it would "
        f"meet at {without_cm:.0f} cm.",
    )
