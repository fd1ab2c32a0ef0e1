"""Rebuild the budget of every result with other people's libraries, and compare.

GTC is of the Measurement Standards Laboratory of New Zealand, uncertainties is the common package
for linear propagation; the Monte Carlo of JCGM 101 is NumPy's. None of them shares a line with
the program. What is compared stands at each check.
"""

import json
import math
import pathlib
import subprocess
import sys
import tempfile

import GTC
import numpy
import scipy.stats
import uncertainties

SAME = 1e-6  # the same formula in double precision leaves no more than this, relative
DRAWS = 2_000_000
SEED = 101
# The program joins all normal and t terms to one t by Welch and Satterthwaite (JCGM 100, G.4),
# then folds in rectangles and triangles. Monte Carlo of the same joint t leaves only noise (0.07 %
# of the quantile) and the program's grid.
JOINED = 0.005
# JCGM 101 takes each t by itself. With many degrees of freedom, or one t and nothing to join it
# with, that is the same to within this share. With two or more terms, one of them of few degrees
# of freedom, it is not: the t of JCGM 101 (6.4.9) is a degree of belief about one mean, and the
# interval of a sum of such is known to cover more often than it says; that of Welch is made to
# cover as often as it says. There the difference is printed, and coverage itself is checked.
EACH_BY_ITSELF = 0.02
MANY = 30
# Share of jobs, each with its own scatter drawn, in which the interval must hold the truth. Below
# 93 % is dishonest. A t of two degrees of freedom beside an error limit of its own size covers
# 97.2 %, even by JCGM 101 to the letter: so much timidity, and little more, is allowed.
COVERAGE = (0.93, 0.98)
JOBS = 20_000


class Checks:
    """Counts what was compared and prints what differs."""

    def __init__(self):
        self.done = 0
        self.failed = 0

    def near(self, what, found, expected, relative):
        self.that(
            what,
            math.isclose(found, expected, rel_tol=relative),
            f"{found!r}, independently {expected!r}",
        )

    def that(self, what, holds, words):
        self.done += 1
        if not holds:
            self.failed += 1
            print(f"  DIFFERS: {what}: {words}", file=sys.stderr)


def figure_in_force(channel):
    for name in ("combined", "tape", "satellite"):
        if channel[name] is not None:
            return name, channel[name]
    return None, None


def dof(line):
    finite = line["degrees_of_freedom"]
    return math.inf if finite is None else finite


def draw(line, size, generator):
    """Draws of one contribution from the distribution its line names (JCGM 101, 6.4)."""
    u, kind = abs(line["contribution"]), line["distribution"]
    if kind == "rectangular":
        return u * math.sqrt(3) * generator.uniform(-1, 1, size)
    if kind == "triangular":
        return u * math.sqrt(6) * generator.triangular(-1, 0, 1, size)
    if kind == "arc sine":
        return u * math.sqrt(2) * numpy.sin(generator.uniform(-math.pi, math.pi, size))
    if kind == "Student t" and math.isfinite(dof(line)):
        return u * generator.standard_t(dof(line), size)
    if kind in ("normal", "Student t"):
        return u * generator.standard_normal(size)
    raise ValueError(f"no distribution is called {kind!r}")


def is_smooth(line):
    return line["distribution"] in ("normal", "Student t", "arc sine")


def joint_t(sizes, dofs):
    """Scale and degrees of freedom of the sum of normal and t terms: JCGM 100, equation G.2b.

    Works on columns of sizes as well.
    """
    sizes, dofs = numpy.asarray(sizes, float), numpy.asarray(dofs, float)
    squares = sizes**2

    def joined(part, of):
        variance = part.sum(axis=0)
        weighted = (part**2 / of.reshape(-1, *[1] * (part.ndim - 1))).sum(axis=0)
        with numpy.errstate(divide="ignore", invalid="ignore"):
            nu = numpy.where(weighted > 0, variance**2 / weighted, math.inf)
        return numpy.sqrt(variance), nu

    scale, nu = joined(squares, dofs)
    nu = numpy.minimum(nu, 1e9)
    return scale, nu


def groups(sizes, dofs):
    """All normal and t terms, and those of finite degrees of freedom: with next to none of them the
    formula rewards a further source of uncertainty with a narrower interval, and the wider of the two is given."""
    sizes, dofs = numpy.asarray(sizes, float), numpy.asarray(dofs, float)
    finite = numpy.isfinite(dofs)
    found = [joint_t(sizes, dofs)]
    if finite.any():
        found.append(joint_t(sizes[finite], dofs[finite]))
    return found


def monte_carlo(lines):
    """Half-width of the 95 % interval of the sum: it is symmetric about zero, as each term is.

    First with every term drawn by itself (JCGM 101), then with normal and t terms as one t.
    """
    generator = numpy.random.default_rng(SEED)
    smooth, limited = numpy.zeros(DRAWS), numpy.zeros(DRAWS)
    for line in lines:
        part = smooth if is_smooth(line) else limited
        part += draw(line, DRAWS, generator)
    terms = [line for line in lines if is_smooth(line)]
    middle = lambda total: float(numpy.quantile(numpy.abs(total), 0.95))
    joint = max(
        middle(scale * generator.standard_t(nu, DRAWS) + limited)
        for scale, nu in groups(
            [line["contribution"] for line in terms], [dof(line) for line in terms]
        )
    )
    return middle(smooth + limited), joint


def coverage(lines):
    """How often the rule's interval holds the truth, were this budget the truth of the matter.

    Each job has its own errors from their distributions, and its own observed scatter: of a type A
    term the chi-squared of its degrees of freedom. The interval is calculated from the observed.
    """
    generator = numpy.random.default_rng(SEED + 1)
    terms = [line for line in lines if is_smooth(line)]
    true = numpy.array([abs(line["contribution"]) for line in terms])
    dofs = numpy.array([dof(line) for line in terms])
    error = (true[:, None] * generator.standard_normal((len(terms), JOBS))).sum(axis=0)
    seen = numpy.array(
        [
            u * numpy.sqrt(generator.chisquare(nu, JOBS) / nu) if math.isfinite(nu)
            else numpy.full(JOBS, u)
            for u, nu in zip(true, dofs)
        ]
    )
    limited = numpy.zeros(100_000)
    for line in lines:
        if not is_smooth(line):
            error += draw(line, JOBS, generator)
            limited += draw(line, limited.size, generator)
    # The limited terms as 61 equally likely places.
    places = numpy.quantile(limited, (numpy.arange(61) + 0.5) / 61)[:, None]
    # The interval holds the error when the distribution function there is below 97.5 %.
    held = numpy.zeros(JOBS, bool)
    for scale, nu in groups(seen, dofs):
        held |= scipy.stats.t.cdf((numpy.abs(error) - places) / scale, nu).mean(axis=0) <= 0.975
    return float(held.mean())


def check_channel(checks, where, channel):
    name, figure = figure_in_force(channel)
    if figure is None:
        print(f"{where}: no value")
        return 0
    where = f"{where}, {name}"
    lines = channel["budget"]
    u = figure["standard_uncertainty"]
    checks.that(where, bool(lines), "a value without a budget")

    root_sum = math.sqrt(math.fsum(line["contribution"] ** 2 for line in lines))
    checks.near(f"{where}: root sum of squares", u, root_sum, SAME)

    by_gtc, by_uncertainties = GTC.constant(0), 0.0
    for line in lines:
        size, nu = line["standard_uncertainty"], dof(line)
        if size <= 0:
            checks.that(where, line["contribution"] == 0, f"{line['source']} gives from nothing")
            continue
        sensitivity = line["contribution"] / size
        by_gtc += sensitivity * GTC.ureal(0, size, nu)
        by_uncertainties += sensitivity * uncertainties.ufloat(0, size)
    checks.near(f"{where}: u by GTC", u, GTC.uncertainty(by_gtc), SAME)
    checks.near(f"{where}: u by uncertainties", u, by_uncertainties.std_dev, SAME)
    nu = figure["degrees_of_freedom"]
    nu = math.inf if nu is None else nu
    gtc_nu = GTC.dof(by_gtc)
    # GTC calls a million or more infinite.
    both_many = nu > 1e6 and gtc_nu > 1e6
    checks.near(f"{where}: degrees of freedom", nu, nu if both_many else gtc_nu, SAME)
    given = figure["coverage_factor"] * u
    checks.near(f"{where}: k times u", figure["expanded_uncertainty"], given, SAME)
    checks.that(where, figure["coverage_probability"] == 0.95, "not a 95 % interval")

    expanded = figure["expanded_uncertainty"]
    each, joined = monte_carlo(lines)
    checks.near(f"{where}: U95 by Monte Carlo of the joint t", expanded, joined, JOINED)
    terms = [line for line in lines if is_smooth(line) and abs(line["contribution"]) > 0.1 * u]
    if len(terms) <= 1 or all(dof(line) >= MANY for line in terms):
        checks.near(f"{where}: U95 by Monte Carlo", expanded, each, EACH_BY_ITSELF)
    covered = coverage(lines)
    checks.that(
        f"{where}: coverage", COVERAGE[0] <= covered <= COVERAGE[1], f"{100 * covered:.2f} %"
    )
    percent = lambda other: f"{other:.4f} ({100 * (expanded / other - 1):+.2f} %)"
    print(
        f"{where}: u {u:.4f}, GTC {GTC.uncertainty(by_gtc):.4f}; dof {nu:.3f}, GTC {gtc_nu:.3f}\n"
        f"  U95 {expanded:.4f}; Monte Carlo of the joint t {percent(joined)}, of each term by "
        f"itself {percent(each)}; covers {100 * covered:.1f} %"
    )
    return 1


def worked_example(checks, trundle):
    """Five runs on a class II tape of 100 m, from the readings to the interval.

    The length is asked of the program as well; the values at the end were calculated once with
    GTC and uncertainties (no publication has them) and are pinned here.
    """
    runs = GTC.type_a.estimate([13004, 13011, 12998, 13006, 13001])
    rectangle = lambda value, half: GTC.ureal(value, half / math.sqrt(3))
    tape = rectangle(0, 0.0203)  # Directive 2014/32/EU, annex X: 0.3 mm + 0.2 mm for each metre
    alpha, warmer = rectangle(11.6e-6, 0.5e-6), rectangle(10, 2)
    pegs, count = GTC.ureal(0, 0.010), rectangle(0, 1)
    length = (100 + tape) * (1 + alpha * warmer) + pegs
    figure = 100 * (runs + count) / length
    k = GTC.reporting.k_factor(GTC.dof(figure))
    pinned = [
        ("scatter of the mean", runs.u, 2.21359436),
        ("length", length.x, 100.0116),
        ("u of the length", length.u, 0.01546844),
        ("figure", figure.x, 13002.491711),
        ("u of the value", figure.u, 3.045725),
        ("effective degrees of freedom", figure.df, 14.342735),
        ("coverage factor", k, 2.139988),
        ("expanded uncertainty", k * figure.u, 6.517816),
    ]
    parts = [(runs, 2.213338), (tape, 1.523919), (pegs, 1.300098), (count, 0.577283)]
    parts += [(warmer, 0.174142), (alpha, 0.037531)]
    pinned += [("a part", GTC.component(figure, part), size) for part, size in parts]
    for what, found, expected in pinned:
        checks.near(f"worked example: {what}", found, expected, SAME if expected > 1 else 3e-5)
    print(
        f"worked example: {figure.x:.4f}, u {figure.u:.5f}, dof {figure.df:.4f}, "
        f"k {k:.5f}, U95 {k * figure.u:.5f}"
    )

    # Two pegs, each off by ±a, rectangular: together √(2/3) a.
    course = f"""
[course]
nominal_m = 100.0
peg_placement_m = {0.010 * math.sqrt(1.5)!r}
[tape]
class = "II"
material = "steel"
temperature_c = 30.0
"""
    with tempfile.TemporaryDirectory() as folder:
        file = pathlib.Path(folder) / "course.toml"
        file.write_text(course, encoding="utf-8")
        out = subprocess.run([trundle, "course", file, "--json"], capture_output=True, check=True)
    given = json.loads(out.stdout)["length"]
    checks.near("course by the program: length", given["length_m"], length.x, 1e-9)
    # The program lays the pegs before the tape is warm, the example after: 0.01 % of one part.
    checks.near("course by the program: u", given["standard_uncertainty_m"], length.u, 1e-4)
    u = given["standard_uncertainty_m"]
    print(f"course by the program: {given['length_m']:.6f} m, u {u:.8f} m")


def main(trundle, results):
    files = sorted(pathlib.Path(results).glob("*.json"))
    if not files:
        sys.exit("no results to check")
    checks = Checks()
    figures = 0
    for file in files:
        result = json.loads(file.read_text(encoding="utf-8"))
        for name, channel in result["channels"].items():
            figures += check_channel(checks, f"{file.stem}, {name}", channel)
    worked_example(checks, trundle)
    if figures == 0:
        sys.exit("no result has a value: nothing was compared")
    print(f"{figures} values, {checks.done} comparisons, {checks.failed} differ")
    return 1 if checks.failed else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
