#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""scipy_lsoda.py TASK.json solve_ivp|odeint TOLERANCE

The start-up problem of bench_table with SciPy's LSODA: the equations of src/loop written out for a loop without feed,
plants or anything to mineralise; what evaporates is refilled as it goes. One member after the other, restarted at every dose. Prints JSON: processor time of
the integration alone (no import, no reading), steps, calls of the right-hand side, ammonia, nitrite and nitrate per
day. Plain Python floats: on systems this small they are faster than arrays.
"""
import json
import sys
import time
from math import exp, log, sqrt

try:
    import numpy as np
    import scipy
    from scipy.integrate import odeint, solve_ivp
except ImportError:
    print(json.dumps({"missing": "not installed (python3-scipy)"}))
    sys.exit(0)

LN10 = log(10)
N_MOL, P_MOL, O2_MOL = 14.007, 30.974, 31.998  # g/mol
CACO3_PER_MEQ = 50.0435  # mg
CO2_OVER_OXYGEN = 0.904
STATES = ["tan", "no2", "no3", "alk", "dic", "r_a", "r_n", "p", "o2"]
# Absolute tolerances are these times the relative one, as for CVODE.
SIZES = {"no3": 1.0, "r_a": 1e-5, "r_n": 1e-5}
LOW_SIDE = exp(1.5 * LN10 * 5.6)
PH_MOST, PH_SMALL_STEP = 12, 1e-5  # a Newton step of 1e-5 leaves an error of some 1e-10


class Member:
    """Everything that does not change during a run is worked out here, once."""

    def __init__(self, q, env, ln_h):
        self.ln_h, self.calls = ln_h, 0
        self.source = [q["source_no3"], q["source_alk"], q["source_dic"], q["source_p"]]
        self.refill = [0.0] * 4  # what comes with refilled water, per day
        transfer = q["k_la"] * env["kla_factor"]
        dt = env["growth_dt"]
        # What the right-hand side needs, in one tuple: cheaper than looking names up.
        self.charges = (env["k1"], env["k1"] * env["k2"], env["kn"], env["kp"], env["knit"], 1000 * env["kw"],
                        1000 * env["inv_gamma1"])
        self.numbers = (
            q["ln_theta_ph"], exp(-1.5 * LN10 * q["ph_high"]), (q["k_alk"] / CACO3_PER_MEQ) ** 2, env["hot"],
            dt * q["ln_theta_a"], dt * q["ln_theta_n"], dt * (q["ln_theta_film"] - q["ln_theta_a"]),
            dt * (q["ln_theta_film"] - q["ln_theta_n"]), q["k_oa"], q["k_on"], q["ki_a_fa"], q["ki_a_fna"],
            q["ki_n_fa"], q["ki_n_fna"], q["k_a"], q["k_n"], q["k_p"], q["mu_a"], q["mu_n"], q["r_max"],
            q["b_a"] * env["decay_factor"], q["b_n"] * env["decay_factor"], q["sink"], transfer,
            CO2_OVER_OXYGEN * transfer, q["co2_ppm"] * env["k0"] * 1e-3, env["oxygen_saturation"])

    def find_ph(self, y, most):
        """Newton in ln h on the charge balance; leaves ln h, returns h, dissolved CO2, free ammonia and nitrous acid."""
        k1, k12, kn, kp, knit, kw, gamma = self.charges
        tan, no2, _, alk, dic, _, _, p, _ = y
        tan, no2, p = tan / N_MOL, no2 / N_MOL, p / P_MOL
        ln_h = self.ln_h
        for _ in range(most):
            h = exp(ln_h)
            d = h * h + k1 * h + k12
            a0, a1, a2 = h * h / d, k1 * h / d, k12 / d
            nh3, hpo4, hno2 = kn / (kn + h), kp / (kp + h), h / (h + knit)
            hydroxide, proton = kw / h, gamma * h
            residual = dic * (a1 + 2 * a2) + hydroxide - proton + tan * nh3 + p * hpo4 - no2 * hno2 - alk
            slope = -(dic * (a1 * a0 + 4 * a0 * a2 + a1 * a2) + hydroxide + proton + tan * nh3 * (1 - nh3)
                      + p * hpo4 * (1 - hpo4) + no2 * hno2 * (1 - hno2))
            step = min(max(-residual / slope, -2.0), 2.0)
            ln_h = min(max(ln_h + step, -11 * LN10), -3 * LN10)
            if abs(step) < PH_SMALL_STEP:
                break
        self.ln_h = ln_h
        h = exp(ln_h)
        return h, dic * h * h / (h * h + k1 * h + k12), y[0] * kn / (kn + h), y[1] * h / (h + knit)

    def rate(self, t, y):
        self.calls += 1
        y = y.tolist()
        tan, no2, no3, alk, _, r_a, r_n, p, o2 = y
        h, co2, free_ammonia, nitrous_acid = self.find_ph(y, PH_MOST)
        (ln_theta_ph, high_side, k_alk2, hot, warm_a, warm_n, film_a, film_n, k_oa, k_on, ki_a_fa, ki_a_fna, ki_n_fa,
         ki_n_fna, k_a, k_n, k_p, mu_a, mu_n, r_max, b_a, b_n, sink, o2_transfer, co2_transfer, co2_saturation,
         o2_saturation) = self.numbers
        refill_no3, refill_alk, refill_dic, refill_p = self.refill
        h15 = h * sqrt(h)
        alk2 = max(alk, 0.0) ** 2
        shared = hot * h15 * alk2 / ((1 + LOW_SIDE * h15) * (h15 + high_side) * (k_alk2 + alk2))
        acid_side = ln_theta_ph * min(self.ln_h / -LN10 - 7.2, 0.0)
        filled_a, filled_n = r_a / r_max, r_n / r_max
        fa, fna, oxygen = max(free_ammonia, 0.0), max(nitrous_acid, 0.0), max(o2, 0.0)
        rate_a = (r_a * exp(acid_side + warm_a + film_a * min(max(filled_a, 0.0), 1.0)) * shared
                  * ki_a_fa * ki_a_fna / ((ki_a_fa + fa) * (ki_a_fna + fna))
                  * oxygen / (k_oa + oxygen) * tan / (k_a + abs(tan)))
        rate_n = (r_n * exp(acid_side + warm_n + film_n * min(max(filled_n, 0.0), 1.0)) * shared
                  * ki_n_fa * ki_n_fna / ((ki_n_fa + fa) * (ki_n_fna + fna))
                  * oxygen / (k_on + oxygen) * no2 / (k_n + abs(no2)))
        phosphate = max(p, 0.0) / (k_p + max(p, 0.0))
        # Growth follows the rate per capacity where that is positive.
        growth_a = mu_a * phosphate * max(0.0, 1 - filled_a) * (rate_a if tan > 0 else 0.0)
        growth_n = mu_n * phosphate * max(0.0, 1 - filled_n) * (rate_n if no2 > 0 else 0.0)
        # The small unlogged sink.
        t_, n_ = max(tan, 0.0), max(no3, 0.0)
        taken = sink * (t_ + n_) / (0.7 + t_ + n_)
        as_ammonium = taken * 5 * t_ / (5 * t_ + n_ + 1e-6)
        as_nitrate = taken - as_ammonium
        return [-rate_a - as_ammonium,
                rate_a - rate_n,
                rate_n - as_nitrate + refill_no3,
                (-2 * rate_a + 0.3 * as_nitrate - 0.9 * as_ammonium) / N_MOL + refill_alk,
                co2_transfer * (co2_saturation - co2) + refill_dic,
                growth_a - b_a * r_a - max(r_a - r_max, 0.0),
                growth_n - b_n * r_n - max(r_n - r_max, 0.0),
                -0.018 * 0.15 * rate_a - 0.018 * 0.06 * rate_n + refill_p,
                o2_transfer * (o2_saturation - o2) - O2_MOL / N_MOL * (1.5 * rate_a + 0.5 * rate_n)]


def run(member, number, start, segments, driver, tolerance):
    y = np.array([start[s] for s in STATES])
    sizes = tolerance * np.array([SIZES.get(s, 0.1) for s in STATES])
    course, steps = [], 0
    for segment in segments:
        for dose in segment["doses"][number]:
            y = y + np.array([dose[s] for s in STATES])
        member.refill = [segment["top_up"] * s for s in member.source]
        member.find_ph(y.tolist(), PH_MOST)
        days = list(segment["days"])
        times = days if days and days[-1] == segment["to"] else days + [segment["to"]]
        if driver == "solve_ivp":
            found = solve_ivp(member.rate, (segment["from"], segment["to"]), y, method="LSODA", t_eval=times,
                              rtol=tolerance, atol=sizes)
            if not found.success:
                break
            rows = found.y.T
        else:
            rows, info = odeint(member.rate, y, [segment["from"]] + times, rtol=tolerance, atol=sizes, tfirst=True,
                                full_output=True, tcrit=[segment["to"]], mxstep=100000)
            if info["message"] != "Integration successful.":
                break
            rows = rows[1:]
            steps += int(info["nst"][-1])
        course += [[float(r[0]), float(r[1]), float(r[2])] for r in rows[:len(days)]]
        y = np.array(rows[-1])
    return course, steps


def main():
    with open(sys.argv[1], encoding="utf-8") as text:
        task = json.load(text)
    driver, tolerance = sys.argv[2], float(sys.argv[3])
    courses, steps, calls, seconds = [], 0, 0, 0.0
    for number, m in enumerate(task["members"]):
        began = time.process_time()
        member = Member(m["parameters"], task["environment"], m["ln_h"])
        course, taken = run(member, number, m["start"], task["segments"], driver, tolerance)
        seconds += time.process_time() - began
        courses.append(course)
        steps += taken
        calls += member.calls
    print(json.dumps({"version": scipy.__version__, "seconds": seconds, "steps": steps, "calls": calls,
                      "courses": courses}))


main()
