"""The table of what came out, and what must hold of it."""

import collections
import math

from scipy import stats

from honest_faults import FAMILIES
from honest_slip import SLIP_FAMILIES

CHANNELS = ("wheel", "radar")
SIDES = ("tape", "satellite", "combined")
COVERAGE = 0.95
NORMAL = 1.96  # coverage factor of a slip
POOLED = (0.935, 0.965)  # once there are POOLED_LEAST values
POOLED_LEAST = 1000
CHANCE = 0.001  # that a family, or a number of silent errors, is so by chance
FALSE_ALARMS = 0.01
SECTION_RMS = (0.8, 1.1)  # over all families; what is known beforehand is drawn once a job,
FAMILY_RMS = (0.65, 1.3)  # so that one family alone scatters
TOTALS = (0.93, 0.97)
SECTIONS_FLAGGED = 0.2  # of the sections of a sound recording
JOINED = 28 / 30
WIDER = 1.05  # a median half-width against what is given here or in the earlier table
# Median half-widths of the wheel's combined value with six passes, percent, that are not given up:
# of the narrowest intervals that cover where the sensor itself scatters from pass to pass.
SHARP = {"rtk": 0.0212, "differential": 0.0390}


def told(job, channel):
    """Codes beyond a remark that concern the channel."""
    return sorted({code for code, of, weight in job["flags"]
                   if weight != "remark" and of in (None, channel)})


def median(values):
    values = sorted(values)
    half = len(values) // 2
    if not values:
        return math.nan
    return values[half] if len(values) % 2 else (values[half - 1] + values[half]) / 2


def by_family(jobs, families):
    groups = {name: [] for name in families}
    for job in jobs:
        if job["family"] in groups:
            groups[job["family"]].append(job)
    return {name: group for name, group in groups.items() if group}


def values(jobs, channel, side):
    return [(job, v) for job in jobs if channel in job["channels"]
            for v in [job["channels"][channel][side]] if v is not None]


def covered(pairs):
    return sum(abs(v["error"]) <= v["half"] for _, v in pairs)


def silent(job, times=2.0):
    """Values that are beyond so many times their interval with nothing flagged."""
    return [(channel, side) for channel, sides in job["channels"].items()
            if not told(job, channel) for side in SIDES
            if sides[side] and abs(sides[side]["error"]) > times * sides[side]["half"]]


def chance_of_silent(job, times=2.0):
    """What Student's t gives for them, the stated degrees of freedom and factor taken."""
    total = 0.0
    for channel, sides in job["channels"].items():
        if told(job, channel):
            continue
        for value in (sides[side] for side in SIDES if sides[side]):
            dof = value["dof"] if value["dof"] is not None else 1e9
            total += 2 * float(stats.t.sf(times * value["k"], dof))
    return total


def alarm(job):
    return sorted({f"{code}{'' if of is None else ' ' + of}"
                   for code, of, weight in job["flags"] if weight != "remark"})


def lost(job):
    """Channels without a value to enter, or without a side."""
    if job["refused"]:
        return list(job["channels"])
    return [channel for channel, sides in job["channels"].items()
            if sides["enter"] is None or any(sides[side] is None for side in job["sides"])]


# -- the table ------------------------------------------------------------------------------------

HEAD = (f"{'family':22} {'kind':5} {'channel':7} {'side':9} {'n':>5} {'cover':>6} "
        f"{'error':>8} {'half':>8} {'>2':>4} {'>4':>4}")


def line(name, kind, channel, side, jobs):
    pairs = values(jobs, channel, side)
    if not pairs:
        return None
    loud = [sum((channel, side) in silent(job, times) for job, _ in pairs) for times in (2, 4)]
    return (f"{name:22} {kind:5} {channel:7} {side:9} {len(pairs):5} "
            f"{100 * covered(pairs) / len(pairs):6.1f} "
            f"{100 * median([abs(v['error']) for _, v in pairs]):8.4f} "
            f"{100 * median([v['half'] for _, v in pairs]):8.4f} {loud[0]:4} {loud[1]:4}")


def table(jobs):
    """Coverage in percent, median relative error and half-width in percent, silent errors."""
    groups = by_family(jobs, FAMILIES)
    rows = [HEAD]
    for name, group in groups.items():
        kind = FAMILIES[name].kind
        rows += [line(name, kind, c, s, group) for c in CHANNELS for s in SIDES]
        rows.append(f"{name:22} {kind:5} jobs {len(group)}, "
                    f"flagged {sum(map(bool, map(alarm, group)))}, "
                    f"without a value {sum(map(bool, map(lost, group)))}, "
                    f"import refused {sum(job['refused'] is not None for job in group)}"
                    f"{codes(group)}")
    clean = [job for name, group in groups.items() if FAMILIES[name].kind == "clean"
             for job in group]
    rows += [line("pooled", "clean", c, s, clean) for c in CHANNELS for s in SIDES]
    rows += slip_rows(jobs)
    return "\n".join(row for row in rows if row)


def codes(group):
    count = collections.Counter(word for job in group for word in alarm(job))
    return "".join(f"; {word} {n}" for word, n in count.most_common(5))


def slip_rows(jobs):
    groups = by_family(jobs, SLIP_FAMILIES)
    if groups:
        yield (f"{'family':22} {'jobs':>4} {'joined':>6} | sections: straight n, rms; turn n, rms; "
               "flagged % | totals n, cover | speeds n, cover, half")
    for name, group in groups.items():
        joined = sum(job["refused"] is None for job in group)
        straight, turn = (sections(group, turning) for turning in (False, True))
        every = [s for job in group for s in job["sections"]]
        flagged = sum(bool(s["flags"]) for s in every) / max(1, len(every))
        totals = [t for job in group for t in job["totals"]]
        pairs = [p for job in group for p in job["pairs"]]
        yield (f"{name:22} {len(group):4} {joined:6} | {len(straight)} {rms(straight):.2f}; "
               f"{len(turn)} {rms(turn):.2f}; {100 * flagged:.1f} | {len(totals)} "
               f"{100 * share(totals):.1f} | {len(pairs)} "
               f"{100 * sum(abs(p['error']) <= p['half'] for p in pairs) / max(1, len(pairs)):.1f} "
               f"{100 * median([p['half'] for p in pairs]):.4f}")


def sections(group, turning):
    return [s for job in group for s in job["sections"]
            if s["turning"] == turning and not s["flags"]]


def rms(found):
    if not found:
        return math.nan
    return math.sqrt(sum((s["error"] / s["u"]) ** 2 for s in found) / len(found))


def share(totals):
    return sum(abs(t["error"]) <= NORMAL * t["u"] for t in totals) / max(1, len(totals))


# -- what must hold -------------------------------------------------------------------------------


def judge(jobs, against=None):
    """What does not hold, in sentences with the seeds to keep."""
    groups = by_family(jobs, FAMILIES)
    faults = []
    clean = []
    for name, group in groups.items():
        kind = FAMILIES[name].kind
        if kind == "clean":
            clean += group
        faults += judge_coverage(name, group) if kind == "clean" else []
        if kind != "wrong":
            gone = [job["seed"] for job in group if lost(job)]
            if gone:
                why = {job["refused"] for job in group if job["refused"]}
                faults.append(f"{name}: {len(gone)} of {len(group)} without a value, "
                              f"seeds {some(gone)} {'; '.join(sorted(why)[:2])}")
    faults += judge_pooled(clean) + judge_silent([j for g in groups.values() for j in g])
    alarms = [job for job in clean if alarm(job)]
    if len(alarms) > FALSE_ALARMS * len(clean):
        faults.append(f"false alarms: {len(alarms)} of {len(clean)} with nothing wrong")
        for name, group in by_family(alarms, FAMILIES).items():
            faults.append(f"false alarms in {name}: {len(group)}{codes(group)}, "
                          f"seeds {some([job['seed'] for job in group])}")
    faults += judge_slip(jobs)
    faults += judge_sharp(groups)
    if against is not None:
        faults += judge_snapshot(table(jobs), against)
    return faults


def some(seeds):
    return ", ".join(map(str, seeds[:8])) + (" ..." if len(seeds) > 8 else "")


def judge_coverage(name, group):
    for channel in CHANNELS:
        for side in SIDES:
            pairs = values(group, channel, side)
            hit, n = covered(pairs), len(pairs)
            if n and stats.binom.cdf(hit, n, COVERAGE) < CHANCE:
                out = [job["seed"] for job, v in pairs if abs(v["error"]) > v["half"]]
                yield f"{name}, {channel} by {side}: {hit} of {n} covered, not: {some(out)}"


def judge_pooled(clean):
    faults = []
    for channel in CHANNELS:
        for side in SIDES:
            pairs = values(clean, channel, side)
            if len(pairs) < POOLED_LEAST:
                continue
            part = covered(pairs) / len(pairs)
            if not POOLED[0] <= part <= POOLED[1]:
                faults.append(f"pooled, {channel} by {side}: {100 * part:.1f} % of {len(pairs)}")
    return faults


def judge_silent(jobs):
    faults = []
    found = [(job, silent(job)) for job in jobs if silent(job)]
    expected = sum(map(chance_of_silent, jobs))
    number = sum(len(which) for _, which in found)
    if number > stats.poisson.ppf(1 - CHANCE, max(expected, 1e-9)):
        faults.append(f"silent errors: {number} beyond twice the interval, "
                      f"by chance {expected:.1f}")
        for job, which in found:
            faults.append(f"silent: {job['family']} {job['seed']}: {where(job, which)}")
    expected = sum(chance_of_silent(job, 4.0) for job in jobs)
    for job in jobs:
        far = silent(job, 4.0)
        if far:
            faults.append(f"beyond four times (by chance {expected:.2f} in all): "
                          f"{job['family']} {job['seed']}: {where(job, far)}")
    return faults


def where(job, which):
    return ", ".join(
        f"{c} by {s} {100 * job['channels'][c][s]['error']:+.3f} %"
        f" (± {100 * job['channels'][c][s]['half']:.3f} %)" for c, s in which)


def judge_slip(jobs):
    groups = by_family(jobs, SLIP_FAMILIES)
    sound = [job for name, group in groups.items() if SLIP_FAMILIES[name].kind == "slip"
             for job in group]
    yield from judge_sections("slip", sound, SECTION_RMS)
    totals = [t for job in sound for t in job["totals"]]
    if len(totals) >= POOLED_LEAST / 2 and not TOTALS[0] <= share(totals) <= TOTALS[1]:
        yield f"slip: totals {100 * share(totals):.1f} % of {len(totals)}"
    for name, group in groups.items():
        away = [job for job in group if job["refused"]]
        if len(group) - len(away) < JOINED * len(group):
            yield (f"{name}: {len(away)} of {len(group)} not joined, seeds "
                   f"{some([job['seed'] for job in away])} {away[0]['refused']}")
        if SLIP_FAMILIES[name].kind == "slip":
            yield from judge_sections(name, group, FAMILY_RMS)
            yield from judge_totals(name, group)
        for job in group:
            for what in ("sections", "totals"):
                far = [s for s in job[what]
                       if not s.get("flags") and abs(s["error"]) > 4 * NORMAL * s["u"]]
                if far:
                    worst = max(far, key=lambda s: abs(s["error"]))
                    yield (f"{name} {job['seed']}: {len(far)} {what} beyond four times, "
                           f"{100 * worst['error']:+.2f} % (u {100 * worst['u']:.2f} %)")
        yield from judge_speeds(name, group)


def judge_sections(name, group, allowed):
    for turning, words in ((False, "straights"), (True, "turns")):
        found = sections(group, turning)
        if found and not allowed[0] <= rms(found) <= allowed[1]:
            yield f"{name}: rms of error over uncertainty on {words} {rms(found):.2f}"


def judge_totals(name, group):
    every = [s for job in group for s in job["sections"]]
    flagged = sum(bool(s["flags"]) for s in every)
    if flagged > SECTIONS_FLAGGED * len(every):
        yield f"{name}: {flagged} of {len(every)} sections are flagged"
    for of in ("all", "passes", "turns"):
        totals = [t for job in group for t in job["totals"] if t["of"] == of]
        hit = round(share(totals) * len(totals))
        if totals and stats.binom.cdf(hit, len(totals), COVERAGE) < CHANCE:
            yield f"{name}: totals of {of}, {hit} of {len(totals)} covered"


def judge_speeds(name, group):
    if SLIP_FAMILIES[name].kind != "speeds":
        return
    for channel in CHANNELS:
        found = [p for job in group for p in job["pairs"] if p["of"] == channel]
        hit = sum(abs(p["error"]) <= p["half"] for p in found)
        if len(found) < 0.95 * len(group):
            yield f"{name}, {channel}: {len(found)} values of {len(group)} jobs"
        if found and stats.binom.cdf(hit, len(found), COVERAGE) < CHANCE:
            yield f"{name}, {channel}: {hit} of {len(found)} covered"


def judge_sharp(groups):
    for name, least in SHARP.items():
        found = [v["half"] for _, v in values(groups.get(name, []), "wheel", "combined")]
        if 100 * median(found) > WIDER * least:
            yield f"{name}: median half-width {100 * median(found):.4f} %, was {least} %"


def judge_snapshot(now, before):
    """Half-widths of families with nothing wrong, where the same jobs were made before."""
    def halves(text):
        rows = (row.split() for row in text.splitlines())
        return {tuple(words[:5]): float(words[7]) for words in rows
                if len(words) == 10 and words[1] == "clean"}
    old = halves(before)
    for key, half in halves(now).items():
        if half > WIDER * old.get(key, math.inf):
            yield f"{' '.join(key)}: median half-width {half} %, was {old[key]} %"
