"""Do two demonstrations give values that agree as two measurements do: is the difference within the
uncertainty of both? The instants at which bytes come are not the same on two runs.

usage: two_demos.py THERE.json HERE.json
"""
import json
import sys

wheels = [json.load(open(path))["channels"]["wheel"]["combined"] for path in sys.argv[1:]]
values = [wheel["impulses_per_100m"] for wheel in wheels]
uncertainty = sum(wheel["expanded_uncertainty"] ** 2 for wheel in wheels) ** 0.5
print("wheel, there and here:", *values, "uncertainty of the difference:", uncertainty)
sys.exit(abs(values[0] - values[1]) > uncertainty)
