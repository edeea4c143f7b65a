"""The command ``power``: formulas side by side, the steps of one, the outcome of a cohort."""

from __future__ import annotations

import shutil
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

from shared_utils import CAUTION
from shared_utils.clinic.plain_text import shown
from shared_utils.commands.new_file import refuse_existing

if TYPE_CHECKING:
    import argparse

WIDTH = 100
HISTORY = "History: no longer advised by the literature, shown to compare with."
LONG_MM, ADJUSTED_IN = 26.0, 2011  # from where, and by which regression, lengths are adjusted
EXAMPLE_EYES, EXAMPLE_SEED, EXAMPLE_A_CONSTANT = 150, 2027, 118.6
INVENTED = (
    "The cohort is invented: who comes out best follows from how it was invented and is no "
    "evidence about formulas."
)
IN_WORDS = {
    "elp_mm": "effective lens position",
    "elp_radius_mm": "radius for the position",
    "cornea_d": "corneal power",
    "behind_cornea_d": "vergence behind the cornea",
    "at_lens_d": "vergence arriving at the lens",
    "behind_lens_d": "vergence leaving the lens",
    "iol_power_d": "lens power",
}


def add_to(commands: argparse._SubParsersAction) -> None:
    """Add the parser of this command."""
    parser = commands.add_parser(
        "power",
        help="compare published power formulas; show their steps; audit a cohort",
        description="Published formulas side by side for one eye, or in a cohort of outcomes.",
        epilog="Example: lens-course power --axial-length 23.5 --k 43.5 --a-constant 118.6",
    )
    add = parser.add_argument
    add("--axial-length", type=float, metavar="MM", help="cornea to retina, 15 to 40 mm")
    add("--k", type=float, metavar="D", help="keratometry, 337.5 / radius, 30 to 65 D")
    add("--k2", type=float, metavar="D", help="keratometry of the other meridian")
    add("--acd", type=float, metavar="MM", help="cornea to lens, 1 to 6 mm; for haigis")
    add("--a-constant", type=float, metavar="A", help="of the lens, 110 to 125")
    add("--target", type=float, metavar="D", help="refraction wanted; myopia negative (default 0)")
    add("--vertex", type=float, default=12.0, metavar="MM", help="vertex distance (default 12)")
    add("--elp-k", type=float, metavar="D", help="K for the lens position alone (double-K)")
    add("--formula", metavar="NAME,…", help="formulas, or all (of a cohort: those --list marks)")
    add(
        "--finding",
        action="append",
        default=[],
        metavar="NAME=GRADE",
        help="what was found in the eye, such as ectasia=none; repeat it for more",
    )
    add("--list", action="store_true", help="list the formulas: names, constants, what they need")
    add("--steps", metavar="NAME", help="show one formula step by step")
    add("--csv", metavar="FILE", help="audit a cohort: columns as --example writes them")
    add("--example", metavar="FILE", help="write an invented cohort to try --csv on")
    parser.set_defaults(run=_run)


def _run(arguments):
    ways = [name for name in ("csv", "example", "steps") if getattr(arguments, name) is not None]
    ways += ["list"] * arguments.list
    if len(ways) > 1:
        raise ValueError(f"Give --{ways[0]} or --{ways[1]}, not both.")
    eye_given = [
        f"--{name.replace('_', '-')}"
        for name in ("axial_length", "k", "k2", "acd", "elp_k", "target")
        if getattr(arguments, name) is not None
    ] + ["--finding"] * bool(arguments.finding)
    if ways and ways[0] != "steps" and eye_given:
        raise ValueError(f"{eye_given[0]} is for one eye; leave it out with --{ways[0]}.")
    if arguments.list:
        _list()
    elif arguments.example is not None:
        _write_example(arguments.example)
    elif arguments.csv is not None:
        _audit(arguments)
    elif arguments.steps is not None:
        _steps(arguments)
    else:
        _side_by_side(arguments)
    return 0


def _one_eye(arguments):
    """The eye, the lens, and what else a formula takes."""
    from shared_utils.power.biometry import Eye
    from shared_utils.power.lens_constants import LensConstants

    _need(arguments, "axial_length", "k", "a_constant")
    eye = Eye(arguments.axial_length, arguments.k, k2_d=arguments.k2, acd_mm=arguments.acd)
    lens = LensConstants.from_a_constant(arguments.a_constant)
    target_d = 0.0 if arguments.target is None else arguments.target
    options = {"target_d": target_d, "vertex_mm": arguments.vertex, "elp_k_d": arguments.elp_k}
    return eye, lens, options


def _gate(arguments, eye, options):
    """What the gate says of this eye."""
    from shared_utils.choice import gate
    from shared_utils.choice.vocabulary import FINDINGS, Measured

    found = {}
    for text in arguments.finding:
        name, equals, value = (part.strip() for part in text.partition("="))
        if not equals:
            raise ValueError(f"--finding is {text!r}; give NAME=GRADE, such as ectasia=none.")
        if isinstance(FINDINGS.get(name), Measured):
            try:
                value = float(value)
            except ValueError:
                raise ValueError(f"--finding {name} is {value!r}; give a number.") from None
        found[name] = value
    return gate.check(eye, found, arguments.a_constant, options["target_d"])


def _print_gate(gate):
    """Print the caution and what the gate says; return whether powers may follow."""
    _say(CAUTION)
    print()
    _say(f"Gate: the power is {gate.outcome}.")
    for entry in (*gate.withheld, *gate.named_warnings):
        word = "Withheld" if entry in gate.withheld else "Warning"
        _say(f"{word}, {entry} [{entry.source}]")
    if gate.not_known:
        names = dict.fromkeys(name for entry in gate.not_known for name in entry.when)
        titles = ", ".join(entry.title for entry in gate.not_known)
        _say(f"Warning, {titles}: unknown is not normal. Give --finding for {', '.join(names)}.")
    print()
    return not gate.withheld


def _need(arguments, *names):
    for name in names:
        if getattr(arguments, name) is None:
            flag = f"--{name.replace('_', '-')}"
            raise ValueError(f"{flag} is missing; `lens-course power --help` shows an example.")


def _side_by_side(arguments):
    from shared_utils.power import report
    from shared_utils.power.registry import FORMULAS

    eye, lens, options = _one_eye(arguments)
    gate = _gate(arguments, eye, options)
    wanted = report.names("all" if arguments.formula is None else arguments.formula)
    results, lacking = report.side_by_side(eye, lens, FORMULAS.advised_first(wanted), **options)
    allowed = _print_gate(gate)
    _say(_given(arguments, eye, options))
    print()
    if not allowed:
        _say(CAUTION)
        return
    advised = [found for found in results if FORMULAS[found.formula].advised]
    if advised:
        _powers(advised)
        _adjusted(eye, lens, advised, options)
    _spread(eye, results, gate)
    old = [found for found in results if not FORMULAS[found.formula].advised]
    if old:
        _say(HISTORY)
        _powers(old)
    _say("Position: effective lens position, each formula's own; not to be exchanged or compared.")
    warned = {}
    for found in results:
        for warning in found.warnings:
            warned.setdefault(warning, []).append(found.formula)
    for warning, who in warned.items():
        _say(f"{', '.join(who)}: {warning}")
    _notes([found.formula for found in results], lacking)
    _sources([found.formula for found in results])


def _powers(results):
    _table(
        ("formula", "constant", "position mm", "power D", "half step D", "it leaves D", ""),
        [
            (
                found.formula,
                _constant(found.constant_name, found.constant),
                "none" if found.elp_mm is None else _fixed(found.elp_mm),
                _fixed(found.iol_power_d),
                _fixed(found.nearest_d, 1),
                _fixed(found.predicted_d, signed=True),
                _remark(found),
            )
            for found in results
        ],
    )
    print()


def _adjusted(eye, lens, results, options):
    """Print the powers of a long eye with its length adjusted, for which that was published."""
    from shared_utils.power import long_eyes
    from shared_utils.power.formulas import iol_power
    from shared_utils.power.registry import FORMULAS

    if eye.axial_length_mm < LONG_MM:
        return
    powers = []
    for found in results:
        if ADJUSTED_IN in FORMULAS[found.formula].long_eye_lines:
            adjusted = long_eyes.adjusted_eye(eye, found.formula, ADJUSTED_IN)
            power_d = iol_power(adjusted, found.formula, lens, **options)
            powers.append(f"{found.formula} {_fixed(power_d)} D")
    if powers:
        _say(
            f"With the length adjusted for long eyes ({ADJUSTED_IN}): {', '.join(powers)}. "
            "Adjust once, or not at all."
        )
        print()


def _spread(eye, results, gate):
    """Print how far such eyes scatter about the prediction, with what the warnings add."""
    from shared_utils.power.error_budget import error_budget

    elp_mm = next((found.elp_mm for found in results if found.formula == "srk_t"), None)
    if elp_mm is None:
        return
    try:
        sd_d = error_budget(eye, elp_mm).sd_d
    except ValueError:
        return
    text = f"Spread about SRK/T's prediction: {_fixed(sd_d)} D, assumed"
    if gate.adds_sd_d:
        names = ", ".join(f"{entry.title} {_fixed(entry.adds_sd_d)} D" for entry in gate.unsure)
        wide_d = gate.widened(sd_d)
        text += f"; the warnings add ({names}, assumed), in quadrature {_fixed(wide_d)} D"
    _say(f"{text}. Of 100 such eyes 95 end within twice that of what the lens leaves.")
    print()


def _remark(found):
    from shared_utils.power.registry import FORMULAS

    return FORMULAS[found.formula].remark or ("see below" if found.warnings else "")


def _list():
    from shared_utils.power.formula_record import LENS_CONSTANTS
    from shared_utils.power.registry import FORMULAS

    _table(
        ("formula", "title", "year", "constant", "double-K", "cohorts", ""),
        [
            (
                name,
                record.title,
                str(record.year),
                LENS_CONSTANTS[record.constant].symbol,
                "yes" if record.position_uses_k else "no",
                "yes" if record.in_cohorts else "no",
                "needs --acd" if "acd_mm" in record.measurements else "",
            )
            for name, record in ((name, FORMULAS[name]) for name in FORMULAS.advised_first())
        ],
    )
    print()
    old = [name for name in FORMULAS.advised_first() if not FORMULAS[name].advised]
    _say(f"{HISTORY} They are: {', '.join(old)}.")
    _say("Double-K: whether a K for the lens position changes it. Cohorts: stands in an audit.")
    _sources(FORMULAS)


def _steps(arguments):
    from shared_utils.power import formulas, report
    from shared_utils.power.registry import FORMULAS

    eye, lens, options = _one_eye(arguments)
    gate = _gate(arguments, eye, options)
    if arguments.formula is not None:
        raise ValueError("Give --steps with the name of one formula, and leave --formula out.")
    (name, *more) = report.names(arguments.steps)
    if more:
        raise ValueError("--steps shows one formula; give one name.")
    (found,), _ = report.side_by_side(eye, lens, [name], **options)
    there = formulas.trace_power(eye, name, lens, **options).named
    if not _print_gate(gate):
        _say(CAUTION)
        return
    options.pop("target_d")
    back = formulas.trace_refraction(eye, name, lens, found.nearest_d, **options).named
    _say(_given(arguments, eye, {**options, "target_d": arguments.target or 0.0}))
    if not FORMULAS[name].advised:
        _say(HISTORY)
    _say(f"{name}, with the constant {_constant(found.constant_name, found.constant)}.")
    print("\nFrom the eye to the lens")
    _print_steps(there)
    print(f"\nBack from a lens of {_fixed(found.nearest_d, 1)} D")
    from_the_eye = formulas.steps(eye, name, lens, arguments.elp_k)
    known = {**from_the_eye.named, **from_the_eye.before_optics()}
    _print_steps({step: value for step, value in back.items() if step not in known})
    if found.warnings or FORMULAS[name].note:
        print()
    for warning in found.warnings:
        _say(f"{name}: {warning}")
    _notes([name], {})
    _sources([name])


def _audit(arguments):
    from shared_utils.clinic import cohort_file
    from shared_utils.power import audit, report
    from shared_utils.power.lens_constants import LensConstants
    from shared_utils.power.registry import FORMULAS

    _need(arguments, "a_constant")
    lens = LensConstants.from_a_constant(arguments.a_constant)
    in_cohorts = FORMULAS.where("in_cohorts")
    wanted = in_cohorts if arguments.formula is None else report.names(arguments.formula)
    try:
        has = cohort_file.columns(arguments.csv)
        measured = {m for name in wanted for m in FORMULAS[name].measurements}
        optional = ["k2_d", *sorted(measured - {"axial_length_mm", "k1_d"})]
        needed = ["iol_power_d", "achieved_d", *(name for name in optional if name in has)]
        reading = cohort_file.read(arguments.csv, needed)
    except OSError as error:
        raise ValueError(f"{arguments.csv} cannot be read: {error.strerror}.") from None
    _say(CAUTION)
    print()
    for line in reading.report(at_most=len(reading.problems)).splitlines():
        _say(line)
    cohort = reading.cohort
    found = audit.audit(
        cohort.eye, cohort.iol_power_d, cohort.achieved_d, wanted, lens, arguments.vertex
    )
    for place, (formula, sentence) in found.set_aside.items():
        label = shown(cohort.label[place], WIDTH)
        _say(f"{label} not counted, for {formula} has no answer: {sentence}")
    counted = int(found.used.sum())
    print(f"\nAchieved minus predicted refraction, {counted} eyes, constants for mean error 0\n")
    _table(
        (
            *("formula", "constant", "n", "before", "after", "SD", "MAE", "MedAE"),
            *(f"≤{limit:.2f}" for limit in found.formulas[0].after.within),
        ),
        [
            (
                row.formula,
                _constant(row.constant_name, row.constant),
                str(row.after.n),
                _fixed(row.before.mean_d, signed=True),
                _fixed(row.after.mean_d),
                *(_fixed(getattr(row.after, name), 3) for name in ("sd_d", "mae_d", "medae_d")),
                *(f"{100.0 * share:.0f}" for share in row.after.within.values()),
            )
            for row in found.formulas
        ],
    )
    print()
    _say(
        "Errors in D, positive for a hyperopic surprise. Before, after: mean error with the "
        f"constant converted from A = {arguments.a_constant:g}, and with the one shown. All the "
        "rest is after. MAE, MedAE: mean and median size. ≤: % of eyes within so many D."
    )
    if found.pairs:
        print("\nEvery two formulas in the same eyes: difference of SD, by bootstrap over eyes\n")
        _table(
            ("first less second", "difference D", "95 % interval D", "p", "p by Holm"),
            [
                (
                    f"{pair.first} less {pair.second}",
                    _fixed(pair.difference_d, 3, signed=True),
                    f"{_fixed(pair.low_d, 3, True)} to {_fixed(pair.high_d, 3, True)}",
                    _fixed(pair.p, 3),
                    _fixed(pair.p_holm, 3),
                )
                for pair in found.pairs
            ],
        )
        print()
        _say("Negative: the first formula scatters less. p by Holm allows for all pairs together.")
    if counted < audit.FEWEST_EYES:
        _say(f"With fewer than {audit.FEWEST_EYES} eyes the intervals are too narrow.")
    _say(f"Assumed: {audit.ASSUMED}")
    if reading.invented:
        _say(INVENTED)
    _notes([row.formula for row in found.formulas], found.lacking, before=True)
    _sources([row.formula for row in found.formulas])


def _write_example(name):
    from shared_utils.clinic import cohort, cohort_file

    path = Path(name)
    refuse_existing(name)
    invented = cohort.invent(EXAMPLE_EYES, EXAMPLE_SEED, a_constant=EXAMPLE_A_CONSTANT)
    try:
        cohort_file.write(path, invented)
    except OSError as error:
        raise ValueError(f"{name} cannot be written: {error.strerror}.") from None
    _say(CAUTION)
    _say(f"Wrote {invented.n} invented eyes to {name}.")
    _say(f"Next: lens-course power --csv {name} --a-constant {EXAMPLE_A_CONSTANT}")
    _say(CAUTION)


def _given(arguments, eye, options):
    depth = "not given" if eye.acd_mm is None else f"{_fixed(eye.acd_mm)} mm"
    double = options["elp_k_d"]
    return (
        f"Axial length {_fixed(eye.axial_length_mm)} mm, mean K {_fixed(eye.mean_k_d)} D, chamber "
        f"depth {depth}"
        + ("" if double is None else f", K for the position {_fixed(double)} D")
        + f". Lens: A-constant {arguments.a_constant:g}. Target {_fixed(options['target_d'])} D at "
        f"{options['vertex_mm']:g} mm."
    )


def _notes(formulas, lacking, before=False):
    from shared_utils.power.registry import FORMULAS

    for formula in formulas:
        if FORMULAS[formula].note:
            _say(f"{formula}{' before' if before else ''}: {FORMULAS[formula].note}")
    for formula, sentence in lacking.items():
        _say(f"No answer by {formula}: {sentence}")


def _sources(formulas):
    from shared_utils.power.registry import FORMULAS

    print("\nSources")
    for formula in formulas:
        _say(f"{formula}: {FORMULAS[formula].source}")
    print()
    _say(CAUTION)


def _print_steps(named):
    from shared_utils.optics.domain import unit_of

    for name, value in named.items():
        unit = unit_of(name)
        bare = name.removesuffix(f"_{unit.lower()}") if unit else name
        words = IN_WORDS.get(name, bare.replace("_", " "))
        print(f"  {words:<34}{_fixed(value, 3):>10} {unit}".rstrip())


def _constant(name, value):
    from shared_utils.optics.domain import unit_of
    from shared_utils.power.formula_record import LENS_CONSTANTS

    return f"{LENS_CONSTANTS[name].symbol} {_fixed(value)} {unit_of(name)}".rstrip()


def _fixed(value, places=2, signed=False):
    """A number with so many decimals and never a minus before zero."""
    value = round(float(value), places) + 0.0
    return f"{value:+.{places}f}" if signed and value else f"{value:.{places}f}"


def _table(titles, rows):
    """Print columns: numbers to the right; names, constants and what has no title to the left."""
    words = 2 if titles[1] == "constant" else 1
    widths = [max(map(len, column)) for column in zip(titles, *rows, strict=True)]
    for row in (titles, *rows):
        cells = [
            f"{cell:<{width}}" if at < words or not titles[at] else f"{cell:>{width}}"
            for at, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        print("  ".join(cells).rstrip())


# a file's name is copied from the output
UNBROKEN = {"break_on_hyphens": False, "break_long_words": False}


def _say(sentence):
    width = min(WIDTH, shutil.get_terminal_size((WIDTH, 24)).columns)
    print(textwrap.fill(sentence, width, subsequent_indent="  ", **UNBROKEN))
