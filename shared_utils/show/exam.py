"""The figure of an examination's report."""

from matplotlib.figure import Figure

from shared_utils.show import style
from shared_utils.show.shown import Shown


def shares(shares):
    """Return the figure of right answers by part, with the range that each tells.

    Parameters
    ----------
    shares : sequence of Share
        With ``name``, ``right``, ``asked``, ``low`` and ``high``.

    Returns
    -------
    Shown
    """
    with style.applied():
        figure = Figure(figsize=(7.0, 0.9 + 0.5 * len(shares)), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(xlim=(0, 100), xlabel="right, per cent (bar: range that so few questions leave)")
        axes.set_ylim(len(shares) - 0.5, -0.5)
        axes.set_yticks(range(len(shares)), [share.name for share in shares])
        axes.tick_params(axis="y", length=0)
        for row, share in enumerate(shares):
            axes.plot([100 * share.low, 100 * share.high], [row, row], color=style.SKY, linewidth=6)
            axes.plot([100 * share.right / share.asked], [row], "o", color="black", markersize=8)
    words = "; ".join(f"{share.name}: {share.right} of {share.asked}" for share in shares)
    return Shown(figure, f"Right answers by part of the course. {words}.")
